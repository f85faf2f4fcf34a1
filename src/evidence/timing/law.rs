//! The timing law: what the timer counts from. Where exposures vary, a timer that counts from the shutter's
//! close makes the interval on the stamps grow with the exposure; that is a law, not a drift, and it is taken
//! out before anything else is judged. Laws are weighed like readings: by the cost of the best reading that
//! each leaves.

use super::TimerLaw;
use super::effort::Effort;
use super::readings::{Asked, DOUBT, Event, Reading, Ticks, readings};
use crate::stats;
use crate::units::Micros;

/// What a law other than the ordinary timer's costs, nats.
const UNUSUAL: f64 = 4.0;
/// Exposures must vary by this share of the stamps' resolution, and by this much, s, to tell a law.
const TELLING_SHARE: f64 = 0.25;
const TELLING_S: f64 = 0.05;

/// A law to try: seconds of interval for each second of exposure, and whether stamps are written at the
/// shutter's close.
struct Candidate {
    law: TimerLaw,
    per_exposure: f64,
    stamped_at_close: bool,
    price: f64,
}

const CANDIDATES: [Candidate; 5] = [
    Candidate { law: TimerLaw::Open, per_exposure: 0.0, stamped_at_close: false, price: 0.0 },
    Candidate { law: TimerLaw::Close, per_exposure: 1.0, stamped_at_close: false, price: UNUSUAL },
    Candidate {
        law: TimerLaw::CloseDarkFrame,
        per_exposure: 2.0,
        stamped_at_close: false,
        price: UNUSUAL + 1.0,
    },
    Candidate { law: TimerLaw::Open, per_exposure: 0.0, stamped_at_close: true, price: UNUSUAL },
    Candidate { law: TimerLaw::Close, per_exposure: 1.0, stamped_at_close: true, price: UNUSUAL + 1.0 },
];

/// A series under the law that fits it best.
pub(crate) struct Lawful {
    /// The law; unknown where the exposures do not tell.
    pub law: TimerLaw,
    /// True where the stamps are written when the shutter closes.
    pub stamped_at_close: bool,
    /// The interval's growth with the exposure as measured, s/s.
    pub per_exposure: Option<f64>,
    /// Stamps of the shutter's opening.
    pub stamps: Vec<Micros>,
    /// By how much each frame lengthens the slots after it, s; empty where it does not.
    pub per_slot_s: Vec<f32>,
    /// The readings under the law, best first.
    pub readings: Vec<Reading>,
}

/// What a law is read from, an entry a stamp.
#[derive(Clone, Copy)]
pub(crate) struct Course<'a> {
    /// Stamps in capture order.
    pub stamps: &'a [Micros],
    /// Exact exposures, s; NaN where unknown.
    pub exposures_s: &'a [f64],
    /// See [`Ticks::by_number`].
    pub by_number: &'a [i64],
}

impl<'a> Course<'a> {
    /// The part from one stamp up to another, without it.
    pub(crate) fn part(&self, from: usize, to: usize) -> Course<'a> {
        Course {
            stamps: &self.stamps[from..to],
            exposures_s: &self.exposures_s[from..to],
            by_number: &self.by_number[from..to],
        }
    }
}

/// Reads stamps under each law that the exposures (s, NaN where unknown) can tell, and keeps the one that
/// fits best.
pub(crate) fn lawful(course: Course<'_>, asked: Asked, effort: &Effort) -> Lawful {
    let Course { stamps, exposures_s, by_number } = course;
    let plain = readings(Ticks { stamps, per_slot_s: &[], by_number }, asked, effort);
    let (low, high) = exposures_s
        .iter()
        .filter(|e| e.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), e| (lo.min(*e), hi.max(*e)));
    let telling = (TELLING_SHARE * asked.resolution_s()).max(TELLING_S);
    let tell = high - low > telling;
    let mut best = Lawful {
        law: if tell { TimerLaw::Open } else { TimerLaw::Unknown },
        stamped_at_close: false,
        per_exposure: None,
        stamps: stamps.to_vec(),
        per_slot_s: Vec::new(),
        readings: plain,
    };
    if !tell {
        return best;
    }
    let mut best_cost = cost(&best.readings);
    // The cheapest of each law: whether stamps are written at the open or the close changes no law.
    let mut costs = vec![(TimerLaw::Open, best_cost)];
    let unbroken = best.readings.first().is_some_and(|r| r.events.is_empty());
    let rest = if unbroken { 1 } else { CANDIDATES.len() };
    for candidate in &CANDIDATES[1..rest] {
        if effort.is_spent() {
            break;
        }
        let tried = try_law(course, asked, candidate, effort);
        let total = cost(&tried.readings) + candidate.price;
        costs.push((candidate.law, total));
        if total < best_cost {
            (best_cost, best) = (total, tried);
        }
    }
    let others = costs.iter().filter(|c| c.0 != best.law).map(|c| c.1);
    if others.fold(f64::INFINITY, f64::min) - best_cost < DOUBT && !unbroken {
        best.law = TimerLaw::Unknown;
    }
    best.per_exposure = growth(stamps, exposures_s, &best, telling);
    best
}

fn cost(readings: &[Reading]) -> f64 {
    // The first stands for all by its simplicity: the cheapest is what laws are weighed by.
    readings.iter().map(|r| r.cost).fold(f64::INFINITY, f64::min)
}

fn try_law(course: Course<'_>, asked: Asked, candidate: &Candidate, effort: &Effort) -> Lawful {
    let Course { stamps, exposures_s, by_number } = course;
    // A frame that tells no exposure is taken to have the one before it.
    let mut last = exposures_s.iter().copied().find(|e| e.is_finite()).unwrap_or(0.0);
    let exposures: Vec<f64> = exposures_s
        .iter()
        .map(|e| {
            if e.is_finite() {
                last = *e;
            }
            last
        })
        .collect();
    let shift = |e: f64| if candidate.stamped_at_close { Micros::nearest(e) } else { Micros::ZERO };
    let stamps: Vec<Micros> = stamps.iter().zip(&exposures).map(|(s, e)| *s - shift(*e)).collect();
    let per_slot_s: Vec<f32> = if candidate.per_exposure > 0.0 {
        exposures.iter().map(|e| (e * candidate.per_exposure) as f32).collect()
    } else {
        Vec::new()
    };
    let readings = readings(Ticks { stamps: &stamps, per_slot_s: &per_slot_s, by_number }, asked, effort);
    Lawful {
        law: candidate.law,
        stamped_at_close: candidate.stamped_at_close,
        per_exposure: None,
        stamps,
        per_slot_s,
        readings,
    }
}

/// How much the interval grows with the exposure, measured on the steps from one slot to the next.
fn growth(stamps: &[Micros], exposures_s: &[f64], lawful: &Lawful, apart: f64) -> Option<f64> {
    let best = lawful.readings.first()?;
    let mut events = best.events.iter().peekable();
    let mut points = Vec::new();
    for at in 1..stamps.len() {
        let event = events.next_if(|e| e.0 == at);
        let steady = matches!(event, None | Some((_, Event::Slots(1))));
        let exposure = exposures_s[at - 1];
        if steady && exposure.is_finite() {
            points.push((exposure, (lawful.stamps[at] - lawful.stamps[at - 1]).seconds()));
        }
    }
    stats::slope(&points, apart)
}
