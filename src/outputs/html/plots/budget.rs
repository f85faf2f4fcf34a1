//! What fills one cycle: exposure, busy time, a dark frame, the move and the wait after it, and what is left.

use crate::audit::{Audit, Budget};
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
    whole_s: f64,
}

fn case(title: String, budget: &Budget, exposure_s: f64, members: usize) -> Case {
    let piece = |class, words, from_s, long_s| Piece { class, words, from_s, long_s };
    let mut camera = Vec::new();
    let mut at_s = 0.0;
    for n in 1..=members {
        // An interval that counts from the shutter's close begins after the last exposure.
        let counted_s = if budget.from_close && n == members { 0.0 } else { exposure_s };
        camera.push(piece("exposing", "exposure", at_s, counted_s));
        at_s += counted_s;
        let dark_s = if budget.dark { exposure_s } else { 0.0 };
        camera.push(piece("dark", "dark frame", at_s, dark_s));
        camera.push(piece("busy", "busy", at_s + dark_s, budget.busy_s));
        at_s += dark_s + budget.busy_s;
    }
    let slot = budget.slot(std::iter::repeat_n(exposure_s, members));
    let mut carriage = vec![
        piece("lag", "trigger lag", slot.sets_off_s - budget.lag_s, budget.lag_s),
        piece("moving", "move", slot.sets_off_s, slot.stopped_s - slot.sets_off_s),
        piece("settling", "settle", slot.stopped_s, slot.rig_s - slot.stopped_s),
    ];
    for lane in [&mut camera, &mut carriage] {
        lane.retain(|p| p.long_s.is_finite() && p.long_s > 0.0);
    }
    Case { title, camera, carriage, whole_s: slot.whole_s() }
}

/// What each kind of piece takes in all, in the order in which they come.
fn sums(case: &Case) -> Vec<(&'static str, &'static str, f64)> {
    let mut all: Vec<(&str, &str, f64)> = Vec::new();
    for piece in case.camera.iter().chain(&case.carriage) {
        match all.iter_mut().find(|one| one.0 == piece.class) {
            Some(one) => one.2 += piece.long_s,
            None => all.push((piece.class, piece.words, piece.long_s)),
        }
    }
    all
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
    let budget = Budget::of(&audit.plan, &audit.plan.exposure);
    let found = audit.evidence.timing.bracket.as_ref().map(|b| b.size);
    let members = found.unwrap_or(audit.plan.bracket.unwrap_or(1) as usize).clamp(1, 99);
    let named = |what: &str, (mark, exact): (f64, f64)| {
        let lasts = if (exact / mark).log2().abs() > 0.01 {
            format!(", which lasts {}", duration(exact))
        } else {
            String::new()
        };
        format!("{what} exposure, {}{lasts}", time_text(mark))
    };
    let cases = if (long.1 / short.1 - 1.0).abs() < 1e-6 {
        vec![case(named("Every", short), &budget, short.1, members)]
    } else {
        vec![
            case(named("Shortest", short), &budget, short.1, members),
            case(named("Longest", long), &budget, long.1, members),
        ]
    };
    let longest = cases.iter().map(|c| c.whole_s).fold(interval_s, f64::max);
    html! {
        figure class="budget" id=(view.id("plot-budget")) {
            h3 {
                "Time in one slot " span class="unit" {
                    "of " (duration(interval_s)) ", counted from shutter " (if budget.from_close { "close" } else { "open" })
                }
            }
            @for case in &cases { (drawn(case, interval_s, longest)) }
            @if audit.plan.exposure.busy_s.is_none() {
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
    let slack = interval_s - case.whole_s;
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
                @for (class, words, long_s) in sums(case) {
                    li {
                        svg width="14" height="14" aria-hidden="true" {
                            rect class={ "piece " (class) } x="1" y="1" width="12" height="12" fill={ "url(#fill-" (class) ")" } {}
                        }
                        " " (words) " " b { (duration(long_s)) }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audit::{Plan, RigPlan};

    fn pieces(lane: &[Piece]) -> Vec<(&'static str, f64, f64)> {
        lane.iter().map(|p| (p.words, p.from_s, p.long_s)).collect()
    }

    /// Worked by hand: 2.5 s exposure, 0.5 s busy; 20 mm at 20 mm/s, 0.5 s to settle. The carriage travels
    /// while the camera writes: 2.5 + 1 + 0.5 = 4 s.
    #[test]
    fn camera_and_carriage_stand_below_each_other() {
        let rig =
            RigPlan { step_m: Some(0.02), speed_m_s: Some(0.02), settle_s: Some(0.5), ..RigPlan::default() };
        let mut plan = Plan { rig, ..Plan::default() };
        plan.exposure.busy_s = Some(0.5);
        let told = case(String::new(), &Budget::of(&plan, &plan.exposure), 2.5, 1);
        assert_eq!(pieces(&told.camera), [("exposure", 0.0, 2.5), ("busy", 2.5, 0.5)]);
        assert_eq!(pieces(&told.carriage), [("move", 2.5, 1.0), ("settle", 3.5, 0.5)]);
        assert!((told.whole_s - 4.0).abs() < 1e-9);
        plan.rig.waits = Some(true);
        plan.exposure.dark_frame = Some(true);
        let told = case(String::new(), &Budget::of(&plan, &plan.exposure), 2.5, 2);
        let sums: Vec<_> = sums(&told).into_iter().map(|s| (s.1, s.2)).collect();
        assert_eq!(
            sums,
            [("exposure", 5.0), ("dark frame", 5.0), ("busy", 1.0), ("move", 1.0), ("settle", 0.5)]
        );
        assert!((told.whole_s - 12.5).abs() < 1e-9, "{}", told.whole_s);
    }
}
