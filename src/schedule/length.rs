//! How many slots the plan asks of this run.

use crate::evidence::Sequence;
use crate::plan::{self, DailyHours, Moment, Plan};
use crate::units::{CivilTime, Micros};

/// By this share a timer's crystal may be slow and still keep its interval. Common practice, no source: cheap
/// ones hold 100 parts in a million.
pub const CRYSTAL: f64 = 1e-4;
/// A first frame this little before the hours open is the first of them.
const EARLY: Micros = Micros::from_seconds(30);

/// Slots that the plan asks for. Working hours of a plan without a start are counted from the first frame on.
pub(super) fn slots_asked(plan: &Plan, evidence: &Sequence) -> Option<u64> {
    // A plan that names a run and no interval asks for as many as the timer's own pace makes of it.
    let shot_s = evidence.timing.cadence.as_ref().filter(|_| plan.interval_s.is_none());
    let shot_s = shot_s.map(|c| c.low_s * (1.0 - CRYSTAL));
    if let (None, Some(run_s), Some(interval_s)) = (plan.frames, plan.run_s, shot_s)
        && plan.active.is_empty()
    {
        return plan::arithmetic::frames_from_run(run_s, interval_s);
    }
    if plan.start.is_some() || plan.active.is_empty() || plan.frames.is_some() {
        return plan::frames_asked(plan);
    }
    let first = evidence.in_run().find_map(|at| evidence.frame(at).stamp());
    let start =
        first.map(|stamp| Moment { civil: on_the_hour(plan, stamp.at), offset_min: stamp.offset_min });
    plan::frames_asked(&Plan { start, ..plan.clone() })
}

/// The moment at which the first frame was due: the opening of the hours, where it came within an interval of
/// it, else its own stamp.
fn on_the_hour(plan: &Plan, at: CivilTime) -> CivilTime {
    let interval = plan.interval_s.unwrap_or(0.0) * Micros::SECOND.get() as f64;
    let opens = |h: &DailyHours| Micros::from_seconds(h.from_s.into());
    let after = |h: &DailyHours| (at.micros() - opens(h) + EARLY).rem_euclid(Micros::DAY) - EARLY;
    let since = plan.active.iter().map(after).min_by_key(|s| s.abs());
    since.filter(|s| (s.get() as f64) < interval).map_or(at, |s| at.plus(-s))
}
