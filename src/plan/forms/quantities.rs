//! Settings, lengths, speeds and rates.

use super::letters::{clean, expected, factor, number, ratio, with_unit, within};

/// Units of length, in metres. The bare number is left out on purpose: millimetres and inches both stand on
/// rails.
const LENGTHS: &[(&str, f64)] = &[
    ("nm", 1e-9),
    ("µm", 1e-6),
    ("μm", 1e-6),
    ("um", 1e-6),
    ("mm", 0.001),
    ("cm", 0.01),
    ("m", 1.0),
    ("km", 1000.0),
    ("in", 0.0254),
    ("inch", 0.0254),
    ("inches", 0.0254),
    ("ft", 0.3048),
    ("feet", 0.3048),
];

/// Units of speed, in metres a second.
const SPEEDS: &[(&str, f64)] = &[
    ("mm/s", 0.001),
    ("cm/s", 0.01),
    ("m/s", 1.0),
    ("in/s", 0.0254),
    ("mm/min", 0.001 / 60.0),
    ("cm/min", 0.01 / 60.0),
    ("m/min", 1.0 / 60.0),
    ("mm/h", 0.001 / 3600.0),
    ("cm/h", 0.01 / 3600.0),
    ("m/h", 1.0 / 3600.0),
];

/// Units of acceleration, in metres a second squared.
const ACCELERATIONS: &[(&str, f64)] = &[
    ("mm/s²", 0.001),
    ("mm/s2", 0.001),
    ("mm/s^2", 0.001),
    ("cm/s²", 0.01),
    ("cm/s2", 0.01),
    ("cm/s^2", 0.01),
    ("m/s²", 1.0),
    ("m/s2", 1.0),
    ("m/s^2", 1.0),
];

/// Most frames that a plan may ask for.
const MOST: u64 = 100_000_000;

/// A whole number from 1 to 100 million.
///
/// # Errors
/// What was expected.
pub fn count(text: &str) -> Result<u64, String> {
    let plain = clean(text).filter(|t| t.chars().all(|c| c.is_ascii_digit()));
    plain
        .and_then(|t| t.parse().ok())
        .filter(|n| (1..=MOST).contains(n))
        .ok_or_else(|| expected(text, "a whole number from 1 to 100000000, such as 600"))
}

/// Most exposures in a slot.
const MOST_IN_A_SLOT: u64 = 99;

/// Exposures in a slot: 1 to 99.
///
/// # Errors
/// What was expected.
pub fn exposures(text: &str) -> Result<u32, String> {
    let few = count(text).ok().filter(|n| *n <= MOST_IN_A_SLOT);
    few.and_then(|n| u32::try_from(n).ok())
        .ok_or_else(|| format!("expected a whole number of exposures from 1 to {MOST_IN_A_SLOT}, such as 3"))
}

/// A whole number of slots, none among them: 0 to 100 million.
///
/// # Errors
/// What was expected.
pub fn slots(text: &str) -> Result<u64, String> {
    let plain = clean(text).filter(|t| !t.is_empty() && t.chars().all(|c| c.is_ascii_digit()));
    plain
        .and_then(|t| t.parse().ok())
        .filter(|n| *n <= MOST)
        .ok_or_else(|| expected(text, "a whole number of slots from 0, such as 1"))
}

/// An f-number, as it is marked: `8`, `f/8`, `F8`, `f5.6`. From 0.5 to 1024 (a pinhole).
///
/// # Errors
/// What was expected.
pub fn f_number(text: &str) -> Result<f64, String> {
    let value = clean(text).and_then(|t| {
        let rest = t.strip_prefix(['f', 'ƒ']).unwrap_or(&t).trim_start();
        let rest = rest.strip_prefix('/').filter(|_| rest.len() < t.len()).unwrap_or(rest);
        number(rest.trim_start()).filter(|(_, rest)| rest.is_empty()).map(|(v, _)| v)
    });
    within(value, 0.5, 1024.0, text, "an f-number such as 8 or \"f/5.6\"")
}

/// An ISO sensitivity, as it is marked: `200`, `ISO 200`. From 1 to 10 million.
///
/// # Errors
/// What was expected.
pub fn iso(text: &str) -> Result<f64, String> {
    let value = clean(text).and_then(|t| {
        let digits = t.strip_prefix("iso").unwrap_or(&t).trim_start();
        number(digits).filter(|(_, rest)| rest.is_empty()).map(|(v, _)| v)
    });
    within(value, 1.0, 10_000_000.0, text, "an ISO sensitivity such as 200 or \"ISO 200\"")
}

