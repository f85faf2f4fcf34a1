//! The slots to come: the timer goes on as it did last, under what the plan still has to say.

use super::{Expected, STOPPED};
use crate::evidence::Sequence;
use crate::evidence::timing::{Stretch, TimerLaw};
use crate::plan::arithmetic::exact_s;
use crate::plan::{Moment, Plan, Planned, run_of_frames_s};
use crate::schedule::Schedule;
use crate::units::CivilTime;

/// Without a grid an interval is known to this share of it. Common practice, no source.
const ROUGHLY: f64 = 0.1;
/// Exposures that nobody planned may grow or shrink by this factor. Common practice, no source: two stops.
const UNPLANNED: f64 = 4.0;

/// A value with the least and the most that it may be.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Range {
    likely: f64,
    low: f64,
    high: f64,
}

impl Range {
    fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self { likely: f(self.likely), low: f(self.low), high: f(self.high) }
    }

    fn plus(self, other: Self) -> Self {
        Self { likely: self.likely + other.likely, low: self.low + other.low, high: self.high + other.high }
    }
}

/// What follows the last slot so far.
#[derive(Clone, Debug)]
pub(super) struct Ahead<'a> {
    plan: &'a Plan,
    /// When the last slot so far was due.
    last: CivilTime,
    /// When the first slot was due; working hours and parts are counted from there.
    first: CivilTime,
    /// Slots so far.
    slots: u64,
    /// From one slot to the next, s; `None` where neither frames nor plan tell.
    slot_s: Option<Range>,
    /// Times the planned interval that the timer keeps; 1 where no interval is planned.
    pace: Range,
    /// How far a single frame may come off its slot, s.
    error_s: f64,
    /// The last exposure, s: a frame is not there before its shutter closes.
    exposure_s: f64,
}

impl<'a> Ahead<'a> {
    pub(super) fn of(plan: &'a Plan, evidence: &Sequence, schedule: &Schedule, slots: u64) -> Self {
        let last = evidence.in_run().next_back().unwrap_or(0);
        let moment = |at: usize| {
            let due = evidence.frame_if_any(at).and_then(|_| schedule.due_of(evidence, at));
            due.or_else(|| evidence.frame_if_any(at)?.moment())
        };
        let epoch = CivilTime::from_seconds(0);
        let ends = evidence.ends().map_or((epoch, epoch), |(a, b)| (a.at, b.at));
        let cadence = evidence.timing.cadence.as_ref();
        let error_s = cadence.map_or(1.0, |c| c.timing_error_s.max(c.resolution_s));
        let exposure_s = evidence.frame_if_any(last).and_then(|f| f.exposure_s()).unwrap_or(0.0);
        let planned_s = schedule.at(last).interval_s.filter(|s| *s > 0.0);
        let kept = kept_s(evidence, planned_s);
        let to_come = exposures_to_come(plan, exposure_s);
        let slot_s = kept.map(|kept| match cadence.map(|c| c.law) {
            Some(law) if law.from_close() => {
                let share = if law == TimerLaw::CloseDarkFrame { 2.0 } else { 1.0 };
                kept.plus(to_come.map(|s| share * s))
            }
            // Exposures too short to tell what the timer counts from: the plan does, and may be wrong.
            _ if plan.from_close() => {
                let grown = kept.plus(to_come.map(|s| s - exposure_s));
                Range { low: grown.low.min(kept.low), high: grown.high.max(kept.high), ..grown }
            }
            _ => kept,
        });
        let pace = match kept.zip(planned_s) {
            Some((kept, planned_s)) => kept.map(|s| s / planned_s),
            None => Range { likely: 1.0, low: 1.0, high: 1.0 },
        };
        let first = evidence.in_run().next().and_then(moment).unwrap_or(ends.0);
        let last = moment(last).unwrap_or(ends.1);
        Self { plan, last, first, slots, slot_s, pace, error_s, exposure_s }
    }

    /// From one slot to the next, s.
    pub(super) fn interval_s(&self) -> Option<f64> {
        self.slot_s.map(|s| s.likely)
    }

    /// When the last slot so far was due.
    pub(super) fn last(&self) -> CivilTime {
        self.last
    }

