//! From places to the timing of the run: stretches, what joins them, holes, offsets.

use super::boundary::{self, Reach};
use super::law::Lawful;
use super::numbers;
use super::placement::{Begins, How, Piece, Place};
use super::readings::Asked;
use super::region::Region;
use super::{Cadence, Hole, Join, JoinKind, NO_SLOT, Stretch, Timing, bounds};
use crate::frames::Frames;
use crate::units::time::SECOND;
use crate::units::{CivilTime, Micros};

/// The smallest timing error that bounds are stated for, s; more where the stamps are too coarse to show a camera's own…
const LEAST_ERROR_S: f64 = 0.020;
/// …which is then taken to be this, s, but no more than this share of the stamps' resolution.
const HIDDEN_ERROR_S: f64 = 0.040;
const HIDDEN_SHARE: f64 = 0.4;
/// A timer that starts anew at each shutter's close adds its errors up, as a random walk does: after n frames the root of n
/// times, and its bounds are stated for this many times that.
const RESTARTS: f64 = 1.5;
/// A grid holds the run where at least this share of its steps goes from one slot to the next…
const STEPS_ON_GRID: f64 = 0.3;
/// …or this share where the windows had to be widened by more than a camera's jitter: wide windows catch anything…
const STEPS_ON_WIDE_GRID: f64 = 0.6;
const WIDE_S: f64 = 0.080;
/// …and where it is interrupted no oftener than once in this many frames.
const FRAMES_PER_JOIN: usize = 16;

/// How a piece begins.
#[derive(Clone, Copy, Debug)]
struct Beginning {
    /// By how much the clock was changed there, s.
    clock: Option<f64>,
    /// Where it may begin.
    reach: Reach,
}

/// The stamped frames of the run and what the best reading says of them.
pub struct Series<'a> {
    /// The folder.
    pub frames: &'a Frames,
    /// Position of each stamp's frame.
    pub ticks: &'a [usize],
    /// The stamps as written, µs.
    pub raw: &'a [Micros],
    /// The stamps with the timing law taken out, µs.
    pub stamps: &'a [Micros],
    /// Their places.
    pub places: &'a [Place],
    /// The pieces they form.
    pub pieces: &'a [Piece],
    /// Resolution and plan.
    pub asked: Asked,
    /// The law, and all readings within doubt, best first.
    pub read: &'a Lawful,
}

