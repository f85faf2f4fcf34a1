//! Each slot of the run against the plan's budget: what shutter, camera and rig take of the interval. `shutter-overrun` and `move-clash`
//! both read it here.

use super::Case;
use super::parts::{Parts, from_close};
use super::slots::Slots;
use crate::evidence::Evidence;
use crate::evidence::timing::TimerLaw;
use crate::plan::budget::{Budget, Slot};
use crate::units::FrameSpan;

/// One slot of the run.
#[derive(Clone, Copy, Debug)]
pub struct SlotUse {
    /// Its frames.
    pub span: FrameSpan,
    /// Which slot of the run with a frame it is, from 0.
    pub ordinal: usize,
    /// The interval that it is held against: the plan's, else the cadence's, s.
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

/// The interval that a frame is held against, s.
pub fn interval(evidence: &Evidence, parts: &Parts, at: usize) -> Option<f64> {
    let cadence = evidence.timing.cadence.as_ref().map(|c| c.interval_s);
    parts.at(at).interval_s.or(cadence).filter(|s| *s > 0.0)
}

/// True where the frame tells its exposure time.
pub fn timed(evidence: &Evidence, at: usize) -> bool {
    evidence.exposure.settings.get(at).is_some_and(|s| s.time_s.is_finite())
}

/// Every slot of the run whose interval and exposures are known, in order. One is held at a time: a million are no burden.
pub fn uses<'a>(
    case: &'a Case<'_>,
    parts: &'a Parts,
    slots: &'a Slots,
) -> impl Iterator<Item = SlotUse> + 'a {
    let evidence = case.evidence;
    let law = evidence.timing.cadence.as_ref().map(|c| c.law);
    let counts_from_close = matches!(law, Some(TimerLaw::Close | TimerLaw::CloseDarkFrame));
    // The budget changes only where a part begins.
    let mut held: Option<(usize, Budget)> = None;
    slots.iter().enumerate().filter_map(move |(ordinal, members)| {
        let (first, last) = (*members.first()?, *members.last()?);
        let interval_s = interval(evidence, parts, first)?;
        let asked = parts.at(first);
        let budget = match held.filter(|(from, _)| *from == asked.from) {
            Some((_, budget)) => budget,
            None => {
                let mut budget = Budget::of(case.plan, &asked.exposure);
                let planned = asked.interval_s.is_some();
                budget.from_close = counts_from_close || (planned && from_close(case.plan));
                held = Some((asked.from, budget));
                budget
            }
        };
        let exact = |at: usize| evidence.exposure.settings.get(at).map_or(f64::NAN, |s| s.time_s);
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
