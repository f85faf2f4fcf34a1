//! The clock that was changed, and the timer that stood.

use super::scene::{LikelyCause, Scene, Strength};
use crate::evidence::timing::JoinKind;
use crate::finding::CauseCode;
use crate::units::{counted, duration};

/// A pause between these, s, fits a change of battery or card by hand.
const BY_HAND_S: std::ops::RangeInclusive<f64> = 20.0..=1200.0;

pub(super) fn rule(scene: &Scene<'_>) -> Vec<LikelyCause> {
    let mut out = Vec::new();
    for join in &scene.evidence.timing.joins {
        if let JoinKind::ClockStep { step_s, looks_like, stood_s, rival: None } = &join.kind {
            let beside = match stood_s {
                Some(stood_s) => format!("The camera stood for {} there as well.", duration(*stood_s)),
                None => "Nothing is missing there.".to_owned(),
            };
            out.push(LikelyCause {
                code: CauseCode::new("clock-changed"),
                strength: Strength::Sure,
                words: format!(
                    "The camera's clock was put {} by {} before {}: {looks_like}. {beside}",
                    if *step_s < 0.0 { "back" } else { "forward" },
                    duration(step_s.abs()),
                    scene.evidence.frame(join.after).name(),
                ),
                remedy: "Nothing to patch. Set the camera's clock to UTC for runs through the night of the \
                         change, and its zone by hand.",
                apart: None,
            });
        }
    }
    let pauses: Vec<f64> = scene
        .evidence
        .timing
        .joins
        .iter()
        .filter_map(|j| match j.kind {
            JoinKind::Slip { pause_s, .. } if BY_HAND_S.contains(&pause_s) => Some(pause_s),
            _ => None,
        })
        .collect();
    if let (Some(longest), 1..=4) = (pauses.iter().copied().reduce(f64::max), pauses.len()) {
        out.push(LikelyCause {
            code: CauseCode::new("pause-by-hand"),
            strength: Strength::Likely,
            words: format!(
                "{} of up to {}, after which the timer began anew: as long as a change of battery or card \
                 takes.",
                counted(pauses.len() as u64, "pause"),
                duration(longest),
            ),
            remedy: "Feed the camera from outside for runs longer than its battery; change cards only \
                     between runs.",
            apart: Some(
                "The battery's charge before and after, where the camera shows it; the slider's own \
                         log of stops.",
            ),
        });
    }
    out
}
