//! The timing of a folder: which frames are the run, and what their stamps say.

use super::assemble::blank;
use super::bracket::{Exposures, Sets};
use super::days::Read;
use super::effort::Effort;
use super::law::Lawful;
use super::neighbours::OTHER_SHOT_EV;
use super::placement::{How, Place};
use super::run::APART_S;
use super::select::{Field, Selected};
use super::series::Series;
use super::{Bracket, NO_SLOT, OrderBasis, Timing, numbers};
use crate::evidence::exposure::ExposureTrack;
use crate::evidence::{FrameState, Outside};
use crate::frames::{Frames, Stamp};
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

/// What is known of a folder before its stamps are read.
pub struct Unread<'a> {
    /// What was meant.
    pub plan: &'a Plan,
    /// The frames, in capture order.
    pub frames: &'a Frames,
    /// Their settings.
    pub exposure: &'a ExposureTrack,
    /// What the capture order was taken from.
    pub basis: OrderBasis,
}

impl Unread<'_> {
    /// Reads the timing. `states` comes with what is known without stamps (copies are surplus, other cameras
    /// are outside, broken files damaged); `outside` with the reasons told so far.
    pub fn timing(&self, states: Vec<FrameState>, outside: Vec<Outside>) -> Found {
        let stamped = Stamped::of(self.frames, &states);
        let timing = Timing {
            basis: self.basis,
            written_resolution: stamped.resolution.unwrap_or(Micros::SECOND),
            backwards: stamped.backwards(),
            ..blank(self.frames.len())
        };
        let mut found = Found { timing, states, outside };
        if let Err(why) = self.read(stamped, &mut found) {
            found.timing.no_grid = Some(why);
        }
        found.timing.unstamped = unstamped(self.frames, &found.states);
        found
    }

    /// Chooses the run among the stamped frames and lays it on its grid. The error says why there is none.
    fn read(&self, stamped: Stamped, found: &mut Found) -> Result<(), String> {
        if stamped.ticks.len() < 2 {
            return Err(format!("{} stamped frames are too few to tell an interval", stamped.ticks.len()));
        }
        let Self { plan, frames, exposure, .. } = *self;
        let shots = Shots::of(self, stamped);
        let effort = Effort::of(shots.stamps.len());
        let written = found.timing.written_resolution;
        let field = Field { plan, frames, exposure, written, sets: shots.sets.is_some(), effort: &effort };
        let selected = field.select(&shots.ticks, &shots.stamps);
        found.timing.lines_tried = effort.spent();
        let selected = selected.ok_or("no grid of slots fits the stamps")?;
        self.leave_out(&shots, &selected, found);
        let Selected { ends: (first, last), read: Read { read, places, pieces }, .. } = &selected;
        let Found { timing, states, .. } = found;
        let ticks = &shots.ticks[*first..=*last];
        Series {
            plan,
            frames,
            exposure,
            ticks,
            raw: &shots.stamps[*first..=*last],
            stamps: &under_law(read, places),
            places,
            pieces,
            by_number: &selected.by_number,
            asked: selected.asked,
            ends: selected.weighed,
            read,
        }
        .fill(timing);
        if timing.no_grid.is_none() {
            mark_surplus(ticks, places, states);
        }
        timing.bracket = shots.spread((*first, *last), &mut timing.standing.slots);
        place_unstamped(timing, frames, states);
        Ok(())
    }

    /// Puts what lies before and after the run outside it.
    fn leave_out(&self, shots: &Shots, selected: &Selected, found: &mut Found) {
        let ((first, last), places) = (selected.ends, &selected.read.places);
        let slots = places.last().map_or(0, |p| p.slot) - places.first().map_or(0, |p| p.slot) + 1;
        let complete = self.plan.frames.filter(|asked| slots.unsigned_abs() >= *asked);
        let why = |side, a: usize, b: usize| {
            let gap_s = (shots.stamps[b] - shots.stamps[a]).seconds();
            let ev = |at: usize| self.exposure.ev100(shots.ticks[at]);
            let otherwise = ev(a).zip(ev(b)).is_some_and(|(a, b)| (a - b).abs() > OTHER_SHOT_EV);
            reason(side, gap_s, otherwise, complete)
        };
        if first > 0 {
            found.put_outside(0..shots.ticks[first], &why("before", first - 1, first));
        }
        if last + 1 < shots.ticks.len() {
            let after = shots.last_exposure(last) + 1;
            found.put_outside(after..self.frames.len(), &why("after", last, last + 1));
        }
        found.outside.sort_by_key(|o| o.span);
    }
}

