//! Frames of the run by slot, as the checks ask for them.

use crate::evidence::Sequence;
use crate::units::FrameSpan;

pub(crate) use crate::evidence::slots::{Slots, by_member, by_slot};

/// Sets of a bracket that have another number of exposures than the others, where there are brackets: the
/// size of a whole set, and the frames of each.
pub(crate) fn incomplete(evidence: &Sequence) -> impl Iterator<Item = (usize, FrameSpan)> + '_ {
    let bracket = evidence.timing.bracket.as_ref();
    bracket.into_iter().flat_map(|b| b.incomplete.iter().map(|span| (b.size, *span)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::Sketch;
    use crate::plan::Plan;

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
