//! A camera that was not ready when its slot came.

use super::scene::{Explanation, LikelyCause, Scene, Strength, Which};
use crate::checks::exposure::off_plan_exposure;
use crate::checks::rig::shutter_overrun;
use crate::checks::timing::missing_slot;
use crate::evidence::timing::{Hole, HoleCause};
use crate::finding::{CauseCode, Finding};
use crate::units::{counted, counted_as, duration};

/// The camera is called busy where it is taken for this share of the interval.
const BUSY_SHARE: f64 = 0.9;
/// Holes follow a pattern where they are so many.
const SOME_HOLES: usize = 3;

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    let missed: Vec<&Hole> =
        scene.evidence.timing.holes.iter().filter(|h| h.cause == HoleCause::TriggerMissed).collect();
    if !missed.iter().any(|h| scene.schedule.interval_s(h.before).is_some()) {
        return Vec::new();
    }
    let slots: u64 = missed.iter().map(|h| h.slots).sum();
    let before: Vec<Before> = missed.iter().filter_map(|h| Before::of(scene, h.before)).collect();
    let busy: Vec<_> = before.iter().filter(|b| b.taken_s > BUSY_SHARE * b.interval_s).collect();
    let longest = before.iter().map(|b| b.exposure_s).fold(0.0, f64::max);
    // The fullest of the slots speaks for all.
    let fullest = before.iter().max_by(|a, b| a.share().total_cmp(&b.share()));
    let (taken, interval) = fullest.map_or((0.0, f64::INFINITY), |b| (b.taken_s, b.interval_s));
    let mut out = Vec::new();
    let from = scene.when(missed[0].before);
    let gone = gone(slots, &missed);
    let told = missing_slot::TRIGGER_MISSED;
    let of = scene.which(&missing_slot::CHECK, |f| f.cause.as_ref().is_some_and(|c| c.code == told));
    if !busy.is_empty() && busy.len() * 2 >= missed.len() {
        let first = scene.evidence.in_run().next().and_then(|at| scene.evidence.frame(at).exposure_s());
        let grew = first.filter(|f| longest > 1.2 * f);
        let grown = grew.map_or_else(String::new, |f| {
            format!(
                " The exposure grew from {} to {} in the course of the run.",
                duration(f),
                duration(longest)
            )
        });
        let sentence = format!(
            "From {from}, exposures of up to {} kept the camera busy for {}; the interval is {}, so {gone}.",
            duration(longest),
            duration(taken),
            duration(interval),
        );
        let to_do = format!(
            "Lengthen the interval to more than {}, or cap the exposure below it and let the sensitivity \
             rise. Then shoot again.",
            duration(taken)
        );
        let cause = LikelyCause {
            code: CauseCode::new(if grew.is_some() { "exposure-outgrew-interval" } else { "camera-busy" }),
            strength: Strength::Sure,
            words: format!(
                "The camera was still busy when the timer fired: it needed {}; the interval is {} ({}), and \
                 {} followed.{grown}",
                duration(taken),
                duration(interval),
                percent(taken / interval),
                counted(slots, "missed trigger"),
            ),
            remedy: to_do.clone().into(),
            apart: None,
        };
        out.push(cause.tells(sentence, to_do, [of, too_long(scene, &missed)].concat()));
    } else if longest > 0.45 * interval && longest * 2.0 > BUSY_SHARE * interval && missed.len() >= SOME_HOLES
    {
        let sentence = format!(
            "After {from}, {gone}: a dark frame after each exposure of {} does not fit the interval of {}.",
            duration(longest),
            duration(interval),
        );
        let to_do = "Turn long-exposure noise reduction off in the camera, or make the interval more than \
                     twice the exposure.";
        let cause = LikelyCause {
            code: CauseCode::new("dark-frame-subtraction"),
            strength: Strength::Likely,
            words: format!(
                "In-camera dark-frame subtraction: an exposure of {} fits the interval of {}, twice that \
                 does not, and {} followed.",
                duration(longest),
                duration(interval),
                counted(slots, "missed trigger"),
            ),
            remedy: to_do.into(),
            apart: Some(
                "A test shot at that exposure: the camera stays busy for as long again, and says so \
                         on its screen.",
            ),
        };
        out.push(cause.tells(sentence, to_do, [of, too_long(scene, &missed)].concat()));
    } else if let Some(every) = regular(&missed) {
        let sentence = format!(
            "After {from}, {gone}: something holds the camera up at regular turns, as a full buffer does."
        );
        let to_do =
            "Keep this card as it is. Use a faster card, shoot raw alone, and turn the review picture off.";
        let cause = LikelyCause {
            code: CauseCode::new("buffer-or-card"),
            strength: Strength::Likely,
            words: format!(
                "Something holds the camera up at regular turns: {} empty, one hole every {every} slots, \
                 while the exposure leaves room. A full buffer or a slow card does that.",
                counted_as(slots, "slot is", "slots are"),
            ),
            remedy: to_do.into(),
            apart: Some("A cable that slips misses at odd places, a buffer at even ones."),
        };
        out.push(cause.tells(sentence, to_do, of));
    } else {
        let sentence = format!("After {from}, {gone}: the camera had time for that and did not fire.");
        let to_do = "Check the release cable and its plug, autofocus (off), and a camera that sleeps between \
                     frames.";
        let cause = LikelyCause {
            code: CauseCode::new("trigger-lost"),
            strength: Strength::Possible,
            words: format!(
                "{} did not reach the camera or found it not ready: the file numbers run on, and the \
                 exposure leaves room.",
                counted(slots, "trigger"),
            ),
            remedy: to_do.into(),
            apart: Some(
                "Autofocus that hunts misses in the dark; a loose plug misses when the carriage \
                         moves.",
            ),
        };
        out.push(cause.tells(sentence, to_do, of));
    }
    out
}

