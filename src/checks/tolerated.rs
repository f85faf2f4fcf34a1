//! What a plan that lay with the frames keeps out of the call: whoever filled the card may have written it.
//! No figure in its limits is too large for a plan, and none of its ends is too narrow.

use super::ask::{opinion_of, weighed};
use super::check::{Case, Check};
use super::timing::short_run;
use crate::evidence::{AFTER_LAST, BEFORE_FIRST, Sequence};
use crate::finding::{Answer, Finding, InForce, Judgement, Severity, Tolerated};
use crate::plan::{Plan, Widened};
use crate::schedule::Schedule;

/// Asks the check once more without the limits that nobody but that plan has changed, and counts the findings
/// that weigh more than in `told`. What the plan accepts with bounds is told by that.
pub(crate) fn tolerated(
    check: &Check,
    plan: &Plan,
    evidence: &Sequence,
    answers: &[Judgement],
    told: &Answer,
) -> Tolerated {
    let without = |kinds: &[Widened]| {
        let plan = plan.without(kinds, check.text.id)?;
        Some(more_than(told, check, &plan, evidence, answers))
    };
    let (faults, cautions) = without(&Widened::ALL).unwrap_or_default();
    let mut by = [false; Widened::ALL.len()];
    if faults + cautions > 0 {
        let alone = Widened::ALL.map(|kind| without(&[kind]));
        let any = alone.iter().flatten().any(|weights| *weights != (0, 0));
        by = alone.map(|weights| weights.is_some_and(|weights| weights != (0, 0) || !any));
    }
    Tolerated { faults, cautions, by, left_out: left_out(check, plan, evidence) }
}

/// Faults and cautions that the check makes of the evidence under that plan, and that weigh less in `told`.
fn more_than(
    told: &Answer,
    check: &Check,
    plan: &Plan,
    evidence: &Sequence,
    answers: &[Judgement],
) -> (usize, usize) {
    let limits = InForce::new(check.limits, plan.tolerances.get(check.text.id));
    let schedule = Schedule::of(plan, evidence);
    let case = Case { plan, evidence, schedule: &schedule, limits: &limits, answers };
    let opinion = opinion_of(check, &case).ok().filter(|opinion| opinion.cannot_judge.is_none());
    let findings = weighed(plan, evidence, opinion.unwrap_or_default().findings);
    let told: &[Finding] = match told {
        Answer::Found(findings) => findings,
        _ => &[],
    };
    let agreed = |f: &Finding| f.accepted.is_some() && !f.unbounded;
    let stands = |f: &Finding| told.iter().any(|t| t.severity >= f.severity && meet(t, f));
    let (mut faults, mut cautions) = (0, 0);
    for finding in findings.iter().filter(|f| !agreed(f) && !stands(f)) {
        match finding.severity {
            Severity::Fault => faults += 1,
            Severity::Caution => cautions += 1,
            Severity::Note => {}
        }
    }
    (faults, cautions)
}

/// Frames that the ends of such a plan leave out. The check of the run's ends tells them.
pub(crate) fn left_out(check: &Check, plan: &Plan, evidence: &Sequence) -> usize {
    if check.text.id != short_run::CHECK.text.id {
        return 0;
    }
    let ends = [(plan.unnamed.first, BEFORE_FIRST), (plan.unnamed.last, AFTER_LAST)];
    let of = |why: &str| ends.iter().any(|(unnamed, end)| *unnamed && *end == why);
    evidence.outside.iter().filter(|o| of(&o.why)).map(|o| o.span.len()).sum()
}

/// True where both speak of a frame, or one of them of no place.
fn meet(one: &Finding, other: &Finding) -> bool {
    let span = |f: &Finding| f.first.zip(f.last);
    let (Some(one), Some(other)) = (span(one), span(other)) else { return true };
    one.0 <= other.1 && other.0 <= one.1
}

#[cfg(test)]
mod tests {
    use super::super::testing::{Sketch, tolerating};
    use super::super::{CHECKS, judge_one};
    use super::*;
    use crate::evidence::{Cell, gather};
    use crate::plan::{DeliveryPlan, ExposureMode};

    fn of(plan: &Plan, evidence: &Sequence) -> (usize, usize) {
        let tolerated = judge_one(CHECKS[0], plan, evidence).tolerated;
        (tolerated.faults, tolerated.cautions)
    }

