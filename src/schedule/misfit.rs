//! Where the plan is the odd one: the card keeps one interval throughout, or one number of exposures a slot,
//! and it is not the plan's.
//!
//! Another interval was meant, and the timer did not drift, where all of this holds:
//! - It lies outside of 80 to 120 % of the planned one. Within that the choice of the run takes a grid for
//!   the planned one, and a timer that is off, or waits for its rig, still lies there.
//! - It is one that people set: whole seconds and their like ([`set_by_hand`]). What a camera or a rig makes
//!   of an interval seldom is.
//! - It holds throughout: every stretch allows it, and at most one slot in twenty is empty.
//! - The exposures explain it no better: not by an interval that counts from their close, nor by a camera
//!   that was still at work when its slots came.
//!
//! A rig's own time that fits as well is told beside it: both readings stand, and the call is `look`.
//!
//! Where one of these fails the difference is drift. What is doubted is a caution, never clear: the run may
//! still not be the one asked for.

use crate::evidence::Sequence;
use crate::evidence::timing::Stretch;
use crate::plan::Plan;
use crate::plan::budget::Budget;

/// Shares of the planned interval within which a grid is taken for the planned one.
const PLANNED: std::ops::RangeInclusive<f64> = 0.8..=1.2;
/// Fewer frames in a row than this are no evidence of a pace. Common practice, no source.
const FEW: u64 = 10;
/// At most this share of the slots may be empty.
const EMPTY: f64 = 0.05;
/// How far a timer may be off what was set, as a share. Common practice, no source: quartz keeps 0.01 %,
/// simple timers a tenth.
pub const TIMER_OFF: f64 = 0.002;
/// How far an excess may lie from the exposures that would explain it, as a share of them.
const EXPLAINED: f64 = 0.05;
/// Frames that are asked for their exposures: a million need not all be.
const ASKED: usize = 1000;

/// What the plan says otherwise than the card.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Misfit {
    /// Another interval, kept throughout.
    Interval {
        /// The interval as it would be set, s.
        set_s: f64,
        /// The same on the stamps, s: longer by the exposure where the plan counts from shutter close.
        kept_s: f64,
        /// The planned one, s.
        planned_s: f64,
    },
    /// Another number of exposures a slot.
    Exposures {
        /// As shot.
        shot: usize,
        /// As planned.
        planned: u32,
    },
}

impl Misfit {
    /// Where plan and card do not belong together; `None` where they do, or where what differs may be a fault
    /// of the card.
    pub fn of(plan: &Plan, evidence: &Sequence) -> Option<Self> {
        exposures(plan, evidence).or_else(|| interval(plan, evidence))
    }
}

fn interval(plan: &Plan, evidence: &Sequence) -> Option<Misfit> {
    let timing = &evidence.timing;
    let cadence = timing.cadence.as_ref()?;
    let planned = plan.interval_s.filter(|s| *s > 0.0)?;
    // A plan that changes its interval is doubted by nobody: each part is compared with its own.
    if plan.changes_interval() {
        return None;
    }
    let untold = !cadence.law.from_close();
    let longer = plan.from_close() && untold;
    // Asked for every frame that is weighed, so the common answer comes first.
    if !longer && PLANNED.contains(&(cadence.interval_s / planned)) {
        return None;
    }
    let longest = timing.stretches.iter().max_by_key(|s| s.frames).filter(|s| s.frames >= FEW)?;
    let kept_s = longest.interval_s;
    let exposure_s = evidence.middle_exposure_s(longest.first, longest.last).unwrap_or(0.0);
    let added_s = if longer { exposure_s } else { 0.0 };
    let planned_s = planned + added_s;
    if PLANNED.contains(&(kept_s / planned_s)) {
        return None;
    }
    let set_s = set_by_hand(kept_s - added_s, (longest.high_s - longest.low_s) / 2.0)?;
    let one = |s: &Stretch| s.frames < 3 || (s.low_s <= longest.high_s && longest.low_s <= s.high_s);
    let empty = timing.missing().unwrap_or(0) as f64;
    if !timing.stretches.iter().all(one) || empty > EMPTY * timing.slot_count? as f64 {
        return None;
    }
    let excess_s = kept_s - planned_s;
    let by = |length_s: f64| length_s > 0.0 && (excess_s - length_s).abs() <= EXPLAINED * length_s;
    if added_s == 0.0 && untold && (by(exposure_s) || by(2.0 * exposure_s)) {
        return None;
    }
    let at_work_s = Budget::of_camera(&plan.exposure).slot([exposure_s]).camera_s;
    (kept_s < planned_s || !let_go_by(kept_s, planned_s, at_work_s, exposure_s)).then_some(Misfit::Interval {
        set_s,
        kept_s,
        planned_s,
    })
}

