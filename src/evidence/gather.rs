//! From the frames to all evidence.

use super::exposure::track;
use super::picture::{self, PictureTrack};
use super::timing::numbers::between;
use super::timing::{Found, capture_order, timing};
use super::{Cell, Evidence, FrameState, Outside, copies, movement};
use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::FrameSpan;
use crate::units::time::SECOND;

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
    let run: Vec<usize> = (0..states.len())
        .filter(|&at| matches!(states[at], FrameState::Frame | FrameState::Damaged))
        .collect();
    let moves = std::mem::take(&mut frames.moves);
    let movement = movement::track(plan, &frames, &timing, &run, &moves);
    let pictures = PictureTrack::default();
    let mut evidence = Evidence { frames, states, copies, outside, timing, exposure, pictures, movement };
    evidence.pictures = picture::track(plan, &evidence);
    evidence
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

/// The longest time, µs, from one frame to the next that still carries on the same shoot when another body takes over.
const TAKEN_OVER: i64 = 600 * SECOND;

/// The run is one camera's: the one with the most frames (the earlier one where two have as many). Frames that name no
/// camera stay, and so do those of another body that carry the numbers of the run on: there the camera changes inside the run.
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
    let mut spans = Vec::new();
    for (at, state) in states.iter().enumerate() {
        let other = frames.rows[at].camera.known().is_some_and(|c| usize::from(c) != main);
        if other && *state != FrameState::Outside {
            open = Some(open.map_or(FrameSpan::one(at), |s| FrameSpan { last: at, ..s }));
        } else {
            spans.extend(open.take());
        }
    }
    spans.extend(open);
    for span in spans {
        let inside = |at: usize| states.get(at).is_some_and(|s| *s != FrameState::Outside);
        let from = span.first.checked_sub(1).filter(|at| inside(*at));
        let to = Some(span.last + 1).filter(|at| inside(*at));
        let joined = from.is_some_and(|from| carries_on(frames, from, span.first))
            || to.is_some_and(|to| carries_on(frames, span.last, to));
        if !joined {
            states[span.first..=span.last].fill(FrameState::Outside);
            outside.push(Outside { span, why: "by another camera".into() });
        }
    }
}

/// True where `to` has the next numbers after `from`, in the same folder and under the same letters, soon after it.
fn carries_on(frames: &Frames, from: usize, to: usize) -> bool {
    let (Some(a), Some(b)) = (frames.card.shots.get(from), frames.card.shots.get(to)) else { return false };
    let letters = |name: &std::ffi::OsStr| {
        let name = name.to_string_lossy();
        name.trim_end_matches(|c| c != '.')
            .trim_end_matches(|c: char| c == '.' || c.is_ascii_digit())
            .to_owned()
    };
    let moment = |at: usize| frames.rows.get(at).and_then(|r| r.stamp.known()).map(|s| s.at.micros());
    let soon = moment(from).zip(moment(to)).map(|(a, b)| b.saturating_sub(a));
    a.file.folder == b.file.folder
        && letters(&a.file.name) == letters(&b.file.name)
        && between(frames, from, to).is_some_and(|advance| (1..=3).contains(&advance))
        && soon.is_some_and(|after| (0..=TAKEN_OVER).contains(&after))
}
