//! From the frames to all evidence.

use super::exposure::track;
use super::timing::{Found, capture_order, timing};
use super::{Cell, Evidence, FrameState, Outside, copies};
use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::FrameSpan;

/// Puts the frames in capture order and reads what they say together.
pub fn gather(plan: &Plan, mut frames: Frames) -> Evidence {
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
    other_cameras(&frames, &mut states, &mut outside);
    let exposure = track(&frames, &states);
    let Found { timing, states, outside } = timing(plan, &frames, &exposure, basis, states, outside);
    Evidence { frames, states, copies, outside, timing, exposure }
}

/// Frames before the plan's `first` and after its `last` are outside.
fn between_named(plan: &Plan, frames: &Frames, states: &mut [FrameState], outside: &mut Vec<Outside>) {
    let find = |name: &str| {
        (0..frames.len()).find(|&i| {
            let path = frames.path_text(i);
            path.eq_ignore_ascii_case(name)
                || path.rsplit('/').next().is_some_and(|n| n.eq_ignore_ascii_case(name))
        })
    };
    let mut put = |span: Option<FrameSpan>, why: &str| {
        if let Some(span) = span {
            states[span.first..=span.last].fill(FrameState::Outside);
            outside.push(Outside { span, why: why.into() });
        }
    };
    if let Some(at) = plan.first.as_deref().and_then(find) {
        put(at.checked_sub(1).map(|last| FrameSpan { first: 0, last }), "before the plan's first frame");
    }
    if let Some(at) = plan.last.as_deref().and_then(find) {
        let last = frames.len() - 1;
        put((at < last).then_some(FrameSpan { first: at + 1, last }), "after the plan's last frame");
    }
}

/// The run is one camera's: the one with the most frames (the earlier one where two have as many). Frames that name no
/// camera stay.
fn other_cameras(frames: &Frames, states: &mut [FrameState], outside: &mut Vec<Outside>) {
    let mut counts = vec![0_usize; frames.cameras.len()];
    for (row, state) in frames.rows.iter().zip(states.iter()) {
        if let (Cell::Known(camera), FrameState::Frame) = (row.camera, state)
            && let Some(count) = counts.get_mut(usize::from(camera))
        {
            *count += 1;
        }
    }
    let Some(main) = (0..counts.len()).max_by_key(|&c| (counts[c], std::cmp::Reverse(c))) else { return };
    let mut open: Option<FrameSpan> = None;
    let why = "by another camera";
    for (at, state) in states.iter_mut().enumerate() {
        let other = frames.rows[at].camera.known().is_some_and(|c| usize::from(c) != main);
        if other && *state != FrameState::Outside {
            *state = FrameState::Outside;
            open = Some(open.map_or(FrameSpan::one(at), |s| FrameSpan { last: at, ..s }));
        } else {
            outside.extend(open.take().map(|span| Outside { span, why: why.into() }));
        }
    }
    outside.extend(open.map(|span| Outside { span, why: why.into() }));
}
