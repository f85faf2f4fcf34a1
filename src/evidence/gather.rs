//! From the frames to all evidence.

use super::exposure::track;
use super::names::bears;
use super::picture::{self, Pictured};
use super::timing::{Found, Unread, capture_order};
use super::{FrameState, Outside, Sequence, cameras, copies, movement, slots};
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
    let mut states = by_files(&frames, &copies);
    let mut outside = Vec::new();
    between_named(plan, &frames, &mut states, &mut outside);
    cameras::others(&frames, &mut states, &mut outside);
    let exposure = track(&frames, &states);
    let unread = Unread { plan, frames: &frames, exposure: &exposure, basis };
    let Found { timing, states, outside } = unread.timing(states, outside);
    let run: Vec<usize> = (0..states.len()).filter(|at| states[*at].stands()).collect();
    let moves = std::mem::take(&mut frames.moves);
    let movement = movement::track(plan, &frames, &timing, &run, &moves);
    let members = slots::members(plan, &timing, run);
    let pictures = picture::track(plan, Pictured { frames: &frames, exposure: &exposure }, members);
    let below = frames.card.shared_folders();
    Sequence { frames, below, states, copies, outside, timing, exposure, pictures, movement }
}

/// What the files alone tell of each frame: a damaged one, and a copy, which is one too many.
fn by_files(frames: &Frames, copies: &[(usize, usize)]) -> Vec<FrameState> {
    let of = |damaged| if damaged { FrameState::Damaged } else { FrameState::Frame };
    let mut states: Vec<FrameState> = frames.rows.iter().map(|row| of(row.damage.is_some())).collect();
    for (copy, _) in copies {
        states[*copy] = FrameState::Surplus;
    }
    states
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
