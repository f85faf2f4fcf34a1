//! What fills one cycle: exposure, busy time, a dark frame, the move and the wait after it, and what is left.

use crate::audit::{Audit, Cycle, cycle_s, move_time_s};
use crate::outputs::html::quantity::number;
use crate::outputs::html::view::View;
use crate::units::{duration, stops::time_text};
use maud::{Markup, html};

/// A piece of a lane: how it is drawn, what it is, where it begins and how long it lasts, s.
struct Piece {
    class: &'static str,
    words: &'static str,
    from_s: f64,
    long_s: f64,
}

/// One cycle, drawn.
struct Case {
    title: String,
    camera: Vec<Piece>,
    carriage: Vec<Piece>,
    cycle_s: f64,
}

fn case(title: String, cycle: &Cycle) -> Case {
    let camera_end = cycle.exposure_s + cycle.busy_s + cycle.dark_s;
    // A carriage that does not wait travels while the camera writes.
    let begins = if cycle.waits { camera_end } else { cycle.exposure_s };
    let piece = |class, words, from_s, long_s| Piece { class, words, from_s, long_s };
    let moves = begins + cycle.lag_s;
    let mut camera = vec![
        piece("exposing", "exposure", 0.0, cycle.exposure_s),
        piece("dark", "dark frame", cycle.exposure_s, cycle.dark_s),
        piece("busy", "busy", cycle.exposure_s + cycle.dark_s, cycle.busy_s),
    ];
    let mut carriage = vec![
        piece("lag", "trigger lag", begins, cycle.lag_s),
        piece("moving", "move", moves, cycle.move_s),
        piece("settling", "settle", moves + cycle.move_s, cycle.settle_s),
    ];
    for lane in [&mut camera, &mut carriage] {
        lane.retain(|p| p.long_s.is_finite() && p.long_s > 0.0);
    }
    Case { title, camera, carriage, cycle_s: cycle_s(cycle) }
}

/// The shortest and the longest exposure of the run as marked and exact, s.
fn exposures(audit: &Audit) -> Option<((f64, f64), (f64, f64))> {
    let rows = &audit.evidence.frames.rows;
    let run = audit.evidence.in_run().filter_map(|at| {
        let exact = audit.evidence.exposure.settings.get(at)?.time_s;
        let mark = rows.get(at)?.exposure_s.known().filter(|t| t.is_finite() && *t > 0.0);
        (exact.is_finite() && exact > 0.0).then_some((mark.unwrap_or(exact), exact))
    });
    run.fold(None, |seen, one| {
        let (short, long) = seen.unwrap_or((one, one));
        Some((if one.1 < short.1 { one } else { short }, if one.1 > long.1 { one } else { long }))
    })
}

/// The budget; nothing where neither an interval nor an exposure time is known.
pub fn budget(view: &View<'_>) -> Markup {
    let audit = view.audit;
    let interval = audit.plan.interval_s.or(audit.evidence.timing.cadence.as_ref().map(|c| c.interval_s));
    let (Some(interval_s), Some((short, long))) = (interval.filter(|s| *s > 0.0), exposures(audit)) else {
        return html! {};
    };
    let (exposure, rig) = (&audit.plan.exposure, &audit.plan.rig);
    let sets = f64::from(audit.plan.bracket.unwrap_or(1).max(1));
    let cycle = |exposure_s: f64| Cycle {
        exposure_s: exposure_s * sets,
        busy_s: exposure.busy_s.unwrap_or(0.0) * sets,
        dark_s: if exposure.dark_frame == Some(true) { exposure_s * sets } else { 0.0 },
        lag_s: rig.trigger_lag_s.unwrap_or(0.0),
        move_s: rig
            .step_m
            .zip(rig.speed_m_s)
            .and_then(|(step, speed)| move_time_s(step, speed, rig.acceleration_m_s2))
            .unwrap_or(0.0),
        settle_s: rig.settle_s.unwrap_or(0.0),
        waits: rig.waits.unwrap_or(false),
    };
    let named = |what: &str, (mark, exact): (f64, f64)| {
        let lasts = if (exact / mark).log2().abs() > 0.01 {
            format!(", which lasts {}", duration(exact))
        } else {
            String::new()
        };
        format!("{what} exposure, {}{lasts}", time_text(mark))
    };
    let cases = if (long.1 / short.1 - 1.0).abs() < 1e-6 {
        vec![case(named("Every", short), &cycle(short.1))]
    } else {
        vec![case(named("Shortest", short), &cycle(short.1)), case(named("Longest", long), &cycle(long.1))]
    };
    let longest = cases.iter().map(|c| c.cycle_s).fold(interval_s, f64::max);
    html! {
        figure class="budget" id="plot-budget" {
            h3 { "Time in one cycle " span class="unit" { "of " (duration(interval_s)) " from shutter to shutter" } }
            @for case in &cases { (drawn(case, interval_s, longest)) }
            @if exposure.busy_s.is_none() {
                p class="fine" { "The plan names no busy time: what the camera needs to write is not in this." }
            }
        }
    }
}

/// Rectangles' patterns tell the pieces apart without colour.
fn drawn(case: &Case, interval_s: f64, longest: f64) -> Markup {
    let percent = |s: f64| format!("{:.2}%", 100.0 * s / longest);
    let lanes: Vec<&Vec<Piece>> =
        [&case.camera, &case.carriage].into_iter().filter(|l| !l.is_empty()).collect();
    let slack = interval_s - case.cycle_s;
    let height = 24 * lanes.len();
    html! {
        div class="cycle" {
            p { (case.title) }
            svg width="100%" height=(height) aria-hidden="true" {
                rect class="room" x="0" y="0" width=(percent(interval_s)) height=(height) {}
                @for (n, lane) in lanes.iter().enumerate() {
                    @for piece in lane.iter() {
                        rect class={ "piece " (piece.class) } x=(percent(piece.from_s)) y=(24 * n + 3)
                            width=(percent(piece.long_s)) height="18" fill={ "url(#fill-" (piece.class) ")" } {}
                    }
                }
                line class="due" x1=(percent(interval_s)) x2=(percent(interval_s)) y1="0" y2=(height) {}
            }
            ul class="pieces" {
                @for piece in case.camera.iter().chain(&case.carriage) {
                    li {
                        svg width="14" height="14" aria-hidden="true" {
                            rect class={ "piece " (piece.class) } x="1" y="1" width="12" height="12"
                                fill={ "url(#fill-" (piece.class) ")" } {}
                        }
                        " " (piece.words) " " b { (duration(piece.long_s)) }
                    }
                }
                li {
                    @if slack >= 0.0 { "slack " b { (duration(slack)) } " (" (number(100.0 * slack / interval_s, 1)) " %)" }
                    @else { strong class="over" { "over by " (duration(-slack)) " (" (number(-100.0 * slack / interval_s, 1)) " %)" } }
                }
            }
        }
    }
}

/// The patterns that the pieces are filled with; once a page.
pub fn patterns() -> Markup {
    let hatch = |name: &str, d: &str| {
        html! {
            pattern id={ "fill-" (name) } class={ "fill " (name) } width="8" height="8" patternUnits="userSpaceOnUse" {
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
