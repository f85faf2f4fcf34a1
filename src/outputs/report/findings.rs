//! The findings as they are told: their order, when each was, and the cause that its sentence does not say.

use crate::audit::Audit;
use crate::finding::Finding;
use crate::units::CivilTime;
use std::cmp::{Ordering, Reverse};

/// The order in which findings of one check are told: what was agreed to comes last, the weightiest and
/// largest first; among equals the order of capture stands.
pub(crate) fn order(a: &Finding, b: &Finding) -> Ordering {
    let weight = |f: &Finding| (f.accepted.is_some(), Reverse((f.severity, f.count)));
    weight(a).cmp(&weight(b)).then_with(|| b.size().total_cmp(&a.size()))
}

/// When a finding was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum When {
    /// From one stamp to another.
    Span(CivilTime, CivilTime),
    /// At one moment.
    At(CivilTime),
    /// Nothing tells.
    Untold,
}

/// From the stamp of its first frame to that of its last, where they differ; else its own moment.
pub(crate) fn when(audit: &Audit, finding: &Finding) -> When {
    let stamp = |at: Option<usize>| audit.evidence.frame(at?).moment();
    match (stamp(finding.first), stamp(finding.last)) {
        (Some(first), Some(last)) if first != last => When::Span(first, last),
        _ => finding.at.map_or(When::Untold, When::At),
    }
}

/// The words of its cause, where its sentence does not say them already.
pub(crate) fn cause(finding: &Finding) -> Option<&str> {
    let words = finding.cause.as_ref()?.words.as_str();
    (!words.is_empty() && !finding.message.contains(words.trim_end_matches('.'))).then_some(words)
}

/// How many findings of a check are not told here, and what they count.
pub(crate) fn more_words(more: usize, counted: u64) -> String {
    let these = if more == 1 { "this" } else { "these" };
    match counted == more as u64 {
        true => format!("{more} more like {these}; each in findings.csv."),
        false => {
            format!("{more} more like {these}, with a count of {counted} together; each in findings.csv.")
        }
    }
}
