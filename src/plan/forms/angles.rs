//! Angles in the sky, how fast a head turns, and lengths in the picture.

use super::letters::{clean, expected, number, with_unit, within};

/// Rates of turning, in degrees a second.
const TURNING: &[(&str, f64)] = &[
    ("°/s", 1.0),
    ("deg/s", 1.0),
    ("°/min", 1.0 / 60.0),
    ("deg/min", 1.0 / 60.0),
    ("°/h", 1.0 / 3600.0),
    ("deg/h", 1.0 / 3600.0),
    ("arcsec/s", 1.0 / 3600.0),
];

/// A declination in degrees, from −90 to 90: `41`, `41°`, `-16.7 deg`. South of the equator it is negative.
///
/// # Errors
/// What was expected.
pub fn declination(text: &str) -> Result<f64, String> {
    let what = "a declination from -90 to 90 degrees, such as \"41°\" or \"-16.7°\"";
    let value = clean(text).and_then(|t| {
        let (sign, rest) = match t.strip_prefix(['-', '−']) {
            Some(rest) => (-1.0, rest.trim_start()),
            None => (1.0, t.strip_prefix('+').unwrap_or(&t).trim_start()),
        };
        let (value, unit) = number(rest)?;
        matches!(unit.trim(), "" | "°" | "deg" | "degrees").then_some(sign * value)
    });
    match value {
        Some(value) if (-90.0..=90.0).contains(&value) => Ok(value),
        // A negative declination is no mistake; the hint that names one is left out.
        _ if text.trim().starts_with(['-', '−']) => Err(format!("expected {what}")),
        _ => Err(expected(text, what)),
    }
}

/// How fast a head turns, in degrees a second, over 0: `30 °/h`, `0.5 deg/s`, `15 arcsec/s`. The unit is
/// needed.
///
/// # Errors
/// What was expected.
pub fn turning(text: &str) -> Result<f64, String> {
    let value = with_unit(text, TURNING).filter(|v| *v > 0.0);
    within(value, 0.0, 360.0, text, "a rate over 0 with its unit, such as \"30 °/h\" or \"0.5 °/s\"")
}

/// A length in the picture, in pixels, over 0: `2`, `1.5 px`.
///
/// # Errors
/// What was expected.
pub fn pixels(text: &str) -> Result<f64, String> {
    let value = with_unit(text, &[("", 1.0), ("px", 1.0), ("pixels", 1.0)]).filter(|v| *v > 0.0);
    within(value, 0.0, 1e5, text, "pixels over 0, such as 2")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn declinations_have_a_sign() {
        for (text, want) in [("41", 41.0), ("-16.7°", -16.7), ("−90 deg", -90.0), ("+5°", 5.0)] {
            assert_eq!(declination(text), Ok(want), "{text}");
        }
        for text in ["91", "-91", "north", "", "5h"] {
            assert!(declination(text).expect_err(text).starts_with("expected a declination"), "{text}");
        }
    }

    #[test]
    fn rates_carry_their_unit_and_pixels_need_none() {
        for (text, want) in [("36 °/h", 0.01), ("0.5 deg/s", 0.5), ("30°/min", 0.5), ("3600 arcsec/s", 1.0)]
        {
            assert!((turning(text).expect(text) - want).abs() < 1e-12, "{text}");
        }
        for text in ["30", "0 °/h", "-3 °/h", "400 °/s", "30 rpm"] {
            assert!(turning(text).is_err(), "{text}");
        }
        assert_eq!((pixels("2"), pixels("1.5 px")), (Ok(2.0), Ok(1.5)));
        assert!(pixels("0").is_err() && pixels("2 mm").is_err());
    }
}
