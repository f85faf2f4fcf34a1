//! Which frames a page shows: those around findings, those of the run-through, and a few larger ones.

use super::findings::order;
use super::reel::reel;
use crate::audit::Audit;
use crate::evidence::FrameState;
use crate::finding::{Answer, Severity};
use std::collections::BTreeSet;

/// Larger pictures from head to tail.
pub(crate) const LARGE: usize = 12;
/// Pictures of a contact sheet.
const SHEET: usize = 24;
/// Pictures around findings at most.
const AROUND: usize = 60;
/// Findings of one check that have pictures.
const EACH: usize = 3;

/// Which frames are wanted, by position.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Small ones: around findings, for the run-through and for the contact sheet.
    pub small: BTreeSet<usize>,
    /// Larger ones, from head to tail.
    pub large: BTreeSet<usize>,
}

/// A frame that can be shown.
fn good(audit: &Audit, at: usize) -> bool {
    audit.evidence.frame(at).state() == FrameState::Frame
}

/// The frames around a finding: the two it names, and their neighbours.
pub(crate) fn beside(audit: &Audit, first: usize, last: usize) -> Vec<usize> {
    let run =
        |from: &mut dyn Iterator<Item = usize>| from.take(64).find(|&at| audit.evidence.frame(at).stands());
    let before = run(&mut (0..first).rev());
    let after = run(&mut (last + 1..audit.evidence.frames.len()));
    let mut all: Vec<usize> = before.into_iter().chain([first, last]).chain(after).collect();
    all.dedup();
    all
}

/// The frames around the findings that have pictures.
pub(crate) fn around(audit: &Audit) -> BTreeSet<usize> {
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

/// The frames of a contact sheet.
pub(crate) fn sheet(audit: &Audit) -> Vec<usize> {
    evenly(audit, SHEET)
}

/// So many good frames at most, evenly over the run from the first to the last.
fn evenly(audit: &Audit, most: usize) -> Vec<usize> {
    let run: Vec<usize> = audit.evidence.in_run().filter(|&at| good(audit, at)).collect();
    let last = run.len().saturating_sub(1);
    let steps = most.min(run.len());
    (0..steps).filter_map(|n| run.get(n * last / (steps - 1).max(1)).copied()).collect()
}

/// What the page wants to show.
pub fn wanted(audit: &Audit) -> Wanted {
    let mut small = around(audit);
    small.extend(reel(audit).ticks.into_iter().filter_map(|tick| tick.at));
    small.extend(sheet(audit));
    let large = evenly(audit, LARGE).into_iter().collect();
    Wanted { small, large }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn pictures_are_wanted_around_findings_and_from_head_to_tail() {
        let audit = sample::audit();
        let wanted = wanted(&audit);
        assert_eq!(wanted.large.into_iter().collect::<Vec<_>>(), [1, 2, 3, 4]);
        assert_eq!(around(&audit).into_iter().collect::<Vec<_>>(), [2, 3, 4, 6]);
    }
}
