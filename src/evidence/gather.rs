//! From the frames to all evidence.

use super::exposure::track;
use super::names::bears;
use super::picture::{self, PictureTrack};
use super::timing::{Found, capture_order, timing};
use super::{FrameState, Outside, Sequence, cameras, copies, movement};
use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::FrameSpan;

/// Why frames before the plan's `first` are outside.
pub const BEFORE_FIRST: &str = "before the plan's first frame";
/// Why frames after the plan's `last` are outside.
pub const AFTER_LAST: &str = "after the plan's last frame";

/// Puts the frames in capture order and reads what they say together.
pub fn gather(plan: &Plan, mut frames: Frames) -> Sequence {
    let (order, basis) = capture_order(&frames);
    frames.reorder(&order);
    let copies = copies::find(&frames);
    let mut states = vec![FrameState::Frame; frames.len()];
    for (at, row) in frames.rows.iter().enumerate() {
        if row.damage.is_some() {
            states[at] = FrameState::Damaged;
        }
    }
    for (copy, _) in &copies {
        states[*copy] = FrameState::Surplus;
    }
    let mut outside = Vec::new();
    between_named(plan, &frames, &mut states, &mut outside);
    cameras::others(&frames, &mut states, &mut outside);
    let exposure = track(&frames, &states);
    let Found { timing, states, outside } = timing(plan, &frames, &exposure, basis, states, outside);
    let run: Vec<usize> = (0..states.len())
        .filter(|&at| matches!(states[at], FrameState::Frame | FrameState::Damaged))
        .collect();
    let moves = std::mem::take(&mut frames.moves);
    let movement = movement::track(plan, &frames, &timing, &run, &moves);
    let pictures = PictureTrack::default();
    let mut evidence = Sequence { frames, states, copies, outside, timing, exposure, pictures, movement };
    evidence.pictures = picture::track(plan, &evidence);
    evidence
}

/// Frames before the plan's `first` and after its `last` are outside.
fn between_named(plan: &Plan, frames: &Frames, states: &mut [FrameState], outside: &mut Vec<Outside>) {
    let find = |name: &str| (0..frames.len()).find(|&at| bears(frames, at, name));
    let mut put = |span: Option<FrameSpan>, why: &str| {
        if let Some(span) = span {
            states[span.first..=span.last].fill(FrameState::Outside);
            outside.push(Outside { span, why: why.into() });
        }
    };
    if let Some(at) = plan.first.as_deref().and_then(find) {
        put(at.checked_sub(1).map(|last| FrameSpan { first: 0, last }), BEFORE_FIRST);
    }
    if let Some(at) = plan.last.as_deref().and_then(find) {
        let last = frames.len() - 1;
        put((at < last).then_some(FrameSpan { first: at + 1, last }), AFTER_LAST);
    }
}