    /// When the slot is due that comes so many behind the last one so far.
    pub(super) fn due(&self, more: u64) -> Option<Expected> {
        let slot_s = self.slot_s?;
        let after = if self.plan.parts.is_empty() && self.plan.active.is_empty() {
            slot_s.map(|s| s * more as f64)
        } else {
            let of = |pace: f64| self.by_plan(pace, more);
            match (of(self.pace.likely), of(self.pace.low), of(self.pace.high)) {
                (Some(likely), Some(low), Some(high)) => Range { likely, low, high },
                _ => slot_s.map(|s| s * more as f64),
            }
        };
        Some(Expected {
            at: self.last.plus_seconds(after.likely),
            earliest: self.last.plus_seconds(after.low - self.error_s),
            latest: self.last.plus_seconds(after.high + self.error_s),
        })
    }

    /// The same by parts and working hours, at so many times the planned intervals: seconds after the last
    /// slot.
    fn by_plan(&self, pace: f64, more: u64) -> Option<f64> {
        let mut plan = self.plan.clone();
        plan.start = Some(Moment { civil: self.first, offset_min: None });
        plan.interval_s = plan.interval_s.map(|s| s * pace);
        for part in &mut plan.parts {
            part.interval_s = part.interval_s.map(|s| s * pace);
        }
        let until = |slots: u64| run_of_frames_s(&plan, slots);
        Some(until(self.slots + more)? - until(self.slots)?)
    }

    /// When the next frame is due.
    pub(super) fn next(&self) -> Option<CivilTime> {
        self.due(1).map(|due| due.at)
    }

    /// The moment from which a run without a new frame has stopped.
    pub(super) fn stopped_at(&self) -> Option<CivilTime> {
        let late = (STOPPED - 1.0) * self.interval_s()? + self.exposure_s + self.error_s;
        Some(self.due(1)?.latest.plus_seconds(late))
    }

    /// How many slots behind the last one so far are due by then, `most` at most.
    pub(super) fn due_by(&self, moment: CivilTime, most: u64) -> u64 {
        let due = |more: u64| self.due(more).is_some_and(|due| due.at <= moment);
        let (mut in_time, mut too_late) = (0, most.saturating_add(1));
        while in_time + 1 < too_late {
            let middle = in_time + (too_late - in_time) / 2;
            *(if due(middle) { &mut in_time } else { &mut too_late }) = middle;
        }
        in_time
    }
}

/// The interval that the timer keeps now, s: the planned one where the stamps allow it.
fn kept_s(evidence: &Sequence, planned_s: Option<f64>) -> Option<Range> {
    let known = |s: &&Stretch| s.low_s > 0.0 && s.high_s.is_finite() && s.low_s <= s.high_s;
    let stretch = evidence.timing.stretches.last().filter(known);
    let measured = stretch.map(|s| (s.interval_s, s.low_s, s.high_s));
    let gaps = || {
        let slots = evidence.in_run().count().saturating_sub(1);
        let mean_s = evidence.lasted_s().filter(|s| slots > 0 && *s > 0.0)? / slots as f64;
        Some((mean_s, mean_s * (1.0 - ROUGHLY), mean_s * (1.0 + ROUGHLY)))
    };
    let roughly = |s: f64| (s, s * (1.0 - ROUGHLY), s * (1.0 + ROUGHLY));
    let (middle, low, high) = measured.or_else(|| planned_s.map(roughly)).or_else(gaps)?;
    let likely = planned_s.filter(|s| (low..=high).contains(s)).unwrap_or(middle);
    Some(Range { likely, low, high })
}

/// The mean of the exposures to come, s: on the way from the last one to the end of the planned ramp.
fn exposures_to_come(plan: &Plan, last_s: f64) -> Range {
    let to = match plan.exposure.shutter_s {
        Some(Planned::Fixed(mark)) => exact_s(mark),
        Some(Planned::Between(_, mark)) => exact_s(mark),
        None => return Range { likely: last_s, low: last_s / UNPLANNED, high: last_s * UNPLANNED },
    };
    // A ramp goes in equal stops: its mean is the logarithmic one.
    let ratio = if last_s > 0.0 { (to / last_s).ln() } else { 0.0 };
    let mean_s = if ratio.abs() > 1e-6 { (to - last_s) / ratio } else { to };
    Range { likely: mean_s, low: to.min(last_s), high: to.max(last_s) }
}
