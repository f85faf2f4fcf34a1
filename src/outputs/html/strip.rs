//! The whole run at a glance: its lanes, drawn below one another.

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
