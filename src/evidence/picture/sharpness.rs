//! Sharpness from frame to frame, free of contrast, against its own local trend.

use super::{Pictured, steps};
use crate::stats::local::{rms, robust_line, smooth};
use crate::stats::median;

/// Frames around one that its sharpness is compared with, on either side.
const HALF: usize = 12;
/// Slow courses are told from the mean of so many frames on either side.
const SLOW_HALF: usize = 15;
/// Contrast, codes, under which sharpness is not told: fog, a lens cap, the dark.
const LEAST_CONTRAST: f32 = 6.0;

/// How sharp the run was is told from so many frames before a step: what visits the picture for less than
/// half of them does not count.
const LATELY: usize = 4 * HALF;
/// How sharp it is after a step is told from so many frames.
const AFTER: usize = 6;
/// The run is again as sharp as it was where this share of the step is left, or less.
const AS_BEFORE: f64 = 0.3;

/// A frame, or the first of a stretch, that is softer than what is around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dip {
    /// Position in capture order.
    pub at: usize,
    /// By how much, as log2 of the sharpness; negative is softer.
    pub by: f64,
}

/// Sharpness of the run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SharpnessTrack {
    /// Single frames against their local trend, softer ones only, as far as they stand out.
    pub dips: Vec<Dip>,
    /// Places from which on it is another: a knock, a shift of focus. The frame after, and by how much.
    pub steps: Vec<Dip>,
    /// How far the smooth course falls from its best to its end, as log2 (0 or negative), where it falls all
    /// the way.
    pub slow_fall: f64,
    /// Position from which it falls.
    pub falls_from: usize,
    /// Unrest of the frames around their trend, log2, robust.
    pub unrest: f64,
}

/// A course falls where it does so by this much, log2: a third of what is told.
const FALLS: f64 = -0.5;
/// How far below its neighbours, in robust standard deviations, a frame stands out.
const STANDS_OUT: f64 = 6.0;

pub(crate) fn sharpness(told: Pictured<'_>, members: &[Vec<usize>], _fps: f64) -> SharpnessTrack {
    let mut track = SharpnessTrack::default();
    for (k, frames) in members.iter().enumerate() {
        // Only like with like: another source or size has another sharpness.
        let size = frames.iter().find_map(|at| told.frames.look(*at)).map(|l| (l.source, l.size));
        let values: Vec<f64> = frames
            .iter()
            .map(|at| match told.frames.look(*at) {
                Some(l)
                    if Some((l.source, l.size)) == size
                        && l.sharpness > 0.0
                        && l.contrast >= LEAST_CONTRAST =>
                {
                    f64::from(l.sharpness).log2()
                }
                _ => f64::NAN,
            })
            .collect();
        one(&mut track, frames, &values);
        if k == 0 {
            slow(&mut track, frames, &values, &fine(told, frames, &values));
        }
    }
    track.dips.sort_by_key(|d| d.at);
    track.steps.sort_by_key(|d| d.at);
    track
}

fn one(track: &mut SharpnessTrack, frames: &[usize], values: &[f64]) {
    let found = steps::find(values);
    let mut start = 0;
    let mut deviation = vec![f64::NAN; values.len()];
    for cut in found.iter().map(|s| s.0).chain([values.len()]) {
        let piece = &values[start..cut];
        for (i, (v, line)) in piece.iter().zip(robust_line(piece, HALF)).enumerate() {
            deviation[start + i] = v - line;
        }
        start = cut;
    }
    let unrest = 1.4826 * median(deviation.iter().map(|d| d.abs())).unwrap_or(0.0);
    track.unrest = track.unrest.max(unrest);
    let stands = (0..values.len()).filter(|i| deviation[*i] < -STANDS_OUT * unrest && deviation[*i] < 0.0);
    track.dips.extend(stands.map(|i| Dip { at: frames[i], by: deviation[i] }));
    let own = found.iter().filter(|(i, by)| !back(values, *i, *by));
    track.steps.extend(own.map(|(i, by)| Dip { at: frames[*i], by: *by }));
}

/// Whether a step to softer only takes the run back to what most of it was before: what came into the picture
/// was sharper than the scene, and left. A few soft frames before are no such thing.
fn back(values: &[f64], at: usize, by: f64) -> bool {
    let level = |of: &[f64]| median(of.iter().copied().filter(|v| !v.is_nan()));
    let before = level(&values[at.saturating_sub(LATELY)..at]);
    let after = level(&values[at..values.len().min(at + AFTER)]);
    by < 0.0 && before.zip(after).is_some_and(|(before, after)| before - after <= AS_BEFORE * by.abs())
}

/// Sharpness free of noise of each frame, as it shows with the one before it; NaN where it is not told.
fn fine(told: Pictured<'_>, frames: &[usize], values: &[f64]) -> Vec<f64> {
    let of = |pair: &[usize]| told.frames.between(pair[0], pair[1]).map_or(f64::NAN, |b| f64::from(b.fine));
    let pairs = frames.windows(2).map(of);
    let told = std::iter::once(f64::NAN).chain(pairs).zip(values);
    told.map(|(fine, value)| if value.is_nan() { f64::NAN } else { fine }).collect()
}

/// How far the smooth course falls, of `values` or, where those fall at all, of what is free of noise: noise
/// is as sharp as ever, and hides how soft the rest became. By itself the latter would also fall where a
/// camera travels ever faster.
fn slow(track: &mut SharpnessTrack, frames: &[usize], values: &[f64], fine: &[f64]) {
    let own = falls(values);
    let free = falls(fine).filter(|_| own.is_some_and(|f| f.1 <= FALLS));
    let least = |a: &(usize, f64), b: &(usize, f64)| a.1.total_cmp(&b.1);
    if let Some((from, by)) = own.into_iter().chain(free).min_by(least) {
        (track.falls_from, track.slow_fall) = (frames[from], by);
    }
}

/// From where a course falls all the way to its end, and by how much, steps left out.
fn falls(values: &[f64]) -> Option<(usize, f64)> {
    let even = smooth(values, SLOW_HALF);
    let known: Vec<(usize, f64)> = even.iter().copied().enumerate().filter(|(_, v)| !v.is_nan()).collect();
    let best = known.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let last = known.last()?;
    // All the way: what rises again on the way is a scene that changes, not a lens that fogs.
    let ups = rms(known.windows(2).map(|w| (w[1].1 - w[0].1).max(0.0)).skip(best.0)).unwrap_or(0.0);
    let downs = rms(known.windows(2).map(|w| (w[1].1 - w[0].1).min(0.0)).skip(best.0)).unwrap_or(0.0);
    // What it falls by at once is told as steps.
    let steps = steps::find(values);
    let at_once: f64 = steps.iter().filter(|s| s.0 > best.0).map(|s| s.1).sum();
    (ups < 0.35 * downs).then_some((best.0, last.1 - best.1 - at_once))
}
