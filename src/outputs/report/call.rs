//! What the call was made from.

use crate::audit::Audit;
use crate::finding::{Answer, Quality};
use crate::frames::Pictures;
use crate::verdict::Call;

/// What the call was made from, where it is not everything: said beside its word.
pub(crate) fn limited_to(audit: &Audit) -> Option<&'static str> {
    let looks = &audit.evidence.frames.looks;
    let unseen = !looks.is_empty() && looks.iter().all(Option::is_none);
    (audit.pictures == Pictures::None || unseen).then_some("timing and settings only")
}

/// What a call means for who stands beside the rig.
pub(crate) const fn meaning(call: Call) -> &'static str {
    match call {
        Call::Clear => "Strike the rig.",
        Call::Look => "Check these before you strike.",
        Call::Hold => "Don't strike yet. Keep the card as it is.",
    }
}

/// True where the plan says how long the run was to be, so that its end was compared with something.
pub(crate) fn end_known(audit: &Audit) -> bool {
    let of_length = audit.judgements.iter().find(|j| j.text.traits.quality == Some(Quality::Run));
    of_length.is_some_and(|j| !matches!(j.answer, Answer::CannotJudge(_)))
}
