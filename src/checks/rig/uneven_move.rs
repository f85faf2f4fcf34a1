//! Steps that differ, slips, knocks, a carriage that comes back.

use crate::checks::common::{
    PRACTICE, beside, clock_of, count, drawn_together, named, not_of_the_run, number, opinion,
};
use crate::checks::{Case, Check};
use crate::evidence::Evidence;
use crate::evidence::movement::{Jump, MovementTrack, travels};
use crate::finding::{Direction, Finding, Limit, Opinion, Severity, Text};
use crate::units::FrameSpan;
use std::ops::Range;

const TEXT: Text = Text {
    id: "uneven-move",
    asks: "Are the steps of the carriage alike, and did the camera stand firm?",
    why: "A step that is missing, too long or taken back is a jerk in the clip, and a knocked or sagging head a jump of the whole picture. Both \
          stand out because everything else runs so evenly.",
    how: "From the same layers as stalled-move: the place of a layer over a few frames after each step is held against that before it, less \
          the usual step, and what stands out of the layer's own restlessness by six times is told, in steps of the carriage. The \
          layer that shows the smallest slip is used. A layer that turns round is a carriage that goes back. What stands still in the \
          picture shows knocks, wind and a sinking head, in per cent of the picture's width.",
    blind: "Slips smaller than the layer's restlessness: at steps of a tenth of a pixel of the small picture half a step is about the least. \
            Knocks along the travel, where nothing stands still, count as steps. Unevenness that is the same in every step.",
    remedy: "Slips: belt, clamp, cable drag, load on a slope. A turned carriage: limits and travel of the controller. Knocks: look who passed, weigh \
             the tripod down, shield it from wind; small ones can be stabilised in post. Keep clear of a rig at height or by a road; local \
             rules come first.",
    source: "Phase correlation: Kuglin and Hines 1975; sub-pixel by least squares: Lucas and Kanade 1981. Levels: common practice, no \
             source.",
};

