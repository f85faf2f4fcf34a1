//! Values that several fields tell together.

use super::fields::Fields;
use super::values::{Value, positive};
use crate::frames::Cell;

/// Pixel pitch, µm: FocalPlaneXResolution (A20E) tells the pixels in a FocalPlaneResolutionUnit (A210: 2
/// inch, also where it is absent; 3 centimetre; some writers use TIFF/EP's 4 millimetre and 5 micrometre). A
/// pitch outside 0.3 to 50 µm is no sensor's, and the tag then speaks of something else.
pub(crate) fn pitch_um(fields: &Fields) -> Cell<f32> {
    let unit = fields.get(0xA210).and_then(|v| v.uint(0)).unwrap_or(2);
    fields.cell(0xA20E, |pixels| pitch(unit, pixels))
}

fn pitch(unit: u32, pixels: Value<'_>) -> Cell<f32> {
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

/// Sensitivity. PhotographicSensitivity (8827) is 16 bits wide: 65535 there means "that or more", and the
/// 32-bit tags that SensitivityType (8830) names hold the value: 8831 standard output, 8832 recommended
/// index, 8833 ISO speed. Some bodies write two values, the first 0; 0 is "not known".
pub(crate) fn iso(fields: &Fields) -> Cell<u32> {
    let written = fields.cell(0x8827, |value| {
        let mut all = (0..4).map_while(|at| value.uint(at)).peekable();
        if all.peek().is_none() {
            return Cell::Unreadable;
        }
        all.find(|iso| *iso != 0).map_or(Cell::Blank, Cell::Known)
    });
    if matches!(written, Cell::Known(iso) if iso < 65535) {
        return written;
    }
    let named = fields.get(0x8830).and_then(|v| v.uint(0)).unwrap_or(0);
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
        order.iter().filter_map(|tag| fields.get(*tag)?.uint(0)).find(|iso| (1..u32::MAX).contains(iso));
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

    fn of(kind: u16, bytes: &[u8]) -> Value<'_> {
        Value { kind, little: true, bytes }
    }

    /// Pitches worked out from sensors of published size: 35.9 mm over 7360 pixels, 23.5 mm over 6000, 6.197
    /// mm over 4000.
    #[test]
    fn pitch_of_a_sensor() {
        for (unit, pixels, um) in [
            (4, 204.840_21, 35.9e3 / 7360.0),
            (3, 2553.2146, 23.5e3 / 6000.0),
            (2, 16_393.442_62, 6.197e3 / 4000.0),
        ] {
            match pitch(unit, of(12, &f64::to_le_bytes(pixels))) {
                Cell::Known(got) => assert!((f64::from(got) / um - 1.0).abs() < 2e-3, "{got} {um}"),
                other => panic!("{other:?}"),
            }
        }
        // 72 pixels an inch is a printer's figure; a unit of 1 is none.
        assert_eq!(pitch(2, of(12, &72_f64.to_le_bytes())), Cell::Unreadable);
        assert_eq!(pitch(1, of(12, &2000_f64.to_le_bytes())), Cell::Unreadable);
        assert_eq!(pitch(2, of(12, &0_f64.to_le_bytes())), Cell::Blank);
    }
}
