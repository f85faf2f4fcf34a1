//! Interval and frames from what is known.

use super::absurd::LEAST_INTERVAL_S;
use super::counts::{MOST_FRAMES, covering, rail_frames};
use super::dial::{down, shortest_s, tidy, up};
use super::model::{Known, Origin};
use crate::plan::course::{Course, extra_s};
use crate::plan::power::Hours;
use crate::plan::{Plan, arithmetic, levels};
use crate::units::duration;

/// What has been settled.
pub(super) struct Settled {
    pub interval_s: f64,
    pub frames: u64,
    pub interval: Origin,
    pub counted: Origin,
}

/// Interval and frames.
///
/// # Errors
/// What has to be known for that, one sentence each.
pub(super) fn settle(known: &Known, notes: &mut Vec<String>) -> Result<Settled, Vec<String>> {
    let plan = &known.plan;
    if extra_s(plan).is_none() {
        let words = "The timer counts from shutter close, so each slot is longer by the exposure: one \
                     exposure is needed (--shutter).";
        return Err(vec![words.into()]);
    }
    let clip = plan.delivery.clip_frames();
    if let Some(course) = Course::of(plan).map_err(|why| vec![why])? {
        return along(known, &course, clip, notes);
    }
    match (plan.interval_s, plan.frames) {
        (Some(interval_s), Some(frames)) => {
            Ok(Settled { interval_s, frames, interval: Origin::Given, counted: Origin::Given })
        }
        (Some(interval_s), None) => {
            let (frames, counted) = count(known, interval_s, clip, notes)?;
            Ok(Settled { interval_s, frames, interval: Origin::Given, counted })
        }
        (None, Some(frames)) => {
            let (interval_s, interval) = pace(known, frames, notes)?;
            Ok(Settled { interval_s, frames, interval, counted: Origin::Given })
        }
        (None, None) => {
            let span_s = plan.run_s.or(known.event_s);
            match (clip, rail_frames(plan), span_s) {
                (Some(clip), _, Some(span_s)) if clip > 1 => filled(known, span_s, clip, notes),
                (None, Some(rail), _) => {
                    let (interval_s, interval) = pace(known, rail, notes)?;
                    Ok(Settled { interval_s, frames: rail, interval, counted: Origin::Worked })
                }
                (Some(clip), ..) => {
                    let (interval_s, interval) = pace(known, clip, notes)?;
                    Ok(Settled { interval_s, frames: clip, interval, counted: Origin::Worked })
                }
                (None, None, span) => Err(vec![asks_for(span.is_some())]),
            }
        }
    }
}

/// Frames of a plan that changes on the way or works by the day; its interval is given.
fn along(
    known: &Known,
    course: &Course,
    clip: Option<u64>,
    notes: &mut Vec<String>,
) -> Result<Settled, Vec<String>> {
    let plan = &known.plan;
    let interval_s = plan.interval_s.unwrap_or(0.0);
    let by_time = match (plan.run_s, known.event_s) {
        (Some(run_s), event_s) => {
            let covering = event_s.map_or(0, |event_s| course.covering(event_s, MOST_FRAMES + 1));
            Some(in_run(course.within(run_s, MOST_FRAMES + 1), covering, notes))
        }
        (None, Some(event_s)) => Some(course.covering(event_s, MOST_FRAMES + 1).max(clip.unwrap_or(1))),
        (None, None) => clip.or_else(|| rail_frames(plan)),
    };
    let settled = |frames, counted| Settled { interval_s, frames, interval: Origin::Given, counted };
    match (plan.frames, by_time) {
        (Some(frames), _) => Ok(settled(frames, Origin::Given)),
        (None, Some(frames)) => Ok(settled(frames, Origin::Worked)),
        (None, None) => Err(vec![
            "How long? With parts or working hours one of these is needed beside the interval: --frames, \
             --run, --event, or the clip (--fps and --length)."
                .into(),
        ]),
    }
}

/// What to say where frames and interval are both open.
fn asks_for(span: bool) -> String {
    if span {
        "How many frames, or how often? One more is needed beside the length of the run: --interval, \
         --frames, or the clip (--fps and --length)."
            .into()
    } else {
        "How long, and how often? Say two of these three: the frames (--frames, or the clip with --fps and \
         --length, or --travel with --step), the time (--run or --event), the interval (--interval). With \
         the frames and an exposure (--shutter), the shortest interval that works is found."
            .into()
    }
}

/// A span that is to be filled by a clip of at least so many frames: the longest interval of the dial that
/// gives them; frames are then as many as the span holds.
fn filled(known: &Known, span_s: f64, clip: u64, notes: &mut Vec<String>) -> Result<Settled, Vec<String>> {
    let plan = &known.plan;
    let extra_s = extra_s(plan).unwrap_or(0.0);
    let widest_s = span_s / (clip - 1) as f64 - extra_s;
    if widest_s < LEAST_INTERVAL_S {
        let words = format!(
            "{clip} frames in {} leave no time for the exposure. Take a longer time, a shorter clip or a \
             shorter exposure.",
            duration(span_s)
        );
        return Err(vec![words]);
    }
    // A dial that is too coarse leaves the interval as it comes out, cut off so that the clip is filled all
    // the same.
    let interval_s = down(plan, widest_s).unwrap_or_else(|| (widest_s * 1e6).floor() / 1e6);
    let frames = match plan.run_s {
        Some(run_s) => run_frames(known, run_s, interval_s + extra_s, notes),
        None => covering(span_s, interval_s + extra_s),
    };
    Ok(Settled { interval_s, frames, interval: Origin::Worked, counted: Origin::Worked })
}

