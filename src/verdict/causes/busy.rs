//! A camera that was not ready when its slot came.

use super::scene::{Explanation, LikelyCause, Scene, Strength, Which};
use crate::checks::exposure::{exposure_jump, off_plan_exposure};
use crate::checks::rig::shutter_overrun;
use crate::checks::timing::missing_slot;
use crate::evidence::timing::{Hole, HoleCause};
use crate::finding::{CauseCode, Finding};
use crate::units::{counted, counted_as, duration};

/// The camera is called busy where it is taken for this share of the interval.
const BUSY_SHARE: f64 = 0.9;
/// Holes follow a pattern where they are so many.
const SOME_HOLES: usize = 3;
/// An exposure still grows where its next step comes within so many frames, or within three times the longest
/// wait for one so far.
const STILL_GROWS: usize = 6;
/// Exposures that differ by this factor differ by a step: less than a third of a stop, more than rounding.
const ANOTHER: f64 = 1.1;

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    let missed: Vec<&Hole> =
        scene.evidence.timing.holes.iter().filter(|h| h.cause == HoleCause::TriggerMissed).collect();
    if !missed.iter().any(|h| scene.schedule.interval_s(h.before).is_some()) {
        return Vec::new();
    }
    // What kept the camera busy is one accident. Holes elsewhere are another.
    let (while_busy, rest) = parted(scene, missed);
    let mut out: Vec<Explanation> = busy(scene, &while_busy).into_iter().collect();
    if let Some(dark) = dark_frame(scene, &rest) {
        out.push(dark);
        return out;
    }
    let (turns, rest) = in_turn(rest);
    out.extend(held_up(scene, &turns));
    out.extend(lost(scene, &rest));
    out
}

/// The holes from the first to the last that follow a slot which took the camera, and those elsewhere.
fn parted<'a>(scene: &Scene<'_>, mut missed: Vec<&'a Hole>) -> (Vec<&'a Hole>, Vec<&'a Hole>) {
    let before: Vec<Option<Before>> = missed.iter().map(|h| Before::of(scene, h.before)).collect();
    let is_busy = |b: &Option<Before>| b.as_ref().is_some_and(|b| b.share() > BUSY_SHARE);
    let ends = before.iter().position(is_busy).zip(before.iter().rposition(is_busy));
    let Some((first, last)) = ends else { return (Vec::new(), missed) };
    let some = before[first..=last].iter().filter(|b| is_busy(b)).count();
    if some * 2 < last + 1 - first {
        return (Vec::new(), missed);
    }
    let behind = missed.split_off(last + 1);
    let while_busy = missed.split_off(first);
    missed.extend(behind);
    (while_busy, missed)
}

/// The camera was taken by its own exposures.
fn busy(scene: &Scene<'_>, missed: &[&Hole]) -> Option<Explanation> {
    let before: Vec<Before> = missed.iter().filter_map(|h| Before::of(scene, h.before)).collect();
    let longest = before.iter().map(|b| b.exposure_s).fold(0.0, f64::max);
    // The fullest of the slots speaks for all.
    let fullest = before.iter().max_by(|a, b| a.share().total_cmp(&b.share()))?;
    let (taken, interval) = (fullest.taken_s, fullest.interval_s);
    let slots: u64 = missed.iter().map(|h| h.slots).sum();
    let first = scene.evidence.in_run().next().and_then(|at| scene.evidence.frame(at).exposure_s());
    let grew = first.filter(|f| longest > 1.2 * f);
    let grown = grew.map_or_else(String::new, |f| {
        format!(" The exposure grew from {} to {} in the course of the run.", duration(f), duration(longest))
    });
    let (taken_words, interval_words) = (duration(taken), duration(interval));
    let whole = if taken_words == interval_words { "all of " } else { "" };
    let sentence = format!(
        "From {}, exposures of up to {} kept the camera busy for {whole}{taken_words}; the interval is \
         {interval_words}, so {}.",
        scene.when(missed[0].before),
        duration(longest),
        gone(missed),
    );
    let to_do = format!(
        "Lengthen the interval to more than {taken_words}, or cap the exposure below it and let the \
         sensitivity rise. Then shoot again.",
    );
    let cause = LikelyCause {
        code: CauseCode::new(if grew.is_some() { "exposure-outgrew-interval" } else { "camera-busy" }),
        strength: Strength::Sure,
        words: format!(
            "The camera was still busy when the timer fired: it needed {}; the interval is {} ({}), and {} \
             followed.{grown}",
            taken_words,
            interval_words,
            percent(taken / interval),
            counted(slots, "missed trigger"),
        ),
        remedy: to_do.clone().into(),
        apart: None,
    };
    Some(cause.tells(sentence, to_do, [of(scene, missed), too_long(scene, missed)].concat()))
}

