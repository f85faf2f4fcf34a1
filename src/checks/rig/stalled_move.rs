//! A carriage that stood while the camera went on.

use crate::checks::common::{PRACTICE, beside, clock_of, clocks_of, count, named, number, opinion, over};
use crate::checks::followed::{ONLY_DRIFTS, WHY_NOT, not_seen, roughly, too_slow};
use crate::checks::{Case, Check};
use crate::evidence::movement::{MovementTrack, travels};
use crate::finding::{
    About, CauseCode, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Text, Traits,
};
use crate::plan::budget::step_m;
use crate::units::{Figure, counted, duration};
use std::ops::Range;

const TEXT: Text = Text {
    id: "stalled-move",
    finds: "a carriage that stood",
    asks: "Did the carriage travel for as long as the camera was shooting?",
    why: "A carriage that stands while the camera goes on leaves a clip that stops dead in the middle of its \
          move. You cannot see it on the camera's screen, and often not on the rig.",
    how: "The small pictures of neighbouring frames are laid over one another, tile by tile. Phase \
          correlation finds the whole shifts, least squares on the brightness gradient the fractions of a \
          pixel. Tiles that move alike make a layer. A layer that moves evenly, and stands still as a whole \
          for a stretch, shows a halt. Clouds, water and what passes in front go on by themselves and do not \
          count. Small steps are measured over up to 16 frames. The check runs where the plan has a rig that \
          travels.",
    blind: "A carriage that never moved at all, where clouds or water fill the rest of the picture. Scenes \
            without anything at rest. Water or a crowd that moves evenly along the lower edge of the \
            picture, which looks like the carriage. Halts shorter than four frames (they are uneven moves). \
            What moves evenly above things that hardly move is taken for clouds or water and clears nothing. \
            With steps below a fifth of a pixel of the small picture, halts are reported, but the check is \
            never clear. Across missing slots nobody saw what the carriage did.",
    remedy: "Check the end of the rail, the battery, the cable and anything in the way. In the edit you \
             can take out the frames of the halt, and the clip is that much shorter. Keep hands clear of a \
             rig that may start again by itself.",
    source: "Phase correlation: Kuglin and Hines 1975; sub-pixel by least squares: Lucas and Kanade 1981. \
             Levels: common practice, no source.",
    traits: Traits {
        about: About::Stand,
        in_the_clip: ClipEffect::Spoils,
        quality: Some(Quality::Movement),
        ..Traits::PLAIN
    },
};

const STEPS: LimitKey = LimitKey::new("steps");

const STOOD_AND_WENT_ON: CauseCode = CauseCode::new("stood-and-went-on");
const RAIL_END: CauseCode = CauseCode::new("rail-end");
const BATTERY: CauseCode = CauseCode::new("battery");
const STOPPED: CauseCode = CauseCode::new("stopped");

