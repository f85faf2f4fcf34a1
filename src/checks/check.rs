//! What a check is, and what it may look at.

use super::needs::Need;
use crate::evidence::Sequence;
use crate::finding::{InForce, Judgement, Limit, Opinion, Text};
use crate::plan::Plan;
use crate::schedule::Schedule;

/// All that a check may look at.
pub struct Case<'a> {
    /// What was meant.
    pub plan: &'a Plan,
    /// What the frames say together.
    pub evidence: &'a Sequence,
    /// The one laid on the other.
    pub schedule: &'a Schedule,
    /// The check's own limits, with the plan's overrides.
    pub limits: &'a InForce,
    /// What the checks have answered that ask for no answers themselves; empty unless
    /// [`Need::Answers`] is among the check's needs.
    pub answers: &'a [Judgement],
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
