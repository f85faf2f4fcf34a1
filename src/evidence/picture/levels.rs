//! What would level each frame: from the settings alone, and from the brightness of the pictures.

use crate::evidence::{Sequence, slots};
use crate::plan::Plan;
use crate::stats::local::smooth;
use crate::stats::median;

/// A change of the settings of more than this, EV, between neighbours is on purpose (a part with a filter,
/// another job) and is not smoothed over.
const ON_PURPOSE_EV: f64 = 1.5;
/// The smoothing reaches over this many steps of a ramp, on either side.
const STEPS_OVER: f64 = 1.5;
/// The smoothing reaches this far at least and at most, seconds of the clip, on either side.
const LEAST_S: f64 = 1.0;
const MOST_S: f64 = 10.0;
/// Frames on either side of which the median stands for a frame's brightness in the course that it is
/// levelled to.
const MEDIAN_HALF: usize = 2;
/// Levels that differ by less than this, EV, between neighbours level nothing: the smoothed course alone.
const MOVED_EV: f64 = 0.1;

/// EV to add to each frame, in capture order, so that the run is level; NaN where it is not known. Adding it
/// in developing (an exposure correction in linear light) turns the steps of a ramp into an even course.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Levels {
    /// From the settings alone: the course of what they let in, smoothed, less what they let in. NaN
    /// throughout (of a bracket, for that member) where the pictures show that it would make the clip worse:
    /// where the settings followed the light.
    pub settings_ev: Vec<f32>,
    /// From the brightness of the pictures: its smoothed course less the brightness of the frame.
    pub brightness_ev: Vec<f32>,
}

/// Works out the levels of the run.
pub fn levels(plan: &Plan, evidence: &Sequence) -> Levels {
    let n = evidence.frames.len();
    let mut levels = Levels { settings_ev: vec![f32::NAN; n], brightness_ev: vec![f32::NAN; n] };
    let fps = plan.delivery.played_fps();
    for frames in slots::by_member(plan, evidence) {
        let let_in: Vec<f64> =
            frames.iter().map(|at| evidence.exposure.ev100(*at).map_or(f64::NAN, |ev| -ev)).collect();
        let changes = let_in.windows(2).filter(|w| (w[1] - w[0]).abs() > 0.01).count();
        let plateau = frames.len() as f64 / (changes + 1) as f64;
        let half = (STEPS_OVER * plateau).clamp(LEAST_S * fps, MOST_S * fps) as usize;
        let mut start = 0;
        for end in 1..=frames.len() {
            let cut = end == frames.len() || (let_in[end] - let_in[end - 1]).abs() > ON_PURPOSE_EV;
            if !cut {
                continue;
            }
            let piece = &let_in[start..end];
            put(&mut levels.settings_ev, &frames[start..end], piece, &smooth(piece, half));
            let shown: Vec<f64> = frames[start..end]
                .iter()
                .map(|at| evidence.frame(*at).brightness_ev().unwrap_or(f64::NAN))
                .collect();
            if shown.iter().any(|b| !b.is_nan()) {
                let middle: Vec<f64> = (0..shown.len())
                    .map(|i| {
                        let around = i.saturating_sub(MEDIAN_HALF)..(i + MEDIAN_HALF + 1).min(shown.len());
                        median(shown[around].iter().copied()).unwrap_or(f64::NAN)
                    })
                    .collect();
                put(&mut levels.brightness_ev, &frames[start..end], &shown, &smooth(&middle, half));
            }
            start = end;
        }
        if worse(evidence, &frames, &levels.settings_ev) {
            frames.iter().for_each(|at| levels.settings_ev[*at] = f32::NAN);
        }
    }
    levels
}

/// True where the pictures step more, from frame to frame, with those levels than without.
fn worse(evidence: &Sequence, frames: &[usize], levels: &[f32]) -> bool {
    let (mut without, mut with) = (0.0, 0.0);
    for pair in frames.windows(2) {
        let shown = |at: usize| evidence.frame(at).brightness_ev();
        let (Some(a), Some(b)) = (shown(pair[0]), shown(pair[1])) else { continue };
        let levelled = f64::from(levels[pair[1]] - levels[pair[0]]);
        if levelled.abs() > MOVED_EV {
            without += (b - a).powi(2);
            with += (b - a + levelled).powi(2);
        }
    }
    with > without
}

fn put(levels: &mut [f32], frames: &[usize], values: &[f64], course: &[f64]) {
    for ((at, v), c) in frames.iter().zip(values).zip(course) {
        levels[*at] = (c - v) as f32;
    }
}
