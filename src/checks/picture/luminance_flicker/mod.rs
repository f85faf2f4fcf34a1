//! Brightness that wanders from frame to frame.

mod cause;
mod colours;

use crate::checks::common::{
    PRACTICE, beside, clock_of, count, drawn_together, not_of_the_run, number, opinion, over,
};
use crate::checks::daylight::by_day;
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::picture::{
    Course, Flicker, LightStep, Nature, Sight, alike_at, flash_seen, out_of_clip,
};
use crate::finding::{About, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits};
use crate::plan::Light;
use crate::units::{Figure, FrameSpan, counted};
use cause::{APART, SCENE, SETTINGS, SINGLE_FRAME, cause};
use colours::coloured;

const TEXT: Text = Text {
    id: "luminance-flicker",
    finds: "unsteady brightness",
    asks: "Is the clip steady in brightness, apart from what the settings explain?",
    why: "You see flicker of a few hundredths of a stop at 25 frames a second, and no screen of a camera \
          shows it. An aperture that does not close to the same hole twice, lamps on the mains and automatic \
          exposure all make it.",
    how: "Mean linear luminance of each small picture (sRGB decoded after IEC 61966-2-1, BT.709 weights), as \
          log2. What the exact settings explain is taken out, then a robust local trend of a second of the \
          clip, which breaks at steps. What is left is weighted by the eye's sensitivity to each frequency \
          at the plan's fps, second by second: visible from 1 on. A single frame is weighted by the peak of \
          its response to the same function. Nothing below the noise of its source is judged (largest step: \
          0.015 EV for thumbnails, 0.005 EV at an eighth, 0.0015 EV whole).",
    blind: "Pictures that are clipped at the top or lost at the bottom: they are skipped, and not taken for \
            steady. Flicker of parts of the picture that cancels in its mean. A first or last frame that is \
            off by less than 0.1 EV. What the thumbnails of a raw do not show.",
    remedy: "Level it in post with levels.csv. Where the settings explain it, use its settings column, else \
             its brightness column. Next time set exposure and white balance to manual. On a lens \
             with an adjustable aperture, shoot wide open or keep the blades from moving between frames.",
    source: "Temporal contrast sensitivity: Information Display Measurements Standard (ICDM), after Watson & \
             Ahumada, SID 2011. Robust local line: Cleveland, JASA 74 (1979). 0.05 EV rms: common practice, \
             no source.",
    traits: Traits {
        about: About::Light,
        patched: true,
        quality: Some(Quality::Brightness),
        ..Traits::PLAIN
    },
};

const VISIBLE: LimitKey = LimitKey::new("visible");
const RMS: LimitKey = LimitKey::new("rms");
const STEP: LimitKey = LimitKey::new("step");

const LIMITS: &[Limit] = &[
    Limit {
        key: VISIBLE,
        unit: "times what the eye just sees, at the plan's fps",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: "ICDM temporal contrast sensitivity function",
    },
    Limit {
        key: RMS,
        unit: "EV rms that the settings do not explain",
        direction: Direction::Above,
        caution: Some(0.05),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: STEP,
        unit: "EV by which the brightness steps where the settings do not",
        direction: Direction::Above,
        caution: Some(0.5),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Pictures], judge };

/// Fewest pictures that tell their brightness.
const FEWEST: usize = 8;

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let track = &evidence.pictures;
    let clear = evidence.run().filter(|frame| frame.sight() == Sight::Clear).count();
    if clear < FEWEST {
        let blind = evidence.in_run().filter(|at| is_blind(evidence, *at)).count();
        let words = match blind {
            0 => format!("only {} of the run could be looked at", counted(clear as u64, "picture")),
            n => format!(
                "{} of the run are clipped or black: blind, not steady; {clear} show their brightness",
                counted(n as u64, "picture")
            ),
        };
        return Opinion::cannot(words);
    }
    let mut findings = Vec::new();
    for course in &track.courses {
        findings.extend(of_course(case, course));
    }
    findings.extend(blind(evidence));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at).or_else(|| match evidence.frame(at).sight() {
            Sight::Clear => None,
            Sight::TooBright => Some("clipped at the top: blind, not steady"),
            Sight::TooDark => Some("lost in the dark: blind, not steady"),
            Sight::Unseen => Some("no picture could be looked at"),
        })
    })
}

