//! Does one slot hold what is planned for it: exposures, the camera's busy time, the move of the rig?

use super::{Contradiction, CountedFrom, ExposurePlan, Plan, RigKind, arithmetic, duration, warn};
use crate::units::stops::{Series, Step, exact_or_same, only_half, time_text};

/// The exact exposure that a marked one names, s: "30" is 32 s.
pub(super) fn exact_s(mark: f64) -> f64 {
    let step = if only_half(Series::Time, mark) { Step::Half } else { Step::Third };
    exact_or_same(Series::Time, mark, step)
}

/// Warns where the interval is too short for the slot. The most telling of the reasons is told, not all of them.
///
/// The longest planned exposure counts, by its mark and by its exact time. Where the timer counts from shutter close the
/// exposure lies outside the interval.
pub(super) fn against_interval(
    plan: &Plan,
    exposure: &ExposurePlan,
    interval_s: Option<f64>,
    place: &str,
    told: &mut Vec<Contradiction>,
) {
    let Some(interval_s) = interval_s else { return };
    let mark_s = exposure.shutter_s.map(|p| p.high());
    let exact = mark_s.map_or(0.0, exact_s);
    let inside = plan.counted_from != Some(CountedFrom::Close);
    let members = f64::from(plan.bracket.unwrap_or(1).max(1));
    let busy_s = exposure.busy_s.unwrap_or(0.0);
    let dark_s = if exposure.dark_frame == Some(true) { exact } else { 0.0 };
    let (lag_s, move_s, settle_s) = rig_times(plan);
    // Within a bracket the camera is busy between its members.
    let between_s = (members - 1.0) * (exact * f64::from(u8::from(!inside)) + busy_s + dark_s);
    let open_s = if inside { members * exact } else { 0.0 };
    let slot = arithmetic::Slot {
        exposure_s: open_s + between_s,
        busy_s,
        dark_s,
        lag_s,
        move_s,
        settle_s,
        waits: plan.rig.waits == Some(true),
    };
    let total_s = arithmetic::cycle_s(&slot);
    // A microsecond is no overrun: it is how decimals become binary fractions.
    let over = |s: f64| s > interval_s + 1e-6;
    let (interval, total) = (duration(interval_s), duration(total_s));
    let open = mark_s.map(|m| said_exposure(m, exact)).unwrap_or_default();
    let many = members > 1.0;
    let several =
        if many { format!("{members} exposures of {open}") } else { format!("An exposure of {open}") };
    let camera_s = slot.exposure_s + busy_s + dark_s;
    let rig_s = lag_s + move_s + settle_s;
    let rig = format!("the rig's move and settle time of {}", duration(rig_s));
    let words = if over(open_s) {
        let are = if many { "are" } else { "is" };
        format!(
            "{several}{place} {are} longer than the interval of {interval}: the timer will skip slots or run late."
        )
    } else if over(rig_s) {
        format!("{}{place} is longer than the interval of {interval}.", capital(&rig))
    } else if over(camera_s) {
        let busy = if dark_s > 0.0 { "busy time and dark frame" } else { "busy time" };
        let (its, takes) = if many { ("their", "take") } else { ("its", "takes") };
        let first = match open_s > 0.0 {
            true => format!("{several} with {its} {busy}{place} {takes}"),
            false => format!("{}{place} {}", capital(busy), if dark_s > 0.0 { "take" } else { "takes" }),
        };
        format!("{first} {}, longer than the interval of {interval}.", duration(camera_s))
    } else if over(total_s) {
        let both = if open_s > 0.0 { several } else { "Busy time".into() };
        format!("{both} and {rig}{place} make a slot of {total}, longer than the interval of {interval}.")
    } else {
        return;
    };
    warn(told, words);
}

/// Trigger lag, move and settle of a stepped rig, s; what is not said counts as none.
fn rig_times(plan: &Plan) -> (f64, f64, f64) {
    let rig = &plan.rig;
    if rig.kind == Some(RigKind::Continuous) {
        return (0.0, 0.0, 0.0);
    }
    let moves =
        plan.frames.or_else(|| super::frames_of_run(plan)).map(|n| n.saturating_sub(1)).filter(|n| *n > 0);
    let step_m = rig.step_m.or_else(|| Some(rig.travel_m? / moves? as f64));
    let move_s = step_m
        .zip(rig.speed_m_s)
        .and_then(|(step, speed)| arithmetic::move_time_s(step, speed, rig.acceleration_m_s2));
    (rig.trigger_lag_s.unwrap_or(0.0), move_s.unwrap_or(0.0), rig.settle_s.unwrap_or(0.0))
}

/// `30 s (32 s in fact)` where mark and exact time differ by more than a hundredth.
fn said_exposure(mark_s: f64, exact: f64) -> String {
    let said = time_text(mark_s);
    if (exact / mark_s - 1.0).abs() > 0.01 { format!("{said} ({} in fact)", time_text(exact)) } else { said }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_uppercase().chain(chars).collect()).unwrap_or_default()
}
