//! Which frames a page shows: those around findings, those of the run-through, and a few larger ones.

use super::findings::order;
use super::lines::{self, Line};
use crate::audit::Audit;
use crate::evidence::FrameState;
use crate::finding::{Answer, Severity};
use std::collections::BTreeSet;

/// Pictures of the run-through at most.
pub const REEL: usize = 240;
/// Larger pictures from head to tail.
pub const LARGE: usize = 12;
/// Pictures around findings at most.
const AROUND: usize = 60;
/// Findings of one check that have pictures.
const EACH: usize = 3;

/// One picture of the run-through: a frame, or a slot that holds none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tick {
    /// The frame; `None` for a missing slot.
    pub at: Option<usize>,
    /// The slot, where it is known.
    pub slot: Option<i64>,
}

/// Which frames are wanted, by position.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Small ones: around findings, and for the run-through.
    pub small: BTreeSet<usize>,
    /// Larger ones, from head to tail.
    pub large: BTreeSet<usize>,
}

/// A frame that can be shown.
fn good(audit: &Audit, at: usize) -> bool {
    audit.evidence.frame(at).state() == FrameState::Frame
}

/// The slots of the run, frames and missing ones, thinned evenly to [`REEL`] of them; and of how many each
/// stands for one. Which of them stands for its neighbours changes from one to the next: every other slot
/// missing is not all of them or none.
pub fn reel(audit: &Audit) -> (Vec<Tick>, u64) {
    let units = |line: &Line<'_>| match line {
        Line::Frame(at) => u64::from(audit.evidence.frame(*at).stands()),
        Line::Hole(hole) => hole.slots,
    };
    let total = lines::lines(audit).fold(0_u64, |sum, line| sum.saturating_add(units(&line)));
    let every = total.div_ceil(REEL as u64).max(1);
    let (mut ticks, mut unit, mut due) = (Vec::new(), 0_u64, 0_u64);
    let mut n = 0_u64;
    for line in lines::lines(audit) {
        let after = unit.saturating_add(units(&line));
        while due < after {
            ticks.push(match line {
                Line::Frame(at) => Tick { at: Some(at), slot: audit.evidence.frame(at).slot() },
                Line::Hole(hole) => Tick { at: None, slot: hole.slot.checked_add_unsigned(due - unit) },
            });
            n += 1;
            let Some(next) = n.checked_mul(every).and_then(|d| d.checked_add(n % every)) else {
                return (ticks, every);
            };
            due = next;
        }
        unit = after;
    }
    (ticks, every)
}

/// The frames around a finding: the two it names, and their neighbours.
pub fn beside(audit: &Audit, first: usize, last: usize) -> Vec<usize> {
    let run =
        |from: &mut dyn Iterator<Item = usize>| from.take(64).find(|&at| audit.evidence.frame(at).stands());
    let before = run(&mut (0..first).rev());
    let after = run(&mut (last + 1..audit.evidence.frames.len()));
    let mut all: Vec<usize> = before.into_iter().chain([first, last]).chain(after).collect();
    all.dedup();
    all
}

/// The frames around the findings that have pictures.
pub fn around(audit: &Audit) -> BTreeSet<usize> {
    let mut all = BTreeSet::new();
    for judgement in &audit.judgements {
        let Answer::Found(found) = &judgement.answer else { continue };
        let mut found: Vec<_> = found.iter().filter(|f| f.severity > Severity::Note).collect();
        found.sort_by(|a, b| order(a, b));
        for finding in found.into_iter().take(EACH) {
            let (Some(first), Some(last)) = (finding.first, finding.last) else { continue };
            if all.len() < AROUND {
                all.extend(beside(audit, first, last));
            }
        }
    }
    all
}

/// What the page wants to show.
pub fn wanted(audit: &Audit) -> Wanted {
    let mut small = around(audit);
    small.extend(reel(audit).0.into_iter().filter_map(|tick| tick.at));
    let run: Vec<usize> = audit.evidence.in_run().filter(|&at| good(audit, at)).collect();
    let last = run.len().saturating_sub(1);
    let steps = LARGE.min(run.len());
    let large = (0..steps).filter_map(|n| run.get(n * last / (steps - 1).max(1)).copied()).collect();
    Wanted { small, large }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn the_reel_holds_frames_and_missing_slots_in_their_order() {
        let audit = sample::audit();
        let (ticks, every) = reel(&audit);
        let at: Vec<_> = ticks.iter().map(|t| t.at).collect();
        assert_eq!((at, every), (vec![Some(1), Some(2), Some(3), None, None, Some(4), Some(6)], 1));
        assert_eq!(ticks[3].slot, Some(3));
    }

    #[test]
    fn it_is_thinned_and_ends() {
        let mut audit = sample::audit();
        audit.evidence.timing.holes[0].slots = 10_000;
        let (ticks, every) = reel(&audit);
        assert!(ticks.len() <= REEL && every == 10_005_u64.div_ceil(REEL as u64));
        audit.evidence.timing.holes[0].slots = u64::MAX - 2;
        assert!(reel(&audit).0.len() <= REEL + 1);
    }

    #[test]
    fn every_other_slot_missing_is_seen_as_that() {
        let mut audit = sample::audit();
        let hole = audit.evidence.timing.holes[0].clone();
        // 1 + 500 · (1 missing + 1 frame), by holes alone before the same frames.
        audit.evidence.timing.holes = (0..2)
            .map(|n| crate::evidence::timing::Hole {
                slots: 500,
                before: 3 + n,
                after: 4 + 2 * n,
                ..hole.clone()
            })
            .collect();
        let (ticks, every) = reel(&audit);
        let units: u64 = 5 + 1000;
        assert_eq!(every, units.div_ceil(REEL as u64));
        let slots: Vec<_> = ticks.iter().filter_map(|t| t.slot).collect();
        assert!(slots.windows(2).any(|w| (w[1] - w[0]) % 2 != 0), "both parities are met: {slots:?}");
    }

    #[test]
    fn pictures_are_wanted_around_findings_and_from_head_to_tail() {
        let audit = sample::audit();
        let wanted = wanted(&audit);
        assert_eq!(wanted.large.into_iter().collect::<Vec<_>>(), [1, 2, 3, 4]);
        assert_eq!(around(&audit).into_iter().collect::<Vec<_>>(), [2, 3, 4, 6]);
    }
}