const LIMITS: &[Limit] = &[Limit {
    key: STEPS,
    unit: "steps in a row in which the carriage stood",
    direction: Direction::Above,
    caution: None,
    fault: Some(3.0),
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

/// Share of the planned travel, or of the battery's hours, past which it is the likely cause.
const NEARLY: f64 = 0.95;
const MOSTLY: f64 = 0.8;
/// A step that lens and distance let expect, px of the small picture, past which it must be seen.
const PLAIN: f64 = 0.1;

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let Some(track) = &evidence.movement else { return Opinion::cannot(WHY_NOT) };
    if !travels(case.plan) {
        return Opinion::cannot("the plan has no rig that travels ([rig] step or travel)");
    }
    if track.layers.is_empty() && track.still.is_none() {
        return Opinion::cannot("the pictures show too little structure, or too few could be compared");
    }
    let never = never(case, track);
    if never.is_none() && track.steady().next().is_none() {
        return Opinion::cannot(if track.only_drifts() {
            ONLY_DRIFTS
        } else {
            "nothing in the pictures moves evenly enough, and far enough from frame to frame, to show the \
             carriage"
        });
    }
    let halts = track.halts();
    let told = halts.iter().filter_map(|halt| told(case, track, halt));
    let findings: Vec<Finding> = never.into_iter().chain(told).collect();
    if let Some(why) = too_slow(track).filter(|_| findings.is_empty()) {
        return Opinion::cannot(why);
    }
    opinion(findings, evidence, |at| not_seen(evidence, track, at))
}

/// Where lens, step and distance let expect a move that would be plain, and what could show it stands still.
fn never(case: &Case<'_>, track: &MovementTrack) -> Option<Finding> {
    let expected = track.expected_px.filter(|e| *e >= PLAIN)?;
    let slow = track.layers.iter().all(|(layer, _)| layer.speed() < 0.1 * expected);
    if !slow || !track.locked_off() {
        return None;
    }
    let steps = track.steps.len();
    let (severity, level) = case.limits.weigh(STEPS, steps as f64)?;
    let span = track.frames_of(&(0..steps))?;
    let message = format!(
        "The carriage does not seem to move at all, {}. By the plan's lens, step and distance the picture \
         should move by {expected:.2} px a step (of the small picture), and what can be seen stands still.",
        named(case.evidence, span),
    );
    // No frame is marked: a clip of it stands still, and can be used as that.
    let finding = over(Finding::new(TEXT.id, severity, message).count(steps as u64), span.first, span.last);
    Some(finding.figure("steps", beside(steps as f64, Some(level))).figure("expected_px", number(expected)))
}

fn told(case: &Case<'_>, track: &MovementTrack, halt: &Range<usize>) -> Option<Finding> {
    let evidence = case.evidence;
    let (severity, level) = case.limits.weigh(STEPS, halt.len() as f64)?;
    let span = track.frames_of(halt)?;
    let to_the_end = halt.end == track.steps.len();
    let why = if to_the_end { ending(case, track, halt) } else { passing(halt) };
    let frames = format!("{}{}", named(evidence, span), clocks_of(evidence, span));
    let (words, roughly) = (&why.words, roughly(track));
    let message = if to_the_end {
        format!(
            "The carriage stood still from {}{} to the end, {}: {words}. That is {}{roughly}.",
            evidence.frame(span.first).name(),
            clock_of(evidence, span.first),
            why.likely,
            counted(halt.len() as u64, "move"),
        )
    } else {
        format!(
            "The carriage stood still for {} moves {}, {frames}; {words}{roughly}.",
            halt.len(),
            why.likely,
        )
    };
    let at = evidence.frame(span.first).moment();
    Some(
        Finding::new(TEXT.id, severity, message)
            .count(halt.len() as u64)
            .on(span)
            .at(at)
            .because(why.code, why.words)
            .figure("steps", beside(halt.len() as f64, Some(level)))
            .figure("moves_before", count(halt.start as u64))
            .figure("to_the_end", Figure::Flag(to_the_end)),
    )
}

/// Why a carriage stood.
struct Why {
    code: CauseCode,
    /// In few words.
    likely: &'static str,
    /// With what tells it.
    words: String,
}

/// What is known where no cause is likely.
const SHOT_ON: &str = "while the camera went on";

fn passing(halt: &Range<usize>) -> Why {
    let words = format!(
        "it went on after that, {} moves behind: something in the way, a loose cable or a slipping belt",
        halt.len()
    );
    Why { code: STOOD_AND_WENT_ON, likely: SHOT_ON, words }
}

/// Why a carriage stands until the end.
fn ending(case: &Case<'_>, track: &MovementTrack, halt: &Range<usize>) -> Why {
    let rig = &case.plan.rig;
    let done = halt.start as f64;
    let room = rig.travel_m.zip(step_m(case.plan)).map(|(travel, step)| travel / step);
    if let Some(room) = room.filter(|room| done >= NEARLY * room) {
        let words = format!("it had made {done:.0} of the {room:.0} moves that the rail holds");
        return Why { code: RAIL_END, likely: "likely at the end of its rail", words };
    }
    let stamp = |at: Option<usize>| at.and_then(|at| case.evidence.frame(at).stamp());
    let from = stamp(track.steps.first().map(|s| s.0));
    let to = stamp(track.steps.get(halt.start).map(|s| s.0));
    let ran_s = from.zip(to).map(|(a, b)| b.at.seconds_since(a.at)).filter(|s| *s >= 0.0);
    let worn = ran_s.zip(rig.battery_hours).filter(|(s, hours)| *s >= MOSTLY * 3600.0 * hours);
    if let Some((ran_s, hours)) = worn {
        let words = format!("it had run for {} on a battery planned to last {hours} h", duration(ran_s));
        return Why { code: BATTERY, likely: "likely with an empty battery", words };
    }
    let words = "an empty battery, the end of the rail or a pulled cable".into();
    Why { code: STOPPED, likely: SHOT_ON, words }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{cannot, found, severities, tolerating};
    use crate::checks::testing_moves::{rig, run};
    use crate::finding::Severity::Fault;
    use crate::plan::Plan;

    #[test]
    fn stays_quiet_while_it_travels() {
        assert!(found(&CHECK, &rig(), &run(|_| 1.0)).is_empty());
    }

    #[test]
    fn a_halt_is_named_from_the_first_frame_whose_move_failed() {
        let evidence = run(|step| if (49..55).contains(&step) { 0.0 } else { 1.0 });
        let findings = found(&CHECK, &rig(), &evidence);
        assert_eq!(findings.len(), 1);
        let f = &findings[0];
        assert_eq!((f.severity, f.count, f.first, f.last), (Fault, 6, Some(50), Some(55)));
        assert_eq!(f.cause.as_ref().map(|c| c.code.name()), Some("stood-and-went-on"));
        assert!(f.message.contains("6 moves behind") && !f.message.contains("roughly"), "{}", f.message);
    }

    #[test]
    fn three_steps_are_no_fault_yet_and_four_are() {
        let halt = |n: usize| run(move |step| if (40..40 + n).contains(&step) { 0.0 } else { 1.0 });
        assert!(found(&CHECK, &rig(), &halt(3)).is_empty());
        assert_eq!(severities(&CHECK, &rig(), &halt(4)), [Fault]);
        let patient = tolerating(rig(), "stalled-move", "fault", 4.0);
        assert!(found(&CHECK, &patient, &halt(4)).is_empty());
    }

    #[test]
    fn the_quiet_of_tiny_steps_means_nothing_and_a_halt_in_them_is_told() {
        let slow = |halt: bool, expected_px: Option<f64>| {
            let mut evidence = run(move |step| if halt && step >= 70 { 0.0 } else { 1.0 });
            let track = evidence.movement.as_mut().expect("a track");
            track.expected_px = expected_px;
            if expected_px.is_none() {
                track.layers.iter_mut().for_each(|(layer, _)| layer.pace = (0.1, 0.0));
            }
            evidence
        };
        for expected_px in [None, Some(0.1)] {
            assert!(cannot(&CHECK, &rig(), &slow(false, expected_px)).contains("0.10 px"));
            let told = found(&CHECK, &rig(), &slow(true, expected_px));
            assert_eq!(told.iter().map(|f| f.severity).collect::<Vec<_>>(), [Fault]);
            assert!(told[0].message.ends_with("known only roughly."), "{}", told[0].message);
        }
        // Exactly at the limit it is judged.
        assert!(found(&CHECK, &rig(), &slow(false, Some(0.2))).is_empty());
    }

    #[test]
    fn what_may_drift_by_itself_clears_nothing() {
        let mut evidence = run(|step| if step >= 70 { 0.0 } else { 1.0 });
        let track = evidence.movement.as_mut().expect("a track");
        track.layers.iter_mut().for_each(|(layer, _)| layer.drifts = true);
        assert!(cannot(&CHECK, &rig(), &evidence).contains("clouds"));
    }

    #[test]
    fn a_halt_to_the_end_names_its_likely_cause() {
        let evidence = run(|step| if step >= 70 { 0.0 } else { 1.0 });
        let code = |plan: &Plan| found(&CHECK, plan, &evidence)[0].cause.as_ref().map(|c| c.code.name());
        assert_eq!(code(&rig()), Some("stopped"));
        let mut short = rig();
        short.rig.travel_m = Some(0.105);
        assert_eq!(code(&short), Some("rail-end"));
        let mut tired = rig();
        tired.rig.battery_hours = Some(0.2);
        assert_eq!(code(&tired), Some("battery"));
    }

    #[test]
    fn cannot_judge_without_pictures_or_a_rig() {
        let evidence = crate::checks::testing::Sketch::steady(100, 10.0).evidence();
        assert!(cannot(&CHECK, &rig(), &evidence).contains("--movement"));
        assert!(cannot(&CHECK, &Plan::default(), &run(|_| 1.0)).contains("[rig]"));
    }
}