    /// Five slots are a fault and one a caution; a plan that was named is somebody's own word.
    #[test]
    fn what_a_found_plan_lets_pass_is_counted() {
        let gone = [5, 10, 11, 12, 13, 14];
        let evidence = Sketch::steady(40, 10.0).without(&gone, false).evidence();
        let plan = |key: &str, level: f64| {
            let plan = Plan { interval_s: Some(10.0), frames: Some(40), ..Plan::default() };
            tolerating(plan, "missing-slot", key, level)
        };
        let both = tolerating(plan("caution", 1e9), "missing-slot", "adjacent_fault", 1e9);
        let both = tolerating(both, "missing-slot", "share_fault", 1e9);
        assert_eq!(of(&both, &evidence), (0, 0), "it was named");
        let found = both.found();
        let (faults, cautions) = of(&found, &evidence);
        assert!(faults > 0 && faults + cautions > 1, "{faults} {cautions}");
        // A limit that is stricter lets nothing pass, nor does one that nothing reaches.
        assert_eq!(of(&plan("adjacent_fault", 1.0).found(), &evidence), (0, 0));
        // What a flag says over it is somebody's word again.
        let flags = tolerating(Plan::default(), "missing-slot", "caution", 1e9);
        let over = plan("caution", 1e9).found().overlaid(flags);
        assert_eq!(of(&over, &evidence), (0, 0));
    }

    fn judged(id: &str, plan: &Plan, evidence: &Sequence) -> Tolerated {
        let check = CHECKS.iter().find(|check| check.text.id == id).expect("a check");
        judge_one(check, plan, evidence).tolerated
    }

    /// A step of two stops in a ramped run is a fault; a hole of five slots breaks the clip.
    #[test]
    fn a_wide_step_and_a_long_patch_of_a_found_plan_are_counted() {
        let evidence = Sketch::steady(40, 10.0).change(20..40, |row| row.iso = Cell::Known(800)).evidence();
        let mut plan = Plan { interval_s: Some(10.0), frames: Some(40), ..Plan::default() };
        plan.exposure.mode = Some(ExposureMode::Ramped);
        plan.exposure.max_step_ev = Some(5.0);
        let of = |plan: &Plan| judged("exposure-jump", plan, &evidence);
        let before = of(&plan);
        assert!(!before.is_some(), "it was named: {before:?}");
        let found = of(&plan.clone().found());
        assert!(found.is_widened() && found.by == [false, true, false], "{found:?}");
        let mut flags = Plan::default();
        flags.exposure.max_step_ev = Some(5.0);
        assert!(!of(&plan.clone().found().overlaid(flags)).is_some());

        let evidence = Sketch::steady(60, 10.0).without(&[20, 21, 22, 23, 24], false).evidence();
        let mut plan = Plan { interval_s: Some(10.0), frames: Some(60), ..Plan::default() };
        plan.delivery = DeliveryPlan { fps: Some(25.0), length_s: Some(2.0), patch_up_to: Some(50) };
        let found = CHECKS.iter().map(|check| judge_one(check, &plan.clone().found(), &evidence).tolerated);
        let found: Vec<Tolerated> = found.filter(Tolerated::is_some).collect();
        assert!(!found.is_empty() && found.iter().all(|t| t.by == [false, false, true]), "{found:?}");
        let named = CHECKS.iter().map(|check| judge_one(check, &plan, &evidence).tolerated);
        assert!(named.into_iter().all(|t| !t.is_some()));
    }

    #[test]
    fn frames_beyond_the_ends_of_a_found_plan_are_counted_once() {
        let ends = [(Some("TIDE0011.JPG"), None, 10), (Some("TIDE0011.JPG"), Some("TIDE0035.JPG"), 15)];
        for (first, last, left_out) in ends {
            let plan = Plan {
                interval_s: Some(10.0),
                first: first.map(Into::into),
                last: last.map(Into::into),
                ..Plan::default()
            };
            let frames = Sketch::steady(40, 10.0).evidence().frames;
            let evidence = gather(&plan, frames);
            let all = |plan: &Plan| -> usize {
                CHECKS.iter().map(|check| judge_one(check, plan, &evidence).tolerated.left_out).sum()
            };
            assert_eq!((all(&plan), all(&plan.clone().found())), (0, left_out));
        }
    }
}
