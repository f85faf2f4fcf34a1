//! Why a run ended before its plan.

use super::scene::{Explanation, LikelyCause, Scene, Strength};
use crate::checks::timing::short_run;
use crate::evidence::Damage;
use crate::evidence::timing::JoinKind;
use crate::finding::CauseCode;
use crate::plan::power::Hours;
use crate::plan::{arithmetic, run_of_frames_s};
use crate::schedule::on_clock;
use crate::units::Micros;
use crate::units::{counted, duration};

/// Nominal sizes of cards, GB of 10⁹ bytes.
const CARD_GB: [u64; 9] = [4, 8, 16, 32, 64, 128, 256, 512, 1024];
/// A card is full between these shares of its nominal size (common practice, no source: a file system takes
/// some of it).
const FULL: std::ops::RangeInclusive<f64> = 0.94..=1.0;
/// A battery may stand for the end where the run lasted this share of its planned hours and up.
const OF_BATTERY: f64 = 0.8;
/// A small motor on three AA cells runs for 4 to 10 h (common practice, no source).
const SMALL_MOTOR_H: std::ops::RangeInclusive<f64> = 4.0..=10.0;
/// A start that is missed by more is a clock that was never set, s.
const DAY_S: f64 = 86_400.0;
/// Frames at which timers are known to stop by themselves (common practice, no source).
const TIMER_LIMITS: [u64; 4] = [99, 399, 999, 9999];

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    if scene.weighing(&short_run::CHECK).next().is_none() {
        return Vec::new();
    }
    let evidence = scene.evidence;
    let run: Vec<usize> = evidence.in_run().collect();
    let (Some(&first), Some(&last)) = (run.first(), run.last()) else { return Vec::new() };
    if went_on(scene, first, last) {
        return Vec::new();
    }
    let mut out = Vec::new();
    let of = scene.which(&short_run::CHECK, |_| true);
    let short: u64 = scene.weighing(&short_run::CHECK).map(|f| f.count).sum();
    let ended =
        format!("The run ended at {}, {} short of the plan", scene.when(last), counted(short, "frame"));
    let last_cut = matches!(evidence.frame(last).row().damage, Damage::CutShort(_) | Damage::Empty);
    let shots = &evidence.frames.card.shots;
    let bytes: u64 =
        shots.iter().map(|s| s.file.bytes + s.companions.iter().map(|c| c.bytes).sum::<u64>()).sum();
    let full = CARD_GB.iter().find(|gb| FULL.contains(&(bytes as f64 / (**gb as f64 * 1e9))));
    if let Some(gb) = full {
        let cause = LikelyCause {
            code: CauseCode::new("card-full"),
            strength: if last_cut { Strength::Sure } else { Strength::Likely },
            words: format!(
                "The card was full: {:.1} GB of frames, near the size of a {gb} GB card{}.",
                bytes as f64 / 1e9,
                if last_cut { ", and the last file is cut short" } else { "" },
            ),
            remedy: "Count frames times their size against the card before the run, and take the next size \
                     up."
            .into(),
            apart: Some("The card itself: how much room it shows."),
        };
        let sentence = format!("{ended}: the card was full.");
        out.push(cause.tells(
            sentence,
            "Copy the card, verify the copy, and go on with another one.",
            of.clone(),
        ));
    }
    let limit = TIMER_LIMITS.iter().find(|n| **n == run.len() as u64);
    if let Some(limit) = limit {
        let cause = LikelyCause {
            code: CauseCode::new("timer-limit"),
            strength: Strength::Likely,
            words: format!("The run stops at exactly {limit} frames, a limit that many timers have."),
            remedy: "Set the timer to run without a limit, or use an outside one.".into(),
            apart: None,
        };
        let sentence = format!("{ended}: it has exactly {limit} frames, a limit that many timers have.");
        out.push(cause.tells(
            sentence,
            "Where the rig still stands, start the timer again without a limit.",
            of.clone(),
        ));
    }
    let hours = evidence
        .frame(first)
        .stamp()
        .zip(evidence.frame(last).stamp())
        .map(|(a, b)| b.at.seconds_since(a.at) / 3600.0)
        .filter(|h| *h > 0.0);
    if let (Some(hours), None, None, false) = (hours, full, limit, last_cut) {
        let spoken = duration(hours * 3600.0);
        let battery = Hours::of(&scene.plan.rig).filter(|b| hours >= OF_BATTERY * b.counted_h());
        let (strength, words) = match battery {
            Some(battery) => (
                Strength::Likely,
                format!(
                    "Power ran out: the run stops cleanly after {spoken}, and the plan's battery lasts {}{}.",
                    duration(battery.counted_h() * 3600.0),
                    if battery.share < 1.0 { " at the plan's temperature" } else { "" },
                ),
            ),
            _ if SMALL_MOTOR_H.contains(&hours) => (
                Strength::Possible,
                format!(
                    "Power ran out: the run stops cleanly after {spoken}, with no file cut short; a small \
                     motor on three AA cells lasts 4 to 10 h, less in the cold."
                ),
            ),
            _ => (
                Strength::Possible,
                format!(
                    "Power ran out, or somebody stopped it: the run stops cleanly after {spoken}, with no \
                     file cut short and no full card."
                ),
            ),
        };
        let rig = &scene.plan.rig;
        let travels = rig.step_m.or(rig.travel_m).or(rig.speed_m_s).is_some();
        let look = match travels {
            true => "Look at both batteries, the camera's and the rig's.",
            false => "Look at the camera's battery.",
        };
        let cause = LikelyCause {
            code: CauseCode::new("power-or-stopped"),
            strength,
            words,
            remedy: format!("{look} Use external power for the next run, and keep batteries warm.").into(),
            apart: Some(match travels {
                true => {
                    "A battery that is empty now; a carriage that stands short of where the last frame \
                     shows it."
                }
                false => "A battery that is empty now.",
            }),
        };
        let why = match strength {
            Strength::Likely => "power ran out by the hours of the plan's battery",
            _ => "power ran out, or somebody stopped it",
        };
        let to_do = format!("{look} Where the camera still stands, shoot on.");
        out.push(cause.tells(format!("{ended}: {why}."), to_do, of));
    }
    out
}

