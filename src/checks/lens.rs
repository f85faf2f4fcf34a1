//! The lens and the sensor of a frame, for what moves in the picture.

use crate::evidence::Sequence;
use crate::plan::Plan;
use crate::plan::optics::View;

/// Lens, subject and sensor of a frame: as planned, else as the camera tells. The distance is the plan's
/// alone.
pub(crate) fn view(plan: &Plan, evidence: &Sequence, at: usize) -> Option<View> {
    let frame = evidence.frame(at);
    let focal = || frame.focal_mm().map(|mm| mm / 1000.0);
    let pitch = || frame.pitch_um().map(|um| um / 1e6);
    Some(View {
        focal_length_m: plan.rig.focal_length_m.or_else(focal)?,
        distance_m: plan.rig.distance_m?,
        pixel_pitch_m: plan.rig.pixel_pitch_m.or_else(pitch)?,
    })
}

/// What the plan lacks before a smear can be told in pixels.
pub(crate) fn lacks(plan: &Plan) -> &'static str {
    if plan.rig.distance_m.is_none() {
        "the plan gives no distance, so the smear is not known in pixels"
    } else {
        "focal length or pixel pitch is not known, so the smear is not known in pixels"
    }
}
