//! What is said twice and does not agree: both values, and which to drop.

use super::attempt::attempt;
use super::counts::{MOST_FRAMES, covering, rail_frames};
use super::dialled::{dialled, is_set_by_wait, wait_dial_s};
use super::model::{Clash, Key, Known, Shoot};
use crate::plan::course::Course;
use crate::plan::course::period_s;
use crate::plan::{Plan, RigKind, arithmetic, dials};
use crate::units::{duration, length_text, plain, speed_text};

/// A number of frames that is asked for, by what, in words.
struct Asked {
    keys: Vec<Key>,
    frames: u64,
    words: String,
}

/// Every clash of what is known.
pub(super) fn clashes(known: &Known) -> Vec<Clash> {
    let mut all = Vec::new();
    // Without the dials nothing can be compared; what lacks for them is told instead.
    let Ok(set) = dialled(known).map(|dialled| dialled.known) else { return all };
    let plan = &set.plan;
    let mut clash = |keys: Vec<Key>, words: String| {
        let remedies = keys.iter().filter_map(|key| without(known, *key)).collect();
        all.push(Clash { keys, words, remedies });
    };
    if let Some(words) = interval_against_wait(known, plan) {
        clash(vec![Key::Interval, Key::Wait], words);
    }
    if let (Some(run_s), Some(event_s)) = (known.plan.run_s, known.event_s)
        && run_s < event_s * (1.0 - 1e-9)
    {
        let words =
            format!("The run of {} is shorter than the event of {}.", duration(run_s), duration(event_s));
        clash(vec![Key::Run, Key::Event], words);
    }
    let spans =
        [spanned(plan, plan.run_s, Key::Run, "run"), spanned(plan, known.event_s, Key::Event, "event")];
    let [run, event] = spans;
    let clip = clip(plan);
    if let Some(frames) = plan.frames {
        if let Some(run) = run.as_ref().filter(|r| r.frames.abs_diff(frames) > 1) {
            clash(with(Key::Frames, &run.keys), format!("{}; you want {frames}.", run.words));
        }
        if let Some(event) = event.as_ref().filter(|e| frames < e.frames) {
            clash(with(Key::Frames, &event.keys), format!("{}; you want {frames}.", event.words));
        }
        if let Some(clip) = clip.as_ref().filter(|c| frames < c.frames) {
            clash(with(Key::Frames, &clip.keys), format!("{}; you want {frames}.", clip.words));
        }
    } else if let (Some(run), Some(clip)) = (&run, &clip)
        && run.frames < clip.frames
    {
        clash(with(Key::Clip, &run.keys), format!("{}; {}.", run.words, lower(&clip.words)));
    }
    let given = plan.frames.map(|frames| Asked {
        keys: vec![Key::Frames],
        frames,
        words: format!("You want {frames} frames"),
    });
    let asked = match given {
        Some(given) => Some(given),
        None => [run, event, clip].into_iter().flatten().max_by_key(|a| a.frames),
    };
    if let (Some(asked), Some(rail)) = (&asked, rail_frames(plan))
        && asked.frames > rail
        && let (Some(travel_m), Some(step_m)) = (plan.rig.travel_m, plan.rig.step_m)
        && arithmetic::travel_m(asked.frames, step_m) > travel_m + step_m / 2.0
    {
        let mut keys = asked.keys.clone();
        keys.extend([Key::Step, Key::Travel]);
        let words = format!(
            "{}; moves of {} on {} of rail hold {rail}.",
            asked.words,
            length_text(step_m),
            length_text(travel_m)
        );
        clash(keys, words);
    }
    if let Some((words, keys)) = overrun_rail(known) {
        clash(keys, words);
    }
    all
}

/// An interval that is said beside a wait, where the dials make another.
fn interval_against_wait(known: &Known, set: &Plan) -> Option<String> {
    let (said_s, wait_s) = (known.plan.interval_s?, known.plan.rig.wait_s?);
    dials::contradicted(wait_s, dials::beside_wait_s(set)?, said_s)
}

/// A span at the planned interval, in frames.
fn spanned(plan: &Plan, span_s: Option<f64>, key: Key, what: &str) -> Option<Asked> {
    let (span_s, interval_s) = (span_s?, plan.interval_s?);
    let frames = frames_of(plan, span_s, key)?;
    let changes =
        if plan.active.is_empty() && plan.parts.is_empty() { "" } else { ", with the plan's changes," };
    let words = format!(
        "The {what} of {} at {}{changes} makes {frames} frames",
        duration(span_s),
        duration(interval_s)
    );
    let paced = if is_set_by_wait(plan) { Key::Wait } else { Key::Interval };
    Some(Asked { keys: vec![paced, key], frames, words })
}

/// The frames of a run or an event of that length; `None` where they cannot be told.
fn frames_of(plan: &Plan, span_s: f64, key: Key) -> Option<u64> {
    match (Course::of(plan).ok()?, key) {
        (Some(course), Key::Run) => Some(course.within(span_s, MOST_FRAMES + 1)),
        (Some(course), _) => Some(course.covering(span_s, MOST_FRAMES + 1)),
        (None, Key::Run) => arithmetic::frames_from_run(span_s, period_s(plan, plan.interval_s?)?),
        (None, _) => Some(covering(span_s, period_s(plan, plan.interval_s?)?)),
    }
}

