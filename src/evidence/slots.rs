//! Frames of the run by slot: one each, or the members of a bracket.

use super::Sequence;
use super::timing::Timing;
use crate::plan::Plan;

/// Exposures in each slot: what the plan says, else what the stamps tell, else 1.
pub fn bracket(plan: &Plan, timing: &Timing) -> usize {
    let told = || timing.bracket.as_ref().map(|b| b.size);
    plan.bracket.map(|_| plan.members() as usize).or_else(told).unwrap_or(1).max(1)
}

/// The frames of the run, each slot's together.
pub struct Slots {
    run: Vec<usize>,
    starts: Vec<usize>,
}

impl Slots {
    /// Each slot's frames, in order.
    pub fn iter(&self) -> impl Iterator<Item = &[usize]> {
        let ends = self.starts.iter().skip(1).copied().chain([self.run.len()]);
        self.starts.iter().zip(ends).filter_map(|(&start, end)| self.run.get(start..end))
    }
}

impl Slots {
    /// Of the frames of a run, in capture order.
    fn of(plan: &Plan, timing: &Timing, run: Vec<usize>) -> Self {
        let bracket = bracket(plan, timing);
        let mut starts = Vec::with_capacity(run.len() / bracket + 1);
        let mut held = 0;
        for (k, at) in run.iter().enumerate() {
            let slot = timing.standing.slot(*at);
            let with_last = k > 0 && (slot.is_none() || timing.standing.slot(run[k - 1]) == slot);
            if with_last && held < bracket {
                held += 1;
            } else {
                starts.push(k);
                held = 1;
            }
        }
        Self { run, starts }
    }
}

/// The frames of the run, each slot's together. Without a bracket every frame stands alone. Frames without a
/// slot are counted off by the bracket.
pub fn by_slot(plan: &Plan, evidence: &Sequence) -> Slots {
    Slots::of(plan, &evidence.timing, evidence.in_run().collect())
}

/// The members of each whole slot in turn: all the first ones, all the second ones, and so on. They are
/// compared with their like.
pub fn by_member(plan: &Plan, evidence: &Sequence) -> Vec<Vec<usize>> {
    members(plan, &evidence.timing, evidence.in_run().collect())
}

/// The same of the frames of a run whose sequence is not whole yet.
pub(super) fn members(plan: &Plan, timing: &Timing, run: Vec<usize>) -> Vec<Vec<usize>> {
    let bracket = bracket(plan, timing);
    if bracket == 1 {
        return vec![run];
    }
    // A set that lacks a member does not tell which: its frames are compared with nothing.
    let slots = Slots::of(plan, timing, run);
    let whole = || slots.iter().filter(|of| of.len() == bracket);
    let most = if whole().next().is_some() { bracket } else { 0 };
    (0..most).map(|member| whole().filter_map(|of| of.get(member).copied()).collect()).collect()
}
