//! What the stamps really resolve. A camera may write hundredths that are always 00, or that move in coarser
//! steps than their digits: what counts is what they do.

use super::numbers::gcd;
use crate::units::Micros;

/// Stamps needed before their behaviour is believed over their digits.
const ENOUGH: usize = 12;
/// The plan asks for a gap that wavers where it lets so many of them expect.
const ASKED_FOR: f64 = 0.7;
/// What a coarse clock does, it does at one gap in so many at least.
const OFTEN: usize = 20;
/// Gaps that waver miss the count that the planned interval asks for by no more than this share.
const AS_DUE: f64 = 0.3;

/// The step in which the stamps move. `written` is the step of their digits. A coarser step is believed
/// where enough stamps keep to it and where it is no coarser than half the usual gap, or the gaps waver by it
/// as a coarse clock's do: a timer that ticks exactly every 0.5 s also moves in halves, and says nothing
/// about its clock. Where the planned interval (s) is no multiple of the step, gaps that waver as seldom as
/// it asks for are a coarse clock's too.
pub fn effective(stamps: &[Micros], written: Micros, planned_s: Option<f64>) -> Micros {
    if stamps.len() < ENOUGH || written >= Micros::SECOND {
        return written;
    }
    let second = Micros::SECOND;
    let step = Micros::new(stamps.iter().fold(second.get(), |g, s| gcd(g, s.rem_euclid(second).get())));
    if step <= written {
        return written;
    }
    if step < Micros::SECOND && !moves(stamps) {
        return written;
    }
    let mut gaps: Vec<Micros> = stamps.windows(2).map(|w| w[1] - w[0]).collect();
    gaps.sort_unstable();
    let middle = gaps[gaps.len() / 2];
    let wavering = gaps.iter().filter(|g| (**g - middle).abs() == step).count();
    let wavers = wavering * OFTEN >= gaps.len();
    // A frame that the clock's own step puts off and the next takes back is no step of the timer's.
    let net =
        gaps.iter().map(|g| *g - middle).filter(|off| off.abs() == step).sum::<Micros>().div_euclid(step);
    let as_planned = planned_s.is_some_and(|planned| {
        let off = (planned * Micros::SECOND.get() as f64 - middle.get() as f64).abs() / step.get() as f64;
        let due = off * gaps.len() as f64;
        off < 0.5 && due >= ASKED_FOR && net != 0 && (net.abs() as f64 - due).abs() <= 1.0 + AS_DUE * due
    });
    if middle >= step * 2 || wavers || as_planned { step } else { written }
}

/// True where the stamps move through the second. A timer of whole seconds keeps its place in it, and one
/// stop makes that two: neither says how fine the clock is.
fn moves(stamps: &[Micros]) -> bool {
    let mut within: Vec<Micros> = stamps.iter().map(|s| s.rem_euclid(Micros::SECOND)).collect();
    let changes = within.windows(2).filter(|w| w[0] != w[1]).count();
    within.sort_unstable();
    within.dedup();
    within.len() > 2 || changes * OFTEN >= stamps.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    const HUNDREDTH: Micros = Micros::step_of(2);
    const TENTH: Micros = Micros::step_of(1);

    fn series(n: i64, interval: i64, step: Micros, phase: i64) -> Vec<Micros> {
        (0..n).map(|k| Micros::new(phase + k * interval).floored(step)).collect()
    }

    #[test]
    fn hundredths_that_are_always_zero_are_seconds() {
        assert_eq!(
            effective(&series(40, 5_013_000, Micros::SECOND, 370_000), HUNDREDTH, None),
            Micros::SECOND
        );
    }

    #[test]
    fn hundredths_that_move_in_tenths_are_tenths() {
        assert_eq!(effective(&series(40, 5_013_000, TENTH, 370_000), HUNDREDTH, None), TENTH);
    }

    #[test]
    fn an_exact_half_second_timer_says_nothing_about_its_clock() {
        assert_eq!(effective(&series(40, 500_000, HUNDREDTH, 0), HUNDREDTH, None), HUNDREDTH);
    }

    #[test]
    fn a_planned_interval_hardly_longer_than_a_second_tells_a_clock_of_seconds() {
        let stamps = series(200, 1_034_000, Micros::SECOND, 370_000);
        assert_eq!(effective(&stamps, HUNDREDTH, Some(1.034)), Micros::SECOND);
        assert_eq!(
            effective(&stamps, HUNDREDTH, None),
            HUNDREDTH,
            "one gap in thirty of two seconds may be a hole"
        );
    }

    #[test]
    fn a_timer_of_whole_seconds_that_stood_for_a_half_says_nothing_about_its_clock() {
        let mut stamps = series(80, 1_000_000, TENTH, 100_000);
        assert_eq!(effective(&stamps, TENTH, None), TENTH);
        stamps.iter_mut().skip(50).for_each(|s| *s += Micros::SECOND / 2);
        assert_eq!(effective(&stamps, TENTH, None), TENTH);
    }

    #[test]
    fn honest_hundredths_stay_so() {
        assert_eq!(effective(&series(40, 5_013_000, HUNDREDTH, 370_000), HUNDREDTH, None), HUNDREDTH);
        assert_eq!(effective(&series(5, 5_000_000, Micros::SECOND, 0), HUNDREDTH, None), HUNDREDTH);
    }
}
