//! The timing of a folder: which frames are the run, and what their stamps say.

use super::assemble::blank;
use super::bracket::{Exposures, Sets};
use super::days::Read;
use super::effort::Effort;
use super::law::Lawful;
use super::placement::{How, Place};
use super::run::APART_S;
use super::select::{Field, OTHER_SHOT_EV, Selected};
use super::series::Series;
use super::{Bracket, NO_SLOT, OrderBasis, Timing, numbers};
use crate::evidence::exposure::ExposureTrack;
use crate::evidence::{FrameState, Outside};
use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::{FrameSpan, Micros, duration};

/// Timing, the state of each frame, and what lies outside the run.
pub struct Found {
    /// The timing of the run.
    pub timing: Timing,
    /// What each frame is to the run.
    pub states: Vec<FrameState>,
    /// What lies outside.
    pub outside: Vec<Outside>,
}

/// Reads the timing of `frames`, which stand in capture order. `states` comes with what is known without
/// stamps (copies are surplus, other cameras are outside, broken files damaged); `outside` with the reasons
/// told so far.
pub fn timing(
    plan: &Plan,
    frames: &Frames,
    exposure: &ExposureTrack,
    basis: OrderBasis,
    mut states: Vec<FrameState>,
    mut outside: Vec<Outside>,
) -> Found {
    let mut timing = Timing { basis, ..blank(frames.len()) };
    let ticks: Vec<usize> = (0..frames.len())
        .filter(|&i| matches!(states[i], FrameState::Frame | FrameState::Damaged))
        .filter(|&i| frames.rows[i].stamp.as_known().is_some())
        .collect();
    let stamps: Vec<Micros> =
        ticks.iter().filter_map(|&i| frames.rows[i].stamp.as_known()).map(|s| s.at.micros()).collect();
    let written = ticks.iter().filter_map(|&i| frames.rows[i].stamp.as_known()).map(|s| s.resolution).max();
    timing.written_resolution = written.unwrap_or(Micros::SECOND);
    timing.backwards =
        (1..ticks.len()).filter(|&i| stamps[i] < stamps[i - 1]).map(|i| (ticks[i - 1], ticks[i])).collect();
    if ticks.len() < 2 {
        timing.no_grid = Some(format!("{} stamped frames are too few to tell an interval", ticks.len()));
        timing.unstamped = unstamped(frames, &states);
        return Found { timing, states, outside };
    }
    let whole = (ticks, stamps);
    let sets = bracket(plan, frames, exposure, &whole.0, &whole.1);
    let pick = |at: usize| sets.as_ref().map_or(at, |s| s.firsts[at]);
    let picked = sets.as_ref().map_or(whole.0.len(), |s| s.firsts.len());
    let ticks: Vec<usize> = (0..picked).map(|i| whole.0[pick(i)]).collect();
    let into = |set: usize| sets.as_ref().and_then(|s| s.into.get(set)).copied().unwrap_or_default();
    let stamps: Vec<Micros> = (0..picked).map(|i| whole.1[pick(i)] - into(i)).collect();
    let effort = Effort::of(stamps.len());
    let written = timing.written_resolution;
    let field = Field { plan, frames, exposure, written, sets: sets.is_some(), effort: &effort };
    let selected = field.select(&ticks, &stamps);
    timing.lines_tried = effort.spent();
    let Some(Selected {
        ends: (first, last),
        read: Read { read, places, pieces },
        asked,
        by_number,
        weighed,
    }) = selected
    else {
        timing.no_grid = Some("no grid of slots fits the stamps".into());
        timing.unstamped = unstamped(frames, &states);
        return Found { timing, states, outside };
    };
    let last_of_set = if last + 1 < picked { pick(last + 1) - 1 } else { whole.0.len() - 1 };
    // Where the neighbour outside is far away in time, that is the reason, and not the grid.
    let away = |a: usize, b: usize| (stamps[b] - stamps[a]).seconds();
    let slots = places.last().map_or(0, |p| p.slot) - places.first().map_or(0, |p| p.slot) + 1;
    let complete = plan.frames.filter(|asked| slots.unsigned_abs() >= *asked);
    let reason = |side, a: usize, b: usize| {
        let ev = |at: usize| exposure.ev100(ticks[at]);
        let otherwise = ev(a).zip(ev(b)).is_some_and(|(a, b)| (a - b).abs() > OTHER_SHOT_EV);
        reason(side, away(a, b), otherwise, complete)
    };
    let before = (first > 0).then(|| reason("before", first - 1, first));
    let after = (last + 1 < picked).then(|| reason("after", last, last + 1));
    put_outside(
        frames.len(),
        (before, after),
        (ticks[first], whole.0[last_of_set]),
        &mut states,
        &mut outside,
    );
    let (ticks, stamps) = (&ticks[first..=last], &stamps[first..=last]);
    let stamps_on_grid = under_law(&read, &places);
    Series {
        plan,
        frames,
        exposure,
        ticks,
        raw: stamps,
        stamps: &stamps_on_grid,
        places: &places,
        pieces: &pieces,
        by_number: &by_number,
        asked,
        ends: weighed,
        read: &read,
    }
    .fill(&mut timing);
    if timing.no_grid.is_none() {
        mark_surplus(ticks, &places, &mut states);
    }
    if let Some(sets) = &sets {
        timing.bracket = Some(spread(sets, &whole.0, first, last, &mut timing.standing.slots));
    }
    place_unstamped(&mut timing, frames, &states);
    timing.unstamped = unstamped(frames, &states);
    Found { timing, states, outside }
}

