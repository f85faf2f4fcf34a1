//! Numbers and text of Exif fields, with the standard's signs for "not known".

use exif::Value;

use super::Fields;
use crate::frames::Cell;

/// Text of a field up to its first NUL, without blanks at its end. Bytes written under another type count as text too.
pub fn text(value: &Value) -> &[u8] {
    let bytes: &[u8] = match value {
        Value::Ascii(parts) => parts.first().map_or(&[], Vec::as_slice),
        Value::Byte(bytes) | Value::Undefined(bytes, _) => bytes,
        _ => &[],
    };
    bytes.split(|c| *c == 0).next().unwrap_or_default().trim_ascii_end()
}

/// The first number of a field: numerator and denominator sign "not known" where both are 0 or the numerator is FFFFFFFF.
fn real(value: &Value) -> Cell<f64> {
    let ratio = |numerator: f64, denominator: f64| match (numerator, denominator) {
        (n, d) if n == 0.0 && d == 0.0 => Cell::Blank,
        (_, 0.0) => Cell::Unreadable,
        (n, d) => Cell::Known(n / d),
    };
    match value {
        Value::Rational(v) => match v.first() {
            Some(r) if r.num == u32::MAX => Cell::Blank,
            Some(r) => ratio(f64::from(r.num), f64::from(r.denom)),
            None => Cell::Blank,
        },
        Value::SRational(v) => v.first().map_or(Cell::Blank, |r| ratio(f64::from(r.num), f64::from(r.denom))),
        Value::Float(v) => finite(v.first().map(|x| f64::from(*x))),
        Value::Double(v) => finite(v.first().copied()),
        other => match other.get_uint(0) {
            Some(n) => Cell::Known(f64::from(n)),
            None => Cell::Unreadable,
        },
    }
}

fn finite(value: Option<f64>) -> Cell<f64> {
    match value {
        Some(x) if x.is_finite() => Cell::Known(x),
        Some(_) => Cell::Unreadable,
        None => Cell::Blank,
    }
}

/// A quantity that cannot be 0: 0 stands for "not known" (lenses without contacts and cameras without a value write it;
/// common practice, no source), a negative one for damage.
pub fn positive(value: &Value) -> Cell<f64> {
    match real(value) {
        Cell::Known(0.0) => Cell::Blank,
        Cell::Known(x) if x < 0.0 => Cell::Unreadable,
        other => other,
    }
}

/// An f-number.
pub fn f_number(value: &Value) -> Cell<f32> {
    positive(value).map(|x| x as f32)
}

/// Pixel pitch, µm: FocalPlaneXResolution (A20E) tells the pixels in a FocalPlaneResolutionUnit (A210: 2 inch, also where it is absent;
/// 3 centimetre; some writers use TIFF/EP's 4 millimetre and 5 micrometre). A pitch outside 0.3 to 50 µm is no sensor's, and the tag
/// then speaks of something else.
pub fn pitch_um(fields: &Fields) -> Cell<f32> {
    let unit = fields.get(0xA210).and_then(|v| v.get_uint(0)).unwrap_or(2);
    fields.cell(0xA20E, |pixels| pitch(unit, pixels))
}

fn pitch(unit: u32, pixels: &Value) -> Cell<f32> {
    let unit_um = match unit {
        2 => 25_400.0,
        3 => 10_000.0,
        4 => 1000.0,
        5 => 1.0,
        _ => return Cell::Unreadable,
    };
    match positive(pixels) {
        Cell::Known(pixels) if (0.3..=50.0).contains(&(unit_um / pixels)) => {
            Cell::Known((unit_um / pixels) as f32)
        }
        Cell::Known(_) => Cell::Unreadable,
        other => other.map(|x| x as f32),
    }
}

/// APEX time value: 2^40 s and 2^−40 s lie beyond any shutter.
pub fn apex_tv(value: &Value) -> Cell<f32> {
    within(value, 40.0)
}

/// APEX aperture value.
pub fn apex_av(value: &Value) -> Cell<f32> {
    within(value, 20.0)
}

fn within(value: &Value, limit: f64) -> Cell<f32> {
    match real(value) {
        Cell::Known(x) if x.abs() > limit => Cell::Unreadable,
        other => other.map(|x| x as f32),
    }
}

/// A code from `low` to `high`. A 0 below the range is "not known".
pub fn code(value: &Value, low: u8, high: u8) -> Cell<u8> {
    match value.get_uint(0).map(u8::try_from) {
        Some(Ok(code)) if (low..=high).contains(&code) => Cell::Known(code),
        Some(Ok(0)) => Cell::Blank,
        _ => Cell::Unreadable,
    }
}