/// How many frames are missing, or which where they come again at even turns.
fn gone(slots: u64, missed: &[&Hole]) -> String {
    match regular(missed).filter(|_| slots == missed.len() as u64) {
        Some(2) => "every other frame is missing".into(),
        Some(every) => format!("one frame in {every} is missing"),
        None => counted_as(slots, "frame is missing", "frames are missing"),
    }
}

/// Findings which say that the exposures of those slots take too long, or longer than planned.
fn too_long(scene: &Scene<'_>, missed: &[&Hole]) -> Vec<Which> {
    let (first, last) = (missed[0].before, missed[missed.len() - 1].after);
    let beside = |f: &Finding| f.first <= Some(last) && f.last >= Some(first);
    let checks = [&shutter_overrun::CHECK, &off_plan_exposure::CHECK];
    checks.into_iter().flat_map(|check| scene.which(check, beside)).collect()
}

/// The slot before a hole: exposure, all that takes the camera, and the interval that it is compared with, s.
struct Before {
    exposure_s: f64,
    taken_s: f64,
    interval_s: f64,
}

impl Before {
    fn of(scene: &Scene<'_>, at: usize) -> Option<Self> {
        let interval_s = scene.schedule.interval_s(at)?;
        Some(Self {
            exposure_s: scene.evidence.frame(at).exposure_s()?,
            taken_s: scene.taken_s(at)?,
            interval_s,
        })
    }

    fn share(&self) -> f64 {
        self.taken_s / self.interval_s
    }
}

/// The spacing of holes that come at even turns, in slots.
fn regular(holes: &[&Hole]) -> Option<i64> {
    if holes.len() < SOME_HOLES {
        return None;
    }
    let mut gaps: Vec<i64> = holes.windows(2).map(|w| w[1].slot - w[0].slot).collect();
    gaps.sort_unstable();
    let middle = gaps[gaps.len() / 2];
    let even = gaps.iter().filter(|g| (**g - middle).abs() <= 1).count();
    (middle > 1 && even * 10 >= gaps.len() * 8).then_some(middle)
}

fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}
