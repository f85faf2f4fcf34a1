//! What a reading is made of: the stamps as they are given to it, what is asked of it, and what it says.

use crate::units::Micros;
use crate::units::micros::in_seconds;

/// Readings this close to the best one, nats, are doubt.
pub const DOUBT: f64 = 5.0;
/// Where an interval is shorter than this many of the clock's steps, a hole, a frame too many and a new rate
/// leave nearly the same stamps.
const NEARLY_AS_COARSE: f64 = 1.3;
/// Stamps looked at to guess the range of an interval that begins.
const AHEAD: usize = 24;

/// What happened at a stamp, where it is anything but "the next slot".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// It stands this many slots after the last frame on the grid.
    Slots(i64),
    /// It stands on no slot.
    Off,
    /// A new phase begins with it.
    Slip,
    /// A new interval begins with it.
    Fresh,
}

/// One reading of a whole series.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The events, in order: (index of the stamp, what).
    pub events: Vec<(usize, Event)>,
    /// Its cost in nats, the price of the widening included.
    pub cost: f64,
    /// How far the windows were widened, s.
    pub widening_s: f64,
}

/// The stamps of a series, and what the timing law says of them.
#[derive(Clone, Copy, Debug)]
pub struct Ticks<'a> {
    /// Stamps in capture order.
    pub stamps: &'a [Micros],
    /// By how much each frame lengthens every slot until the next frame, s (its exposure, where the timer
    /// counts from the shutter's close); empty where the interval depends on no frame.
    pub per_slot_s: &'a [f32],
    /// Slots from the stamp before, by the file numbers: their advance over the usual one, 0 where they are
    /// no evidence; empty where there are none.
    pub by_number: &'a [i64],
}

impl Ticks<'_> {
    /// True where the file numbers say that a stamp stands so many slots after the one before it.
    pub(super) fn numbered(&self, at: usize, slots: i64) -> bool {
        slots > 1 && self.by_number.get(at) == Some(&slots)
    }

    pub(super) fn per_slot(&self, at: usize) -> f64 {
        self.per_slot_s.get(at).map_or(0.0, |s| f64::from(*s))
    }
}

impl Reading {
    /// Events that nothing but the stamps speaks for: holes that the file numbers confirm are none, and those
    /// that come again after as many frames as before are one fault that repeats.
    pub(super) fn accidents(&self, ticks: Ticks<'_>) -> usize {
        let confirmed = |at: usize, e: Event| matches!(e, Event::Slots(n) if ticks.numbered(at, n));
        let repeats = |n: usize| {
            let [(a, x), (b, y), (c, z)] = [n - 2, n - 1, n].map(|n| self.events[n]);
            x == y && y == z && matches!(z, Event::Slots(_)) && b - a == c - b
        };
        let counts = |n: &usize| !(confirmed(self.events[*n].0, self.events[*n].1) || *n > 1 && repeats(*n));
        (0..self.events.len()).filter(counts).count()
    }

    /// True where nothing but missing slots interrupts it.
    pub(super) fn only_holes(&self) -> bool {
        self.events.iter().all(|e| matches!(e.1, Event::Slots(n) if n > 1))
    }
}

/// What is asked of the readings.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// Width of a stamp's window.
    pub resolution: Micros,
    /// The plan's interval, s: a narrow guess beside the free one.
    pub planned_s: Option<f64>,
}

impl Asked {
    /// Width of a stamp's window, s.
    pub fn resolution_s(self) -> f64 {
        self.resolution.seconds()
    }

    /// True for an interval hardly longer than the clock's step, s.
    pub fn nearly_as_coarse(self, interval_s: f64) -> bool {
        interval_s < NEARLY_AS_COARSE * self.resolution_s()
    }
}

/// A range for the interval that begins at stamp `from`: (low, middle, high) in s; `None` where too few
/// stamps follow.
pub(super) fn typical_interval(ticks: Ticks<'_>, from: usize) -> Option<(f64, f64, f64)> {
    let end = (from + AHEAD).min(ticks.stamps.len().checked_sub(1)?);
    let mut gaps: Vec<Micros> = (from..end)
        .map(|i| {
            let gap = ticks.stamps[i + 1] - ticks.stamps[i] - Micros::nearest(ticks.per_slot(i));
            // Where files are lost the numbers say for how many slots the gap stands.
            gap / ticks.by_number.get(i + 1).copied().unwrap_or(1).max(1)
        })
        .filter(|g| *g >= Micros::ZERO)
        .collect();
    gaps.sort_unstable();
    // Holes and pauses only lengthen gaps: the shorter ones tell the interval. Where stamps often repeat, the
    // interval is shorter than the clock's step, and only the mean over short and long gaps tells it.
    let repeats = gaps.iter().filter(|g| **g == Micros::ZERO).count();
    let often = repeats * 20 >= gaps.len() * 3;
    let few = if often { (gaps.len() * 9).div_ceil(10) } else { (gaps.len() * 3).div_ceil(5) };
    let sum: Micros = gaps.iter().take(few).copied().sum();
    (few > 0 && sum > Micros::ZERO).then(|| {
        let middle = in_seconds(sum.get() as f64 / few as f64);
        (0.5 * middle, middle, 2.2 * middle)
    })
}
