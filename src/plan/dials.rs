//! A rig that is set by two dials: the *wait* before each move, and the *step*. It fires, waits, moves,
//! settles and fires again, so the interval is `wait + move + settle`. The exposure has to end within the
//! wait, because the carriage sets off when the wait is over, whatever the shutter does.
//!
//! The `wait` in `[rig]` chooses this law.

use super::{Plan, RigKind, arithmetic};
use crate::units::duration;

/// How far an interval that is written beside a wait may lie from what the dials make, s: the rounding of a
/// figure that somebody wrote down. Common practice, no source.
const WRITTEN_S: f64 = 0.01;

/// Move and settling of such a rig, s: what its interval has beside the wait. `None` where the plan has no
/// wait, or does not tell how long a move takes.
pub fn beside_wait_s(plan: &Plan) -> Option<f64> {
    let rig = &plan.rig;
    rig.wait_s.filter(|_| rig.kind != Some(RigKind::Continuous))?;
    // Where the frames are not said, a step shared out of the travel would hang on the interval itself.
    let moves = plan.frames.and_then(|frames| frames.checked_sub(1)).filter(|n| *n > 0);
    let step_m = rig.step_m.or_else(|| Some(rig.travel_m? / moves? as f64))?;
    let move_s = arithmetic::move_time_s(step_m, rig.speed_m_s?, rig.acceleration_m_s2)?;
    Some(move_s + rig.settle_s.unwrap_or(0.0))
}

/// The interval that the dials make, s: wait, move and settling. `None` as in [`beside_wait_s`].
pub fn interval_s(plan: &Plan) -> Option<f64> {
    Some(plan.rig.wait_s? + beside_wait_s(plan)?)
}

/// The wait that makes an interval, s; 0 where move and settling take all of it. `None` as in
/// [`beside_wait_s`].
pub(crate) fn wait_of_s(plan: &Plan, interval_s: f64) -> Option<f64> {
    let (wait_s, beside_s) = (plan.rig.wait_s?, beside_wait_s(plan)?);
    // The dial itself, not the dial with the dust of a sum and a difference.
    let own = (wait_s + beside_s - interval_s).abs() < 1e-6;
    Some(if own { wait_s } else { (interval_s - beside_s).max(0.0) })
}

/// The plan with the interval that its dials make.
pub(super) fn paced(plan: &Plan) -> Plan {
    Plan { interval_s: interval_s(plan).or(plan.interval_s), ..plan.clone() }
}

/// What a wait rules out, one or two sentences each.
pub(super) fn conflicts(plan: &Plan) -> Vec<String> {
    let rig = &plan.rig;
    let wait = match (rig.wait_s, rig.wait_increment_s) {
        (Some(wait_s), _) => said(wait_s),
        (None, Some(dial_s)) => format!("wait_increment = \"{}\"", duration(dial_s)),
        (None, None) => return Vec::new(),
    };
    let mut told = Vec::new();
    if rig.kind == Some(RigKind::Continuous) {
        told.push(format!(
            "A carriage that travels all the time has no wait before a move. Leave out {wait}, or kind = \
             \"continuous\"."
        ));
    }
    if plan.from_close() {
        told.push(format!(
            "A wait is counted from the shutter's opening, but counted_from is \"close\". Leave out {wait}, \
             or counted_from."
        ));
    }
    if rig.waits == Some(true) {
        told.push(format!(
            "A rig with {wait} moves when the wait is over. One with waits = true moves when the camera is \
             ready. Leave out one of the two."
        ));
    }
    told
}

/// The wait as it is written in a plan.
fn said(wait_s: f64) -> String {
    format!("wait = \"{}\"", duration(wait_s))
}

/// Both figures where an interval that is said is not the one that the dials make; `None` where it is.
pub(super) fn contradicted(wait_s: f64, beside_s: f64, said_s: f64) -> Option<String> {
    let made_s = wait_s + beside_s;
    ((said_s - made_s).abs() > WRITTEN_S).then(|| {
        format!(
            "{} with {} to move and settle makes {} from frame to frame, but interval = \"{}\".",
            said(wait_s),
            duration(beside_s),
            duration(made_s),
            duration(said_s)
        )
    })
}

/// What in a plan does not go with its wait, one or two sentences each.
pub(super) fn disagreements(plan: &Plan) -> Vec<String> {
    let Some(wait_s) = plan.rig.wait_s else { return Vec::new() };
    let mut told = conflicts(plan);
    if !told.is_empty() {
        return told;
    }
    let wait = said(wait_s);
    let Some(beside_s) = beside_wait_s(plan) else {
        told.push(format!(
            "{wait} does not tell the interval alone: the move comes after it. Say how far and how fast the \
             carriage moves (step and speed)."
        ));
        return told;
    };
    let odd = plan.interval_s.and_then(|said_s| contradicted(wait_s, beside_s, said_s));
    told.extend(odd.map(|words| format!("{words} Leave out one of the two.")));
    for (at, part) in plan.parts.iter().enumerate() {
        if let Some(interval_s) = part.interval_s.filter(|s| *s <= beside_s) {
            told.push(format!(
                "[[part]] {} has an interval of {}, but move and settling alone take {}. Lengthen it.",
                at + 1,
                duration(interval_s),
                duration(beside_s)
            ));
        }
    }
    told
}

#[cfg(test)]
mod tests {
    use super::super::RigPlan;
    use super::*;

    fn near(got: Option<f64>, want: f64) {
        assert!(got.is_some_and(|got| (got - want).abs() < 1e-9), "{got:?} against {want}");
    }

    fn slider() -> Plan {
        let rig = RigPlan {
            wait_s: Some(13.0),
            step_m: Some(0.0017),
            speed_m_s: Some(0.02),
            settle_s: Some(0.5),
            ..RigPlan::default()
        };
        Plan { rig, ..Plan::default() }
    }

    /// By hand: 1.7 mm at 20 mm/s are 0.085 s, so 13 s of wait and 0.5 s of settling make 13.585 s. At 40
    /// mm/s² the move never reaches 20 mm/s (that takes 10 mm) and lasts 2·√(1.7/40) = 0.4123 s.
    #[test]
    fn wait_move_and_settling_make_the_interval() {
        near(interval_s(&slider()), 13.585);
        let mut slow = slider();
        slow.rig.acceleration_m_s2 = Some(0.04);
        near(interval_s(&slow), 13.5 + 2.0 * (1.7_f64 / 40.0).sqrt());
        assert_eq!(interval_s(&Plan { rig: RigPlan { wait_s: None, ..slider().rig }, ..slider() }), None);
        let unknown = Plan { rig: RigPlan { speed_m_s: None, ..slider().rig }, ..slider() };
        assert_eq!(interval_s(&unknown), None);
        near(wait_of_s(&slider(), 20.0), 19.415);
        assert_eq!(wait_of_s(&slider(), 13.585), Some(13.0));
        assert_eq!(wait_of_s(&slider(), 0.2), Some(0.0));
    }

    #[test]
    fn both_figures_are_told_where_an_interval_contradicts_the_dials() {
        assert_eq!(disagreements(&slider()), Vec::<String>::new());
        let rounded = Plan { interval_s: Some(13.59), ..slider() };
        assert_eq!(disagreements(&rounded), Vec::<String>::new());
        let told = disagreements(&Plan { interval_s: Some(14.0), ..slider() });
        assert!(told.len() == 1 && told[0].contains("13.59 s") && told[0].contains("14 s"), "{told:?}");
    }
}
