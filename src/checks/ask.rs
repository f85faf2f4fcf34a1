//! One check put to a case, and what its findings weigh where they stand.

use super::accepted::accept;
use super::check::{Case, Check};
use super::in_doubt;
use crate::evidence::Sequence;
use crate::finding::{Finding, Opinion};
use crate::plan::Plan;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// What a check says of a case, or the words with which it panicked.
pub(crate) fn opinion_of(check: &Check, case: &Case<'_>) -> Result<Opinion, String> {
    catch_unwind(AssertUnwindSafe(|| (check.judge)(case))).map_err(|payload| {
        let text = payload.downcast_ref::<&str>().map(|s| (*s).to_owned());
        payload.downcast_ref::<String>().cloned().or(text).unwrap_or_else(|| "no message".into())
    })
}

/// Findings with the weight that their place gives them, and marked where the plan accepts them.
pub(crate) fn weighed(plan: &Plan, evidence: &Sequence, mut findings: Vec<Finding>) -> Vec<Finding> {
    in_doubt::weigh_down(plan, evidence, &mut findings);
    accept(plan, evidence, &mut findings);
    findings
}