/// Sensitivity. PhotographicSensitivity (8827) is 16 bits wide: 65535 there means "that or more", and the 32-bit tags that
/// SensitivityType (8830) names hold the value: 8831 standard output, 8832 recommended index, 8833 ISO speed. Some bodies
/// write two values, the first 0; 0 is "not known".
pub fn iso(fields: &Fields) -> Cell<u32> {
    let written = fields.cell(0x8827, |value| {
        let mut all = (0..4).map_while(|at| value.get_uint(at)).peekable();
        if all.peek().is_none() {
            return Cell::Unreadable;
        }
        all.find(|iso| *iso != 0).map_or(Cell::Blank, Cell::Known)
    });
    if matches!(written, Cell::Known(iso) if iso < 65535) {
        return written;
    }
    let named = fields.get(0x8830).and_then(|v| v.get_uint(0)).unwrap_or(0);
    let order: &[u16] = match named {
        1 => &[0x8831],
        2 => &[0x8832],
        3 => &[0x8833],
        4 => &[0x8832, 0x8831],
        5 => &[0x8833, 0x8831],
        6 => &[0x8833, 0x8832],
        _ => &[0x8833, 0x8832, 0x8831],
    };
    let wide =
        order.iter().filter_map(|tag| fields.get(*tag)?.get_uint(0)).find(|iso| (1..u32::MAX).contains(iso));
    match (wide, written) {
        (Some(iso), _) => Cell::Known(iso),
        // "65535 or more", and nothing that says how much.
        (None, Cell::Known(65535)) => Cell::Blank,
        (None, other) => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use exif::{Rational, SRational};

    #[test]
    fn signs_for_not_known() {
        let ratio = |num, denom| Value::Rational(vec![Rational { num, denom }]);
        assert_eq!(positive(&ratio(0, 0)), Cell::Blank);
        assert_eq!(positive(&ratio(5, 0)), Cell::Unreadable);
        assert_eq!(positive(&ratio(0, 10)), Cell::Blank);
        assert_eq!(positive(&ratio(u32::MAX, 1)), Cell::Blank);
        assert_eq!(positive(&ratio(1, 125)), Cell::Known(0.008));
        assert_eq!(positive(&Value::SRational(vec![SRational { num: -1, denom: 3 }])), Cell::Unreadable);
        assert_eq!(positive(&Value::Double(vec![f64::NAN])), Cell::Unreadable);
        assert_eq!(positive(&Value::Ascii(vec![b"1".to_vec()])), Cell::Unreadable);
    }

    /// Pitches worked out from sensors of published size: 35.9 mm over 7360 pixels, 23.5 mm over 6000, 6.197 mm over 4000.
    #[test]
    fn pitch_of_a_sensor() {
        for (unit, pixels, um) in [
            (4, 204.840_21, 35.9e3 / 7360.0),
            (3, 2553.2146, 23.5e3 / 6000.0),
            (2, 16_393.442_62, 6.197e3 / 4000.0),
        ] {
            match pitch(unit, &Value::Double(vec![pixels])) {
                Cell::Known(got) => assert!((f64::from(got) / um - 1.0).abs() < 2e-3, "{got} {um}"),
                other => panic!("{other:?}"),
            }
        }
        // 72 pixels an inch is a printer's figure; a unit of 1 is none.
        assert_eq!(pitch(2, &Value::Double(vec![72.0])), Cell::Unreadable);
        assert_eq!(pitch(1, &Value::Double(vec![2000.0])), Cell::Unreadable);
        assert_eq!(pitch(2, &Value::Double(vec![0.0])), Cell::Blank);
    }

    #[test]
    fn apex_may_be_negative() {
        // Tv −1/1 is 2 s: the numerator FFFFFFFF is no sign in a signed pair.
        let tv = |num, denom| apex_tv(&Value::SRational(vec![SRational { num, denom }]));
        assert_eq!(tv(-1, 1), Cell::Known(-1.0));
        assert_eq!(tv(900, 1), Cell::Unreadable);
        assert_eq!(tv(0, 0), Cell::Blank);
    }

    #[test]
    fn codes() {
        assert_eq!(code(&Value::Short(vec![6]), 1, 8), Cell::Known(6));
        assert_eq!(code(&Value::Short(vec![0]), 1, 8), Cell::Blank);
        assert_eq!(code(&Value::Short(vec![0]), 0, 1), Cell::Known(0));
        assert_eq!(code(&Value::Short(vec![300]), 1, 8), Cell::Unreadable);
        assert_eq!(code(&Value::Short(vec![]), 1, 8), Cell::Unreadable);
    }
}
