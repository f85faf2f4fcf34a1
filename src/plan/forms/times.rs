//! Durations and exposure times.

use super::letters::{clean, expected, factor, number, ratio, within};
use crate::units::duration as said;

/// Longest duration that is believed: a hundred years of 365.25 days, s.
const LONGEST_S: f64 = 3_155_760_000.0;

/// Longest exposure that is believed: a day, s.
const LONGEST_EXPOSURE_S: f64 = 86_400.0;

/// Shortest exposure that is believed, s.
const SHORTEST_EXPOSURE_S: f64 = 1e-6;

/// Units of time, each group with its rank: a duration names them from the longest to the shortest.
const UNITS: &[(&str, f64)] = &[
    ("ms", 0.001),
    ("msec", 0.001),
    ("millisecond", 0.001),
    ("milliseconds", 0.001),
    ("s", 1.0),
    ("sec", 1.0),
    ("secs", 1.0),
    ("second", 1.0),
    ("seconds", 1.0),
    ("m", 60.0),
    ("min", 60.0),
    ("mins", 60.0),
    ("minute", 60.0),
    ("minutes", 60.0),
    ("h", 3600.0),
    ("hr", 3600.0),
    ("hrs", 3600.0),
    ("hour", 3600.0),
    ("hours", 3600.0),
    ("d", 86_400.0),
    ("day", 86_400.0),
    ("days", 86_400.0),
];

/// A duration in seconds, 0 or more: `12 s`, `12s`, `500 ms`, `1 min 30 s`, `1h30m`, `2 h`, `1 day`, `0:12`
/// (m:ss), `1:30:00` (h:mm:ss). A bare number is seconds.
///
/// # Errors
/// What was expected, where the text is none of these, is negative or is longer than a hundred years.
pub fn duration(text: &str) -> Result<f64, String> {
    let what = "a duration such as \"12 s\", \"500 ms\", \"1 min 30 s\" or \"2 h\"";
    within(seconds(text), 0.0, LONGEST_S, text, what)
}

/// A duration over 0, in seconds, in the forms of [`duration`].
///
/// # Errors
/// What was expected, where [`duration`] refuses it or it is 0.
pub fn interval(text: &str) -> Result<f64, String> {
    match duration(text)? {
        s if s > 0.0 => Ok(s),
        _ => Err("expected a duration over 0, such as \"12 s\" or \"500 ms\"".into()),
    }
}

/// How long a shoot takes, over 0, in seconds, in the forms of [`duration`] but one: `2:00` may be hours or
/// minutes, and is refused.
///
/// # Errors
/// What was expected, and how a time with one colon can be read.
pub fn span(text: &str) -> Result<f64, String> {
    let seconds = interval(text)?;
    if text.matches(':').count() != 1 {
        return Ok(seconds);
    }
    let text = text.trim();
    let (hours, minutes) = (said(seconds * 60.0), said(seconds));
    Err(format!(
        "expected a time with its unit: \"{text}\" may be {hours} or {minutes}, so write one of these"
    ))
}

/// Hours, over 0, as a bare number or a duration with its unit (`9`, `9 h`, `8 h 30 min`, `8:30`).
///
/// # Errors
/// What was expected, where the text is neither.
pub fn hours(text: &str) -> Result<f64, String> {
    let bare = clean(text).and_then(|t| number(&t).and_then(|(v, rest)| rest.is_empty().then_some(v)));
    // One colon parts hours from minutes here: nobody counts a battery by the second.
    let unit_s = if text.matches(':').count() == 1 { 60.0 } else { 3600.0 };
    let hours = bare.or_else(|| seconds(text).map(|s| s / unit_s));
    let what = "hours over 0, such as 9 or \"8 h 30 min\"";
    within(hours.filter(|h| *h > 0.0), 0.0, LONGEST_S / 3600.0, text, what)
}

