//! The carriage's move against the shutter.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, drawn_together, known, named, not_of_the_run, number, opinion,
};
use crate::checks::lens::{lacks, view};
use crate::checks::slots::by_slot;
use crate::checks::{Case, Check, Need};
use crate::evidence::{FrameView, Sequence};
use crate::finding::{
    About, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::plan::{self, RigKind, levels};
use crate::schedule::SlotUse;
use crate::units::{FrameSpan, counted, duration, length_text};
use std::cell::Cell;

const TEXT: Text = Text {
    id: "move-clash",
    finds: "a shutter open while the rig moved",
    asks: "Has the carriage come to rest before the shutter opens?",
    why: "A frame that is exposed while the carriage moves is smeared along the direction of travel, and no \
          sharpening brings it back. Dusk is when it happens: the exposures grow into the time that the move \
          needs.",
    how: "For each frame the exposure, the trigger's lag, the move and the settling are added up. Where the \
          rig waits for the camera, its busy time comes first. The sum is compared with the time to the next \
          frame. The move is a trapezoid where the plan gives an acceleration. The smear is given in pixels \
          where lens, distance and pixel pitch are known, from the plan or from the camera. It is focal \
          length times the way travelled while the shutter is open, over distance times pitch. On a rig that \
          is set by a wait the carriage sets off when that is over, so each exposure is compared with it. A \
          carriage that travels through the exposure on purpose is given its smear, and no clash.",
    blind: "The move as it really was: it is worked out from the plan. A carriage that starts late, is \
            slower uphill or shakes for longer than the plan's settling time clashes unseen.",
    remedy: "Lengthen the interval, shorten the longest exposure, move faster or by smaller steps. While the \
             rig is live keep hands and cables clear of the carriage.",
    source: "Kinematics at constant acceleration; similar triangles of the pinhole camera. Levels: common \
             practice, no source.",
    traits: Traits {
        about: About::Stand,
        in_the_clip: ClipEffect::Spoils,
        quality: Some(Quality::Movement),
        ..Traits::PLAIN
    },
};

const SLACK: LimitKey = LimitKey::new("slack");
const OVERLAP: LimitKey = LimitKey::new("overlap");

const LIMITS: &[Limit] = &[
    Limit {
        key: SLACK,
        unit: "% of the interval between the rig at rest and the next exposure",
        direction: Direction::Below,
        caution: Some(levels::SLACK_TIGHT_PERCENT),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: OVERLAP,
        unit: "s of shutter open during a move",
        direction: Direction::Above,
        caution: None,
        fault: Some(0.0),
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::ExposureTimes, Need::PlannedMove], judge };

/// Rounding of binary fractions, s.
const HAIR_S: f64 = 1e-6;

/// One slot after which it is tight.
#[derive(Clone, Copy)]
struct Tight {
    slot: SlotUse,
    /// Frames that the move reaches into: those of the next slot.
    into: FrameSpan,
    severity: Severity,
    level: f64,
    room_s: f64,
    slack_s: f64,
    overlap_s: f64,
    smear_px: Option<f64>,
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let counts = |findings| {
        opinion(findings, evidence, |at| {
            not_of_the_run(evidence, at)
                .or_else(|| evidence.frame(at).exposure_s().is_none().then_some("no exposure time"))
                .or_else(|| case.schedule.interval_s(at).is_none().then_some("no interval"))
        })
    };
    if case.plan.rig.kind == Some(RigKind::Continuous) {
        return match gliding(case) {
            Ok(finding) => counts(finding.into_iter().collect()),
            Err(why) => Opinion::cannot(why),
        };
    }
    if !evidence.in_run().any(|at| case.schedule.interval_s(at).is_some()) {
        return Opinion::cannot("neither the plan nor the stamps give an interval");
    }
    let slots = by_slot(case.plan, evidence);
    let mut before: Option<SlotUse> = None;
    let tight = case
        .schedule
        .uses(evidence, &slots)
        .filter_map(|slot| before.replace(slot).and_then(|before| weighed(case, before, slot)));
    let longest_s = Cell::new(0.0_f64);
    let findings = grouped(tight).map(|group| {
        longest_s.set(longest_s.get().max(group.worst.overlap_s));
        told(case, &group)
    });
    let findings = drawn_together(findings, |many| {
        let worst = longest_s.get();
        if worst > 0.0 {
            format!(
                "In {many} places the move leaves too little time; the shutter is open in it for up to {}.",
                duration(worst)
            )
        } else {
            format!(
                "In {many} places the rig comes to rest with hardly any time left before the next exposure."
            )
        }
    });
    counts(findings)
}

/// The time from one slot's beginning to the next's, s: by the slots on the grid, and by the interval that
/// was really kept where it is not the planned one. `None` where the timer stood in between.
fn room_s(evidence: &Sequence, slot: &SlotUse, next: &SlotUse) -> Option<f64> {
    let timing = &evidence.timing;
    let (at, after) = (slot.span.last, next.span.first);
    let from = timing.joins.partition_point(|j| j.before < at);
    if timing.joins.get(from).is_some_and(|j| j.before < after) {
        return None;
    }
    let stands = |at: usize| evidence.frame(at).slot();
    let slots = stands(slot.span.first).zip(stands(after)).map_or(1, |(a, b)| b.saturating_sub(a));
    let pace = timing.stretches.get(timing.stretches.partition_point(|s| s.last < at));
    let pace = pace.filter(|s| s.first <= at);
    let kept = pace.is_none_or(|s| (s.low_s..=s.high_s).contains(&slot.interval_s));
    let interval_s = if kept { slot.interval_s } else { pace.map_or(slot.interval_s, |s| s.interval_s) };
    // A hole is as long as its slots, each counted from open; what counts from close adds the exposures that
    // were not shot.
    Some(slots.max(1) as f64 * interval_s)
}

/// Tight slots that follow one another and are alike.
struct Group {
    worst: Tight,
    span: FrameSpan,
    frames: u64,
    /// The largest that is known.
    smear_px: Option<f64>,
}

/// Neighbours that are alike drawn together, one group held at a time.
fn grouped(tight: impl Iterator<Item = Tight>) -> impl Iterator<Item = Group> {
    let alike = |a: &Tight, b: &Tight| {
        a.slot.ordinal + 1 == b.slot.ordinal
            && (a.severity, a.overlap_s > 0.0) == (b.severity, b.overlap_s > 0.0)
            && (a.slot.interval_s - b.slot.interval_s).abs() < 1e-9
    };
    let by = |t: &Tight| (t.overlap_s, -t.slack_s);
    let mut tight = tight.peekable();
    std::iter::from_fn(move || {
        let mut last = tight.next()?;
        let (worst, frames) = (last, last.into.len() as u64);
        let mut group = Group { worst, span: last.into, frames, smear_px: last.smear_px };
        while let Some(next) = tight.next_if(|next| alike(&last, next)) {
            group.span.last = next.into.last;
            group.frames += next.into.len() as u64;
            let known = group.smear_px.into_iter().chain(next.smear_px);
            group.smear_px = known.reduce(f64::max);
            if by(&next) > by(&group.worst) {
                group.worst = next;
            }
            last = next;
        }
        Some(group)
    })
}

/// The exposures of a slot against the wait of its rig, which is over whatever the shutter does. How little
/// is left of it is a matter of the camera's time.
fn against_wait(case: &Case<'_>, slot: SlotUse, wait_s: f64) -> Option<Tight> {
    let (overlap_s, travelled_m) = slot.budget.open_in_move(&slot.taken.1);
    let (severity, level) = case.limits.weigh(OVERLAP, if overlap_s > HAIR_S { overlap_s } else { 0.0 })?;
    let smear_px = view(case.plan, case.evidence, slot.span.first).map(|v| v.shift_px(travelled_m));
    let slack_s = wait_s - slot.taken.1.closed_s;
    Some(Tight { slot, into: slot.span, severity, level, room_s: wait_s, slack_s, overlap_s, smear_px })
}

fn weighed(case: &Case<'_>, slot: SlotUse, next: SlotUse) -> Option<Tight> {
    if let Some(wait_s) = slot.budget.wait_s {
        return against_wait(case, slot, wait_s);
    }
    let room_s = room_s(case.evidence, &slot, &next)?;
    let taken = slot.taken.1;
    let slack_s = room_s - taken.rig_s;
    let (mut overlap_s, mut travelled_m) = slot.budget.clash(&taken, room_s, next.first_s);
    if overlap_s <= HAIR_S {
        (overlap_s, travelled_m) = (0.0, 0.0);
    }
    // A slack that is the level but for rounding is at the level.
    let percent = 100.0 * (slack_s + HAIR_S) / slot.interval_s;
    let clash = case.limits.weigh(OVERLAP, overlap_s);
    let (severity, level) = clash.or_else(|| case.limits.weigh(SLACK, percent))?;
    let smear_px = view(case.plan, case.evidence, next.span.first).map(|v| v.shift_px(travelled_m));
    let into = next.span;
    Some(Tight { slot, into, severity, level, room_s, slack_s, overlap_s, smear_px })
}

fn told(case: &Case<'_>, group: &Group) -> Finding {
    let evidence = case.evidence;
    let Group { worst, span, frames, smear_px } = group;
    let (span, frames, smear_px) = (*span, *frames, *smear_px);
    let slot = &worst.slot;
    let (budget, taken) = (slot.budget, slot.taken.1);
    let made_of = made_of(slot);
    let (room, opens) = (duration(worst.room_s), counted(frames, "frame"));
    let (names, clock) = (named(evidence, span), clocks_of(evidence, span));
    let message = if worst.overlap_s > 0.0 {
        let are = if frames == 1 { "is" } else { "are" };
        let smear = match smear_px {
            Some(px) => format!("a smear of up to {px:.1} px"),
            None => lacks(case.plan).to_owned(),
        };
        let why = match budget.wait_s {
            Some(_) => format!(
                "the shutter closes after {}, and the carriage sets off after the wait of {room}",
                duration(taken.closed_s)
            ),
            None => format!(
                "{made_of} end {} after the slot begins, and the next frame opens after {room}",
                duration(taken.stopped_s)
            ),
        };
        format!(
            "{opens}, {names}{clock}, {are} exposed while the carriage moves, for up to {}: {why}; {smear}.",
            duration(worst.overlap_s),
        )
    } else {
        let open = if frames == 1 { "opens" } else { "open" };
        let when = if worst.slack_s < -HAIR_S {
            format!("{} before the rig has settled", duration(-worst.slack_s))
        } else {
            format!("only {} after the rig has come to rest", duration(worst.slack_s.max(0.0)))
        };
        let settle = if budget.settle_s > 0.0 {
            format!(", with {} to settle,", duration(budget.settle_s))
        } else {
            String::new()
        };
        format!(
            "{opens}, {names}{clock}, {open} {when}: {made_of}{settle} take {} of {room}.",
            duration(taken.rig_s)
        )
    };
    let percent = 100.0 * worst.slack_s / slot.interval_s;
    let clashes = worst.overlap_s > 0.0;
    Finding::new(TEXT.id, worst.severity, message)
        .count(frames)
        .on(span)
        .at(evidence.frame(span.first).moment())
        .figure("overlap_s", beside(worst.overlap_s, Some(worst.level).filter(|_| clashes)))
        .figure("smear_px", known(smear_px))
        .figure("slack_s", number(worst.slack_s))
        .figure("slack_percent", beside(percent, Some(worst.level).filter(|_| !clashes)))
        .figure("exact_exposure_s", number(slot.exposure_s.1))
        .figure("move_s", known(budget.move_s))
        .figure("rig_s", number(taken.rig_s))
        .figure("room_s", number(worst.room_s))
        .figure("frames", count(frames))
}

/// What is added up, in words: "exposure of 8 s, lag of 0.1 s and move of 1.8 s".
fn made_of(slot: &SlotUse) -> String {
    let budget = slot.budget;
    let mut of = Vec::new();
    if !budget.from_close {
        of.push(format!("exposure of {}", duration(slot.exposure_s.1)));
    }
    if budget.waits && (budget.busy_s > 0.0 || budget.dark) {
        of.push(format!(
            "{} until the camera is ready",
            duration(slot.taken.1.camera_s - slot.taken.1.closed_s)
        ));
    }
    if budget.lag_s > 0.0 {
        of.push(format!("lag of {}", duration(budget.lag_s)));
    }
    of.push(format!("move of {}", duration(budget.move_s.unwrap_or(0.0))));
    let last = of.pop().unwrap_or_default();
    if of.is_empty() { last } else { format!("{} and {last}", of.join(", ")) }
}

/// A carriage that travels through the exposure on purpose: its smear, as a note. `Err` where the plan does
/// not tell its speed.
fn gliding(case: &Case<'_>) -> Result<Option<Finding>, String> {
    let (plan, evidence) = (case.plan, case.evidence);
    let run_s = plan::run_planned_s(plan);
    let speed = plan.rig.speed_m_s.or_else(|| Some(plan.rig.travel_m? / run_s.filter(|s| *s > 0.0)?));
    let speed = speed.ok_or(
        "the carriage travels through the exposure, and the plan gives neither its speed nor travel and run",
    )?;
    let mut longest: Option<(f64, FrameView<'_>)> = None;
    let mut frames = 0_u64;
    for frame in evidence.run() {
        let Some(exposure_s) = frame.exposure_s() else { continue };
        frames += 1;
        if longest.is_none_or(|(longest_s, _)| exposure_s > longest_s) {
            longest = Some((exposure_s, frame));
        }
    }
    let Some((exposure_s, frame)) = longest else { return Ok(None) };
    let way_m = speed * exposure_s;
    let pixels = view(plan, evidence, frame.at()).map(|view| view.shift_px(way_m));
    let seen = pixels.map_or_else(|| lacks(plan).to_owned(), |px| format!("{px:.1} px in the picture"));
    let message = format!(
        "The carriage travels through the exposure, as planned: {} in the longest one, {} at {}; {seen}.",
        length_text(way_m),
        duration(exposure_s),
        frame.name(),
    );
    Ok(Some(
        Finding::new(TEXT.id, Severity::Note, message)
            .count(frames)
            .figure("smear_px", known(pixels))
            .figure("travel_mm", number(way_m * 1000.0))
            .figure("exact_exposure_s", number(exposure_s))
            .figure("frames", count(frames)),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{ExposurePlan, Plan, RigPlan};

    /// 20 mm at 20 mm/s: a move of 1 s.
    fn slider(interval_s: f64, rig: RigPlan) -> Plan {
        let rig = RigPlan { step_m: Some(0.02), speed_m_s: Some(0.02), ..rig };
        Plan { rig, ..every(interval_s) }
    }

    fn exposed(seconds: f64, interval_s: f64) -> Sequence {
        Sketch::steady(60, interval_s).change(20..40, |row| row.exposure_s = Cell::Known(seconds)).evidence()
    }

    #[test]
    fn stays_quiet_where_there_is_time() {
        let plan = slider(12.0, RigPlan { settle_s: Some(0.5), ..RigPlan::default() });
        assert!(found(&CHECK, &plan, &exposed(8.0, 12.0)).is_empty());
    }

    /// 8 s and a move of 1 s leave 1 s of 10 s, a tenth; settling takes from it. A shutter that opens while
    /// the rig settles is a caution, one that opens while it moves a fault.
    #[test]
    fn exactly_at_the_limits() {
        for (exposure, settle, severity) in [
            (8.0, 0.0, vec![]),
            (8.0, 0.01, vec![Caution]),
            (8.0, 1.0, vec![Caution]),
            (8.0, 1.5, vec![Caution]),
            (9.0, 0.0, vec![Caution]),
            (9.01, 0.0, vec![Fault]),
        ] {
            let plan = slider(10.0, RigPlan { settle_s: Some(settle), ..RigPlan::default() });
            assert_eq!(severities(&CHECK, &plan, &exposed(exposure, 10.0)), severity, "{exposure} {settle}");
        }
    }

    /// A cycle of 5.8 s on 5 s (worked outside the project: exposure 4 s, settling 0.5 s, move 1 s, writing
    /// 0.3 s, one after the other): the carriage sets off at 4.3 s and stops at 5.3 s, so the next frame sees
    /// its last 0.3 s, 6 mm. With 24 mm, 2 m and 5.97 µm that is 24 · 6 / (2000 · 0.00597) = 12.06 px.
    #[test]
    fn names_the_frames_the_overlap_and_the_smear() {
        let rig = RigPlan {
            settle_s: Some(0.5),
            waits: Some(true),
            distance_m: Some(2.0),
            pixel_pitch_m: Some(5.97e-6),
            ..RigPlan::default()
        };
        let exposure = ExposurePlan { busy_s: Some(0.3), ..ExposurePlan::default() };
        let plan = Plan { exposure, ..slider(5.0, rig) };
        let evidence = exposed(4.0, 5.0);
        let findings = found(&CHECK, &plan, &evidence);
        let one = &findings[0];
        assert_eq!((findings.len(), one.severity, one.count), (1, Fault, 20));
        // The frames that are smeared are those after the long exposures: 21 to 40, TIDE0022 to TIDE0041.
        assert_eq!((one.first, one.last), (Some(21), Some(40)));
        for words in ["TIDE0022.JPG", "TIDE0041.JPG", "for up to 0.3 s", "5.3 s after", "12.1 px"] {
            assert!(one.message.contains(words), "{words}: {}", one.message);
        }
        // The camera's own focal length was used; its pitch would be too.
        let bare = Plan { rig: RigPlan { pixel_pitch_m: None, ..plan.rig.clone() }, ..plan.clone() };
        let message = found(&CHECK, &bare, &evidence)[0].message.clone();
        assert!(message.contains("pixel pitch is not known"), "{message}");
        let mut told = evidence.clone();
        told.frames.rows.iter_mut().for_each(|row| row.pitch_um = Cell::Known(5.97));
        assert!(found(&CHECK, &bare, &told)[0].message.contains("12.1 px"));
        // Beside the camera's writing it stops at 5 s sharp: no clash, and still settling.
        let beside = Plan { rig: RigPlan { waits: None, ..plan.rig.clone() }, ..plan };
        assert_eq!(severities(&CHECK, &beside, &evidence), [Caution]);
    }

    #[test]
    fn a_missed_slot_leaves_time() {
        let plan = slider(10.0, RigPlan::default());
        let every_other: Vec<i64> = (21..40).step_by(2).collect();
        let sketch = Sketch::steady(60, 10.0).change(20..40, |row| row.exposure_s = Cell::Known(9.5));
        let evidence = sketch.without(&every_other, false).evidence();
        // Only the last of the long exposures but one is followed by its next slot.
        let findings = found(&CHECK, &plan, &evidence);
        assert!(findings.iter().all(|f| f.count <= 1), "{findings:?}");
        let pause = crate::checks::testing::slip(25, 60.0, 6.0);
        let mut sketch = Sketch::steady(60, 10.0).change(25..26, |row| row.exposure_s = Cell::Known(9.5));
        sketch.joins = vec![pause];
        assert!(found(&CHECK, &plan, &sketch.evidence()).is_empty());
    }

    /// A timer that ran at 9.4 s where 10 s were planned: a move that fits the plan clashes.
    #[test]
    fn the_interval_that_was_kept_counts() {
        let plan = slider(10.0, RigPlan::default());
        assert!(found(&CHECK, &plan, &exposed(8.0, 10.0)).is_empty());
        assert_eq!(severities(&CHECK, &plan, &exposed(8.0, 9.4)), [Caution]);
        assert_eq!(severities(&CHECK, &plan, &exposed(8.0, 8.5)), [Fault]);
    }

    /// 2 mm/s for 0.5 s with 24 mm, 2 m and 5.97 µm: 2.0101 px (worked outside the project).
    #[test]
    fn a_carriage_that_travels_on_purpose_is_told_its_smear() {
        let rig = RigPlan {
            kind: Some(RigKind::Continuous),
            speed_m_s: Some(0.002),
            distance_m: Some(2.0),
            pixel_pitch_m: Some(5.97e-6),
            ..RigPlan::default()
        };
        let plan = Plan { rig, ..every(5.0) };
        let findings = found(&CHECK, &plan, &exposed(0.5, 5.0));
        assert_eq!((findings[0].severity, findings[0].count), (Note, 60));
        assert!(
            findings[0].message.contains("1 mm") && findings[0].message.contains("2.0 px"),
            "{}",
            findings[0].message
        );
        let mute = Plan { rig: RigPlan { speed_m_s: None, ..plan.rig.clone() }, ..plan.clone() };
        assert!(cannot(&CHECK, &mute, &exposed(0.5, 5.0)).contains("speed"));
        // Travel and run tell the speed: 118 mm in 59 intervals of 1 s.
        let rig = RigPlan { travel_m: Some(0.118), ..mute.rig.clone() };
        let by_travel = Plan { rig, frames: Some(60), ..every(1.0) };
        assert!(found(&CHECK, &by_travel, &exposed(0.5, 1.0))[0].message.contains("1 mm"));
    }

    #[test]
    fn a_plan_may_ask_for_more_slack() {
        let plan = tolerating(slider(12.0, RigPlan::default()), "move-clash", "caution", 30.0);
        assert_eq!(severities(&CHECK, &plan, &exposed(8.0, 12.0)), [Caution]);
    }

    #[test]
    fn cannot_judge_without_a_move_or_an_exposure() {
        assert!(cannot(&CHECK, &every(10.0), &exposed(8.0, 10.0)).contains("how long a move takes"));
        let blind = Sketch::steady(5, 10.0).change(0..5, |row| row.exposure_s = Cell::Absent).evidence();
        assert!(cannot(&CHECK, &slider(10.0, RigPlan::default()), &blind).contains("exposure time"));
        let plan = Plan { interval_s: None, ..slider(10.0, RigPlan::default()) };
        let loose = Sketch::steady(60, 10.0).loose("loose").evidence();
        assert!(cannot(&CHECK, &plan, &loose).contains("interval"));
    }
}
