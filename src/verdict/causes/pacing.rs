//! A timer that keeps another pace than was asked.

use super::scene::{Explanation, LikelyCause, Scene, Strength, Which};
use crate::checks::timing::interval_drift::{COUNTED_FROM_CLOSE, COUNTED_FROM_CLOSE_DARK_FRAME};
use crate::checks::timing::{interval_drift, uneven_interval};
use crate::evidence::timing::TimerLaw;
use crate::finding::{CauseCode, Finding, PLAN_DOUBTED};

pub(super) fn rule(scene: &Scene<'_>) -> Vec<Explanation> {
    let mut out = Vec::new();
    let law = scene.schedule.law();
    if law.from_close() && !scene.plan.from_close() {
        let growth = scene.evidence.timing.cadence.as_ref().and_then(|c| c.per_exposure);
        let measured = growth.map_or_else(String::new, |g| format!(" (measured: {g:.2} s for each second)"));
        let dark = law == TimerLaw::CloseDarkFrame;
        let cause = LikelyCause {
            code: if dark { COUNTED_FROM_CLOSE_DARK_FRAME } else { COUNTED_FROM_CLOSE },
            strength: Strength::Sure,
            words: format!(
                "The timer counts from the shutter's close: the interval grows with the exposure, by {} for \
                 each second of it{measured}.",
                if dark { "two seconds, one for a dark frame," } else { "one second" },
            ),
            remedy: "Set the timer shorter by the exposure, let it count from the opening, or plan it so: \
                     counted_from = \"close\"."
                .into(),
            apart: None,
        };
        let sentence =
            "The timer counts from the shutter's close, so the interval grows with the exposure.".into();
        let to_do = "Set the timer shorter by the exposure, or plan it so: counted_from = \"close\".";
        out.push(cause.tells(sentence, to_do, of_pace(scene)));
    }
    if let Some(doubted) = scene.doubted() {
        let cause = LikelyCause {
            code: PLAN_DOUBTED,
            strength: Strength::Likely,
            words:
                "Plan and timer do not agree, and the card was shot evenly: the plan was written wrongly, \
                    or the timer set wrongly."
                    .into(),
            remedy: "Look at what the timer was set to. Then audit again with the flag that is named, or \
                     correct the plan."
                .into(),
            apart: Some("The timer's or the camera's own display: it still shows what was set."),
        };
        let to_do = "Look at what the timer was set to. Where it was that, audit again with the flag that is \
                     named; else mend the timer or its trigger.";
        out.push(cause.tells(doubted.message.clone(), to_do, scene.with_cause(PLAN_DOUBTED)));
    }
    // What a constant excess fits is told by the check itself.
    for finding in scene.weighing(&interval_drift::CHECK) {
        if let Some(cause) = &finding.cause
            && cause.code != PLAN_DOUBTED
            && !out.iter().any(|c: &Explanation| c.cause.code == cause.code)
        {
            let code = cause.code;
            let cause = LikelyCause {
                code,
                strength: Strength::Likely,
                words: format!("{}.", cause.words.trim_end_matches('.')),
                remedy:
                    "Time a few frames by the clock, then set the interval to what the whole cycle takes, \
                         or the timer to count from the opening."
                        .into(),
                apart: Some(
                    "A run with another exposure: what counts from close changes its pace, what \
                             waits for the rig does not.",
                ),
            };
            let to_do =
                "Time a few frames by the clock, set the interval to what the whole cycle takes, and go on.";
            let same = |f: &Finding| f.cause.as_ref().is_some_and(|c| c.code == code);
            out.push(cause.tells(finding.message.clone(), to_do, scene.which(&interval_drift::CHECK, same)));
        }
    }
    let timing = &scene.evidence.timing;
    if timing.cadence.is_none()
        && timing.number_advance.is_some()
        && scene.weighing(&uneven_interval::CHECK).next().is_some()
        && scene.evidence.gaps_in_numbers() == 0
    {
        let sentence = match scene.plan.interval_s {
            Some(_) => {
                "The frames came at uneven times: timer or camera did not keep the interval. No number skips."
            }
            None => "No timer's pace shows: the frames were fired by hand, by motion or by distance.",
        };
        let to_do = match scene.plan.interval_s {
            Some(_) => "Try another timer or trigger, give the camera more time, and shoot again.",
            None => "Where a timer was set, audit again with its interval (--interval).",
        };
        let of = scene.which(&uneven_interval::CHECK, |_| true);
        out.push(no_pace(scene.plan.interval_s.is_some()).tells(sentence.into(), to_do, of));
    }
    out
}

/// Findings about the interval.
fn of_pace(scene: &Scene<'_>) -> Vec<Which> {
    let checks = [&interval_drift::CHECK, &uneven_interval::CHECK];
    checks.into_iter().flat_map(|check| scene.which(check, |_| true)).collect()
}

/// Why frames whose numbers run on keep no pace. That there was a timer at all, only a plan says.
fn no_pace(planned: bool) -> LikelyCause {
    if planned {
        return LikelyCause {
            code: CauseCode::new("pace-not-held"),
            strength: Strength::Likely,
            words:
                "The frames came at uneven times: the timer did not keep its interval, or the camera was not \
                    ready for it. The file numbers continue without a gap."
                    .into(),
            remedy:
                "Give it time: a longer interval, a faster card, manual focus, no review picture. Retime \
                     the clip by the stamps where the subject allows it."
                    .into(),
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
                 longer interval."
            .into(),
        apart: Some("If a timer was set, audit again with its interval (--interval)."),
    }
}