const LIMITS: &[Limit] = &[
    Limit {
        key: "step",
        unit: "% of a step too much or too little",
        direction: Direction::AtLeast,
        caution: Some(25.0),
        fault: Some(100.0),
        source: PRACTICE,
    },
    Limit {
        key: "knock",
        unit: "% of the picture's width, jumped from one frame to the next",
        direction: Direction::AtLeast,
        caution: Some(0.2),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: "sag",
        unit: "% of the picture's width over the run, where the camera does not travel",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

/// How far measured and expected step may lie apart before it is worth a note, as a factor.
const APART: f64 = 1.5;

/// Why there is no movement to judge.
pub(super) const WHY_NOT: &str = "the movement of the pictures was not followed; --movement asks for it";

/// Why what moves evenly does not show the carriage.
pub(super) const ONLY_DRIFTS: &str = "what moves evenly lies above what hardly moves, and may be clouds or water that drift by themselves; \
                                      the carriage moves the picture too little to be followed";

/// Why the quiet of a picture that hardly moves means nothing; `None` where it moves enough.
pub(super) fn too_slow(track: &MovementTrack) -> Option<String> {
    track.too_slow().map(|px| {
        format!("the picture moves only {px:.2} px a step (of a small picture {} px wide): too little to follow surely", track.width)
    })
}

/// Why a frame was not looked at for movement.
pub(super) fn not_seen(evidence: &Evidence, track: &MovementTrack, at: usize) -> Option<&'static str> {
    let step = track.steps.partition_point(|s| s.1 < at);
    let beside = track.steps.get(step).is_some_and(|s| s.0 <= at);
    not_of_the_run(evidence, at).or_else(|| (!beside).then_some("no picture to compare"))
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let Some(track) = &evidence.movement else { return Opinion::cannot(WHY_NOT) };
    let travels = travels(case.plan);
    let jumps = track.jumps().filter(|_| travels);
    if jumps.is_none() && track.still.is_none() {
        return Opinion::cannot(if travels && track.only_drifts() {
            ONLY_DRIFTS
        } else if travels {
            "nothing in the pictures moves evenly enough to tell one step of the carriage from another"
        } else {
            "nothing in the pictures stands still from frame to frame, and the plan has no rig that travels"
        });
    }
    let mut findings: Vec<Finding> = Vec::new();
    if travels {
        let knocked = |jump: &Jump| track.knocks.all.iter().any(|k| k.step.abs_diff(jump.step) <= 2);
        let slips: Vec<Jump> = jumps.iter().flat_map(|j| &j.all).filter(|j| !knocked(j)).copied().collect();
        let told = slips.iter().filter_map(|j| slipped(case, track, j));
        findings.extend(drawn_together(told, |many| {
            let worst = slips.iter().map(|j| 100.0 * j.by.abs()).fold(0.0, f64::max);
            format!("In {many} places the carriage moved too much or too little, by {worst:.0} % of a step at most.")
        }));
        findings.extend(track.back().iter().filter_map(|b| back(case, track, b)));
        findings.extend(off_the_plan(track));
    } else {
        findings.extend(sagged(case, track));
    }
    let told = track.knocks.all.iter().filter_map(|k| knocked(case, track, k));
    let width = f64::from(track.width);
    findings.extend(drawn_together(told, |many| {
        let worst = track.knocks.all.iter().map(|k| 100.0 * k.by / width).fold(0.0, f64::max);
        format!("The picture jumps in {many} places, by {worst:.2} % of its width at most: wind, or a stand that is not firm.")
    }));
    if let Some(why) = too_slow(track).filter(|_| travels && findings.is_empty()) {
        return Opinion::cannot(why);
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| not_seen(evidence, track, at))
}

fn slipped(case: &Case<'_>, track: &MovementTrack, jump: &Jump) -> Option<Finding> {
    let percent = 100.0 * jump.by.abs();
    let (severity, level) = case.limits.weigh("step", percent)?;
    let (before, after) = *track.steps.get(jump.step)?;
    let way = if jump.by < 0.0 { "too little" } else { "too much" };
    let message = format!(
        "The carriage moved {percent:.0} % of a step {way} from {} to {}{}.",
        case.evidence.name(before),
        case.evidence.name(after),
        clock_of(case.evidence, after),
    );
    Some(
        Finding::new(TEXT.id, severity, message)
            .between(before, after)
            .at(case.evidence.stamp(after).map(|s| s.at))
            .because("slip", "a slipping belt or clamp, a cable that drags, or play in the drive")
            .figure("step_percent", beside(percent, Some(level)))
            .figure("steps_off", number(jump.by)),
    )
}

/// A carriage that goes back: every step is two steps off.
fn back(case: &Case<'_>, track: &MovementTrack, span: &Range<usize>) -> Option<Finding> {
    let (severity, level) = case.limits.weigh("step", 200.0)?;
    let (before, after) = *track.steps.get(span.start)?;
    let frames = track.frames_of(span)?;
    let message = format!(
        "The carriage travels back for {} moves, {}{}: it turned after {}.",
        span.len(),
        named(case.evidence, frames),
        clock_of(case.evidence, after),
        case.evidence.name(before),
    );
    let finding = Finding::new(TEXT.id, severity, message).count(span.len() as u64).on(frames);
    Some(
        finding
            .at(case.evidence.stamp(after).map(|s| s.at))
            .because("reversal", "the controller ran into a limit of its travel, or was told to return")
            .figure("step_percent", beside(200.0, Some(level)))
            .figure("moves_back", count(span.len() as u64)),
    )
}

fn knocked(case: &Case<'_>, track: &MovementTrack, knock: &Jump) -> Option<Finding> {
    let percent = 100.0 * knock.by / f64::from(track.width);
    let (severity, level) = case.limits.weigh("knock", percent)?;
    let (before, after) = *track.steps.get(knock.step)?;
    let message = format!(
        "The whole picture jumps by {percent:.2} % of its width from {} to {}{}: a knock, wind, or a head that gave way.",
        case.evidence.name(before),
        case.evidence.name(after),
        clock_of(case.evidence, after),
    );
    Some(
        Finding::new(TEXT.id, severity, message)
            .between(before, after)
            .at(case.evidence.stamp(after).map(|s| s.at))
            .because("knock", "a knock, wind, or a head that gave way")
            .figure("knock_percent", beside(percent, Some(level))),
    )
}

/// How far what stands has crept over the run, knocks aside.
fn sagged(case: &Case<'_>, track: &MovementTrack) -> Option<Finding> {
    let still = track.still.as_ref().filter(|_| track.locked_off())?;
    let at_knock = |step: usize| track.knocks.all.iter().any(|k| k.step.abs_diff(step) <= 1);
    let crept = still.moved.iter().enumerate().filter(|(step, m)| m.0.is_finite() && !at_knock(*step));
    let (x, y) = crept.fold((0.0, 0.0), |sum, (_, m)| (sum.0 + m.0, sum.1 + m.1));
    let percent = 100.0 * f64::hypot(x, y) / f64::from(track.width);
    let (severity, level) = case.limits.weigh("sag", percent)?;
    let span = track.frames_of(&(0..track.steps.len()))?;
    let message = format!(
        "The picture creeps by {percent:.1} % of its width over the run, {}: a head or a leg that sinks.",
        named(case.evidence, span)
    );
    let mut finding =
        Finding::new(TEXT.id, severity, message).figure("sag_percent", beside(percent, Some(level)));
    (finding.first, finding.last) = (Some(span.first), Some(span.last));
    Some(finding.because("sag", "a head or a leg that sinks"))
}

/// Measured step against the one that lens, step and distance let expect, where they lie far apart.
fn off_the_plan(track: &MovementTrack) -> Option<Finding> {
    let (ratio, expected) = track.over_expected().zip(track.expected_px)?;
    if (1.0 / APART..=APART).contains(&ratio) {
        return None;
    }
    let FrameSpan { first, last } = track.frames_of(&(0..track.steps.len()))?;
    let message = format!(
        "What moves most nearly as planned moves {ratio:.2} times as far a step as the plan's lens, step and distance let expect \
         ({expected:.2} px of the small picture): the distance, the lens or the step is another."
    );
    let mut finding = Finding::new(TEXT.id, Severity::Note, message)
        .figure("measured_over_expected", number(ratio))
        .figure("expected_px", number(expected));
    (finding.first, finding.last) = (Some(first), Some(last));
    Some(finding)
}

#[cfg(test)]
pub(in crate::checks) mod sketch {
    //! Evidence of runs that move as told.

    use crate::checks::testing::Sketch;
    use crate::evidence::Evidence;
    use crate::evidence::movement::{MovementTrack, of_layer, of_still};
    use crate::plan::{Plan, RigPlan};

    /// A plan with a carriage that steps 1.5 mm.
    pub fn rig() -> Plan {
        let rig = RigPlan { step_m: Some(0.0015), ..RigPlan::default() };
        Plan { interval_s: Some(10.0), frames: Some(100), rig, ..Plan::default() }
    }

    /// A little that is not the carriage's, in steps: it comes and goes with the frame, as errors of a picture's place do.
    pub fn restless(step: usize) -> f64 {
        let place = |at: usize| 0.02 * ((at * at * 37 + at * 11) % 17) as f64 / 17.0;
        place(step + 1) - place(step)
    }

    /// A hundred frames; `moved` gives each step of the one layer, in steps.
    pub fn run(moved: impl Fn(usize) -> f64) -> Evidence {
        with(of_layer((0..99).map(|s| moved(s) + restless(s)).collect()))
    }

    /// A hundred frames of a camera that stands; `moved` gives each move of what stands, px of a picture 160 wide.
    pub fn standing(moved: impl Fn(usize) -> f64) -> Evidence {
        with(of_still((0..99).map(|s| (moved(s) + restless(s), restless(s + 7))).collect()))
    }

    fn with(movement: MovementTrack) -> Evidence {
        Evidence { movement: Some(movement), ..Sketch::steady(100, 10.0).evidence() }
    }
}

#[cfg(test)]
mod tests {
    use super::sketch::{rig, run, standing};
    use super::*;
    use crate::checks::testing::{cannot, found, severities};
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::Plan;

    #[test]
    fn stays_quiet_while_the_steps_are_alike() {
        assert!(found(&CHECK, &rig(), &run(|_| 1.0)).is_empty());
        assert!(found(&CHECK, &Plan::default(), &standing(|_| 0.0)).is_empty());
    }

    #[test]
    fn slips_by_their_size() {
        for (by, severity) in
            [(0.2, vec![]), (0.28, vec![Caution]), (0.5, vec![Caution]), (1.05, vec![Fault])]
        {
            let evidence = run(|step| if step == 60 { 1.0 - by } else { 1.0 });
            assert_eq!(severities(&CHECK, &rig(), &evidence), severity, "{by}");
        }
        let evidence = run(|step| if step == 60 { 0.5 } else { 1.0 });
        let f = &found(&CHECK, &rig(), &evidence)[0];
        assert_eq!((f.first, f.last), (Some(60), Some(61)));
        assert!(f.message.contains("too little"), "{}", f.message);
    }

    #[test]
    fn a_carriage_that_turns() {
        let findings = found(&CHECK, &rig(), &run(|step| if step >= 59 { -1.0 } else { 1.0 }));
        assert_eq!(findings.len(), 1, "{findings:?}");
        let f = &findings[0];
        assert_eq!((f.severity, f.first, f.last), (Fault, Some(60), Some(99)));
    }

    #[test]
    fn knocks_and_a_sinking_head() {
        let evidence = standing(|step| if step == 30 { 0.8 } else { 0.0 });
        let f = &found(&CHECK, &Plan::default(), &evidence)[0];
        assert_eq!((f.severity, f.first, f.last), (Caution, Some(30), Some(31)));
        let sinking = found(&CHECK, &Plan::default(), &standing(|_| 0.02));
        assert_eq!(sinking.len(), 1);
        assert!(sinking[0].message.contains("creeps"), "{}", sinking[0].message);
    }

    #[test]
    fn many_slips_are_drawn_together() {
        let evidence = run(|step| if step % 6 == 5 { 0.65 } else { 1.0 });
        let findings = found(&CHECK, &rig(), &evidence);
        assert_eq!(findings.len(), 1);
        assert!(findings[0].message.contains("places"), "{}", findings[0].message);
    }

    #[test]
    fn cannot_judge_without_pictures_or_anything_to_go_by() {
        let evidence = crate::checks::testing::Sketch::steady(100, 10.0).evidence();
        assert!(cannot(&CHECK, &rig(), &evidence).contains("--movement"));
        assert!(cannot(&CHECK, &Plan::default(), &run(|_| 1.0)).contains("stands still"));
    }
}
