//! Why slots are missing, by the file numbers on both sides.

use crate::evidence::Sequence;
use crate::evidence::timing::{Hole, HoleCause};
use crate::finding::CauseCode;

/// The files are not in this folder.
pub const FILE_LOST: CauseCode = CauseCode::new(HoleCause::FileLost.code());
/// The camera did not fire.
pub const TRIGGER_MISSED: CauseCode = CauseCode::new(HoleCause::TriggerMissed.code());

/// The cause of a hole, in words.
pub(crate) fn cause(evidence: &Sequence, hole: &Hole) -> (CauseCode, String) {
    let usual = evidence.timing.number_advance.unwrap_or(1);
    let words = match (hole.cause, hole.numbers) {
        (HoleCause::TriggerMissed, _) => "the file numbers continue, so the camera never fired".to_owned(),
        (HoleCause::FileLost, _) => {
            "the file numbers skip by the same count, so the files are not in this folder: \
                                     deleted, on another card, or lost"
                .to_owned()
        }
        (HoleCause::Unknown, Some(advance)) => format!(
            "the file numbers advance by {advance}, which fits neither a missed trigger ({usual}) nor lost \
             files ({})",
            usual.saturating_mul(i64::try_from(hole.slots).unwrap_or(i64::MAX).saturating_add(1)),
        ),
        (HoleCause::Unknown, None) => {
            "the file numbers are no evidence here, so a missed trigger and a lost file look the \
                                       same"
                .to_owned()
        }
    };
    let code = match hole.cause {
        HoleCause::TriggerMissed => TRIGGER_MISSED,
        HoleCause::FileLost => FILE_LOST,
        HoleCause::Unknown => CauseCode::new(HoleCause::Unknown.code()),
    };
    (code, words)
}
