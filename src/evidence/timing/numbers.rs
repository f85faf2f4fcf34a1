//! The arithmetic of file numbers.
//!
//! Source: DCF (CIPA DC-009): numbers run from 0001 to 9999, 0000 is not one, so 9999 is followed by 0001.

use crate::frames::FileNumber;

/// By how much the file numbers advance from one frame to the next: negative where they run back, 0 where they repeat. A
/// step of more than half a lap counts as one the other way round.
///
/// Numbers wrap at as many nines as they have digits. A camera that writes 0000 has one number more in its lap. Where the
/// two are written with different digits no lap is known, and the plain difference is given.
pub fn advance(from: FileNumber, to: FileNumber) -> i64 {
    let plain = i64::from(to.value) - i64::from(from.value);
    if from.digits != to.digits || from.digits == 0 || from.digits > 9 {
        return plain;
    }
    let all = 10_i64.pow(u32::from(from.digits));
    let lap = if from.value == 0 || to.value == 0 { all } else { all - 1 };
    let ahead = plain.rem_euclid(lap);
    if ahead > lap / 2 { ahead - lap } else { ahead }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(value: u32) -> FileNumber {
        FileNumber { value, digits: 4 }
    }

    /// `(n − m + 9999) mod 9999` after DCF (CIPA DC-009), where 9999 is followed by 0001.
    #[test]
    fn four_digits_wrap_past_nought() {
        for (from, to, ahead) in
            [(9998, 2, 3), (9999, 1, 1), (120, 124, 4), (1, 1, 0), (124, 120, -4), (1, 9999, -1)]
        {
            assert_eq!(advance(number(from), number(to)), ahead, "{from} to {to}");
        }
    }

    #[test]
    fn other_widths() {
        let three = |value| FileNumber { value, digits: 3 };
        assert_eq!(advance(three(999), three(1)), 1);
        assert_eq!(advance(number(9999), number(0)), 1);
        assert_eq!(advance(number(0), number(1)), 1);
        assert_eq!(advance(number(9999), FileNumber { value: 10_000, digits: 5 }), 1);
        let long = |value| FileNumber { value, digits: 10 };
        assert_eq!(advance(long(u32::MAX), long(0)), -i64::from(u32::MAX));
    }
}
