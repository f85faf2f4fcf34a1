//! Steps that differ, slips, knocks, a carriage that comes back.

mod told;
mod turns;

use crate::checks::common::{
    PRACTICE, beside, clock_of, clocks_of, count, drawn_together, named, number, opinion, over,
};
use crate::checks::followed::{WHY_NOT, not_seen, nothing_shows, roughly, too_slow};
use crate::checks::{Case, Check};
use crate::evidence::Sequence;
use crate::evidence::movement::{Jump, JumpKind, Jumps, Layer, MovementTrack, travels};
use crate::finding::{
    About, ByCause, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::units::counted;
use std::ops::Range;
use told::{BACKLASH, KNOCKED, NOT_TURNED, REVERSAL, SAGS, SLIPPED, at_step};
use turns::{off_the_plan, other_way, planned_back};

const TEXT: Text = Text {
    id: "uneven-move",
    finds: "uneven movement",
    asks: "Are the carriage's steps even, and did the camera stand firm?",
    why: "A step that is missing, too long or taken back is a jerk in the clip. A knocked or sagging head is \
          a jump of the whole picture. Both stand out because everything else runs so evenly.",
    how: "From the same layers as stalled-move. The place of a layer over a few frames after each step is \
          compared with that before it, less the usual step. What exceeds the layer's own restlessness six \
          times is reported, in steps of the carriage. The layer that shows the smallest slip is used. A \
          layer that turns round is a carriage that goes back. Its two ways are drawn on to where they meet: \
          how far that lies beyond its farthest place is the play in the drive. Way and turns are compared \
          with the plan's direction, where it gives one. What stands still in the picture shows knocks, wind \
          and a sinking head, in per cent of the picture's width; a head that sinks takes all of it along. \
          A jump that everything shares alike, near \
          or far, or that goes across the travel, is a knock too. In a slip, what is farther away jumps by \
          less.",
    blind: "Slips smaller than the layer's restlessness (it stands in audit.json). Any slip where the \
            picture moves by less than a fifth of a pixel of the small one a step. Where half a step could \
            pass unseen and nothing else is found, the check cannot judge. That is common at a quarter of a \
            pixel a step, and where only what stands still or drifts is in view. It cannot where parts of \
            the picture contradict each other at a step, either. Knocks along the travel count as steps, \
            unless something else in the picture is near enough to rest to tell them apart. \
            A head that sinks by less than wandering light moves single tiles. A carriage that looks along \
            its rail: the picture then grows and does not pass by. Unevenness \
            that is the same in every step.",
    remedy: "Keep clear of a rig at height or by a road; local rules come first.",
    source: "Phase correlation: Kuglin and Hines 1975; sub-pixel by least squares: Lucas and Kanade 1981. \
             Levels: common practice, no source.",
    traits: Traits {
        about: About::Stand,
        in_the_clip: ClipEffect::Parts,
        by_cause: REMEDIES,
        patched: true,
        quality: Some(Quality::Movement),
        ..Traits::PLAIN
    },
};

const REMEDIES: &[ByCause] = &[
    ByCause { cause: SLIPPED, name: "Slip", remedy: "check belt, clamp, cable drag and load on a slope." },
    ByCause { cause: BACKLASH, name: "Play", remedy: "take the play out of belt, gear and clamp." },
    ByCause {
        cause: NOT_TURNED,
        name: "Missed turn",
        remedy: "compare the turn in the controller with the one in the plan.",
    },
    ByCause {
        cause: REVERSAL,
        name: "Turned back",
        remedy: "check the limits and the travel set in the controller.",
    },
    ByCause {
        cause: KNOCKED,
        name: "Knock",
        remedy: "ask who passed, weigh the support down, and shield it from wind. Small jumps can be \
                 stabilised in post.",
    },
    ByCause { cause: SAGS, name: "Sinking", remedy: "tighten the head and the legs." },
];

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
/// The slip, in steps, that must stand out for a run without one to be called even: common practice, no
/// source.
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
            format!(
                "In {many} places the carriage moved too much or too little, by {worst:.0} % of a step \
                     at most."
            )
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
        format!(
            "The picture jumps in {many} places, by {worst:.2} % of its width at most: wind, or a support \
             that is not firm."
        )
    }));
    if travels
        && findings.iter().all(|f| f.severity == Severity::Note)
        && let Some(why) = unseen(case.evidence, track, jumping.as_ref())
    {
        let notes = findings.iter().map(|f| format!(". {}", f.message.trim_end_matches('.')));
        return Opinion::cannot(std::iter::once(why).chain(notes).collect::<String>());
    }
    if let Some(why) = wanders(case, track).filter(|_| !travels && findings.is_empty()) {
        return Opinion::cannot(why);
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| not_seen(evidence, track, at))
}

/// Why a slip of half a step could pass unseen; `None` where it would stand out.
fn unseen(evidence: &Sequence, track: &MovementTrack, jumping: Option<&(&Layer, Jumps)>) -> Option<String> {
    if let Some(why) = too_slow(track) {
        return Some(why);
    }
    // What stands still shows knocks alone: of the carriage's steps nothing is known then.
    let Some((layer, jumps)) = jumping else { return Some(nothing_shows(track, true).to_owned()) };
    if let Some((before, after)) = layer.open.first().and_then(|step| track.steps.get(*step)) {
        let others = match layer.open.len() - 1 {
            0 => String::new(),
            more => format!(" and at {}", counted(more as u64, "other step")),
        };
        return Some(format!(
            "a slip could go unseen from {} to {}{others}: parts of the picture contradict each other there. \
             Look at these pictures",
            evidence.frame(*before).name(),
            evidence.frame(*after).name(),
        ));
    }
    (jumps.surely() > SLIP).then(|| {
        format!(
            "the smallest slip that would surely show here is {:.0} % of a step, and one of {:.0} % could \
             go unseen",
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

/// Ways back and the turns at their ends, compared with those that the plan names.
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

/// How far what stands has crept over the run, px of the small picture, knocks aside, and whether all of it
/// did so alike.
fn crept(track: &MovementTrack) -> Option<(f64, bool)> {
    let still = track.still.as_ref().filter(|_| track.locked_off())?;
    let at_knock = |step: usize| track.knocks.all.iter().any(|k| k.step.abs_diff(step) <= 1);
    let crept = still.seen().filter(|(step, _)| !at_knock(*step));
    let (x, y) = crept.fold((0.0, 0.0), |sum, (_, m)| (sum.0 + m.0, sum.1 + m.1));
    let way = f64::hypot(x, y);
    Some((way, still.together(way)))
}

fn sagged(case: &Case<'_>, track: &MovementTrack) -> Option<Finding> {
    let (way, _) = crept(track).filter(|(_, together)| *together)?;
    let percent = 100.0 * way / f64::from(track.width);
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

/// Why a head that sinks could pass unseen; `None` where it would show.
fn wanders(case: &Case<'_>, track: &MovementTrack) -> Option<String> {
    let (way, _) = crept(track).filter(|(_, together)| !together)?;
    let percent = 100.0 * way / f64::from(track.width);
    case.limits.weigh(SAG, percent)?;
    Some(format!(
        "what stands seems to creep by {percent:.1} % of the width over the run, but not all of it alike: \
         light that wanders, or a head that sinks. Lay the last frame over the first"
    ))
}

#[cfg(test)]
mod tests;
