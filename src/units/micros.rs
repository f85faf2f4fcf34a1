//! Microseconds as a type of their own: a stamp, a gap or a clock's step is no slot and no count.

use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A span of time in whole microseconds. As a moment it is the span since the civil epoch;
/// [`CivilTime`](super::CivilTime) knows the calendar.
///
/// It ranges over an `i64`, some 292,000 years either way. The calendar ends at the years −9999 and 9999, at
/// 4 % of that: sums and differences of two of its moments cannot overflow. Further off `+`, `-`, `*` and
/// sums overflow as whole numbers do. A debug build panics then; a release build wraps round to a wrong time
/// and says nothing. A figure in seconds enters by [`Micros::nearest`], [`Micros::truncated`] or
/// [`Micros::from_seconds`], which stop at the ends of the range.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Micros(i64);

impl Micros {
    /// No time at all; as a moment, the civil epoch.
    pub const ZERO: Self = Self(0);
    /// The smallest step.
    pub const ONE: Self = Self(1);
    /// A second.
    pub const SECOND: Self = Self(1_000_000);
    /// A day of 24 hours.
    pub const DAY: Self = Self::from_seconds(86_400);

    /// So many microseconds.
    pub const fn new(micros: i64) -> Self {
        Self(micros)
    }

    /// So many whole seconds; beyond ±292,000 years it stops at the end of the range.
    pub const fn from_seconds(seconds: i64) -> Self {
        Self(seconds.saturating_mul(Self::SECOND.0))
    }

    /// The microsecond nearest to so many seconds, halves away from zero. It stops at the ends of the range;
    /// what is not a number is zero.
    pub fn nearest(seconds: f64) -> Self {
        Self((seconds * Self::SECOND.0 as f64).round() as i64)
    }

    /// So many seconds, cut towards zero to a microsecond. It stops at the ends of the range; what is not a
    /// number is zero.
    pub fn truncated(seconds: f64) -> Self {
        Self((seconds * Self::SECOND.0 as f64) as i64)
    }

    /// The step of a stamp with so many decimals of the second; a microsecond for six and more.
    pub const fn step_of(digits: u8) -> Self {
        Self(if digits < 6 { 10_i64.pow(6 - digits as u32) } else { 1 })
    }

    /// The number of microseconds, for arithmetic that is not about time.
    pub const fn get(self) -> i64 {
        self.0
    }

    /// In seconds. Within 272 years of zero (2^33 s) no two spans give the same figure. Further off,
    /// neighbours may.
    pub fn seconds(self) -> f64 {
        in_seconds(self.0 as f64)
    }

    /// The whole second that began last: -1 for half a second before zero.
    pub const fn whole_seconds(self) -> i64 {
        self.0.div_euclid(Self::SECOND.0)
    }

    /// How long it is, whichever way it leads.
    pub const fn abs(self) -> Self {
        Self(self.0.abs())
    }

    /// What is left above the last whole multiple of `step`, from zero up to below it.
    ///
    /// # Panics
    /// Where `step` is zero.
    pub const fn rem_euclid(self, step: Self) -> Self {
        Self(self.0.rem_euclid(step.0))
    }

    /// How many whole steps lie below it, counted downwards before zero.
    ///
    /// # Panics
    /// Where `step` is zero.
    pub const fn div_euclid(self, step: Self) -> i64 {
        self.0.div_euclid(step.0)
    }

    /// How many times another span goes into it, with its fraction; by a span of zero it is infinite or no
    /// number.
    pub fn ratio(self, of: Self) -> f64 {
        self.0 as f64 / of.0 as f64
    }

    /// Cut down to a whole multiple of `step`, as a clock of such a step shows it. It stops at the ends of
    /// the range.
    ///
    /// # Panics
    /// Where `step` is zero.
    pub const fn floored(self, step: Self) -> Self {
        Self(self.0.div_euclid(step.0).saturating_mul(step.0))
    }

    /// The sum; it stops at the ends of the range.
    pub const fn saturating_add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// The difference; it stops at the ends of the range.
    pub const fn saturating_sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

/// A figure that was worked out in microseconds (a mean, a share) in seconds.
pub fn in_seconds(micros: f64) -> f64 {
    micros / Micros::SECOND.0 as f64
}

impl Add for Micros {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Micros {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Micros {
    type Output = Self;

    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<i64> for Micros {
    type Output = Self;

    fn mul(self, times: i64) -> Self {
        Self(self.0 * times)
    }
}

/// A part of it, cut towards zero to a microsecond. Panics where `parts` is zero.
impl Div<i64> for Micros {
    type Output = Self;

