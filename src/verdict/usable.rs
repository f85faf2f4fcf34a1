//! The longest part of the run that can be used as it is.

use super::Usable;
use crate::evidence::timing::JoinKind;
use crate::evidence::{Evidence, FrameState};
use crate::finding::{Judgement, Severity};
use crate::plan::Plan;
use crate::units::FrameSpan;

/// Checks whose faults show between two frames: a clip cannot run across them.
const SEEN_IN_THE_CLIP: [&str; 4] =
    ["uneven-interval", "exposure-jump", "exposure-hunting", "settings-change"];

/// The longest part without a hole, a slip, a damaged frame or a fault that the clip would show; the earlier one of two as long.
/// `None` where no frame serves. A clock that was set and a planned night's rest break nothing.
pub fn longest(plan: &Plan, evidence: &Evidence, judgements: &[Judgement]) -> Option<Usable> {
    let timing = &evidence.timing;
    let mut breaks: Vec<usize> = timing.holes.iter().map(|h| h.after).collect();
    let broken = |kind: &JoinKind| matches!(kind, JoinKind::Slip { .. } | JoinKind::Rate { .. });
    breaks.extend(timing.joins.iter().filter(|j| broken(&j.kind)).map(|j| j.after));
    let findings = judgements.iter().flat_map(Judgement::findings);
    let faults = findings.filter(|f| {
        f.severity == Severity::Fault && f.accepted.is_none() && SEEN_IN_THE_CLIP.contains(&f.check)
    });
    breaks.extend(faults.flat_map(|f| &f.marks).flat_map(|span| span.first..=span.last));
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
    best.map(|(span, frames)| Usable {
        span,
        frames,
        clip_s: plan.delivery.fps.map(|fps| frames as f64 / fps),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::timing::Join;
    use crate::evidence::{Card, Frames, Row};
    use crate::finding::{Answer, Finding, InForce, Text};

    const TEXT: Text =
        Text { id: "settings-change", asks: "", why: "", how: "", blind: "", remedy: "", source: "" };

    fn steady(n: usize) -> Evidence {
        let frames = Frames { card: Card::default(), rows: vec![Row::default(); n], ..Frames::default() };
        let plan = Plan::default();
        let mut evidence = crate::evidence::gather(&plan, Frames::default());
        evidence.frames = frames;
        evidence.states = vec![FrameState::Frame; n];
        evidence.timing.slots = (0..n as i64).collect();
        evidence
    }

    fn judged(finding: Finding) -> Judgement {
        Judgement {
            text: &TEXT,
            limits: InForce::new(&[], None),
            answer: Answer::Found(vec![finding]),
            looked_at: 0,
            set_aside: Vec::new(),
        }
    }

    fn span(evidence: &Evidence, judgements: &[Judgement]) -> (usize, usize, u64) {
        let usable = longest(&Plan::default(), evidence, judgements).expect("a part");
        (usable.span.first, usable.span.last, usable.frames)
    }

    #[test]
    fn a_fault_that_the_clip_would_show_breaks_it() {
        let evidence = steady(10);
        assert_eq!(span(&evidence, &[]), (0, 9, 10));
        let fault = Finding::new(TEXT.id, Severity::Fault, "Other size.").between(2, 3);
        assert_eq!(span(&evidence, &[judged(fault.clone())]), (3, 9, 7));
        let accepted = Finding { accepted: Some("agreed".into()), ..fault.clone() };
        assert_eq!(span(&evidence, &[judged(accepted)]), (0, 9, 10));
        let caution = Finding { severity: Severity::Caution, ..fault };
        assert_eq!(span(&evidence, &[judged(caution)]), (0, 9, 10));
    }

    #[test]
    fn the_last_bracket_is_told_to_its_last_exposure() {
        let mut evidence = steady(9);
        evidence.timing.slots = vec![0, 0, 0, 1, 1, 1, 2, 2, 2];
        assert_eq!(span(&evidence, &[]), (0, 8, 3));
    }

    #[test]
    fn a_clock_that_was_set_and_another_camera_break_nothing() {
        let mut evidence = steady(10);
        let mut join = |kind| {
            evidence.timing.joins = vec![Join { before: 3, after: 4, gap_s: 6.0, kind, or_missing: None }]
        };
        join(JoinKind::ClockStep { step_s: 3600.0, looks_like: String::new() });
        assert_eq!(span(&evidence, &[]), (0, 9, 10));
        evidence.timing.joins[0].kind = JoinKind::Night;
        assert_eq!(span(&evidence, &[]), (0, 9, 10));
        evidence.timing.joins[0].kind = JoinKind::Slip { pause_s: 9.0, slots: 1.5 };
        assert_eq!(span(&evidence, &[]), (4, 9, 6));
        evidence.timing.joins.clear();
        evidence.states[5] = FrameState::Outside;
        assert_eq!(span(&evidence, &[]), (0, 9, 9));
        evidence.states[5] = FrameState::Damaged;
        assert_eq!(span(&evidence, &[]), (0, 4, 5));
    }
}