/// True where the run lasted its planned time, or went on to its planned end: what it lacks was not lost at
/// its end.
fn went_on(scene: &Scene<'_>, first: usize, last: usize) -> bool {
    let (plan, evidence) = (scene.plan, scene.evidence);
    let Some((begun, ended)) = evidence.frame(first).stamp().zip(evidence.frame(last).stamp()) else {
        return false;
    };
    let Some((planned_s, slack_s)) = planned_s(scene) else { return false };
    let set = evidence.timing.joins.iter().any(|join| matches!(join.kind, JoinKind::ClockStep { .. }));
    let lasted_s = ended.at.seconds_since(begun.at) - evidence.clock_set_s();
    if lasted_s >= planned_s - slack_s {
        return true;
    }
    // A clock that was changed, or never set, tells no planned moment.
    let Some(start) = plan.start.filter(|_| !set).map(|m| on_clock(m, begun.offset_min)) else {
        return false;
    };
    let late_s = begun.at.seconds_since(start);
    let due = start.plus(Micros::truncated(planned_s - slack_s));
    (0.0..DAY_S).contains(&late_s) && ended.at >= due
}

/// How long the run was to last from its first frame to its last, s, and by how much less it may without
/// having ended early: one slot, the planned or the kept one. `None` where the plan does not tell.
fn planned_s(scene: &Scene<'_>) -> Option<(f64, f64)> {
    let (plan, evidence) = (scene.plan, scene.evidence);
    let exposures = || evidence.in_run().filter_map(|at| scene.evidence.frame(at).exposure_s());
    let exposed_s = match plan.from_close() {
        // Each slot is longer by its exposure.
        true => exposures().sum::<f64>() / exposures().count().max(1) as f64,
        false => 0.0,
    };
    let slot_s = plan.interval_s.map(|s| s + exposed_s);
    let kept_s = evidence.timing.cadence.as_ref().map(|c| c.interval_s);
    let slack_s = slot_s.into_iter().chain(kept_s).fold(0.0, f64::max);
    if let Some(run_s) = plan.run_s {
        return Some((run_s, slack_s));
    }
    // What is due by day alone does not add up to a time.
    let frames = plan.frames.or_else(|| plan.delivery.clip_frames()).filter(|_| plan.active.is_empty())?;
    let plain = || Some(arithmetic::time_from_frames_s(frames, slot_s.filter(|_| !plan.changes_interval())?));
    // Where the plan's exposures do not tell how long its slots are, those that were shot do.
    Some((run_of_frames_s(plan, frames).or_else(plain)?, slack_s))
}
