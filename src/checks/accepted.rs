//! Which findings the plan's `[[accepted]]` names.

use crate::evidence::Evidence;
use crate::finding::Finding;
use crate::plan::{Accepted, Plan};

/// Marks the findings that the plan's `[[accepted]]` names.
pub fn accept(plan: &Plan, evidence: &Evidence, findings: &mut [Finding]) {
    for finding in findings {
        finding.accepted = acceptance(plan, finding, evidence).map(|a| a.reason.clone());
    }
}

/// The acceptance that stands at a finding, where one does: it names the finding's check, and its moment lies within the finding's,
/// its file is one that the finding names; with neither it stands for every finding of the check.
pub fn acceptance<'a>(plan: &'a Plan, finding: &Finding, evidence: &Evidence) -> Option<&'a Accepted> {
    plan.accepted.iter().find(|a| a.check == finding.check && applies(a, finding, evidence))
}

fn applies(accepted: &Accepted, finding: &Finding, evidence: &Evidence) -> bool {
    let ends = (finding.first, finding.last);
    let by_file = accepted.file.as_deref().map(|name| {
        [ends.0, ends.1].into_iter().flatten().any(|i| {
            let path = evidence.frames.path_text(i);
            path == name || path.rsplit('/').next() == Some(name)
        })
    });
    let by_time = accepted.at.map(|moment| {
        let stamp = |i: Option<usize>| i.and_then(|i| evidence.stamp(i));
        let (Some(from), Some(to)) = (stamp(ends.0), stamp(ends.1)) else {
            return finding.at == Some(moment.civil);
        };
        // A finding between two frames lies anywhere from the one to the other, each known to its window.
        from.at <= moment.civil && moment.civil < to.at.plus(to.resolution)
    });
    by_file.unwrap_or(true) && by_time.unwrap_or(true)
}
