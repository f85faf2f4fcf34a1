//! Whether frames of another camera could be a run of their own.

use crate::frames::{FileNumber, advance};
use crate::units::Micros;

/// Frames at one pace that could be a run. Common practice, no source: fewer are a slate, a test, a snap.
const FEW: usize = 6;
/// Neighbouring gaps at a pace differ by no more than this share of the usual gap, and one step of the
/// stamps.
const ALIKE: f64 = 0.1;
/// Frames of a pace must be this share of the camera's frames: a burst among many snaps makes no run.
const SHARE: f64 = 1.0 / 3.0;
/// Largest bracket that is tried.
const BRACKET: usize = 9;
/// So many frames of a culled run have to stand on one grid, by this share of their gaps, for an interval of
/// so many steps of the stamps.
const CULLED: usize = 12;
const ON_GRID: f64 = 0.9;
const STEPS: f64 = 4.0;
/// So many frames at no steady pace still are a run, where this share of their gaps lies within this factor
/// of the middle one.
const MANY: usize = 30;
const MOST: f64 = 0.9;
const FACTOR: i64 = 3;

/// When a frame was shot.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Moment {
    /// Its stamp.
    pub at: Micros,
    /// The step of the stamp.
    pub step: Micros,
    /// The number in its name.
    pub number: Option<FileNumber>,
}

/// True where frames could be those of a run: six at a pace, the remains of a culled run (on one grid, or by
/// numbers that keep pace with the stamps), many at much the same distance. Random snaps are none of these.
/// `moments` come in order of time; of `frames` in all, those without a stamp are not among them. Where most
/// have none, nothing speaks against a run.
pub(crate) fn could_be_a_run(moments: &[Moment], frames: usize) -> bool {
    if frames >= CULLED && moments.len() * 2 < frames {
        return true;
    }
    if moments.len() < FEW {
        return false;
    }
    paced(moments) || on_a_grid(moments) || numbers_keep_pace(moments) || hangs_together(moments)
}

fn gaps(stamps: &[Moment]) -> Vec<Micros> {
    stamps.windows(2).map(|w| w[1].at - w[0].at).collect()
}

fn step(stamps: &[Moment]) -> Micros {
    stamps.iter().map(|s| s.step).max().unwrap_or_default()
}

/// Files were taken out of a run: from one to the next, numbers and stamps advance in one ratio.
fn numbers_keep_pace(stamps: &[Moment]) -> bool {
    let step = step(stamps).get() as f64;
    let pace = |w: &[Moment]| {
        let by = advance(w[0].number?, w[1].number?);
        (by > 0).then(|| ((w[1].at - w[0].at).get() as f64, by as f64))
    };
    let steps: Vec<(f64, f64)> = stamps.windows(2).filter_map(pace).collect();
    let mut ratios: Vec<f64> = steps.iter().map(|(gap, by)| gap / by).collect();
    ratios.sort_by(f64::total_cmp);
    let Some(interval) = ratios.get(ratios.len() / 2).copied().filter(|r| *r > 0.0) else { return false };
    let on =
        steps.iter().filter(|(gap, by)| (gap - by * interval).abs() <= step.max(ALIKE * interval)).count();
    on + 1 >= CULLED && on as f64 >= ON_GRID * (stamps.len() - 1) as f64
}

/// The longest row of frames whose gaps repeat (with brackets: set by set) is long enough, in itself and
/// beside the rest.
fn paced(stamps: &[Moment]) -> bool {
    let (gaps, step) = (gaps(stamps), step(stamps));
    let needed = (stamps.len() as f64 * SHARE).ceil() as usize;
    (1..=BRACKET.min(stamps.len() / FEW)).any(|set| {
        let (mut row, mut longest) = (0_usize, 0_usize);
        for at in 0..gaps.len().saturating_sub(set) {
            let whole: Micros = gaps[at..at + set].iter().copied().sum();
            let usual = whole.get() as f64 / set as f64;
            let differ = (gaps[at + set] - gaps[at]).abs().get() as f64;
            let alike = whole > Micros::ZERO && differ <= (ALIKE * usual).max(step.get() as f64);
            row = if alike { row + 1 } else { 0 };
            longest = longest.max(row);
        }
        // A row of n agreements is n + set gaps, and one frame more.
        let frames = if longest == 0 { 0 } else { longest + set + 1 };
        frames >= (FEW * set).max(needed)
    })
}

