//! Numbers and text of Exif fields, with the standard's signs for "not known".

use crate::frames::Cell;

/// The value of a field: its type (TIFF 6.0, 1 to 13) and its bytes, in the stream's own order.
#[derive(Clone, Copy)]
pub(crate) struct Value<'a> {
    pub kind: u16,
    pub little: bool,
    pub bytes: &'a [u8],
}

impl Value<'_> {
    /// Number `i` of whole numbers without a sign.
    pub(crate) fn uint(&self, i: usize) -> Option<u32> {
        match self.kind {
            1 => self.bytes.get(i).copied().map(u32::from),
            3 => self
                .chunk::<2>(i)
                .map(|b| u32::from(if self.little { u16::from_le_bytes(b) } else { u16::from_be_bytes(b) })),
            4 | 13 => self.long(i),
            _ => None,
        }
    }

    /// Fraction `i` without a sign, as numerator and denominator.
    pub(crate) fn fraction(&self, i: usize) -> Option<(u32, u32)> {
        (self.kind == 5).then_some(())?;
        Some((self.long(2 * i)?, self.long(2 * i + 1)?))
    }

    fn long(&self, i: usize) -> Option<u32> {
        self.chunk::<4>(i).map(|b| if self.little { u32::from_le_bytes(b) } else { u32::from_be_bytes(b) })
    }

    fn chunk<const N: usize>(&self, i: usize) -> Option<[u8; N]> {
        self.bytes.as_chunks::<N>().0.get(i).copied()
    }
}

/// Text of a field up to its first NUL, without blanks at its end. Bytes written under another type count as
/// text too.
pub(crate) fn text(value: Value<'_>) -> &[u8] {
    let bytes = if matches!(value.kind, 1 | 2 | 7) { value.bytes } else { &[] };
    bytes.split(|c| *c == 0).next().unwrap_or_default().trim_ascii_end()
}

/// The first number of a field: numerator and denominator sign "not known" where both are 0 or the numerator
/// is FFFFFFFF.
fn real(value: Value<'_>) -> Cell<f64> {
    let ratio = |numerator: f64, denominator: f64| match (numerator, denominator) {
        (n, d) if n == 0.0 && d == 0.0 => Cell::Blank,
        (_, 0.0) => Cell::Unreadable,
        (n, d) => Cell::Known(n / d),
    };
    match value.kind {
        5 | 10 => match (value.long(0), value.long(1)) {
            (Some(u32::MAX), Some(_)) if value.kind == 5 => Cell::Blank,
            (Some(n), Some(d)) if value.kind == 5 => ratio(f64::from(n), f64::from(d)),
            (Some(n), Some(d)) => ratio(f64::from(n as i32), f64::from(d as i32)),
            _ => Cell::Blank,
        },
        11 => finite(value.long(0).map(|bits| f64::from(f32::from_bits(bits)))),
        12 => finite(
            value
                .chunk::<8>(0)
                .map(|b| if value.little { f64::from_le_bytes(b) } else { f64::from_be_bytes(b) }),
        ),
        _ => match value.uint(0) {
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

/// A quantity that cannot be 0: 0 stands for "not known" (lenses without contacts and cameras without a value
/// write it; common practice, no source), a negative one for damage.
pub(crate) fn positive(value: Value<'_>) -> Cell<f64> {
    match real(value) {
        Cell::Known(0.0) => Cell::Blank,
        Cell::Known(x) if x < 0.0 => Cell::Unreadable,
        other => other,
    }
}

/// An f-number.
pub(crate) fn f_number(value: Value<'_>) -> Cell<f32> {
    positive(value).map(|x| x as f32)
}

/// APEX time value: 2^40 s and 2^−40 s lie beyond any shutter.
pub(crate) fn apex_tv(value: Value<'_>) -> Cell<f32> {
    within(value, 40.0)
}

/// APEX aperture value.
pub(crate) fn apex_av(value: Value<'_>) -> Cell<f32> {
    within(value, 20.0)
}

fn within(value: Value<'_>, limit: f64) -> Cell<f32> {
    match real(value) {
        Cell::Known(x) if x.abs() > limit => Cell::Unreadable,
        other => other.map(|x| x as f32),
    }
}

/// A code from `low` to `high`. A 0 below the range is "not known".
pub(crate) fn code(value: Value<'_>, low: u8, high: u8) -> Cell<u8> {
    match value.uint(0).map(u8::try_from) {
        Some(Ok(code)) if (low..=high).contains(&code) => Cell::Known(code),
        Some(Ok(0)) => Cell::Blank,
        _ => Cell::Unreadable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(kind: u16, bytes: &[u8]) -> Value<'_> {
        Value { kind, little: true, bytes }
    }

    #[test]
    fn signs_for_not_known() {
        let ratio = |n: u32, d: u32| positive(of(5, &[n.to_le_bytes(), d.to_le_bytes()].concat()));
        assert_eq!(ratio(0, 0), Cell::Blank);
        assert_eq!(ratio(5, 0), Cell::Unreadable);
        assert_eq!(ratio(0, 10), Cell::Blank);
        assert_eq!(ratio(u32::MAX, 1), Cell::Blank);
        assert_eq!(ratio(1, 125), Cell::Known(0.008));
        let signed = [(-1_i32).to_le_bytes(), 3_i32.to_le_bytes()].concat();
        assert_eq!(positive(of(10, &signed)), Cell::Unreadable);
        assert_eq!(positive(of(12, &f64::NAN.to_le_bytes())), Cell::Unreadable);
        assert_eq!(positive(of(12, &0.25_f64.to_le_bytes())), Cell::Known(0.25));
        assert_eq!(positive(of(11, &0.5_f32.to_le_bytes())), Cell::Known(0.5));
        assert_eq!(positive(of(2, b"1")), Cell::Unreadable);
    }

    #[test]
    fn apex_may_be_negative() {
        // Tv −1/1 is 2 s: the numerator FFFFFFFF is no sign in a signed pair.
        let tv = |n: i32, d: i32| apex_tv(of(10, &[n.to_le_bytes(), d.to_le_bytes()].concat()));
        assert_eq!(tv(-1, 1), Cell::Known(-1.0));
        assert_eq!(tv(900, 1), Cell::Unreadable);
        assert_eq!(tv(0, 0), Cell::Blank);
    }

    #[test]
    fn codes() {
        let short = |n: u16, low, high| code(of(3, &n.to_le_bytes()), low, high);
        assert_eq!(short(6, 1, 8), Cell::Known(6));
        assert_eq!(short(0, 1, 8), Cell::Blank);
        assert_eq!(short(0, 0, 1), Cell::Known(0));
        assert_eq!(short(300, 1, 8), Cell::Unreadable);
        assert_eq!(code(of(3, &[]), 1, 8), Cell::Unreadable);
        assert_eq!(code(Value { kind: 3, little: false, bytes: &[0, 6] }, 1, 8), Cell::Known(6));
    }
}
