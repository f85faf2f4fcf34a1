//! The plan's working hours on the camera's clock: what was due in them, and whether a day kept to them.

use crate::plan::DailyHours;
use crate::units::Micros;

/// A day, s.
pub(super) const DAY_S: i64 = 86_400;
/// Working days looked through between two frames: a camera dead for longer is told as dead for so long.
const MOST_DAYS: i64 = 4000;
/// A frame this little before the hours begin is the first of them, s.
pub(super) const EARLY_S: i64 = 30;
/// A slot so near an edge of the hours, as a share of the interval, is none that was due.
const EDGE: f64 = 0.25;
/// Days that begin this little before a whole interval has passed, s, lack a slot.
const WHOLE_S: f64 = 1.0;

/// Working periods that touch `from..=to` (s on the camera's clock), in order, as (begin, end).
pub(super) fn periods(active: &[DailyHours], from: i64, to: i64) -> Vec<(i64, i64)> {
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

/// The working period that a moment (s) lies in, s; `None` outside of the hours.
fn period(active: &[DailyHours], at: i64) -> Option<(f64, f64)> {
    let held = periods(active, at, at).into_iter().rfind(|p| p.0 <= at && at < p.1)?;
    Some((held.0 as f64, held.1 as f64))
}

/// How long after the opening of its hours a frame came, s; `None` outside of them.
pub(super) fn late_s(active: &[DailyHours], at: Micros) -> Option<f64> {
    period(active, at.whole_seconds() + EARLY_S).map(|(begin, _)| at.seconds() - begin)
}

/// How long before the closing of its hours a frame came, s; `None` outside of them.
pub(super) fn left_s(active: &[DailyHours], at: Micros) -> Option<f64> {
    period(active, at.whole_seconds()).map(|(_, end)| end - at.seconds())
}

/// Where in their hours a camera's days usually begin and end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Habit {
    /// How long after the opening they begin, s: less than an interval, and alike on most days. 0 where they
    /// begin with the hours, or each at another time.
    begun_s: f64,
    /// A slot so little before the closing, as a share of the interval, is none that was due.
    edge: f64,
}

impl Habit {
    /// From the lateness of the first frames of the days and what is left after the last ones, s.
    pub(super) fn of(mornings: &[f64], evenings: &[f64], interval_s: f64) -> Self {
        let edge = edge(interval_s);
        let usual = |all: &[f64], below_s: f64| {
            let alike = |s: f64| all.iter().filter(|m| (**m - s).abs() <= edge * interval_s).count();
            let most = |s: &f64| *s > 0.0 && *s < below_s && alike(*s) > 1 && alike(*s) * 2 > all.len();
            all.iter().copied().find(most)
        };
        // Days that end so near the closing have a last slot there: half of what is left is the clock's.
        let left = usual(evenings, edge * interval_s).map_or(edge, |left_s| 0.5 * left_s / interval_s);
        Self { begun_s: usual(mornings, interval_s - WHOLE_S).unwrap_or(0.0), edge: left }
    }
}

/// A clock drifts by seconds in a day: at the edges that is no slot more or less, as a share of the interval.
fn edge(interval_s: f64) -> f64 {
    (EARLY_S as f64 / interval_s).min(EDGE)
}

/// Slots that were due between two frames of different working periods, with an interval of `interval_s`, on
/// a clock that is ahead of the plan's by `ahead_s` on the later day, for a camera of such a habit. Whether
/// the clock was ahead on the earlier day is not known: the fewer count.
pub(super) fn due_between(
    active: &[DailyHours],
    (from, to): (Micros, Micros),
    interval_s: f64,
    (ahead_s, habit): (f64, Habit),
) -> u64 {
    let (from, to) = (from.seconds(), to.seconds() - ahead_s);
    let due = |from: f64| due(active, (from, to), interval_s, habit);
    due(from).min(due(from - ahead_s))
}

