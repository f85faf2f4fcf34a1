//! What the forms are read with: text cleaned, plain numbers, and the words of an error.

/// Longest text that is looked at; whatever is longer is no quantity.
pub(super) const LONGEST: usize = 64;

/// Trimmed, in small letters, with every kind of fixed space as a plain one; `None` where it is empty or far
/// too long.
pub(super) fn clean(text: &str) -> Option<String> {
    let text = text.trim();
    let fit = !text.is_empty() && text.len() <= LONGEST;
    fit.then(|| text.to_lowercase().replace(['\u{A0}', '\u{202F}', '\u{2009}'], " "))
}

/// A plain decimal (`12`, `0.5`, `.5`) and what follows it. No sign and no exponent.
pub(super) fn number(text: &str) -> Option<(f64, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let (digits, rest) = text.split_at(end);
    let value: f64 = digits.parse().ok()?;
    value.is_finite().then_some((value, rest))
}

/// A decimal, or one divided by another (`1/60`), and what follows.
pub(super) fn ratio(text: &str) -> Option<(f64, &str)> {
    let (over, rest) = number(text)?;
    let Some(below) = rest.trim_start().strip_prefix('/') else { return Some((over, rest)) };
    // `mm/s` after a number is a unit, not a division.
    let (under, rest) = number(below.trim_start())?;
    let value = over / under;
    value.is_finite().then_some((value, rest))
}

/// The factor of the unit that `rest` names; the empty name stands for a bare number.
pub(super) fn factor(rest: &str, units: &[(&str, f64)]) -> Option<f64> {
    let name = rest.trim();
    units.iter().find(|(unit, _)| *unit == name).map(|(_, factor)| *factor)
}

/// A number with one of `units`.
pub(super) fn with_unit(text: &str, units: &[(&str, f64)]) -> Option<f64> {
    let text = clean(text)?;
    let (value, rest) = number(&text)?;
    Some(value * factor(rest, units)?)
}

/// `value` where it was read and lies from `low` to `high`, both included; else the error that names what was
/// expected.
pub(super) fn within(value: Option<f64>, low: f64, high: f64, text: &str, what: &str) -> Result<f64, String> {
    match value {
        Some(value) if (low..=high).contains(&value) => Ok(value),
        _ => Err(expected(text, what)),
    }
}

/// "expected WHAT", and the reason where the text itself shows it.
pub(super) fn expected(text: &str, what: &str) -> String {
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
