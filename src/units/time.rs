//! Civil time as a camera writes it: a date and a time of day on the camera's own clock, with no zone.

use super::Micros;
use std::fmt;

/// A moment on a camera's own clock: microseconds since 1970-01-01T00:00:00 of that clock, no zone, no leap
/// seconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CivilTime(Micros);

impl CivilTime {
    /// From microseconds since the civil epoch.
    pub const fn from_micros(micros: Micros) -> Self {
        Self(micros)
    }

    /// From whole seconds since the civil epoch.
    pub const fn from_seconds(seconds: i64) -> Self {
        Self(Micros::from_seconds(seconds))
    }

    /// The moment nearest to so many seconds since the civil epoch.
    pub fn nearest(seconds: f64) -> Self {
        Self(Micros::nearest(seconds))
    }

    /// From a calendar date and a time of day; `None` where no such moment exists (month 13, 30 February,
    /// 24:00). Second 60 is refused too: Exif has no leap second.
    pub fn from_calendar(date: (i16, i8, i8), time: (i8, i8, i8), micros: u32) -> Option<Self> {
        let nanos = i32::try_from(micros.checked_mul(1000)?).ok()?;
        let civil = jiff::civil::DateTime::new(date.0, date.1, date.2, time.0, time.1, time.2, nanos).ok()?;
        Some(Self::from_jiff(civil))
    }

    /// From a civil date-time; anything finer than a microsecond is cut off.
    pub fn from_jiff(civil: jiff::civil::DateTime) -> Self {
        let span = civil.duration_since(jiff::civil::date(1970, 1, 1).at(0, 0, 0, 0));
        Self(Micros::new(span.as_nanos().div_euclid(1000) as i64))
    }

    /// As a civil date-time, for calendar work. Saturates at the calendar's ends (years −9999 to 9999).
    pub fn to_jiff(self) -> jiff::civil::DateTime {
        let epoch = jiff::civil::date(1970, 1, 1).at(0, 0, 0, 0);
        epoch.saturating_add(jiff::SignedDuration::from_micros(self.0.get()))
    }

    /// Microseconds since the civil epoch.
    pub const fn micros(self) -> Micros {
        self.0
    }

    /// Seconds since the civil epoch.
    pub fn seconds(self) -> f64 {
        self.0.seconds()
    }

    /// Seconds from `earlier` to this moment; negative where this one comes first.
    pub fn seconds_since(self, earlier: Self) -> f64 {
        (self.0 - earlier.0).seconds()
    }

    /// This moment moved by `micros`; it stops at the ends of the range.
    pub fn plus(self, micros: Micros) -> Self {
        Self(self.0.saturating_add(micros))
    }

    /// This moment moved by `seconds`, to the nearest microsecond; it stops at the ends of the range.
    pub fn plus_seconds(self, seconds: f64) -> Self {
        self.plus(Micros::nearest(seconds))
    }

    /// This moment as a clock of such a step shows it: cut down to whole steps since the civil epoch.
    ///
    /// # Panics
    /// Where `step` is zero.
    pub fn floored(self, step: Micros) -> Self {
        Self(self.0.floored(step))
    }

    /// `YYYY-MM-DD hh:mm:ss`, for people.
    pub fn spoken(self) -> String {
        self.iso(0).replace('T', " ")
    }

    /// `YYYY-MM-DDThh:mm:ss` with `digits` (0 to 6) decimals of the second, cut off, not rounded.
    pub fn iso(self, digits: u8) -> String {
        let civil = self.to_jiff();
        let mut text = format!(
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}",
            civil.year(),
            civil.month(),
            civil.day(),
            civil.hour(),
            civil.minute(),
            civil.second()
        );
        if digits > 0 {
            let micros = format!("{:06}", self.0.rem_euclid(Micros::SECOND).get());
            text.push('.');
            text.push_str(&micros[..usize::from(digits.min(6))]);
        }
        text
    }

    /// The time of day after its day, `9 May hh:mm:ss`.
    pub fn clock_and_day(self) -> String {
        format!("{} {}", self.to_jiff().strftime("%-d %b"), self.clock())
    }

    /// The time of day, `hh:mm:ss`.
    pub fn clock(self) -> String {
        let civil = self.to_jiff();
        format!("{:02}:{:02}:{:02}", civil.hour(), civil.minute(), civil.second())
    }
}

impl fmt::Display for CivilTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.iso(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn calendar_and_back() {
        let t = CivilTime::from_calendar((2025, 3, 30), (0, 59, 59), 130_000).expect("a real moment");
        assert_eq!(t.iso(3), "2025-03-30T00:59:59.130");
        assert_eq!(t.iso(0), "2025-03-30T00:59:59");
        assert_eq!(t.clock(), "00:59:59");
        assert!(t.clock_and_day().ends_with(" 00:59:59"), "{}", t.clock_and_day());
    }

    #[test]
    fn impossible_moments_are_refused() {
        assert!(CivilTime::from_calendar((2025, 13, 1), (0, 0, 0), 0).is_none());
        assert!(CivilTime::from_calendar((2025, 2, 30), (0, 0, 0), 0).is_none());
        assert!(CivilTime::from_calendar((2025, 2, 3), (24, 0, 0), 0).is_none());
        assert!(CivilTime::from_calendar((0, 0, 0), (0, 0, 0), 0).is_none());
    }

    #[test]
    fn moments_are_moved_and_cut() {
        let t = CivilTime::from_calendar((2026, 5, 9), (4, 10, 0), 370_000).expect("a real moment");
        assert_eq!(t.floored(Micros::SECOND).iso(2), "2026-05-09T04:10:00.00");
        assert_eq!(t.floored(Micros::DAY).iso(0), "2026-05-09T00:00:00");
        assert_eq!(t.plus_seconds(-0.470_000_4).iso(6), "2026-05-09T04:09:59.900000");
        assert_eq!(t.plus_seconds(1.5).seconds_since(t), 1.5);
        assert_eq!(t.plus_seconds(f64::INFINITY).micros(), Micros::new(i64::MAX));
        assert_eq!(CivilTime::from_seconds(1_778_299_800).iso(0), "2026-05-09T04:10:00");
        assert_eq!(CivilTime::nearest(t.seconds()), t);
    }

    #[test]
    fn before_the_epoch() {
        let t = CivilTime::from_calendar((1969, 12, 31), (23, 59, 59), 500_000).expect("a real moment");
        assert_eq!(t.micros(), Micros::new(-500_000));
        assert_eq!(t.iso(1), "1969-12-31T23:59:59.5");
    }
}
