//! Frames of the run by slot: one each, or the members of a bracket.

use super::Sequence;
use crate::plan::Plan;

/// Exposures in each slot: what the plan says, else what the stamps tell, else 1.
pub fn bracket(plan: &Plan, evidence: &Sequence) -> usize {
    let told = || evidence.timing.bracket.as_ref().map(|b| b.size);
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

/// The frames of the run, each slot's together. Without a bracket every frame stands alone. Frames without a
/// slot are counted off by the bracket.
pub fn by_slot(plan: &Plan, evidence: &Sequence) -> Slots {
    let bracket = bracket(plan, evidence);
    let run: Vec<usize> = evidence.in_run().collect();
    let mut starts = Vec::with_capacity(run.len() / bracket + 1);
    let mut held = 0;
    for (k, at) in run.iter().enumerate() {
        let slot = evidence.frame(*at).slot();
        let with_last = k > 0 && (slot.is_none() || evidence.frame(run[k - 1]).slot() == slot);
        if with_last && held < bracket {
            held += 1;
        } else {
            starts.push(k);
            held = 1;
        }
    }
    Slots { run, starts }
}

/// The members of each whole slot in turn: all the first ones, all the second ones, and so on. They are compared with their like.
pub fn by_member(plan: &Plan, evidence: &Sequence) -> Vec<Vec<usize>> {
    let bracket = bracket(plan, evidence);
    if bracket == 1 {
        return vec![evidence.in_run().collect()];
    }
    // A set that lacks a member does not tell which: its frames are compared with nothing.
    let slots = by_slot(plan, evidence);
    let whole = || slots.iter().filter(|of| of.len() == bracket);
    let most = if whole().next().is_some() { bracket } else { 0 };
    (0..most).map(|member| whole().filter_map(|of| of.get(member).copied()).collect()).collect()
}
