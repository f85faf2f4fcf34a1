//! Where one run is two sequences after all. An audit keeps a run together over a pause, because it is asked
//! whether the run holds; a survey is asked what was shot.

use super::FEW;
use crate::evidence::timing::{Hole, HoleCause, JoinKind};
use crate::evidence::{FileKind, Sequence};
use crate::units::Micros;
use std::collections::BTreeMap;

/// The timer stood for as long as this, s, and this many slots: it was set up again. The slots are the level
/// at which `grid-slip` is a fault; the seconds are common practice, no source: a battery is changed in less.
const PAUSE_S: f64 = 120.0;
const PAUSE_SLOTS: f64 = 10.0;
/// An empty time as long as this, s, and this many slots, parts two jobs whatever grid they stand on. Common
/// practice, no source.
const APART_S: f64 = 2700.0;
const APART_SLOTS: f64 = 100.0;
/// An interval that changed by more than this share is another sequence.
const OTHER_RATE: f64 = 0.05;
/// So much in exposure across a long hole, EV, and it was set up again.
const OTHER_EV: f64 = 0.3;

/// Positions in capture order at which another sequence begins, in order.
pub(crate) fn cuts(evidence: &Sequence) -> Vec<usize> {
    let timing = &evidence.timing;
    let mut cuts = Vec::new();
    let frames_of = |at: usize| timing.stretches.get(at).map_or(0, |s| s.frames);
    for (at, join) in timing.joins.iter().enumerate() {
        let cut = match &join.kind {
            JoinKind::Slip { pause_s, slots } => *pause_s >= PAUSE_S && *slots > PAUSE_SLOTS,
            JoinKind::Rate { from_s, to_s, pause_s, .. } => {
                let few = frames_of(at).min(frames_of(at + 1)) < FEW as u64;
                let long = pause_s.is_some_and(|s| s >= PAUSE_S && s > PAUSE_SLOTS * from_s.max(*to_s));
                long || (to_s / from_s).ln().abs() > OTHER_RATE && !few
            }
            JoinKind::ClockStep { stood_s, .. } => {
                let slot_s = timing.stretches.get(at).map_or(0.0, |s| s.interval_s);
                stood_s.is_some_and(|s| s >= PAUSE_S && s > PAUSE_SLOTS * slot_s)
            }
            JoinKind::Night => false,
        };
        if cut {
            cuts.push(join.after);
        }
    }
    for hole in timing.holes.iter().filter(|h| h.cause != HoleCause::FileLost) {
        let long = |seconds, slots| hole.gap_s >= seconds && hole.slots as f64 > slots;
        let set_up_again = hole.numbers.is_some_and(|n| Some(n) != timing.number_advance)
            || other(evidence, hole.before, hole.after);
        if long(APART_S, APART_SLOTS) || (set_up_again && long(PAUSE_S, PAUSE_SLOTS)) {
            cuts.push(hole.after);
        }
    }
    cuts.extend(slower_tail(&timing.holes, evidence.in_run().last()));
    cuts.extend(sizes(evidence));
    cuts.sort_unstable();
    cuts.dedup();
    cuts
}

/// Holes in a row, all alike, that lead to the end of a run: to a survey that is a slower timer of its own.
const SLOWER: usize = 12;

/// Where a run goes on, to its end, at an interval several times as long: the first frame of that.
fn slower_tail(holes: &[Hole], last: Option<usize>) -> Option<usize> {
    let end = holes.last().filter(|h| Some(h.after) == last)?;
    let alike = |pair: &[Hole]| pair[0].after == pair[1].before && pair[0].slots == end.slots;
    let more = holes.windows(2).rev().take_while(|pair| alike(pair)).count();
    let unconfirmed = holes[holes.len() - 1 - more..].iter().all(|h| h.cause != HoleCause::FileLost);
    (more + 1 >= SLOWER && unconfirmed).then(|| holes[holes.len() - 1 - more].before)
}

/// True where two frames are exposed differently.
fn other(evidence: &Sequence, a: usize, b: usize) -> bool {
    let ev = |at: usize| evidence.frame(at).ev100();
    ev(a).zip(ev(b)).is_some_and(|(a, b)| (a - b).abs() > OTHER_EV)
}

