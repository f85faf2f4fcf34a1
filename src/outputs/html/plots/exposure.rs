//! The exposure along the run, and each setting that moves, before what the plan asks.

use super::drawn::{Bins, HEIGHT, LOW, Line, Plot, Scale, band, level, slope};
use crate::audit::Audit;
use crate::evidence::FrameView;
use crate::outputs::html::view::View;
use crate::outputs::report::asked::{self, Ranges};
use crate::outputs::report::planned_exposure::{Asked, SETTINGS, asked as planned, ev_of};
use crate::units::plain;
use crate::units::stops::{Series, exact_or_same, time_text};

/// The plot; `None` where no frame of the run has an exposure value.
pub(crate) fn plot(view: &View<'_>) -> Option<Plot> {
    let audit = view.audit;
    let track = &audit.evidence.exposure;
    let mut bins = Bins::new(&view.report.axis);
    for frame in audit.evidence.run() {
        if let Some(ev) = frame.ev100() {
            bins.add(view.report.axis.of(frame.at()), ev);
        }
    }
    let (low, high) = bins.extent()?;
    let asked =
        if track.aperture_assumed { Vec::new() } else { planned(audit, &view.report.axis, &SETTINGS) };
    let scale = scale((low, high), &asked, 0.5);
    let mut plot = Plot {
        id: "exposure",
        title: "Exposure",
        unit: if track.aperture_assumed {
            "EV, steps only: the lens tells no f-number"
        } else {
            "EV at ISO 100; up lets in less light"
        },
        scale,
        lines: Vec::new(),
        own_lines: false,
        height: HEIGHT,
        layers: Vec::new(),
        key: Vec::new(),
        told: bins.told(2, "EV"),
        words: words(audit, low, high),
    };
    let ev = |(low, high): (f64, f64)| asked::told(low, high, |ev| plain(ev, 2)) + " EV";
    // Where the plan changes on the way nobody says how far the ramp is by then.
    lay_plan(&mut plot, audit.plan.parts.is_empty(), &asked, ev);
    plot.layers.push(("line", bins.line(&scale)));
    plot.key.push(("line", "shot".into()));
    Some(plot)
}

/// A scale around what was shot and asked. A steady exposure is a line in the middle, not noise blown up.
fn scale((low, high): (f64, f64), asked: &[Asked], least: f64) -> Scale {
    let middle = f64::midpoint(low, high);
    let half = ((high - low) / 2.0).max(least);
    let limits = asked.iter().map(|asked| asked.limits);
    let (low, high) =
        limits.fold((middle - half, middle + half), |(a, b), (low, high)| (a.min(low), b.max(high)));
    Scale::around(low, high)
}

/// Draws what is asked: the limits as a band, or a level. Where the plan tells where a ramp begins and where
/// it ends, the line of an `even` one helps to read what was shot.
fn lay_plan(plot: &mut Plot, even: bool, asked: &[Asked], words: impl Fn((f64, f64)) -> String) {
    let scale = plot.scale;
    let (mut bands, mut lines) = (String::new(), String::new());
    for asked in asked {
        let (from, to) = asked.columns;
        if asked.moves() {
            bands.push_str(&band(&scale, from, to, asked.limits.0, asked.limits.1));
        } else {
            lines.push_str(&level(&scale, from, to, asked.course.0));
        }
        if asked.moves() && even {
            lines.push_str(&slope(&scale, from, to, asked.course));
        }
    }
    let ramp = asked.iter().find(|asked| asked.moves());
    if !bands.is_empty() {
        plot.layers.push(("band limits", bands));
    }
    if let Some(ramp) = ramp {
        plot.key.push(("band limits", format!("planned {}", words(ramp.limits))));
    }
    if !lines.is_empty() {
        plot.layers.push(("asked", lines));
        let level = asked.iter().find(|asked| !asked.moves());
        let told = match (ramp, level) {
            (Some(_), _) => "planned, if the ramp were even".to_owned(),
            (None, Some(level)) => format!("planned {}", words(level.limits)),
            (None, None) => return,
        };
        plot.key.push(("asked", told));
    }
}

/// A plot of each setting that moved on the way; what never moved is told in the words of the exposure.
pub(crate) fn settings(view: &View<'_>) -> Vec<Plot> {
    let ranges = Ranges::of(view.audit);
    let all = [
        setting(view, Series::Time, ranges.time_s),
        setting(view, Series::Aperture, ranges.f_number),
        setting(view, Series::Sensitivity, ranges.iso),
    ];
    all.into_iter().flatten().collect()
}

