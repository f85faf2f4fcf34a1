//! File numbers as evidence. Source: DCF (CIPA DC-009): numbers run from 0001 to 9999, 0000 is none, 9999 is
//! followed by 0001.

use super::HoleCause;
use crate::frames::{Frames, advance};
use crate::units::Micros;

/// By how much the number advances from frame `from` to frame `to`; `None` where a name is not a camera's, or
/// a program other than the camera wrote the file.
pub fn between(frames: &Frames, from: usize, to: usize) -> Option<i64> {
    if frames.rows[from].edited || frames.rows[to].edited {
        return None;
    }
    Some(advance(frames.card.shots[from].number?, frames.card.shots[to].number?))
}

/// Why `slots` empty slots are empty, by how far the numbers advance across them and by their usual advance
/// per slot.
pub fn cause(advance: Option<i64>, usual: Option<i64>, slots: u64) -> HoleCause {
    match (advance, usual) {
        (Some(n), Some(r)) if n == r => HoleCause::TriggerMissed,
        (Some(n), Some(r)) if Some(n) == r.checked_mul(slots as i64 + 1) => HoleCause::FileLost,
        _ => HoleCause::Unknown,
    }
}

/// The usual advance: the commonest of `steps`, where most agree on it and it leads forward.
pub fn usual(steps: impl Iterator<Item = i64>) -> Option<i64> {
    let mut sorted: Vec<i64> = steps.collect();
    sorted.sort_unstable();
    let (mut best, mut best_count) = (0, 0);
    for group in sorted.chunk_by(|a, b| a == b) {
        if group.len() > best_count {
            (best, best_count) = (group[0], group.len());
        }
    }
    (best > 0 && best_count * 5 >= sorted.len() * 3).then_some(best)
}

/// A timer's own errors: a gap that misses its numbers' time by no more than this share of one number's is
/// that time. Gaps that have nothing to do with the numbers do so at one step in twenty. Common practice, no
/// source.
const JITTER: f64 = 0.03;
/// Steps of the numbers that a pace is told from at least, and how many of the longest each propose one.
const ENOUGH: usize = 6;
const PROPOSALS: usize = 32;

/// The usual advance a slot: the commonest of the steps where most agree on it, else the one by which numbers
/// and gaps agree. `steps` are (advance of the number, gap) of neighbouring frames, `resolution` the
/// stamps' step.
///
/// Of a culled run few steps are alike, but every gap is the same time for each number: that pace is looked
/// for, and the largest step that all of its steps are multiples of is the advance.
pub fn per_slot(steps: &[(i64, Micros)], resolution: Micros) -> Option<i64> {
    if let Some(usual) = usual(steps.iter().map(|s| s.0)) {
        return Some(usual);
    }
    let forward: Vec<(i64, Micros)> =
        steps.iter().copied().filter(|(n, gap)| *n > 0 && *gap > Micros::ZERO).collect();
    if forward.len() < ENOUGH {
        return None;
    }
    // A gap of many numbers tells their pace best: of those that as many agree with, the longest is taken.
    let mut longest = forward.clone();
    longest.sort_unstable_by_key(|(n, _)| std::cmp::Reverse(*n));
    let agree = |step: (i64, Micros), of: (i64, Micros)| {
        // |gap − n·pace| within what two windows, and the timer, leave open on both of the steps.
        let (n, m) = (step.0 as f64, of.0 as f64);
        let pace = of.1.get() as f64 / m;
        let open = (resolution.get() as f64).max(JITTER * pace);
        (step.1.get() as f64 - n * pace).abs() <= open * (1.0 + n / m)
    };
    let agreeing =
        |of: (i64, Micros)| -> Vec<_> { forward.iter().copied().filter(|s| agree(*s, of)).collect() };
    let proposed = longest.iter().copied().take(PROPOSALS).rev();
    let one_pace = proposed.map(agreeing).max_by_key(Vec::len)?;
    // A timer that was set anew keeps one pace after another: each step is compared with those beside it.
    let several = || {
        let beside = |at: usize| {
            let before = at.checked_sub(1).is_some_and(|b| agree(forward[at], forward[b]));
            before || forward.get(at + 1).is_some_and(|after| agree(forward[at], *after))
        };
        (0..forward.len()).filter(|at| beside(*at)).map(|at| forward[at]).collect()
    };
    let most = |alike: &Vec<(i64, Micros)>| alike.len() * 5 >= steps.len() * 3;
    let alike = Some(one_pace).filter(most).or_else(|| Some(several()).filter(most))?;
    let advance = alike.iter().map(|s| s.0).fold(0, gcd);
    // Where a slot is no longer than the clock's step any number would agree.
    let pace = |(n, gap): &(i64, Micros)| gap.get() as f64 / *n as f64;
    let slot = alike.iter().max_by_key(|s| s.0).map_or(0.0, pace) * advance as f64;
    (slot > 1.3 * resolution.get() as f64).then_some(advance)
}

