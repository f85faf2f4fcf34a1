//! What the stamps really resolve. A camera may write hundredths that are always 00, or that move in coarser steps than their
//! digits: what counts is what they do.

use crate::units::Micros;
use crate::units::time::SECOND;

/// Stamps needed before their behaviour is believed over their digits.
const ENOUGH: usize = 12;

fn gcd(mut a: Micros, mut b: Micros) -> Micros {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// The step in which the stamps move, µs. `written` is the step of their digits. A coarser step is believed where enough
/// stamps keep to it and where it is no coarser than half the usual gap, or the gaps waver by it as a coarse clock's do: a
/// timer that ticks exactly every 0.5 s also moves in halves, and says nothing about its clock.
pub fn effective(stamps: &[Micros], written: Micros) -> Micros {
    if stamps.len() < ENOUGH || written >= SECOND {
        return written;
    }
    let step = stamps.iter().fold(SECOND, |g, s| gcd(g, s.rem_euclid(SECOND)));
    if step <= written {
        return written;
    }
    let mut gaps: Vec<Micros> = stamps.windows(2).map(|w| w[1] - w[0]).collect();
    gaps.sort_unstable();
    let middle = gaps[gaps.len() / 2];
    let wavers = gaps.iter().filter(|g| (**g - middle).abs() == step).count() * 20 >= gaps.len();
    if middle >= 2 * step || wavers { step } else { written }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(n: i64, interval: Micros, step: Micros, phase: Micros) -> Vec<Micros> {
        (0..n).map(|k| (phase + k * interval).div_euclid(step) * step).collect()
    }

    #[test]
    fn hundredths_that_are_always_zero_are_seconds() {
        assert_eq!(effective(&series(40, 5_013_000, SECOND, 370_000), 10_000), SECOND);
    }

    #[test]
    fn hundredths_that_move_in_tenths_are_tenths() {
        assert_eq!(effective(&series(40, 5_013_000, 100_000, 370_000), 10_000), 100_000);
    }

    #[test]
    fn an_exact_half_second_timer_says_nothing_about_its_clock() {
        assert_eq!(effective(&series(40, 500_000, 10_000, 0), 10_000), 10_000);
    }

    #[test]
    fn honest_hundredths_stay_so() {
        assert_eq!(effective(&series(40, 5_013_000, 10_000, 370_000), 10_000), 10_000);
        assert_eq!(effective(&series(5, 5_000_000, SECOND, 0), 10_000), 10_000);
    }
}
