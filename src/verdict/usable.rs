//! The longest part of the run that makes a clip.

use super::Usable;
use crate::evidence::Sequence;
use crate::finding::{InTheClip, Judgement};
use crate::schedule::Schedule;
use crate::schedule::clip::{Course, Seams};

/// The longest part without a slip, a fault that the clip would show, or a hole that no patch bridges; what
/// was agreed to is taken as good. `None` where no frame serves.
pub(crate) fn longest(evidence: &Sequence, schedule: &Schedule, judgements: &[Judgement]) -> Option<Usable> {
    let InTheClip { breaks, holes, damaged, pauses, rates } = InTheClip::of(judgements);
    let seams = Seams { breaks, holes, damaged, pauses, rates };
    Course::of(schedule, evidence, seams).longest().map(|part| Usable {
        span: part.span,
        frames: part.frames,
        clip_s: schedule.delivery().clip_s(part.clip_frames()),
        agreed: part.agreed,
        patches: part.patches,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::timing::{Join, JoinKind};
    use crate::evidence::{Card, FrameState, Frames, Row};
    use crate::finding::{Answer, Finding, InForce, Severity, Tolerated};
    use crate::plan::Plan;

    use crate::checks::exposure::settings_change;
    use crate::checks::{CHECKS, Check};

    fn check_of(finding: &Finding) -> &'static Check {
        CHECKS.iter().find(|c| c.text.id == finding.check).expect("a check of ours")
    }

    fn steady(n: usize) -> Sequence {
        let frames = Frames { card: Card::default(), rows: vec![Row::default(); n], ..Frames::default() };
        let plan = Plan::default();
        let mut evidence = crate::evidence::gather(&plan, Frames::default());
        evidence.frames = frames;
        *evidence.states_mut() = vec![FrameState::Frame; n];
        *evidence.slots_mut() = (0..n as i64).collect();
        evidence
    }

    fn judged(finding: Finding) -> Judgement {
        Judgement {
            text: check_of(&finding).text,
            limits: InForce::new(&[], None),
            answer: Answer::Found(vec![finding]),
            looked_at: 0,
            set_aside: Vec::new(),
            tolerated: Tolerated::default(),
        }
    }

    fn span(evidence: &Sequence, judgements: &[Judgement]) -> (usize, usize, u64) {
        let usable =
            longest(evidence, &Schedule::of(&Plan::default(), evidence), judgements).expect("a part");
        (usable.span.first, usable.span.last, usable.frames)
    }

    #[test]
    fn a_fault_that_the_clip_would_show_breaks_it() {
        let evidence = steady(10);
        assert_eq!(span(&evidence, &[]), (0, 9, 10));
        let fault =
            Finding::new(settings_change::CHECK.text.id, Severity::Fault, "Other size.").between(2, 3);
        assert_eq!(span(&evidence, &[judged(fault.clone())]), (3, 9, 7));
        let accepted = Finding { accepted: Some("agreed".into()), ..fault.clone() };
        assert_eq!(span(&evidence, &[judged(accepted)]), (0, 9, 10));
        let caution = Finding { severity: Severity::Caution, ..fault };
        assert_eq!(span(&evidence, &[judged(caution)]), (0, 9, 10));
    }

    #[test]
    fn a_spoilt_frame_is_no_part_of_it() {
        let evidence = steady(10);
        let mut fault = Finding::new("move-clash", Severity::Fault, "Moved.")
            .on(crate::units::FrameSpan { first: 5, last: 6 });
        assert_eq!(span(&evidence, &[judged(fault.clone())]), (0, 4, 5));
        fault.marks[0] = crate::units::FrameSpan { first: 2, last: 3 };
        assert_eq!(span(&evidence, &[judged(fault)]), (4, 9, 6));
    }

    /// What was shot while the carriage stood is left out; a way back can be used as well as the way there,
    /// and a slip parts once.
    #[test]
    fn a_halt_and_a_turn_part_it() {
        let evidence = steady(10);
        let fault = |check, first, last| {
            judged(Finding::new(check, Severity::Fault, "Moved.").on(crate::units::FrameSpan { first, last }))
        };
        assert_eq!(span(&evidence, &[fault("stalled-move", 3, 5)]), (6, 9, 4));
        assert_eq!(span(&evidence, &[fault("stalled-move", 7, 9)]), (0, 6, 7));
        assert_eq!(span(&evidence, &[fault("uneven-move", 4, 9)]), (4, 9, 6));
        assert_eq!(span(&evidence, &[fault("uneven-move", 2, 6)]), (2, 6, 5));
        let slip = Finding::new("uneven-move", Severity::Fault, "Slipped.").between(3, 4);
        assert_eq!(span(&evidence, &[judged(slip)]), (4, 9, 6));
    }

    #[test]
    fn the_last_bracket_is_told_to_its_last_exposure() {
        let mut evidence = steady(9);
        *evidence.slots_mut() = vec![0, 0, 0, 1, 1, 1, 2, 2, 2];
        assert_eq!(span(&evidence, &[]), (0, 8, 3));
    }

    #[test]
    fn a_clock_that_was_set_and_another_camera_break_nothing() {
        let mut evidence = steady(10);
        let mut join = |kind| {
            evidence.timing.joins =
                vec![Join { before: 3, after: 4, gap_s: 6.0, kind, or_missing: None, shots_beyond: None }]
        };
        join(JoinKind::ClockStep { step_s: 3600.0, looks_like: String::new(), stood_s: None, rival: None });
        assert_eq!(span(&evidence, &[]), (0, 9, 10));
        evidence.timing.joins[0].kind = JoinKind::Night;
        assert_eq!(span(&evidence, &[]), (0, 9, 10));
        evidence.timing.joins[0].kind = JoinKind::Slip { pause_s: 9.0, slots: 1.5 };
        assert_eq!(span(&evidence, &[]), (4, 9, 6));
        evidence.timing.joins.clear();
        evidence.states_mut()[5] = FrameState::Outside;
        assert_eq!(span(&evidence, &[]), (0, 9, 9));
        evidence.states_mut()[4..6].fill(FrameState::Damaged);
        assert_eq!(span(&evidence, &[]), (0, 3, 4));
    }

    /// A patch joins what is on both sides of it; so does a finding that was agreed to.
    #[test]
    fn a_patch_and_an_agreement_join_two_parts() {
        let mut evidence = steady(100);
        evidence.states_mut()[50] = FrameState::Damaged;
        let plan = Plan {
            delivery: crate::plan::DeliveryPlan { fps: Some(25.0), ..Default::default() },
            ..Plan::default()
        };
        let usable = longest(&evidence, &Schedule::of(&plan, &evidence), &[]).expect("a part");
        assert_eq!((usable.frames, usable.patches.len(), usable.clip_s), (99, 1, Some(4.0)));
        evidence.states_mut()[50..52].fill(FrameState::Damaged);
        assert_eq!(longest(&evidence, &Schedule::of(&plan, &evidence), &[]).expect("a part").frames, 50);
        let fault = Finding::new("damaged-frame", Severity::Caution, "Damaged.")
            .on(crate::units::FrameSpan { first: 50, last: 51 });
        let agreed = Finding { accepted: Some("agreed".into()), ..fault };
        let usable = longest(&evidence, &Schedule::of(&plan, &evidence), &[judged(agreed)]).expect("a part");
        assert_eq!((usable.frames, usable.patches.len(), usable.clip_s), (100, 0, Some(4.0)));
    }
}
