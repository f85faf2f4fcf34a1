//! What the holes of a run weigh together: how many count, which can be patched, and whether they leave the
//! clip asked.

use super::Case;
use crate::evidence::timing::Hole;
use crate::schedule::clip::{Course, Seams};
use crate::units::FrameSpan;

/// What of the holes counts, and what a clip loses by them.
pub(crate) struct Weighing {
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
    pub(crate) fn of(case: &Case<'_>, agreed: Vec<FrameSpan>) -> Self {
        let timing = &case.evidence.timing;
        let left = |h: &&Hole| !agreed.iter().any(|s| s.first <= h.before && h.after <= s.last);
        let missing = timing.holes.iter().map(|h| h.slots).sum();
        let left: u64 = timing.holes.iter().filter(left).map(|h| h.slots).sum();
        let share = timing.slot_count.map_or(f64::NAN, |slots| 100.0 * left as f64 / slots as f64);
        let course = Course::of(case.schedule, case.evidence, Seams { holes: agreed, ..Seams::default() });
        let patched = course.patches().map(|p| p.after).collect();
        Self { missing, share, patched, broken: clip_broken(case, &course) }
    }

    /// True where a patch bridges the hole.
    pub(crate) fn patches(&self, hole: &Hole) -> bool {
        self.patched.binary_search(&hole.after).is_ok()
    }
}

/// Where holes leave no part as long as the delivery asks, though one would be if they were filled: the
/// longest part and what is asked, in frames of the clip.
fn clip_broken(case: &Case<'_>, course: &Course) -> Option<(u64, u64)> {
    let evidence = case.evidence;
    let asked = case.schedule.delivery().clip_frames()?;
    let longest = course.longest().map_or(0, |part| part.clip_frames());
    if longest >= asked {
        return None;
    }
    let whole = FrameSpan { first: 0, last: evidence.len() };
    let filled = Course::of(case.schedule, evidence, Seams { holes: vec![whole], ..Seams::default() });
    (filled.longest().map_or(0, |part| part.clip_frames()) >= asked).then_some((longest, asked))
}
