//! Site hours: a camera that works part of the day. Each working period has a grid of its own; the nights between are no
//! pause, and what was due in working hours and not shot is missing.

use super::law::{Course, Lawful, lawful};
use super::placement::{Begins, Piece, Place, places};
use super::readings::{Asked, Event, Reading};
use super::{boundary, multiples};
use crate::plan::{CountedFrom, DailyHours, Plan};
use crate::stats;
use crate::units::Micros;
use crate::units::time::SECOND;

const DAY_S: i64 = 86_400;
/// Working days looked through between two frames: a camera dead for longer is told as dead for so long.
const MOST_DAYS: i64 = 4000;

/// Working periods that touch `from..=to` (s on the camera's clock), in order, as (begin, end).
fn periods(active: &[DailyHours], from: i64, to: i64) -> Vec<(i64, i64)> {
    let first = from.div_euclid(DAY_S) - 1;
    let last = to.div_euclid(DAY_S).min(first + MOST_DAYS);
    let mut out: Vec<(i64, i64)> = (first..=last)
        .flat_map(|day| {
            active.iter().map(move |hours| {
                let begin = day * DAY_S + i64::from(hours.from_s);
                let past_midnight = if hours.to_s <= hours.from_s { DAY_S } else { 0 };
                (begin, day * DAY_S + i64::from(hours.to_s) + past_midnight)
            })
        })
        .filter(|p| p.1 > from && p.0 <= to)
        .collect();
    out.sort_unstable();
    out
}

/// A frame this little before the hours begin is the first of them, s.
const EARLY_S: i64 = 30;

/// True where two moments (µs) belong to different working periods; a frame at or after the closing hour still belongs to the
/// period that began before it.
fn rests_between(active: &[DailyHours], from: Micros, to: Micros) -> bool {
    let (from, to) = (from.div_euclid(SECOND) + EARLY_S, to.div_euclid(SECOND) + EARLY_S);
    to > from && periods(active, from, to).iter().any(|p| p.0 > from && p.0 <= to)
}

/// Slots that were due between two frames of different working periods, with an interval of `interval_s`.
fn due_between(active: &[DailyHours], from: Micros, to: Micros, interval_s: f64) -> u64 {
    let (from, to) = (from as f64 / SECOND as f64, to as f64 / SECOND as f64);
    periods(active, from as i64, to as i64)
        .iter()
        .map(|&(begin, end)| {
            let (begin, end) = (begin as f64, end as f64);
            let due = if begin <= from {
                // Whether the very end of the hours is due is a matter of half an interval.
                ((end.min(to) - from) / interval_s - 0.5).floor()
            } else if end > to {
                ((to - begin) / interval_s).floor()
            } else {
                ((end - begin) / interval_s - 0.5).floor() + 1.0
            };
            due.max(0.0) as u64
        })
        .sum()
}

/// A series read day by day.
pub struct Read {
    /// The law of the longest day, and the whole series under it.
    pub read: Lawful,
    /// Places of all stamps.
    pub places: Vec<Place>,
    /// Pieces of all days.
    pub pieces: Vec<Piece>,
}

/// Reads a series: whole where there are no site hours, else each working period by itself.
pub fn read(course: Course<'_>, asked: Asked, plan: &Plan) -> Read {
    let stamps = course.stamps;
    let active = &plan.active;
    let planned: Vec<f64> = plan.parts.iter().filter_map(|p| p.interval_s).chain(plan.interval_s).collect();
    let mut starts: Vec<usize> = vec![0];
    if !active.is_empty() {
        starts.extend((1..stamps.len()).filter(|&i| rests_between(active, stamps[i - 1], stamps[i])));
    }
    let mut out: Option<(Read, usize)> = None;
    for (n, &from) in starts.iter().enumerate() {
        let to = starts.get(n + 1).copied().unwrap_or(stamps.len());
        let mut day = lawful(course.part(from, to), asked);
        let (mut day_places, mut day_pieces) =
            day.readings.first().map_or_else(|| (Vec::new(), Vec::new()), |best| places(&day.stamps, best));
        let widening_s = day.readings.first().map_or(0.0, |r| r.widening_s);
        if day.per_slot_s.is_empty() {
            boundary::adopt(&day.stamps, &mut day_places, &mut day_pieces, asked.resolution, widening_s);
        }
        multiples::join(&mut day, &mut day_places, &mut day_pieces, asked, &planned);
        let placed = (day.stamps.as_slice(), day_places.as_slice());
        boundary::leave_ends_alone(placed, &mut day_pieces, asked.resolution, widening_s);
        out = Some(match out {
            None => (Read { read: day, places: day_places, pieces: day_pieces }, to - from),
            Some((all, longest)) => {
                // A timer that counts from shutter close takes the exposure as well.
                let even = plan.counted_from != Some(CountedFrom::Close)
                    && all.read.per_slot_s.is_empty()
                    && day.per_slot_s.is_empty();
                let planned_s = asked.planned_s.filter(|_| even);
                let interval = planned_s.unwrap_or_else(|| usual_gap(&stamps[from.saturating_sub(64)..to]));
                let due = due_between(active, stamps[from - 1], stamps[from], interval);
                append(all, longest, day, day_places, &day_pieces, due)
            }
        });
    }
    out.map_or_else(
        || Read { read: lawful(course, asked), places: Vec::new(), pieces: Vec::new() },
        |(read, _)| read,
    )
}

