//! The times that stand along the axis: round ones, with the day where there are several.

use super::axis::{Axis, Piece};
use crate::audit::Audit;
use crate::units::CivilTime;

/// Times along a wide page at most, and along a phone.
const WIDE: usize = 9;
const NARROW: usize = 4;
/// A day, s.
const DAY: i64 = 86_400;
/// Round steps of time, s; past them weeks are doubled.
const STEPS: [i64; 21] = [
    1,
    2,
    5,
    10,
    15,
    30,
    60,
    120,
    300,
    600,
    900,
    1800,
    3600,
    2 * 3600,
    3 * 3600,
    4 * 3600,
    6 * 3600,
    12 * 3600,
    DAY,
    2 * DAY,
    7 * DAY,
];

/// One time along the axis.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tick {
    /// Where, in columns.
    pub column: f64,
    /// The time of day, or the day.
    pub words: String,
    /// The day, at the first time of each where there are several.
    pub day: Option<String>,
    /// True where a phone shows it too.
    pub narrow: bool,
    /// The moment, s since the civil epoch; `None` where the frames stand in a row.
    pub at: Option<f64>,
}

/// The times along the axis of an audit.
pub(crate) fn ticks(audit: &Audit, axis: &Axis) -> Vec<Tick> {
    let mut ticks = match axis.pieces.as_slice() {
        [] => of_frames(audit, axis),
        pieces => by_the_clock(pieces, axis.columns()),
    };
    let day = |at: CivilTime| at.to_jiff().date();
    let moment = |tick: &Tick| tick.at.map(CivilTime::nearest);
    let moments: Vec<Option<CivilTime>> = ticks.iter().map(moment).collect();
    let several = moments.windows(2).any(|w| w[0].map(day) != w[1].map(day));
    if several && ticks.iter().any(|tick| tick.words.contains(':')) {
        let mut before = None;
        for (tick, at) in ticks.iter_mut().zip(&moments) {
            if at.map(day) != before {
                tick.day = at.map(told_day);
            }
            before = at.map(day);
        }
    }
    ticks
}

fn told_day(at: CivilTime) -> String {
    at.to_jiff().strftime("%-d %b").to_string()
}

/// The smallest round step of which so many fit at most, s; a multiple of another.
fn step_for(lasts_s: f64, most: usize, of: i64) -> i64 {
    let fits = |step: &i64| lasts_s / *step as f64 <= most as f64 && step % of == 0;
    let weeks = || (1..40).map(|n| (7 * DAY) << n).find(fits);
    STEPS.into_iter().find(fits).or_else(weeks).unwrap_or(i64::MAX / 4)
}

fn by_the_clock(pieces: &[Piece], columns: usize) -> Vec<Tick> {
    let lasts_s: f64 = pieces.iter().map(|p| p.lasts_s).sum();
    let step = step_for(lasts_s, WIDE, 1);
    let narrow = step_for(lasts_s, NARROW, step);
    // Days that are cut short of their nights are told by where they begin, once they are many.
    if pieces.len() > 1 && (step >= DAY / 4 || pieces.len() > WIDE / 2) {
        return by_the_day(pieces);
    }
    let mut ticks: Vec<Tick> = Vec::new();
    for piece in pieces {
        let begins = piece.begins.seconds();
        let first = (begins / step as f64).ceil() as i64;
        let times = (0..=WIDE as i64 * 2).filter_map(|n| first.checked_add(n)?.checked_mul(step));
        for at in times.take_while(|at| *at as f64 <= begins + piece.lasts_s) {
            let column = piece.column(CivilTime::from_seconds(at));
            // Beside a cut two times may come too close to be read.
            if ticks.last().is_some_and(|before| (column - before.column) / columns as f64 <= 0.06) {
                continue;
            }
            let moment = CivilTime::from_seconds(at);
            let clock = moment.clock();
            let words = match step {
                DAY.. => told_day(moment),
                60.. => clock[..5].to_owned(),
                _ => clock,
            };
            let narrow = at % narrow == 0 || step == narrow;
            ticks.push(Tick { column, words, day: None, narrow, at: Some(at as f64) });
        }
    }
    ticks
}