/// A length in metres, over 0, up to 1000 km: `900 mm`, `1.5 cm`, `2 m`, `5.97 µm`, `36 in`. It must carry
/// its unit.
///
/// # Errors
/// What was expected; for a bare number, the same number with a unit.
pub fn length(text: &str) -> Result<f64, String> {
    let bare = clean(text).filter(|t| number(t).is_some_and(|(v, rest)| v > 0.0 && rest.is_empty()));
    if let Some(bare) = bare {
        return Err(format!("expected a length with its unit: write \"{bare} mm\" (or cm, m, in, ft)"));
    }
    let value = with_unit(text, LENGTHS).filter(|v| *v > 0.0);
    within(value, 0.0, 1e6, text, "a length over 0 with its unit, such as \"900 mm\", \"1.5 cm\" or \"2 m\"")
}

/// A speed in metres a second, over 0, up to 1000: `20 mm/s`, `2 cm/s`, `1.2 m/min`. It must carry its unit.
///
/// # Errors
/// What was expected; for a bare number, the same number with a unit.
pub fn speed(text: &str) -> Result<f64, String> {
    let bare = clean(text).filter(|t| number(t).is_some_and(|(v, rest)| v > 0.0 && rest.is_empty()));
    if let Some(bare) = bare {
        return Err(format!("expected a speed with its unit: write \"{bare} mm/s\" (or cm/s, m/s, m/min)"));
    }
    let value = clean(text)
        .and_then(|t| number(&t).and_then(|(v, rest)| Some(v * factor(&rest.replace(' ', ""), SPEEDS)?)));
    let what = "a speed over 0 with its unit, such as \"20 mm/s\" or \"2 cm/s\"";
    within(value.filter(|v| *v > 0.0), 0.0, 1000.0, text, what)
}

/// An acceleration in metres a second squared, over 0, up to 1000: `200 mm/s²`, `0.2 m/s2`. It must carry its
/// unit.
///
/// # Errors
/// What was expected.
pub fn acceleration(text: &str) -> Result<f64, String> {
    let value = clean(text).and_then(|t| {
        number(&t).and_then(|(v, rest)| Some(v * factor(&rest.replace(' ', ""), ACCELERATIONS)?))
    });
    let what = "an acceleration over 0 with its unit, such as \"200 mm/s²\" or \"0.2 m/s2\"";
    within(value.filter(|v| *v > 0.0), 0.0, 1000.0, text, what)
}

/// A mains frequency in hertz, from 15 (old railway current) to 500: `50 Hz`, `60`.
///
/// # Errors
/// What was expected.
pub fn frequency(text: &str) -> Result<f64, String> {
    within(
        with_unit(text, &[("", 1.0), ("hz", 1.0)]),
        15.0,
        500.0,
        text,
        "a mains frequency such as \"50 Hz\" or 60",
    )
}

/// Frames a second of a clip, from 1 to 1000: `25`, `25 fps`, `24000/1001`, `23.976`.
///
/// `23.976`, `23.98`, `29.97`, `47.95`, `59.94` and `119.88` are names of the exact rates n·1000/1001 (common
/// practice, no source).
///
/// # Errors
/// What was expected.
pub fn fps(text: &str) -> Result<f64, String> {
    let value = clean(text).and_then(|t| {
        let (value, rest) = ratio(&t)?;
        factor(rest, &[("", 1.0), ("fps", 1.0), ("p", 1.0)]).map(|f| value * f)
    });
    let value = within(value, 1.0, 1000.0, text, "frames a second such as 25, 23.976 or \"24000/1001\"")?;
    let exact = [24.0, 30.0, 48.0, 60.0, 120.0].map(|n| n * 1000.0 / 1001.0);
    Ok(exact.into_iter().find(|e| (e - value).abs() < 0.005).unwrap_or(value))
}

/// A step of exposure in EV, from 0 to 20: `0.34`, `0.34 EV`, `1/3 EV`, `1/3 stop`.
///
/// # Errors
/// What was expected.
pub fn ev(text: &str) -> Result<f64, String> {
    let value = clean(text).and_then(|t| {
        let (value, rest) = ratio(&t)?;
        factor(rest, &[("", 1.0), ("ev", 1.0), ("stop", 1.0), ("stops", 1.0)]).map(|f| value * f)
    });
    within(value, 0.0, 20.0, text, "a step in EV such as 0.34 or \"1/3 EV\"")
}

#[cfg(test)]
mod tests {
    use super::*;

    type Form = fn(&str) -> Result<f64, String>;

