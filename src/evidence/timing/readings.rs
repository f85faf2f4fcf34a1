//! Several readings of one series of stamps, carried forward side by side. A reading says for every stamp
//! which slot it stands in; it keeps the set of lines that fit ([`Region`](super::region::Region)) and its
//! cost. Readings whose lines run out, or that cost much more than the best, are dropped.
//!
//! Costs are in nats (natural logarithms of odds), so that missing slots, late frames, slips and new rates
//! can be weighed against each other and against how small the set of fitting lines has become. The prices
//! are our own, tuned on rehearsed series; reports/figures/scoreboard.md has the figures.

use super::beam::{Beam, DEAR_WHERE_LONG, LONG, PACE, VERY_LONG};
use super::bounds;
use super::effort::Effort;
use super::placement::{self, How};
use super::reading::typical_interval;
pub use super::reading::{Asked, DOUBT, Event, Reading, Ticks};
use crate::units::Micros;

/// Where an interval is nearly as short as the clock's step, readings are doubt up to this distance from the
/// best one.
const COARSE_DOUBT: f64 = 9.0;
/// A reading that is dearer than the best by no more than this, nats, is taken for it where it is simpler;
/// and the same for an interval that is nearly as short as the clock's step.
const SIMPLER: f64 = 3.0;
const COARSE_SIMPLER: f64 = 5.5;
/// The most that smooth errors cost a stretch, nats.
const SMOOTH: f64 = 40.0;
/// A long series whose reading costs more than this a stamp, nats, has an accident at every fourth or fifth
/// of them.
const DEAR: f64 = 1.5;
/// Widths by which all windows may be widened, s, with their prices.
pub const WIDENINGS: [(f64, f64); 7] =
    [(0.0, 0.0), (0.002, 1.0), (0.005, 1.5), (0.010, 2.0), (0.020, 2.5), (0.040, 3.0), (0.080, 16.0)];
/// Further widths for coarse timers, allowed up to this share of the interval.
pub const COARSE_WIDENINGS: [(f64, f64); 4] = [(0.160, 26.0), (0.320, 30.0), (0.640, 34.0), (1.280, 38.0)];
const COARSE_SHARE: f64 = 0.12;

/// A timer's own errors come and go from frame to frame. Where what a wide window takes up bends slowly
/// instead, a line was forced through a change: the logarithm of how much better a smooth course explains
/// it is the price.
fn smooth_errors_paid(mut reading: Reading, ticks: Ticks<'_>, asked: Asked) -> Reading {
    if !ticks.per_slot_s.is_empty() {
        return reading;
    }
    let (places, pieces) = placement::places(ticks.stamps, &reading);
    for piece in pieces {
        let on = (piece.first..=piece.last).filter(|&i| places[i].how == How::On);
        let points: Vec<(i64, Micros)> = on.map(|i| (places[i].slot, ticks.stamps[i])).collect();
        let Some((&(slot, stamp), line)) =
            points.last().zip(bounds::lines(points.iter().copied(), asked.resolution, reading.widening_s))
        else {
            continue;
        };
        let (interval, phase) = line.centre();
        let errors: Vec<f64> = points
            .iter()
            .map(|(k, t)| (*t - stamp).seconds() - phase - interval * (k - slot) as f64)
            .collect();
        let n = errors.len() as f64;
        let mean = errors.iter().sum::<f64>() / n;
        let spread = errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / n;
        let steps = errors.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum::<f64>() / (2.0 * n);
        // Whole stamps step by their resolution whatever the timer does.
        let least = asked.resolution_s().powi(2) / 12.0;
        reading.cost += (n / 2.0 * (spread.max(least) / steps.max(least)).ln()).clamp(0.0, SMOOTH);
    }
    reading
}

/// The readings of a series: first the one that stands for all (the simplest of those that are nearly the
/// cheapest), then the others that are doubt, the cheapest first. Empty where a long series is one accident
/// after another.
pub fn readings(ticks: Ticks<'_>, asked: Asked, effort: &Effort) -> Vec<Reading> {
    let mut all: Vec<Reading> = Vec::new();
    let typical = typical_interval(ticks, 0).map_or(1.0, |(_, middle, _)| middle);
    let (doubt, simpler) =
        if asked.nearly_as_coarse(typical) { (COARSE_DOUBT, COARSE_SIMPLER) } else { (DOUBT, SIMPLER) };
    let fine = WIDENINGS.iter().filter(|w| w.0 <= (0.25 * typical).max(0.002));
    let coarse = COARSE_WIDENINGS.iter().filter(|w| w.0 <= COARSE_SHARE * typical);
    // The widest of the ordinary widenings goes first: narrower ones that cannot come near it are soon given
    // up.
    let first = fine.clone().rev().find(|w| w.1 <= DOUBT);
    let widest = first.map_or(0.0, |f| f.0);
    let (mut pace, mut dear): (Vec<f64>, bool) = (Vec::new(), false);
    for (n, &(widening_s, price)) in first.into_iter().chain(fine).chain(coarse).enumerate() {
        if n > 0 && first.is_some_and(|f| f.0 == widening_s) {
            continue;
        }
        // A long series with so many accidents is read once: every width would take as long again, and tell
        // no more.
        if dear || effort.is_spent() {
            break;
        }
        let best = all.iter().map(|r| r.cost).fold(f64::INFINITY, f64::min);
        // A wider window saves frames off the grid, slips and rates, and never a hole: where the best reading
        // has none left to save, stop.
        let saved = all.iter().any(|r| r.cost == best && r.widening_s <= widening_s && r.only_holes());
        if price > best + doubt || saved {
            break;
        }
        let mut beam = Beam::new(ticks, asked, (widening_s, price), best + doubt, effort);
        if widening_s < widest {
            beam.keep_up_with(&pace);
        }
        let (told, scores, hopeless) = beam.run();
        if n == 0 {
            if hopeless {
                return all;
            }
            let most = if ticks.stamps.len() > VERY_LONG { DEAR_WHERE_LONG } else { DEAR };
            dear = ticks.stamps.len() > LONG
                && scores.last().is_some_and(|s| *s > most * (scores.len() * PACE) as f64);
            pace = scores;
        }
        let wide = widening_s > widest;
        all.extend(told.into_iter().map(|r| if wide { smooth_errors_paid(r, ticks, asked) } else { r }));
    }
    all.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(a.widening_s.total_cmp(&b.widening_s)));
    let best = all.first().map_or(0.0, |r| r.cost);
    all.retain(|r| r.cost <= best + doubt);
    // Of readings that are nearly as good, the one that asks for the fewest accidents stands for all; windows
    // wider than a camera's own error explain accidents away and do not count.
    let plain = all.first().map_or(0.0, |r| r.widening_s).max(widest);
    let near = all.iter().enumerate().take_while(|(_, r)| r.cost <= best + simpler);
    let near = near.filter(|(_, r)| r.widening_s <= plain);
    if let Some((simplest, _)) = near.min_by_key(|(n, r)| (r.accidents(ticks), *n)) {
        all[..=simplest].rotate_right(1);
    }
    let mut distinct: Vec<Reading> = Vec::new();
    for reading in all {
        if !distinct.iter().any(|d| d.events == reading.events) {
            distinct.push(reading);
        }
    }
    distinct
}