fn marked(frame: FrameView<'_>, series: Series) -> Option<f64> {
    match series {
        Series::Time => frame.marked_s(),
        Series::Aperture => frame.marked_f_number(),
        Series::Sensitivity => frame.marked_iso(),
    }
}

fn setting(view: &View<'_>, series: Series, range: Option<(f64, f64)>) -> Option<Plot> {
    let (audit, axis) = (view.audit, &view.report.axis);
    let (least, most) = range.filter(|(low, high)| low < high)?;
    let step = audit.evidence.exposure.step;
    let ev = |mark: f64| ev_of(series, exact_or_same(series, mark, step));
    let (id, title, told): (_, _, fn(f64) -> String) = match series {
        Series::Time => ("shutter", "Shutter", time_text),
        Series::Aperture => ("aperture", "Aperture", asked::f_number),
        Series::Sensitivity => ("sensitivity", "Sensitivity", asked::iso),
    };
    let (mut stops, mut marks) = (Bins::new(axis), Bins::new(axis));
    for frame in audit.evidence.run() {
        if let Some(mark) = marked(frame, series) {
            stops.add(axis.of(frame.at()), ev(mark));
            marks.add(axis.of(frame.at()), mark);
        }
    }
    let asked = planned(audit, axis, &[series]);
    let scale = scale(stops.extent()?, &asked, 0.5);
    // Each line bears the setting itself.
    let mut lines: Vec<Line> = Vec::new();
    for mark in [least, most].into_iter().chain(marks_asked(audit, series)) {
        let value = ev(mark);
        if lines.iter().all(|line| (scale.y(line.value) - scale.y(value)).abs() > 200) {
            lines.push(Line { value, label: short(series, mark), aside: String::new() });
        }
    }
    let mut plot = Plot {
        id,
        title,
        unit: "in stops; up lets in less light",
        scale,
        lines,
        own_lines: true,
        height: LOW,
        layers: Vec::new(),
        key: Vec::new(),
        told: marks.told_by(|low, high| asked::told(low, high, told)),
        words: format!("{title}: from {} to {}.", told(least), told(most)),
    };
    let of_plan = marks_asked(audit, series);
    let words = |_| match of_plan.as_slice() {
        [low, high] => asked::told(*low, *high, told),
        [one] => told(*one),
        _ => String::new(),
    };
    // Of several settings that move, one waits for the other.
    let moves = |s: &Series| marks_asked(audit, *s).len() > 1;
    let even = audit.plan.parts.is_empty() && SETTINGS.iter().filter(|s| moves(s)).count() == 1;
    lay_plan(&mut plot, even, &asked, words);
    plot.layers.push(("line", stops.line(&scale)));
    plot.key.push(("line", "shot".into()));
    Some(plot)
}

/// The values that the plan writes for a setting: one, or the two ends of a ramp.
fn marks_asked(audit: &Audit, series: Series) -> Vec<f64> {
    use crate::plan::Planned;
    let plan = &audit.plan.exposure;
    let planned = match series {
        Series::Time => plan.shutter_s,
        Series::Aperture => plan.aperture,
        Series::Sensitivity => plan.iso,
    };
    match planned {
        Some(Planned::Fixed(mark)) => vec![mark],
        Some(Planned::Between(first, last)) => vec![first, last],
        None => Vec::new(),
    }
}

/// A setting in the little room beside a plot.
fn short(series: Series, mark: f64) -> String {
    match series {
        Series::Time => time_text(mark).replace(" s", if mark < 0.3 { "" } else { " s" }),
        Series::Aperture => asked::f_number(mark),
        Series::Sensitivity => plain(mark, 0),
    }
}

fn words(audit: &Audit, low: f64, high: f64) -> String {
    let ranges = Ranges::of(audit);
    let told = |range: Option<(f64, f64)>, words: fn(f64) -> String| {
        range.map(|(low, high)| asked::told(low, high, words))
    };
    let settings = [
        told(ranges.time_s, time_text),
        told(ranges.f_number, asked::f_number),
        told(ranges.iso, asked::iso),
    ];
    let settings: Vec<String> = settings.into_iter().flatten().collect();
    let span = high - low;
    let moved = if span < 0.005 {
        "The exposure never moved".to_owned()
    } else {
        format!("The exposure spans {} EV", plain(span, 2))
    };
    format!("{moved}: {}.", settings.join(", "))
}
