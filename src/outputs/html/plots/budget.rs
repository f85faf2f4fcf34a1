//! What fills one cycle: exposure, busy time, a dark frame, the move and the wait after it, and what is left.

use crate::audit::{Audit, Budget, SlotUse, Work, WorkKind, by_slot};
use crate::outputs::html::view::View;
use crate::units::{duration, plain, stops::time_text};
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

/// One cycle, drawn.
struct Case {
    title: String,
    /// What camera and carriage do.
    lanes: [Vec<Work>; 2],
    whole_s: f64,
    /// The interval that it is held against, s.
    interval_s: f64,
}

impl Case {
    fn of(title: String, budget: &Budget, exposures_s: &[f64], interval_s: f64) -> Self {
        let whole_s = budget.slot(exposures_s.iter().copied()).whole_s();
        Self { title, lanes: budget.lanes(exposures_s), whole_s, interval_s }
    }
}

/// What each kind of work takes in all, in the order in which they come.
fn sums(case: &Case) -> Vec<(WorkKind, f64)> {
    let mut all: Vec<(WorkKind, f64)> = Vec::new();
    for work in case.lanes.iter().flatten() {
        match all.iter_mut().find(|one| one.0 == work.kind) {
            Some(one) => one.1 += work.long_s,
            None => all.push((work.kind, work.long_s)),
        }
    }
    all
}

/// The slots of the run with the shortest and the longest exposure.
fn ends(audit: &Audit) -> Option<(SlotUse, SlotUse)> {
    let slots = by_slot(&audit.plan, &audit.evidence);
    let exact = |slot: &SlotUse| slot.exposure_s.1;
    audit.schedule.uses(&audit.evidence, &slots).filter(|slot| exact(slot) > 0.0).fold(None, |seen, slot| {
        let (short, long) = seen.unwrap_or((slot, slot));
        Some((
            if exact(&slot) < exact(&short) { slot } else { short },
            if exact(&slot) > exact(&long) { slot } else { long },
        ))
    })
}

/// The budget; nothing where neither an interval nor an exposure time is known.
pub fn budget(view: &View<'_>) -> Markup {
    let audit = view.audit;
    let Some((short, long)) = ends(audit) else { return html! {} };
    let one_interval = (short.interval_s - long.interval_s).abs() < 1e-9;
    let case = |what: &str, slot: &SlotUse| {
        let (mark, exact) = slot.exposure_s;
        let lasts = if (exact / mark).log2().abs() > 0.01 {
            format!(", which lasts {}", duration(exact))
        } else {
            String::new()
        };
        let of = if one_interval { String::new() } else { format!(", of {}", duration(slot.interval_s)) };
        let title = format!("{what} exposure, {}{lasts}{of}", time_text(mark));
        Case::of(title, &slot.budget, &slot.exposures_s(&audit.evidence), slot.interval_s)
    };
    let cases = if one_interval && (long.exposure_s.1 / short.exposure_s.1 - 1.0).abs() < 1e-6 {
        vec![case("Every", &short)]
    } else {
        vec![case("Shortest", &short), case("Longest", &long)]
    };
    let longest = cases.iter().map(|c| c.whole_s.max(c.interval_s)).fold(0.0, f64::max);
    let from = if long.budget.from_close { "close" } else { "open" };
    html! {
        figure class="budget" id=(view.id("plot-budget")) {
            h3 {
                "Time in one slot " span class="unit" {
                    @if one_interval { "of " (duration(long.interval_s)) ", " }
                    "counted from shutter " (from)
                }
            }
            @for case in &cases { (drawn(case, longest)) }
            @if audit.plan.exposure.busy_s.is_none() {
                p class="fine" { "The plan names no busy time: what the camera needs to write is not in this." }
            }
        }
    }
}

/// Rectangles' patterns tell the pieces apart without colour.
fn drawn(case: &Case, longest: f64) -> Markup {
    let percent = |s: f64| format!("{:.2}%", 100.0 * s / longest);
    let lanes: Vec<&Vec<Work>> = case.lanes.iter().filter(|l| !l.is_empty()).collect();
    let interval_s = case.interval_s;
    let slack = interval_s - case.whole_s;
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
                @for (kind, long_s) in sums(case) {
                    @let (class, words) = kind.told();
                    li {
                        svg width="14" height="14" aria-hidden="true" {
                            rect class={ "piece " (class) } x="1" y="1" width="12" height="12" fill={ "url(#fill-" (class) ")" } {}
                        }
                        " " (words) " " b { (duration(long_s)) }
                    }
                }
                li {
                    @if slack >= 0.0 { "slack " b { (duration(slack)) } " (" (plain(100.0 * slack / interval_s, 1)) " %)" }
                    @else { strong class="over" { "over by " (duration(-slack)) " (" (plain(-100.0 * slack / interval_s, 1)) " %)" } }
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
    use crate::audit::{Part, PartStart, Plan, RigPlan, Schedule, TimerLaw};
    use crate::outputs::sample;

    /// What is drawn is what the checks judge: the busy time of the part in force, and the timer's law as the stamps
    /// show it.
    #[test]
    fn the_slot_is_drawn_as_it_is_judged() {
        let mut audit = sample::audit();
        let mut part = Part::from(PartStart::Frame(0));
        part.exposure.busy_s = Some(1.5);
        audit.plan.parts = vec![part];
        audit.evidence.timing.cadence.as_mut().expect("a cadence").law = TimerLaw::Close;
        audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
        let (_, long) = ends(&audit).expect("a slot");
        assert!(long.budget.from_close);
        let told = Case::of(String::new(), &long.budget, &long.exposures_s(&audit.evidence), long.interval_s);
        assert_eq!(pieces(&told.lanes[0]), [("busy", 0.0, 1.5)]);
    }

    fn pieces(lane: &[Work]) -> Vec<(&'static str, f64, f64)> {
        lane.iter().map(|w| (w.kind.told().1, w.from_s, w.long_s)).collect()
    }

    /// Worked by hand: 2.5 s exposure, 0.5 s busy; 20 mm at 20 mm/s, 0.5 s to settle. The carriage travels
    /// while the camera writes: 2.5 + 1 + 0.5 = 4 s.
    #[test]
    fn camera_and_carriage_stand_below_each_other() {
        let rig =
            RigPlan { step_m: Some(0.02), speed_m_s: Some(0.02), settle_s: Some(0.5), ..RigPlan::default() };
        let mut plan = Plan { rig, ..Plan::default() };
        plan.exposure.busy_s = Some(0.5);
        let told = Case::of(String::new(), &Budget::of(&plan, &plan.exposure), &[2.5], 5.0);
        assert_eq!(pieces(&told.lanes[0]), [("exposure", 0.0, 2.5), ("busy", 2.5, 0.5)]);
        assert_eq!(pieces(&told.lanes[1]), [("move", 2.5, 1.0), ("settle", 3.5, 0.5)]);
        assert!((told.whole_s - 4.0).abs() < 1e-9);
        plan.rig.waits = Some(true);
        plan.exposure.dark_frame = Some(true);
        let told = Case::of(String::new(), &Budget::of(&plan, &plan.exposure), &[2.5; 2], 5.0);
        let sums: Vec<_> = sums(&told).into_iter().map(|(kind, s)| (kind.told().1, s)).collect();
        assert_eq!(
            sums,
            [("exposure", 5.0), ("dark frame", 5.0), ("busy", 1.0), ("move", 1.0), ("settle", 0.5)]
        );
        assert!((told.whole_s - 12.5).abs() < 1e-9, "{}", told.whole_s);
    }
}
