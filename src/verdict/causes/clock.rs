//! The clock that was changed, and the timer that stood.

use super::scene::{Explanation, LikelyCause, Scene, Strength, Which};
use crate::checks::Check;
use crate::checks::timing::{clock_step, grid_slip};
use crate::evidence::timing::{Join, JoinKind};
use crate::finding::CauseCode;
use crate::units::{counted, duration};

/// A pause between these, s, fits a change of battery or card by hand.
const BY_HAND_S: std::ops::RangeInclusive<f64> = 20.0..=1200.0;

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    let mut out = Vec::new();
    for join in &scene.evidence.timing.joins {
        if let JoinKind::ClockStep { step_s, looks_like, stood_s, rival: None } = &join.kind {
            let beside = match stood_s {
                Some(stood_s) => format!("The camera stood for {} there as well.", duration(*stood_s)),
                None => "Nothing is missing there.".to_owned(),
            };
            let cause = LikelyCause {
                code: CauseCode::new("clock-changed"),
                strength: Strength::Sure,
                words: format!(
                    "The camera's clock was put {} by {} before {}: {looks_like}. {beside}",
                    if *step_s < 0.0 { "back" } else { "forward" },
                    duration(step_s.abs()),
                    scene.evidence.frame(join.after).name(),
                ),
                remedy: "Nothing to patch. Set the camera's clock to UTC for runs through the night of the \
                         change, and its zone by hand."
                    .into(),
                apart: None,
            };
            let sentence = cause.words.clone();
            let to_do = "Nothing to patch: sort the frames by their numbers, not by their times.";
            out.push(cause.tells(sentence, to_do, at(scene, &clock_step::CHECK, &[join])));
        }
    }
    let by_hand: Vec<(&Join, f64)> = scene
        .evidence
        .timing
        .joins
        .iter()
        // Where frames may be missing instead, nobody need have changed anything.
        .filter(|j| scene.evidence.timing.missing_instead(j).is_none())
        .filter_map(|j| match j.kind {
            JoinKind::Slip { pause_s, .. } if BY_HAND_S.contains(&pause_s) => Some((j, pause_s)),
            _ => None,
        })
        .collect();
    let joins: Vec<&Join> = by_hand.iter().map(|p| p.0).collect();
    let pauses: Vec<f64> = by_hand.iter().map(|p| p.1).collect();
    if let (Some(longest), 1..=4) = (pauses.iter().copied().reduce(f64::max), pauses.len()) {
        let from = scene.when(joins[0].before);
        let sentence = match pauses.len() {
            1 => format!(
                "The timer stood for {} at {from}, as long as a change of battery or card takes, and went on \
                 off its grid.",
                duration(longest)
            ),
            n => format!(
                "The timer stood {n} times for up to {}, first at {from}, as long as a change of battery or \
                 card takes.",
                duration(longest)
            ),
        };
        let to_do = "Ask who changed what then. Use the longest part, or shoot again.";
        let cause = LikelyCause {
            code: CauseCode::new("pause-by-hand"),
            strength: Strength::Likely,
            words: format!(
                "{} of up to {}, after which the timer began anew: as long as a change of battery or card \
                 takes.",
                counted(pauses.len() as u64, "pause"),
                duration(longest),
            ),
            remedy: "Feed the camera from outside for runs longer than its battery; change cards only \
                     between runs."
                .into(),
            apart: Some(
                "The battery's charge before and after, where the camera shows it; the slider's own \
                         log of stops.",
            ),
        };
        out.push(cause.tells(sentence, to_do, at(scene, &grid_slip::CHECK, &joins)));
    }
    out
}

/// The findings of a check at those joins.
fn at(scene: &Scene<'_>, check: &Check, joins: &[&Join]) -> Vec<Which> {
    scene.which(check, |f| joins.iter().any(|j| (f.first, f.last) == (Some(j.before), Some(j.after))))
}