/// The day of each piece where it begins, or of every second, third …
fn by_the_day(pieces: &[Piece]) -> Vec<Tick> {
    let (every, wide) = (pieces.len().div_ceil(NARROW), pieces.len().div_ceil(WIDE));
    let every = every.next_multiple_of(wide);
    let told = pieces.iter().enumerate().filter(|(n, _)| n % wide == 0);
    told.map(|(n, piece)| Tick {
        column: piece.from,
        words: told_day(piece.begins),
        day: None,
        narrow: n % every == 0,
        at: Some(piece.begins.seconds()),
    })
    .collect()
}

/// The times of five frames, evenly along the row.
fn of_frames(audit: &Audit, axis: &Axis) -> Vec<Tick> {
    let last = axis.columns() - 1;
    let places = (0..=4).map(|n| (n, last * n / 4));
    places
        .filter_map(|(n, column)| {
            let moment = audit.evidence.frame(axis.frame_at(column)?).moment()?;
            let column = (n * axis.columns()) as f64 / 4.0;
            Some(Tick { column, words: moment.clock(), day: None, narrow: n % 2 == 0, at: None })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(from: f64, to: f64, clock: (i8, i8, i8), lasts_s: f64) -> Piece {
        let begins = CivilTime::from_calendar((2026, 5, 9), clock, 0).unwrap();
        Piece { from, to, begins, lasts_s }
    }

    fn told(ticks: &[Tick]) -> Vec<&str> {
        ticks.iter().map(|t| t.words.as_str()).collect()
    }

    #[test]
    fn times_are_round() {
        let night = by_the_clock(&[piece(0.0, 960.0, (21, 24, 45), 8.0 * 3600.0)], 960);
        assert_eq!(told(&night), ["22:00", "23:00", "00:00", "01:00", "02:00", "03:00", "04:00", "05:00"]);
        let narrow: Vec<&Tick> = night.iter().filter(|t| t.narrow).collect();
        assert_eq!(narrow.len(), 4);
        let steps: Vec<f64> = night.windows(2).map(|w| w[1].column - w[0].column).collect();
        assert!(steps.iter().all(|s| (s - 120.0).abs() < 1e-9), "{steps:?}");
        // 14 minutes: every second minute, of which a phone shows every fifth.
        let short = by_the_clock(&[piece(0.0, 840.0, (10, 40, 0), 840.0)], 840);
        assert_eq!(told(&short)[..2], ["10:40", "10:42"]);
        let narrow = short.iter().filter(|t| t.narrow).map(|t| t.words.as_str());
        assert_eq!(narrow.collect::<Vec<_>>(), ["10:40", "10:50"]);
        let minute = by_the_clock(&[piece(0.0, 60.0, (4, 9, 54), 60.0)], 60);
        assert_eq!(told(&minute)[..2], ["04:10:00", "04:10:10"]);
        assert_eq!(told(&by_the_clock(&[piece(0.0, 60.0, (4, 9, 54), 4e6)], 60))[0], "14 May");
    }

    #[test]
    fn days_that_are_cut_are_told_where_they_begin() {
        let day = |n: i8| {
            let begins = CivilTime::from_calendar((2026, 5, 9 + n), (7, 0, 0), 0).unwrap();
            let from = f64::from(n) * 110.0;
            Piece { from, to: from + 100.0, begins, lasts_s: 43_200.0 }
        };
        let week: Vec<Piece> = (0..7).map(day).collect();
        let ticks = by_the_clock(&week, 760);
        assert_eq!((ticks.len(), ticks[1].words.as_str(), ticks[1].column), (7, "10 May", 110.0));
        assert_eq!(ticks.iter().filter(|t| t.narrow).count(), 4);
        let two = by_the_clock(&week[..2], 210);
        assert!(two.iter().all(|t| t.words.contains(':')) && two.len() > 4, "{two:?}");
    }

    #[test]
    fn a_run_of_any_length_has_few_times() {
        for lasts_s in [0.1, 3.0, 700.0, 5e4, 1e7, 1e12] {
            let ticks = by_the_clock(&[piece(0.0, 1600.0, (23, 59, 58), lasts_s)], 1600);
            assert!(ticks.len() <= WIDE + 1, "{lasts_s}: {}", ticks.len());
        }
    }
}
