//! Capture time: which tag, how fine, how far from UTC.

use super::fields::Fields;
use crate::frames::{Cell, Stamp, StampSource};
use crate::units::{CivilTime, Micros};

/// Date tag, its sub-second tag and its offset tag, in the order in which they are asked.
const PLACES: [(StampSource, u16, u16, u16); 3] = [
    (StampSource::Original, 0x9003, 0x9291, 0x9011),
    (StampSource::Digitized, 0x9004, 0x9292, 0x9012),
    (StampSource::Plain, 0x0132, 0x9290, 0x9010),
];

/// The first known date of the three, with its own fraction and offset. Where none is known, what the first
/// one present says of itself. Never the file system's time.
pub(crate) fn stamp(fields: &Fields) -> Cell<Stamp> {
    let mut none = Cell::Absent;
    for (source, date_tag, fraction_tag, offset_tag) in PLACES {
        let Some(text) = fields.text(date_tag) else { continue };
        match date(text) {
            Cell::Known((date, time)) => {
                let (micros, digits) = fields.text(fraction_tag).and_then(fraction).unwrap_or((0, 0));
                let Some(at) = CivilTime::from_calendar(date, time, micros) else {
                    none = first(none, Cell::Unreadable);
                    continue;
                };
                let resolution = Micros::step_of(digits);
                let offset_min = fields.text(offset_tag).and_then(offset);
                return Cell::Known(Stamp { at, resolution, digits, offset_min, source });
            }
            Cell::Blank => none = first(none, Cell::Blank),
            _ => none = first(none, Cell::Unreadable),
        }
    }
    none
}

fn first(earlier: Cell<Stamp>, later: Cell<Stamp>) -> Cell<Stamp> {
    if matches!(earlier, Cell::Absent) { later } else { earlier }
}

/// Year, month and day; hour, minute and second.
type Calendar = ((i16, i8, i8), (i8, i8, i8));

/// `YYYY:MM:DD HH:MM:SS`. Blank where all but the colons is blank (Exif) or where every digit is 0 (common,
/// not the standard's form). A single digit after a blank is read (` 7` for `07`), and `-` or `/` for the
/// date's colons, `T` for the blank between (common practice, no source). Ranges are the calendar's business.
fn date(text: &[u8]) -> Cell<Calendar> {
    let blank = |c: &u8| matches!(c, b' ' | b':' | b'\0');
    let zeros = |c: &u8| matches!(c, b'0' | b' ' | b':' | b'\0');
    if text.iter().all(blank) || text.iter().take(19).all(zeros) {
        return Cell::Blank;
    }
    let Some(text) = text.first_chunk::<19>() else { return Cell::Unreadable };
    let marks = matches!(text[4], b':' | b'-' | b'/')
        && text[7] == text[4]
        && matches!(text[10], b' ' | b'T')
        && text[13] == b':'
        && text[16] == b':';
    if !marks {
        return Cell::Unreadable;
    }
    let pair = |at: usize| number(&text[at..at + 2]).and_then(|n| i8::try_from(n).ok());
    let read = || {
        let year = i16::try_from(number(&text[0..4])?).ok()?;
        Some(((year, pair(5)?, pair(8)?), (pair(11)?, pair(14)?, pair(17)?)))
    };
    read().map_or(Cell::Unreadable, Cell::Known)
}

/// Digits after at most some blanks.
fn number(text: &[u8]) -> Option<u32> {
    let digits = text.trim_ascii_start();
    if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    digits.iter().try_fold(0_u32, |n, c| n.checked_mul(10)?.checked_add(u32::from(c - b'0')))
}

/// A decimal fraction of the second, left-aligned, its room filled with blanks: microseconds and how many
/// digits (at most six; finer ones are cut off). `07` is 0.07 s.
fn fraction(text: &[u8]) -> Option<(u32, u8)> {
    let digits = text.trim_ascii();
    if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let kept = &digits[..digits.len().min(6)];
    let value = kept.iter().chain(std::iter::repeat_n(&b'0', 6 - kept.len()));
    Some((value.fold(0, |n, c| n * 10 + u32::from(c - b'0')), kept.len() as u8))
}

/// `±HH:MM` in minutes ahead of UTC. Blanks are "not known"; more than 15 h lies in no zone.
fn offset(text: &[u8]) -> Option<i16> {
    let text = text.trim_ascii();
    if text == b"Z" {
        return Some(0);
    }
    let [sign @ (b'+' | b'-'), h1, h2, b':', m1, m2] = text else { return None };
    let hours = i16::try_from(number(&[*h1, *h2])?).ok()?;
    let minutes = i16::try_from(number(&[*m1, *m2])?).ok()?;
    if hours > 15 || minutes > 59 {
        return None;
    }
    let total = hours * 60 + minutes;
    Some(if *sign == b'-' { -total } else { total })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_are_left_aligned() {
        // Exif (CIPA DC-008), SubSecTime: examples 1 to 4.
        assert_eq!(fraction(b"130"), Some((130_000, 3)));
        assert_eq!(fraction(b"130 "), Some((130_000, 3)));
        assert_eq!(fraction(b"07"), Some((70_000, 2)));
        assert_eq!(fraction(b"5"), Some((500_000, 1)));
        assert_eq!(fraction(b"123456789"), Some((123_456, 6)));
        for none in [&b"        "[..], b"", b"1a", b"-5", b"1 3"] {
            assert_eq!(fraction(none), None, "{none:?}");
        }
    }

    #[test]
    fn offsets() {
        assert_eq!(offset(b"+01:00"), Some(60));
        assert_eq!(offset(b"-08:30"), Some(-510));
        assert_eq!(offset(b"Z"), Some(0));
        for none in [&b"   :  "[..], b"      ", b"+25:00", b"+01:60", b"01:00", b"", b"+1:00"] {
            assert_eq!(offset(none), None, "{none:?}");
        }
    }

    #[test]
    fn dates() {
        assert_eq!(date(b"2025:03:30 00:59:59"), Cell::Known(((2025, 3, 30), (0, 59, 59))));
        assert_eq!(date(b"2025: 3:30  0:59:59"), Cell::Known(((2025, 3, 30), (0, 59, 59))));
        for blank in [&b"    :  :     :  :  "[..], b"                   ", b"", b"0000:00:00 00:00:00"] {
            assert_eq!(date(blank), Cell::Blank, "{blank:?}");
        }
        for bad in [&b"2005:0?:03 15:31:45"[..], b"2005:01:03", b"2005.01.03 15.31.45", b"2005:01:03 15:31:4"]
        {
            assert_eq!(date(bad), Cell::Unreadable, "{bad:?}");
        }
    }
}
