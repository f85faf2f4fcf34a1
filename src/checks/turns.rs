//! Turns of the carriage that the plan names, and the way of a picture that was stored on its side.

use super::parts::Parts;
use crate::evidence::Evidence;
use crate::evidence::movement::MovementTrack;
use crate::plan::{Plan, Way};
use std::ops::Range;

/// The steps in which the plan has the carriage go back on its first way.
pub fn planned_back(plan: &Plan, evidence: &Evidence, track: &MovementTrack) -> Vec<Range<usize>> {
    let Some(first) = first_way(plan) else { return Vec::new() };
    let parts = Parts::new(plan, evidence);
    let mut spans: Vec<Range<usize>> = Vec::new();
    for (step, (_, after)) in track.steps.iter().enumerate() {
        if parts.at(*after).direction == Some(first.back()) {
            match spans.last_mut() {
                Some(span) if span.end == step => span.end = step + 1,
                _ => spans.push(step..step + 1),
            }
        }
    }
    spans
}

/// The way on which the plan begins: the rig's, or the other way of the first part that names one.
fn first_way(plan: &Plan) -> Option<Way> {
    plan.rig.direction.or_else(|| plan.parts.iter().find_map(|p| p.direction).map(Way::back))
}

/// A move across the picture as it is stored, turned upright by the camera's orientation tag (Exif 2.32, tag 0112); `None` where it is
/// mirrored.
pub fn upright((x, y): (f64, f64), orientation: Option<u8>) -> Option<(f64, f64)> {
    match orientation {
        None | Some(1) => Some((x, y)),
        Some(3) => Some((-x, -y)),
        Some(6) => Some((-y, x)),
        Some(8) => Some((y, -x)),
        _ => None,
    }
}