fn usual_gap(stamps: &[Micros]) -> f64 {
    let gaps = stamps.windows(2).map(|w| (w[1] - w[0]) as f64 / SECOND as f64).filter(|g| *g > 0.0);
    stats::median(gaps).unwrap_or(1.0)
}

fn append(
    mut all: Read,
    longest: usize,
    day: Lawful,
    day_places: Vec<Place>,
    day_pieces: &[Piece],
    due: u64,
) -> (Read, usize) {
    let from = all.places.len();
    let slot = all.places.last().map_or(0, |p| p.slot) + 1 + due as i64;
    all.places.extend(day_places.iter().map(|p| Place { slot: slot + p.slot, ..*p }));
    all.pieces.extend(day_pieces.iter().map(|p| Piece {
        first: from + p.first,
        last: from + p.last,
        begins: if p.begins == Begins::First { Begins::Night { due } } else { p.begins },
    }));
    let mut events: Vec<(usize, Event)> =
        all.read.readings.first().map_or_else(Vec::new, |r| r.events.clone());
    events.extend(day.readings.first().into_iter().flat_map(|r| r.events.iter().map(|e| (from + e.0, e.1))));
    let widening = |l: &Lawful| l.readings.first().map_or(0.0, |r| r.widening_s);
    let widening_s = widening(&all.read).max(widening(&day));
    let take = day_places.len() > longest;
    let read = Lawful {
        law: if take { day.law } else { all.read.law },
        stamped_at_close: if take { day.stamped_at_close } else { all.read.stamped_at_close },
        per_exposure: if take { day.per_exposure } else { all.read.per_exposure },
        stamps: [all.read.stamps, day.stamps].concat(),
        per_slot_s: pad(all.read.per_slot_s, from, day.per_slot_s, day_places.len()),
        // Readings of single days are not told apart any more: only the best of each is kept.
        readings: vec![Reading { events, cost: 0.0, widening_s }],
    };
    (Read { read, places: all.places, pieces: all.pieces }, longest.max(day_places.len()))
}

/// Joins two lengthenings, where either may be empty for "none".
fn pad(mut a: Vec<f32>, a_len: usize, b: Vec<f32>, b_len: usize) -> Vec<f32> {
    if a.is_empty() && b.is_empty() {
        return a;
    }
    a.resize(a_len, 0.0);
    a.extend(b);
    a.resize(a_len + b_len, 0.0);
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    const SITE: [DailyHours; 1] = [DailyHours { from_s: 7 * 3600, to_s: 19 * 3600 }];

    fn at(day: i64, h: i64, m: i64) -> Micros {
        (day * DAY_S + h * 3600 + m * 60) * SECOND
    }

    #[test]
    fn nights_are_seen_and_noon_is_not() {
        assert!(rests_between(&SITE, at(100, 18, 55), at(101, 7, 0)));
        assert!(!rests_between(&SITE, at(100, 12, 0), at(100, 12, 5)));
        assert!(rests_between(&SITE, at(100, 19, 0), at(101, 7, 0)));
        assert!(!rests_between(&SITE, at(100, 18, 55), at(100, 19, 0)));
    }

    #[test]
    fn only_what_was_due_in_working_hours_is_missing() {
        // A frame every 5 minutes, the last at 18:55: 19:00 is no longer due.
        assert_eq!(due_between(&SITE, at(100, 18, 55), at(101, 7, 0), 300.0), 0);
        assert_eq!(due_between(&SITE, at(100, 18, 45), at(101, 7, 0), 300.0), 2);
        assert_eq!(due_between(&SITE, at(100, 18, 55), at(101, 7, 10), 300.0), 2);
        // A whole day lost: 07:00 to 18:55 is 144 frames.
        assert_eq!(due_between(&SITE, at(100, 18, 55), at(102, 7, 0), 300.0), 144);
    }

    #[test]
    fn hours_past_midnight() {
        let night = [DailyHours { from_s: 20 * 3600, to_s: 5 * 3600 }];
        assert!(!rests_between(&night, at(100, 23, 50), at(101, 0, 10)));
        assert!(rests_between(&night, at(101, 4, 55), at(101, 20, 0)));
    }
}
