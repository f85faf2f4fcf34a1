//! How many frames a rail and a span take.

use crate::plan::{Plan, RigKind, arithmetic};

/// Most frames that a plan is worked out for.
pub(super) const MOST_FRAMES: u64 = 100_000_000;

/// The frames that the rail holds: one more than it has moves.
pub(super) fn rail_frames(plan: &Plan) -> Option<u64> {
    let stepped = plan.rig.kind != Some(RigKind::Continuous);
    arithmetic::frames_from_run(plan.rig.travel_m?, plan.rig.step_m?).filter(|_| stepped)
}

/// The frames that cover a span at an interval: the last one stands at its end or after it.
pub(super) fn covering(span_s: f64, interval_s: f64) -> u64 {
    arithmetic::slots_before(span_s, interval_s).map_or(u64::MAX, |slots| slots.saturating_add(1))
}
