//! Frames, run and parts: do they tell the same length?

use super::told::{Contradiction, refuse, warn};
use crate::plan::course::{frames_asked, frames_of_run, period_s};
use crate::plan::{Moment, Part, PartStart, Plan, arithmetic, dials};
use crate::units::duration;
use std::cmp::Ordering;

/// Fills `frames` where only `run` is written: [`frames_of_run`]. Where the rig is set by a wait, the
/// interval is that of its dials.
///
/// Nothing is filled where the number cannot be known, and with `active` hours and no start: it then hangs on
/// the hour of the first frame.
pub fn derive(plan: &mut Plan) {
    plan.interval_s = dials::interval_s(plan).or(plan.interval_s);
    if plan.frames.is_none() && (plan.active.is_empty() || plan.start.is_some()) {
        plan.frames = frames_of_run(plan);
    }
}

/// `frames` against `run`: one frame of difference is the old question of counting posts or gaps, more is a
/// mistake.
pub(super) fn frames_against_run(plan: &Plan, told: &mut Vec<Contradiction>) {
    let adrift = |p: &Part| p.interval_s.is_some() && matches!(p.from, PartStart::Moment(_));
    if plan.frames.is_none() && plan.run_s.is_some() && plan.start.is_none() && plan.parts.iter().any(adrift)
    {
        let words = "A [[part]] with an interval of its own begins at a moment, but the plan has no start: \
                     the frames of its run are not known. Write start or frames.";
        warn(told, words.into());
    }
    let (Some(frames), Some(run_s), Some(interval_s)) = (plan.frames, plan.run_s, plan.interval_s) else {
        return;
    };
    let Some(of_run) = frames_of_run(plan).filter(|n| *n != frames) else { return };
    let run = duration(run_s);
    let said = match plan.changes_interval() {
        true => format!("run = \"{run}\" holds {of_run} frames at the intervals of the plan and its parts"),
        false => format!("run = \"{run}\" holds {of_run} frames at an interval of {}", duration(interval_s)),
    };
    if of_run.abs_diff(frames) == 1 {
        warn(told, format!("{said}, one off frames = {frames}; {frames} is used."));
    } else {
        refuse(told, format!("{said}, but frames = {frames}. Leave out one of the two, or make them agree."));
    }
}

/// Parts that begin before the run, after it, or before one another.
pub(super) fn order_of_parts(plan: &Plan, told: &mut Vec<Contradiction>) {
    let frames = frames_asked(plan);
    let run_s = plan.run_s.or_else(|| {
        let plain = plan.active.is_empty() && !plan.changes_interval();
        let period_s = period_s(plan, plan.interval_s?)?;
        frames.filter(|_| plain).map(|n| arithmetic::time_from_frames_s(n, period_s))
    });
    for (at, part) in plan.parts.iter().enumerate() {
        let place = format!("[[part]] {}", at + 1);
        match &part.from {
            PartStart::File(_) => {}
            PartStart::Frame(n) => {
                if let Some(frames) = frames.filter(|frames| n >= frames) {
                    warn(
                        told,
                        format!("{place} begins at frame {n}, but the plan's {frames} frames end before it."),
                    );
                }
            }
            PartStart::Moment(moment) => {
                let Some(start) = plan.start else { continue };
                let after_s = seconds_between(start, *moment);
                if after_s < 0.0 {
                    let words = format!(
                        "{place} begins at {}, before the start at {}. Correct one of the two.",
                        moment.civil, start.civil
                    );
                    refuse(told, words);
                } else if let Some(run_s) = run_s.filter(|run_s| plan.active.is_empty() && after_s > *run_s) {
                    let words = format!(
                        "{place} begins {} after the start, but the run ends after {}.",
                        duration(after_s),
                        duration(run_s)
                    );
                    warn(told, words);
                }
            }
        }
        if let Some(before) = at.checked_sub(1).and_then(|b| plan.parts.get(b))
            && order(&before.from, &part.from).is_some_and(|o| o != Ordering::Less)
        {
            refuse(
                told,
                format!("{place} does not begin after the part before it. Put the parts in their order."),
            );
        }
    }
}

/// The order of two beginnings of one kind; `None` where they cannot be compared.
fn order(a: &PartStart, b: &PartStart) -> Option<Ordering> {
    match (a, b) {
        (PartStart::Frame(a), PartStart::Frame(b)) => Some(a.cmp(b)),
        (PartStart::Moment(a), PartStart::Moment(b)) => 0.0.partial_cmp(&seconds_between(*a, *b)),
        _ => None,
    }
}

/// Seconds from `earlier` to `later`, by UTC where both have an offset, else by the local clock.
fn seconds_between(earlier: Moment, later: Moment) -> f64 {
    let local = later.civil.seconds_since(earlier.civil);
    match (earlier.offset_min, later.offset_min) {
        (Some(a), Some(b)) => local - f64::from(i32::from(b) - i32::from(a)) * 60.0,
        _ => local,
    }
}
