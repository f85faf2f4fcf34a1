//! What another reading of the stamps, about as good as the best one, would change.

use super::placement::How;
use super::readings::Reading;
use super::region::Region;
use super::series::Series;
use super::{Cadence, HoleCause, JoinKind, Timing, bounds};
use crate::units::Micros;

/// Stamps within which two readings may put one event.
const NEAR: usize = 32;
/// The timing error that a second rate is granted, s, and how far it may lie from the mean, as a share.
const JITTER_S: f64 = 0.02;
const RATES_APART: f64 = 0.05;
/// An interval up to this many of the clock's steps is as short as one.
const AS_COARSE: f64 = 1.0005;

impl Series<'_> {
    /// Compares the best reading with the others that are about as good: where they place other holes, or
    /// need no frame too many or no pause, that is doubt.
    pub(super) fn doubt(&self, timing: &mut Timing) {
        // Where the clock was changed, another reading's hole is that change and no doubt about slots.
        let steps: Vec<(usize, usize)> = timing
            .joins
            .iter()
            .filter(|j| matches!(j.kind, JoinKind::ClockStep { .. }))
            .map(|j| (j.before, j.after))
            .collect();
        let of_the_clock = |from: usize, to: usize| {
            let at = steps.partition_point(|s| s.0 < from);
            steps.get(at).is_some_and(|s| s.1 <= to)
        };
        let told: Vec<Told> =
            self.read.readings.iter().skip(1).map(|r| Told::by(&self.read.stamps, r)).collect();
        let others: Vec<Vec<(usize, usize, u64)>> = told
            .iter()
            .map(|t| {
                let holes = t.holes.iter().map(|&(b, a, n)| (self.ticks[b], self.ticks[a], n));
                holes.filter(|h| !of_the_clock(h.0, h.1)).collect()
            })
            .collect();
        // Where the file numbers skip by the very count, they settle what the stamps leave open.
        let settled: Vec<(usize, usize)> = timing
            .holes
            .iter()
            .filter(|h| h.cause == HoleCause::FileLost)
            .map(|h| (h.before, h.after))
            .collect();
        let open = |from: usize, to: usize| {
            let at = settled.partition_point(|s| s.1 <= from);
            settled.get(at).is_none_or(|s| s.0 >= to)
        };
        let total: u64 = timing.holes.iter().map(|h| h.slots).sum();
        let sure: u64 = timing.holes.iter().filter(|h| h.cause == HoleCause::FileLost).map(|h| h.slots).sum();
        let (mut low, mut high) = (total, total);
        for other in &others {
            let sum = sure + other.iter().filter(|h| open(h.0, h.1)).map(|h| h.2).sum::<u64>();
            (low, high) = (low.min(sum), high.max(sum));
        }
        timing.missing_doubt = (low != high).then_some((low, high));
        for hole in timing.holes.iter_mut().filter(|h| h.cause != HoleCause::FileLost) {
            let (mut low, mut high) = (hole.slots, hole.slots);
            for other in &others {
                let there: u64 =
                    other.iter().filter(|o| o.0 < hole.after && o.1 > hole.before).map(|o| o.2).sum();
                (low, high) = (low.min(there), high.max(there));
            }
            hole.doubt = (low != high).then_some((low, high));
        }
        self.other_explanations(timing, &told);
    }

    /// Surplus frames and pauses that another reading, about as good, does without.
    fn other_explanations(&self, timing: &mut Timing, told: &[Told]) {
        let ours = (0..self.places.len()).filter(|&i| self.places[i].how == How::Surplus).count() as u64;
        let all = told.iter().map(|t| t.surplus.len() as u64).chain([ours]);
        let (low, high) = all.fold((ours, ours), |(l, h), n| (l.min(n), h.max(n)));
        timing.surplus_doubt = (low != high).then_some((low, high));
        for join in &mut timing.joins {
            let (JoinKind::Slip { .. }, Ok(after)) = (&join.kind, self.ticks.binary_search(&join.after))
            else {
                continue;
            };
            let near = |at: usize| at.abs_diff(after) <= NEAR;
            // Another reading that begins nothing anew near there has slots missing there, or nothing at all.
            let without = told.iter().find(|t| !t.begins.iter().any(|b| near(*b)));
            join.or_missing = without.map(|t| t.holes.iter().filter(|h| near(h.1)).map(|h| h.2).sum());
        }
    }

    /// Where the interval is hardly longer than the clock's step, another reading may keep another interval:
    /// the bounds then hold what all of them allow.
    pub(super) fn widen_bounds(&self, cadence: &mut Cadence, error_s: f64) {
        if !self.asked.nearly_as_coarse(cadence.interval_s) {
            return;
        }
        for reading in self.read.readings.iter().skip(1) {
            let (places, pieces) = super::placement::places(&self.read.stamps, reading);
            for piece in pieces {
                let on = (piece.first..=piece.last).filter(|&i| places[i].how == How::On);
                let points = on.map(|i| (places[i].slot, self.stamps[i]));
                let few = (piece.last - piece.first) * 3 < self.stamps.len();
                let Some(region) = bounds::lines(points, self.asked.resolution, error_s).filter(|_| !few)
                else {
                    continue;
                };
                let (low, high) = region.intervals();
                (cadence.low_s, cadence.high_s) = (cadence.low_s.min(low), cadence.high_s.max(high));
            }
        }
    }

    /// Where the interval is hardly longer than the clock's step: true where every frame can stand in the
    /// slot after the one before it, on one line up to some frame and on another of nearly the same interval
    /// from there. Then no slot need be missing at all: the interval may have changed.
    fn two_rates(&self, widening_s: f64) -> bool {
        let window = (-widening_s, self.asked.resolution_s() + widening_s);
        let (Some(&first), Some(&last)) = (self.stamps.first(), self.stamps.last()) else { return false };
        let mean = (last - first).seconds() / (self.stamps.len().max(2) - 1) as f64;
        let steps = self.stamps.windows(2).map(|w| (w[1] - w[0]).seconds());
        let follow = |steps: &mut dyn Iterator<Item = f64>| {
            let mut region = Region::open((mean * (1.0 - RATES_APART), mean * (1.0 + RATES_APART)), window);
            steps.take_while(|step| region.pass(1, *step, window)).count()
        };
        let forward = follow(&mut steps.clone());
        // Backwards, the window opens the other way: the same set of lines.
        let backward = follow(&mut steps.clone().rev());
        forward + backward + 1 >= self.stamps.len()
    }

    /// Where the stamps are as coarse as the interval, a missed trigger leaves the stamps of a slower timer:
    /// no hole that the file numbers do not confirm is certain, and only the plan's interval tells how many
    /// slots there may have been.
    pub(super) fn as_coarse_as_the_interval(&self, timing: &mut Timing) {
        let Some(cadence) = &timing.cadence else { return };
        let (Some(&first), Some(&last)) = (self.stamps.first(), self.stamps.last()) else { return };
        let as_coarse = cadence.low_s <= self.asked.resolution_s() * AS_COARSE;
        let nearly = self.asked.nearly_as_coarse(cadence.interval_s);
        let untold = as_coarse || nearly && self.two_rates(cadence.widening_s.max(JITTER_S));
        if !untold {
            return;
        }
        let mut sure = 0;
        let mut told = 0;
        for hole in &mut timing.holes {
            told += hole.slots;
            if hole.cause == HoleCause::FileLost {
                sure += hole.slots;
            } else {
                let high = hole.doubt.map_or(hole.slots, |d| d.1.max(hole.slots));
                hole.doubt = Some((0, high));
            }
        }
        // One stretch alone can be counted by the plan: a pause is not missing slots.
        let by_plan = self.asked.planned_s.filter(|_| timing.joins.is_empty()).map_or(0, |planned| {
            let due = (((last - first).seconds() / planned).round() as u64).saturating_add(1);
            due.saturating_sub(timing.slot_count.unwrap_or(due).saturating_sub(told))
        });
        let high = timing.missing_doubt.map_or(told, |d| d.1).max(told).max(by_plan);
        timing.missing_doubt = (high > sure).then_some((sure, high));
    }
}

/// A reading in places: its holes (stamp before, stamp after, slots), its surplus stamps, and the stamps with
/// which a new phase or interval begins.
struct Told {
    holes: Vec<(usize, usize, u64)>,
    surplus: Vec<usize>,
    begins: Vec<usize>,
}

impl Told {
    fn by(stamps: &[Micros], reading: &Reading) -> Self {
        let (places, pieces) = super::placement::places(stamps, reading);
        let mut holes = Vec::new();
        for piece in &pieces {
            let mut before: Option<usize> = None;
            for at in (piece.first..=piece.last).filter(|&i| places[i].how != How::Surplus) {
                if let Some(b) = before
                    && places[at].slot - places[b].slot > 1
                {
                    holes.push((b, at, (places[at].slot - places[b].slot - 1) as u64));
                }
                before = Some(at);
            }
        }
        let surplus = (0..places.len()).filter(|&i| places[i].how == How::Surplus).collect();
        Self { holes, surplus, begins: pieces.iter().skip(1).map(|p| p.first).collect() }
    }
}
