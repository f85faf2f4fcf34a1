//! When a camera fired and when it should have, in seconds of its own clock.

use super::super::{Audit, HoleCause, JoinKind};

/// A hole of more slots than this is looked at where it begins, and taken to be the same throughout.
const MOST: u64 = 10_000;

/// A slot in which a camera has no frame.
#[derive(Clone, Copy, Debug)]
pub struct Missing {
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

/// One camera's frames and missing slots.
#[derive(Clone, Debug, Default)]
pub struct Ticks {
    /// When it fired: one moment a slot, in order, s.
    pub fired_s: Vec<f64>,
    /// Missing slots, in order.
    pub missing: Vec<Missing>,
    /// Holes: the moments of the frames before and after, s, and the slots between.
    pub holes: Vec<(f64, f64, u64)>,
    /// The interval of its longest stretch, s; `None` without a grid.
    pub interval_s: Option<f64>,
    /// The shortest and longest interval that the stamps allow, s.
    pub bounds_s: (f64, f64),
    /// What the stamps resolve, s.
    pub resolution_s: f64,
}

impl Ticks {
    /// Of the run of an audit. What the clock was set by within the run is taken out.
    pub fn of(audit: &Audit) -> Self {
        let evidence = &audit.evidence;
        let timing = &evidence.timing;
        let Some(cadence) = &timing.cadence else { return Self::default() };
        let mut steps: Vec<(usize, f64)> = Vec::new();
        for join in &timing.joins {
            if let JoinKind::ClockStep { step_s, .. } = &join.kind {
                steps.push((join.after, steps.last().map_or(0.0, |s| s.1) + step_s));
            }
        }
        let moment = |at: usize| {
            let set = steps.partition_point(|s| s.0 <= at).checked_sub(1).map_or(0.0, |n| steps[n].1);
            evidence.stamp(at).map(|s| s.at.micros() as f64 / 1e6 - set)
        };
        let mut fired_s = Vec::new();
        let mut last = None;
        for at in evidence.in_run() {
            let slot = timing.slot(at);
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
            let each = (after - before) / (hole.slots as f64 + 1.0);
            let (file_lost, index) = (hole.cause == HoleCause::FileLost, holes.len());
            let (told, stands_for) = if hole.slots > MOST { (1, hole.slots) } else { (hole.slots, 1) };
            missing.extend((0..told).map(|n| Missing {
                due_s: before + each * (n as f64 + 1.0),
                slot: hole.slot.saturating_add_unsigned(n),
                slots: stands_for,
                hole: index,
                file_lost,
            }));
            holes.push((before, after, hole.slots));
        }
        Self {
            fired_s,
            missing,
            holes,
            interval_s: Some(cadence.interval_s).filter(|s| s.is_finite() && *s > 0.0),
            bounds_s: (cadence.low_s, cadence.high_s),
            resolution_s: cadence.resolution_s,
        }
    }

    /// First and last moment at which it fired, s.
    pub fn ends(&self) -> Option<(f64, f64)> {
        Some((*self.fired_s.first()?, *self.fired_s.last()?))
    }

    /// Distance of the firing nearest to a moment, s.
    pub fn nearest(&self, moment: f64) -> Option<f64> {
        nearest(&self.fired_s, moment, |s| *s)
    }

    /// Distance of the missing slot nearest to a moment, s.
    pub fn nearest_missing(&self, moment: f64) -> Option<f64> {
        nearest(&self.missing, moment, |m| m.due_s)
    }
}

/// Signed distance of the element of a sorted list that is nearest to `moment`.
fn nearest<T>(sorted: &[T], moment: f64, of: impl Fn(&T) -> f64) -> Option<f64> {
    let at = sorted.partition_point(|t| of(t) < moment);
    let beside = [at.checked_sub(1), Some(at)].into_iter().flatten().filter_map(|n| sorted.get(n));
    beside.map(|t| of(t) - moment).min_by(|a, b| a.abs().total_cmp(&b.abs()))
}