impl Series<'_> {
    /// Seconds between two stamps as written.
    fn gap(&self, from: usize, to: usize) -> f64 {
        (self.raw[to] - self.raw[from]) as f64 / SECOND as f64
    }

    /// Fills `timing` for a run that is the whole of this series.
    pub fn fill(&self, timing: &mut Timing) {
        let widening_s = self.read.readings.first().map_or(0.0, |r| r.widening_s);
        let restarts = if self.read.per_slot_s.is_empty() {
            1.0
        } else {
            (RESTARTS * (self.stamps.len() as f64).sqrt()).max(2.0 * RESTARTS)
        };
        let hidden_s = HIDDEN_ERROR_S.min(HIDDEN_SHARE * self.asked.resolution as f64 / SECOND as f64);
        let error_s = restarts * (2.0 * widening_s).max(LEAST_ERROR_S).max(hidden_s);
        timing.number_advance = numbers::usual(
            (1..self.ticks.len())
                .filter(|&i| self.places[i].slot - self.places[i - 1].slot == 1)
                .filter_map(|i| numbers::between(self.frames, self.ticks[i - 1], self.ticks[i])),
        );
        if let Some(why) = no_grid(self.places, self.pieces, widening_s) {
            timing.no_grid = Some(why);
            return;
        }
        let mut whole = self.pieces.to_vec();
        let reaches = boundary::settle(
            (self.stamps, self.places),
            &mut whole,
            self.asked.resolution,
            (widening_s, widening_s.max(LEAST_ERROR_S)),
        );
        let pieces = self.split_clock_steps(&whole, &reaches, timing.number_advance);
        let places = self.past_clock_steps(&pieces);
        Series { places: &places, ..*self }.tell(timing, &pieces, widening_s, error_s);
    }

    /// The places with slots counted on where the clock was changed: what it skipped or repeated was never due.
    fn past_clock_steps(&self, pieces: &[(Piece, Beginning)]) -> Vec<Place> {
        let mut places = self.places.to_vec();
        let holds = |i: &usize| self.places[*i].how != How::Surplus;
        let mut skipped = 0;
        for (piece, begins) in pieces {
            if begins.clock.is_some() {
                let before = (0..piece.first).rev().find(holds);
                let after = (piece.first..=piece.last).find(holds);
                skipped +=
                    before.zip(after).map_or(0, |(b, a)| self.places[a].slot - self.places[b].slot - 1);
            }
            places[piece.first..=piece.last].iter_mut().for_each(|p| p.slot -= skipped);
        }
        places
    }

    /// Fills `timing` from the pieces.
    fn tell(&self, timing: &mut Timing, pieces: &[(Piece, Beginning)], widening_s: f64, error_s: f64) {
        let base = self.places.first().map_or(0, |p| p.slot);
        for (at, place) in self.places.iter().enumerate() {
            if place.how != How::Surplus {
                timing.slots[self.ticks[at]] = place.slot - base;
            }
        }
        let mut lines: Vec<Option<Region>> = Vec::with_capacity(pieces.len());
        for (piece, begins) in pieces {
            let region = self.lines(piece, widening_s);
            self.offsets(timing, piece, region.as_ref());
            let stretch = self.stretch(piece, base, region.as_ref(), error_s);
            if let Some(before) = timing.stretches.last() {
                let join = self.join(piece, before, &stretch, *begins);
                timing.joins.push(join);
            }
            timing.stretches.push(stretch);
            lines.push(region);
        }
        pace_of_neighbours(&mut timing.stretches);
        self.holes(timing, pieces, base);
        self.doubt(timing);
        timing.cadence = self.cadence(timing, pieces, widening_s, error_s);
        timing.slot_count = self.places.last().map(|p| (p.slot - base + 1).max(1) as u64);
        self.as_coarse_as_the_interval(timing);
    }

    fn points<'s>(&'s self, piece: &Piece) -> impl Iterator<Item = (i64, Micros)> + 's {
        (piece.first..=piece.last)
            .filter(|&i| self.places[i].how == How::On)
            .map(|i| (self.places[i].slot, self.stamps[i]))
    }

    fn lines(&self, piece: &Piece, widening_s: f64) -> Option<Region> {
        bounds::lines(self.points(piece), self.asked.resolution, widening_s)
    }

    fn stretch(&self, piece: &Piece, base: i64, region: Option<&Region>, error_s: f64) -> Stretch {
        let frames =
            (piece.first..=piece.last).filter(|&i| self.places[i].how != How::Surplus).count() as u64;
        let stated = self.lines(piece, error_s).map(|r| r.intervals());
        let last_on = self.points(piece).last();
        let (interval_s, phase) = match (region, last_on) {
            (Some(region), Some((slot, stamp))) => {
                let (interval, phase) = region.centre();
                let back = phase - interval * (slot - self.places[piece.first].slot) as f64;
                (interval, CivilTime::from_micros(stamp + (back * SECOND as f64).round() as Micros))
            }
            _ => {
                let slots = (self.places[piece.last].slot - self.places[piece.first].slot).max(1);
                (
                    (self.stamps[piece.last] - self.stamps[piece.first]) as f64
                        / SECOND as f64
                        / slots as f64,
                    CivilTime::from_micros(self.stamps[piece.first]),
                )
            }
        };
        let spread = 2.0 * self.asked.resolution as f64 / SECOND as f64;
        let (low_s, high_s) = stated.unwrap_or((interval_s - spread, interval_s + spread));
        Stretch {
            first: self.ticks[piece.first],
            last: self.ticks[piece.last],
            frames,
            first_slot: self.places[piece.first].slot - base,
            last_slot: self.places[piece.last].slot - base,
            interval_s,
            low_s,
            high_s,
            phase,
        }
    }

    /// How far each frame of a piece misses its slot's moment on the line that stands for the piece.
    fn offsets(&self, timing: &mut Timing, piece: &Piece, region: Option<&Region>) {
        let Some((interval, phase)) = region.map(Region::centre) else { return };
        let Some((slot, stamp)) = self.points(piece).last() else { return };
        let q = self.asked.resolution as f64 / SECOND as f64;
        for at in piece.first..=piece.last {
            if self.places[at].how == How::Surplus {
                continue;
            }
            let due = phase + interval * (self.places[at].slot - slot) as f64;
            let opens = (self.stamps[at] - stamp) as f64 / SECOND as f64;
            let miss = if due < opens { opens - due } else { (opens + q - due).min(0.0) };
            timing.offsets_s[self.ticks[at]] = miss as f32;
        }
    }

    /// The pieces, parted further where the camera's clock was changed: a step of whole hours on the grid's own phase while
    /// the file numbers run on.
    fn split_clock_steps(
        &self,
        pieces: &[Piece],
        reaches: &[Reach],
        advance: Option<i64>,
    ) -> Vec<(Piece, Beginning)> {
        let mut out = Vec::with_capacity(pieces.len());
        for (piece, reach) in pieces.iter().zip(reaches) {
            let mut from = piece.first;
            let clock = match piece.begins {
                Begins::First | Begins::Night { .. } => None,
                _ => self.clock_step(piece.first - 1, piece.first, advance),
            };
            let mut begins = Beginning { clock, reach: *reach };
            for at in piece.first + 1..=piece.last {
                if self.places[at].slot - self.places[at - 1].slot > 3 {
                    let step = self.clock_step(at - 1, at, advance);
                    if step.is_some() {
                        out.push((Piece { first: from, last: at - 1, ..*piece }, begins));
                        begins = Beginning { clock: step, reach: Reach::at(at) };
                        from = at;
                    }
                }
            }
            out.push((Piece { first: from, last: piece.last, ..*piece }, begins));
        }
        out
    }

    /// By how much the clock jumped between two neighbouring stamps, s; `None` where it did not.
    fn clock_step(&self, before: usize, after: usize, advance: Option<i64>) -> Option<f64> {
        let gap = self.gap(before, after);
        let usual = self.usual_gap(before, after)?;
        let step = gap - usual;
        let offset = |i: usize| self.frames.rows[self.ticks[i]].stamp.as_known().and_then(|s| s.offset_min);
        let slack = self.asked.resolution as f64 / SECOND as f64 + LEAST_ERROR_S + 0.1 * usual;
        if let (Some(a), Some(b)) = (offset(before), offset(after))
            && a != b
            && (step - f64::from(b - a) * 60.0).abs() <= slack
        {
            return Some(f64::from(b - a) * 60.0);
        }
        let numbers = numbers::between(self.frames, self.ticks[before], self.ticks[after]);
        let runs_on = advance.is_some() && numbers == advance;
        if gap < 0.0 && (runs_on || advance.is_none()) {
            let hours = (step / 1800.0).round() * 1800.0;
            return Some(if (step - hours).abs() <= slack { hours } else { step });
        }
        // Zones lie half hours apart, and one island's daylight saving is half an hour.
        let hours = (step / 1800.0).round() * 1800.0;
        (runs_on && hours != 0.0 && (step - hours).abs() <= slack && (hours.abs() <= 86_400.0 || gap < 0.0))
            .then_some(hours)
    }

    /// The gap that one slot makes near a pair of stamps, s: the middle of the gaps round about.
    fn usual_gap(&self, before: usize, after: usize) -> Option<f64> {
        let low = before.saturating_sub(8);
        let high = (after + 8).min(self.stamps.len() - 1);
        let mut gaps: Vec<f64> =
            (low..high).filter(|&i| i != before).map(|i| self.gap(i, i + 1)).filter(|g| *g >= 0.0).collect();
        gaps.sort_by(f64::total_cmp);
        gaps.get(gaps.len() / 2).copied()
    }

    fn join(&self, piece: &Piece, before: &Stretch, after: &Stretch, begins: Beginning) -> Join {
        let gap_s = self.gap(piece.first - 1, piece.first);
        let kind = if matches!(piece.begins, Begins::Night { .. }) {
            JoinKind::Night
        } else if let Some(step_s) = begins.clock {
            JoinKind::ClockStep { step_s, looks_like: clock_words(step_s) }
        } else if begins.reach.new_interval {
            JoinKind::Rate {
                from_s: before.interval_s,
                to_s: after.interval_s,
                earliest: self.ticks[begins.reach.earliest],
                latest: self.ticks[begins.reach.latest],
            }
        } else {
            let pause_s = gap_s - before.interval_s;
            JoinKind::Slip { pause_s, slots: pause_s / before.interval_s }
        };
        Join {
            before: self.ticks[piece.first - 1],
            after: self.ticks[piece.first],
            gap_s,
            kind,
            or_missing: None,
        }
    }

    fn holes(&self, timing: &mut Timing, pieces: &[(Piece, Beginning)], base: i64) {
        for (piece, begins) in pieces {
            // Frames that are surplus stand in no slot: a hole is seen between the frames that do.
            let mut before: Option<usize> = match piece.begins {
                _ if begins.clock.is_some() => None,
                Begins::Night { due: 0 } | Begins::First => None,
                Begins::Night { .. } => piece.first.checked_sub(1),
                // The boundary of two lines may lie at a hole.
                _ => (0..piece.first).rev().find(|&i| self.places[i].how != How::Surplus),
            };
            for at in (piece.first..=piece.last).filter(|&i| self.places[i].how != How::Surplus) {
                if let Some(b) = before {
                    let slots = self.places[at].slot - self.places[b].slot - 1;
                    if slots > 0 {
                        timing.holes.push(self.hole(b, at, slots as u64, base, timing.number_advance));
                    }
                }
                before = Some(at);
            }
        }
    }

    fn hole(&self, before: usize, after: usize, slots: u64, base: i64, advance: Option<i64>) -> Hole {
        let step = numbers::between(self.frames, self.ticks[before], self.ticks[after]);
        Hole {
            before: self.ticks[before],
            after: self.ticks[after],
            slot: self.places[before].slot + 1 - base,
            slots,
            gap_s: self.gap(before, after),
            numbers: step.filter(|_| advance.is_some()),
            cause: numbers::cause(step, advance, slots),
            doubt: None,
        }
    }

    fn cadence(
        &self,
        timing: &Timing,
        pieces: &[(Piece, Beginning)],
        widening_s: f64,
        error_s: f64,
    ) -> Option<Cadence> {
        let (longest, at) = timing
            .stretches
            .iter()
            .zip(0..)
            .max_by(|a, b| a.0.frames.cmp(&b.0.frames).then(b.1.cmp(&a.1)))?;
        let exact_s = self.lines(&pieces.get(at)?.0, 0.0).map(|r| r.intervals());
        let mut cadence = Cadence {
            interval_s: longest.interval_s,
            low_s: longest.low_s,
            high_s: longest.high_s,
            exact_s,
            timing_error_s: error_s,
            widening_s,
            resolution_s: self.asked.resolution as f64 / SECOND as f64,
            law: self.read.law,
            stamped_at_close: self.read.stamped_at_close,
            per_exposure: self.read.per_exposure,
        };
        self.widen_bounds(&mut cadence, error_s);
        Some(cadence)
    }
}

