//! Why a run ended before its plan.

use super::{LikelyCause, Scene, Strength};
use crate::evidence::Damage;
use crate::plan::power::Hours;
use crate::units::duration;

/// Nominal sizes of cards, GB of 10⁹ bytes.
const CARD_GB: [u64; 9] = [4, 8, 16, 32, 64, 128, 256, 512, 1024];
/// A card is full between these shares of its nominal size (common practice, no source: a file system takes some of it).
const FULL: std::ops::RangeInclusive<f64> = 0.94..=1.0;
/// A battery may stand for the end where the run lasted this share of its planned hours and up.
const OF_BATTERY: f64 = 0.8;
/// A small motor on three AA cells runs for 4 to 10 h (common practice, no source).
const SMALL_MOTOR_H: std::ops::RangeInclusive<f64> = 4.0..=10.0;
/// Frames at which timers are known to stop by themselves (common practice, no source).
const TIMER_LIMITS: [u64; 4] = [99, 399, 999, 9999];

pub(super) fn rule(scene: &Scene<'_>) -> Vec<LikelyCause> {
    if scene.weighing("short-run").next().is_none() {
        return Vec::new();
    }
    let evidence = scene.evidence;
    let run: Vec<usize> = evidence.in_run().collect();
    let (Some(&first), Some(&last)) = (run.first(), run.last()) else { return Vec::new() };
    let mut out = Vec::new();
    let last_cut = matches!(evidence.frames.rows[last].damage, Damage::CutShort(_) | Damage::Empty);
    let shots = &evidence.frames.card.shots;
    let bytes: u64 =
        shots.iter().map(|s| s.file.bytes + s.companions.iter().map(|c| c.bytes).sum::<u64>()).sum();
    let full = CARD_GB.iter().find(|gb| FULL.contains(&(bytes as f64 / (**gb as f64 * 1e9))));
    if let Some(gb) = full {
        out.push(LikelyCause {
            code: "card-full",
            strength: if last_cut { Strength::Sure } else { Strength::Likely },
            words: format!(
                "The card was full: {:.1} GB of frames, near the size of a {gb} GB card{}.",
                bytes as f64 / 1e9,
                if last_cut { ", and the last file is cut short" } else { "" },
            ),
            remedy: "Count frames times their size against the card before the run, and take the next size up.",
            apart: Some("The card itself: how much room it shows."),
        });
    }
    let limit = TIMER_LIMITS.iter().find(|n| **n == run.len() as u64);
    if let Some(limit) = limit {
        out.push(LikelyCause {
            code: "timer-limit",
            strength: Strength::Likely,
            words: format!("The run stops at exactly {limit} frames, a limit that many timers have."),
            remedy: "Set the timer to run without a limit, or use an outside one.",
            apart: None,
        });
    }
    let hours = evidence
        .stamp(first)
        .zip(evidence.stamp(last))
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
                    "Power ran out: the run stops cleanly after {spoken}, with no file cut short; a small motor on three AA \
                     cells lasts 4 to 10 h, less in the cold."
                ),
            ),
            _ => (
                Strength::Possible,
                format!(
                    "Power ran out, or somebody stopped it: the run stops cleanly after {spoken}, with no file cut short and no \
                     full card."
                ),
            ),
        };
        out.push(LikelyCause {
            code: "power-or-stopped",
            strength,
            words,
            remedy: "Look at both batteries, the camera's and the rig's. Feed them from outside for the next run, and keep them warm.",
            apart: Some("A battery that is empty now; a carriage that stands short of where the last frame shows it."),
        });
    }
    out
}
