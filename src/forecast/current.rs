//! Which frames are those of the run that goes on: what a card holds of earlier runs is left out.

use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::Micros;

/// Without a frame for as long, and for as many intervals, a run is over and what follows is another. Common
/// practice, no source: a battery is changed in less, and an hour of summer time is no rest.
const APART: Micros = Micros::from_seconds(4800);
const APART_INTERVALS: f64 = 30.0;
/// Nights and Sundays of a run with working hours are no end of it.
const APART_WITH_HOURS: Micros = Micros::from_seconds(4 * 86_400);

/// The frames behind the last long rest, and how many lie before it. Frames without a stamp stay with the
/// one before them.
pub fn current_run(plan: &Plan, frames: Frames) -> (Frames, u64) {
    let stamp = |at: &usize| Some(frames.rows.get(*at)?.stamp.known()?.at.micros());
    let mut stamped: Vec<(Micros, usize)> =
        (0..frames.len()).filter_map(|at| Some((stamp(&at)?, at))).collect();
    stamped.sort_unstable();
    let apart = apart(plan, &stamped);
    let Some(cut) = stamped.windows(2).rposition(|pair| pair[1].0 - pair[0].0 > apart) else {
        return (frames, 0);
    };
    let mut part_of = vec![u32::MAX; frames.len()];
    for (n, (_, at)) in stamped.iter().enumerate() {
        part_of[*at] = u32::from(n > cut);
    }
    let mut before = 1;
    for part in &mut part_of {
        if *part == u32::MAX {
            *part = before;
        }
        before = *part;
    }
    let earlier = part_of.iter().filter(|part| **part == 0).count() as u64;
    let run = frames.parted(&part_of, 2).pop().unwrap_or_default();
    (run, earlier)
}

fn apart(plan: &Plan, stamped: &[(Micros, usize)]) -> Micros {
    if !plan.active.is_empty() {
        return APART_WITH_HOURS;
    }
    let mut gaps: Vec<Micros> = stamped.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    gaps.sort_unstable();
    let usual_s = gaps.get(gaps.len() / 2).map_or(0.0, |gap| gap.seconds());
    let longest_s = plan.parts.iter().filter_map(|part| part.interval_s).fold(0.0, f64::max);
    let interval_s = plan.interval_s.unwrap_or(usual_s).max(longest_s);
    APART.max(Micros::nearest(APART_INTERVALS * interval_s))
}
