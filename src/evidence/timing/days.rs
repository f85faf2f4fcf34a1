//! Site hours: a camera that works part of the day. Each working period has a grid of its own; the nights
//! between are no pause, and what was due in working hours and not shot is missing.

use super::effort::Effort;
use super::hours::{DAY_S, EARLY_S, Habit, due_between, late_s, left_s, periods};
use super::law::{Course, Lawful, lawful};
use super::placement::{Begins, How, Piece, Place, places};
use super::readings::{Asked, Event, Reading};
use super::{boundary, multiples};
use crate::plan::{CountedFrom, DailyHours, Plan};
use crate::stats;
use crate::units::Micros;

/// Hours of rest shorter than this are passed at the opening hour, not by a gap, s.
const SHORT_REST_S: i64 = 120;

/// True where two moments belong to different working periods. A gap over a good part of the hours of
/// rest parts them, whatever the camera's clock was set by; a frame at or after the closing hour still
/// belongs to the period that began before it.
fn rests_between(active: &[DailyHours], from: Micros, to: Micros) -> bool {
    let (from, to) = (from.whole_seconds(), to.whole_seconds());
    if to <= from {
        return false;
    }
    let mut closes = None;
    periods(active, from - DAY_S, to + DAY_S).iter().any(|&(begin, end)| {
        let closed = closes.replace(closes.map_or(end, |c: i64| c.max(end)));
        let Some(closed) = closed else { return false };
        let opens_within = from + EARLY_S < begin && begin <= to + EARLY_S;
        let rest = begin - closed;
        if rest < SHORT_REST_S {
            return opens_within;
        }
        // A clock that was wrong by hours leaves a gap as long as the rest.
        3 * (to.min(begin) - from.max(closed)) >= rest || (opens_within && 10 * (to - from) >= 9 * rest)
    })
}

/// One day's frames, s on the camera's clock.
#[derive(Clone, Copy)]
struct Worked {
    first: f64,
    last: f64,
    /// True for the last day of the run, which may end before its hours do.
    cut: bool,
}

/// By how much the camera's clock was ahead of the plan's hours in the morning, s. It is behind where the day
/// began before its hours, and ahead where the day began late and went on after its hours by as much; a day
/// that only began late lacks frames. `before` is what was found the day before: a clock stays as it was set.
fn ahead_s(active: &[DailyHours], day: Worked, interval_s: f64, before_s: f64) -> f64 {
    let (first, half) = (day.first as i64, interval_s / 2.0);
    let around = periods(active, first - DAY_S, first + DAY_S);
    let holds = |p: &&(i64, i64)| p.0 <= first && first < p.1;
    let Some(&(begin, end)) =
        around.iter().rfind(holds).or_else(|| around.iter().min_by_key(|p| (p.0 - first).abs()))
    else {
        return 0.0;
    };
    let late_s = day.first - begin as f64;
    if late_s < 0.0 {
        return late_s;
    }
    if late_s <= EARLY_S as f64 {
        return 0.0;
    }
    let over = day.last > end as f64;
    let ahead = (over && late_s >= interval_s) || (before_s != 0.0 && (over || day.cut || before_s < 0.0));
    match ahead {
        false => 0.0,
        true if before_s == 0.0 || (late_s - before_s).abs() <= half => late_s,
        true if before_s > late_s + half => 0.0,
        true => before_s,
    }
}

/// A series read day by day.
pub(crate) struct Read {
    /// The law of the longest day, and the whole series under it.
    pub read: Lawful,
    /// Places of all stamps.
    pub places: Vec<Place>,
    /// Pieces of all days.
    pub pieces: Vec<Piece>,
}