/// A camera needs no longer than this after its exposures until it can fire again, s, where the plan does not
/// say. Common practice, no source.
const READY_S: f64 = 1.0;

/// True where a timer of `planned_s` would have fired at `kept_s`: slots that come while the camera is at
/// work are let go by, and the next one is taken, or the camera fires as soon as it can. It is at work for
/// `at_work_s` by the plan, and for the exposure once more where it takes a dark frame that the plan does not
/// tell of.
fn let_go_by(kept_s: f64, planned_s: f64, at_work_s: f64, exposure_s: f64) -> bool {
    let off_s = EXPLAINED * planned_s;
    let fired = |free_s: f64| {
        let next_s = ((free_s + READY_S) / planned_s).ceil() * planned_s;
        (free_s - off_s..=next_s + off_s).contains(&kept_s)
    };
    at_work_s > planned_s && (fired(at_work_s) || fired(at_work_s + exposure_s))
}

/// The interval that a dial or a menu offers nearest to one that was measured to within `half_s`: tenths
/// below 2 s, halves below 10 s, whole seconds up to a minute, and multiples of 5 s beyond. `None` where it
/// is none of these, or is not known well enough to tell. Common practice, no source.
fn set_by_hand(interval_s: f64, half_s: f64) -> Option<f64> {
    let step = match interval_s {
        s if s < 2.0 => 0.1,
        s if s < 10.0 => 0.5,
        s if s <= 60.0 => 1.0,
        _ => 5.0,
    };
    let set_s = (interval_s / step).round() * step;
    let near = (interval_s - set_s).abs() <= half_s.max(TIMER_OFF * set_s);
    (set_s > 0.0 && near && 2.0 * half_s <= step / 5.0).then_some(set_s)
}

fn exposures(plan: &Plan, evidence: &Sequence) -> Option<Misfit> {
    let planned = plan.bracket?;
    let shot = Shots::of(evidence).exposures_a_slot()?;
    if u32::try_from(shot).ok()? == planned {
        return None;
    }
    // Three alike in a slot, evenly spread, look like one a slot: the planned interval tells.
    let kept = evidence.timing.cadence.as_ref().zip(plan.interval_s);
    let as_planned = kept.is_some_and(|(c, planned_s)| (c.interval_s / planned_s - 1.0).abs() < 0.05);
    (shot > 1 || !as_planned).then_some(Misfit::Exposures { shot, planned })
}

/// The first shots of the card, the run and what surrounds it: with a wrong number of exposures a slot the
/// run may be cut wrongly.
struct Shots {
    /// Seconds from each shot to the next.
    gaps_s: Vec<f64>,
    /// Exposure values, EV.
    ev: Vec<f64>,
    /// True where nearly all say that they are of a bracket.
    tagged: bool,
    /// The step of the stamps, s.
    step_s: f64,
}

