//! The time of a satellite fix: GPSDateStamp and GPSTimeStamp, UTC.

use super::fields::{Fields, SATELLITE_DATE, SATELLITE_TIME};
use super::values::Value;
use crate::units::CivilTime;
use std::num::NonZeroU32;

/// Seconds from 1970 to the fix, UTC, whole; `None` where there is none or the fields make no time.
///
/// Source: Exif (CIPA DC-008), GPSTimeStamp and GPSDateStamp.
pub(crate) fn utc_s(fields: &Fields) -> Option<NonZeroU32> {
    let date = super::values::text(fields.of_satellite(SATELLITE_DATE)?);
    let [y1, y2, y3, y4, b':' | b'-', m1, m2, b':' | b'-', d1, d2] = date else { return None };
    let number = |digits: &[u8]| std::str::from_utf8(digits).ok()?.parse::<i16>().ok();
    let year = number(&[*y1, *y2, *y3, *y4])?;
    let [month, day] = [number(&[*m1, *m2])?, number(&[*d1, *d2])?];
    let time = fields.of_satellite(SATELLITE_TIME)?;
    let [hour, minute, second] = [part(time, 0)?, part(time, 1)?, part(time, 2)?];
    let date = (year, i8::try_from(month).ok()?, i8::try_from(day).ok()?);
    let at = CivilTime::from_calendar(date, (hour, minute, second), 0)?;
    NonZeroU32::new(u32::try_from(at.micros().whole_seconds()).ok()?)
}

/// A whole part of the time of day, 0 to 59.
fn part(time: Value<'_>, at: usize) -> Option<i8> {
    let (numerator, denominator) = time.fraction(at)?;
    let whole = numerator.checked_div(denominator)?;
    i8::try_from(whole).ok().filter(|n| *n < 60)
}
