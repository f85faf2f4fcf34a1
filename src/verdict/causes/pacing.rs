//! A timer that keeps another pace than was asked.

use super::scene::{LikelyCause, Scene, Strength};
use crate::checks::timing::interval_drift::{COUNTED_FROM_CLOSE, COUNTED_FROM_CLOSE_DARK_FRAME};
use crate::checks::timing::{interval_drift, uneven_interval};
use crate::evidence::timing::TimerLaw;
use crate::finding::{CauseCode, PLAN_DOUBTED};

pub(super) fn rule(scene: &Scene<'_>) -> Vec<LikelyCause> {
    let mut out = Vec::new();
    let law = scene.schedule.law();
    if law.from_close() && !scene.plan.from_close() {
        let growth = scene.evidence.timing.cadence.as_ref().and_then(|c| c.per_exposure);
        let measured = growth.map_or_else(String::new, |g| format!(" (measured: {g:.2} s for each second)"));
        let dark = law == TimerLaw::CloseDarkFrame;
        out.push(LikelyCause {
            code: if dark { COUNTED_FROM_CLOSE_DARK_FRAME } else { COUNTED_FROM_CLOSE },
            strength: Strength::Sure,
            words: format!(
                "The timer counts from the shutter's close: the interval grows with the exposure, by {} for \
                 each second of it{measured}.",
                if dark { "two seconds, one for a dark frame," } else { "one second" },
            ),
            remedy: "Set the timer shorter by the exposure, let it count from the opening, or plan it so: \
                     counted_from = \"close\".",
            apart: None,
        });
    }
    if scene.doubted().is_some() {
        out.push(LikelyCause {
            code: PLAN_DOUBTED,
            strength: Strength::Likely,
            words:
                "Plan and timer do not agree, and the card was shot evenly: the plan was written wrongly, \
                    or the timer set wrongly."
                    .into(),
            remedy: "Look at what the timer was set to. Then audit again with the flag that is named, or \
                     correct the plan.",
            apart: Some("The timer's or the camera's own display: it still shows what was set."),
        });
    }
    // What a constant excess fits is told by the check itself.
    for finding in scene.weighing(&interval_drift::CHECK) {
        if let Some(cause) = &finding.cause
            && cause.code != PLAN_DOUBTED
            && !out.iter().any(|c: &LikelyCause| c.code == cause.code)
        {
            out.push(LikelyCause {
                code: cause.code,
                strength: Strength::Likely,
                words: format!("{}.", cause.words.trim_end_matches('.')),
                remedy: "Time ten frames by the clock, then set the interval to what the whole cycle takes, \
                         or the timer to count from the opening.",
                apart: Some(
                    "A run with another exposure: what counts from close changes its pace, what \
                             waits for the rig does not.",
                ),
            });
        }
    }
    let timing = &scene.evidence.timing;
    if timing.cadence.is_none()
        && timing.number_advance.is_some()
        && scene.weighing(&uneven_interval::CHECK).next().is_some()
        && scene.evidence.gaps_in_numbers() == 0
    {
        out.push(no_pace(scene.plan.interval_s.is_some()));
    }
    out
}

/// Why frames whose numbers run on keep no pace. That there was a timer at all, only a plan says.
fn no_pace(planned: bool) -> LikelyCause {
    if planned {
        return LikelyCause {
            code: CauseCode::new("pace-not-held"),
            strength: Strength::Likely,
            words: "The camera did not hold the pace: frames came when it was ready, and the file numbers \
                    run on without a gap, so no file is lost."
                .into(),
            remedy: "Give it time: a longer interval, a faster card, manual focus, no review picture. Retime \
                     the clip by the stamps where the subject allows it.",
            apart: Some("Frames that were fired by hand, by motion or by distance look the same."),
        };
    }
    LikelyCause {
        code: CauseCode::new("no-timer"),
        strength: Strength::Possible,
        words: "No timer's pace shows: the frames were fired by hand, by motion or by distance, or the \
                camera was not ready when its timer fired. The file numbers run on without a gap, so no file \
                is lost."
            .into(),
        remedy: "Retime the clip by the stamps where the subject allows it. With a timer, give the camera a \
                 longer interval.",
        apart: Some("If a timer was set, audit again with its interval (--interval)."),
    }
}