/// The frames that may be the run's and have a stamp, in capture order.
struct Stamped {
    ticks: Vec<usize>,
    stamps: Vec<Micros>,
    /// The coarsest step of their digits.
    resolution: Option<Micros>,
}

impl Stamped {
    fn of(frames: &Frames, states: &[FrameState]) -> Self {
        let known = |at: usize| Some((at, frames.rows[at].stamp.as_known()?));
        let all = (0..frames.len()).filter(|at| in_run(states[*at])).filter_map(known);
        let (ticks, stamps): (Vec<usize>, Vec<&Stamp>) = all.unzip();
        Self {
            ticks,
            resolution: stamps.iter().map(|s| s.resolution).max(),
            stamps: stamps.iter().map(|s| s.at.micros()).collect(),
        }
    }

    /// Neighbours of which the second was stamped before the first.
    fn backwards(&self) -> Vec<(usize, usize)> {
        let at = (1..self.ticks.len()).filter(|&i| self.stamps[i] < self.stamps[i - 1]);
        at.map(|i| (self.ticks[i - 1], self.ticks[i])).collect()
    }
}

/// One shot for each slot: every stamped frame, or the first exposure of each set.
struct Shots {
    ticks: Vec<usize>,
    /// When each was due: a set that lacks its first exposures began before its stamp.
    stamps: Vec<Micros>,
    /// The bracket sets; `None` with one exposure a slot.
    sets: Option<Sets>,
    /// Every stamped frame.
    all: Vec<usize>,
}

impl Shots {
    fn of(folder: &Unread<'_>, stamped: Stamped) -> Self {
        let Stamped { ticks: all, stamps, .. } = stamped;
        let ev: Vec<f64> = all.iter().map(|&i| folder.exposure.ev100(i).unwrap_or(f64::NAN)).collect();
        let tagged = |i: &usize| folder.frames.rows[*i].exposure_mode.known() == Some(2);
        let tagged: Vec<bool> = all.iter().map(tagged).collect();
        let sets = Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(folder.plan.bracket);
        let Some(sets) = sets else { return Self { ticks: all.clone(), stamps, sets: None, all } };
        let into = |set: usize| sets.into.get(set).copied().unwrap_or_default();
        Self {
            ticks: sets.firsts.iter().map(|&i| all[i]).collect(),
            stamps: sets.firsts.iter().enumerate().map(|(set, &i)| stamps[i] - into(set)).collect(),
            sets: Some(sets),
            all,
        }
    }

    /// The frame of the last exposure in the slot of shot `at`.
    fn last_exposure(&self, at: usize) -> usize {
        self.sets.as_ref().map_or(self.ticks[at], |sets| self.all[sets.end(at, self.all.len()) - 1])
    }

    /// Gives every exposure of a set the slot of its first, and tells the sets that are not whole.
    fn spread(&self, (first, last): (usize, usize), slots: &mut [i64]) -> Option<Bracket> {
        let sets = self.sets.as_ref()?;
        let mut incomplete = Vec::new();
        for at in first..=last {
            let own = &self.all[sets.firsts[at]..sets.end(at, self.all.len())];
            let slot = slots[own[0]];
            for &i in own {
                slots[i] = slot;
            }
            if own.len() != sets.size {
                incomplete.push(FrameSpan { first: own[0], last: own[own.len() - 1] });
            }
        }
        Some(Bracket { size: sets.size, incomplete })
    }
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

impl Found {
    /// Puts those frames outside the run; what is outside already keeps its reason.
    fn put_outside(&mut self, range: std::ops::Range<usize>, why: &str) {
        let mut open: Option<FrameSpan> = None;
        for at in range {
            if self.states[at] == FrameState::Outside {
                self.outside.extend(open.take().map(|span| Outside { span, why: why.into() }));
                continue;
            }
            self.states[at] = FrameState::Outside;
            open = Some(open.map_or(FrameSpan::one(at), |s| FrameSpan { last: at, ..s }));
        }
        self.outside.extend(open.map(|span| Outside { span, why: why.into() }));
    }
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
