//! The longest part of the run that can be used as it is.

use super::Usable;
use crate::evidence::{Evidence, FrameState};
use crate::plan::Plan;
use crate::units::FrameSpan;

/// The longest part without a hole, a slip or a damaged frame; the earlier one of two as long. `None` where no frame serves.
pub fn longest(plan: &Plan, evidence: &Evidence) -> Option<Usable> {
    let timing = &evidence.timing;
    let mut breaks: Vec<usize> = timing.holes.iter().map(|h| h.after).collect();
    breaks.extend(timing.joins.iter().map(|j| j.after));
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
            && best.is_none_or(|b| now.1 > b.1)
        {
            best = Some(now);
        }
    }
    best.map(|(span, frames)| Usable {
        span,
        frames,
        clip_s: plan.delivery.fps.map(|fps| frames as f64 / fps),
    })
}
