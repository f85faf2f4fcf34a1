//! What to set on a rig with two dials.

use crate::plan::shoot::Shoot;
use crate::units::{counted, duration, length_text};

/// What to set, and what comes of it, two sentences; `None` where the rig is not set by a wait.
pub(super) fn to_set(shoot: &Shoot) -> Option<String> {
    let plan = &shoot.plan;
    let (wait_s, step_m, interval_s) = (plan.rig.wait_s?, plan.rig.step_m?, plan.interval_s?);
    let mut makes = vec![
        format!("{} from frame to frame", duration(interval_s)),
        counted(plan.frames.unwrap_or(0), "frame"),
    ];
    makes.extend(shoot.figures.clip_s.map(|s| format!("{} of clip", duration(s))));
    makes.extend(plan.rig.travel_m.map(|m| format!("{} of travel", length_text(m))));
    Some(format!(
        "Set: wait {}, step {}. That makes {}.",
        duration(wait_s),
        length_text(step_m),
        makes.join(", ")
    ))
}