/// Reads a series: whole where there are no site hours, else each working period by itself.
pub(crate) fn read(course: Course<'_>, asked: Asked, plan: &Plan, effort: &Effort) -> Read {
    let stamps = course.stamps;
    let active = &plan.active;
    let planned: Vec<f64> = plan.parts.iter().filter_map(|p| p.interval_s).chain(plan.interval_s).collect();
    let mut starts: Vec<usize> = vec![0];
    if !active.is_empty() {
        starts.extend((1..stamps.len()).filter(|&i| rests_between(active, stamps[i - 1], stamps[i])));
    }
    let mornings: Vec<f64> = starts.iter().filter_map(|&at| late_s(active, *stamps.get(at)?)).collect();
    let evenings: Vec<f64> = starts[1..].iter().filter_map(|&at| left_s(active, stamps[at - 1])).collect();
    let mut out: Option<(Read, usize)> = None;
    let mut ahead = 0.0;
    for (n, &from) in starts.iter().enumerate() {
        let to = starts.get(n + 1).copied().unwrap_or(stamps.len());
        let mut day = lawful(course.part(from, to), asked, effort);
        let (mut day_places, mut day_pieces) =
            day.readings.first().map_or_else(|| (Vec::new(), Vec::new()), |best| places(&day.stamps, best));
        let widening_s = day.readings.first().map_or(0.0, |r| r.widening_s);
        if day.per_slot_s.is_empty() {
            boundary::adopt(&day.stamps, &mut day_places, &mut day_pieces, asked.resolution, widening_s);
        }
        multiples::join(&mut day, &mut day_places, &mut day_pieces, asked, &planned);
        set_back(&day.stamps, &course.by_number[from..to], &mut day_places, &mut day_pieces);
        let placed = (day.stamps.as_slice(), day_places.as_slice());
        boundary::leave_ends_alone(placed, &mut day_pieces, asked.resolution, widening_s);
        let worked = Worked {
            first: stamps.get(from).map_or(0.0, |s| s.seconds()),
            last: to.checked_sub(1).and_then(|l| stamps.get(l)).map_or(0.0, |s| s.seconds()),
            cut: n + 1 == starts.len(),
        };
        out = Some(match out {
            None => (Read { read: day, places: day_places, pieces: day_pieces }, to - from),
            Some((all, longest)) => {
                // A timer that counts from shutter close takes the exposure as well.
                let even = plan.counted_from != Some(CountedFrom::Close)
                    && all.read.per_slot_s.is_empty()
                    && day.per_slot_s.is_empty();
                let planned_s = asked.planned_s.filter(|_| even);
                let interval = planned_s.unwrap_or_else(|| usual_gap(&stamps[from.saturating_sub(64)..to]));
                ahead = ahead_s(active, worked, interval, ahead);
                let habit = Habit::of(&mornings, &evenings, interval);
                let due = due_between(active, (stamps[from - 1], stamps[from]), interval, (ahead, habit));
                append(all, longest, day, day_places, &day_pieces, due)
            }
        });
    }
    out.map_or_else(
        || Read { read: lawful(course, asked, effort), places: Vec::new(), pieces: Vec::new() },
        |(read, _)| read,
    )
}

/// A clock that was set back by whole intervals leaves the grid as it was, and the frames that share its
/// stretch pass for surplus. They are the run's where every slot of that stretch was filled before, the
/// stamps run backwards there, and the file numbers run on.
fn set_back(stamps: &[Micros], by_number: &[i64], places: &mut [Place], pieces: &mut Vec<Piece>) {
    let surplus = |p: &Place| p.how == How::Surplus;
    let mut at = 1;
    while at < places.len() {
        let slot = places[at - 1].slot;
        let many = places[at..].iter().take_while(|p| surplus(p)).count();
        let next = at + many;
        let goes_on = places.get(next).is_none_or(|p| p.slot == slot + 1 && by_number[next] == 1);
        let filled = || (at - many..at).all(|i| places[i].slot == slot + 1 - (at - i) as i64);
        let back = many > 0 && stamps[at] < stamps[at - 1] && by_number[at..next].iter().all(|n| *n == 1);
        if back && goes_on && many <= at && !surplus(&places[at - 1]) && filled() {
            for (n, place) in places[at..next].iter_mut().enumerate() {
                *place = Place { slot: slot + 1 + n as i64, how: How::On };
            }
            places[next..].iter_mut().for_each(|p| p.slot += many as i64);
            if let Some(of) = pieces.iter().position(|p| p.first < at && at <= p.last) {
                let later = Piece { first: at, last: pieces[of].last, begins: Begins::Slip };
                pieces[of].last = at - 1;
                pieces.insert(of + 1, later);
            }
        }
        at = next.max(at + 1);
    }
}

