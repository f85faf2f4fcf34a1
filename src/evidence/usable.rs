//! The longest part of the run without a hole, a slip or a damaged frame.

use super::begins::begins;
use super::timing::JoinKind;
use super::{Evidence, FrameState};
use crate::plan::Plan;
use crate::units::FrameSpan;

/// The longest part without a hole, a slip, a change of rate or a damaged frame, and how many frames of a clip it makes; the earlier one
/// of two as long. `breaks` are positions at which a part cannot run on besides, in any order. `None` where no frame serves. A clock that was
/// set a planned night's rest and
/// a rate that a part of the plan changes break nothing.
pub fn longest(plan: &Plan, evidence: &Evidence, mut breaks: Vec<usize>) -> Option<(FrameSpan, u64)> {
    let timing = &evidence.timing;
    breaks.extend(timing.holes.iter().map(|h| h.after));
    let changed = plan.parts.iter().filter(|p| p.interval_s.is_some());
    let changes: Vec<usize> = changed.filter_map(|p| begins(&p.from, evidence)).collect();
    let broken = |kind: &JoinKind| match kind {
        JoinKind::Slip { .. } => true,
        // Where a rate changes is known to a frame or so.
        JoinKind::Rate { earliest, latest, .. } => {
            !changes.iter().any(|at| earliest.saturating_sub(1) <= *at && *at <= latest + 1)
        }
        _ => false,
    };
    breaks.extend(timing.joins.iter().filter(|j| broken(&j.kind)).map(|j| j.after));
    breaks.sort_unstable();
    let mut breaks = breaks.into_iter().peekable();
    let mut best: Option<(FrameSpan, u64)> = None;
    let mut open: Option<(FrameSpan, u64)> = None;
    for at in 0..evidence.states.len() {
        let broken = breaks.next_if(|b| *b <= at).is_some();
        while breaks.next_if(|b| *b <= at).is_some() {}
        match evidence.states[at] {
            FrameState::Frame => {
                // The exposures of a bracket make one frame of the clip.
                let same_slot = at > 0 && timing.slot(at).is_some() && timing.slot(at) == timing.slot(at - 1);
                open = match open {
                    Some((span, n)) if !broken => {
                        Some((FrameSpan { last: at, ..span }, n + u64::from(!same_slot)))
                    }
                    _ => Some((FrameSpan::one(at), 1)),
                };
            }
            // One frame too many is left out of the clip and breaks nothing; nor does one of another camera in between.
            FrameState::Surplus | FrameState::Outside if !broken => {}
            _ => open = None,
        }
        if let Some(now) = open
            && best.is_none_or(|b| now.1 > b.1 || now.0.first == b.0.first)
        {
            best = Some(now);
        }
    }
    best
}