/// Why no grid holds most of the frames; `None` where one does.
pub fn no_grid(places: &[Place], pieces: &[Piece], widening_s: f64) -> Option<String> {
    let n = places.len();
    if n < 3 {
        return Some(format!("{n} stamped frames are too few to tell an interval"));
    }
    let on = places.iter().filter(|p| p.how == How::On).count();
    let steps = places.windows(2).filter(|w| w[1].slot - w[0].slot == 1).count();
    let joins = pieces.iter().filter(|p| matches!(p.begins, Begins::Slip | Begins::Fresh)).count();
    let least = if widening_s > WIDE_S { STEPS_ON_WIDE_GRID } else { STEPS_ON_GRID };
    if steps as f64 >= least * (n - 1) as f64
        && joins * FRAMES_PER_JOIN <= n + 2 * FRAMES_PER_JOIN
        && on * 2 > n
    {
        return None;
    }
    Some("the intervals keep to no one grid for most of the frames".into())
}

/// A single frame, as on a last working day, has no pace of its own: it is told with that of the stretch before it, else of the one after.
fn pace_of_neighbours(stretches: &mut [Stretch]) {
    let own = |s: &Stretch| s.last_slot > s.first_slot;
    for at in 0..stretches.len() {
        let before = stretches[..at].iter().rev().find(|s| own(s));
        if !own(&stretches[at])
            && let Some(beside) = before.or_else(|| stretches[at..].iter().find(|s| own(s)))
        {
            let (interval_s, low_s, high_s) = (beside.interval_s, beside.low_s, beside.high_s);
            let alone = &mut stretches[at];
            (alone.interval_s, alone.low_s, alone.high_s) = (interval_s, low_s, high_s);
        }
    }
}

/// What kind of clock change a step looks like.
fn clock_words(step_s: f64) -> String {
    let hours = step_s / 3600.0;
    if (hours.abs() - 1.0).abs() < 1e-9 {
        "daylight saving, or a time zone one hour away".into()
    } else if (hours.abs() - 12.0).abs() < 1e-9 {
        "a morning taken for an evening on a twelve-hour clock".into()
    } else if hours.abs() > 24.0 * 300.0 {
        "the clock lost its battery and began at a factory date".into()
    } else if (step_s / 900.0 - (step_s / 900.0).round()).abs() < 1e-9 {
        "a change of time zone".into()
    } else {
        "the clock was set".into()
    }
}

/// Timing with a place for every frame and nothing known yet.
pub fn blank(frames: usize) -> Timing {
    Timing { slots: vec![NO_SLOT; frames], offsets_s: vec![f32::NAN; frames], ..Timing::default() }
}