/// The bracket sets of the stamped frames; `None` with one exposure a slot.
fn bracket(
    plan: &Plan,
    frames: &Frames,
    exposure: &ExposureTrack,
    ticks: &[usize],
    stamps: &[Micros],
) -> Option<Sets> {
    let ev: Vec<f64> = ticks.iter().map(|&i| exposure.ev100(i).unwrap_or(f64::NAN)).collect();
    let tagged: Vec<bool> = ticks.iter().map(|&i| frames.rows[i].exposure_mode.known() == Some(2)).collect();
    Exposures { stamps, ev: &ev, tagged: &tagged }.sets(plan.bracket)
}

/// Gives every exposure of a set the slot of its first, and tells the sets that are not whole.
fn spread(sets: &Sets, ticks: &[usize], first: usize, last: usize, slots: &mut [i64]) -> Bracket {
    let mut incomplete = Vec::new();
    for at in first..=last {
        let from = sets.firsts[at];
        let to = sets.firsts.get(at + 1).copied().unwrap_or(ticks.len());
        for i in from + 1..to {
            slots[ticks[i]] = slots[ticks[from]];
        }
        if to - from != sets.size {
            incomplete.push(FrameSpan { first: ticks[from], last: ticks[to - 1] });
        }
    }
    Bracket { size: sets.size, incomplete }
}

/// The stamps with the law taken out: what a plain timer of the same interval would have written.
fn under_law(read: &Lawful, places: &[Place]) -> Vec<Micros> {
    if read.per_slot_s.is_empty() {
        return read.stamps.clone();
    }
    let (mut shift, mut slot, mut per_slot) = (0.0_f64, 0_i64, 0.0_f64);
    read.stamps
        .iter()
        .zip(places)
        .zip(&read.per_slot_s)
        .map(|((stamp, place), own)| {
            let here = per_slot.mul_add((place.slot - slot) as f64, shift);
            if place.how == How::On {
                (shift, slot, per_slot) = (here, place.slot, f64::from(*own));
            }
            *stamp - Micros::nearest(here)
        })
        .collect()
}

/// Why frames next to the run are no part of it.
fn reason(side: &str, gap_s: f64, exposed_otherwise: bool, complete: Option<u64>) -> String {
    match complete {
        _ if gap_s.abs() > APART_S => format!("{} {side} the run", duration(gap_s.abs())),
        _ if exposed_otherwise => format!("{side} the run, exposed otherwise: test shots"),
        Some(asked) => format!("{side} the run, whose {asked} planned frames are there without them"),
        None => format!("{side} the run, off its pace: test shots, or fired by hand"),
    }
}

