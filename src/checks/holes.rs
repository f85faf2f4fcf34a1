//! What the holes of a run weigh together: how many count, which can be patched, and whether they leave the
//! clip asked.

use super::Case;
use super::common::delivery_frames;
use crate::evidence::Evidence;
use crate::evidence::timing::{Hole, TimerLaw};
use crate::evidence::usable::{Course, Seams};
use crate::units::time::SECOND;
use crate::units::{CivilTime, FrameSpan};

/// What of the holes counts, and what a clip loses by them.
pub struct Weighing {
    /// Missing slots of the run.
    pub missing: u64,
    /// Share of the run's slots that is missing and was not agreed to, %.
    pub share: f64,
    /// Positions of the frames behind the holes that a patch bridges, in order.
    patched: Vec<usize>,
    /// Where holes leave no part as long as the delivery asks: the longest part and what is asked, in frames.
    pub broken: Option<(u64, u64)>,
}

impl Weighing {
    /// Weighs the holes of the run; those within the agreed spans are taken as good.
    pub fn of(case: &Case<'_>, agreed: Vec<FrameSpan>) -> Self {
        let timing = &case.evidence.timing;
        let left = |h: &&Hole| !agreed.iter().any(|s| s.first <= h.before && h.after <= s.last);
        let missing = timing.holes.iter().map(|h| h.slots).sum();
        let left: u64 = timing.holes.iter().filter(left).map(|h| h.slots).sum();
        let share = timing.slot_count.map_or(f64::NAN, |slots| 100.0 * left as f64 / slots as f64);
        let course = Course::of(case.plan, case.evidence, Seams { holes: agreed, ..Seams::default() });
        let patched = course.patches().map(|p| p.after).collect();
        Self { missing, share, patched, broken: clip_broken(case, &course) }
    }

    /// True where a patch bridges the hole.
    pub fn patches(&self, hole: &Hole) -> bool {
        self.patched.binary_search(&hole.after).is_ok()
    }
}

/// Where holes leave no part as long as the delivery asks, though one would be if they were filled: the
/// longest part and what is asked, in frames of the clip.
fn clip_broken(case: &Case<'_>, course: &Course) -> Option<(u64, u64)> {
    let evidence = case.evidence;
    let asked = delivery_frames(case.plan)?;
    let longest = course.longest().map_or(0, |part| part.clip_frames());
    if longest >= asked {
        return None;
    }
    let whole = FrameSpan { first: 0, last: evidence.states.len() };
    let filled = Course::of(case.plan, evidence, Seams { holes: vec![whole], ..Seams::default() });
    (filled.longest().map_or(0, |part| part.clip_frames()) >= asked).then_some((longest, asked))
}

/// When the first missing frame was due, as the camera would have stamped it: the grid's own moment, cut to
/// what the stamps write. Where the intervals grow with the exposures, its share of the gap after the frame
/// before.
pub fn due(evidence: &Evidence, hole: &Hole) -> Option<CivilTime> {
    let timing = &evidence.timing;
    let step = timing.written_resolution.max(1);
    let stamped = |t: CivilTime| CivilTime::from_micros(t.micros().div_euclid(step).saturating_mul(step));
    let law = timing.cadence.as_ref().map(|c| c.law);
    let next = timing.stretches.partition_point(|s| s.last < hole.before);
    let stretch = timing.stretches.get(next).filter(|s| s.first <= hole.before);
    match stretch.filter(|_| !matches!(law, Some(TimerLaw::Close | TimerLaw::CloseDarkFrame))) {
        Some(s) => {
            let micros = hole.slot.saturating_sub(s.first_slot) as f64 * s.interval_s * SECOND as f64;
            Some(stamped(s.phase.plus(micros.round() as i64)))
        }
        None => {
            let share = hole.gap_s * SECOND as f64 / (hole.slots as f64 + 1.0);
            Some(stamped(evidence.stamp(hole.before)?.at.plus(share.round() as i64)))
        }
    }
}
