//! Numbers in a camera's names: which names are a camera's, and how far one number lies from another.
//!
//! Source: DCF, CIPA DC-009 (file name: four free characters and a number 0001 to 9999; folder: a number 100
//! to 999 and five free characters; no distinction of case). Names with longer numbers: common practice, no
//! source.

use std::ffi::OsStr;

use super::FileNumber;

/// The number in a camera's file name without its extension; `None` where the name is not a camera's: a copy
/// (`IMG_0001 (1)`), a date (`20260509_041000`), a rendered sequence (`frame-000123`).
///
/// Four free characters, at least one of them no digit, and four digits are DCF. One to four letters or
/// underscores and five to eight digits are the longer form that some cameras write; eight digits that read
/// as a calendar date are a date.
pub fn file_number(stem: &str) -> Option<FileNumber> {
    let bytes = stem.as_bytes();
    let lead = bytes.iter().take_while(|c| is_free(**c)).count();
    if lead != bytes.len() {
        return None;
    }
    let tail = bytes.iter().rev().take_while(|c| c.is_ascii_digit()).count();
    let head = bytes.len() - tail;
    if bytes.len() == 8 && tail >= 4 && head > 0 {
        let value: u32 = stem.get(4..)?.parse().ok()?;
        if value != 0 {
            return Some(FileNumber { value, digits: 4 });
        }
    }
    let letters = bytes[..head].iter().all(|c| c.is_ascii_alphabetic() || *c == b'_');
    if !(letters && (1..=4).contains(&head) && (5..=8).contains(&tail)) {
        return None;
    }
    let text = stem.get(head..)?;
    if tail == 8 && is_date(text) {
        return None;
    }
    Some(FileNumber { value: text.parse().ok()?, digits: u8::try_from(tail).ok()? })
}

/// The DCF number (100 to 999) of a folder's name such as `100ABCDE`.
pub fn folder_number(name: &OsStr) -> Option<u16> {
    let name = name.to_str()?;
    let dcf = name.len() == 8 && name.bytes().all(is_free);
    let number: u16 = dcf.then(|| name.get(..3)?.parse().ok()).flatten()?;
    (100..=999).contains(&number).then_some(number)
}

/// How many numbers lie from `from` to `to`, counting the roll-over from all nines to 1 (0000 is not a DCF
/// number; a camera that writes it has one number more in its lap): 1 for the next one, 0 for the same,
/// negative for a step back. A step longer than half a lap is taken for the shorter one the other way round.
pub fn advance(from: FileNumber, to: FileNumber) -> i64 {
    let digits = u32::from(from.digits.max(to.digits)).clamp(1, 9);
    let nought = from.value == 0 || to.value == 0;
    let lap = 10_i64.pow(digits) - i64::from(!nought);
    let forward = (i64::from(to.value) - i64::from(from.value)).rem_euclid(lap);
    if forward > lap / 2 { forward - lap } else { forward }
}

/// A free character of DCF: letters, digits, underscore.
fn is_free(c: u8) -> bool {
    c.is_ascii_alphanumeric() || c == b'_'
}

/// True where eight digits read as year, month and day from 1990 on.
fn is_date(text: &str) -> bool {
    let part =
        |range: std::ops::Range<usize>| text.get(range).and_then(|t| t.parse::<u32>().ok()).unwrap_or(0);
    (1990..=2099).contains(&part(0..4)) && (1..=12).contains(&part(4..6)) && (1..=31).contains(&part(6..8))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dcf(value: u32) -> FileNumber {
        FileNumber { value, digits: 4 }
    }

    #[test]
    fn dcf_names() {
        // CIPA DC-009: four free characters of 0-9 A-Z _, then 0001 to 9999, no distinction of case.
        for (name, value) in [
            ("IMG_0001", 1),
            ("img_9999", 9999),
            ("_DSC0120", 120),
            ("DSCF1234", 1234),
            ("P1010007", 7),
            ("G0010042", 42),
            ("DSC09999", 9999),
        ] {
            assert_eq!(file_number(name), Some(dcf(value)), "{name}");
        }
    }

    #[test]
    fn longer_numbers() {
        // Common practice, no source.
        assert_eq!(file_number("DSC_12345"), Some(FileNumber { value: 12345, digits: 5 }));
        assert_eq!(file_number("B000123"), Some(FileNumber { value: 123, digits: 6 }));
        assert_eq!(file_number("CF01234567"), Some(FileNumber { value: 1_234_567, digits: 8 }));
    }

    #[test]
    fn names_that_are_no_cameras() {
        for name in [
            "IMG_0001 copy",
            "IMG_0001 (1)",
            "IMG_0001-1",
            "20260509_041000",
            "20260509",
            "IMG_20260509_041000",
            "IMG_20260509",
            "frame-000123",
            "clip_00012",
            "00000123",
            "0001",
            "IMG_0001_edit",
            "IMG_0000",
            "",
            "ÄMG_0001",
        ] {
            assert_eq!(file_number(name), None, "{name}");
        }
    }

    #[test]
    fn folder_names() {
        assert_eq!(folder_number(OsStr::new("100ABCDE")), Some(100));
        assert_eq!(folder_number(OsStr::new("999_abc1")), Some(999));
        for name in ["099ABCDE", "100ABCD", "100ABCDEF", "100 BCDE", "DCIM", "ABCDE100"] {
            assert_eq!(folder_number(OsStr::new(name)), None, "{name}");
        }
    }

    #[test]
    fn the_roll_over() {
        // CIPA DC-009 (0000 is no number): delta = (n − m + 9999) mod 9999.
        assert_eq!(advance(dcf(9998), dcf(2)), 3);
        assert_eq!(advance(dcf(9999), dcf(1)), 1);
        assert_eq!(advance(dcf(120), dcf(124)), 4);
        assert_eq!(advance(dcf(1), dcf(1)), 0);
        assert_eq!(advance(dcf(124), dcf(120)), -4);
        assert_eq!(advance(dcf(1), dcf(9999)), -1);
        assert_eq!(advance(dcf(1), dcf(5000)), 4999);
        assert_eq!(advance(dcf(1), dcf(5001)), -4999);
        let five = |value| FileNumber { value, digits: 5 };
        assert_eq!(advance(five(99_999), five(1)), 1);
        // Whatever a name holds, the step stays within half a lap of nine digits.
        assert!(advance(FileNumber { value: u32::MAX, digits: 200 }, dcf(0)).abs() <= 500_000_000);
        assert_eq!(advance(FileNumber { value: 7, digits: 0 }, FileNumber { value: 8, digits: 0 }), 1);
    }
}