/// The exposure fits the interval and a dark frame as long does not.
fn dark_frame(scene: &Scene<'_>, missed: &[&Hole]) -> Option<Explanation> {
    let before: Vec<Before> = missed.iter().filter_map(|h| Before::of(scene, h.before)).collect();
    let longest = before.iter().map(|b| b.exposure_s).fold(0.0, f64::max);
    let interval = before.iter().max_by(|a, b| a.share().total_cmp(&b.share()))?.interval_s;
    if missed.len() < SOME_HOLES || longest <= 0.45 * interval || longest * 2.0 <= BUSY_SHARE * interval {
        return None;
    }
    let sentence = format!(
        "After {}, {}: a dark frame after each exposure of {} does not fit the interval of {}.",
        scene.when(missed[0].before),
        gone(missed),
        duration(longest),
        duration(interval),
    );
    let to_do = "Turn long-exposure noise reduction off in the camera, or make the interval more than twice \
                 the exposure.";
    let cause = LikelyCause {
        code: CauseCode::new("dark-frame-subtraction"),
        strength: Strength::Likely,
        words: format!(
            "In-camera dark-frame subtraction: an exposure of {} fits the interval of {}, twice that does \
             not, and {} followed.",
            duration(longest),
            duration(interval),
            counted(missed.iter().map(|h| h.slots).sum(), "missed trigger"),
        ),
        remedy: to_do.into(),
        apart: Some(
            "A test shot at that exposure: the camera stays busy for as long again, and says so on its \
             screen.",
        ),
    };
    Some(cause.tells(sentence, to_do, [of(scene, missed), too_long(scene, missed)].concat()))
}

/// Something holds the camera up, again and again.
fn held_up(scene: &Scene<'_>, missed: &[&Hole]) -> Option<Explanation> {
    let every = regular(missed)?;
    let sentence = format!(
        "After {}, {}: something holds the camera up at regular turns, as a full buffer does.",
        scene.when(missed[0].before),
        gone(missed),
    );
    let to_do =
        "Keep this card as it is. Use a faster card, shoot raw alone, and turn the review picture off.";
    let cause = LikelyCause {
        code: CauseCode::new("buffer-or-card"),
        strength: Strength::Likely,
        words: format!(
            "Something holds the camera up at regular turns: {} empty, one hole every {every} slots, while \
             the exposure leaves room. A full buffer or a slow card does that.",
            counted_as(missed.iter().map(|h| h.slots).sum(), "slot is", "slots are"),
        ),
        remedy: to_do.into(),
        apart: Some("A cable that slips misses at odd places, a buffer at even ones."),
    };
    Some(cause.tells(sentence, to_do, of(scene, missed)))
}

/// Nothing accounts for it but a trigger that got lost.
fn lost(scene: &Scene<'_>, missed: &[&Hole]) -> Option<Explanation> {
    let from = scene.when(missed.first()?.before);
    let gone = gone(missed);
    let sentence = format!("After {from}, {gone}: the camera had time to fire and did not.");
    let to_do =
        "Check the trigger (cable or radio), switch autofocus off, and keep the camera from going to sleep.";
    let cause = LikelyCause {
        code: CauseCode::new("trigger-lost"),
        strength: Strength::Possible,
        words: format!(
            "{} did not reach the camera or found it not ready: the file numbers run on, and the exposure \
             leaves room.",
            counted(missed.iter().map(|h| h.slots).sum(), "trigger"),
        ),
        remedy: to_do.into(),
        apart: Some("Autofocus that hunts misses in the dark; a loose plug misses when the carriage moves."),
    };
    Some(cause.tells(sentence, to_do, of(scene, missed)))
}

/// The findings that tell of those holes.
fn of(scene: &Scene<'_>, missed: &[&Hole]) -> Vec<Which> {
    let told = missing_slot::TRIGGER_MISSED;
    scene.which(&missing_slot::CHECK, |f| {
        let next = missed.partition_point(|h| Some(h.before) < f.first);
        let within = missed.get(next).is_some_and(|h| Some(h.after) <= f.last);
        within && f.cause.as_ref().is_some_and(|c| c.code == told)
    })
}

/// How many frames are missing, or which where they come again at even turns.
fn gone(missed: &[&Hole]) -> String {
    let slots: u64 = missed.iter().map(|h| h.slots).sum();
    match regular(missed).filter(|_| slots == missed.len() as u64) {
        Some(2) => "every other frame is missing".into(),
        Some(every) => format!("one frame in {every} is missing"),
        None => counted_as(slots, "frame is missing", "frames are missing"),
    }
}