fn usual_gap(stamps: &[Micros]) -> f64 {
    let gaps = stamps.windows(2).map(|w| (w[1] - w[0]).seconds()).filter(|g| *g > 0.0);
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
        Micros::from_seconds(day * DAY_S + h * 3600 + m * 60)
    }

    #[test]
    fn nights_are_seen_and_noon_is_not() {
        assert!(rests_between(&SITE, at(100, 18, 55), at(101, 7, 0)));
        assert!(!rests_between(&SITE, at(100, 12, 0), at(100, 12, 5)));
        assert!(rests_between(&SITE, at(100, 19, 0), at(101, 7, 0)));
        assert!(!rests_between(&SITE, at(100, 18, 55), at(100, 19, 0)));
    }

    /// Slots due between two frames at 5 min, of a camera without a habit.
    fn due(active: &[DailyHours], night: (Micros, Micros), ahead_s: f64) -> u64 {
        due_between(active, night, 300.0, (ahead_s, Habit::of(&[], &[], 300.0)))
    }

    #[test]
    fn only_what_was_due_in_working_hours_is_missing() {
        // A frame every 5 minutes, the last at 18:55: 19:00 is no longer due.
        assert_eq!(due(&SITE, (at(100, 18, 55), at(101, 7, 0)), 0.0), 0);
        assert_eq!(due(&SITE, (at(100, 18, 45), at(101, 7, 0)), 0.0), 2);
        assert_eq!(due(&SITE, (at(100, 18, 55), at(101, 7, 10)), 0.0), 2);
        // Hours that end half an interval behind their last slot, or a third before the next one; a camera
        // half a second late.
        for end_s in [150, 200] {
            let hours = [DailyHours { from_s: 7 * 3600, to_s: 18 * 3600 + 55 * 60 + end_s }];
            let late = |t: Micros| t + Micros::SECOND / 2;
            for lost in 0..20 {
                let evening = late(at(100, 18, 55)) - Micros::from_seconds(lost * 300);
                assert_eq!(due(&hours, (evening, late(at(101, 7, 0))), 0.0), lost as u64);
            }
            assert_eq!(due(&hours, (late(at(100, 18, 55)), late(at(102, 7, 0))), 0.0), 144);
        }
        // A morning's slot that comes a moment early is the one that it would have been.
        assert_eq!(due(&SITE, (at(100, 18, 55), at(101, 7, 10) - Micros::SECOND / 50), 0.0), 2);
        // A whole day lost: 07:00 to 18:55 is 144 frames.
        assert_eq!(due(&SITE, (at(100, 18, 55), at(102, 7, 0)), 0.0), 144);
    }

    /// A clock that was set back 3 min: the mornings begin at 06:57, the evenings end at 18:52. So with one
    /// put forward, and in 24 hours' time.
    #[test]
    fn nights_are_seen_by_a_clock_that_was_set() {
        for set in [-180, -3, 3, 180, 25] {
            let late = |day, h, m| at(day, h, m) + Micros::from_seconds(set * 60);
            assert!(rests_between(&SITE, at(100, 18, 55), late(101, 7, 0)), "{set}");
            assert!(rests_between(&SITE, late(100, 18, 55), late(101, 7, 0)), "{set}");
            assert!(!rests_between(&SITE, late(101, 7, 0), late(101, 7, 5)), "{set}");
            assert!(!rests_between(&SITE, late(101, 7, 0), late(101, 7, 30)), "{set}");
        }
        // Wrong by hours from the first frame on.
        assert!(rests_between(&SITE, at(100, 1, 55), at(100, 14, 0)));
        assert!(!rests_between(&SITE, at(100, 14, 0), at(100, 14, 5)));
        // An hour for lunch is a rest too.
        let two = [
            DailyHours { from_s: 7 * 3600, to_s: 12 * 3600 },
            DailyHours { from_s: 13 * 3600, to_s: 19 * 3600 },
        ];
        assert!(rests_between(&two, at(100, 11, 52), at(100, 12, 57)));
        assert!(!rests_between(&two, at(100, 12, 57), at(100, 13, 27)));
        // Hours that meet begin a grid each.
        let met = [
            DailyHours { from_s: 7 * 3600, to_s: 12 * 3600 },
            DailyHours { from_s: 12 * 3600, to_s: 19 * 3600 },
        ];
        assert!(rests_between(&met, at(100, 11, 55), at(100, 12, 0)));
    }

    #[test]
    fn a_clock_is_ahead_or_behind_or_the_day_began_late() {
        let day =
            |first: Micros, last: Micros| Worked { first: first.seconds(), last: last.seconds(), cut: false };
        let ahead = |day, before| ahead_s(&SITE, day, 300.0, before);
        assert_eq!(ahead(day(at(101, 7, 0), at(101, 18, 55)), 0.0), 0.0);
        assert_eq!(ahead(day(at(101, 6, 57), at(101, 18, 52)), 0.0), -180.0);
        // 25 min late and no frame after the hours: five frames lack.
        assert_eq!(ahead(day(at(101, 7, 25), at(101, 18, 55)), 0.0), 0.0);
        assert_eq!(ahead(day(at(101, 7, 25), at(101, 19, 20)), 0.0), 1500.0);
        // The last day is cut: the clock stays as it was.
        let cut = Worked { cut: true, ..day(at(102, 7, 25), at(102, 9, 0)) };
        assert_eq!((ahead(cut, 0.0), ahead(cut, 1500.0)), (0.0, 1500.0));
        // Put right in the night.
        assert_eq!(ahead(day(at(102, 7, 0), at(102, 18, 55)), -180.0), 0.0);
        // Behind by 3 min and late as well.
        assert_eq!(ahead(day(at(102, 7, 27), at(102, 18, 52)), -180.0), -180.0);
    }

    #[test]
    fn a_clock_that_was_set_leaves_nothing_due() {
        // Set back 3 min: the last at 18:52, which is 18:55, the next at 06:57.
        assert_eq!(due(&SITE, (at(100, 18, 52), at(101, 6, 57)), -180.0), 0);
        // Set back half an hour: nothing lacks in the evening either.
        assert_eq!(due(&SITE, (at(100, 18, 25), at(101, 6, 30)), -1800.0), 0);
        // Put forward 25 min, on that day or in the night.
        assert_eq!(due(&SITE, (at(100, 19, 20), at(101, 7, 25)), 1500.0), 0);
        assert_eq!(due(&SITE, (at(100, 18, 55), at(101, 7, 25)), 1500.0), 0);
        // What lacks beyond that is told: two slots in the morning.
        assert_eq!(due(&SITE, (at(100, 19, 20), at(101, 7, 35)), 1500.0), 2);
        // A whole day lost on a clock that is 3 min behind.
        assert_eq!(due(&SITE, (at(100, 18, 52), at(102, 6, 57)), -180.0), 144);
    }

    /// Every 90 s, set back by 180 s before the sixth frame: it and the next share their slots with the
    /// fourth and the fifth.
    #[test]
    fn frames_after_a_clock_that_was_set_back_by_whole_intervals_are_the_run_s() {
        let stamps: Vec<Micros> =
            [0, 90, 180, 270, 360, 270, 360, 450, 540].iter().map(|s| Micros::from_seconds(*s)).collect();
        let read = |numbers: [i64; 9], slots: [i64; 9]| {
            let how = |i: usize| if i == 5 || i == 6 { How::Surplus } else { How::On };
            let mut places: Vec<Place> = (0..9).map(|i| Place { slot: slots[i], how: how(i) }).collect();
            let mut pieces = vec![Piece { first: 0, last: 8, begins: Begins::First }];
            set_back(&stamps, &numbers, &mut places, &mut pieces);
            (places.iter().map(|p| p.slot).collect::<Vec<_>>(), pieces.len(), places[5].how)
        };
        let slots = [0, 1, 2, 3, 4, 4, 4, 5, 6];
        assert_eq!(read([1; 9], slots), ((0..9).collect(), 2, How::On));
        // Without numbers they may be copies; where a slot was empty before, a file bears another one's name.
        assert_eq!(read([0; 9], slots), (slots.to_vec(), 1, How::Surplus));
        let holed = [0, 1, 2, 3, 5, 5, 5, 6, 7];
        assert_eq!(read([1; 9], holed), (holed.to_vec(), 1, How::Surplus));
    }

    #[test]
    fn hours_past_midnight() {
        let night = [DailyHours { from_s: 20 * 3600, to_s: 5 * 3600 }];
        assert!(!rests_between(&night, at(100, 23, 50), at(101, 0, 10)));
        assert!(rests_between(&night, at(101, 4, 55), at(101, 20, 0)));
    }
}
