//! What the `[tolerance]` of a plan that lay with the frames keeps out of the call: whoever filled the card may
//! have written it, and no figure in it is too large for a plan.

use super::{Case, Check, opinion_of, weighed};
use crate::evidence::Evidence;
use crate::finding::{Answer, Finding, InForce, Judgement, Severity, Tolerated};
use crate::plan::Plan;

/// Asks the check once more with the limits that nobody but that plan has changed, and counts the findings
/// that weigh more under them than in `told`. What the plan accepts with bounds is told by that.
pub fn tolerated(
    check: &Check,
    plan: &Plan,
    evidence: &Evidence,
    before: &[Judgement],
    told: &Answer,
) -> Tolerated {
    let Some(own) = plan.named_tolerances(check.text.id) else { return Tolerated::default() };
    let limits = InForce::new(check.limits, Some(&own));
    let case = Case { plan, evidence, limits: &limits, before };
    let opinion = opinion_of(check, &case).ok().filter(|opinion| opinion.cannot_judge.is_none());
    let findings = weighed(plan, evidence, opinion.unwrap_or_default().findings);
    let told: &[Finding] = match told {
        Answer::Found(findings) => findings,
        _ => &[],
    };
    let agreed = |f: &Finding| f.accepted.is_some() && !f.unbounded;
    let stands = |f: &Finding| told.iter().any(|t| t.severity >= f.severity && meet(t, f));
    let mut all = Tolerated::default();
    for finding in findings.iter().filter(|f| !agreed(f) && !stands(f)) {
        match finding.severity {
            Severity::Fault => all.faults += 1,
            Severity::Caution => all.cautions += 1,
            Severity::Note => {}
        }
    }
    all
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

    fn of(plan: &Plan, evidence: &Evidence) -> (usize, usize) {
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
}
