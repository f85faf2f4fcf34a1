//! Frames of the run by slot: one each, or the members of a bracket.

use crate::evidence::Evidence;
use crate::plan::Plan;
use crate::units::FrameSpan;

/// Exposures in each slot: what the plan says, else what the stamps tell, else 1.
pub fn bracket(plan: &Plan, evidence: &Evidence) -> usize {
    let told = || evidence.timing.bracket.as_ref().map(|b| b.size);
    plan.bracket.and_then(|b| usize::try_from(b).ok()).or_else(told).unwrap_or(1).max(1)
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
pub fn by_slot(plan: &Plan, evidence: &Evidence) -> Slots {
    let bracket = bracket(plan, evidence);
    let run: Vec<usize> = evidence.in_run().collect();
    let mut starts = Vec::with_capacity(run.len() / bracket + 1);
    let mut held = 0;
    for (k, at) in run.iter().enumerate() {
        let slot = evidence.timing.slot(*at);
        let with_last = k > 0 && (slot.is_none() || evidence.timing.slot(run[k - 1]) == slot);
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
pub fn by_member(plan: &Plan, evidence: &Evidence) -> Vec<Vec<usize>> {
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

/// Sets of a bracket that have another number of exposures than the others, where there are brackets: the size of a whole
/// set, and the frames of each.
pub fn incomplete(evidence: &Evidence) -> impl Iterator<Item = (usize, FrameSpan)> + '_ {
    let bracket = evidence.timing.bracket.as_ref();
    bracket.into_iter().flat_map(|b| b.incomplete.iter().map(|span| (b.size, *span)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::Sketch;

    #[test]
    fn brackets_are_kept_together() {
        let mut sketch = Sketch::steady(6, 10.0);
        sketch.slots = vec![0, 0, 0, 1, 1, 2];
        let evidence = sketch.evidence();
        let plan = Plan { bracket: Some(3), ..Plan::default() };
        let slots: Vec<_> = by_slot(&plan, &evidence).iter().map(<[usize]>::to_vec).collect();
        assert_eq!(slots, [vec![0, 1, 2], vec![3, 4], vec![5]]);
        assert_eq!(by_member(&plan, &evidence), [vec![0], vec![1], vec![2]]);
        assert_eq!(by_slot(&Plan::default(), &evidence).iter().count(), 6);
    }
}
