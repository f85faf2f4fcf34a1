//! Each slot of the run against its budget: what shutter, camera and rig take of the interval.

use super::laid::Schedule;
use crate::evidence::Evidence;
use crate::evidence::slots::Slots;
use crate::plan::budget::{Budget, Slot};
use crate::units::FrameSpan;

/// What one slot of the run takes.
#[derive(Clone, Copy, Debug)]
pub struct SlotUse {
    /// Its frames.
    pub span: FrameSpan,
    /// Which slot of the run with a frame it is, from 0.
    pub ordinal: usize,
    /// The interval that it is held against: the one in force, else the one that was kept, s.
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
    pub fn exposures_s(&self, evidence: &Evidence) -> Vec<f64> {
        let of_slot = (self.span.first..=self.span.last).filter(|at| evidence.stands(*at));
        of_slot.filter_map(|at| evidence.exposure_s(at)).collect()
    }
}

impl Schedule {
    /// Every slot of the run whose interval and exposures are known, in order. One is held at a time: a
    /// million are no burden.
    pub fn uses<'a>(
        &'a self,
        evidence: &'a Evidence,
        slots: &'a Slots,
    ) -> impl Iterator<Item = SlotUse> + 'a {
        slots.iter().enumerate().filter_map(move |(ordinal, members)| {
            let (first, last) = (*members.first()?, *members.last()?);
            let interval_s = self.interval_s(first)?;
            let budget = *self.budget(first);
            let exact = |at: usize| evidence.exposure_s(at).unwrap_or(f64::NAN);
            let mark = |at: usize| {
                let written = evidence.frames.rows.get(at).and_then(|row| row.exposure_s.known());
                written.filter(|t| t.is_finite() && *t > 0.0).unwrap_or_else(|| exact(at))
            };
            let known = || members.iter().copied().filter(|at| exact(*at).is_finite());
            let begins = known().next()?;
            let longest = |of: &dyn Fn(usize) -> f64| known().map(of).fold(0.0, f64::max);
            Some(SlotUse {
                span: FrameSpan { first, last },
                ordinal,
                interval_s,
                budget,
                exposure_s: (longest(&mark), longest(&exact)),
                first_s: exact(begins),
                taken: (budget.slot(known().map(mark)), budget.slot(known().map(exact))),
            })
        })
    }
}