/// Frames of a run at an even pace.
fn run_frames(known: &Known, run_s: f64, period_s: f64, notes: &mut Vec<String>) -> u64 {
    let within = arithmetic::frames_from_run(run_s, period_s).unwrap_or(u64::MAX);
    in_run(within, known.event_s.map_or(0, |event_s| covering(event_s, period_s)), notes)
}

/// The frames that a run holds, and where an event within it goes on after the last of them, one more.
fn in_run(within: u64, covering: u64, notes: &mut Vec<String>) -> u64 {
    if covering > within {
        notes.push(
            "The run has one frame more than its length holds: the event goes on after the last of those."
                .into(),
        );
    }
    within.max(covering)
}

/// Frames at a given interval.
fn count(
    known: &Known,
    interval_s: f64,
    clip: Option<u64>,
    notes: &mut Vec<String>,
) -> Result<(u64, Origin), Vec<String>> {
    let plan = &known.plan;
    let period_s = interval_s + extra_s(plan).unwrap_or(0.0);
    if let Some(run_s) = plan.run_s {
        return Ok((run_frames(known, run_s, period_s, notes), Origin::Worked));
    }
    if let Some(event_s) = known.event_s {
        // An event is covered at least: the clip may ask for more.
        return Ok((covering(event_s, period_s).max(clip.unwrap_or(1)), Origin::Worked));
    }
    if let Some(frames) = clip.or_else(|| rail_frames(plan)) {
        return Ok((frames, Origin::Worked));
    }
    // Nothing asks for a length: as long as battery and card last, with their margins.
    let members = u64::from(plan.members());
    let battery = Hours::of(&plan.rig).and_then(|hours| {
        arithmetic::frames_from_run(
            hours.counted_h() * 3600.0 * levels::POWER_TIGHT_PERCENT / 100.0,
            period_s,
        )
    });
    let card = plan.card.frames_held().map(|n| {
        (n as f64 * levels::CARD_TIGHT_PERCENT / levels::CARD_MOST_PERCENT).floor() as u64 / members
    });
    let (frames, by) = match (battery, card) {
        (Some(b), Some(c)) if c < b => (c, "card"),
        (Some(b), _) => (b, "battery"),
        (None, Some(c)) => (c, "card"),
        (None, None) => {
            let words = "How long? Beside the interval one of these is needed: --frames, --run, --event, the \
                         clip (--fps and --length), --travel with --step; or what it has to last on: \
                         --battery-hours, or --card with --frame-size.";
            return Err(vec![words.into()]);
        }
    };
    if frames == 0 {
        return Err(vec![format!("The {by} does not hold a single frame. Correct its figures.")]);
    }
    notes.push(format!("No length is given: {frames} frames are what the {by} lasts for, with its margin."));
    Ok((frames, Origin::Chosen))
}

/// The interval of a given number of frames.
fn pace(known: &Known, frames: u64, notes: &mut Vec<String>) -> Result<(f64, Origin), Vec<String>> {
    let plan = &known.plan;
    if frames > 1 {
        let (steps, extra_s) = ((frames - 1) as f64, extra_s(plan).unwrap_or(0.0));
        let spans = [(plan.run_s, false), (known.event_s, true)];
        if let Some((span_s, event)) = spans.into_iter().find_map(|(s, event)| Some((s?, event))) {
            let exact_s = span_s / steps - extra_s;
            if exact_s < LEAST_INTERVAL_S {
                let words = format!(
                    "{frames} frames in {} leave no time for the exposure. Take a longer time, fewer frames \
                     or a shorter exposure.",
                    duration(span_s)
                );
                return Err(vec![words]);
            }
            return Ok((if event { up(plan, exact_s) } else { run_pace_s(known, exact_s) }, Origin::Worked));
        }
    }
    let with_frames = Plan { frames: Some(frames), ..plan.clone() };
    match shortest_s(&with_frames) {
        Some(interval_s) if plan.exposure.shutter_s.is_some() => {
            notes.push(format!(
                "Nothing fixes the interval: {} is the shortest that works, and is taken. Say --interval, \
                 --run or --event for another.",
                duration(interval_s)
            ));
            Ok((interval_s, Origin::Chosen))
        }
        _ => {
            let words = format!(
                "How often? Beside the {frames} frames one of these is needed: --interval, --run or --event; \
                 or the exposure (--shutter), and the shortest interval that works is found."
            );
            Err(vec![words])
        }
    }
}

/// The interval that comes of a run, to a microsecond, and up where an event is to be covered.
fn run_pace_s(known: &Known, exact_s: f64) -> f64 {
    if known.event_s.is_some() { (exact_s * 1e6).ceil() / 1e6 } else { tidy(exact_s) }
}