fn is_blind(evidence: &Sequence, at: usize) -> bool {
    matches!(evidence.frame(at).sight(), Sight::TooBright | Sight::TooDark)
}

fn of_course(case: &Case<'_>, course: &Course) -> Vec<Finding> {
    let evidence = case.evidence;
    let mut findings = Vec::new();
    let unexplained = &course.unexplained;
    if unexplained.nature == Nature::Single {
        // As with steps: where the settings took it up, the clip does not show it.
        let in_clip = |(at, ev): &&(usize, f64)| out_of_clip(evidence, course, *at).abs() > 0.5 * ev.abs();
        let worst = unexplained.worst.iter().filter(in_clip);
        let frames = worst.map(|(at, ev)| single(case, course, *at, *ev));
        findings.extend(drawn_together(frames, |many| {
            format!("{many} single frames are brighter or darker than their neighbours.")
        }));
    } else if let Some(finding) = flickers(case, course) {
        findings.push(finding);
    } else if let Some(finding) = explained(case, course) {
        findings.push(finding);
    }
    // Where the settings took the step up, the clip does not show it.
    let steps = course
        .steps
        .iter()
        .filter(|step| step.shown_ev.abs() > 0.5 * step.ev.abs())
        .map(|step| stepped(case, course, step));
    findings.extend(drawn_together(steps, |many| {
        format!("The brightness steps in {many} places where the settings do not.")
    }));
    // Where each picture shows another scene, or the areas go their own ways, the scene has other colours,
    // not the camera.
    if !evidence.pictures.other_scenes() && course.alike >= APART {
        findings.extend(coloured(TEXT.id, evidence, course));
    }
    findings
}

/// `plain to see (3.1 times what is just seen at 25 frames a second)`.
fn seen(case: &Case<'_>, index: f64) -> String {
    let track = &case.evidence.pictures;
    let assumed = if track.fps_assumed { " (assumed)" } else { "" };
    if index < 1.0 {
        return format!("too little to be seen at {} frames a second{assumed}", track.fps);
    }
    let word = match index {
        ..2.0 => "just to be seen",
        ..8.0 => "plain to see",
        _ => "impossible to miss",
    };
    format!("{word} ({index:.1} times what is just seen at {} frames a second{assumed})", track.fps)
}

fn flickers(case: &Case<'_>, course: &Course) -> Option<Finding> {
    let evidence = case.evidence;
    let flicker = &course.unexplained;
    if flicker.nature == Nature::Still {
        return None;
    }
    // Light that the settings took up is not in the clip.
    let visible = case.limits.weigh(VISIBLE, flicker.visibility.index.min(course.shown.visibility.index));
    let strong = case.limits.weigh(RMS, flicker.rms_ev.min(course.shown.rms_ev));
    let (severity, _) = visible.into_iter().chain(strong).max_by_key(|w| w.0)?;
    let other = evidence.pictures.other_scenes();
    let moves = other || (course.alike < APART && strong.is_none());
    let quiet = flicker.nature == Nature::Slow || moves;
    let severity = if quiet { Severity::Note } else { severity };
    let (&first, &last) = (course.frames.first()?, course.frames.last()?);
    let by_day = by_day(evidence, first) == Some(true) || case.plan.light == Some(Light::Daylight);
    let (code, why) = cause(course, moves, other, by_day);
    let seen = as_seen(course);
    let message = flicker_message(case, course, &why);
    let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
        .count(course.frames.len() as u64)
        .at(evidence.frame(seen.second.0).moment())
        .because(code, why);
    finding.marks = seen.worst.iter().map(|(at, _)| FrameSpan::one(*at)).collect();
    finding.marks.sort_by_key(|span| span.first);
    Some(with_flicker_figures(finding, case, course))
}

/// True where the settings took up some of what would be seen.
fn is_eased(course: &Course) -> bool {
    course.shown.visibility.index < course.unexplained.visibility.index
}

/// What the viewer sees: the clip as it was shot, where the settings took light up.
fn as_seen(course: &Course) -> &Flicker {
    if is_eased(course) { &course.shown } else { &course.unexplained }
}