/// An exposure time in seconds, over 0, as it is marked: `1/60`, `1/60 s`, `0.5`, `0.5 s`, `2 s`, `2"`, `1"3`
/// (1.3 s), `30`, `500 ms`, `4 min`. A bare number is seconds. The mark is not turned into the exact time
/// here.
///
/// # Errors
/// What was expected, where the text is none of these or lies outside a microsecond to a day.
pub fn shutter(text: &str) -> Result<f64, String> {
    let what = "an exposure time such as \"1/60\", \"0.5 s\", \"2 s\" or \"30\"";
    within(exposure_s(text), SHORTEST_EXPOSURE_S, LONGEST_EXPOSURE_S, text, what)
}

fn exposure_s(text: &str) -> Option<f64> {
    let text = clean(text)?.replace('″', "\"").replace("''", "\"");
    if let Some((whole, tenths)) = text.split_once('"') {
        // The way a camera's display writes it: 2" is 2 s, 1"3 is 1.3 s.
        let (whole, tenths) = (whole.trim_end(), tenths.trim());
        let digits = |s: &str| s.chars().all(|c| c.is_ascii_digit());
        let plain = tenths.is_empty() || (digits(whole) && digits(tenths));
        if !plain {
            return None;
        }
        let (value, rest) = number(whole)?;
        let tenths = if tenths.is_empty() { 0.0 } else { format!("0.{tenths}").parse().ok()? };
        return rest.is_empty().then_some(value + tenths);
    }
    let (value, rest) = ratio(&text)?;
    match rest.trim() {
        "" => Some(value),
        _ if text.contains('/') => Some(value * factor(rest, UNITS).filter(|f| *f <= 1.0)?),
        _ => seconds(&text),
    }
}

fn seconds(text: &str) -> Option<f64> {
    let text = clean(text)?;
    if text.contains(':') {
        return clock(&text);
    }
    let (first, rest) = number(&text)?;
    if rest.is_empty() {
        return Some(first);
    }
    let (mut total, mut rest, mut above) = (0.0, text.as_str(), f64::INFINITY);
    while !rest.is_empty() {
        let (value, after) = number(rest)?;
        let after = after.trim_start();
        let end = after.find(|c: char| !c.is_alphabetic()).unwrap_or(after.len());
        let (unit, next) = after.split_at(end);
        let unit = factor(unit, UNITS)?;
        if unit >= above {
            return None;
        }
        above = unit;
        total += value * unit;
        rest = next.trim_start();
    }
    Some(total)
}

/// `m:ss` or `h:mm:ss`; the seconds may have decimals.
fn clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    let mut total = 0.0;
    for (at, part) in parts.iter().enumerate() {
        let (value, rest) = number(part)?;
        let last = at + 1 == parts.len();
        let two_digits = part.split('.').next().is_some_and(|whole| whole.len() == 2);
        let fits = at == 0 || (value < 60.0 && two_digits);
        if !(rest.is_empty() && fits && (last || !part.contains('.'))) {
            return None;
        }
        total = total * 60.0 + value;
    }
    Some(total)
}

