//! The forms in which people write a quantity: pure functions from text to a number in one fixed unit.
//!
//! Each error begins with "expected" and says what would have been understood. None of them accepts a
//! negative, infinite or absurd value. Letter case, and spaces between a number and its unit, do not matter;
//! a decimal comma is not understood, since `1,500` means two things.

mod measures;
mod moments;
mod quantities;
mod times;

pub use measures::{bytes, temperature};
pub use moments::{daily_hours, moment};
pub use quantities::{
    acceleration, count, ev, exposures, f_number, fps, frequency, iso, length, slots, speed,
};
pub use times::{duration, hours, interval, shutter};

/// Longest text that is looked at; whatever is longer is no quantity.
const LONGEST: usize = 64;

/// Trimmed, in small letters, with every kind of fixed space as a plain one; `None` where it is empty or far
/// too long.
fn clean(text: &str) -> Option<String> {
    let text = text.trim();
    let fit = !text.is_empty() && text.len() <= LONGEST;
    fit.then(|| text.to_lowercase().replace(['\u{A0}', '\u{202F}', '\u{2009}'], " "))
}

/// A plain decimal (`12`, `0.5`, `.5`) and what follows it. No sign and no exponent.
fn number(text: &str) -> Option<(f64, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    let value: f64 = digits.parse().ok()?;
    value.is_finite().then_some((value, rest))
}

/// A decimal, or one divided by another (`1/60`), and what follows.
fn ratio(text: &str) -> Option<(f64, &str)> {
    let (over, rest) = number(text)?;
    let Some(below) = rest.trim_start().strip_prefix('/') else { return Some((over, rest)) };
    // `mm/s` after a number is a unit, not a division.
    let (under, rest) = number(below.trim_start())?;
    let value = over / under;
    value.is_finite().then_some((value, rest))
}

/// The factor of the unit that `rest` names; the empty name stands for a bare number.
fn factor(rest: &str, units: &[(&str, f64)]) -> Option<f64> {
    let name = rest.trim();
    units.iter().find(|(unit, _)| *unit == name).map(|(_, factor)| *factor)
}

/// A number with one of `units`.
fn with_unit(text: &str, units: &[(&str, f64)]) -> Option<f64> {
    let text = clean(text)?;
    let (value, rest) = number(&text)?;
    Some(value * factor(rest, units)?)
}

/// `value` where it was read and lies from `low` to `high`, both included; else the error that names what was
/// expected.
fn within(value: Option<f64>, low: f64, high: f64, text: &str, what: &str) -> Result<f64, String> {
    match value {
        Some(value) if (low..=high).contains(&value) => Ok(value),
        _ => Err(expected(text, what)),
    }
}

/// "expected WHAT", and the reason where the text itself shows it.
fn expected(text: &str, what: &str) -> String {
    let text = text.trim();
    if text.starts_with(['-', '−']) && text.chars().any(|c| c.is_ascii_digit()) {
        format!("expected {what}, not a negative one")
    } else if text.contains(',') {
        format!("expected {what}, with a point for the decimals and no comma")
    } else {
        format!("expected {what}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_plain_decimals() {
        assert_eq!(number("12 s"), Some((12.0, " s")));
        assert_eq!(number(".5"), Some((0.5, "")));
        assert_eq!(number("1e5"), Some((1.0, "e5")));
        for bad in ["", ".", "1.2.3", "-1", "+1", "inf", "nan", "٣"] {
            assert_eq!(number(bad), None, "{bad}");
        }
        assert_eq!(number(&"9".repeat(400)), None);
    }

    #[test]
    fn divisions() {
        assert_eq!(ratio("1/4 s"), Some((0.25, " s")));
        assert_eq!(ratio("3 / 4"), Some((0.75, "")));
        assert_eq!(ratio("1/0"), None);
        assert_eq!(ratio("0/0"), None);
        assert_eq!(ratio("1/"), None);
    }

    #[test]
    fn reasons_that_the_text_shows() {
        assert_eq!(expected("-3", "a count"), "expected a count, not a negative one");
        assert_eq!(expected("-", "a count"), "expected a count");
        assert_eq!(
            expected("0,5", "a count"),
            "expected a count, with a point for the decimals and no comma"
        );
    }
}
