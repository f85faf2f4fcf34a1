//! A rig that is set by two dials: wait and step, rounded to what they can be set to, and the interval that
//! comes of them.

use super::dial::{down, tidy, up};
use super::model::{Known, Origin};
use super::settle::{Settled, settle};
use crate::plan::arithmetic::move_time_s;
use crate::plan::budget::Budget;
use crate::plan::{Plan, RigKind, dials, levels};
use crate::units::{duration, length_text};

/// No timer counts finer, s.
const FINEST_S: f64 = 0.001;

/// From this length on a step is set by tenths of a millimetre, below by hundredths, m. Common practice, no
/// source.
const LONG_STEP_M: f64 = 0.001;

/// What is known, with both dials set.
pub(super) struct Dialled {
    /// The same with wait, step and interval; as it was where the rig has no such dials.
    pub known: Known,
    /// How the wait was come by; `None` without one.
    pub wait: Option<Origin>,
    /// What was rounded, one sentence each.
    pub notes: Vec<String>,
}

/// True where the rig is set by a wait: it is said, or what it can be set to.
pub(super) fn is_set_by_wait(plan: &Plan) -> bool {
    plan.rig.wait_s.or(plan.rig.wait_increment_s).is_some()
}

/// The step of the wait's dial about a wait, s: the rig's, else whole seconds from 5 s on and tenths below
/// (common practice, no source).
pub(super) fn wait_dial_s(plan: &Plan, wait_s: f64) -> f64 {
    plan.rig.wait_increment_s.map_or(if wait_s >= 5.0 { 1.0 } else { 0.1 }, |s| s.max(FINEST_S))
}

/// The longest step of the dial that is not longer, m. Without a dial it is cut to a micrometre, or where the
/// rig has a wait to what is easily set.
pub(super) fn step_down(plan: &Plan, step_m: f64) -> f64 {
    let by_wait = if step_m >= LONG_STEP_M { 1e-4 } else { 1e-5 };
    let without = if is_set_by_wait(plan) { by_wait } else { 1e-6 };
    let dial_m = plan.rig.step_increment_m.unwrap_or(without).max(1e-6);
    // A rail that is too short for one step of the dial is told by its own ruling.
    let steps = (step_m / dial_m + 1e-6).floor().max(1.0);
    (steps * dial_m * 1e9).round() / 1e9
}

/// Sets the dials.
///
/// # Errors
/// What has to be known before they can be set, one sentence each.
pub(super) fn dialled(raw: &Known) -> Result<Dialled, Vec<String>> {
    let mut known = raw.clone();
    let mut notes = Vec::new();
    let rig = &mut known.plan.rig;
    if rig.kind != Some(RigKind::Continuous)
        && let (Some(step_m), Some(dial_m)) = (rig.step_m, rig.step_increment_m)
    {
        let set_m = ((step_m / dial_m).round().max(1.0) * dial_m * 1e9).round() / 1e9;
        if (set_m - step_m).abs() > 1e-9 {
            notes.push(format!(
                "The step's dial goes by {}, so {} is set for {}.",
                length_text(dial_m),
                length_text(set_m),
                length_text(step_m)
            ));
        }
        rig.step_m = Some(set_m);
    }
    if !is_set_by_wait(&known.plan) {
        return Ok(Dialled { known, wait: None, notes });
    }
    lacking(&known.plan)?;
    let origin = set_wait(&mut known, &mut notes)?;
    set_step(&mut known)?;
    known.plan.interval_s = dials::interval_s(&known.plan);
    Ok(Dialled { known, wait: Some(origin), notes })
}

/// What such a rig has to be told.
fn lacking(plan: &Plan) -> Result<(), Vec<String>> {
    let rig = &plan.rig;
    let mut words = Vec::new();
    if rig.step_m.is_none() && rig.travel_m.is_none() {
        words.push("How far is each move? A rig with a wait needs --step, or --travel for the whole.");
    }
    if rig.speed_m_s.is_none() {
        words.push(
            "How fast is the carriage? The interval is wait + move + settle, so a rig with a wait needs \
             --speed.",
        );
    }
    if words.is_empty() { Ok(()) } else { Err(words.into_iter().map(str::to_owned).collect()) }
}

/// The nearest setting of the wait's dial, s.
fn nearest_s(plan: &Plan, wait_s: f64) -> f64 {
    let dial_s = wait_dial_s(plan, wait_s);
    tidy((wait_s / dial_s).round().max(1.0) * dial_s)
}

