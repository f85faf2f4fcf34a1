//! When a slot was due on the camera's clock.

use super::laid::Schedule;
use crate::evidence::Sequence;
use crate::evidence::timing::{Hole, Stretch, Timing};
use crate::units::{CivilTime, Micros};

impl Schedule {
    /// When a slot was due: on the grid of the stretch that holds it, or that went on to it. Where the
    /// intervals grow with the exposures an empty slot has its share of the gap after the frame before.
    /// `None` where neither tells.
    pub fn due(&self, evidence: &Sequence, slot: i64) -> Option<CivilTime> {
        let timing = &evidence.timing;
        let on_grid = || stretch_of(timing, slot).and_then(|stretch| on_grid(stretch, slot));
        let in_gap = || hole_of(timing, slot).and_then(|hole| in_gap(evidence, hole, slot));
        if self.law().from_close() { in_gap() } else { on_grid().or_else(in_gap) }
    }

    /// When the slot of a frame was due. Where the intervals grow with the exposures no grid tells; it is as
    /// near to the frame's stamp as the stamps allow.
    pub fn due_of(&self, evidence: &Sequence, at: usize) -> Option<CivilTime> {
        let slot = evidence.frame(at).slot()?;
        if !self.law().from_close() {
            return self.due(evidence, slot);
        }
        let frame = evidence.frame(at);
        Some(frame.moment()?.plus_seconds(-frame.offset_s()?))
    }

    /// When the first slot of a hole was due, as the camera would have stamped it: cut to what the stamps
    /// write.
    pub fn due_as_stamped(&self, evidence: &Sequence, hole: &Hole) -> Option<CivilTime> {
        let step = evidence.timing.written_resolution.max(Micros::ONE);
        let due = self.due(evidence, hole.slot)?;
        Some(due.floored(step))
    }
}

/// The stretch that holds a slot, or whose last frame stands before it.
fn stretch_of(timing: &Timing, slot: i64) -> Option<&Stretch> {
    timing.stretches.get(timing.stretches.partition_point(|s| s.first_slot <= slot).checked_sub(1)?)
}

fn on_grid(stretch: &Stretch, slot: i64) -> Option<CivilTime> {
    let seconds = slot.checked_sub(stretch.first_slot)? as f64 * stretch.interval_s;
    seconds.is_finite().then(|| stretch.phase.plus_seconds(seconds))
}

/// The hole that a slot lies in.
fn hole_of(timing: &Timing, slot: i64) -> Option<&Hole> {
    let hole = timing.holes.get(timing.holes.partition_point(|h| h.slot <= slot).checked_sub(1)?)?;
    (slot.abs_diff(hole.slot) < hole.slots).then_some(hole)
}

/// Its share of the gap.
fn in_gap(evidence: &Sequence, hole: &Hole, slot: i64) -> Option<CivilTime> {
    let share = (slot.abs_diff(hole.slot) as f64 + 1.0) / (hole.slots as f64 + 1.0);
    Some(evidence.frame(hole.before).stamp()?.at.plus_seconds(hole.gap_s * share))
}
