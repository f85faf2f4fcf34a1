//! What a followed movement does not show, and why.

use super::common::not_of_the_run;
use crate::evidence::Sequence;
use crate::evidence::movement::MovementTrack;

/// Pictures no wider than this are thumbnails, px; wider ones show smaller steps.
const THUMBNAIL: u32 = 320;

/// Why there is no movement to judge.
pub(crate) const WHY_NOT: &str = "the movement of the pictures was not followed; --movement asks for it";

/// Why what moves evenly does not show the carriage.
pub(crate) const ONLY_DRIFTS: &str = "what moves evenly lies above what hardly moves, and may be clouds or \
                               water that drift by themselves; the carriage moves the picture too little to \
                               be followed";

/// Why the quiet of a picture that hardly moves means nothing; `None` where it moves enough.
pub(crate) fn too_slow(track: &MovementTrack) -> Option<String> {
    track.too_slow().map(|px| {
        let width = track.width;
        let wider = if width <= THUMBNAIL { "; --pictures full follows wider ones" } else { "" };
        format!(
            "the picture moves only {px:.2} px a step (of a small picture {width} px wide): too little \
                 to follow surely{wider}"
        )
    })
}

/// What to add where something is told of a picture that hardly moves; nothing where it moves enough.
pub(crate) fn roughly(track: &MovementTrack) -> String {
    let words = |px| format!("; at {px:.2} px a step where it begins and ends is known only roughly");
    track.too_slow().map_or_else(String::new, words)
}

/// Why a frame was not looked at for movement.
pub(crate) fn not_seen(evidence: &Sequence, track: &MovementTrack, at: usize) -> Option<&'static str> {
    let step = track.steps.partition_point(|s| s.1 < at);
    let beside = track.steps.get(step).is_some_and(|s| s.0 <= at);
    not_of_the_run(evidence, at).or_else(|| (!beside).then_some("no picture to compare"))
}

/// Why nothing in the pictures shows the carriage's steps, or the camera's stand where none travels.
pub(crate) fn nothing_shows(track: &MovementTrack, travels: bool) -> &'static str {
    if travels && track.only_drifts() {
        ONLY_DRIFTS
    } else if travels {
        "nothing in the pictures moves evenly enough to tell one step of the carriage from another"
    } else {
        "nothing in the pictures stands still from frame to frame, and the plan has no rig that travels"
    }
}
