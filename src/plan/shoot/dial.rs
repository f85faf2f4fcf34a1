//! The timer's dial: the intervals that it has, and the shortest that serves.

use crate::plan::budget::Budget;
use crate::plan::{Plan, Planned, levels};

/// The step of the timer's dial about an interval, s: the rig's, else whole seconds from 5 s on and tenths
/// below (common practice, no source).
pub(super) fn dial_s(plan: &Plan, interval_s: f64) -> f64 {
    // Finer than a millisecond no dial goes, and the steps beside a plan would not be told apart.
    plan.rig.interval_step_s.map_or(if interval_s >= 5.0 { 1.0 } else { 0.1 }, |s| s.max(0.001))
}

/// The longest interval of the dial that is not longer; `None` where the dial has none over 0.
pub(super) fn down(plan: &Plan, interval_s: f64) -> Option<f64> {
    let dial = dial_s(plan, interval_s);
    let steps = (interval_s / dial + 1e-6).floor();
    (steps >= 1.0 && steps.is_finite()).then(|| tidy(steps * dial))
}

/// The shortest interval of the dial that is not shorter.
pub(super) fn up(plan: &Plan, interval_s: f64) -> f64 {
    let dial = dial_s(plan, interval_s);
    tidy((interval_s / dial - 1e-6).ceil().max(1.0) * dial)
}

/// Without the dust of binary fractions: to a microsecond, a micrometre.
pub(super) fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// The shortest interval of the dial that leaves camera and rig a tenth to spare, and that the timer has, s.
pub(super) fn shortest_s(plan: &Plan) -> Option<f64> {
    let budget = Budget::of(plan, &plan.exposure);
    let (mark, exact) = budget.longest(plan, &plan.exposure);
    let whole_s = mark.whole_s().max(exact.whole_s());
    (whole_s > 0.0).then(|| shortest_of(plan, whole_s))
}

/// The same for a slot that takes `taken_s`.
pub(super) fn shortest_of(plan: &Plan, taken_s: f64) -> f64 {
    let least_s = taken_s * 100.0 / levels::USE_TIGHT_PERCENT;
    up(plan, least_s.max(plan.rig.interval_range_s.map_or(0.0, Planned::low)))
}
