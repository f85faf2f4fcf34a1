//! The time that each frame takes against the interval.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, drawn_together, named, not_above, not_of_the_run, number, opinion,
};
use crate::checks::slots::by_slot;
use crate::checks::whole::whole;
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::finding::{Direction, Finding, Limit, LimitKey, Needed, Opinion, Severity, Text, Traits};
use crate::plan::{ExposurePlan, levels};
use crate::schedule::{CRYSTAL, SlotUse};
use crate::units::stops::time_text;
use crate::units::{Figure, FrameSpan, counted, duration};

const TEXT: Text = Text {
    id: "shutter-overrun",
    finds: "exposures too long for the interval",
    asks: "Is the camera ready again before the timer fires?",
    why: "A camera that is still exposing or writing when the timer fires misses that frame. At dusk the \
          exposures grow until every other frame is missing.",
    how: "For each frame the exposure, the plan's busy time and any dark frame as long as the exposure are \
          added up. The sum is compared with the interval, and on a rig that is set by a wait with that. \
          It is worked out with the marked exposure, and with the exact one that the mark stands for (a \
          marked 30 s lasts 32 s). Where every frame came on time all the same, an overrun is only a note. \
          If the run is complete, so is a thin margin.",
    blind: "The camera's real busy time, where the plan does not give it, and a card that is slow at times.",
    remedy: "Lengthen the interval, shorten the longest exposure, turn in-camera dark-frame subtraction off, \
             or use a faster card.",
    source: "Marked times name powers of two (Exif, CIPA DC-008, annex on APEX). Levels: common practice, no \
             source.",
    traits: Traits {
        needed: Needed::Yes { to_answer: " Say the interval (--interval, or in a plan).", of_stamped: false },
        ..Traits::PLAIN
    },
};

const USE: LimitKey = LimitKey::new("use");

const LIMITS: &[Limit] = &[Limit {
    key: USE,
    unit: "% of the interval, or of the rig's wait, taken by exposure and busy time",
    direction: Direction::Above,
    caution: Some(levels::USE_TIGHT_PERCENT),
    fault: Some(levels::USE_MOST_PERCENT),
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::ExposureTimes, Need::Answers], judge };

/// How much of its interval one slot takes.
#[derive(Clone, Copy)]
struct Use {
    span: FrameSpan,
    slot: usize,
    /// The longest exposure of the slot as marked and as exact, s.
    exposure_s: (f64, f64),
    /// Time taken by the marks and by the exact exposures, s.
    taken_s: (f64, f64),
    interval_s: f64,
    /// What the camera may take of it, s.
    room_s: f64,
    /// The word for that.
    room_word: &'static str,
    /// The longest time to the next slot at which the timer is no slower than planned, s.
    paced_s: f64,
    severity: Severity,
    level: f64,
}

impl Use {
    fn worst_s(&self) -> f64 {
        self.taken_s.0.max(self.taken_s.1)
    }

    fn percent(&self) -> f64 {
        100.0 * self.worst_s() / self.room_s
    }
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    if !evidence.in_run().any(|at| case.schedule.interval_s(at).is_some()) {
        return Opinion::cannot("neither the plan nor the stamps give an interval");
    }
    let slots = by_slot(case.plan, evidence);
    let uses: Vec<_> = case.schedule.uses(evidence, &slots).filter_map(|slot| weighed(case, &slot)).collect();
    let groups = uses.chunk_by(|a, b| a.slot + 1 == b.slot && (a.interval_s - b.interval_s).abs() < 1e-9);
    let whole = whole(case);
    let findings = groups.filter_map(|group| told(case, group, whole));
    let findings = drawn_together(findings, |many| {
        let worst = uses.iter().map(Use::percent).fold(0.0, f64::max);
        format!(
            "In {many} places exposure and busy time take nearly all of the {}, {worst:.0} % of it at most.",
            uses.first().map_or("interval", |one| one.room_word)
        )
    });
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frame(at).exposure_s().is_none().then_some("no exposure time"))
            .or_else(|| case.schedule.interval_s(at).is_none().then_some("no interval"))
    })
}

