//! What kind of flicker a course of deviations is.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use super::steps::LEAST_EV;
use crate::stats::local::rms;
use crate::stats::median;

/// What a flicker is like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Nature {
    /// Hardly anything.
    Still,
    /// Every other frame.
    Alternating,
    /// Each frame by itself.
    Random,
    /// It comes back after so many frames.
    Periodic(f64),
    /// A few single frames, and little else.
    Single,
    /// Over several frames to and fro: light that really changes, such as cloud.
    Slow,
}

impl Nature {
    /// The word in outputs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Still => "still",
            Self::Alternating => "alternating",
            Self::Random => "random",
            Self::Periodic(_) => "periodic",
            Self::Single => "single-frames",
            Self::Slow => "slow",
        }
    }
}

/// How far from the rest, in robust standard deviations, a single frame stands.
const ODD: f64 = 6.0;
/// Share of all energy that single frames hold where there is little else.
const ODD_ENERGY: f64 = 0.5;
/// Most single frames, as a share of all.
const ODD_SHARE: f64 = 0.03;
/// Correlation of neighbours beyond which frames alternate, or go together.
const ALTERNATING: f64 = -0.5;
const TOGETHER: f64 = 0.4;
/// Share of all energy in one line of the spectrum that makes it periodic.
const ONE_LINE: f64 = 0.45;
/// A period must come back this often.
const COMES_BACK: usize = 4;
/// The longest period that is one, frames: the local trend takes out what is longer.
const LONGEST: usize = 16;
/// The spectrum is taken over so many frames at most.
const SPECTRUM: usize = 1024;

/// A frame on which the course of one side runs out by less than this share of what it stands out by is a
/// turn of the course.
const ON_COURSE: f64 = 0.35;
/// What goes slowly is a pulse where each period looks so much like the next, as a correlation.
const LIKE_THE_LAST: f64 = 0.6;

/// What each frame stands out of its two neighbours on either side by, so that slow waves are not in the way;
/// NaN where none is known.
fn out_of_neighbours(deviation: &[f64]) -> Vec<f64> {
    let at = |i: Option<usize>| i.and_then(|i| deviation.get(i)).copied().filter(|d| !d.is_nan());
    (0..deviation.len())
        .map(|i| {
            let around = [i.checked_sub(2), i.checked_sub(1), Some(i + 1), Some(i + 2)];
            let middle = median(around.into_iter().filter_map(at));
            deviation.get(i).copied().unwrap_or(f64::NAN) - middle.unwrap_or(f64::NAN)
        })
        .collect()
}

/// What of `out` of frame `i` is its own: nothing where the course of either side leads to it, as with light
/// that turns there.
fn own(deviation: &[f64], i: usize, out: f64) -> f64 {
    let at = |i: Option<usize>| i.and_then(|i| deviation.get(i)).copied().filter(|d| !d.is_nan());
    let back = [1, 2, 3].map(|d| at(i.checked_sub(d)));
    let ahead = [1, 2, 3].map(|d| at(Some(i + d)));
    let now = deviation.get(i).copied().unwrap_or(f64::NAN);
    let slack = ON_COURSE * out.abs();
    let turns = [back, ahead]
        .into_iter()
        .any(|side| leads_to(side, slack).is_some_and(|course| (now - course).abs() < slack));
    if turns {
        return 0.0;
    }
    if [back[0], back[1], ahead[0], ahead[1]].iter().all(Option::is_some) || out.is_nan() {
        return out;
    }
    // Near an end the light may begin to change: there the nearest must bear it out.
    let nearest = now - median([back[0], ahead[0]].into_iter().flatten()).unwrap_or(f64::NAN);
    let borne_out = if out * nearest > 0.0 { out.signum() * out.abs().min(nearest.abs()) } else { 0.0 };
    let inside = back[0].is_some() && ahead[0].is_some();
    if inside || borne_out.abs() >= LEAST_EV { borne_out } else { 0.0 }
}

/// Where three values of one side, the nearest first, lead to, if their two steps differ by no more than
/// `slack`.
fn leads_to(side: [Option<f64>; 3], slack: f64) -> Option<f64> {
    let [Some(a), Some(b), Some(c)] = side else { return None };
    let (near, far) = (a - b, b - c);
    ((near - far).abs() < slack).then_some(a + near)
}

