//! From places to the timing of the run: stretches, what joins them, holes, offsets.

use super::boundary::{self, Reach};
use super::clock::{self, ClockChange};
use super::ends;
use super::hours;
use super::numbers;
use super::placement::{Begins, How, Piece, Place};
use super::region::Region;
use super::series::Series;
use super::steady::Laid;
use super::{Cadence, Hole, Join, JoinKind, Standing, Stretch, Timing, bounds};
use crate::units::micros::in_seconds;
use crate::units::{CivilTime, Micros};

/// The smallest timing error that bounds are stated for, s; more where the stamps are too coarse to show a
/// camera's own…
const LEAST_ERROR_S: f64 = 0.020;
/// …which is then taken to be this, s, but no more than this share of the stamps' resolution.
const HIDDEN_ERROR_S: f64 = 0.040;
const HIDDEN_SHARE: f64 = 0.4;
/// A timer that starts anew at each shutter's close adds its errors up, as a random walk does: after n frames
/// the root of n times, and its bounds are stated for this many times that.
const RESTARTS: f64 = 1.5;
/// Two pieces that one line passes through when the windows are so much wider, s, are one; or wider by twice
/// what they are widened by, up to so much: of a thousand shots one is off by three times what most are.
const HAIR_S: f64 = 0.02;
const WIDEST_HAIR_S: f64 = 0.08;
/// Frames in slots that the shorter of them has, at least; the longer one four times as many: through a few
/// points a line is soon drawn.
const LEAST_MENDED: usize = 3;

/// How a piece begins.
#[derive(Clone, Copy, Debug)]
struct Beginning {
    /// The change of the clock there.
    clock: Option<ClockChange>,
    /// Where it may begin.
    reach: Reach,
}