/// Seconds of the day from `hh:mm` or `hh:mm:ss`, up to and with `24:00`.
pub(super) fn time_of_day(text: &str) -> Result<u32, String> {
    let wrong = || expected(text, "a time of day such as \"07:00\"");
    let parts: Vec<&str> = text.trim().split(':').collect();
    let mut fields = [0_u32; 3];
    if !(2..=3).contains(&parts.len()) {
        return Err(wrong());
    }
    for (field, part) in fields.iter_mut().zip(&parts) {
        let plain = (1..=2).contains(&part.len()) && part.chars().all(|c| c.is_ascii_digit());
        *field = part.parse().ok().filter(|_| plain).ok_or_else(wrong)?;
    }
    let [h, m, s] = fields;
    let total = h * 3600 + m * 60 + s;
    if m < 60 && s < 60 && total <= 86_400 { Ok(total) } else { Err(wrong()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn same(got: Result<f64, String>, want: f64, text: &str) {
        let got = got.unwrap_or_else(|e| panic!("{text}: {e}"));
        assert!((got - want).abs() < 1e-9, "{text}: {got}");
    }

    #[test]
    fn durations_in_every_form() {
        for (text, s) in [
            ("12 s", 12.0),
            ("12s", 12.0),
            (" 12\u{A0}S ", 12.0),
            ("500 ms", 0.5),
            ("1 min 30 s", 90.0),
            ("1m30s", 90.0),
            ("2 h", 7200.0),
            ("2 hours", 7200.0),
            ("1h30m", 5400.0),
            ("1 d 2 h 3 min 4.5 s", 93_784.5),
            ("90", 90.0),
            ("0.5", 0.5),
            ("0", 0.0),
            ("0:12", 12.0),
            ("90:00", 5400.0),
            ("1:30:00", 5400.0),
            ("0:00:12.5", 12.5),
        ] {
            same(duration(text), s, text);
        }
    }

    /// One colon may part hours from minutes or minutes from seconds; two leave no doubt.
    #[test]
    fn a_span_with_one_colon_is_asked_about() {
        let told = span("02:00").expect_err("either");
        assert!(told.contains("may be 2 h or 2 min"), "{told}");
        assert!(span("1:30").expect_err("either").contains("1 h 30 min or 1 min 30 s"));
        for (text, s) in [("1:30:00", 5400.0), ("2 h", 7200.0), ("90", 90.0)] {
            same(span(text), s, text);
        }
        assert!(span("0:00").is_err() && span("soon").is_err());
        same(hours("9:30"), 9.5, "9:30");
    }

    #[test]
    fn what_is_no_duration() {
        for text in [
            "",
            " ",
            "s",
            "12 x",
            "-12 s",
            "12 s 3 min",
            "1 s 1 s",
            "1h30",
            "1:2",
            "1:75",
            "1:2:3:4",
            "1.5:00",
            "inf",
            "nan",
            "1e3 s",
            "0,5 s",
            "9999999999 h",
            "12 s.",
            ":",
            "1/2 s",
        ] {
            let error = duration(text).expect_err(text);
            assert!(error.starts_with("expected a duration such as \"12 s\""), "{text}: {error}");
        }
        assert!(duration("-12 s").expect_err("negative").ends_with("not a negative one"));
        assert!(duration("0,5 s").expect_err("comma").ends_with("no comma"));
        assert!(duration(&"1".repeat(100_000)).is_err());
    }

    #[test]
    fn an_interval_is_over_zero() {
        same(interval("500 ms"), 0.5, "500 ms");
        assert!(interval("0").expect_err("zero").contains("over 0"));
        assert!(interval("0:00").is_err());
        assert!(interval("soon").is_err());
    }

    #[test]
    fn exposure_times_in_every_form() {
        for (text, s) in [
            ("1/60", 1.0 / 60.0),
            ("1/60 s", 1.0 / 60.0),
            ("1 / 60 sec", 1.0 / 60.0),
            ("0.5", 0.5),
            ("0.5 s", 0.5),
            ("2 s", 2.0),
            ("2\"", 2.0),
            ("2″", 2.0),
            ("0\"8", 0.8),
            ("1\"3", 1.3),
            ("30", 30.0),
            ("4 min", 240.0),
            ("1 min 30 s", 90.0),
            ("500 ms", 0.5),
        ] {
            same(shutter(text), s, text);
        }
    }

    #[test]
    fn what_is_no_exposure_time() {
        for text in [
            "", "bulb", "0", "0 s", "-1/60", "1/0", "0/60", "1/60 h", "1/60/2", "2\"x", "1.5\"3", "2 d",
            "nan", "1/1e9",
        ] {
            assert!(shutter(text).expect_err(text).starts_with("expected an exposure time such as \"1/60\""));
        }
    }

    #[test]
    fn hours_of_a_battery() {
        same(hours("9"), 9.0, "9");
        same(hours("9 h"), 9.0, "9 h");
        same(hours("8 h 30 min"), 8.5, "8 h 30 min");
        for text in ["0", "-1", "long", ""] {
            assert!(hours(text).expect_err(text).starts_with("expected hours over 0"));
        }
    }

    #[test]
    fn times_of_day() {
        assert_eq!(time_of_day("07:00"), Ok(25_200));
        assert_eq!(time_of_day("7:30:15"), Ok(27_015));
        assert_eq!(time_of_day("24:00"), Ok(86_400));
        for text in ["24:01", "7", "07:60", "07:00:60", "", "ab:cd", "007:00", "+7:00"] {
            assert!(time_of_day(text).is_err(), "{text}");
        }
    }
}
