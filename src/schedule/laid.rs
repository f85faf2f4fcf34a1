//! The schedule itself: each part of the plan where it lies on the run, and what is in force at a frame.

use super::begins::begins;
use super::length;
use super::misfit::Misfit;
use crate::evidence::timing::TimerLaw;
use crate::evidence::{FrameState, Sequence, slots};
use crate::plan::budget::Budget;
use crate::plan::{Asked, DeliveryPlan, Plan};

/// A part of the plan where it lies on the run.
#[derive(Clone, Debug, PartialEq)]
struct Laid {
    /// Position of the first frame that it holds for.
    from: usize,
    asked: Asked,
    budget: Budget,
    /// True where it names an interval.
    paced: bool,
}

/// The plan laid on the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// In order; the first holds from position 0 on.
    parts: Vec<Laid>,
    misfit: Option<Misfit>,
    law: TimerLaw,
    planned_s: Option<f64>,
    kept_s: Option<f64>,
    told_s: Option<f64>,
    members: usize,
    slots_asked: Option<u64>,
    delivery: DeliveryPlan,
}

impl Schedule {
    /// Lays the plan on the run: its parts by the number of the frame, by its stamp or its name. Where
    /// another interval was meant than the plan says, that one is in force; under another number of exposures
    /// a slot none is.
    pub fn of(plan: &Plan, evidence: &Sequence) -> Self {
        let cadence = evidence.timing.cadence.as_ref();
        let law = cadence.map_or(TimerLaw::Unknown, |c| c.law);
        let misfit = Misfit::of(plan, evidence);
        let interval_s = match misfit {
            Some(Misfit::Interval { set_s, .. }) => Some(set_s),
            Some(Misfit::Exposures { .. }) => None,
            None => plan.interval_s,
        };
        let laid = |from, asked: Asked, paced| {
            let mut budget = Budget::of_asked(plan, &asked);
            budget.from_close = law.from_close() || (asked.interval_s.is_some() && plan.from_close());
            Laid { from, asked, budget, paced }
        };
        let mut parts = vec![laid(0, Asked { interval_s, ..plan.asked() }, plan.interval_s.is_some())];
        let mut begun: Vec<_> =
            plan.parts.iter().filter_map(|part| Some((begins(&part.from, evidence)?, part))).collect();
        begun.sort_by_key(|(from, _)| *from);
        for (from, part) in begun {
            let asked = parts[parts.len() - 1].asked.then(part);
            parts.push(laid(from, asked, part.interval_s.is_some()));
        }
        Self {
            parts,
            misfit,
            law,
            planned_s: plan.interval_s,
            kept_s: cadence.map(|c| c.interval_s),
            told_s: cadence.map(|c| {
                let within = |s: &f64| (c.low_s..=c.high_s).contains(s);
                plan.interval_s.filter(within).unwrap_or(c.interval_s)
            }),
            members: slots::bracket(plan, &evidence.timing),
            slots_asked: length::slots_asked(plan, evidence),
            delivery: plan.delivery.clone(),
        }
    }

    /// What is asked of the frame at that position.
    pub fn at(&self, at: usize) -> &Asked {
        &self.laid(at).asked
    }

    /// What follows each exposure of the frame at that position. It counts from shutter close where the
    /// stamps show that, or the plan says so.
    pub fn budget(&self, at: usize) -> &Budget {
        &self.laid(at).budget
    }

    /// The interval that the frame at that position is compared with, s: the one in force, else the one that
    /// was kept. `None` without either.
    pub fn interval_s(&self, at: usize) -> Option<f64> {
        self.at(at).interval_s.or(self.kept_s).filter(|s| *s > 0.0)
    }

    /// The interval that was kept, as it is told, s: the planned one where the stamps allow it, because a
    /// figure finer than its bounds would tell more than is known. `None` without a grid.
    pub fn told_s(&self) -> Option<f64> {
        self.told_s
    }

    /// True where a part begins after `before` and not after `after`: what changes there changes on purpose.
    pub fn begins_between(&self, before: usize, after: usize) -> bool {
        self.index(before) != self.index(after)
    }

    /// Positions at which the plan changes the interval, in order.
    pub fn changes_of_interval(&self) -> impl Iterator<Item = usize> + '_ {
        self.parts.iter().skip(1).filter(|laid| laid.paced).map(|laid| laid.from)
    }

    /// The intervals that the plan asks for, s, each with the position from which on it holds, in order: as
    /// they are written, whatever was meant.
    pub fn intervals_asked(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        let first = self.planned_s.map(|s| (0, s));
        let others = self.parts.iter().skip(1).filter(|laid| laid.paced);
        first.into_iter().chain(others.filter_map(|laid| Some((laid.from, laid.asked.interval_s?))))
    }

    /// Where plan and card do not belong together; `None` where they do.
    pub fn misfit(&self) -> Option<&Misfit> {
        self.misfit.as_ref()
    }

    /// What the timer counts from, as the stamps show it.
    pub fn law(&self) -> TimerLaw {
        self.law
    }

    /// Exposures in each slot: what the plan says, else what the stamps tell, else 1.
    pub fn members(&self) -> usize {
        self.members
    }

    /// Slots that the plan asks for; `None` where it does not tell.
    pub fn slots_asked(&self) -> Option<u64> {
        self.slots_asked
    }

    /// Slots of the run, empty ones included. Where the card holds another number of exposures a slot than
    /// the plan says, and where no grid tells, they are counted off by their exposures, and empty ones are
    /// not among them.
    pub fn slots_shot(&self, evidence: &Sequence) -> u64 {
        if let Some(Misfit::Exposures { shot, .. }) = self.misfit {
            let outside = evidence.count(FrameState::Outside);
            return (evidence.len() as u64 - outside).div_ceil(shot.max(1) as u64);
        }
        let counted_off = || (evidence.in_run().count() as u64).div_ceil(self.members as u64);
        evidence.timing.slot_count.unwrap_or_else(counted_off)
    }

    /// What the delivery asks for.
    pub fn delivery(&self) -> &DeliveryPlan {
        &self.delivery
    }

    fn laid(&self, at: usize) -> &Laid {
        // Positions before the first part are held by the plan itself, which begins at 0.
        &self.parts[self.index(at)]
    }

    fn index(&self, at: usize) -> usize {
        self.parts.partition_point(|laid| laid.from <= at).saturating_sub(1)
    }
}
