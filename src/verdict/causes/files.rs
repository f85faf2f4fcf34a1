//! Files that were shot and are not here.

use super::scene::{Explanation, LikelyCause, Scene, Strength};
use crate::checks::timing::missing_slot;
use crate::evidence::timing::HoleCause;
use crate::finding::CauseCode;
use crate::units::{counted, counted_as};

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    let lost: Vec<_> =
        scene.evidence.timing.holes.iter().filter(|h| h.cause == HoleCause::FileLost).collect();
    let slots: u64 = lost.iter().map(|h| h.slots).sum();
    if slots == 0 {
        return Vec::new();
    }
    let sentence = format!(
        "After {}, {} shot and {} not in this folder: the file numbers skip by as many.",
        scene.when(lost[0].before),
        counted_as(slots, "frame was", "frames were"),
        if slots == 1 { "is" } else { "are" },
    );
    let told = missing_slot::FILE_LOST;
    let of = scene.which(&missing_slot::CHECK, |f| f.cause.as_ref().is_some_and(|c| c.code == told));
    let to_do = "Do not format the card: look on it, on a second card, in the bin and in the other folders.";
    let cause = LikelyCause {
        code: CauseCode::new("files-elsewhere"),
        strength: Strength::Sure,
        words: format!(
            "{} shot and {} not in this folder: at {} the file numbers skip by as many as the slots.",
            counted_as(slots, "frame was", "frames were"),
            if slots == 1 { "is" } else { "are" },
            counted(lost.len() as u64, "hole"),
        ),
        remedy: to_do.into(),
        apart: None,
    };
    vec![cause.tells(sentence, to_do, of)]
}
