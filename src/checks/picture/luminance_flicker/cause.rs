//! Where a flicker comes from, as far as settings and areas tell.

use crate::evidence::picture::{Course, Nature};
use crate::finding::CauseCode;

/// Below this the areas of the picture go their own ways: things that move, not the light.
pub(crate) const APART: f64 = 0.35;

pub(crate) const SCENE: CauseCode = CauseCode::new("scene");
pub(crate) const LIGHT: CauseCode = CauseCode::new("light");
pub(crate) const APERTURE_OR_LIGHT: CauseCode = CauseCode::new("aperture-or-light");
pub(crate) const UNKNOWN: CauseCode = CauseCode::new("unknown");
pub(crate) const SINGLE_FRAME: CauseCode = CauseCode::new("single-frame");
pub(crate) const SETTINGS: CauseCode = CauseCode::new("settings");

/// What the evidence says of where it comes from.
pub(crate) fn cause(course: &Course, moves: bool, other: bool, by_day: bool) -> (CauseCode, String) {
    let alike = 100.0 * course.alike;
    match () {
        () if other => (
            SCENE,
            "neighbouring pictures show different things, as with a camera that flies or is carried: each \
             has its own brightness"
                .into(),
        ),
        () if moves => (
            SCENE,
            format!(
                "the areas of the picture go their own ways (alike to {alike:.0} %), as things that move \
                     in the scene do"
            ),
        ),
        () if course.unexplained.nature == Nature::Slow => (
            LIGHT,
            format!(
                "it takes several frames to come and go, as light does that really changes ({})",
                if by_day { "cloud" } else { "cloud, a passing lamp" }
            ),
        ),
        () if course.alike < APART => (
            LIGHT,
            format!(
                "the areas of the picture go their own ways (alike to {alike:.0} %): {}things that move",
                if by_day { "" } else { "lamps in part of it, or " }
            ),
        ),
        () if course.settings_known => (
            APERTURE_OR_LIGHT,
            format!(
                "the settings stay the same or are taken out, and the whole picture changes together (alike \
                 to {alike:.0} %), as with an aperture that does not close to the same hole twice, an uneven \
                 shutter, or one light that flickers"
            ),
        ),
        () => (UNKNOWN, "the files do not give their settings".into()),
    }
}
