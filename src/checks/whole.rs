//! Whether a run came to its end whole. Margins that it held speak of the next run.

use super::Case;
use super::needs::{Need, lacking};
use super::timing::short_run;
use crate::evidence::timing::{Join, JoinKind};
use crate::finding::{Finding, InTheClip, Judgement};
use crate::units::FrameSpan;

/// True where the other checks found the run shorter than was asked, and that was agreed to.
pub(crate) fn length_agreed(case: &Case<'_>) -> bool {
    let of_length = |f: &Finding| {
        f.check == short_run::CHECK.text.id && f.evidence.iter().any(|(key, _)| *key == "slots_shot")
    };
    case.answers.iter().flat_map(Judgement::findings).any(|f| f.accepted.is_some() && of_length(f))
}

/// True where every slot of the run holds its frames, as many as plan and delivery ask for, and no other
/// reading of the stamps says otherwise. A timer that stood leaves no whole run; where the plan names no
/// length, what is known of the run is what counts. What was agreed to is taken as good.
pub(crate) fn whole(case: &Case<'_>) -> bool {
    let (plan, evidence) = (case.plan, case.evidence);
    let timing = &evidence.timing;
    let agreed = InTheClip::of(case.answers);
    let good = |spans: &[FrameSpan], before: usize, after: usize| {
        spans.iter().any(|s| s.first <= before && after <= s.last)
    };
    let Some(shot) = timing.slot_count else { return false };
    let told = [Need::Grid, Need::TellableSlots].iter().all(|need| lacking(*need, plan, evidence).is_none());
    let asked = case.schedule.slots_asked();
    let unknown = asked.is_none() && plan.run_s.is_some();
    let enough =
        length_agreed(case) || asked.into_iter().chain(plan.delivery.clip_frames()).all(|n| shot >= n);
    let thin = timing.bracket.as_ref().is_some_and(|b| !b.incomplete.is_empty());
    let slips =
        |j: &Join| j.or_missing.is_some() || j.stood_s().is_some() || matches!(j.kind, JoinKind::Slip { .. });
    let stood = timing.joins.iter().any(|j| slips(j) && !good(&agreed.pauses, j.before, j.after));
    let holes = timing.holes.iter().any(|h| !good(&agreed.holes, h.before, h.after));
    let adrift = || evidence.run().any(|frame| frame.slot().is_none());
    told && !unknown && enough && !thin && !stood && !holes && timing.missing_doubt.is_none() && !adrift()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::judge_one;
    use crate::checks::testing::{Sketch, every, slip};
    use crate::checks::timing::missing_slot;
    use crate::evidence::Sequence;
    use crate::evidence::testing::NO_SLOT;
    use crate::finding::InForce;
    use crate::plan::Accepted;
    use crate::plan::DeliveryPlan;
    use crate::plan::Plan;
    use crate::schedule::Schedule;

    fn whole(plan: &Plan, evidence: &Sequence) -> bool {
        let before =
            [judge_one(&missing_slot::CHECK, plan, evidence), judge_one(&short_run::CHECK, plan, evidence)];
        let schedule = &Schedule::of(plan, evidence);
        super::whole(&Case { plan, evidence, schedule, limits: &InForce::default(), answers: &before })
    }

    #[test]
    fn what_was_agreed_to_is_taken_as_good() {
        let agreed = |check: &str, plan: Plan| {
            let (at, file, reason) = (None, None, "agreed".to_owned());
            Plan { accepted: vec![Accepted { check: check.into(), at, file, count: None, reason }], ..plan }
        };
        let holed = Sketch::steady(100, 10.0).without(&[50], false).evidence();
        assert!(whole(&agreed("missing-slot", every(10.0)), &holed));
        assert!(!whole(&agreed("short-run", every(10.0)), &holed));
        let (short, asks) = (Sketch::steady(100, 10.0).evidence(), Plan { frames: Some(200), ..every(10.0) });
        assert!(!whole(&asks, &short));
        assert!(whole(&agreed("short-run", asks), &short));
    }

    #[test]
    fn a_run_is_whole_or_it_is_not() {
        let run = || Sketch::steady(100, 10.0);
        let asks = |frames| Plan { frames: Some(frames), ..every(10.0) };
        assert!(whole(&Plan::default(), &run().evidence()));
        assert!(whole(&every(10.0), &run().evidence()));
        for (frames, is) in [(99, true), (100, true), (101, false)] {
            assert_eq!(whole(&asks(frames), &run().evidence()), is, "{frames}");
        }
        // 990 s hold 100 frames, 1000 s one more.
        for (run_s, is) in [(990.0, true), (1000.0, false)] {
            assert_eq!(whole(&Plan { run_s: Some(run_s), ..every(10.0) }, &run().evidence()), is, "{run_s}");
        }
        for (length_s, is) in [(4.0, true), (4.04, false)] {
            let delivery = DeliveryPlan { fps: Some(25.0), length_s: Some(length_s), patch_up_to: None };
            assert_eq!(whole(&Plan { delivery, ..every(10.0) }, &run().evidence()), is, "{length_s}");
        }
        assert!(!whole(&every(10.0), &run().without(&[50], false).evidence()));
        assert!(!whole(&every(10.0), &run().loose("no grid").evidence()));
    }

    #[test]
    fn what_is_in_doubt_is_not_whole() {
        let run = || Sketch::steady(100, 10.0);
        let mut evidence = run().evidence();
        evidence.timing.missing_doubt = Some((0, 2));
        assert!(!whole(&every(10.0), &evidence));
        let mut stood = run();
        stood.joins = vec![slip(50, 4.0, 0.4)];
        assert!(!whole(&every(10.0), &stood.evidence()));
        let mut adrift = run().evidence();
        adrift.slots_mut()[40] = NO_SLOT;
        assert!(!whole(&every(10.0), &adrift));
        // A run whose frames cannot be counted.
        let ramped = crate::plan::ExposurePlan {
            shutter_s: Some(crate::plan::Planned::Between(1.0, 2.0)),
            ..crate::plan::ExposurePlan::default()
        };
        let counted_from = Some(crate::plan::CountedFrom::Close);
        let plan = Plan { run_s: Some(100.0), exposure: ramped, counted_from, ..every(10.0) };
        assert!(!whole(&plan, &run().evidence()));
    }
}