/// The single frames that stand out of their neighbours: farther than six robust standard deviations, and
/// than `floor_ev`.
pub fn odd_frames(deviation: &[f64], floor_ev: f64) -> Vec<usize> {
    odd_of(deviation, &out_of_neighbours(deviation), floor_ev)
}

fn odd_of(deviation: &[f64], out: &[f64], floor_ev: f64) -> Vec<usize> {
    let spread = 1.4826 * median(out.iter().map(|d| d.abs()).filter(|d| !d.is_nan())).unwrap_or(0.0);
    let limit = (ODD * spread).max(floor_ev);
    (0..out.len()).filter(|&i| out.get(i).is_some_and(|d| own(deviation, i, *d).abs() > limit)).collect()
}

/// What deviations from a local trend, EV, are like. `floor_ev` is what the source of the pictures makes by
/// itself, rms.
pub(crate) fn nature(deviation: &[f64], floor_ev: f64) -> Nature {
    let energy =
        |values: &mut dyn Iterator<Item = f64>| values.filter(|v| !v.is_nan()).map(|v| v * v).sum::<f64>();
    let out = out_of_neighbours(deviation);
    let all = energy(&mut out.iter().copied());
    let known = deviation.iter().filter(|d| !d.is_nan()).count();
    let odd = odd_of(deviation, &out, 4.0 * floor_ev);
    // A single frame stands out of a long still run without making it restless.
    let restless = rms(deviation.iter().copied()).is_some_and(|r| r > floor_ev);
    if known < 3 || (odd.is_empty() && !restless) {
        return Nature::Still;
    }
    let of_odd = energy(&mut odd.iter().filter_map(|i| out.get(*i).copied()));
    let few = odd.len() <= 3.max((ODD_SHARE * known as f64) as usize);
    if few && !odd.is_empty() && (of_odd >= ODD_ENERGY * all || !restless) {
        return Nature::Single;
    }
    if !restless {
        return Nature::Still;
    }
    let (mut product, mut pairs) = (0.0, 0.0);
    for pair in deviation.windows(2) {
        if let [a, b] = pair
            && !(a.is_nan() || b.is_nan())
        {
            product += a * b;
            pairs += f64::midpoint(a * a, b * b);
        }
    }
    let neighbours = if pairs > 0.0 { product / pairs } else { 0.0 };
    match period(deviation) {
        _ if neighbours < ALTERNATING => Nature::Alternating,
        Some(frames) if neighbours <= TOGETHER || comes_back(deviation, frames) => Nature::Periodic(frames),
        _ if neighbours > TOGETHER => Nature::Slow,
        _ => Nature::Random,
    }
}

/// True where each period is like the next: a line of the spectrum alone may be one bend of the light in a
/// short run.
fn comes_back(deviation: &[f64], frames: f64) -> bool {
    let later = frames.round() as usize;
    let (mut product, mut both) = (0.0, 0.0);
    for (a, b) in deviation.iter().zip(deviation.iter().skip(later)) {
        if !(a.is_nan() || b.is_nan()) {
            product += a * b;
            both += f64::midpoint(a * a, b * b);
        }
    }
    product > LIKE_THE_LAST * both
}

