//! From what is known to a whole plan.

use super::counts::MOST_FRAMES;
use super::dial::tidy;
use super::dialled::{Dialled, dialled, step_down};
use super::figures::Figures;
use super::model::{Key, Known, Origin, Shoot};
use super::rulings::rule;
use super::settle::settle;
use crate::plan::{ExposureMode, ExposurePlan, PartStart, Plan, Planned, RigKind, arithmetic};
use crate::units::duration;

/// What is told where a plan has an exposure and nothing of what the camera does after it.
const NO_BUSY: &str = "No busy time is said, so the camera counts as ready when its shutter shuts. Time from \
                       there until it can shoot again, and give it with --busy (busy in [exposure]).";

/// One shoot, without a look at what contradicts itself.
pub(super) fn attempt(known: &Known) -> Result<Shoot, Vec<String>> {
    if known.plan.delivery.length_s.is_some() && known.plan.delivery.fps.is_none() {
        let words = "The clip has a length and no frames a second: say --fps, such as 25.";
        return Err(vec![words.into()]);
    }
    worked_out(known, dialled(known)?)
}

/// One shoot from what is known, once its dials are set.
fn worked_out(raw: &Known, dialled: Dialled) -> Result<Shoot, Vec<String>> {
    let Dialled { known, wait, mut notes } = dialled;
    let known = &known;
    let mut plan = known.plan.clone();
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
    // Beside a wait that is said, an interval that is said too agrees with it.
    let both = raw.plan.interval_s.and(raw.plan.rig.wait_s).is_some();
    let by_dials = if both { Origin::Given } else { Origin::Worked };
    origins.push((Key::Interval, if wait.is_some() { by_dials } else { settled.interval }));
    origins.extend(wait.map(|origin| (Key::Wait, origin)));
    origins.push((Key::Frames, settled.counted));
    let given = |said: bool| if said { Origin::Given } else { Origin::Worked };
    origins.push((Key::Run, given(raw.plan.run_s.is_some())));
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
    carriage(&mut plan, run_s, raw.plan.rig.step_m.is_some(), &mut origins);
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

/// Steps, travel and speed of the carriage.
fn carriage(plan: &mut Plan, run_s: f64, step_said: bool, origins: &mut Vec<(Key, Origin)>) {
    let moves = plan.frames.map_or(0, |n| n.saturating_sub(1));
    let step_of = |m: f64| step_down(plan, m / moves.max(1) as f64);
    let shared = plan.rig.travel_m.map(step_of);
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
        rig.step_m = step.or(shared);
        rig.travel_m = rig.step_m.map(|step| tidy(arithmetic::travel_m(moves + 1, step)));
    }
    if rig.step_m.is_some() {
        origins.push((Key::Step, given(step_said)));
    }
    if rig.travel_m.is_some() {
        origins.push((Key::Travel, given(travel.is_some() && !step_said)));
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
