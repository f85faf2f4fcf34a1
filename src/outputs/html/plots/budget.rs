//! What fills one cycle: exposure, busy time, a dark frame, the move and the wait after it, and what is left.

use crate::outputs::html::view::View;
use crate::outputs::report::slot::Cycle;
use crate::plan::budget::{Work, WorkKind};
use crate::units::{duration, plain};
use maud::{Markup, html};

impl WorkKind {
    /// How it is drawn, and what it is called.
    const fn told(self) -> (&'static str, &'static str) {
        match self {
            Self::Exposure => ("exposing", "exposure"),
            Self::DarkFrame => ("dark", "dark frame"),
            Self::Busy => ("busy", "busy"),
            Self::Lag => ("lag", "trigger lag"),
            Self::Move => ("moving", "move"),
            Self::Settle => ("settling", "settle"),
        }
    }
}

/// The budget; nothing where neither an interval nor an exposure time is known.
pub(crate) fn budget(view: &View<'_>) -> Markup {
    let Some(told) = &view.report.slot else { return html! {} };
    let longest = told.cycles.iter().map(|c| c.whole_s.max(c.interval_s)).fold(0.0, f64::max);
    html! {
        figure class="budget" id=(view.id("plot-budget")) {
            h3 {
                "Time in one slot " span class="unit" {
                    @if let Some(interval_s) = told.interval_s { "of " (duration(interval_s)) ", " }
                    "counted from shutter " (if told.from_close { "close" } else { "open" })
                }
            }
            @for cycle in &told.cycles { (drawn(cycle, longest)) }
            @if !told.busy_said {
                p class="fine" {
                    "The plan names no busy time: what the camera needs to write is not in this."
                }
            }
        }
    }
}

/// Rectangles' patterns tell the pieces apart without colour.
fn drawn(case: &Cycle, longest: f64) -> Markup {
    let percent = |s: f64| format!("{:.2}%", 100.0 * s / longest);
    let lanes: Vec<&Vec<Work>> = case.lanes.iter().filter(|l| !l.is_empty()).collect();
    let interval_s = case.interval_s;
    let slack = case.slack_s();
    let height = 24 * lanes.len();
    html! {
        div class="cycle" {
            p { (case.title) }
            svg width="100%" height=(height) aria-hidden="true" {
                rect class="room" x="0" y="0" width=(percent(interval_s)) height=(height) {}
                @for (n, lane) in lanes.iter().enumerate() {
                    @for work in lane.iter() {
                        @let class = work.kind.told().0;
                        rect class={ "piece " (class) } x=(percent(work.from_s)) y=(24 * n + 3)
                            width=(percent(work.long_s)) height="18" fill={ "url(#fill-" (class) ")" } {}
                    }
                }
                line class="due" x1=(percent(interval_s)) x2=(percent(interval_s)) y1="0" y2=(height) {}
            }
            ul class="pieces" {
                @for (kind, long_s) in case.sums() {
                    @let (class, words) = kind.told();
                    li {
                        svg width="14" height="14" aria-hidden="true" {
                            rect class={ "piece " (class) } x="1" y="1" width="12" height="12"
                                fill={ "url(#fill-" (class) ")" } {

                            }
                        }
                        " " (words) " " b { (duration(long_s)) }
                    }
                }
                li {
                    @if slack >= 0.0 {
                        (case.slack_word()) b { (duration(slack)) }
                        " (" (plain(100.0 * slack / case.room_s(), 1)) " %)"
                    }
                    @else {
                        strong class="over" {
                            "over by " (duration(-slack))
                            " (" (plain(-100.0 * slack / case.room_s(), 1)) " %)"
                        }
                    }
                }
            }
        }
    }
}

/// The patterns that the pieces are filled with; once a page.
pub(crate) fn patterns() -> Markup {
    let hatch = |name: &str, d: &str| {
        html! {
            pattern id={ "fill-" (name) } class={ "fill " (name) } width="8" height="8"
                patternUnits="userSpaceOnUse" {
                rect width="8" height="8" {}
                path d=(d) {}
            }
        }
    };
    html! {
        svg width="0" height="0" class="patterns" aria-hidden="true" {
            defs {
                (hatch("exposing", ""))
                (hatch("dark", "M4 3v2"))
                (hatch("busy", "M-1 1 1-1M0 8 8 0M7 9 9 7"))
                (hatch("lag", "M0 4H8"))
                (hatch("moving", "M4 0V8"))
                (hatch("settling", "M-1 7 1 9M0 0 8 8M7-1 9 1"))
            }
        }
    }
}
