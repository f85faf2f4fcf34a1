//! What a constant excess over the planned interval looks like.

use crate::evidence::Sequence;
use crate::evidence::timing::{Stretch, TimerLaw};
use crate::finding::{Cause, CauseCode};
use crate::plan::Plan;
use crate::plan::budget::rig_s;
use crate::units::duration;

/// The timer counts the interval from the end of each dark frame.
pub const COUNTED_FROM_CLOSE_DARK_FRAME: CauseCode = CauseCode::new("counted-from-close-dark-frame");
/// The timer counts the interval from the shutter's close.
pub const COUNTED_FROM_CLOSE: CauseCode = CauseCode::new("counted-from-close");
const WAITS_BETWEEN_MOVES: CauseCode = CauseCode::new("waits-between-moves");

/// How far an excess may lie from what would explain it, as a share of that.
const SHARE: f64 = 0.05;

/// How long the rig is away from rest in each slot, s: lag, move and settle; `None` where the plan does not
/// tell.
pub(crate) fn rig_time_s(plan: &Plan) -> Option<f64> {
    rig_s(plan).filter(|s| s.is_finite() && *s > 0.0)
}

/// What the excess of a stretch's interval over the planned one fits, nearest first; `None` where it fits
/// nothing known.
pub(crate) fn explain(plan: &Plan, evidence: &Sequence, stretch: &Stretch, excess_s: f64) -> Option<Cause> {
    // Where exposures vary the law was read from them, and the interval no longer holds them.
    let law = evidence.timing.cadence.as_ref().map_or(TimerLaw::Unknown, |c| c.law);
    let exposure = evidence.middle_exposure_s(stretch.first, stretch.last);
    let untold = exposure.filter(|_| law == TimerLaw::Unknown);
    let mut fits: Vec<(f64, CauseCode, String)> = Vec::new();
    let mut offer = |length_s: Option<f64>, code, words: &dyn Fn(String) -> String| {
        let Some(length_s) = length_s.filter(|s| *s > 0.0) else { return };
        let miss = (excess_s - length_s).abs();
        if miss <= (SHARE * length_s).max((stretch.high_s - stretch.low_s) / 2.0).min(length_s / 2.0) {
            fits.push((miss / length_s, code, words(duration(length_s))));
        }
    };
    offer(untold, COUNTED_FROM_CLOSE, &|s| {
        format!("the timer counts from shutter close, so each slot is longer by the exposure ({s})")
    });
    offer(untold.map(|t| 2.0 * t), COUNTED_FROM_CLOSE_DARK_FRAME, &|s| {
        format!(
            "the timer counts from the end of a dark frame, so each slot is longer by twice the exposure \
             ({s})"
        )
    });
    // A plan with a wait counts the rig's time already.
    let rig_s = rig_time_s(plan).filter(|_| plan.rig.wait_s.is_none());
    offer(rig_s, WAITS_BETWEEN_MOVES, &|s| {
        format!(
            "the controller waits the interval between its moves, so each slot is longer by the rig's own \
             time ({s})"
        )
    });
    offer(rig_s.zip(untold).map(|(rig, t)| rig + t), WAITS_BETWEEN_MOVES, &|s| {
        format!(
            "the controller waits the interval between shots, so each slot is longer by the rig's time and \
             the exposure ({s})"
        )
    });
    fits.sort_by(|a, b| a.0.total_cmp(&b.0));
    let code = fits.first()?.1;
    let words = fits.into_iter().map(|(_, _, words)| words).collect::<Vec<_>>().join("; or ");
    Some(Cause { code, words: format!("The excess of {} fits this: {words}", duration(excess_s)) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::RigPlan;

    /// A move of 60 mm at 20 mm/s with 20 mm/s² takes 4 s, one of 5 mm never reaches its speed and takes 1 s:
    /// trapezoid arithmetic, d = v·(t − v/a) and d = a·t²/4.
    #[test]
    fn the_rig_takes_its_trapezoid() {
        let rig = |step_m| Plan {
            rig: RigPlan {
                step_m: Some(step_m),
                speed_m_s: Some(0.02),
                acceleration_m_s2: Some(0.02),
                ..RigPlan::default()
            },
            ..Plan::default()
        };
        assert!((rig_time_s(&rig(0.06)).expect("told") - 4.0).abs() < 1e-9);
        assert!((rig_time_s(&rig(0.005)).expect("told") - 1.0).abs() < 1e-9);
        assert_eq!(rig_time_s(&Plan::default()), None);
    }
}
