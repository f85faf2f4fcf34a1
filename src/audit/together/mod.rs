//! What several cameras say together: how their clocks differ, which holes and stops they share and which are
//! one's own.

mod clocks;
mod holes;
mod names;
mod stops;
mod ticks;
mod whose;

pub use clocks::ClockDifference;
pub use holes::HoleAcross;
pub use stops::StopAcross;
pub use whose::Whose;

use crate::checks::timing::short_run;

use super::CameraAudit;
use crate::finding::Severity;
use crate::verdict::{LikelyCause, Reason, Strength};
use ticks::Ticks;

/// What several cameras say together; empty for one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Together {
    /// The clock of each camera but the first, against the first one's.
    pub clocks: Vec<ClockDifference>,
    /// Missing slots of all cameras whose clocks could be compared, each told once, in order of time.
    pub holes: Vec<HoleAcross>,
    /// Stops of all cameras' timers, each told once, in order of time.
    pub stops: Vec<StopAcross>,
    /// What holds the call where it is beside the cameras' own reasons.
    pub reasons: Vec<Reason>,
    /// Who is likely to blame for holes and stops: the controller or a camera.
    pub causes: Vec<LikelyCause>,
}

/// Compares the cameras of a set.
pub(crate) fn together(cameras: &[CameraAudit]) -> Together {
    if cameras.len() < 2 {
        return Together::default();
    }
    let ticks: Vec<Ticks> = cameras.iter().map(|c| Ticks::of(&c.audit)).collect();
    let letters: Vec<&str> = cameras.iter().map(|c| c.letter.as_str()).collect();
    let clocks: Vec<ClockDifference> =
        (1..ticks.len()).map(|at| clocks::compare(&ticks, &letters, at)).collect();
    // Seconds to take off each camera's stamps for the first one's clock.
    let ahead: Vec<Option<f64>> =
        std::iter::once(Some(0.0)).chain(clocks.iter().map(|c| c.ahead_s)).collect();
    let holes = holes::across(&ticks, &ahead);
    let surest = |lacking: &[usize], fired: &[usize]| {
        let others = lacking.iter().chain(fired).filter(|c| **c > 0);
        others.filter_map(|c| clocks.get(c - 1)?.strength).min().unwrap_or(Strength::Possible)
    };
    let stops = stops::across(&ticks, &ahead);
    let mut causes = holes::causes(&holes, &letters, &surest);
    causes.extend(stops::causes(&stops, &letters, &surest));
    let reasons = ends(cameras, &ticks, &clocks);
    Together { clocks, holes, stops, reasons, causes }
}

/// Slots at one end that one camera has and another has not, from which on it is worth a look: cameras that
/// are stopped by hand stop a frame apart.
const APART_SLOTS: f64 = 2.0;

/// Cameras that began together and did not end together, or the other way round: one of them may have failed
/// at its end, which its own frames do not show. Where the matching is no more than possible, they may as
/// well have been started by hand, each by itself.
fn ends(cameras: &[CameraAudit], ticks: &[Ticks], clocks: &[ClockDifference]) -> Vec<Reason> {
    let mut all = Vec::new();
    for (n, clock) in clocks.iter().enumerate() {
        if clock.strength < Some(Strength::Likely) {
            continue;
        }
        let (Some(ahead), Some(a), Some(b)) = (clock.ahead_s, ticks.first(), ticks.get(n + 1)) else {
            continue;
        };
        let (Some((a0, a1)), Some((b0, b1))) = (a.ends(), b.ends()) else { continue };
        let interval = a.interval_s.unwrap_or(1.0);
        let (start, end) = ((b0 - ahead - a0) / interval, (b1 - ahead - a1) / interval);
        let (began, ended) = (start.abs() < APART_SLOTS, end.abs() < APART_SLOTS);
        if began == ended {
            continue;
        }
        let slots = if began { end } else { start };
        // The camera that was not running while the other one fired.
        let lacks_first = (slots > 0.0) == began;
        let (short, long) = if lacks_first { (0, n + 1) } else { (n + 1, 0) };
        let (Some(short), Some(long)) = (cameras.get(short), cameras.get(long)) else { continue };
        // Where the plan gives a count, the camera's own audit has judged its end.
        if short.audit.plan.frames.or(short.audit.plan.run_s.map(|_| 1)).is_some() {
            continue;
        }
        let (what, which) = if began { ("stopped", "end") } else { ("began", "start") };
        let when = if began { "before" } else { "after" };
        all.push(Reason {
            check: short_run::CHECK.text.id,
            severity: Severity::Caution,
            words: format!(
                "Camera {} {what} {} frames {when} camera {}: check that it was meant to {which} there.",
                short.letter,
                slots.abs().round(),
                long.letter
            ),
        });
    }
    all
}
