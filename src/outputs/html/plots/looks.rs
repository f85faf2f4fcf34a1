//! What the pictures say along the run: brightness and sharpness of each.

use super::drawn::{Bins, HEIGHT, LOW, Plot, Scale};
use crate::evidence::{FrameView, Look};
use crate::outputs::html::view::View;
use crate::units::{counted, plain};

/// Brightness of the pictures, EV below white; `None` where no picture was seen.
pub(crate) fn brightness(view: &View<'_>) -> Option<Plot> {
    let clipped =
        view.audit.evidence.run().filter_map(FrameView::look).filter(|look| look.clipped > 0.05).count();
    let mut plot = track(view, |frame| frame.look()?.mean_ev(), 0.5, "EV")?;
    plot.id = "brightness";
    plot.title = "Brightness";
    plot.unit = "of the pictures, EV below white";
    let seen = || view.audit.evidence.run().filter_map(FrameView::look);
    if seen().all(|look| f64::from(look.clipped.max(look.blocked)) * 100.0 < NOTHING) {
        plot.words.push_str(" Nothing is cut off at white or lost in black.");
    }
    if clipped > 0 {
        plot.words.push_str(&format!(
            " In {} more than 5 % of the picture is cut off at white: there it is blind, not steady.",
            counted(clipped as u64, "frame")
        ));
    }
    Some(plot)
}

/// What share of a picture is too little to be drawn, %.
const NOTHING: f64 = 0.05;

/// How much of each picture is cut off at white and how much is lost in black, %; `None` where no picture was
/// seen, or nothing of any.
pub(crate) fn ends(view: &View<'_>) -> Option<Plot> {
    let of = |share: fn(&Look) -> f32| {
        let mut bins = Bins::new(&view.report.axis);
        for frame in view.audit.evidence.run() {
            if let Some(look) = frame.look() {
                bins.add(view.report.axis.of(frame.at()), 100.0 * f64::from(share(look)));
            }
        }
        bins
    };
    let (clipped, blocked) = (of(|look| look.clipped), of(|look| look.blocked));
    let (white, black) = (clipped.extent()?.1, blocked.extent()?.1);
    if white.max(black) < NOTHING {
        return None;
    }
    let scale = Scale::around(0.0, white.max(black).max(1.0));
    let (whites, blacks) = (clipped.told(1, "% white"), blocked.told(1, "% black"));
    let both = whites.split('\n').zip(blacks.split('\n'));
    let both =
        both.map(|(white, black)| if white.is_empty() { String::new() } else { format!("{white}, {black}") });
    let told = both.collect::<Vec<_>>().join("\n");
    let most = |share: f64| {
        if share < NOTHING { "nothing".to_owned() } else { format!("at most {} %", plain(share, 1)) }
    };
    let words =
        format!("Of a picture {} is cut off at white, {} is lost in black.", most(white), most(black));
    Some(Plot {
        id: "clipped",
        title: "Clipped and blocked",
        unit: "% of the picture",
        scale,
        lines: Vec::new(),
        own_lines: false,
        height: LOW,
        layers: vec![("line second", blocked.line(&scale)), ("line", clipped.line(&scale))],
        key: vec![("line", "cut off at white".into()), ("line second", "lost in black".into())],
        told,
        words,
    })
}

/// What is left of the brightness when the settings and the slow change of the light are taken out; `None`
/// where no picture was seen.
pub(crate) fn flicker(view: &View<'_>) -> Option<Plot> {
    let pictures = &view.audit.evidence.pictures;
    let mut plot = track(view, FrameView::unexplained_ev, 0.05, "EV")?;
    plot.id = "flicker";
    plot.title = "Flicker";
    plot.unit = "EV off the local trend, settings taken out";
    let courses: Vec<String> = pictures
        .courses
        .iter()
        .map(|c| {
            format!(
                "{} EV rms, {} EV at most",
                plain(c.unexplained.rms_ev, 3),
                plain(c.unexplained.largest_ev, 3)
            )
        })
        .collect();
    if !courses.is_empty() {
        plot.words.push_str(&format!(" {}.", courses.join("; ")));
    }
    Some(plot)
}

/// Sharpness of the pictures against their own middle; `None` where no picture was seen.
pub(crate) fn sharpness(view: &View<'_>) -> Option<Plot> {
    let mut plot = track(view, FrameView::sharpness, 0.0, "")?;
    plot.id = "sharpness";
    plot.title = "Sharpness";
    plot.unit = "fine structure over contrast, of the small pictures";
    Some(plot)
}

fn track<'a>(
    view: &View<'a>,
    of: impl Fn(FrameView<'a>) -> Option<f64>,
    least: f64,
    unit: &str,
) -> Option<Plot> {
    let mut bins = Bins::new(&view.report.axis);
    let mut seen = 0_u64;
    for frame in view.audit.evidence.run() {
        if let Some(value) = of(frame) {
            bins.add(view.report.axis.of(frame.at()), value);
            seen += 1;
        }
    }
    let (low, high) = bins.extent()?;
    let (middle, half) = (f64::midpoint(low, high), ((high - low) / 2.0).max(least));
    let scale = Scale::around(middle - half, middle + half);
    Some(Plot {
        id: "",
        title: "",
        unit: "",
        scale,
        lines: Vec::new(),
        own_lines: false,
        height: HEIGHT,
        layers: vec![("line", bins.line(&scale))],
        key: Vec::new(),
        told: bins.told(2, unit),
        words: format!(
            "From {} to {}{}{unit}, over {}.",
            plain(low, 2),
            plain(high, 2),
            if unit.is_empty() { "" } else { " " },
            counted(seen, "picture")
        ),
    })
}
