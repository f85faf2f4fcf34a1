//! The whole run at a glance: its lanes, drawn below one another on one axis.

use super::plots;
use super::view::View;
use crate::outputs::report::lanes::Lane;
use maud::{Markup, html};
use std::fmt::Write as _;

/// Units from the upper to the lower edge of a lane.
const UNITS: usize = 10;
/// Slanted strokes across the whole axis, where all of it is hatched.
const STROKES: usize = 60;

/// The marks of a lane as one path.
fn path(spans: &[(usize, usize)]) -> String {
    let mut d = String::new();
    for (from, to) in spans {
        // Writing to a string cannot fail.
        let _ = write!(d, "M{from} 0H{}V{UNITS}H{from}Z", to + 1);
    }
    d
}

/// Slanted strokes over the columns that were planned and not shot.
fn hatch(spans: &[(usize, usize)], columns: usize) -> String {
    let apart = columns as f64 / STROKES as f64;
    let mut d = String::new();
    for (from, to) in spans {
        let (from, to) = (*from as f64, *to as f64 + 1.0);
        let strokes = ((to - from) / apart).floor().max(1.0);
        for n in 0..strokes as u32 {
            let left = from + f64::from(n) * (to - from) / strokes;
            let right = (left + apart * 0.8).min(to);
            let _ = write!(d, "M{left:.1} {UNITS}L{right:.1} 0");
        }
    }
    d
}

/// All lanes on one bar, what weighs over what does not: the run at the first look.
pub(crate) fn glance(view: &View<'_>) -> Markup {
    let lanes = &view.report.lanes;
    html! {
        @if !lanes.is_empty() {
            div class="glance" {
                (bar(lanes, view.report.axis.columns(), &plots::cuts(view, UNITS as f64)))
                svg class="chart hours" width="100%" height=(plots::below(view)) aria-hidden="true" {
                    (plots::time_axis(view, 0.0, 5.0))
                }
                @if !view.report.axis.not_shot.is_empty() { p { (open_words(view)) } }
            }
        }
    }
}

/// What the hatched part is, and how much of it there is.
fn open_words(view: &View<'_>) -> Markup {
    let words = &view.report.axis.not_shot_words;
    html! {
        svg class="swatch" width="22" height="10" viewBox="0 0 22 10" aria-hidden="true" {
            path class="not-shot" d="M1 10L6 0M7 10L12 0M13 10L18 0" {}
        }
        " planned, not shot"
        @if !words.is_empty() { ": " (words) }
    }
}

/// The bar itself in that many columns, with what lies `over` it.
pub(crate) fn bar(lanes: &[Lane], columns: usize, over: &Markup) -> Markup {
    let mut lanes: Vec<&Lane> = lanes.iter().collect();
    lanes.sort_by_key(|lane| match lane.class {
        "held" => 0,
        "missing" | "damaged" | "fault" => 3,
        "slip" | "doubt" | "caution" => 2,
        _ => 1,
    });
    let label = match lanes.iter().all(|lane| lane.not_shot.is_empty()) {
        true => "The run, from its start to its end",
        false => "The planned run; what is hatched was not shot",
    };
    html! {
        svg class="data" width="100%" height="26" viewBox=(format!("0 0 {columns} {UNITS}"))
            preserveAspectRatio="none" role="img" aria-label=(label) {
            @for lane in &lanes { g class={ "lane " (lane.class) } { path d=(path(&lane.spans)) {} } }
            @for lane in lanes.iter().filter(|lane| !lane.not_shot.is_empty()) {
                path class="not-shot" d=(hatch(&lane.not_shot, columns)) {}
                path class="edge" d=(path(&lane.not_shot)) {}
            }
            (over)
        }
    }
}

/// The lanes, and the times below them.
pub(crate) fn strip(view: &View<'_>) -> Markup {
    html! {
        div class="strip" {
            @for lane in &view.report.lanes { (drawn(view, lane)) }
            svg class="chart hours" width="100%" height=(plots::below(view)) aria-hidden="true" {
                (plots::time_axis(view, 0.0, 5.0))
            }
        }
    }
}

fn drawn(view: &View<'_>, lane: &Lane) -> Markup {
    let columns = view.report.axis.columns();
    html! {
        div class={ "lane " (lane.class) } {
            p {
                b { (lane.label) } " "
                span {
                    (lane.words)
                    @if !lane.not_shot.is_empty() {
                        " · " (open_words(view))
                    }
                }
            }
            svg class="data" width="100%" height="14" viewBox=(format!("0 0 {columns} {UNITS}"))
                preserveAspectRatio="none" aria-hidden="true" {
                path d=(path(&lane.spans)) {}
                @if !lane.not_shot.is_empty() {
                    path class="not-shot" d=(hatch(&lane.not_shot, columns)) {}
                    path class="edge" d=(path(&lane.not_shot)) {}
                }
                (plots::cuts(view, UNITS as f64))
            }
        }
    }
}