/// Frames that were thinned out stand at whole multiples of one interval.
fn on_a_grid(stamps: &[Moment]) -> bool {
    if stamps.len() < CULLED {
        return false;
    }
    let (gaps, step) = (gaps(stamps), step(stamps).get() as f64);
    let gaps: Vec<f64> = gaps.into_iter().map(|gap| gap.get() as f64).collect();
    let mut sorted: Vec<f64> = gaps.iter().copied().filter(|g| *g > 0.0).collect();
    sorted.sort_by(f64::total_cmp);
    let Some(shortest) = sorted.get(sorted.len() / 10).copied() else { return false };
    let near: Vec<f64> = sorted.iter().copied().filter(|g| *g <= 1.5 * shortest).collect();
    let Some(interval) = near.get(near.len() / 2).copied() else { return false };
    if interval < STEPS * step.max(1.0) {
        return false;
    }
    let on = |gap: &&f64| {
        let turns = (**gap / interval).round();
        turns >= 1.0 && (**gap - turns * interval).abs() <= step.max(0.08 * interval)
    };
    gaps.iter().filter(on).count() as f64 >= ON_GRID * gaps.len() as f64
}

fn hangs_together(stamps: &[Moment]) -> bool {
    let mut gaps = gaps(stamps);
    if stamps.len() < MANY {
        return false;
    }
    gaps.sort_unstable();
    let middle = gaps[gaps.len() / 2];
    let alike = gaps
        .iter()
        .filter(|g| **g > Micros::ZERO && **g <= middle * FACTOR && **g * FACTOR >= middle)
        .count();
    middle > Micros::ZERO && alike as f64 >= MOST * gaps.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: &[i64]) -> Vec<Moment> {
        seconds
            .iter()
            .map(|s| Moment { at: Micros::from_seconds(*s), step: Micros::SECOND, number: None })
            .collect()
    }

    fn could_be_a_run(moments: &[Moment]) -> bool {
        super::could_be_a_run(moments, moments.len())
    }

    /// A timer of 1.3 s on a clock of whole seconds, of which two thirds of the files were taken out.
    #[test]
    fn numbers_tell_a_culled_run_of_a_short_interval() {
        let kept = [0_u32, 1, 5, 9, 10, 14, 21, 22, 30, 31, 39, 41, 44, 52, 53, 60];
        let numbered = |numbers: &dyn Fn(usize, u32) -> u32| -> Vec<Moment> {
            let number = |n, k| Some(FileNumber { value: numbers(n, k), digits: 4 });
            let at = |k: u32| Micros::from_seconds(i64::from(k * 13 / 10));
            kept.iter()
                .enumerate()
                .map(|(n, k)| Moment { at: at(*k), step: Micros::SECOND, number: number(n, *k) })
                .collect()
        };
        assert!(could_be_a_run(&numbered(&|_, k| 100 + k)));
        assert!(!could_be_a_run(&numbered(&|n, _| 100 + n as u32)), "numbers that run on say nothing of it");
    }

    #[test]
    fn frames_without_stamps_may_be_anything() {
        assert!(super::could_be_a_run(&[], 12));
        assert!(!super::could_be_a_run(&[], 11));
    }

    #[test]
    fn six_at_a_pace_are_a_run_and_five_are_none() {
        assert!(could_be_a_run(&at(&[0, 10, 20, 30, 40, 50])));
        assert!(!could_be_a_run(&at(&[0, 10, 20, 30, 40])));
        // A timer of 2.4 s on a clock of whole seconds.
        assert!(could_be_a_run(&at(&[0, 2, 4, 7, 9, 12, 14])));
    }

    #[test]
    fn snaps_are_no_run() {
        assert!(!could_be_a_run(&at(&[0, 41, 300, 311, 900, 2000, 2300, 5000])));
        // Six of a burst among many.
        let mut all = vec![0, 2, 4, 6, 8, 10];
        all.extend([60, 300, 340, 900, 1400, 1430, 2100, 3300, 3350, 3900, 5200, 5230, 6000, 7700, 7750]);
        assert!(!could_be_a_run(&at(&all)));
        assert!(!could_be_a_run(&at(&[5; 12])), "copies of one moment");
    }

    #[test]
    fn brackets_and_culled_runs_are_runs() {
        let bracketed: Vec<i64> = (0..8).flat_map(|k| [k * 20, k * 20, k * 20 + 1]).collect();
        assert!(could_be_a_run(&at(&bracketed)));
        let culled = [0, 3, 4, 8, 9, 11, 15, 16, 21, 22, 26, 30, 31].map(|k| k * 10);
        assert!(could_be_a_run(&at(&culled)));
    }
}