/// Everything before the run's first frame and after its last one is outside.
fn put_outside(
    frames: usize,
    why: (Option<String>, Option<String>),
    run: (usize, usize),
    states: &mut [FrameState],
    outside: &mut Vec<Outside>,
) {
    let (first, last) = run;
    let mut put = |range: std::ops::Range<usize>, why: &str| {
        let mut open: Option<FrameSpan> = None;
        for at in range {
            if states[at] == FrameState::Outside {
                outside.extend(open.take().map(|span| Outside { span, why: why.into() }));
                continue;
            }
            states[at] = FrameState::Outside;
            open = Some(open.map_or(FrameSpan::one(at), |s| FrameSpan { last: at, ..s }));
        }
        outside.extend(open.map(|span| Outside { span, why: why.into() }));
    };
    if let Some(why) = &why.0 {
        put(0..first, why);
    }
    if let Some(why) = &why.1 {
        put(last + 1..frames, why);
    }
    outside.sort_by_key(|o| o.span);
}

fn mark_surplus(ticks: &[usize], places: &[Place], states: &mut [FrameState]) {
    for (tick, place) in ticks.iter().zip(places) {
        if place.how == How::Surplus {
            states[*tick] = FrameState::Surplus;
        }
    }
}

/// Gives frames without a stamp the slot that their file number names, or the one slot that is left for them;
/// the hole they fill shrinks or goes.
fn place_unstamped(timing: &mut Timing, frames: &Frames, states: &[FrameState]) {
    let mut holes = Vec::with_capacity(timing.holes.len());
    for hole in std::mem::take(&mut timing.holes) {
        // A frame amid the exposures of the slot before the hole is one of them.
        let own = timing.standing.slots[hole.before];
        let of_set = (hole.before + 1..hole.after)
            .rev()
            .find(|&i| timing.standing.slots[i] == own)
            .unwrap_or(hole.before);
        for (slot, state) in timing.standing.slots.iter_mut().zip(states).take(of_set).skip(hole.before + 1) {
            if in_run(*state) && *slot == NO_SLOT {
                *slot = own;
            }
        }
        let waiting: Vec<usize> = (of_set + 1..hole.after)
            .filter(|&i| in_run(states[i]) && timing.standing.slots[i] == NO_SLOT)
            .collect();
        let mut taken: Vec<i64> = Vec::new();
        for (n, &at) in waiting.iter().enumerate() {
            let by_number =
                timing.number_advance.zip(numbers::between(frames, hole.before, at)).and_then(|(r, step)| {
                    (step > 0 && step % r == 0 && (step / r) as u64 <= hole.slots)
                        .then(|| hole.slot + step / r - 1)
                });
            let by_count = (waiting.len() as u64 == hole.slots).then(|| hole.slot + n as i64);
            if let Some(slot) = by_number.or(by_count)
                && !taken.contains(&slot)
            {
                timing.standing.slots[at] = slot;
                taken.push(slot);
            }
        }
        if taken.is_empty() {
            holes.push(hole);
            continue;
        }
        // What is left of the hole: each part between two frames that stand in it.
        let mut edges = vec![(hole.before, hole.slot - 1)];
        edges.extend(
            waiting
                .iter()
                .filter(|&&i| timing.standing.slots[i] != NO_SLOT)
                .map(|&i| (i, timing.standing.slots[i])),
        );
        edges.push((hole.after, hole.slot + hole.slots as i64));
        edges.sort_by_key(|e| e.1);
        for pair in edges.windows(2) {
            let slots = pair[1].1 - pair[0].1 - 1;
            if slots > 0 {
                let step = numbers::between(frames, pair[0].0, pair[1].0);
                holes.push(super::Hole {
                    before: pair[0].0,
                    after: pair[1].0,
                    slot: pair[0].1 + 1,
                    slots: slots as u64,
                    numbers: step.filter(|_| timing.number_advance.is_some()),
                    cause: numbers::cause(step, timing.number_advance, slots as u64),
                    ..hole.clone()
                });
            }
        }
    }
    timing.holes = holes;
}

/// True for a frame that stands in the run.
fn in_run(state: FrameState) -> bool {
    matches!(state, FrameState::Frame | FrameState::Damaged)
}

/// Frames of the run whose stamp is not known.
fn unstamped(frames: &Frames, states: &[FrameState]) -> u64 {
    states.iter().zip(&frames.rows).filter(|(s, r)| in_run(**s) && r.stamp.as_known().is_none()).count()
        as u64
}