/// What one slot takes, where that crosses a level.
fn weighed(case: &Case<'_>, slot: &SlotUse) -> Option<Use> {
    let taken_s = (slot.taken.0.camera_s, slot.taken.1.camera_s);
    let room_s = slot.budget.room_s(slot.interval_s).max(1e-9);
    let room_word = slot.budget.room_word();
    let percent = 100.0 * f64::max(taken_s.0, taken_s.1) / room_s;
    let (severity, level) = case.limits.weigh(USE, not_above(percent))?;
    let (span, exposure_s, interval_s) = (slot.span, slot.exposure_s, slot.interval_s);
    // Where the timer counts from the close, the exposures come before the interval.
    let before_s = slot.taken.1.closed_s + exposure_s.1;
    let paced_s = interval_s + if slot.budget.from_close { before_s } else { 0.0 };
    Some(Use {
        span,
        slot: slot.ordinal,
        exposure_s,
        taken_s,
        interval_s,
        room_s,
        room_word,
        paced_s,
        severity,
        level,
    })
}

/// True where the cadence was held over a span although the time was too short: no slot went missing in it or
/// right after, nothing slipped, and the interval is no longer than the one that was too short.
fn held(evidence: &Sequence, span: FrameSpan, interval_s: f64) -> bool {
    let timing = &evidence.timing;
    let Some(cadence) = &timing.cadence else { return false };
    let from = timing.holes.partition_point(|h| h.before < span.first);
    let hole = timing.holes.get(from).is_some_and(|h| h.before <= span.last);
    let from = timing.joins.partition_point(|j| j.before < span.first);
    let mut joins = timing.joins[from..].iter().take_while(|j| j.before <= span.last);
    let slip = joins.any(|j| j.kind.leaves_grid());
    let pace = timing.stretches.get(timing.stretches.partition_point(|s| s.last < span.first));
    let low_s = pace.map_or(cadence.low_s, |s| s.low_s);
    !hole && !slip && low_s <= interval_s * (1.0 + CRYSTAL)
}

/// True where the timer was no slower than planned: the stretch of `at` allows an interval of `paced_s`.
fn paced(evidence: &Sequence, at: usize, paced_s: f64) -> bool {
    let stretches = &evidence.timing.stretches;
    stretches
        .get(stretches.partition_point(|s| s.last < at))
        .is_some_and(|s| s.low_s <= paced_s * (1.0 + CRYSTAL))
}

/// What an exposure is followed by, after the plan.
fn beyond(asked: &ExposurePlan) -> String {
    let busy = asked.busy_s.filter(|s| *s > 0.0).map(|s| format!("{} of busy time", duration(s)));
    let dark = asked.dark_frame.unwrap_or(false).then(|| "a dark frame as long".to_owned());
    match (busy, dark) {
        (Some(busy), Some(dark)) => format!(", with {busy} and {dark}"),
        (Some(one), None) | (None, Some(one)) => format!(", with {one}"),
        (None, None) => String::new(),
    }
}