/// Findings which say that the exposures of those slots take too long or longer than planned, and the steps
/// by which they grew.
fn too_long(scene: &Scene<'_>, missed: &[&Hole]) -> Vec<Which> {
    let (first, last) = (missed[0].before, missed[missed.len() - 1].after);
    let beside = |f: &Finding| f.first <= Some(last) && f.last >= Some(first);
    let grew_from = grew_from(scene, first);
    // What was off the plan before is none of it.
    let since = |f: &Finding| f.first.is_none_or(|at| at + 1 >= grew_from);
    let steps = |f: &Finding| since(f) && f.last.is_some_and(|at| at <= last);
    let mut all = scene.which(&shutter_overrun::CHECK, beside);
    all.extend(scene.which(&off_plan_exposure::CHECK, |f| beside(f) && since(f)));
    all.extend(scene.which(&exposure_jump::CHECK, |f| grew_from > 0 && steps(f)));
    all
}

/// The first frame of the exposures that grew until that frame; 0 where they did not grow.
fn grew_from(scene: &Scene<'_>, until: usize) -> usize {
    let exposure_s = |at: usize| scene.evidence.frame(at).exposure_s();
    let (mut from, mut longest) = (0, STILL_GROWS);
    let mut last_step = until;
    for at in (1..=until).rev() {
        let Some((before_s, after_s)) = exposure_s(at - 1).zip(exposure_s(at)) else { break };
        let waited = last_step - at;
        if before_s > after_s * ANOTHER || (from > 0 && waited > 3 * longest) {
            break;
        }
        if after_s > before_s * ANOTHER {
            if from > 0 {
                longest = longest.max(waited);
            }
            (from, last_step) = (at, at);
        }
    }
    from
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

/// The holes that come at even turns, where most do, and the others.
fn in_turn(holes: Vec<&Hole>) -> (Vec<&Hole>, Vec<&Hole>) {
    let Some(every) = middle(&holes) else { return (Vec::new(), holes) };
    let slots: Vec<i64> = holes.iter().map(|h| h.slot).collect();
    let at = |slot: i64| slots.get(slots.partition_point(|s| *s < slot - 1)).is_some_and(|s| *s <= slot + 1);
    let turns = |h: &&Hole| at(h.slot - every) || at(h.slot + every);
    let (turning, others): (Vec<&Hole>, Vec<&Hole>) = holes.iter().copied().partition(turns);
    let most = turning.len() * 10 >= holes.len() * 8;
    if most && regular(&turning).is_some() { (turning, others) } else { (Vec::new(), holes) }
}

/// The spacing of holes that come at even turns, in slots.
fn regular(holes: &[&Hole]) -> Option<i64> {
    let middle = middle(holes)?;
    let even = holes.windows(2).filter(|w| (w[1].slot - w[0].slot - middle).abs() <= 1).count();
    (even * 10 >= (holes.len() - 1) * 8).then_some(middle)
}

/// The middle of their spacings, in slots, where that is some and the holes are some.
fn middle(holes: &[&Hole]) -> Option<i64> {
    if holes.len() < SOME_HOLES {
        return None;
    }
    let mut gaps: Vec<i64> = holes.windows(2).map(|w| w[1].slot - w[0].slot).collect();
    gaps.sort_unstable();
    Some(gaps[gaps.len() / 2]).filter(|middle| *middle > 1)
}

fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn holes(slots: impl IntoIterator<Item = i64>) -> Vec<Hole> {
        let hole = |slot: i64| Hole {
            before: slot as usize - 1,
            after: slot as usize,
            slot,
            slots: 1,
            gap_s: 24.0,
            numbers: Some(1),
            cause: HoleCause::TriggerMissed,
            doubt: None,
            shots_beyond: None,
        };
        slots.into_iter().map(hole).collect()
    }

    fn parted(slots: &[i64]) -> (Vec<i64>, Vec<i64>) {
        let holes = holes(slots.iter().copied());
        let (turns, others) = in_turn(holes.iter().collect());
        let slots = |of: Vec<&Hole>| of.iter().map(|h| h.slot).collect();
        (slots(turns), slots(others))
    }

    #[test]
    fn a_hole_off_the_turns_is_none_of_them() {
        let even = [20, 40, 60, 80, 100, 120];
        assert_eq!(parted(&even), (even.to_vec(), vec![]));
        assert_eq!(parted(&[20, 28, 40, 60, 80, 100, 120]), (even.to_vec(), vec![28]));
        // Turns that waver by a slot are turns all the same.
        let wavering = [20, 41, 60, 80, 99, 120];
        assert_eq!(parted(&wavering), (wavering.to_vec(), vec![]));
        // Holes at odd places have no turns.
        let odd = [12, 20, 47, 61, 98, 140, 171];
        assert_eq!(parted(&odd), (vec![], odd.to_vec()));
        assert_eq!(parted(&[20, 40]), (vec![], vec![20, 40]));
    }
}