/// The period, frames, that holds most of the energy, where one does.
fn period(deviation: &[f64]) -> Option<f64> {
    let middle = deviation.len().saturating_sub(SPECTRUM) / 2;
    let part = || deviation.iter().skip(middle).take(SPECTRUM).map(|d| if d.is_nan() { 0.0 } else { *d });
    let n = part().count();
    // A bell, so that a period between two lines does not leak into all of them.
    let bell = |i: usize| 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos();
    // As fine as that of the pictures, so that the transforms are built for one kind of number.
    let mut belled: Vec<f32> = part().enumerate().map(|(i, d)| (d * bell(i)) as f32).collect();
    let transform = RealFftPlanner::new().plan_fft_forward(n.max(1));
    let mut lines = transform.make_output_vec();
    transform.process(&mut belled, &mut lines).ok()?;
    let powers: Vec<f64> = lines.iter().map(|line| f64::from(Complex::norm_sqr(line))).collect();
    let all: f64 = powers.iter().skip(1).sum();
    let top = (COMES_BACK.max(n / LONGEST)..powers.len()).max_by(|a, b| powers[*a].total_cmp(&powers[*b]))?;
    let line: f64 = powers.get(top.saturating_sub(2)..(top + 3).min(powers.len()))?.iter().sum();
    // A short run has few lines, of which five always hold a good part.
    (n >= 24 && line >= ONE_LINE.max(8.0 / powers.len() as f64) * all && all > 0.0)
        .then(|| n as f64 / top as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn noise(n: usize) -> Vec<f64> {
        let mut x = 12_345_u32;
        let mut next = || {
            x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(x >> 8) / f64::from(1 << 24) - 0.5
        };
        (0..n).map(|_| next() + next() + next()).collect()
    }

    fn scaled(values: Vec<f64>, by: f64) -> Vec<f64> {
        values.into_iter().map(|v| v * by).collect()
    }

    /// Slow light that turns, at a corner or into a level, is no frame alone, and one bend of it is no pulse;
    /// up to three frames that come and go at once are told.
    #[test]
    fn light_that_turns_is_told_from_frames_alone() {
        let fall = |k: i32| -0.08 * f64::from((k - 20).clamp(0, 10));
        let there_and_back = |k: i32| fall(k) - fall(k - 10);
        let course: Vec<f64> = (0..60).map(there_and_back).collect();
        assert!(odd_frames(&course, 0.02).is_empty(), "{:?}", odd_frames(&course, 0.02));
        assert_eq!(nature(&course, 0.005), Nature::Slow);
        for count in 1..=3 {
            let dip: Vec<f64> =
                (0..60).map(|k| if (30..30 + count).contains(&k) { -0.1 } else { 0.0 }).collect();
            assert_eq!(odd_frames(&dip, 0.02), (30..30 + count).collect::<Vec<_>>());
            assert_eq!(nature(&dip, 0.005), Nature::Single);
        }
        // At an end: from the smallest step on.
        for (ev, told) in [(0.09, vec![]), (0.11, vec![59])] {
            let end: Vec<f64> = (0..60).map(|k| if k == 59 { ev } else { 0.0 }).collect();
            assert_eq!(odd_frames(&end, 0.02), told);
        }
    }

    #[test]
    fn each_kind_is_told() {
        let tau = std::f64::consts::TAU;
        let wave = |p: f64| (0..200).map(|k| 0.1 * (tau * f64::from(k) / p).sin()).collect::<Vec<_>>();
        assert_eq!(nature(&scaled(noise(200), 0.1), 0.004), Nature::Random);
        assert_eq!(nature(&scaled(noise(200), 0.001), 0.004), Nature::Still);
        let alternating: Vec<f64> = (0..100).map(|k| if k % 2 == 0 { 0.03 } else { -0.03 }).collect();
        assert_eq!(nature(&alternating, 0.004), Nature::Alternating);
        for p in [3.0, 5.3, 8.0] {
            match nature(&wave(p), 0.004) {
                Nature::Periodic(got) => assert!((got - p).abs() < 0.2, "{p}: {got}"),
                other => panic!("{p}: {other:?}"),
            }
        }
        let mut single = scaled(noise(200), 0.002);
        single[77] = 0.4;
        assert_eq!(nature(&single, 0.004), Nature::Single);
        assert_eq!(odd_frames(&single, 0.016), [77]);
        // On slow waves too, which hold more of the energy than it does.
        let mut waves: Vec<f64> = (0..200).map(|k| 0.03 * (tau * f64::from(k) / 40.0).sin()).collect();
        waves[77] += 0.06;
        assert_eq!((nature(&waves, 0.004), odd_frames(&waves, 0.016)), (Nature::Single, vec![77]));
        let slow: Vec<f64> = noise(220).windows(9).map(|w| w.iter().sum::<f64>() / 9.0).collect();
        assert_eq!(nature(&slow, 0.004), Nature::Slow);
        assert_eq!(nature(&[], 0.004), Nature::Still);
    }
}