fn flicker_message(case: &Case<'_>, course: &Course, why: &str) -> String {
    let evidence = case.evidence;
    let (flicker, seen_flicker) = (&course.unexplained, as_seen(course));
    let beside_settings = if course.settings_known {
        "that the settings do not explain"
    } else {
        "(the settings are not known)"
    };
    let as_shot = if is_eased(course) && course.shown.rms_ev < flicker.rms_ev {
        format!("; {:.3} EV rms as shot", course.shown.rms_ev)
    } else {
        String::new()
    };
    let manner = if evidence.pictures.other_scenes() {
        "differs from picture to picture".into()
    } else {
        manner(flicker, evidence.pictures.fps)
    };
    format!(
        "The brightness {manner}, {}, most from {}{} on{}: {:.3} EV rms {beside_settings} ({:.2} EV at \
         most){as_shot}; {why}.",
        seen(case, seen_flicker.visibility.index),
        evidence.frame(seen_flicker.second.0).name(),
        clock_of(evidence, seen_flicker.second.0),
        worst_named(evidence, seen_flicker),
        flicker.rms_ev,
        flicker.largest_ev,
    )
}

fn with_flicker_figures(finding: Finding, case: &Case<'_>, course: &Course) -> Finding {
    let (flicker, seen) = (&course.unexplained, as_seen(course));
    let period = match flicker.nature {
        Nature::Periodic(frames) => number(frames),
        _ => Figure::Unknown,
    };
    let worst = seen.worst.first().map_or_else(String::new, |w| case.evidence.frame(w.0).name());
    finding
        .figure("visible_times_threshold", beside(seen.visibility.index, case.limits.get(VISIBLE).caution))
        .figure("visible_at_hz", number(seen.visibility.hz))
        .figure("unexplained_ev_rms", beside(flicker.rms_ev, case.limits.get(RMS).caution))
        .figure("as_shot_ev_rms", number(course.shown.rms_ev))
        .figure("largest_ev", number(flicker.largest_ev))
        .figure("nature", Figure::Text(flicker.nature.word().to_owned()))
        .figure("period_frames", period)
        .figure("alike", number(course.alike))
        .figure("noise_floor_ev", number(course.floor_ev))
        .figure("worst_frame", Figure::Text(worst))
}

/// `, the worst frame LOCK0320.JPG (19:10:00)`, empty where none stands out.
fn worst_named(evidence: &Sequence, flicker: &Flicker) -> String {
    flicker.worst.first().map_or_else(String::new, |(at, _)| {
        format!(", worst at {}{}", evidence.frame(*at).name(), clock_of(evidence, *at))
    })
}

fn manner(flicker: &Flicker, fps: f64) -> String {
    match flicker.nature {
        Nature::Alternating => "alternates from frame to frame".into(),
        Nature::Periodic(frames) => {
            format!("pulses every {frames:.1} frames ({:.2} s of the clip)", frames / fps)
        }
        Nature::Slow if flicker.visibility.hz > 1.0 => "rises and falls over several frames".into(),
        Nature::Slow => "drifts slowly up and down".into(),
        _ => "flickers from frame to frame".into(),
    }
}

fn single(case: &Case<'_>, course: &Course, at: usize, ev: f64) -> Finding {
    let evidence = case.evidence;
    let index = flash_seen(ev, evidence.pictures.fps);
    let visible = case.limits.weigh(VISIBLE, index);
    let level = visible.map(|w| w.1);
    // Something that passes is in the scene, not in the light.
    let in_part = alike_at(evidence, course, at, ev) < APART;
    let severity = visible.map_or(Severity::Note, |w| if in_part { Severity::Note } else { w.0 });
    let (code, why) = match in_part {
        true => (SCENE, "only a part of the picture differs, as with something that passes"),
        false => (
            SINGLE_FRAME,
            "one frame alone: an aperture or shutter that stuck, a flash of light, a passing lamp",
        ),
    };
    let message = format!(
        "{}{} alone is {:.2} EV {} than its neighbours, which the settings do not explain; {}{}.",
        evidence.frame(at).name(),
        clock_of(evidence, at),
        ev.abs(),
        if ev > 0.0 { "brighter" } else { "darker" },
        seen(case, index),
        if in_part { ", and only in a part of the picture: something that passes" } else { "" },
    );
    Finding::new(TEXT.id, severity, message)
        .on(FrameSpan::one(at))
        .at(evidence.frame(at).moment())
        .figure("unexplained_ev", number(ev))
        .figure("visible_times_threshold", beside(index, level))
        .figure("nature", Figure::Text(Nature::Single.word().to_owned()))
        .because(code, why)
}