fn told(case: &Case<'_>, group: &[Use], whole: bool) -> Option<Finding> {
    let evidence = case.evidence;
    let span = FrameSpan { first: group.first()?.span.first, last: group.last()?.span.last };
    let worst = group.iter().reduce(|a, b| if b.worst_s() > a.worst_s() { b } else { a })?;
    let held = held(evidence, span, worst.interval_s);
    // What a whole run had to spare is a matter of the next one.
    let whole = whole && paced(evidence, worst.span.first, worst.paced_s);
    let noted = whole || (held && worst.severity == Severity::Fault);
    let severity = if noted { Severity::Note } else { worst.severity };
    let frames: u64 = group.iter().map(|u| u.span.len() as u64).sum();
    let (mark, exact) = worst.exposure_s;
    let by_mark = case.limits.weigh(USE, not_above(100.0 * worst.taken_s.0 / worst.room_s));
    let names = if (exact / mark).log2().abs() > 0.01 {
        format!("a marked {} lasts {}", time_text(mark), duration(exact))
    } else {
        format!("an exposure of {}", time_text(mark))
    };
    let by_mark = if by_mark.map(|w| w.0) == Some(worst.severity) {
        String::new()
    } else {
        format!("; by the mark it would be {}", duration(worst.taken_s.0))
    };
    let all_the_same = match (held && worst.severity == Severity::Fault, whole) {
        (true, _) => "; every frame came on time all the same",
        (false, true) => "; the run is complete: give the next one more room",
        (false, false) => "",
    };
    let beyond = beyond(&case.schedule.at(worst.span.first).exposure);
    let takes = if frames == 1 { "needs" } else { "need" };
    let message = format!(
        "{}, {}{}, {takes} up to {}; the {} is {} ({:.1} %): {names}{beyond}{by_mark}{all_the_same}.",
        counted(frames, "frame"),
        named(evidence, span),
        clocks_of(evidence, span),
        duration(worst.worst_s()),
        worst.room_word,
        duration(worst.room_s),
        worst.percent(),
    );
    Some(
        Finding::new(TEXT.id, severity, message)
            .count(frames)
            .on(span)
            .at(evidence.frame(span.first).moment())
            .figure("use_percent", beside(worst.percent(), Some(worst.level)))
            .figure("marked_exposure_s", number(mark))
            .figure("exact_exposure_s", number(exact))
            .figure("taken_by_mark_s", number(worst.taken_s.0))
            .figure("taken_by_exact_s", number(worst.taken_s.1))
            .figure("interval_s", number(worst.interval_s))
            .figure("room_s", number(worst.room_s))
            .figure("cadence_held", Figure::Flag(held))
            .figure("run_whole", Figure::Flag(whole))
            .figure("frames", count(frames)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{CountedFrom, Plan};

    /// By hand: 9 s of a wait of 10 s are at the level of 90 %, and 9.1 s are over it, though the interval of
    /// 12 s has room for both. 10.5 s end after the wait.
    #[test]
    fn a_wait_is_what_the_camera_has() {
        let mut plan = every(12.0);
        plan.rig.wait_s = Some(10.0);
        plan.rig.step_m = Some(0.02);
        plan.rig.speed_m_s = Some(0.02);
        plan.rig.settle_s = Some(1.0);
        assert!(found(&CHECK, &plan, &exposed(9.0, 12.0).evidence()).is_empty());
        let tight = found(&CHECK, &plan, &exposed(9.1, 12.0).evidence());
        assert!(tight.len() == 1 && tight[0].message.contains("the wait is 10 s (91.0 %)"), "{tight:?}");
        let over = found(&CHECK, &plan, &exposed(10.5, 12.0).evidence());
        assert!(over[0].message.contains("(105.0 %)"), "{over:?}");
    }

    fn exposed(seconds: f64, interval_s: f64) -> Sketch {
        Sketch::steady(60, interval_s).change(20..40, |row| row.exposure_s = Cell::Known(seconds))
    }

    #[test]
    fn stays_quiet_where_there_is_time() {
        assert!(found(&CHECK, &every(10.0), &exposed(4.0, 10.0).evidence()).is_empty());
    }

    /// 8 s is a whole power of two, so mark and exact agree.
    #[test]
    fn ninety_and_a_hundred_per_cent() {
        for (busy_s, severity) in
            [(0.99, vec![]), (1.0, vec![]), (1.01, vec![Caution]), (2.0, vec![Caution]), (2.01, vec![Fault])]
        {
            let exposure = ExposurePlan { busy_s: Some(busy_s), ..ExposurePlan::default() };
            // A slot goes missing right after: the cadence was not held.
            let evidence = exposed(8.0, 10.0).without(&[40], false).evidence();
            assert_eq!(
                severities(&CHECK, &Plan { exposure, ..every(10.0) }, &evidence),
                severity,
                "{busy_s}"
            );
        }
    }

    /// "30" names 32 s (Exif, CIPA DC-008): ExposureTime 30/1 with Tv −5/1.
    #[test]
    fn a_marked_thirty_is_thirty_two() {
        let evidence = exposed(30.0, 31.0).without(&[40], false).evidence();
        let findings = found(&CHECK, &every(31.0), &evidence);
        assert_eq!((findings[0].severity, findings[0].count), (Fault, 20));
        assert!(findings[0].message.contains("a marked 30 s lasts 32 s"), "{}", findings[0].message);
        assert!(findings[0].message.contains("by the mark it would be 30 s"), "{}", findings[0].message);
        // What the plan does not name is not in the sentence.
        assert!(!findings[0].message.contains("busy") && !findings[0].message.contains("dark"));
    }

    #[test]
    fn names_what_follows_the_exposure() {
        let said =
            |busy_s, dark_frame| beyond(&ExposurePlan { busy_s, dark_frame, ..ExposurePlan::default() });
        assert_eq!(said(Some(0.6), None), ", with 0.6 s of busy time");
        assert_eq!(said(None, Some(true)), ", with a dark frame as long");
        assert_eq!(said(Some(0.6), Some(true)), ", with 0.6 s of busy time and a dark frame as long");
        assert_eq!(said(Some(0.0), Some(false)), "");
    }

    #[test]
    fn a_cadence_that_was_held_makes_it_a_note() {
        assert_eq!(severities(&CHECK, &every(31.0), &exposed(30.0, 31.0).evidence()), [Note]);
        // The timer ran slower than planned: it was not held.
        assert_eq!(severities(&CHECK, &every(31.0), &exposed(30.0, 33.0).evidence()), [Fault]);
    }

    /// 32 s of 33 s are 97 %: a caution where a slot is missing or the plan asks for more, a note on a run
    /// that is whole.
    #[test]
    fn a_thin_margin_of_a_whole_run_is_for_the_next_one() {
        let stars = exposed(30.0, 33.0).evidence();
        let asks = |frames| Plan { frames: Some(frames), ..every(33.0) };
        assert_eq!(severities(&CHECK, &every(33.0), &stars), [Note]);
        for (frames, severity) in [(60, Note), (61, Caution)] {
            assert_eq!(severities(&CHECK, &asks(frames), &stars), [severity], "{frames}");
        }
        let said = &found(&CHECK, &asks(60), &stars)[0].message;
        assert!(said.ends_with("; the run is complete: give the next one more room."), "{said}");
        let holed = exposed(30.0, 33.0).without(&[5], false).evidence();
        assert_eq!(severities(&CHECK, &every(33.0), &holed), [Caution]);
        // A timer that counts 4 s from the close of 32 s: a slot every 36 s.
        let long = |interval_s| {
            let sketch = Sketch::steady(60, interval_s);
            sketch.change(0..60, |row| row.exposure_s = Cell::Known(30.0)).evidence()
        };
        let busy = ExposurePlan { busy_s: Some(3.9), ..ExposurePlan::default() };
        let close = Plan { counted_from: Some(CountedFrom::Close), exposure: busy, ..every(4.0) };
        assert_eq!(severities(&CHECK, &close, &long(36.0)), [Note]);
        assert_eq!(severities(&CHECK, &close, &long(37.0)), [Caution]);
    }

    #[test]
    fn a_dark_frame_doubles_it_and_a_timer_from_close_does_not_wait() {
        let dark = ExposurePlan { dark_frame: Some(true), ..ExposurePlan::default() };
        let plan = Plan { exposure: dark, ..every(10.0) };
        assert_eq!(severities(&CHECK, &plan, &exposed(8.0, 10.0).without(&[40], false).evidence()), [Fault]);
        let plan = Plan { counted_from: Some(CountedFrom::Close), ..every(10.0) };
        assert!(found(&CHECK, &plan, &exposed(15.0, 26.0).evidence()).is_empty());
    }

    #[test]
    fn a_bracket_adds_up() {
        let mut sketch = exposed(4.0, 10.0);
        sketch.slots = (0..60).map(|k| k / 3).collect();
        let plan = Plan { bracket: Some(3), ..every(10.0) };
        let findings = found(&CHECK, &plan, &sketch.evidence());
        assert!(!findings.is_empty() && findings.iter().all(|f| f.count % 3 == 0));
    }

    #[test]
    fn the_cadence_serves_where_the_plan_has_no_interval() {
        let evidence = exposed(9.9, 10.0).without(&[5], false).evidence();
        assert_eq!(severities(&CHECK, &Plan::default(), &evidence), [Caution]);
    }

    #[test]
    fn cannot_judge_without_times_or_an_interval() {
        let blind = Sketch::steady(5, 10.0).change(0..5, |row| row.exposure_s = Cell::Absent).evidence();
        assert!(cannot(&CHECK, &every(10.0), &blind).contains("exposure time"));
        assert!(
            cannot(&CHECK, &Plan::default(), &exposed(8.0, 10.0).loose("loose").evidence())
                .contains("interval")
        );
    }
}