/// Sets the wait, and tells how it was come by.
fn set_wait(known: &mut Known, notes: &mut Vec<String>) -> Result<Origin, Vec<String>> {
    if let Some(said_s) = known.plan.rig.wait_s {
        // What is said and no dial named is taken for what can be set.
        let set_s = known.plan.rig.wait_increment_s.map_or(said_s, |_| nearest_s(&known.plan, said_s));
        if (set_s - said_s).abs() > 1e-9 {
            notes.push(format!(
                "The wait's dial goes by {}, so {} is set for {}.",
                duration(wait_dial_s(&known.plan, said_s)),
                duration(set_s),
                duration(said_s)
            ));
        }
        known.plan.rig.wait_s = Some(set_s);
        return Ok(Origin::Given);
    }
    let (wish_s, settled) = wish(known)?;
    let plan = &known.plan;
    let beside_s = move_s(plan, settled.frames).unwrap_or(0.0) + plan.rig.settle_s.unwrap_or(0.0);
    let wait_s = wish_s - beside_s;
    if wait_s < FINEST_S {
        return Err(vec![format!(
            "An interval of {} leaves no time for a wait: move and settling take {}. Take a longer time, \
             fewer frames or a faster carriage.",
            duration(wish_s),
            duration(beside_s)
        )]);
    }
    let as_dialled = |plan: &Plan| {
        let mut plan = plan.clone();
        plan.rig.interval_step_s = Some(wait_dial_s(&plan, wait_s));
        plan
    };
    let fixed = plan.frames.is_some() || plan.delivery.clip_frames().is_none();
    let wait_s = if settled.interval == Origin::Chosen {
        // Nothing fixes the interval: the shortest wait that leaves the camera a tenth to spare.
        let (mark, exact) = Budget::of_camera(&plan.exposure).longest(plan, &plan.exposure);
        let least_s = mark.camera_s.max(exact.camera_s) * 100.0 / levels::USE_TIGHT_PERCENT;
        let mut plan = plan.clone();
        plan.rig.interval_step_s = Some(wait_dial_s(&plan, least_s));
        up(&plan, least_s)
    } else if settled.interval == Origin::Given || (plan.run_s.is_some() && plan.frames.is_some()) {
        nearest_s(plan, wait_s)
    } else if fixed {
        up(&as_dialled(plan), wait_s)
    } else {
        down(&as_dialled(plan), wait_s).unwrap_or_else(|| nearest_s(plan, wait_s))
    };
    let made_s = wait_s + beside_s;
    if let Some(said_s) =
        plan.interval_s.filter(|said_s| dials::contradicted(wait_s, beside_s, *said_s).is_some())
    {
        notes.push(format!(
            "An interval of {} is asked for. What the dials have comes nearest with {}.",
            duration(said_s),
            duration(made_s)
        ));
    }
    known.plan.rig.wait_s = Some(wait_s);
    if known.plan.frames.is_some() {
        // So many frames at what can be set make a run of their own.
        known.plan.run_s = None;
    }
    // Where an interval was said, the wait follows from it.
    Ok(if settled.interval == Origin::Given { Origin::Worked } else { settled.interval })
}

/// The interval that is wished for, s, and what comes of it with a timer that has no dial.
fn wish(known: &Known) -> Result<(f64, Settled), Vec<String>> {
    let mut free = known.clone();
    free.plan.rig.wait_increment_s = None;
    free.plan.rig.interval_step_s = Some(FINEST_S);
    let settled = settle(&free, &mut Vec::new())?;
    Ok((settled.interval_s, settled))
}

/// How long a move takes where a rail is shared among the frames, s.
fn move_s(plan: &Plan, frames: u64) -> Option<f64> {
    let moves = frames.checked_sub(1).filter(|n| *n > 0)?;
    let step_m = plan.rig.step_m.or_else(|| Some(step_down(plan, plan.rig.travel_m? / moves as f64)))?;
    move_time_s(step_m, plan.rig.speed_m_s?, plan.rig.acceleration_m_s2)
}

/// Sets the step where it is open: the longest of the dial with which the run stays on the rail. A longer
/// step makes a longer interval, and so fewer frames.
fn set_step(known: &mut Known) -> Result<(), Vec<String>> {
    let Some(travel_m) = known.plan.rig.travel_m.filter(|_| known.plan.rig.step_m.is_none()) else {
        return Ok(());
    };
    if let Some(moves) = known.plan.frames.map(|frames| frames.saturating_sub(1).max(1)) {
        known.plan.rig.step_m = Some(step_down(&known.plan, travel_m / moves as f64));
        return Ok(());
    }
    let uses_m = |step_m: f64| -> Result<f64, Vec<String>> {
        let mut with = known.clone();
        // The rail is to be filled, and no count of frames: only the step's time counts here.
        (with.plan.rig.step_m, with.plan.rig.travel_m) = (Some(step_m), None);
        with.plan.interval_s = dials::interval_s(&with.plan);
        Ok(settle(&with, &mut Vec::new())?.frames.saturating_sub(1) as f64 * step_m)
    };
    // What is left between the two is less than any dial's step.
    let (mut fits_m, mut over_m) = (0.0, travel_m);
    for _ in 0..60 {
        let middle_m = f64::midpoint(fits_m, over_m);
        if uses_m(middle_m)? <= travel_m { fits_m = middle_m } else { over_m = middle_m }
    }
    let mut step_m = step_down(&known.plan, over_m);
    // Whole frames make the use of the rail uneven: a few steps of the dial are tried.
    for _ in 0..20 {
        let shorter_m = step_down(&known.plan, step_m * (1.0 - 1e-9) - 1e-7);
        if uses_m(step_m)? <= travel_m + 1e-9 || shorter_m >= step_m {
            break;
        }
        step_m = shorter_m;
    }
    known.plan.rig.step_m = Some(step_m);
    Ok(())
}

/// What is known, with another wait.
pub(super) fn at_wait(known: &Known, wait_s: f64) -> Known {
    let mut other = known.clone();
    other.plan.rig.wait_s = Some(wait_s);
    other.plan.interval_s = None;
    other
}

/// The settings of the wait's dial next to a wait: the next longer one, or the next shorter one.
pub(super) fn next_wait_s(plan: &Plan, wait_s: f64, longer: bool) -> f64 {
    if longer {
        let dial_s = wait_dial_s(plan, wait_s);
        tidy(((wait_s / dial_s + 1e-6).floor() + 1.0) * dial_s)
    } else {
        let dial_s = wait_dial_s(plan, wait_s - 1e-6);
        tidy(((wait_s / dial_s - 1e-6).ceil() - 1.0) * dial_s)
    }
}
