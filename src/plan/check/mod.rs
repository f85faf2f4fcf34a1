//! What in a plan contradicts itself. A tight plan is warned about and the audit goes on; only what cannot
//! mean anything is refused.

mod run;
mod slot;
mod told;

pub use run::derive;
pub use told::{Contradiction, Weight};

use super::course::frames_asked;
use super::shoot::Figures;
use super::{ExposureMode, ExposurePlan, Light, Plan, Planned, RigKind, arithmetic, dials};
use crate::units::{CivilTime, Micros, duration, plain};
use told::{refuse, warn};

/// Everything in the plan that contradicts itself, refusals and warnings, in the order of the plan's keys.
pub fn contradictions(plan: &Plan) -> Vec<Contradiction> {
    let mut told = Vec::new();
    for words in dials::disagreements(plan) {
        refuse(&mut told, words);
    }
    let plan = &dials::paced(plan);
    run::frames_against_run(plan, &mut told);
    active_hours(plan, &mut told);
    light(plan, &mut told);
    let mut asked = plan.asked();
    modes(&asked.exposure, "", &mut told);
    slot::against_interval(plan, &asked, "", &mut told);
    travel(plan, &mut told);
    unused_lag(plan, &mut told);
    delivery(plan, &mut told);
    run::order_of_parts(plan, &mut told);
    for (at, part) in plan.parts.iter().enumerate() {
        let place = format!(" in [[part]] {}", at + 1);
        let quiet = part.interval_s.is_none()
            && part.exposure == ExposurePlan::default()
            && part.direction.is_none()
            && part.note.is_none();
        if quiet {
            warn(&mut told, format!("Nothing changes{place}: it names neither a setting nor a note."));
            continue;
        }
        asked = asked.then(part);
        if part.exposure != ExposurePlan::default() {
            modes(&asked.exposure, &place, &mut told);
        }
        slot::against_interval(plan, &asked, &place, &mut told);
    }
    told
}

fn active_hours(plan: &Plan, told: &mut Vec<Contradiction>) {
    let day = 86_400;
    let clock = |s: u32| CivilTime::from_seconds(i64::from(s)).clock();
    let mut spans: Vec<(u32, u32)> = Vec::new();
    for hours in &plan.active {
        let (from, to) = (hours.from_s, hours.to_s);
        if from >= day || to > day || from == to {
            let words = format!("The active hours from second {from} to second {to} of the day are none.");
            refuse(told, words);
            continue;
        }
        // Hours over midnight are two spans of the day.
        let pieces = if to > from { vec![(from, to)] } else { vec![(from, day), (0, to)] };
        if pieces.iter().any(|p| spans.iter().any(|s| p.0 < s.1 && s.0 < p.1)) {
            let words = format!(
                "The active hours from {} overlap others of the plan; frames are due once in the time that \
                 they share.",
                clock(from)
            );
            warn(told, words);
        }
        spans.extend(pieces.into_iter().filter(|p| p.0 < p.1));
    }
    if let (Some(start), false) = (plan.start, spans.is_empty()) {
        let of_day = start.civil.micros().rem_euclid(Micros::from_seconds(i64::from(day)));
        let second = of_day.whole_seconds() as u32;
        if !spans.iter().any(|s| (s.0..s.1).contains(&second)) {
            let words = format!(
                "The start at {} lies outside the active hours: no frame is due then.",
                clock(second)
            );
            warn(told, words);
        }
    }
}

fn light(plan: &Plan, told: &mut Vec<Contradiction>) {
    if let (Some(Light::Daylight), Some(hz)) = (plan.light, plan.mains_hz) {
        warn(told, format!("light is \"daylight\", so mains_hz = {hz} is not used."));
    }
}

/// Modes against the settings that they promise.
fn modes(exposure: &ExposurePlan, place: &str, told: &mut Vec<Contradiction>) {
    let ramps = |p: Option<Planned>| matches!(p, Some(Planned::Between(a, b)) if a != b);
    let named = [("shutter", exposure.shutter_s), ("aperture", exposure.aperture), ("iso", exposure.iso)];
    let moving: Vec<&str> = named.iter().filter(|(_, p)| ramps(*p)).map(|(key, _)| *key).collect();
    match exposure.mode {
        Some(ExposureMode::Locked) if !moving.is_empty() => {
            let words = format!(
                "mode = \"locked\"{place} means that nothing moves, but {} has two ends. Write one value, or \
                 mode = \"ramped\".",
                moving.join(" and ")
            );
            refuse(told, words);
        }
        Some(ExposureMode::Ramped) if moving.is_empty() => {
            let words = format!(
                "mode = \"ramped\"{place}, but no setting has two ends. Write both, such as shutter = \
                 [\"1/500\", \"4 s\"]; until then the ends of the ramp are not judged."
            );
            warn(told, words);
        }
        _ => {}
    }
}

/// Steps of the rig against its travel.
fn travel(plan: &Plan, told: &mut Vec<Contradiction>) {
    let (Some(frames), Some(travel_m)) = (frames_asked(plan), plan.rig.travel_m) else {
        return;
    };
    let mm = |m: f64| format!("{} mm", plain(m * 1000.0, 3));
    if plan.rig.kind == Some(RigKind::Continuous) {
        let (Some(speed), Some(_)) = (plan.rig.speed_m_s, plan.interval_s) else { return };
        let counted = Plan { frames: Some(frames), ..plan.clone() };
        let needs_m = speed * plan.run_s.unwrap_or_else(|| Figures::of(&counted).run_s);
        if needs_m > travel_m * 1.001 {
            let words = format!(
                "At a speed of {}/s the carriage travels {} in the run, more than the travel of {}.",
                mm(speed),
                mm(needs_m),
                mm(travel_m)
            );
            warn(told, words);
        }
        return;
    }
    let Some(step_m) = plan.rig.step_m else { return };
    let needs_m = arithmetic::travel_m(frames, step_m);
    // Half a step is the rounding of a travel written down; from there on it is another number of moves.
    if (needs_m - travel_m).abs() > step_m / 2.0 {
        let moves = frames.saturating_sub(1);
        let side = if needs_m > travel_m { "more than" } else { "less than" };
        let words = format!(
            "{frames} frames are {moves} moves of {}, {} in all: {side} the travel of {}.",
            mm(step_m),
            mm(needs_m),
            mm(travel_m)
        );
        warn(told, words);
    }
}

/// A carriage that sets off by its wait does not heed the shutter's close.
fn unused_lag(plan: &Plan, told: &mut Vec<Contradiction>) {
    if plan.rig.wait_s.is_some() && plan.rig.trigger_lag_s.is_some_and(|s| s > 0.0) {
        let words = "trigger_lag is not used: the carriage sets off when its wait is over.";
        warn(told, words.into());
    }
}

/// The clip that the frames make against the clip that was asked for.
fn delivery(plan: &Plan, told: &mut Vec<Contradiction>) {
    let Some(length_s) = plan.delivery.length_s else { return };
    let Some(fps) = plan.delivery.fps else {
        let words = format!(
            "The delivery asks for {} of clip, but fps is not said: the length cannot be compared.",
            duration(length_s)
        );
        return warn(told, words);
    };
    let (Some(frames), Some(needs)) = (frames_asked(plan), plan.delivery.clip_frames()) else { return };
    if frames < needs {
        let words = format!(
            "{frames} frames make {} at {} fps; the delivery asks for {}, which takes {needs} frames.",
            plan.delivery.clip_s(frames).map_or_else(|| "no clip".into(), duration),
            plain(fps, 3),
            duration(length_s)
        );
        warn(told, words);
    }
}

#[cfg(test)]
mod tests;
