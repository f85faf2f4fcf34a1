//! What the call was made from, and why it is what it is.

use crate::audit::Audit;
use crate::finding::{Answer, Quality, Severity};
use crate::frames::Pictures;

/// One reason for the call: a check's first, and how many more it has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Why<'a> {
    /// Id of the check.
    pub check: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// In words, one sentence.
    pub words: &'a str,
    /// How many more of this check weigh as much.
    pub more: usize,
}

/// What the call was made from, where it is not everything: said beside its word.
pub fn limited_to(audit: &Audit) -> Option<&'static str> {
    let looks = &audit.evidence.frames.looks;
    let unseen = !looks.is_empty() && looks.iter().all(Option::is_none);
    (audit.pictures == Pictures::None || unseen).then_some("timing and settings only")
}

/// True where the plan says how long the run was to be, so that its end was held against something.
pub fn end_known(audit: &Audit) -> bool {
    let of_length = audit.judgements.iter().find(|j| j.text.traits.quality == Some(Quality::Run));
    of_length.is_some_and(|j| !matches!(j.answer, Answer::CannotJudge(_)))
}

/// Each check and severity once, in the order of the reasons.
pub fn reasons(audit: &Audit) -> Vec<Why<'_>> {
    let mut all: Vec<Why<'_>> = Vec::new();
    for reason in &audit.verdict.reasons {
        match all.iter_mut().find(|w| (w.check, w.severity) == (reason.check, reason.severity)) {
            Some(one) => one.more += 1,
            None => {
                let words = reason.words.as_str();
                all.push(Why { check: reason.check, severity: reason.severity, words, more: 0 });
            }
        }
    }
    all
}
