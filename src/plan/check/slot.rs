//! Does one slot hold what is planned for it: exposures, the camera's busy time, the move of the rig?

use super::told::{Contradiction, warn};
use crate::plan::arithmetic::exact_s;
use crate::plan::budget::Budget;
use crate::plan::{Asked, Plan};
use crate::units::duration;
use crate::units::stops::time_text;

/// Warns where the interval is too short for the slot. The most telling of the reasons is told, not all of
/// them.
///
/// The longest planned exposure counts, by its mark and by its exact time. Where the timer counts from
/// shutter close the exposure lies outside the interval.
pub(super) fn against_interval(plan: &Plan, asked: &Asked, place: &str, told: &mut Vec<Contradiction>) {
    let Some(interval_s) = asked.interval_s else { return };
    let exposure = &asked.exposure;
    let mark_s = exposure.shutter_s.map(|p| p.high());
    let exact = mark_s.map_or(0.0, exact_s);
    let members = plan.members();
    let budget = Budget::of_asked(plan, asked);
    let (_, slot) = budget.longest(plan, exposure);
    let (open_s, camera_s, total_s) = (slot.open_s, slot.camera_s, slot.whole_s());
    let dark = budget.dark && exact > 0.0;
    let rig_s = budget.lag_s + budget.move_s.unwrap_or(0.0) + budget.settle_s;
    // A microsecond is no overrun: it is how decimals become binary fractions. Camera and carriage part where
    // the rig has a wait: the camera has that, and the carriage what follows.
    let room_s = budget.room_s(interval_s);
    let over = |s: f64| s > room_s + 1e-6;
    let rig_over = |s: f64| budget.wait_s.is_none() && over(s);
    let (word, interval_s) = (budget.room_word(), room_s);
    let (interval, total) = (duration(interval_s), duration(total_s));
    let open = mark_s.map(|m| said_exposure(m, exact)).unwrap_or_default();
    let many = members > 1;
    let several =
        if many { format!("{members} exposures of {open}") } else { format!("An exposure of {open}") };
    let rig = format!("the rig's move and settle time of {}", duration(rig_s));
    let words = if over(open_s) {
        let are = if many { "are" } else { "is" };
        format!(
            "{several}{place} {are} longer than the {word} of {interval}: {}.",
            match budget.wait_s {
                Some(_) => "the carriage moves while the shutter is open",
                None => "the timer will skip slots or run late",
            }
        )
    } else if rig_over(rig_s) {
        format!("{}{place} is longer than the interval of {interval}.", capital(&rig))
    } else if over(camera_s) {
        let busy = if dark { "busy time and dark frame" } else { "busy time" };
        let (its, takes) = if many { ("their", "take") } else { ("its", "takes") };
        let first = match open_s > 0.0 {
            true => format!("{several} with {its} {busy}{place} {takes}"),
            false => format!("{}{place} {}", capital(busy), if dark { "take" } else { "takes" }),
        };
        format!("{first} {}, longer than the {word} of {interval}.", duration(camera_s))
    } else if rig_over(total_s) {
        let both = if open_s > 0.0 { several } else { "Busy time".into() };
        format!("{both} and {rig}{place} make a slot of {total}, longer than the interval of {interval}.")
    } else {
        return;
    };
    warn(told, words);
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
