//! One check, one file. Each is a question put to the evidence; `CHECKS` is the list of them, kept equal to the files by a
//! test.

use crate::evidence::Evidence;
use crate::finding::{Answer, InForce, Judgement, Limit, Opinion, Text};
use crate::plan::Plan;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// What a check needs before it is asked. Where it is missing, the answer is *cannot judge* without a line in the check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Two frames of the run with a stamp.
    Stamps,
    /// A cadence: one grid that holds most of the frames.
    Grid,
    /// File numbers that count as evidence.
    Numbers,
    /// Exposure values on two frames of the run.
    Exposures,
    /// Exposure times on a frame of the run.
    ExposureTimes,
    /// An interval in the plan.
    PlannedInterval,
    /// A length in the plan: frames, run or the delivery's.
    PlannedLength,
    /// An exposure setting or mode in the plan.
    PlannedExposure,
}

/// All that a check may look at.
pub struct Case<'a> {
    /// What was meant.
    pub plan: &'a Plan,
    /// What the frames say together.
    pub evidence: &'a Evidence,
    /// The check's own limits, with the plan's overrides.
    pub limits: &'a InForce,
}

/// A check: its text, its limits, its needs and its question.
pub struct Check {
    /// All that there is to say about it.
    pub text: &'static Text,
    /// Its limits.
    pub limits: &'static [Limit],
    /// What it needs.
    pub needs: &'static [Need],
    /// The question: a pure function.
    pub judge: fn(&Case<'_>) -> Opinion,
}

/// Every check, in the order in which they are told.
pub const CHECKS: &[&Check] = &[];

/// Puts every check to the evidence, in order. A check that panics is answered *broke*; the others go on.
pub fn judge_all(plan: &Plan, evidence: &Evidence) -> Vec<Judgement> {
    CHECKS.iter().map(|check| judge_one(check, plan, evidence)).collect()
}

/// Puts one check to the evidence.
pub fn judge_one(check: &Check, plan: &Plan, evidence: &Evidence) -> Judgement {
    let limits = InForce::new(check.limits, plan.tolerances.get(check.text.id));
    let all = evidence.states.len() as u64;
    if let Some(reason) = check.needs.iter().find_map(|need| lacking(*need, plan, evidence)) {
        let set_aside = vec![(all, reason.clone())];
        return Judgement {
            text: check.text,
            limits,
            answer: Answer::CannotJudge(reason),
            looked_at: 0,
            set_aside,
        };
    }
    let outcome = catch_unwind(AssertUnwindSafe(|| (check.judge)(&Case { plan, evidence, limits: &limits })));
    match outcome {
        Ok(opinion) => {
            let answer = match (opinion.findings.is_empty(), opinion.cannot_judge) {
                (_, Some(reason)) => Answer::CannotJudge(reason),
                (true, None) => Answer::Clear,
                (false, None) => Answer::Found(opinion.findings),
            };
            Judgement {
                text: check.text,
                limits,
                answer,
                looked_at: opinion.looked_at,
                set_aside: opinion.set_aside,
            }
        }
        Err(payload) => {
            let what = payload
                .downcast_ref::<String>()
                .cloned()
                .or_else(|| payload.downcast_ref::<&str>().map(|s| (*s).to_owned()))
                .unwrap_or_else(|| "no message".into());
            let set_aside = vec![(all, "the check failed".into())];
            Judgement { text: check.text, limits, answer: Answer::Broke(what), looked_at: 0, set_aside }
        }
    }
}

/// Why a need is not met; `None` where it is.
fn lacking(need: Need, plan: &Plan, evidence: &Evidence) -> Option<String> {
    let _ = (need, plan, evidence);
    None
}