/// The largest number that divides both; either may be 0.
pub(super) fn gcd(mut a: i64, mut b: i64) -> i64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::FileNumber;

    fn dcf(value: u32) -> FileNumber {
        FileNumber { value, digits: 4 }
    }

    /// Roll-over of DCF numbers (CIPA DC-009: 0001 follows 9999).
    #[test]
    fn numbers_wrap() {
        for (from, to, step) in [
            (9999, 0, 1),
            (0, 1, 1),
            (9998, 2, 3),
            (9999, 1, 1),
            (120, 124, 4),
            (1, 1, 0),
            (124, 120, -4),
            (1, 9999, -1),
        ] {
            assert_eq!(advance(dcf(from), dcf(to)), step, "{from} to {to}");
        }
    }

    /// Every gap is 5 s for each number, and no two steps need be alike: the advance is 1; with triplets it
    /// is 3.
    #[test]
    fn a_culled_run_tells_its_advance_by_the_gaps() {
        for advance in [1, 3] {
            let steps: Vec<(i64, Micros)> = [4, 3, 8, 4, 6, 6, 6, 8, 6, 9, 4, 8, 2, 1]
                .map(|n| (n * advance, Micros::from_seconds(n * 5)))
                .to_vec();
            assert_eq!(per_slot(&steps, Micros::SECOND), Some(advance));
        }
        // By hand: the gaps have nothing to do with the numbers.
        let steps: Vec<(i64, Micros)> = [(4, 3), (3, 40), (8, 9), (4, 77), (6, 2), (5, 31), (9, 12), (2, 55)]
            .map(|(n, s)| (n, Micros::from_seconds(s)))
            .to_vec();
        assert_eq!(per_slot(&steps, Micros::SECOND), None);
    }

    /// An interval of one and a half steps of the clock: frames 0 to 24 of which a good third was taken out.
    #[test]
    fn a_culled_run_near_the_clock_s_step_tells_its_advance() {
        let kept = [0, 1, 3, 4, 5, 8, 10, 12, 16, 18, 19, 21, 24];
        let at = |k: i64| Micros::from_seconds(k * 3 / 2);
        let steps: Vec<(i64, Micros)> = kept.windows(2).map(|w| (w[1] - w[0], at(w[1]) - at(w[0]))).collect();
        assert_eq!(per_slot(&steps, Micros::SECOND), Some(1));
    }

    /// Every other frame was taken out, the stamps are fine, and the timer is early or late by 0.2 % of its
    /// interval.
    #[test]
    fn a_timer_s_own_errors_part_no_numbers_from_their_gaps() {
        let steps: Vec<(i64, Micros)> = [1, 2, 1, 3, 2, 1, 4, 2, 1, 2]
            .iter()
            .zip([60, -90, 0, 120, -20, 80, -70, 110, -40, 10])
            .map(|(n, off_ms)| (*n, Micros::new(n * 29_530_000 + off_ms * 1000)))
            .collect();
        assert_eq!(per_slot(&steps, Micros::new(1000)), Some(1));
    }

    /// Two thirds of the way the timer was set to three times the interval; two files in five are gone.
    #[test]
    fn a_new_interval_parts_no_numbers_from_their_gaps() {
        let numbers = [1, 3, 2, 1, 2, 4, 1, 2, 3, 2, 1, 2, 5, 2, 1];
        let steps: Vec<(i64, Micros)> = numbers
            .iter()
            .enumerate()
            .map(|(at, n)| (*n, Micros::from_seconds(n * if at < 8 { 7 } else { 21 })))
            .collect();
        assert_eq!(per_slot(&steps, Micros::new(10_000)), Some(1));
    }

    #[test]
    fn the_usual_advance_is_what_most_steps_agree_on() {
        assert_eq!(usual([1, 1, 1, 4, 1].into_iter()), Some(1));
        assert_eq!(usual([2, 2, 2].into_iter()), Some(2));
        assert_eq!(usual([1, 2, 3, 4].into_iter()), None);
        assert_eq!(usual([0, 0, 0].into_iter()), None);
        assert_eq!(usual(std::iter::empty()), None);
    }
}