fn clip(plan: &Plan) -> Option<Asked> {
    let delivery = &plan.delivery;
    let (frames, length_s, fps) = (delivery.clip_frames()?, delivery.length_s?, delivery.fps?);
    let fps = plain(fps, 3);
    let words = format!("The clip of {} at {fps} fps takes {frames} frames", duration(length_s));
    Some(Asked { keys: vec![Key::Clip], frames, words })
}

fn with(first: Key, others: &[Key]) -> Vec<Key> {
    std::iter::once(first).chain(others.iter().copied()).collect()
}

fn lower(words: &str) -> String {
    words.strip_prefix("The ").map_or_else(|| words.to_owned(), |rest| format!("the {rest}"))
}

/// A carriage that travels all the time and runs out of rail.
fn overrun_rail(known: &Known) -> Option<(String, Vec<Key>)> {
    let plan = &known.plan;
    if plan.rig.kind != Some(RigKind::Continuous) {
        return None;
    }
    let (speed, travel) = (plan.rig.speed_m_s?, plan.rig.travel_m?);
    // The rail's end is no matter of how frames and time are come by.
    let free = drop(known, Key::Travel)?;
    let shoot = attempt(&free).ok()?;
    let needs_m = speed * shoot.figures.run_s;
    (needs_m > travel * 1.001).then(|| {
        let words = format!(
            "At {} the carriage travels {} in the run of {}; there are {} of rail.",
            speed_text(speed),
            length_text(needs_m),
            duration(shoot.figures.run_s),
            length_text(travel)
        );
        (words, vec![Key::Speed, Key::Travel])
    })
}

/// What is known but for one value; `None` where it was not said.
fn drop(known: &Known, key: Key) -> Option<Known> {
    let mut less = known.clone();
    let plan = &mut less.plan;
    let said = match key {
        Key::Interval => plan.interval_s.take().is_some(),
        Key::Wait => {
            let was = plan.rig.wait_s.take();
            // The rig stays one that is set by its wait.
            let dial_s = was.map(|s| wait_dial_s(&plan.clone(), s));
            plan.rig.wait_increment_s = plan.rig.wait_increment_s.or(dial_s);
            was.is_some()
        }
        Key::Frames => plan.frames.take().is_some(),
        Key::Run => plan.run_s.take().is_some(),
        Key::Event => less.event_s.take().is_some(),
        Key::Clip => plan.delivery.length_s.take().is_some(),
        Key::Step => plan.rig.step_m.take().is_some(),
        Key::Travel => plan.rig.travel_m.take().is_some(),
        Key::Speed => plan.rig.speed_m_s.take().is_some(),
    };
    said.then_some(less)
}

/// What comes of it without one of the values; `None` where that settles nothing.
fn without(known: &Known, key: Key) -> Option<String> {
    let less = drop(known, key)?;
    if !clashes_at_all(&less) {
        let shoot = attempt(&less).ok()?;
        return Some(format!("Without the {}: {}.", key.word(), becomes(&shoot, key)?));
    }
    None
}

/// Whether anything clashes still; remedies are not worked out for that.
fn clashes_at_all(known: &Known) -> bool {
    let Ok(set) = dialled(known).map(|dialled| dialled.known) else { return true };
    if interval_against_wait(known, &set.plan).is_some() {
        return true;
    }
    let (known, plan) = (&set, &set.plan);
    let clip = plan.delivery.clip_frames();
    let timed = plan.interval_s.is_some();
    let run = plan.run_s.filter(|_| timed).and_then(|s| frames_of(plan, s, Key::Run));
    let event = known.event_s.filter(|_| timed).and_then(|s| frames_of(plan, s, Key::Event));
    let short = plan.run_s.zip(known.event_s).is_some_and(|(run, event)| run < event * (1.0 - 1e-9));
    let frames = plan.frames.is_some_and(|n| {
        run.is_some_and(|r| r.abs_diff(n) > 1) || event.is_some_and(|e| n < e) || clip.is_some_and(|c| n < c)
    });
    let clipped = plan.frames.is_none() && run.zip(clip).is_some_and(|(r, c)| r < c);
    let asked = plan.frames.or_else(|| [run, event, clip].into_iter().flatten().max());
    let railed = asked.zip(rail_frames(plan)).is_some_and(|(n, rail)| n > rail);
    short || frames || clipped || railed || overrun_rail(known).is_some()
}

/// What a value becomes in a shoot, in words.
fn becomes(shoot: &Shoot, key: Key) -> Option<String> {
    let plan = &shoot.plan;
    Some(match key {
        Key::Interval => format!("an interval of {}", duration(plan.interval_s?)),
        Key::Wait => format!("a wait of {}", duration(plan.rig.wait_s?)),
        Key::Frames => format!("{} frames", plan.frames?),
        Key::Run => format!("a run of {}", duration(shoot.figures.run_s)),
        Key::Event => format!("the run covers {}", duration(shoot.figures.run_s)),
        Key::Clip => format!("a clip of {}", duration(shoot.figures.clip_s?)),
        Key::Step => format!("a step of {}", length_text(plan.rig.step_m?)),
        Key::Travel => format!("{} of rail", length_text(plan.rig.travel_m?)),
        Key::Speed => format!("a speed of {}", speed_text(plan.rig.speed_m_s?)),
    })
}
