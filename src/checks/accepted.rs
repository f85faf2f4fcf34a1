//! Which findings the plan's `[[accepted]]` names.

use crate::evidence::Sequence;
use crate::finding::Finding;
use crate::plan::{Accepted, Plan};
use crate::schedule::on_clock;
use crate::units::FrameSpan;

/// Marks the findings of one check that the plan's `[[accepted]]` names.
pub(crate) fn accept(plan: &Plan, evidence: &Sequence, findings: &mut [Finding]) {
    let all: Vec<_> = acceptances(plan, findings, evidence)
        .into_iter()
        .map(|a| a.map(|a| (a.reason.clone(), a.is_unbounded())))
        .collect();
    for (finding, accepted) in findings.iter_mut().zip(all) {
        finding.unbounded = accepted.as_ref().is_some_and(|(_, unbounded)| *unbounded);
        finding.accepted = accepted.map(|(reason, _)| reason);
    }
}

/// From where to where those of the findings of a check stand that are accepted. Where the plan accepts
/// nothing, none is made.
pub(crate) fn agreed_spans(
    plan: &Plan,
    evidence: &Sequence,
    findings: impl Iterator<Item = Finding>,
) -> Vec<FrameSpan> {
    if plan.accepted.is_empty() {
        return Vec::new();
    }
    let findings: Vec<_> = findings.collect();
    let accepted = findings.iter().zip(acceptances(plan, &findings, evidence));
    let spans = accepted.filter_map(|(f, accepted)| accepted.and(f.first.zip(f.last)));
    spans.map(|(first, last)| FrameSpan { first, last }).collect()
}

/// For each finding of a check the acceptance that stands at it, where one does: it names the check, and its
/// moment lies within the finding's, its file is one that the finding names; with neither it stands for every
/// finding of the check. One that names a count stands only where all its findings together speak of no more.
/// Of several the one with bounds is taken.
fn acceptances<'a>(plan: &'a Plan, findings: &[Finding], evidence: &Sequence) -> Vec<Option<&'a Accepted>> {
    let mut all = vec![None; findings.len()];
    let (unbounded, bounded): (Vec<_>, Vec<_>) = plan.accepted.iter().partition(|a| a.is_unbounded());
    for accepted in bounded.into_iter().chain(unbounded) {
        let names = |f: &&Finding| f.check == accepted.check && applies(accepted, f, evidence);
        let found = findings.iter().filter(names).fold(0_u64, |sum, f| sum.saturating_add(f.count));
        if accepted.count.is_some_and(|agreed| found > agreed) {
            continue;
        }
        for (finding, slot) in findings.iter().zip(&mut all) {
            if slot.is_none() && names(&finding) {
                *slot = Some(accepted);
            }
        }
    }
    all
}

fn applies(accepted: &Accepted, finding: &Finding, evidence: &Sequence) -> bool {
    let ends = (finding.first, finding.last);
    let named = |name: &str| [ends.0, ends.1].into_iter().flatten().any(|at| evidence.frame(at).bears(name));
    let by_file = accepted.file.as_deref().map(named);
    let by_time = accepted.at.map(|moment| {
        let stamp = |i: Option<usize>| i.and_then(|i| evidence.frame(i).stamp());
        let (Some(from), Some(to)) = (stamp(ends.0), stamp(ends.1)) else {
            // What names no stamped frames is told on the clock with which the run began.
            let first = evidence.run().find_map(|frame| frame.stamp());
            return finding.at == Some(on_clock(moment, first.and_then(|s| s.offset_min)));
        };
        // A finding between two frames lies anywhere from the one to the other, each known to its window.
        from.at <= on_clock(moment, from.offset_min)
            && on_clock(moment, to.offset_min) < to.at.plus(to.resolution)
    });
    by_file.unwrap_or(true) && by_time.unwrap_or(true)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, every, found};
    use crate::checks::timing::missing_slot;
    use crate::evidence::Cell;
    use crate::plan::forms;

    /// True where a hole from 04:18:10 to 04:18:30 is accepted, on a camera with that offset.
    fn agreed(at: &str, camera_min: Option<i16>) -> bool {
        let mut sketch = Sketch::steady(100, 10.0).without(&[50], false);
        for row in &mut sketch.rows {
            if let Cell::Known(stamp) = &mut row.stamp {
                stamp.offset_min = camera_min;
            }
        }
        let accepted = Accepted {
            check: missing_slot::CHECK.text.id.into(),
            at: Some(forms::moment(at).expect(at)),
            file: None,
            count: None,
            reason: "agreed".into(),
        };
        let plan = Plan { accepted: vec![accepted], ..every(10.0) };
        found(&missing_slot::CHECK, &plan, &sketch.evidence())[0].accepted.is_some()
    }

    #[test]
    fn a_written_offset_counts_where_the_frames_tell_theirs() {
        let own = Some(120);
        for (at, camera_min, is) in [
            ("2026-05-09T04:18:20", own, true),
            ("2026-05-09T04:18:20+02:00", own, true),
            ("2026-05-09T02:18:20Z", own, true),
            ("2026-05-08T21:18:20-05:00", own, true),
            ("2026-05-09T04:18:20Z", own, false),
            ("2026-05-09T04:18:20+01:00", own, false),
            ("2026-05-09T02:18:20Z", None, false),
            ("2026-05-09T04:18:20Z", None, true),
        ] {
            assert_eq!(agreed(at, camera_min), is, "{at} {camera_min:?}");
        }
    }
}
