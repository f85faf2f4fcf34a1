//! Exposure that was left to the camera.

use super::scene::{Explanation, LikelyCause, Scene, Strength};
use crate::checks::exposure::exposure_jump::LIGHT_FOLLOWED;
use crate::checks::exposure::{exposure_hunting, exposure_jump, off_plan_exposure, settings_change};
use crate::evidence::{Cell, FrameView};
use crate::finding::{CauseCode, Finding, Severity};
use crate::plan::ExposureMode;
use crate::units::{counted, counted_as};

/// Steps of exposure from which on it is more than one touch of a dial.
const SOME_STEPS: u64 = 4;

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    // Steps that followed the light are notes, and the camera's doing all the same.
    let followed = |f: &&Finding| f.cause.as_ref().is_some_and(|c| c.code == LIGHT_FOLLOWED);
    let notes =
        scene.all(&exposure_jump::CHECK).filter(|f| f.severity == Severity::Note && f.accepted.is_none());
    let steps: u64 =
        scene.weighing(&exposure_jump::CHECK).chain(notes.filter(followed)).map(|f| f.count).sum();
    let hunts = scene.weighing(&exposure_hunting::CHECK).next().is_some();
    if steps < SOME_STEPS && !hunts {
        return Vec::new();
    }
    let run: Vec<FrameView<'_>> = scene.evidence.run().collect();
    // ExposureProgram 1 is manual, 2 to 8 are automatic ones; ExposureMode 0 is automatic (Exif, CIPA
    // DC-008).
    let automatic = run
        .iter()
        .filter(|frame| {
            let row = frame.row();
            row.exposure_mode == Cell::Known(0) || row.program.known().is_some_and(|p| (2..=8).contains(&p))
        })
        .count();
    if automatic * 2 < run.len() || scene.plan.exposure.mode == Some(ExposureMode::Automatic) {
        return Vec::new();
    }
    let checks =
        [&exposure_hunting::CHECK, &exposure_jump::CHECK, &settings_change::CHECK, &off_plan_exposure::CHECK];
    let of = checks.into_iter().flat_map(|check| scene.which(check, |_| true)).collect();
    let sentence = format!(
        "Automatic exposure was left on, and {} in the run.",
        counted_as(steps.max(1), "step stands", "steps stand")
    );
    let cause = LikelyCause {
        code: CauseCode::new("automatic-exposure-left-on"),
        strength: Strength::Sure,
        words: format!(
            "Automatic exposure was left on: {} of the run say so, and {} in it.",
            counted(automatic as u64, "frame"),
            counted_as(steps.max(1), "step stands", "steps stand"),
        ),
        remedy: "Set exposure, sensitivity and white balance to manual, and the lens to manual aperture."
            .into(),
        apart: None,
    };
    vec![cause.tells(
        sentence,
        "Set exposure, sensitivity and white balance to manual, and the lens to manual aperture.",
        of,
    )]
}
