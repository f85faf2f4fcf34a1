//! Findings on frames that may be none of the run: they are told, and no more than a look is asked for.

use super::common::HANDFUL;
use super::exposure::exposure_jump;
use super::picture::flash_risk;
use crate::evidence::Sequence;
use crate::finding::{Finding, Severity};
use crate::plan::Plan;
use crate::units::FrameSpan;

/// Makes a caution of each fault that lies among frames at an end that may be shots beside the run: were
/// they, it would be none.
pub(crate) fn weigh_down(plan: &Plan, evidence: &Sequence, findings: &mut [Finding]) {
    let mut spans = evidence.perhaps_beside();
    let jumps = findings.first().is_some_and(|f| f.check == exposure_jump::CHECK.text.id);
    if let (true, None, None, Some((first, last))) = (jumps, plan.frames, plan.run_s, ends(evidence)) {
        spans.push(FrameSpan { first, last: first + HANDFUL });
        spans.push(FrameSpan { first: last.saturating_sub(HANDFUL), last });
    }
    // What may hurt a viewer is no less of a risk for being in doubt.
    let weighed = |f: &&mut Finding| f.severity == Severity::Fault && f.check != flash_risk::CHECK.text.id;
    for finding in findings.iter_mut().filter(weighed) {
        let (Some(first), Some(last)) = (finding.first, finding.last) else { continue };
        if spans.iter().any(|s| s.first <= first && last <= s.last) {
            finding.severity = Severity::Caution;
            if !finding.both_ways {
                finding.message.push_str(" The frames there may be shots beside the run.");
            }
        }
    }
}

/// The first and the last frame of a run that is longer than its ends.
fn ends(evidence: &Sequence) -> Option<(usize, usize)> {
    let (first, last) = (evidence.in_run().next()?, evidence.in_run().last()?);
    (last - first > 4 * HANDFUL).then_some((first, last))
}
