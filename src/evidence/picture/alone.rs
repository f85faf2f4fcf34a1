//! A frame that stands out of those beside it.

use super::{AREAS, Course};
use crate::evidence::Sequence;
use crate::stats::median;

/// An area is compared with itself where its luminance lies between these.
pub(super) const AREA_LIGHT: std::ops::RangeInclusive<f32> = 0.004..=0.9;

/// Neighbours that stand out with a frame.
const LONGEST: usize = 2;

/// By how much a frame stands out of its two neighbours on either side as the clip shows it, EV; infinite
/// where that is not known.
pub fn out_of_clip(evidence: &Sequence, course: &Course, at: usize) -> f64 {
    let shown = |at: usize| evidence.frame(at).brightness_ev();
    let Some(i) = course.frames.iter().position(|f| *f == at) else { return f64::INFINITY };
    let beside = beside(course, i, 2).into_iter().filter_map(shown);
    match (shown(at), median(beside)) {
        (Some(now), Some(middle)) => now - middle,
        _ => f64::INFINITY,
    }
}

/// So many frames on either side of the course's frame `i`, those left out that stand out themselves.
fn beside(course: &Course, i: usize, each: usize) -> Vec<usize> {
    let plain = |at: &&usize| !course.unexplained.worst.iter().any(|(odd, _)| odd == *at);
    let (back, ahead) = course.frames.split_at(i);
    let back = back.iter().rev().take(each + LONGEST).filter(plain).take(each);
    let ahead = ahead.iter().skip(1).take(each + LONGEST).filter(plain).take(each);
    back.chain(ahead).copied().collect()
}

/// How much of the `ev` by which a frame is set off from the ones beside it the middle one of its areas
/// shows, 0 to 1, settings taken out: near 1 the aperture, the shutter or the one light; near 0 something in
/// a part of the picture.
pub fn alike_at(evidence: &Sequence, course: &Course, at: usize, ev: f64) -> f64 {
    let Some(i) = course.frames.iter().position(|f| *f == at) else { return 1.0 };
    let around = beside(course, i, 1);
    let let_in = |at: usize| evidence.exposure.ev100(at).unwrap_or(0.0);
    let Some(now) = evidence.frames.look(at) else { return 1.0 };
    let mut ratios = Vec::new();
    for beside in around {
        let Some(look) = evidence.frames.look(beside) else { continue };
        let by_settings =
            if course.settings_known { course.response * (let_in(beside) - let_in(at)) } else { 0.0 };
        ratios.extend((0..AREAS).filter_map(|area| {
            let (a, b) = (look.areas.luminance(area), now.areas.luminance(area));
            let tells = AREA_LIGHT.contains(&a) && AREA_LIGHT.contains(&b);
            tells.then(|| f64::from(b / a).log2() - by_settings)
        }));
    }
    match median(ratios.iter().copied()).filter(|_| ratios.len() >= AREAS / 4) {
        Some(middle) if ev != 0.0 => (middle / ev).clamp(0.0, 1.0),
        _ => 1.0,
    }
}