/// Exposures of a set repeat within this, EV, and differ by this at least.
const SAME_EV: f64 = 0.1;
const OTHER_EV: f64 = 0.25;
/// Nearly all: so large a share.
const NEARLY_ALL: f64 = 0.9;
/// The largest set that is looked for.
const LARGEST: usize = 9;
/// Between two sets the camera rests so many times as long as within one.
const REST: f64 = 1.5;

impl Shots {
    fn of(evidence: &Sequence) -> Self {
        let all = evidence.all().filter(|frame| !frame.is_outside());
        let told: Vec<(f64, f64, bool)> = all
            .filter_map(|frame| {
                let stamp = frame.stamp()?;
                let tagged = frame.row().exposure_mode.known() == Some(2);
                Some((stamp.at.seconds(), frame.ev100()?, tagged))
            })
            .take(ASKED)
            .collect();
        let tagged = told.iter().filter(|t| t.2).count() as f64 >= NEARLY_ALL * told.len() as f64;
        Self {
            gaps_s: told.windows(2).map(|w| w[1].0 - w[0].0).collect(),
            ev: told.iter().map(|t| t.1).collect(),
            tagged,
            step_s: evidence
                .timing
                .cadence
                .as_ref()
                .map_or_else(|| evidence.timing.written_resolution.seconds(), |cadence| cadence.resolution_s),
        }
    }

    /// How many exposures each slot has; `None` where that is not plain.
    fn exposures_a_slot(&self) -> Option<usize> {
        let n = self.ev.len();
        if n < 4 * 3 {
            return None;
        }
        let nearly = |count: usize, of: usize| count as f64 >= NEARLY_ALL * of as f64;
        let alike =
            |lag: usize| (lag..n).filter(|i| (self.ev[*i] - self.ev[i - lag]).abs() < SAME_EV).count();
        if nearly(alike(1), n - 1) {
            return self.evenly_spread().then_some(1);
        }
        (2..=LARGEST.min(n / 4)).find(|&size| {
            let ends = |set: &[f64]| {
                set.iter()
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), ev| (low.min(*ev), high.max(*ev)))
            };
            let spread = self.ev.windows(size).map(ends).filter(|(low, high)| high - low > OTHER_EV).count();
            nearly(alike(size), n - size)
                && nearly(spread, n + 1 - size)
                && (self.tagged || self.rests_between(size))
        })
    }

    /// True where no shot stands nearer to its neighbour than others do, beyond what the step of the stamps
    /// makes of it.
    fn evenly_spread(&self) -> bool {
        let mut gaps = self.gaps_s.clone();
        gaps.sort_by(f64::total_cmp);
        let at = |share: f64| gaps[((gaps.len() - 1) as f64 * share) as usize];
        let middle = at(0.5);
        middle >= self.step_s && at(0.95) - at(0.05) <= self.step_s + (REST - 1.0) * middle
    }

    /// True where sets of that size are parted by rests.
    fn rests_between(&self, size: usize) -> bool {
        let mut gaps = self.gaps_s.clone();
        gaps.sort_by(f64::total_cmp);
        let (short, long) = gaps.split_at(gaps.len() - gaps.len() / size);
        let (Some(within), Some(rest)) = (middle(short.iter().copied()), middle(long.iter().copied())) else {
            return false;
        };
        // Whole seconds make of 1.5 s a beat of one and two.
        if rest < REST * within || rest - within <= self.step_s {
            return false;
        }
        let limit = f64::midpoint(within, rest);
        let ends: Vec<usize> = (0..self.gaps_s.len()).filter(|at| self.gaps_s[*at] > limit).collect();
        let whole = ends.windows(2).filter(|w| w[1] - w[0] == size).count();
        whole as f64 >= NEARLY_ALL * ends.len().saturating_sub(1) as f64 && whole > 0
    }
}

/// The middle value; `None` of none.
fn middle(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut all: Vec<f64> = values.collect();
    let at = all.len() / 2;
    (at < all.len()).then(|| *all.select_nth_unstable_by(at, f64::total_cmp).1)
}
