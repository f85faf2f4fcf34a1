//! Steps that differ, slips, knocks, a carriage that comes back.

mod told;
mod turns;

use crate::checks::common::{
    PRACTICE, beside, clock_of, clocks_of, count, drawn_together, named, number, opinion, over,
};
use crate::checks::followed::{WHY_NOT, not_seen, nothing_shows, roughly, too_slow};
use crate::checks::{Case, Check};
use crate::evidence::movement::{Jump, JumpKind, Jumps, MovementTrack, travels};
use crate::finding::{
    ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use std::ops::Range;
use told::{BACKLASH, KNOCKED, NOT_TURNED, REVERSAL, SAGS, SLIPPED, at_step};
use turns::{off_the_plan, other_way, planned_back};

const TEXT: Text = Text {
    id: "uneven-move",
    asks: "Are the steps of the carriage alike, and did the camera stand firm?",
    why: "A step that is missing, too long or taken back is a jerk in the clip, and a knocked or sagging head a jump of the whole picture. Both \
          stand out because everything else runs so evenly.",
    how: "From the same layers as stalled-move: the place of a layer over a few frames after each step is held against that before it, less \
          the usual step, and what stands out of the layer's own restlessness by six times is told, in steps of the carriage. The \
          layer that shows the smallest slip is used. A layer that turns round is a carriage that goes back; how far its two ways, drawn on \
          to where they meet, lie beyond its farthest place is what play in the drive has swallowed. Way and turns are held against the \
          plan's direction, where it says one. What stands still in the \
          picture shows knocks, wind and a sinking head, in per cent of the picture's width. A jump of what passes that all else shares           alike, near or far, or that goes across the travel, is a knock too; in a slip what is farther away jumps by less.",
    blind: "Slips smaller than the layer's restlessness (audit.json tells it), and any where the picture moves by less than a fifth of \
            a pixel of the small one a step; where one of half a step could pass unseen and nothing else \
            is found, the check cannot judge: common at a quarter of a pixel of the small picture a step, and so where nothing but \
            what stands still or drifts is seen. \
            Knocks along the travel count as steps where nothing else in the picture is near enough to rest to tell them apart. A carriage that looks along its rail: the picture \
            then grows and does not pass by. Unevenness that is the same in every step.",
    remedy: "Slips: belt, clamp, cable drag, load on a slope. A turned carriage: limits and travel of the controller. Knocks: look who passed, weigh \
             the tripod down, shield it from wind; small ones can be stabilised in post. Keep clear of a rig at height or by a road; local \
             rules come first.",
    source: "Phase correlation: Kuglin and Hines 1975; sub-pixel by least squares: Lucas and Kanade 1981. Levels: common practice, no \
             source.",
    traits: Traits {
        in_the_clip: ClipEffect::Parts,
        patched: true,
        quality: Some(Quality::Movement),
        ..Traits::PLAIN
    },
};

const STEP: LimitKey = LimitKey::new("step");
const KNOCK: LimitKey = LimitKey::new("knock");
const SAG: LimitKey = LimitKey::new("sag");

const LIMITS: &[Limit] = &[
    Limit {
        key: STEP,
        unit: "% of a step too much or too little",
        direction: Direction::AtLeast,
        caution: Some(25.0),
        fault: Some(100.0),
        source: PRACTICE,
    },
    Limit {
        key: KNOCK,
        unit: "% of the picture's width, jumped from one frame to the next",
        direction: Direction::AtLeast,
        caution: Some(0.2),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: SAG,
        unit: "% of the picture's width over the run, where the camera does not travel",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

/// Steps by which a turn may lie beside the planned one: play in the drive delays it.
const AT_THE_TURN: usize = 4;
/// Standard errors by which steps lost in a turn must stand out.
const SURE: f64 = 5.0;
/// The slip, in steps, that must stand out for a run without one to be called even: common practice, no source.
const SLIP: f64 = 0.5;

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let Some(track) = &evidence.movement else { return Opinion::cannot(WHY_NOT) };
    let travels = travels(case.plan);
    let shows = travels && track.steady().next().is_some();
    if !shows && track.still.is_none() {
        return Opinion::cannot(nothing_shows(track, travels));
    }
    // Where the picture hardly moves, half a step is within the errors of following it.
    let jumping = track.jumping().filter(|_| travels && too_slow(track).is_none());
    let mut findings: Vec<Finding> = Vec::new();
    let mut knocks: Vec<Jump> = track.knocks.all.clone();
    if travels {
        let knocked = |jump: &Jump| track.knocks.all.iter().any(|k| k.step.abs_diff(jump.step) <= 2);
        let mut slips: Vec<(Jump, bool)> = Vec::new();
        if let Some((layer, jumps)) = &jumping {
            let of_layer: Vec<Jump> = jumps.all.iter().filter(|j| !knocked(j)).copied().collect();
            for (jump, kind) in of_layer.iter().zip(track.kinds(layer, &of_layer)) {
                match kind {
                    JumpKind::Slip => slips.push((*jump, true)),
                    JumpKind::Either => slips.push((*jump, false)),
                    JumpKind::Knock(px) => knocks.push(Jump { step: jump.step, by: px }),
                }
            }
        }
        let told = slips.iter().filter_map(|(jump, sure)| slipped(case, track, jump, *sure));
        findings.extend(drawn_together(told, |many| {
            let worst = slips.iter().map(|j| 100.0 * j.0.by.abs()).fold(0.0, f64::max);
            format!("In {many} places the carriage moved too much or too little, by {worst:.0} % of a step at most.")
        }));
        turns(case, track, &mut findings);
        findings.extend(off_the_plan(TEXT.id, track));
    } else {
        findings.extend(sagged(case, track));
    }
    knocks.sort_by_key(|k| k.step);
    let told = knocks.iter().filter_map(|k| knocked(case, track, k));
    let width = f64::from(track.width);
    findings.extend(drawn_together(told, |many| {
        let worst = knocks.iter().map(|k| 100.0 * k.by / width).fold(0.0, f64::max);
        format!("The picture jumps in {many} places, by {worst:.2} % of its width at most: wind, or a stand that is not firm.")
    }));
    if travels
        && findings.iter().all(|f| f.severity == Severity::Note)
        && let Some(why) = unseen(track, jumping.as_ref().map(|j| &j.1))
    {
        let notes = findings.iter().map(|f| format!(". {}", f.message.trim_end_matches('.')));
        return Opinion::cannot(std::iter::once(why).chain(notes).collect::<String>());
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| not_seen(evidence, track, at))
}

/// Why a slip of half a step could pass unseen; `None` where it would stand out.
fn unseen(track: &MovementTrack, jumps: Option<&Jumps>) -> Option<String> {
    if let Some(why) = too_slow(track) {
        return Some(why);
    }
    // What stands still shows knocks alone: of the carriage's steps nothing is known then.
    let Some(jumps) = jumps else { return Some(nothing_shows(track, true).to_owned()) };
    (jumps.surely() > SLIP).then(|| {
        format!(
            "the least slip that would surely stand out here is {:.0} % of a step, and one of {:.0} % could pass unseen",
            100.0 * jumps.surely(),
            100.0 * SLIP
        )
    })
}

/// `sure` where what else is in the picture shows that it was no knock.
fn slipped(case: &Case<'_>, track: &MovementTrack, jump: &Jump, sure: bool) -> Option<Finding> {
    let percent = 100.0 * jump.by.abs();
    let weighed = case.limits.weigh(STEP, percent)?;
    let (before, after) = *track.steps.get(jump.step)?;
    let way = if jump.by < 0.0 { "too little" } else { "too much" };
    let message = format!(
        "The carriage moved {percent:.0} % of a step {way} from {} to {}{}.",
        case.evidence.frame(before).name(),
        case.evidence.frame(after).name(),
        clock_of(case.evidence, after),
    );
    let words = if sure {
        "a slipping belt or clamp, a cable that drags, or play in the drive"
    } else {
        "a slipping belt or clamp, a cable that drags, play in the drive, or a knock along the travel"
    };
    let cause = (SLIPPED, words);
    let finding = at_step(TEXT.id, case, (before, after), weighed, message, cause);
    Some(
        finding.figure("step_percent", beside(percent, Some(weighed.1))).figure("steps_off", number(jump.by)),
    )
}

/// Ways back and the turns at their ends, held against those that the plan names.
fn turns(case: &Case<'_>, track: &MovementTrack, findings: &mut Vec<Finding>) {
    let measured = track.back();
    let planned = planned_back(case.plan, case.schedule, track);
    let meets = |a: &Range<usize>, b: &Range<usize>| {
        a.start.abs_diff(b.start) <= AT_THE_TURN && a.end.abs_diff(b.end) <= AT_THE_TURN
    };
    for span in measured.iter().filter(|m| !planned.iter().any(|p| meets(m, p))) {
        findings.extend(back(case, track, span));
    }
    let apart = |p: &&Range<usize>| measured.iter().all(|m| m.end <= p.start || p.end <= m.start);
    if track.steady().next().is_some() && too_slow(track).is_none() {
        findings.extend(planned.iter().filter(apart).filter_map(|p| not_turned(case, track, p)));
    }
    let finest = track.jumps().map_or(f64::INFINITY, |j| j.finest);
    let turns = measured.iter().flat_map(|m| [m.start, m.end]);
    for turn in turns.filter(|t| *t > 0 && *t < track.steps.len()) {
        let lost = track.play(turn).filter(|(lost, error)| *lost > SURE * error && *lost > 2.0 * finest);
        findings.extend(lost.and_then(|(lost, _)| backlash(case, track, turn, lost)));
    }
    findings.extend(other_way(TEXT.id, case, track));
}

fn not_turned(case: &Case<'_>, track: &MovementTrack, span: &Range<usize>) -> Option<Finding> {
    let (severity, level) = case.limits.weigh(STEP, 200.0)?;
    let frames = track.frames_of(span)?;
    let (before, _) = *track.steps.get(span.start)?;
    let message = format!(
        "The plan turns the carriage after {}, and it went on as before, {}.",
        case.evidence.frame(before).name(),
        named(case.evidence, frames),
    );
    // No frame is marked: the clip runs on, the other way.
    let finding =
        over(Finding::new(TEXT.id, severity, message).count(span.len() as u64), frames.first, frames.last);
    Some(
        finding
            .because(NOT_TURNED, "the controller did not get its turn, or the plan names another frame")
            .figure("step_percent", beside(200.0, Some(level))),
    )
}

fn backlash(case: &Case<'_>, track: &MovementTrack, turn: usize, lost: f64) -> Option<Finding> {
    let percent = 100.0 * lost;
    let weighed = case.limits.weigh(STEP, percent)?;
    let (before, after) = *track.steps.get(turn)?;
    let words = "play in the drive: belt, gear or clamp give way before the carriage follows";
    let message = format!(
        "The carriage lost {percent:.0} % of a step where it turned, about {}{}: {words}.",
        case.evidence.frame(after).name(),
        clock_of(case.evidence, after),
    );
    let finding = at_step(TEXT.id, case, (before, after), weighed, message, (BACKLASH, words));
    Some(finding.figure("step_percent", beside(percent, Some(weighed.1))).figure("steps_lost", number(lost)))
}

/// A carriage that goes back: every step is two steps off.
fn back(case: &Case<'_>, track: &MovementTrack, span: &Range<usize>) -> Option<Finding> {
    let (severity, level) = case.limits.weigh(STEP, 200.0)?;
    let (before, after) = track.turned_between(span.start)?;
    let frames = track.frames_of(span)?;
    let name = |at: usize| case.evidence.frame(at).name();
    let turned = if *track.steps.get(span.start)? == (before, after) {
        format!("it turned after {}", name(before))
    } else {
        format!("it turned between {} and {}, where its moves were not seen", name(before), name(after))
    };
    let message = format!(
        "The carriage travels back for {} moves, {}{}: {turned}{}.",
        span.len(),
        named(case.evidence, frames),
        clocks_of(case.evidence, frames),
        roughly(track),
    );
    let finding = Finding::new(TEXT.id, severity, message).count(span.len() as u64).on(frames);
    Some(
        finding
            .at(case.evidence.frame(after).moment())
            .because(REVERSAL, "the controller ran into a limit of its travel, or was told to return")
            .figure("step_percent", beside(200.0, Some(level)))
            .figure("moves_back", count(span.len() as u64)),
    )
}

fn knocked(case: &Case<'_>, track: &MovementTrack, knock: &Jump) -> Option<Finding> {
    let percent = 100.0 * knock.by / f64::from(track.width);
    let weighed = case.limits.weigh(KNOCK, percent)?;
    let (before, after) = *track.steps.get(knock.step)?;
    let words = "a knock, wind, or a head that gave way";
    let message = format!(
        "The whole picture jumps by {percent:.2} % of its width from {} to {}{}: {words}.",
        case.evidence.frame(before).name(),
        case.evidence.frame(after).name(),
        clock_of(case.evidence, after),
    );
    let finding = at_step(TEXT.id, case, (before, after), weighed, message, (KNOCKED, words));
    Some(finding.figure("knock_percent", beside(percent, Some(weighed.1))))
}

/// How far what stands has crept over the run, knocks aside.
fn sagged(case: &Case<'_>, track: &MovementTrack) -> Option<Finding> {
    let still = track.still.as_ref().filter(|_| track.locked_off())?;
    let at_knock = |step: usize| track.knocks.all.iter().any(|k| k.step.abs_diff(step) <= 1);
    let crept = still.seen().filter(|(step, _)| !at_knock(*step));
    let (x, y) = crept.fold((0.0, 0.0), |sum, (_, m)| (sum.0 + m.0, sum.1 + m.1));
    let percent = 100.0 * f64::hypot(x, y) / f64::from(track.width);
    let (severity, level) = case.limits.weigh(SAG, percent)?;
    let span = track.frames_of(&(0..track.steps.len()))?;
    let message = format!(
        "The picture creeps by {percent:.1} % of its width over the run, {}: a head or a leg that sinks.",
        named(case.evidence, span)
    );
    let mut finding =
        Finding::new(TEXT.id, severity, message).figure("sag_percent", beside(percent, Some(level)));
    (finding.first, finding.last) = (Some(span.first), Some(span.last));
    Some(finding.because(SAGS, "a head or a leg that sinks"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{cannot, found, severities};
    use crate::checks::testing_moves::{restless, rig, run, standing};
    use crate::evidence::movement::{Layer, of_layer};
    use crate::evidence::{Cell, Sequence};
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::{ExposurePlan, Part, PartStart, Plan, Way};

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

    /// What is far away jumps less than what is near where the carriage slips, and as far where the camera is knocked.
    #[test]
    fn a_knock_of_a_travelling_camera_is_told_from_a_slip() {
        // The near layer passes by 0.5 px a step and the far one by 0.15 px.
        let jumping =
            |near: f64, far: f64| {
                let mut evidence = run(|step| if step == 60 { 1.0 + near } else { 1.0 });
                let far = of_layer(
                    (0..99).map(|s| if s == 60 { 1.0 + far } else { 1.0 } + 3.0 * restless(s)).collect(),
                );
                let track = evidence.movement.as_mut().expect("a track");
                track.layers.extend(far.layers.into_iter().map(|(layer, path)| {
                    (Layer { tiles: vec![6, 7, 8], pace: (-0.15, 0.0), ..layer }, path)
                }));
                evidence
            };
        let causes = |evidence: &Sequence| -> Vec<&str> {
            found(&CHECK, &rig(), evidence)
                .iter()
                .filter_map(|f| Some(f.cause.as_ref()?.code.name()))
                .collect()
        };
        assert_eq!(causes(&jumping(-1.2, -1.2)), ["slip"]);
        assert_eq!(causes(&jumping(-1.2, 0.0)), ["slip"], "clouds go on");
        let knocked = jumping(-1.2, -4.0);
        assert_eq!(causes(&knocked), ["knock"]);
        // 1.2 steps of 0.5 px, of 160 px.
        let message = &found(&CHECK, &rig(), &knocked)[0].message;
        assert!(message.contains("0.38 % of its width"), "{message}");
        // A jump that goes across the travel as well is none of the carriage's.
        let mut aside = run(|step| if step == 60 { -0.2 } else { 1.0 });
        let track = aside.movement.as_mut().expect("a track");
        track.layers[0].0.aside =
            (0..99).map(|s| restless(s + 7) + if s == 60 { 0.8 } else { 0.0 }).collect();
        assert_eq!(causes(&aside), ["knock"]);
        let message = &found(&CHECK, &rig(), &aside)[0].message;
        assert!(message.contains("0.62 % of its width"), "{message}");
        // Alone it may be either.
        let alone = found(&CHECK, &rig(), &run(|step| if step == 60 { -0.2 } else { 1.0 }));
        let words = alone[0].cause.as_ref().map_or("", |c| &c.words);
        assert!(words.contains("or a knock"), "{words}");
    }

    /// Where a slip of half a step would not stand out, quiet means nothing; what is found is told all the same.
    #[test]
    fn no_quiet_where_half_a_step_would_not_stand_out() {
        let restless = |step: usize| 1.0 + 0.26 * ((step * step * 31 % 101) as f64 / 101.0 - 0.5);
        let why = cannot(&CHECK, &rig(), &run(restless));
        assert!(why.contains("could pass unseen"), "{why}");
        let turned = run(|step| if step >= 59 { -restless(step) } else { restless(step) });
        assert!(found(&CHECK, &rig(), &turned).iter().any(|f| f.message.contains("travels back")));
    }

    /// What only notes were found in is not cleared by them, and they are not lost.
    #[test]
    fn a_note_clears_nothing_and_is_kept() {
        let mut evidence = run(|step| 1.0 + 0.26 * ((step * step * 31 % 101) as f64 / 101.0 - 0.5));
        evidence.movement.as_mut().unwrap().expected_px = Some(2.0);
        let why = cannot(&CHECK, &rig(), &evidence);
        assert!(why.contains("could pass unseen") && why.contains("plan"), "{why}");
    }

    /// What stands still before a carriage that travels is no sign that it travels evenly; a knock shows all the same.
    #[test]
    fn what_stands_clears_no_carriage() {
        let why = cannot(&CHECK, &rig(), &standing(|_| 0.0));
        assert!(why.contains("nothing in the pictures moves evenly"), "{why}");
        let knocked = found(&CHECK, &rig(), &standing(|step| if step == 30 { 0.8 } else { 0.0 }));
        assert_eq!(knocked.len(), 1, "{knocked:?}");
    }

    #[test]
    fn a_carriage_that_turns() {
        let findings = found(&CHECK, &rig(), &run(|step| if step >= 59 { -1.0 } else { 1.0 }));
        assert_eq!(findings.len(), 1, "{findings:?}");
        let f = &findings[0];
        assert_eq!((f.severity, f.first, f.last), (Fault, Some(60), Some(99)));
    }

    /// What play swallows is known by hand: two steps that stand, and one that comes back by half.
    #[test]
    fn play_in_the_drive_shows_where_it_turns() {
        let lost = |evidence: &Sequence, plan: &Plan| -> Vec<(Severity, f64)> {
            let of = |f: &Finding| f.evidence.iter().find(|e| e.0 == "steps_lost").map(|e| e.1.clone());
            let one = |f: &Finding| match of(f) {
                Some(crate::units::Figure::Number(v)) => Some((f.severity, (10.0 * v).round() / 10.0)),
                _ => None,
            };
            found(&CHECK, plan, evidence).iter().filter_map(one).collect()
        };
        let clean = run(|step| if step >= 59 { -1.0 } else { 1.0 });
        assert!(lost(&clean, &rig()).is_empty());
        let two = run(|step| match step {
            0..59 => 1.0,
            59 | 60 => 0.0,
            _ => -1.0,
        });
        assert_eq!(lost(&two, &rig()), [(Fault, 2.0)]);
        let half = |step| match step {
            0..59 => 1.0,
            59 => -0.5,
            _ => -1.0,
        };
        assert_eq!(lost(&run(half), &rig()), [(Caution, 0.5)]);
    }

    #[test]
    fn a_planned_turn_is_no_finding_and_one_that_does_not_come_is() {
        let mut plan = rig();
        plan.rig.direction = Some(Way::Right);
        let back = ExposurePlan::default();
        let (from, direction) = (PartStart::Frame(60), Some(Way::Left));
        plan.parts = vec![Part { from, interval_s: None, exposure: back, direction, note: None }];
        assert!(found(&CHECK, &plan, &run(|step| if step >= 59 { -1.0 } else { 1.0 })).is_empty());
        let on = found(&CHECK, &plan, &run(|_| 1.0));
        assert_eq!(on.len(), 1);
        assert!(on[0].message.contains("went on as before"), "{}", on[0].message);
        let early = found(&CHECK, &plan, &run(|step| if step >= 49 { -1.0 } else { 1.0 }));
        assert_eq!(early.len(), 1);
        assert!(early[0].message.contains("travels back"), "{}", early[0].message);
    }

    /// The sketch's picture moves to the left, so the carriage travels to the right; a camera held upright turns that.
    #[test]
    fn the_way_is_held_against_the_plan() {
        let told = |way, orientation| {
            let mut plan = rig();
            plan.rig.direction = Some(way);
            let mut evidence = run(|_| 1.0);
            evidence.frames.rows.iter_mut().for_each(|row| row.orientation = orientation);
            found(&CHECK, &plan, &evidence).iter().map(|f| f.message.clone()).collect::<Vec<_>>()
        };
        assert!(told(Way::Right, Cell::Absent).is_empty());
        assert!(told(Way::Left, Cell::Known(1))[0].contains("travelled right; the plan says left"));
        assert!(told(Way::Up, Cell::Known(1))[0].contains("travelled right"));
        assert!(told(Way::Left, Cell::Known(3)).is_empty());
        // Turned a quarter to the right for viewing, a move to the left is one up: the carriage goes down.
        assert!(told(Way::Down, Cell::Known(6)).is_empty());
        assert!(told(Way::Up, Cell::Known(8)).is_empty());
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
