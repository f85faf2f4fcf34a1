//! Each slot of the run against its budget: what shutter, camera and rig take of the interval.

use super::laid::Schedule;
use crate::evidence::slots::Slots;
use crate::evidence::{FrameView, Sequence};
use crate::plan::budget::{Budget, Slot};
use crate::units::FrameSpan;

/// What one slot of the run takes.
#[derive(Clone, Copy, Debug)]
pub struct SlotUse {
    /// Its frames.
    pub span: FrameSpan,
    /// Which slot of the run with a frame it is, from 0.
    pub ordinal: usize,
    /// The interval that it is compared with: the one in force, else the one that was kept, s.
    pub interval_s: f64,
    /// What is in force there.
    pub budget: Budget,
    /// The longest exposure of the slot as marked and as exact, s.
    pub exposure_s: (f64, f64),
    /// The exposure with which it begins, exact, s.
    pub first_s: f64,
    /// What it takes by the marks and by the exact exposures.
    pub taken: (Slot, Slot),
}

impl SlotUse {
    /// Its exposures, exact, s, in order; those that are not known are left out.
    pub fn exposures_s(&self, evidence: &Sequence) -> Vec<f64> {
        let of_slot = (self.span.first..=self.span.last).filter(|at| evidence.frame(*at).stands());
        of_slot.filter_map(|at| evidence.frame(at).exposure_s()).collect()
    }
}

impl Schedule {
    /// Every slot of the run whose interval and exposures are known, in order. One is held at a time: a
    /// million are no burden.
    pub fn uses<'a>(
        &'a self,
        evidence: &'a Sequence,
        slots: &'a Slots,
    ) -> impl Iterator<Item = SlotUse> + 'a {
        slots.iter().enumerate().filter_map(move |(ordinal, members)| {
            let (first, last) = (*members.first()?, *members.last()?);
            let interval_s = self.interval_s(first)?;
            let budget = *self.budget(first);
            let exact = || members.iter().filter_map(|at| evidence.frame(*at).exposure_s());
            let marks = || members.iter().filter_map(|at| marked_s(evidence.frame(*at)));
            let first_s = exact().next()?;
            Some(SlotUse {
                span: FrameSpan { first, last },
                ordinal,
                interval_s,
                budget,
                exposure_s: (marks().fold(0.0, f64::max), exact().fold(0.0, f64::max)),
                first_s,
                taken: (budget.slot(marks()), budget.slot(exact())),
            })
        })
    }
}

/// The exposure time of a frame as marked, else as exact, s; `None` where the exact one is not known.
fn marked_s(frame: FrameView<'_>) -> Option<f64> {
    let exact_s = frame.exposure_s()?;
    Some(frame.marked_s().unwrap_or(exact_s))
}
