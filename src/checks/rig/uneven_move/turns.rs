//! What the pictures show of the carriage against the plan's turns, direction and step; and the way of a
//! picture that was stored on its side.

use crate::checks::Case;
use crate::checks::common::{number, over};
use crate::evidence::movement::{MovementTrack, ShownBy};
use crate::finding::{CauseCode, Finding, Severity};
use crate::plan::{Choice, Plan, Way};
use crate::schedule::Schedule;
use crate::units::FrameSpan;
use std::ops::Range;

const DIRECTION: CauseCode = CauseCode::new("direction");

/// Share of a move that lies along a way for the carriage to be said to travel it.
const ALONG: f64 = 0.7;
/// How far measured and expected step may lie apart before it is worth a note, as a factor.
const APART: f64 = 1.5;

/// The steps in which the plan has the carriage go back on its first way.
pub(crate) fn planned_back(plan: &Plan, schedule: &Schedule, track: &MovementTrack) -> Vec<Range<usize>> {
    let Some(first) = first_way(plan) else { return Vec::new() };
    let mut spans: Vec<Range<usize>> = Vec::new();
    for (step, (_, after)) in track.steps.iter().enumerate() {
        if schedule.at(*after).direction == Some(first.back()) {
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

/// A move across the picture as it is stored, turned upright by the camera's orientation tag (Exif 2.32, tag
/// 0112); `None` where it is mirrored.
pub(crate) fn upright((x, y): (f64, f64), orientation: Option<u8>) -> Option<(f64, f64)> {
    match orientation {
        None | Some(1) => Some((x, y)),
        Some(3) => Some((-x, -y)),
        Some(6) => Some((-y, x)),
        Some(8) => Some((y, -x)),
        _ => None,
    }
}

/// A picture that moves another way than the plan's direction lets it.
pub(crate) fn other_way(check: &'static str, case: &Case<'_>, track: &MovementTrack) -> Option<Finding> {
    let planned = case.plan.rig.direction?;
    let ShownBy::Layer(layer) = track.shown_by()? else { return None };
    let first = track.steps.first()?.0;
    let (x, y) = upright(layer.pace, case.evidence.frame_if_any(first)?.row().orientation.known())?;
    let along = |way: Way| (x * way.of_picture().0 + y * way.of_picture().1) / layer.speed();
    if along(planned) >= ALONG {
        return None;
    }
    let seen = Way::ALL.iter().find(|w| along(w.1) >= ALONG)?;
    let message = format!(
        "The picture moves as if the carriage travelled {}; the plan says {}.",
        seen.0,
        planned.written()
    );
    let FrameSpan { first, last } = track.frames_of(&(0..track.steps.len()))?;
    let finding = Finding::new(check, Severity::Caution, message)
        .because(DIRECTION, "the controller was set the other way, or the plan says it the other way")
        .figure("along_share", number(along(planned)));
    Some(over(finding, first, last))
}

/// Measured step against the one that lens, step and distance let expect, where they lie far apart.
pub(crate) fn off_the_plan(check: &'static str, track: &MovementTrack) -> Option<Finding> {
    let (ratio, expected) = track.over_expected().zip(track.expected_px)?;
    if (1.0 / APART..=APART).contains(&ratio) {
        return None;
    }
    let FrameSpan { first, last } = track.frames_of(&(0..track.steps.len()))?;
    let message = format!(
        "The picture moves {ratio:.2} times as far a step as it should by the plan's lens, step and distance \
         ({expected:.2} px of the small picture). Check distance, lens and step in the plan, and the pixel \
         pitch where pictures are written smaller than the sensor."
    );
    let finding = over(Finding::new(check, Severity::Note, message), first, last);
    Some(finding.figure("measured_over_expected", number(ratio)).figure("expected_px", number(expected)))
}
