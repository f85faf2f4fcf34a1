//! Moments and hours of the day.

use super::super::{DailyHours, Moment};
use super::letters::{LONGEST, expected};
use super::times::time_of_day;
use crate::units::CivilTime;

/// Farthest that any clock on Earth stands from UTC, minutes (Line Islands, UTC+14).
const FARTHEST_MIN: i16 = 14 * 60;

/// Hours of the day: `07:00-19:00`, `22:00–04:30` (over midnight), `00:00-24:00`.
///
/// # Errors
/// What was expected, where the text is no pair of times or both are the same.
pub fn daily_hours(text: &str) -> Result<DailyHours, String> {
    let wrong = || expected(text, "hours of the day such as \"07:00-19:00\"");
    if text.len() > LONGEST {
        return Err(wrong());
    }
    let (from, to) = text.split_once(['-', '–', '—']).ok_or_else(wrong)?;
    let (from_s, to_s) = (time_of_day(from).map_err(|_| wrong())?, time_of_day(to).map_err(|_| wrong())?);
    if from_s == 86_400 {
        return Err(wrong());
    }
    if from_s == to_s {
        return Err(
            "expected hours that end after they begin; for the whole day write \"00:00-24:00\"".into()
        );
    }
    Ok(DailyHours { from_s, to_s })
}

/// A moment: `2026-05-09T04:10:00+02:00`, with a space in place of the `T`, without seconds, with decimals of
/// the second, with `Z`, or without an offset. Decimals finer than a microsecond are cut off.
///
/// The offset `-00:00` says that the local offset is not known, and is read as none (RFC 3339, section 4.3).
///
/// # Errors
/// What was expected, where the text is none of these or no such moment exists.
pub fn moment(text: &str) -> Result<Moment, String> {
    let example = "\"2026-05-09T04:10:00\" or \"2026-05-09T04:10:00+02:00\"";
    let text = text.trim();
    parse(text).ok_or_else(|| format!("expected a date and a time that exist, such as {example}"))
}

fn parse(text: &str) -> Option<Moment> {
    if text.len() > LONGEST || !text.is_ascii() {
        return None;
    }
    let (date, time) = text.split_once(['T', 't', ' '])?;
    let (time, offset_min) = offset(time)?;
    let [year, month, day] = fields(date, '-', &[4, 2, 2])?[..] else { return None };
    let (time, micros) = match time.split_once('.') {
        None => (time, 0),
        // Decimals belong to the seconds.
        Some((time, decimals)) if time.len() == 8 => (time, micros(decimals)?),
        Some(_) => return None,
    };
    let (hour, minute, second) = match fields(time, ':', &[2, 2, 2])?[..] {
        [h, m] => (h, m, 0),
        [h, m, s] => (h, m, s),
        _ => return None,
    };
    let small = |n: u16| i8::try_from(n).ok();
    let date = (i16::try_from(year).ok()?, small(month)?, small(day)?);
    let civil = CivilTime::from_calendar(date, (small(hour)?, small(minute)?, small(second)?), micros)?;
    Some(Moment { civil, offset_min })
}

/// The time without its offset, and the offset in minutes.
fn offset(time: &str) -> Option<(&str, Option<i16>)> {
    if let Some(time) = time.strip_suffix(['Z', 'z']) {
        return Some((time, Some(0)));
    }
    let Some(at) = time.find(['+', '-']) else { return Some((time, None)) };
    let (time, signed) = time.split_at(at);
    let (sign, digits) = signed.split_at(1);
    let [hours, minutes] = fields(digits, ':', &[2, 2])?[..] else { return None };
    let total = i16::try_from(hours.checked_mul(60)? + minutes).ok()?;
    if minutes > 59 || total > FARTHEST_MIN {
        return None;
    }
    let offset = match (sign, total) {
        ("-", 0) => None,
        ("-", total) => Some(-total),
        (_, total) => Some(total),
    };
    Some((time, offset))
}

/// At most as many numbers as `widths`, each of exactly that many digits.
fn fields(text: &str, between: char, widths: &[usize]) -> Option<Vec<u16>> {
    let parts: Vec<&str> = text.split(between).collect();
    if parts.len() > widths.len() {
        return None;
    }
    let plain = |part: &str, width: usize| part.len() == width && part.chars().all(|c| c.is_ascii_digit());
    parts.iter().zip(widths).map(|(p, w)| plain(p, *w).then(|| p.parse::<u16>().ok()).flatten()).collect()
}

/// Microseconds from the decimals of a second.
fn micros(decimals: &str) -> Option<u32> {
    if decimals.is_empty() || !decimals.chars().all(|c| c.is_ascii_digit()) {
        return None;
    }
    decimals.chars().chain("000000".chars()).take(6).collect::<String>().parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_of_the_day() {
        for (text, from_s, to_s) in [
            ("07:00-19:00", 25_200, 68_400),
            ("7:00 – 19:00", 25_200, 68_400),
            ("22:00-04:30", 79_200, 16_200),
            ("00:00-24:00", 0, 86_400),
        ] {
            assert_eq!(daily_hours(text), Ok(DailyHours { from_s, to_s }), "{text}");
        }
        for text in ["", "07:00", "07:00-25:00", "day", "24:00-07:00", "07:00-19:00-20:00", "7-19"] {
            assert_eq!(
                daily_hours(text).expect_err(text),
                "expected hours of the day such as \"07:00-19:00\""
            );
        }
        assert!(daily_hours("07:00-07:00").expect_err("empty").contains("00:00-24:00"));
    }

    /// Forms of RFC 3339, section 5.6, and TOML 1.1 (seconds may be left out).
    #[test]
    fn moments_with_and_without_offset() {
        for (text, iso, offset_min) in [
            ("2026-05-09T04:10:00+02:00", "2026-05-09T04:10:00.000000", Some(120)),
            ("2026-05-09 04:10:00", "2026-05-09T04:10:00.000000", None),
            ("2026-05-09T04:10", "2026-05-09T04:10:00.000000", None),
            ("2026-05-09T04:10:00.25Z", "2026-05-09T04:10:00.250000", Some(0)),
            ("2026-05-09t04:10:00.1234567z", "2026-05-09T04:10:00.123456", Some(0)),
            ("2026-05-09T04:10:00-03:30", "2026-05-09T04:10:00.000000", Some(-210)),
            ("2026-05-09T04:10:00-00:00", "2026-05-09T04:10:00.000000", None),
        ] {
            let got = moment(text).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert_eq!((got.civil.iso(6).as_str(), got.offset_min), (iso, offset_min), "{text}");
        }
    }

    #[test]
    fn what_is_no_moment() {
        for text in [
            "",
            "2026-05-09",
            "04:10:00",
            "2026-13-09T04:10:00",
            "2026-02-30T04:10:00",
            "2026-05-09T24:00:00",
            "2026-05-09T04:60:00",
            "2026-05-09T04:10:00+2",
            "2026-05-09T04:10:00+15:00",
            "2026-05-09T04:10:00+02:60",
            "2026-05-09T04:10.5",
            "2026-05-09T04:10:00.",
            "2026:05:09 04:10:00",
            "26-05-09T04:10:00",
            "2026-05-09T04",
            "２026-05-09T04:10:00",
            "2026-05-09T04:10:00 +02:00",
        ] {
            assert!(
                moment(text).expect_err(text).starts_with("expected a date and a time that exist"),
                "{text}"
            );
        }
    }
}