    fn div(self, parts: i64) -> Self {
        Self(self.0 / parts)
    }
}

impl AddAssign for Micros {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Micros {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Sum for Micros {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_and_multiples_are_those_of_whole_numbers() {
        let (a, b) = (Micros::new(7_000_003), Micros::new(-2_500_000));
        assert_eq!(
            (a + b, a - b, -b),
            (Micros::new(4_500_003), Micros::new(9_500_003), Micros::new(2_500_000))
        );
        assert_eq!((b * 3, a / 2, b.abs()), (Micros::new(-7_500_000), Micros::new(3_500_001), -b));
        let mut moved = a;
        moved += b;
        moved -= Micros::ONE;
        assert_eq!(moved, Micros::new(4_500_002));
        assert_eq!([a, b, Micros::ONE].into_iter().sum::<Micros>(), Micros::new(4_500_004));
        assert_eq!(std::iter::empty().sum::<Micros>(), Micros::default());
    }

    #[test]
    fn what_lies_before_zero_is_counted_downwards() {
        let half_before = Micros::new(-500_000);
        assert_eq!(half_before.whole_seconds(), -1);
        assert_eq!(half_before.div_euclid(Micros::SECOND), -1);
        assert_eq!(half_before.rem_euclid(Micros::SECOND), -half_before);
        assert_eq!(half_before.floored(Micros::SECOND), -Micros::SECOND);
        assert_eq!((Micros::SECOND - Micros::ONE).floored(Micros::step_of(2)), Micros::new(990_000));
        // A division cuts towards zero, as that of whole numbers does.
        assert_eq!(Micros::new(-3) / 2, -Micros::ONE);
    }

    /// A figure in seconds is the whole number divided by a million, to the last bit.
    #[test]
    fn seconds_are_one_division() {
        for micros in [0, 1, -1, 370_000, 7_013_000, 1_778_299_800_130_001, i64::MAX, i64::MIN] {
            assert_eq!(Micros::new(micros).seconds().to_bits(), (micros as f64 / 1e6).to_bits(), "{micros}");
        }
        assert_eq!(Micros::new(1_500_000).ratio(Micros::from_seconds(2)), 0.75);
    }

    #[test]
    fn seconds_and_back_are_exact_within_272_years() {
        for micros in [1, 999_999, 1_778_299_800_130_001, (1 << 33) * 1_000_000 - 1] {
            for micros in [micros, -micros] {
                assert_eq!(Micros::nearest(Micros::new(micros).seconds()), Micros::new(micros));
            }
        }
    }

    #[test]
    fn seconds_are_rounded_or_cut() {
        let cases =
            [(0.000_001_5, 2, 1), (-0.000_001_5, -2, -1), (2.999_999_6, 3_000_000, 2_999_999), (0.0, 0, 0)];
        for (seconds, nearest, cut) in cases {
            assert_eq!(Micros::nearest(seconds), Micros::new(nearest), "{seconds}");
            assert_eq!(Micros::truncated(seconds), Micros::new(cut), "{seconds}");
        }
    }

    #[test]
    fn what_no_span_holds_stops_at_the_ends() {
        let (least, most) = (Micros::new(i64::MIN), Micros::new(i64::MAX));
        for (seconds, end) in [(1e300, most), (f64::INFINITY, most), (-1e13, least), (f64::NAN, Micros::ZERO)]
        {
            assert_eq!((Micros::nearest(seconds), Micros::truncated(seconds)), (end, end), "{seconds}");
        }
        assert_eq!((Micros::from_seconds(i64::MAX), Micros::from_seconds(i64::MIN)), (most, least));
        assert_eq!((most.saturating_add(Micros::ONE), least.saturating_sub(Micros::ONE)), (most, least));
        assert_eq!(least.floored(Micros::SECOND), least);
    }

    /// From the first year of the calendar to its last, and back.
    #[test]
    fn no_two_moments_of_the_calendar_are_too_far_apart() {
        let year = |year| super::super::CivilTime::from_calendar((year, 12, 31), (23, 59, 59), 999_999);
        let (first, last) = (year(-9999).expect("a moment").micros(), year(9999).expect("a moment").micros());
        let apart = last - first;
        assert!(apart > Micros::DAY * (19_998 * 365) && first - last == -apart);
        assert!(apart.get() < i64::MAX / 14);
    }

    #[test]
    fn a_step_is_that_of_the_last_decimal() {
        let steps = [0, 1, 2, 3, 6, 7, u8::MAX].map(|digits| Micros::step_of(digits).get());
        assert_eq!(steps, [1_000_000, 100_000, 10_000, 1000, 1, 1, 1]);
    }
}