/// Hours hold the slots from their beginning on that lie before their end, as in the plan's own count.
fn due(active: &[DailyHours], (from, to): (f64, f64), interval_s: f64, habit: Habit) -> u64 {
    let before = |end: f64, since: f64| ((end - since) / interval_s - habit.edge).ceil();
    periods(active, from.floor() as i64, to.floor() as i64)
        .iter()
        .map(|&(begin, end)| {
            let (begin, end) = (begin as f64, end as f64);
            let due = if begin <= from {
                before(end.min(to), from) - 1.0
            } else if end > to {
                ((to - begin - habit.begun_s) / interval_s + edge(interval_s)).floor()
            } else {
                before(end, begin + habit.begun_s)
            };
            due.max(0.0) as u64
        })
        .sum()
}

/// True where a day from one stamp to another began and ended with its hours: its clock was right at
/// both ends. One that was put forward by `step_s` in between would have begun before them or gone on after
/// them.
pub(super) fn kept(
    active: &[DailyHours],
    (first, last): (Micros, Micros),
    interval_s: f64,
    step_s: f64,
) -> bool {
    let Some((begin, end)) = period(active, first.whole_seconds() + EARLY_S) else { return false };
    let (first_s, last_s) = (first.seconds(), last.seconds());
    let one_s = interval_s * (1.0 + EDGE);
    // A step hardly longer than the interval shows only where the closing hour itself has no frame.
    let latest_s = if step_s > one_s { end + EARLY_S as f64 } else { end - EDGE * interval_s };
    first_s - begin <= one_s && last_s <= latest_s && end - last_s <= one_s
}

#[cfg(test)]
mod tests {
    use super::*;

    const SITE: [DailyHours; 1] = [DailyHours { from_s: 7 * 3600, to_s: 16 * 3600 }];

    fn at(day: i64, h: i64, m: i64, s: i64) -> Micros {
        Micros::from_seconds(day * DAY_S + h * 3600 + m * 60 + s)
    }

    /// Every day at 07:01:46, each 120 s: the last at 15:59:46. Nothing is due in between.
    #[test]
    fn days_that_begin_late_within_their_interval_lack_nothing() {
        let habit = |mornings: &[f64], evenings: &[f64]| Habit::of(mornings, evenings, 120.0);
        let usual = habit(&[106.0, 106.0, 106.5], &[14.0, 14.0, 5000.0]);
        assert_eq!(usual, Habit { begun_s: 106.0, edge: 7.0 / 120.0 });
        let night = (at(100, 15, 59, 46), at(101, 7, 1, 46));
        let interval = Micros::from_seconds(120);
        let due = |missed: (i64, i64), habit| {
            let night = (night.0 - interval * missed.0, night.1 + interval * missed.1);
            due_between(&SITE, night, 120.0, (0.0, habit))
        };
        for missed in [(0, 0), (0, 1), (1, 0), (1, 1), (5, 9)] {
            assert_eq!(due(missed, usual), (missed.0 + missed.1) as u64);
        }
        // One day alone says nothing of the others, nor does one of two; a whole interval late is a slot.
        let none = habit(&[], &[]);
        for mornings in [&[106.0][..], &[0.3, 106.0], &[119.7, 119.6], &[500.0, 500.0]] {
            assert_eq!(habit(mornings, &[]), none, "{mornings:?}");
        }
        // A slot that comes a moment early is the second one.
        assert_eq!((none, due((0, 0), none)), (Habit { begun_s: 0.0, edge: 0.25 }, 1));
    }

    #[test]
    fn a_clock_that_was_put_forward_keeps_no_hours() {
        let kept = |first, last| kept(&SITE, (first, last), 600.0, 1800.0);
        assert!(kept(at(100, 7, 0, 0), at(100, 15, 50, 0)));
        // On after the hours, begun before them, ended early, begun late.
        assert!(!kept(at(100, 7, 0, 0), at(100, 16, 20, 0)));
        assert!(!kept(at(100, 6, 30, 0), at(100, 15, 50, 0)));
        assert!(!kept(at(100, 7, 0, 0), at(100, 14, 0, 0)));
        assert!(!kept(at(100, 9, 0, 0), at(100, 15, 50, 0)));
        // Half an hour at half an hour's interval: with a frame at the closing hour both may be.
        let coarse = |last| super::kept(&SITE, (at(100, 7, 0, 0), last), 1800.0, 1800.0);
        assert!(coarse(at(100, 15, 30, 0)) && !coarse(at(100, 16, 0, 0)));
    }
}