/// Width and height, px.
type Size = (u32, u32);

/// Where the size of the pictures of one kind of file changes for good: at least a sequence's frames of the
/// one before, and of the other after. Raw beside JPEG may differ in size in every shot.
fn sizes(evidence: &Sequence) -> Vec<usize> {
    let mut by_kind: BTreeMap<FileKind, Vec<(usize, Size)>> = BTreeMap::new();
    for frame in evidence.run() {
        if let Some(size) = frame.row().size.known() {
            by_kind.entry(frame.shot().file.kind).or_default().push((frame.at(), turned(size)));
        }
    }
    by_kind.values().flat_map(|sized| resized(sized)).collect()
}

/// Where the size changes for good among frames of one kind.
fn resized(sized: &[(usize, Size)]) -> Vec<usize> {
    let mut runs: Vec<(usize, Size, usize)> = Vec::new();
    for &(at, size) in sized {
        match runs.last_mut() {
            Some(run) if run.1 == size => run.2 += 1,
            _ => runs.push((at, size, 1)),
        }
    }
    // A single frame of another size breaks no run.
    let mut long: Vec<(usize, Size)> = Vec::new();
    for (at, size, frames) in runs {
        if frames >= FEW && long.last().is_none_or(|last| last.1 != size) {
            long.push((at, size));
        }
    }
    long.iter().skip(1).map(|run| run.0).collect()
}

/// Upright and level pictures of one camera have one size.
fn turned((a, b): Size) -> Size {
    (a.max(b), a.min(b))
}

/// Where frames on no grid are parted: at gaps that are long, and long beside the middle one.
pub(crate) fn gaps(evidence: &Sequence) -> Vec<usize> {
    let stamped: Vec<(usize, Micros)> = evidence
        .all()
        .filter(|frame| !frame.is_outside())
        .filter_map(|frame| Some((frame.at(), frame.moment()?.micros())))
        .collect();
    let mut lengths: Vec<Micros> = stamped.windows(2).map(|w| w[1].1 - w[0].1).collect();
    lengths.sort_unstable();
    let Some(middle) = lengths.get(lengths.len() / 2) else { return Vec::new() };
    let long = (PAUSE_S * Micros::SECOND.get() as f64).max(PAUSE_SLOTS * middle.get() as f64);
    stamped.windows(2).filter(|w| (w[1].1 - w[0].1).get() as f64 > long).map(|w| w[1].0).collect()
}

/// True where stamps that stand on no grid are still those of a sequence: enough frames, and most of them
/// about as far apart as the middle gap.
pub(crate) fn hangs_together(evidence: &Sequence) -> bool {
    let run: Vec<_> = evidence.all().filter(|frame| !frame.is_outside()).collect();
    let stamps: Vec<Micros> = run.iter().filter_map(|frame| frame.moment()).map(|at| at.micros()).collect();
    if stamps.len() * 2 < run.len() {
        // Without stamps only the names are left, and they do not speak against it.
        return run.len() >= FEW;
    }
    let mut gaps: Vec<Micros> = stamps.windows(2).map(|w| w[1] - w[0]).collect();
    if gaps.len() < MANY {
        return false;
    }
    gaps.sort_unstable();
    let middle = gaps[gaps.len() / 2];
    let alike = gaps.iter().filter(|g| **g > Micros::ZERO && **g <= middle * 4 && **g * 4 >= middle).count();
    middle > Micros::ZERO && alike as f64 >= ALIKE * gaps.len() as f64
}

/// Frames on no grid must be this many, and this share of their gaps alike. Common practice, no source.
const MANY: usize = 30;
const ALIKE: f64 = 0.8;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_that_changes_for_good_cuts_and_a_single_frame_does_not() {
        let sized =
            |of: &dyn Fn(usize) -> u32| (0..40).map(|at| (2 * at, (of(at), 2000))).collect::<Vec<_>>();
        assert_eq!(resized(&sized(&|at| if at < 20 { 6000 } else { 3000 })), [40]);
        assert!(resized(&sized(&|at| if at == 20 { 3000 } else { 6000 })).is_empty());
        assert!(resized(&sized(&|_| 6000)).is_empty());
    }
}
