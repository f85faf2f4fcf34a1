//! When a camera fired and when it should have, in seconds of its own clock.

use super::super::Audit;
use crate::evidence::timing::{HoleCause, Join, JoinKind};

/// A hole of more slots than this is looked at where it begins, and taken to be the same throughout.
const MOST: u64 = 10_000;

/// A slot in which a camera has no frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Missing {
    /// When it was due, s.
    pub due_s: f64,
    /// Its slot.
    pub slot: i64,
    /// Slots that this stands for: 1, or all of a very long hole.
    pub slots: u64,
    /// Index of its hole.
    pub hole: usize,
    /// True where the camera fired and the file is gone.
    pub file_lost: bool,
}

/// A moment at which the timer stood.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stop {
    /// The last frame before it, s.
    pub before_s: f64,
    /// The first frame after it, s.
    pub after_s: f64,
    /// How long it stood beyond one interval, s; above 0.
    pub pause_s: f64,
    /// True where another reading of the stamps is about as good and needs no stop.
    pub doubted: bool,
}

impl Stop {
    /// Seconds from the last frame before it to the first one after it.
    pub(crate) fn lasts_s(&self) -> f64 {
        self.after_s - self.before_s
    }
}

/// One camera's frames, missing slots and stops.
#[derive(Clone, Debug, Default)]
pub(crate) struct Ticks {
    /// When it fired: one moment a slot, in order, s.
    pub fired_s: Vec<f64>,
    /// Missing slots, in order.
    pub missing: Vec<Missing>,
    /// Holes: the moments of the frames before and after, s, and the slots between.
    pub holes: Vec<(f64, f64, u64)>,
    /// Where its timer stood, in order; not where the plan begins a new part or rests.
    pub stops: Vec<Stop>,
    /// The interval of its longest stretch, s; `None` without a grid.
    pub interval_s: Option<f64>,
    /// The shortest and longest interval that the stamps allow, s.
    pub bounds_s: (f64, f64),
    /// What the stamps resolve, s.
    pub resolution_s: f64,
}

impl Ticks {
    /// Of the run of an audit. What the clock was set by within the run is taken out.
    pub(crate) fn of(audit: &Audit) -> Self {
        let evidence = &audit.evidence;
        let timing = &evidence.timing;
        let Some(cadence) = &timing.cadence else { return Self::default() };
        let mut steps: Vec<(usize, f64)> = Vec::new();
        for join in &timing.joins {
            if let JoinKind::ClockStep { step_s, .. } = &join.kind {
                steps.push((join.after, steps.last().map_or(0.0, |s| s.1) + step_s));
            }
        }
        let set_s =
            |at: usize| steps.partition_point(|s| s.0 <= at).checked_sub(1).map_or(0.0, |n| steps[n].1);
        let moment = |at: usize| evidence.frame(at).stamp().map(|s| s.at.seconds() - set_s(at));
        let mut fired_s = Vec::new();
        let mut last = None;
        for at in evidence.in_run() {
            let slot = evidence.frame(at).slot();
            // A further exposure of a bracket is no tick of the timer.
            if slot.is_some() && slot == last {
                continue;
            }
            last = slot.or(last);
            fired_s.extend(moment(at));
        }
        fired_s.sort_by(f64::total_cmp);
        let (mut holes, mut missing) = (Vec::new(), Vec::new());
        for hole in &timing.holes {
            let Some((before, after)) = moment(hole.before).zip(moment(hole.after)) else { continue };
            let due_s = |slot: i64| {
                let due = audit.schedule.due(evidence, slot)?;
                Some(due.seconds() - set_s(hole.before))
            };
            let (file_lost, index) = (hole.cause == HoleCause::FileLost, holes.len());
            let (told, stands_for) = if hole.slots > MOST { (1, hole.slots) } else { (hole.slots, 1) };
            missing.extend((0..told).filter_map(|n| {
                let slot = hole.slot.saturating_add_unsigned(n);
                Some(Missing { due_s: due_s(slot)?, slot, slots: stands_for, hole: index, file_lost })
            }));
            holes.push((before, after, hole.slots));
        }
        let planned = |j: &&Join| audit.schedule.begins_between(j.before, j.after);
        let stood = timing.joins.iter().filter(|j| !planned(j)).filter_map(|join| {
            Some(Stop {
                before_s: moment(join.before)?,
                after_s: moment(join.after)?,
                pause_s: pause_s(join).filter(|s| *s > 0.0)?,
                doubted: join.or_missing.is_some() || join.shots_beyond.is_some(),
            })
        });
        let stops = stood.collect();
        Self {
            fired_s,
            missing,
            holes,
            stops,
            interval_s: Some(cadence.interval_s).filter(|s| s.is_finite() && *s > 0.0),
            bounds_s: (cadence.low_s, cadence.high_s),
            resolution_s: cadence.resolution_s,
        }
    }

    /// First and last moment at which it fired, s.
    pub(crate) fn ends(&self) -> Option<(f64, f64)> {
        Some((*self.fired_s.first()?, *self.fired_s.last()?))
    }

    /// Distance of the firing nearest to a moment, s.
    pub(crate) fn nearest(&self, moment: f64) -> Option<f64> {
        nearest(&self.fired_s, moment, |s| *s)
    }

    /// Distance of the missing slot nearest to a moment, s.
    pub(crate) fn nearest_missing(&self, moment: f64) -> Option<f64> {
        nearest(&self.missing, moment, |m| m.due_s)
    }
}

/// How long the timer stood between two stretches, s; `None` where it did not.
fn pause_s(join: &Join) -> Option<f64> {
    match join.kind {
        JoinKind::Slip { pause_s, .. } => Some(pause_s),
        JoinKind::Rate { pause_s, .. } => pause_s,
        JoinKind::ClockStep { stood_s, .. } => stood_s,
        JoinKind::Night => None,
    }
}

/// Signed distance of the element of a sorted list that is nearest to `moment`.
fn nearest<T>(sorted: &[T], moment: f64, of: impl Fn(&T) -> f64) -> Option<f64> {
    let at = sorted.partition_point(|t| of(t) < moment);
    let beside = [at.checked_sub(1), Some(at)].into_iter().flatten().filter_map(|n| sorted.get(n));
    beside.map(|t| of(t) - moment).min_by(|a, b| a.abs().total_cmp(&b.abs()))
}
