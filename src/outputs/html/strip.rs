//! The whole run at a glance: its lanes, drawn below one another.

use super::plots;
use super::view::View;
use maud::{Markup, html};
use std::fmt::Write as _;

/// The marks of a lane as one path, ten units high.
fn path(spans: &[(usize, usize)]) -> String {
    let mut d = String::new();
    for (from, to) in spans {
        // Writing to a string cannot fail.
        let _ = write!(d, "M{from} 0H{}V10H{from}Z", to + 1);
    }
    d
}

/// All lanes on one bar, what weighs over what does not: the run at the first look.
pub fn glance(view: &View<'_>) -> Markup {
    let lanes = &view.report.lanes;
    let columns = view.report.axis.columns();
    let ends = plots::ends(view);
    html! {
        @if !lanes.is_empty() {
            div class="glance" {
                svg class="data" width="100%" height="26" viewBox=(format!("0 0 {columns} 10"))
                    preserveAspectRatio="none" role="img" aria-label="The run, from its start to its end" {
                    @for lane in lanes {
                        g class={ "lane " (lane.class) } { path d=(path(&lane.spans)) {} }
                    }
                }
                @if let Some((first, last)) = ends { p { span { (first) } " " span { (last) } } }
            }
        }
    }
}

/// The lanes.
pub fn strip(view: &View<'_>) -> Markup {
    let lanes = &view.report.lanes;
    let columns = view.report.axis.columns();
    html! {
        div class="strip" {
            @for lane in lanes {
                div class={ "lane " (lane.class) } {
                    p { b { (lane.label) } " " span { (lane.words) } }
                    svg class="data" width="100%" height="14" viewBox=(format!("0 0 {columns} 10"))
                        preserveAspectRatio="none" aria-hidden="true" { path d=(path(&lane.spans)) {} }
                }
            }
        }
    }
}
