//! From what is known to a whole plan.

use super::counts::{MOST_FRAMES, covering, rail_frames};
use super::dial::{down, shortest_s, tidy, up};
use super::figures::Figures;
use super::model::{Key, Known, Origin, Shoot};
use super::rulings::rule;
use crate::plan::course::Course;
use crate::plan::course::extra_s;
use crate::plan::power::Hours;
use crate::plan::{ExposureMode, ExposurePlan, PartStart, Plan, Planned, RigKind, arithmetic, levels};
use crate::units::duration;

/// No timer goes under a millisecond.
const LEAST_S: f64 = 0.001;

/// What has been settled.
struct Settled {
    interval_s: f64,
    frames: u64,
    interval: Origin,
    counted: Origin,
}

/// What is told where a plan has an exposure and nothing of what the camera does after it.
const NO_BUSY: &str = "No busy time is said, so the camera counts as ready when its shutter shuts. Time from \
                       there until it can shoot again, and give it with --busy (busy in [exposure]).";

/// One shoot, without a look at what contradicts itself.
pub(super) fn attempt(known: &Known) -> Result<Shoot, Vec<String>> {
    let mut plan = known.plan.clone();
    if plan.delivery.length_s.is_some() && plan.delivery.fps.is_none() {
        let words = "The clip has a length and no frames a second: say --fps, such as 25.";
        return Err(vec![words.into()]);
    }
    let mut notes = Vec::new();
    let mut origins = Vec::new();
    if plan.exposure.mode.is_none() && ramps(&plan.exposure) {
        plan.exposure.mode = Some(ExposureMode::Ramped);
        let mut asked = plan.asked();
        for part in &mut plan.parts {
            asked = asked.then(part);
            // A part that leaves no setting two ends holds them.
            if part.exposure.mode.is_none() && !ramps(&asked.exposure) {
                part.exposure.mode = Some(ExposureMode::Locked);
            }
        }
    }
    let settled = settle(known, &mut notes)?;
    if settled.frames > MOST_FRAMES {
        let words =
            format!("{} frames are more than a plan can have. Lengthen the interval.", settled.frames);
        return Err(vec![words]);
    }
    plan.interval_s = Some(settled.interval_s);
    plan.frames = Some(settled.frames);
    let run_s = Figures::of(&plan).run_s;
    // Frames and interval say it all; beside them the run would say it twice.
    plan.run_s = None;
    origins.push((Key::Interval, settled.interval));
    origins.push((Key::Frames, settled.counted));
    let given = |said: bool| if said { Origin::Given } else { Origin::Worked };
    origins.push((Key::Run, given(known.plan.run_s.is_some())));
    if known.event_s.is_some() {
        origins.push((Key::Event, Origin::Given));
    }
    if plan.delivery.fps.is_some() {
        origins.push((Key::Clip, given(plan.delivery.length_s.is_some())));
    }
    for (at, part) in plan.parts.iter().enumerate() {
        if matches!(part.from, PartStart::Frame(frame) if frame >= settled.frames) {
            notes.push(format!(
                "[[part]] {} begins after the last of the {} frames: it changes nothing.",
                at + 1,
                settled.frames
            ));
        }
    }
    if plan.exposure.shutter_s.is_some() && plan.exposure.busy_s.is_none() {
        notes.push(NO_BUSY.to_owned());
    }
    let rail_m = plan.rig.travel_m;
    carriage(&mut plan, run_s, &mut origins);
    beyond_what_was_asked(known, &plan, run_s, &mut notes);
    origins.sort_by_key(|(key, _)| *key);
    let figures = Figures::of(&plan);
    let rulings = rule(&plan, rail_m, known.plan.rig.step_m.is_some());
    Ok(Shoot { plan, event_s: known.event_s, rail_m, origins, notes, figures, rulings })
}

/// True where a setting has two ends.
fn ramps(e: &ExposurePlan) -> bool {
    [e.shutter_s, e.aperture, e.iso]
        .into_iter()
        .flatten()
        .any(|p| matches!(p, Planned::Between(a, b) if a != b))
}

fn settle(known: &Known, notes: &mut Vec<String>) -> Result<Settled, Vec<String>> {
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
    if widest_s < LEAST_S {
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
            if exact_s < LEAST_S {
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

/// Steps, travel and speed of the carriage.
fn carriage(plan: &mut Plan, run_s: f64, origins: &mut Vec<(Key, Origin)>) {
    let moves = plan.frames.map_or(0, |n| n.saturating_sub(1));
    let rig = &mut plan.rig;
    let given = |said: bool| if said { Origin::Given } else { Origin::Worked };
    if rig.kind == Some(RigKind::Continuous) {
        let (speed, travel) = (rig.speed_m_s, rig.travel_m);
        if run_s > 0.0 {
            rig.speed_m_s = speed.or_else(|| travel.map(|m| m / run_s));
        }
        if let Some(speed) = speed {
            rig.travel_m = Some(tidy(speed * run_s)).filter(|m| *m > 0.0);
        }
        if rig.travel_m.is_some() {
            origins.push((Key::Travel, given(travel.is_some() && speed.is_none())));
        }
        if rig.speed_m_s.is_some() {
            origins.push((Key::Speed, given(speed.is_some())));
        }
        return;
    }
    let (step, travel) = (rig.step_m, rig.travel_m);
    if moves > 0 {
        // Cut off, not rounded: so many moves never run past the end of the rail.
        let shared = |m: f64| ((m / moves as f64 * 1e6 + 1e-6).floor() / 1e6).max(1e-6);
        rig.step_m = step.or_else(|| travel.map(shared));
        rig.travel_m = rig.step_m.map(|step| tidy(arithmetic::travel_m(moves + 1, step)));
    }
    if rig.step_m.is_some() {
        origins.push((Key::Step, given(step.is_some())));
    }
    if rig.travel_m.is_some() {
        origins.push((Key::Travel, given(travel.is_some() && step.is_none())));
    }
    if rig.speed_m_s.is_some() {
        origins.push((Key::Speed, Origin::Given));
    }
}

/// What comes out longer than was asked for.
fn beyond_what_was_asked(known: &Known, plan: &Plan, run_s: f64, notes: &mut Vec<String>) {
    if let Some(event_s) = known.event_s {
        let over_s = run_s - event_s;
        if over_s > plan.interval_s.unwrap_or(0.0) {
            notes.push(format!("The run goes on for {} after the event.", duration(over_s)));
        }
    }
}