/// Flicker as shot that goes away with the settings.
fn explained(case: &Case<'_>, course: &Course) -> Option<Finding> {
    let evidence = case.evidence;
    let shown = &course.shown;
    if !course.settings_known || shown.visibility.index < 1.0 {
        return None;
    }
    // The settings must be what made it.
    if course.unexplained.rms_ev > 0.5 * shown.rms_ev {
        return None;
    }
    let (&first, &last) = (course.frames.first()?, course.frames.last()?);
    let message = format!(
        "As shot the clip flickers {}, by {:.2} EV at most{}; the settings explain it, and {:.3} EV rms is \
         left of {:.3} when they are taken out. It can be levelled from the settings alone (levels.csv).",
        seen(case, shown.visibility.index),
        shown.largest_ev,
        worst_named(evidence, shown),
        course.unexplained.rms_ev,
        shown.rms_ev,
    );
    Some(
        over(Finding::new(TEXT.id, Severity::Note, message), first, last)
            .count(course.frames.len() as u64)
            .at(evidence.frame(first).moment())
            .figure("as_shot_ev_rms", number(shown.rms_ev))
            .figure("unexplained_ev_rms", number(course.unexplained.rms_ev))
            .figure("visible_times_threshold", number(shown.visibility.index))
            .because(SETTINGS, "the settings moved, and the picture with them"),
    )
}

fn stepped(case: &Case<'_>, course: &Course, step: &LightStep) -> Finding {
    let evidence = case.evidence;
    let weighed = case.limits.weigh(STEP, step.ev.abs());
    let known = if course.settings_known {
        "which the settings do not explain"
    } else {
        "the settings are not known"
    };
    let message = format!(
        "The picture becomes {:.2} EV {} between {} and {}{} and stays so, {known}: a lamp that was \
         switched, a filter, an aperture that stuck, a change of the light.",
        step.ev.abs(),
        if step.ev > 0.0 { "brighter" } else { "darker" },
        evidence.frame(step.before).name(),
        evidence.frame(step.after).name(),
        clock_of(evidence, step.after),
    );
    Finding::new(TEXT.id, weighed.map_or(Severity::Note, |w| w.0), message)
        .between(step.before, step.after)
        .at(evidence.frame(step.after).moment())
        .figure("step_ev", beside(step.ev, case.limits.get(STEP).caution))
}