impl Series<'_> {
    /// Fills `timing` for a run that is the whole of this series.
    pub(crate) fn fill(&self, timing: &mut Timing) {
        let widening_s = self.read.readings.first().map_or(0.0, |r| r.widening_s);
        let restarts = if self.read.per_slot_s.is_empty() {
            1.0
        } else {
            (RESTARTS * (self.stamps.len() as f64).sqrt()).max(2.0 * RESTARTS)
        };
        let hidden_s = HIDDEN_ERROR_S.min(in_seconds(HIDDEN_SHARE * self.asked.resolution.get() as f64));
        let error_s = restarts * (2.0 * widening_s).max(LEAST_ERROR_S).max(hidden_s);
        // Of each step from slot to slot, and of those across lost files, the advance for one slot.
        timing.number_advance = numbers::usual((1..self.ticks.len()).filter_map(|i| {
            let slots = self.places[i].slot - self.places[i - 1].slot;
            let step = numbers::between(self.frames, self.ticks[i - 1], self.ticks[i])?;
            (slots == 1 || slots > 1 && step >= slots && step % slots == 0).then(|| step / slots)
        }));
        let laid = Laid {
            stamps: self.stamps,
            places: self.places,
            from: 0,
            pieces: self.pieces,
            by_number: self.by_number,
            asked: self.asked,
            widening_s,
        };
        if let Some(why) = laid.no_grid() {
            timing.no_grid = Some(why);
            return;
        }
        let (mut whole, widening_s) = self.mended(widening_s);
        let reaches = boundary::settle(
            (self.stamps, self.places),
            &mut whole,
            self.asked.resolution,
            (widening_s, widening_s.max(LEAST_ERROR_S)),
        );
        let pieces = self.split_clock_steps(&whole, &reaches, timing.number_advance);
        let places = self.counted_on_from_joins(&pieces);
        Series { places: &places, ..*self }.tell(timing, &pieces, widening_s, error_s);
    }

    /// The pieces without those borders that a hair's widening of the windows does away with (a timer that
    /// stood for less than that did not stand), and the widening with which each has a line of its own.
    fn mended(&self, widening_s: f64) -> (Vec<Piece>, f64) {
        let (mut out, mut widest): (Vec<Piece>, f64) = (Vec::with_capacity(self.pieces.len()), widening_s);
        for piece in self.pieces {
            let hair = widening_s + (2.0 * widening_s).clamp(HAIR_S, WIDEST_HAIR_S);
            match out.last_mut() {
                Some(last) if matches!(piece.begins, Begins::Slip | Begins::Fresh) => {
                    let both = Piece { last: piece.last, ..*last };
                    let (a, b) = (self.points(last).count(), self.points(piece).count());
                    if a.min(b) >= LEAST_MENDED
                        && a.max(b) >= 4 * LEAST_MENDED
                        && self.lines(&both, hair).is_some()
                    {
                        (*last, widest) = (both, hair);
                    } else {
                        out.push(*piece);
                    }
                }
                _ => out.push(*piece),
            }
        }
        (out, widest)
    }

    /// The places with slots counted on across two kinds of joins. What a changed clock skipped or repeated
    /// was never due. How long the timer stood is told as time, and not as missing slots as well.
    fn counted_on_from_joins(&self, pieces: &[(Piece, Beginning)]) -> Vec<Place> {
        let mut places = self.places.to_vec();
        let holds = |i: &usize| self.places[*i].how != How::Surplus;
        let mut skipped = 0;
        for (piece, begins) in pieces {
            let stood = matches!(piece.begins, Begins::Slip | Begins::Fresh) && !begins.reach.new_interval;
            if begins.clock.is_some() || stood {
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
                timing.standing.slots[self.ticks[at]] = place.slot - base;
            }
        }
        for (piece, _) in pieces {
            let region = self.lines(piece, widening_s);
            self.offsets(timing, piece, region.as_ref());
            timing.stretches.push(self.stretch(piece, base, region.as_ref(), error_s));
        }
        pace_of_neighbours(&mut timing.stretches);
        timing.joins = (1..pieces.len())
            .map(|at| {
                let ((piece, begins), sides) =
                    (&pieces[at], (&timing.stretches[at - 1], &timing.stretches[at]));
                self.join(piece, sides, *begins, widening_s)
            })
            .collect();
        self.holes(timing, pieces, base);
        self.doubt(timing);
        self.count_long_holes(timing, pieces.iter().map(|(piece, _)| piece), error_s);
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
        // A frame at an end may miss the line by more than the others do.
        let stated = [error_s, ends::JITTERS * error_s].into_iter().find_map(|e| self.lines(piece, e));
        let stated = stated.map(|region| region.intervals());
        let last_on = self.points(piece).last();
        let (interval_s, phase) = match (region, last_on) {
            (Some(region), Some((slot, stamp))) => {
                let (interval, phase) = region.centre();
                let back = phase - interval * (slot - self.places[piece.first].slot) as f64;
                (interval, CivilTime::from_micros(stamp + Micros::nearest(back)))
            }
            _ => {
                let slots = (self.places[piece.last].slot - self.places[piece.first].slot).max(1);
                (
                    (self.stamps[piece.last] - self.stamps[piece.first]).seconds() / slots as f64,
                    CivilTime::from_micros(self.stamps[piece.first]),
                )
            }
        };
        let spread = 2.0 * self.asked.resolution_s();
        let (low_s, high_s) = stated.unwrap_or(((interval_s - spread).max(0.0), interval_s + spread));
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
        let q = self.asked.resolution_s();
        for at in piece.first..=piece.last {
            if self.places[at].how == How::Surplus {
                continue;
            }
            let due = phase + interval * (self.places[at].slot - slot) as f64;
            let opens = (self.stamps[at] - stamp).seconds();
            let by_centre = if due < opens { opens - due } else { (opens + q - due).min(0.0) };
            let miss = match region.filter(|_| self.places[at].how == How::Off) {
                None => by_centre,
                // By no more than the line that comes nearest of all that the stamps allow. One in a corner
                // that reaches the frame is too unlikely to excuse it: the reading weighed that. On a clock
                // as coarse as the timer the corner is as likely as any.
                Some(region) => match region.phases_after(self.places[at].slot - slot, opens) {
                    (_, high) if high < 0.0 => -high,
                    (low, _) if low > q => q - low,
                    _ if self.asked.nearly_as_coarse(interval) => 0.0,
                    _ => by_centre,
                },
            };
            timing.standing.offsets_s[self.ticks[at]] = miss as f32;
        }
    }

    /// The pieces, parted further where the camera's clock was changed: a step of whole hours on the grid's
    /// own phase while the file numbers run on.
    fn split_clock_steps(
        &self,
        pieces: &[Piece],
        reaches: &[Reach],
        advance: Option<i64>,
    ) -> Vec<(Piece, Beginning)> {
        let begins_anew = |p: &&Piece| !matches!(p.begins, Begins::First | Begins::Night { .. });
        let mut asked: Vec<usize> = pieces.iter().filter(begins_anew).map(|p| p.first).collect();
        asked.extend((1..self.places.len()).filter(|&at| {
            self.places[at].slot - self.places[at - 1].slot > 3
                && pieces.binary_search_by_key(&at, |p| p.first).is_err()
        }));
        let nights = self.pieces.iter().filter(|p| matches!(p.begins, Begins::Night { .. }));
        let mornings: Vec<usize> = nights.map(|p| p.first).collect();
        asked.retain(|&at| !self.hours_kept_around(at, &mornings));
        asked.extend((1..self.places.len()).filter(|&at| self.tells_time(at)));
        asked.sort_unstable();
        asked.dedup();
        let changes = self.clock_changes(asked.into_iter(), advance);
        let change =
            |at: usize| changes.binary_search_by_key(&at, |c| c.0).ok().map(|found| changes[found].1);
        let mut out = Vec::with_capacity(pieces.len());
        for (piece, reach) in pieces.iter().zip(reaches) {
            let (mut from, mut how) = (piece.first, piece.begins);
            let clock = match piece.begins {
                Begins::First | Begins::Night { .. } => None,
                _ => change(piece.first),
            };
            let mut begins = Beginning { clock, reach: *reach };
            for at in piece.first + 1..=piece.last {
                let clock = change(at);
                if clock.is_some() {
                    out.push((Piece { first: from, last: at - 1, begins: how }, begins));
                    // A night lies before the day's first frame alone.
                    (begins, how) = (Beginning { clock, reach: Reach::at(at) }, Begins::Slip);
                    from = at;
                }
            }
            out.push((Piece { first: from, last: piece.last, begins: how }, begins));
        }
        out
    }

    /// True where the working day around a gap before stamp `at` began and ended with the plan's hours, so
    /// that what was due in the gap was not shot. A clock that was put forward would have left one end beside
    /// them; one whose offset was changed as well is another matter. `mornings` are the first stamps of the
    /// days but the first.
    fn hours_kept_around(&self, at: usize, mornings: &[usize]) -> bool {
        let Some(usual_s) = self.usual_gap(at - 1, at) else { return false };
        let step_s = self.gap(at - 1, at) - usual_s;
        if self.plan.active.is_empty() || step_s <= 0.0 || self.offset(at - 1) != self.offset(at) {
            return false;
        }
        let day = mornings.partition_point(|first| *first <= at);
        let opens = day.checked_sub(1).map_or(0, |before| mornings[before]);
        let closes = mornings.get(day).copied().unwrap_or(self.raw.len()) - 1;
        let interval_s = self.asked.planned_s.unwrap_or(usual_s);
        hours::kept(&self.plan.active, (self.raw[opens], self.raw[closes]), interval_s, step_s)
    }

    fn join(
        &self,
        piece: &Piece,
        (before, after): (&Stretch, &Stretch),
        begins: Beginning,
        widening_s: f64,
    ) -> Join {
        let gap_s = self.gap(piece.first - 1, piece.first);
        let kind = if matches!(piece.begins, Begins::Night { .. }) {
            JoinKind::Night
        } else if let Some(ClockChange { step_s, stood_s, rival }) = begins.clock {
            JoinKind::ClockStep { step_s, looks_like: clock::words(step_s), stood_s, rival }
        } else if begins.reach.new_interval {
            let pause_s = gap_s - before.interval_s.max(after.interval_s);
            // Either window may hide as much as the stamps' step.
            let doubt_s = self.asked.resolution_s() + LEAST_ERROR_S + 2.0 * widening_s;
            JoinKind::Rate {
                from_s: before.interval_s,
                to_s: after.interval_s,
                earliest: self.ticks[begins.reach.earliest],
                latest: self.ticks[begins.reach.latest],
                // What is told as slots is not told as time as well.
                pause_s: (pause_s > doubt_s && !self.slots_missing_before(piece)).then_some(pause_s),
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
            or_missing: begins
                .clock
                .and_then(|c| c.or_stood_s())
                .map(|stood_s| (stood_s / before.interval_s).round().max(0.0) as u64),
            shots_beyond: self.shots_around(piece.first),
        }
    }

    /// True where slots are empty between a piece and the frame before it.
    fn slots_missing_before(&self, piece: &Piece) -> bool {
        self.places[piece.first].slot - self.places[piece.first - 1].slot > 1
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
            shots_beyond: self.shots_beyond(before, after),
        }
    }

    /// Frames beyond a hole near an end that may be none of the run; none where that is settled, or the plan
    /// counts on them.
    fn shots_beyond(&self, before: usize, after: usize) -> Option<u64> {
        let end = self.ends.beyond(after).filter(|e| e.odds < ends::SURE)?;
        let tail = self.ends.tail == Some(end);
        (!self.counted_on()).then_some(if tail { self.places.len() - after } else { before + 1 } as u64)
    }

    /// The same for a stop before stamp `after`.
    fn shots_around(&self, after: usize) -> Option<u64> {
        let end = self.ends.in_doubt(after).filter(|_| !self.counted_on())?;
        let head = self.ends.head == Some(end);
        Some(if head { end.after } else { self.places.len() - end.after } as u64)
    }

    /// True where the plan asks for as many slots as the run has, with all that is at its ends.
    fn counted_on(&self) -> bool {
        let slots = self.places.last().map_or(0, |p| p.slot) - self.places.first().map_or(0, |p| p.slot) + 1;
        self.plan.frames.is_some_and(|asked| slots.unsigned_abs() <= asked)
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
            resolution_s: self.asked.resolution_s(),
            law: self.read.law,
            stamped_at_close: self.read.stamped_at_close,
            per_exposure: self.read.per_exposure,
        };
        self.widen_bounds(&mut cadence, error_s);
        Some(cadence)
    }
}

/// A single frame, as on a last working day, has no pace of its own: it is told with that of the stretch
/// before it, else of the one after.
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

/// Timing with a place for every frame and nothing known yet.
pub(crate) fn blank(frames: usize) -> Timing {
    Timing { standing: Standing::nowhere(frames), ..Timing::default() }
}