    fn table(form: Form, good: &[(&str, f64)], bad: &[&str], expects: &str) {
        for (text, want) in good {
            let got = form(text).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert!((got - want).abs() <= 1e-9 * want.abs(), "{text}: {got}");
        }
        for text in bad.iter().chain(&["", " ", "nan", "inf", "-1", "1.2.3", "١"]) {
            let error = form(text).expect_err(text);
            assert!(error.starts_with(expects), "{text}: {error}");
        }
    }

    #[test]
    fn counts() {
        assert_eq!(count("600"), Ok(600));
        assert_eq!(count(" 1 "), Ok(1));
        for text in
            ["0", "-3", "6.5", "600 frames", "100000001", "99999999999999999999999", "", "1_000", "+3"]
        {
            assert!(count(text).expect_err(text).starts_with("expected a whole number from 1"));
        }
    }

    #[test]
    fn slots_may_be_none() {
        for (text, n) in [("0", 0), ("1", 1), (" 3 ", 3), ("100000000", MOST)] {
            assert_eq!(slots(text), Ok(n));
        }
        for text in ["-1", "1.5", "", "one", "100000001", "+1"] {
            assert!(slots(text).expect_err(text).starts_with("expected a whole number of slots from 0"));
        }
    }

    #[test]
    fn f_numbers() {
        let good = [
            ("8", 8.0),
            ("f/8", 8.0),
            ("F8", 8.0),
            ("f5.6", 5.6),
            ("f / 2.8", 2.8),
            ("ƒ/11", 11.0),
            ("0.95", 0.95),
        ];
        table(
            f_number,
            &good,
            &["0", "f/", "/8", "f/8 mm", "f//8", "2000", "8/1"],
            "expected an f-number such as 8",
        );
    }

    #[test]
    fn sensitivities() {
        let good = [("200", 200.0), ("ISO 200", 200.0), ("iso200", 200.0), ("Iso 12800", 12_800.0)];
        table(
            iso,
            &good,
            &["0", "iso", "auto", "200 asa", "12,800"],
            "expected an ISO sensitivity such as 200",
        );
    }

    #[test]
    fn lengths_carry_their_unit() {
        let good = [
            ("900 mm", 0.9),
            ("900MM", 0.9),
            ("1.5 cm", 0.015),
            ("2 m", 2.0),
            ("5.97 µm", 5.97e-6),
            ("5.97 um", 5.97e-6),
            ("36 in", 0.9144),
            ("3 ft", 0.9144),
        ];
        table(
            length,
            &good,
            &["900", "0 mm", "mm", "2 furlongs", "1e3 m", "9999999 km", "1 m 2 cm"],
            "expected a length",
        );
        let remedy = length("900").expect_err("bare");
        assert_eq!(remedy, "expected a length with its unit: write \"900 mm\" (or cm, m, in, ft)");
    }

    #[test]
    fn speeds_and_accelerations() {
        let good =
            [("20 mm/s", 0.02), ("2 cm/s", 0.02), ("1.2 m/min", 0.02), ("20mm / s", 0.02), ("72 m/h", 0.02)];
        table(speed, &good, &["20", "0 mm/s", "20 mm", "20 °/s"], "expected a speed");
        assert!(speed("20").expect_err("bare").contains("write \"20 mm/s\""));
        let good = [("200 mm/s²", 0.2), ("200 mm/s2", 0.2), ("20 cm/s^2", 0.2), ("0.2 m/s²", 0.2)];
        table(acceleration, &good, &["200", "0 m/s2", "20 mm/s"], "expected an acceleration over 0");
    }

    #[test]
    fn frequencies_and_rates() {
        table(
            frequency,
            &[("50 Hz", 50.0), ("60hz", 60.0), ("50", 50.0)],
            &["0", "50 kHz", "5000"],
            "expected a mains",
        );
        let good = [
            ("25", 25.0),
            ("25 fps", 25.0),
            ("24000/1001", 24_000.0 / 1001.0),
            ("23.976", 24_000.0 / 1001.0),
            ("29.97", 30_000.0 / 1001.0),
            ("24", 24.0),
            ("12.5", 12.5),
        ];
        table(fps, &good, &["0", "25/0", "0.5", "5000", "25 Hz"], "expected frames a second such as 25");
    }

    #[test]
    fn steps_of_exposure() {
        let good = [
            ("0.34", 0.34),
            ("0.34 EV", 0.34),
            ("1/3 EV", 1.0 / 3.0),
            ("1/3", 1.0 / 3.0),
            ("0", 0.0),
            ("1 stop", 1.0),
        ];
        table(ev, &good, &["1/0", "30", "0.3 dB"], "expected a step in EV such as 0.34");
    }
}
