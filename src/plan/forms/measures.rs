//! Sizes of files and cards, and temperatures.

use super::letters::{clean, expected, number, with_unit, within};

/// Units of size, in bytes. Cards and cameras count in thousands (SI); the binary units carry their own names
/// (IEC 80000-13).
const SIZES: &[(&str, f64)] = &[
    ("b", 1.0),
    ("kb", 1e3),
    ("mb", 1e6),
    ("gb", 1e9),
    ("tb", 1e12),
    ("kib", 1024.0),
    ("mib", 1_048_576.0),
    ("gib", 1_073_741_824.0),
    ("tib", 1_099_511_627_776.0),
];

/// A size in bytes, from 1 to a thousand terabytes: `64 GB`, `25 MB`, `1.5 TB`, `29.8 GiB`. It must carry its
/// unit.
///
/// # Errors
/// What was expected.
pub fn bytes(text: &str) -> Result<f64, String> {
    within(with_unit(text, SIZES), 1.0, 1e15, text, "a size with its unit, such as \"64 GB\" or \"25 MB\"")
}

/// A temperature in °C, from −90 to 70: `-5 °C`, `-5`, `−5 C`, `23 °F`. A bare number is °C.
///
/// # Errors
/// What was expected.
pub fn temperature(text: &str) -> Result<f64, String> {
    let value = clean(text).and_then(|t| {
        let (sign, rest) = match t.strip_prefix(['-', '−']) {
            Some(rest) => (-1.0, rest.trim_start()),
            None => (1.0, t.strip_prefix('+').unwrap_or(&t).trim_start()),
        };
        let (value, unit) = number(rest)?;
        match unit.replace(' ', "").as_str() {
            "" | "c" | "°c" | "celsius" => Some(sign * value),
            "f" | "°f" | "fahrenheit" => Some((sign * value - 32.0) / 1.8),
            _ => None,
        }
    });
    let what = "a temperature from -90 to 70 °C, such as \"-5 °C\"";
    match value {
        Some(value) if (-90.0..=70.0).contains(&value) => Ok(value),
        // A negative temperature is no mistake; the hint that names one is left out.
        _ if text.trim().starts_with(['-', '−']) => Err(format!("expected {what}")),
        _ => Err(expected(text, what)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_carry_their_unit() {
        for (text, want) in [
            ("64 GB", 64e9),
            ("25MB", 25e6),
            ("1.5 tb", 1.5e12),
            ("4 GiB", 4_294_967_296.0),
            ("512 kB", 512e3),
        ] {
            assert_eq!(bytes(text), Ok(want), "{text}");
        }
        for text in ["64", "", "-64 GB", "64 G", "0 MB", "2,5 MB", "2000 TB"] {
            assert!(bytes(text).expect_err(text).starts_with("expected a size"), "{text}");
        }
    }

    /// −40 is the same on both scales; 23 °F is −5 °C (definition of the Fahrenheit scale).
    #[test]
    fn temperatures_may_be_negative() {
        for (text, want) in [
            ("-5 °C", -5.0),
            ("−5", -5.0),
            ("0", 0.0),
            ("+20 C", 20.0),
            ("23 °F", -5.0),
            ("-40 F", -40.0),
            ("- 3 c", -3.0),
        ] {
            assert!((temperature(text).expect(text) - want).abs() < 1e-9, "{text}");
        }
        for text in ["cold", "", "-200", "100", "5 K", "--5"] {
            assert!(temperature(text).expect_err(text).starts_with("expected a temperature"), "{text}");
        }
    }
}
