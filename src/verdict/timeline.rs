//! The run told in a few lines: when it began, what happened on the way, when it ended.

use crate::evidence::Evidence;
use crate::evidence::timing::{Hole, JoinKind};
use crate::units::duration;

/// Holes told one by one; the largest are told where there are more.
const MOST_HOLES: usize = 6;

/// The lines, in order of time. Empty without a stamped frame in the run.
pub fn told(evidence: &Evidence) -> Vec<String> {
    let clock = |i: usize| evidence.stamp(i).map_or_else(|| "--:--:--".to_owned(), |s| s.at.clock());
    let mut run = evidence.in_run().filter(|&i| evidence.stamp(i).is_some());
    let Some(first) = run.next() else { return Vec::new() };
    let last = run.last().unwrap_or(first);
    let timing = &evidence.timing;
    let pace = match &timing.cadence {
        Some(c) => format!(
            ", one frame every {}",
            duration(timing.stretches.first().map_or(c.interval_s, |s| s.interval_s))
        ),
        None => ", at no steady pace".into(),
    };
    let mut lines = vec![(first, format!("{}  began with {}{pace}", clock(first), evidence.name(first)))];
    for join in &timing.joins {
        let what = match &join.kind {
            JoinKind::Slip { pause_s, slots } => {
                format!(
                    "stood for {} ({slots:.2} slots), then went on from {}",
                    duration(*pause_s),
                    evidence.name(join.after)
                )
            }
            JoinKind::ClockStep { step_s, looks_like } => {
                format!("the camera's clock jumped by {} ({looks_like})", duration(*step_s))
            }
            JoinKind::Rate { from_s, to_s, .. } => {
                format!("the interval went from {} to {}", duration(*from_s), duration(*to_s))
            }
            JoinKind::Night => format!("rested until {}", clock(join.after)),
        };
        lines.push((join.after, format!("{}  {what}", clock(join.before))));
    }
    let mut holes: Vec<&Hole> = timing.holes.iter().collect();
    holes.sort_by(|a, b| b.slots.cmp(&a.slots).then(a.before.cmp(&b.before)));
    let untold: u64 = holes.iter().skip(MOST_HOLES).map(|h| h.slots).sum();
    for hole in holes.iter().take(MOST_HOLES) {
        let slots = if hole.slots == 1 { "1 slot".into() } else { format!("{} slots", hole.slots) };
        lines.push((
            hole.after,
            format!(
                "{}  {slots} empty after {}, for {}",
                clock(hole.before),
                evidence.name(hole.before),
                duration(hole.gap_s)
            ),
        ));
    }
    lines.sort_by_key(|l| l.0);
    let mut out: Vec<String> = lines.into_iter().map(|l| l.1).collect();
    if untold > 0 {
        out.push(format!(
            "          and {untold} more empty slots in {} smaller holes",
            holes.len() - MOST_HOLES
        ));
    }
    out.push(format!("{}  ended with {}", clock(last), evidence.name(last)));
    out
}
