//! The exposure along the run.

use super::drawn::{Bins, Plot, Scale, level};
use crate::audit::Audit;
use crate::outputs::html::view::View;
use crate::outputs::report::asked::{Ranges, ev_asked};
use crate::units::plain;
use crate::units::stops::time_text;

/// The plot; `None` where no frame of the run has an exposure value.
pub fn plot(view: &View<'_>) -> Option<Plot> {
    let audit = view.audit;
    let track = &audit.evidence.exposure;
    let mut bins = Bins::new(&view.report.axis);
    for frame in audit.evidence.run() {
        if let Some(ev) = frame.ev100() {
            bins.add(view.report.axis.of(frame.at()), ev);
        }
    }
    let (low, high) = bins.extent()?;
    // A steady exposure is a line in the middle, not noise blown up.
    let middle = f64::midpoint(low, high);
    let half = ((high - low) / 2.0).max(0.5);
    let asked = ev_asked(audit).filter(|_| !track.aperture_assumed);
    let (mut from, mut to) = (middle - half, middle + half);
    if let Some(ev) = asked {
        (from, to) = (from.min(ev), to.max(ev));
    }
    let scale = Scale::around(from, to);
    let mut plot = Plot {
        id: "exposure",
        title: "Exposure",
        unit: if track.aperture_assumed {
            "EV, steps only: the lens tells no f-number"
        } else {
            "EV at ISO 100; up lets in less light"
        },
        scale,
        layers: Vec::new(),
        key: Vec::new(),
        told: bins.told(2, "EV"),
        words: words(audit, low, high),
    };
    if let Some(ev) = asked {
        plot.layers.push(("asked", level(&scale, 0, view.report.axis.columns() - 1, ev)));
        plot.key.push(("asked", format!("asked {} EV", plain(ev, 2))));
    }
    plot.layers.push(("line", bins.line(&scale)));
    plot.key.push(("line", "shot".into()));
    Some(plot)
}

fn words(audit: &Audit, low: f64, high: f64) -> String {
    let ranges = Ranges::of(audit);
    let told = |range: Option<(f64, f64)>, words: fn(f64) -> String| {
        range.map(
            |(a, b)| if words(a) == words(b) { words(a) } else { format!("{} to {}", words(a), words(b)) },
        )
    };
    let settings: Vec<String> = [
        told(ranges.time_s, time_text),
        told(ranges.f_number, |n| format!("f/{}", plain(n, 1))),
        told(ranges.iso, |s| format!("ISO {}", plain(s, 0))),
    ]
    .into_iter()
    .flatten()
    .collect();
    let span = high - low;
    let moved = if span < 0.005 {
        "The exposure never moved".to_owned()
    } else {
        format!("The exposure spans {} EV", plain(span, 2))
    };
    format!("{moved}: {}.", settings.join(", "))
}
