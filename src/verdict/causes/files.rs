//! Files that were shot and are not here.

use super::scene::{LikelyCause, Scene, Strength};
use crate::evidence::timing::HoleCause;
use crate::finding::CauseCode;
use crate::units::{counted, counted_as};

pub(super) fn rule(scene: &Scene<'_>) -> Vec<LikelyCause> {
    let lost: Vec<_> =
        scene.evidence.timing.holes.iter().filter(|h| h.cause == HoleCause::FileLost).collect();
    let slots: u64 = lost.iter().map(|h| h.slots).sum();
    if slots == 0 {
        return Vec::new();
    }
    vec![LikelyCause {
        code: CauseCode::new("files-elsewhere"),
        strength: Strength::Sure,
        words: format!(
            "{} shot and {} not in this folder: at {} the file numbers skip by as many as the slots.",
            counted_as(slots, "frame was", "frames were"),
            if slots == 1 { "is" } else { "are" },
            counted(lost.len() as u64, "hole"),
        ),
        remedy: "Do not format the card. Look on the card itself, on a second card, in the bin and in the \
                 other folders.",
        apart: None,
    }]
}