/// Says so where many pictures are blind.
fn blind(evidence: &Sequence) -> Option<Finding> {
    let all: Vec<_> = evidence.in_run().filter(|at| is_blind(evidence, *at)).collect();
    let (&first, &last) = (all.first()?, all.last()?);
    if all.len() * 20 < evidence.in_run().count() {
        return None;
    }
    let message = format!(
        "{} of the run, {} to {}, are clipped at the top or lost in the dark: they are blind to flicker, \
         not steady.",
        counted(all.len() as u64, "picture"),
        evidence.frame(first).name(),
        evidence.frame(last).name(),
    );
    Some(
        over(Finding::new(TEXT.id, Severity::Note, message), first, last)
            .count(all.len() as u64)
            .figure("blind_frames", count(all.len() as u64)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, judged, severities, tolerating};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Note};

    fn showing(of: impl Fn(usize) -> f64) -> Sequence {
        Sketch::steady(120, 10.0).shows(of).evidence()
    }

    fn alternating(ev: f64) -> Sequence {
        showing(|k| if k % 2 == 0 { ev } else { 0.0 })
    }

    #[test]
    fn stays_quiet_on_a_steady_run_and_on_a_sunset() {
        assert!(found(&CHECK, &every(10.0), &showing(|_| 0.0)).is_empty());
        assert!(found(&CHECK, &every(10.0), &showing(|k| -0.02 * k as f64)).is_empty());
    }

    /// 0.02 EV between every two frames is 1.03 times the threshold at 25 frames a second, 0.019 EV is 0.98
    /// times.
    #[test]
    fn seen_at_the_threshold_and_not_below_it() {
        for (ev, severity) in
            [(0.03, vec![Caution]), (0.020, vec![Caution]), (0.018, vec![]), (0.005, vec![])]
        {
            assert_eq!(severities(&CHECK, &every(10.0), &alternating(ev)), severity, "{ev}");
        }
        let plan = tolerating(every(10.0), TEXT.id, "visible_caution", 2.0);
        assert!(found(&CHECK, &plan, &alternating(0.03)).is_empty());
    }

    #[test]
    fn tells_its_nature_and_that_the_whole_picture_goes_together() {
        let findings = found(&CHECK, &every(10.0), &alternating(0.1));
        let message = &findings[0].message;
        assert!(
            message.contains("alternates from frame to frame, plain to see (5.2 times what is just seen"),
            "{message}"
        );
        assert!(message.contains("): 0.050 EV rms that the settings do not explain"), "{message}");
        assert!(message.contains(", worst at "), "{message}");
        assert_eq!(findings[0].cause.as_ref().map(|c| c.code.name()), Some("aperture-or-light"));
        let pulsing = showing(|k| 0.1 * (std::f64::consts::TAU * k as f64 / 5.0).sin());
        assert!(found(&CHECK, &every(10.0), &pulsing)[0].message.contains("pulses every 5.0 frames"));
    }

    /// A third of a stop more every ten frames, and the picture with it: the settings explain it all.
    #[test]
    fn what_the_settings_explain_is_a_note() {
        let mut sketch = Sketch::steady(120, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.iso = Cell::Known([200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500][k / 10]);
        }
        let evidence = sketch.shows(|k| (k / 10) as f64 / 3.0 - 0.033 * k as f64).evidence();
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!(findings.iter().map(|f| f.severity).collect::<Vec<_>>(), [Note], "{findings:?}");
        assert_eq!(findings[0].cause.as_ref().map(|c| c.code.name()), Some("settings"));
        assert!(evidence.pictures.courses[0].unexplained.rms_ev < 1e-3);
    }

    #[test]
    fn a_single_frame_is_named() {
        let findings = found(&CHECK, &every(10.0), &showing(|k| if k == 70 { -0.4 } else { 0.0 }));
        assert_eq!((findings.len(), findings[0].first, findings[0].severity), (1, Some(70), Caution));
    }

    #[test]
    fn a_step_is_told_between_its_frames_by_its_size() {
        for (ev, severity) in [(0.3, Note), (0.51, Caution)] {
            let findings = found(&CHECK, &every(10.0), &showing(|k| if k < 50 { 0.0 } else { ev }));
            let ends: Vec<_> = findings.iter().map(|f| (f.first, f.last, f.severity)).collect();
            assert_eq!(ends, [(Some(49), Some(50), severity)], "{findings:?}");
        }
    }

    #[test]
    fn light_that_the_settings_took_up_is_not_in_the_clip() {
        let steps = |k: usize| if k < 60 { 0 } else { 1 };
        let mut sketch = Sketch::steady(120, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.iso = Cell::Known([200, 400][steps(k)]);
        }
        assert!(found(&CHECK, &every(10.0), &sketch.shows(|_| 0.0).evidence()).is_empty());
    }

    #[test]
    fn a_picture_that_is_cut_off_is_blind_and_not_steady() {
        let mut sketch = Sketch::steady(40, 10.0).shows(|_| 2.4);
        for look in sketch.looks.iter_mut().flatten() {
            (look.live, look.clipped) = (0.2, 0.8);
        }
        assert!(cannot(&CHECK, &every(10.0), &sketch.evidence()).contains("blind, not steady"));
        let mut sketch = Sketch::steady(40, 10.0).shows(|_| 0.0);
        for look in sketch.looks.iter_mut().flatten().take(10) {
            (look.live, look.blocked) = (0.0, 1.0);
        }
        let evidence = sketch.evidence();
        assert_eq!(judged(&CHECK, &every(10.0), &evidence).looked_at, 30);
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Note]);
    }

    #[test]
    fn cannot_judge_without_pictures() {
        assert!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("not read"));
    }
}
