//! Settings that are not the planned ones.

use crate::checks::common::{PRACTICE, beside, clocks_of, drawn_together, named, not_of_the_run, opinion};
use crate::checks::misfit::untold_members;
use crate::checks::slots::{Slots, by_slot};
use crate::checks::steps::f_text;
use crate::checks::{Case, Check, Need};
use crate::evidence::{FrameView, Sequence};
use crate::finding::{About, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits};
use crate::plan::{ExposureMode, ExposurePlan, Planned};
use crate::units::stops::{Series, Step, exact as exact_point, exact_or_same, time_text};
use crate::units::{Figure, FrameSpan, counted};

const TEXT: Text = Text {
    id: "off-plan-exposure",
    finds: "settings off the plan",
    asks: "Were the frames shot at the planned settings?",
    why: "A wrong shutter time changes the motion blur, a wrong aperture the depth of field, a wrong ISO the \
          noise. A camera left in an automatic mode flickers.",
    how: "Shutter, aperture and ISO of each frame are compared with the planned value or range, at the exact \
          values that the marks stand for. A locked plan expects a camera in manual, an automatic plan one \
          that is not. In a bracket the exposure nearest to the plan counts. Each part of the plan is \
          compared with its own values.",
    blind: "Settings that the file does not give, such as the aperture of a lens without contacts.",
    remedy: "Check the settings, and the mode that the camera wakes up in. If you changed them on purpose, \
             write it into the plan as a part.",
    source: "Exact points of the marked series: Exif (CIPA DC-008), annex on APEX; tags A402 and 8822. \
             Levels: common practice, no source.",
    traits: Traits { about: About::Light, patched: true, quality: Some(Quality::Exposure), ..Traits::PLAIN },
};

const OFF: LimitKey = LimitKey::new("off");
const MODE: LimitKey = LimitKey::new("mode");

const LIMITS: &[Limit] = &[
    Limit {
        key: OFF,
        unit: "EV from the planned setting",
        direction: Direction::Above,
        caution: Some(0.05),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: MODE,
        unit: "frames in another exposure mode",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::PlannedExposure], judge };

/// A setting that a plan may name.
struct Parameter {
    word: &'static str,
    key: &'static str,
    series: Series,
    planned: fn(&ExposurePlan) -> Option<Planned>,
    exact: fn(FrameView<'_>) -> Option<f64>,
    marked: fn(FrameView<'_>) -> Option<f64>,
    text: fn(f64) -> String,
}

const PARAMETERS: [Parameter; 3] = [
    Parameter {
        word: "The shutter",
        key: "shutter_off_ev",
        series: Series::Time,
        planned: |e| e.shutter_s,
        exact: |frame| frame.exposure_s(),
        marked: |frame| frame.marked_s(),
        text: time_text,
    },
    Parameter {
        word: "The aperture",
        key: "aperture_off_ev",
        series: Series::Aperture,
        planned: |e| e.aperture,
        exact: |frame| frame.f_number(),
        marked: |frame| frame.marked_f_number(),
        text: f_text,
    },
    Parameter {
        word: "The ISO",
        key: "iso_off_ev",
        series: Series::Sensitivity,
        planned: |e| e.iso,
        exact: |frame| frame.iso(),
        marked: |frame| frame.marked_iso(),
        text: |iso| format!("ISO {}", iso.round()),
    },
];

/// A slot whose setting is off.
struct Off {
    slot: usize,
    span: FrameSpan,
    ev: f64,
    value: f64,
    planned: Planned,
    severity: Severity,
    level: f64,
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    if let Some(why) = untold_members(case.schedule.misfit()) {
        return Opinion::cannot(why);
    }
    let tells = |at: usize| {
        let asked = &case.schedule.at(at).exposure;
        let frame = evidence.frame(at);
        let row = frame.row();
        let mode = asked.mode.is_some()
            && (row.exposure_mode.as_known().is_some() || row.program.as_known().is_some());
        mode || PARAMETERS.iter().any(|p| (p.planned)(asked).is_some() && (p.exact)(frame).is_some())
    };
    if !evidence.in_run().any(tells) {
        return Opinion::cannot("no frame of the run gives a setting that the plan names");
    }
    let slots = by_slot(case.plan, evidence);
    let mut findings = Vec::new();
    for parameter in &PARAMETERS {
        let off: Vec<_> = slots
            .iter()
            .enumerate()
            .filter_map(|(slot, members)| nearest(case, parameter, slot, members))
            .collect();
        let groups = off.chunk_by(|a, b| a.slot + 1 == b.slot && a.planned == b.planned);
        let frames: usize = off.iter().map(|o| o.span.len()).sum();
        findings.extend(drawn_together(groups.filter_map(|g| told(evidence, parameter, g)), |many| {
            let frames = counted(frames as u64, "frame");
            format!("{} is off the plan on {frames}, in {many} places.", parameter.word)
        }));
    }
    findings.extend(modes(case, &slots));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at).or_else(|| (!tells(at)).then_some("no setting that the plan names"))
    })
}

/// The member of a slot that is nearest to the plan, where it is off.
fn nearest(case: &Case<'_>, parameter: &Parameter, slot: usize, members: &[usize]) -> Option<Off> {
    let evidence = case.evidence;
    let (first, last) = (*members.first()?, *members.last()?);
    let planned = (parameter.planned)(&case.schedule.at(first).exposure)?;
    let step = evidence.exposure.step;
    let off = |at: usize| {
        let frame = evidence.frame(at);
        let exact = (parameter.exact)(frame)?;
        let marked = (parameter.marked)(frame).unwrap_or(exact);
        let ev = off_ev(parameter.series, step, exact, marked, planned);
        ev.is_finite().then_some((ev, marked))
    };
    let best =
        members.iter().filter_map(|at| off(*at)).reduce(|a, b| if b.0.abs() < a.0.abs() { b } else { a })?;
    let (severity, level) = case.limits.weigh(OFF, (best.0.abs() * 1e4).round() / 1e4)?;
    Some(Off { slot, span: FrameSpan { first, last }, ev: best.0, value: best.1, planned, severity, level })
}

/// Numbers this close, in EV, are one mark in two writings (1/60 and 0.0167 s).
const AGREES_EV: f64 = 0.05;

/// How far a setting lies from the planned one, in EV; 0 within a planned range. Mark against mark and exact
/// against exact: where either agrees, it agrees. Two marks of a series that differ lie whole steps apart,
/// whatever their rounded numbers say.
fn off_ev(series: Series, step: Step, exact: f64, marked: f64, planned: Planned) -> f64 {
    let stops = if series == Series::Aperture { 2.0 } else { 1.0 };
    let beyond = |value: f64, low: f64, high: f64| {
        if value < low {
            stops * (value / low).log2()
        } else if value > high {
            stops * (value / high).log2()
        } else {
            0.0 * value
        }
    };
    let by_exact = beyond(
        exact,
        exact_or_same(series, planned.low(), step),
        exact_or_same(series, planned.high(), step),
    );
    let by_mark = beyond(marked, planned.low(), planned.high());
    let by_name = by_mark.abs() < AGREES_EV || exact_point(series, marked, step).is_none();
    if by_name && by_mark.abs() < by_exact.abs() { by_mark } else { by_exact }
}

fn told(evidence: &Sequence, parameter: &Parameter, group: &[Off]) -> Option<Finding> {
    let span = FrameSpan { first: group.first()?.span.first, last: group.last()?.span.last };
    let frames: u64 = group.iter().map(|o| o.span.len() as u64).sum();
    let worst = group.iter().reduce(|a, b| if b.ev.abs() > a.ev.abs() { b } else { a })?;
    let low = group.iter().map(|o| o.value).fold(f64::INFINITY, f64::min);
    let high = group.iter().map(|o| o.value).fold(f64::NEG_INFINITY, f64::max);
    let range = |low: f64, high: f64| {
        let (low, high) = ((parameter.text)(low), (parameter.text)(high));
        if low == high { low } else { format!("{low} to {high}") }
    };
    let (shot, asked) = (range(low, high), range(worst.planned.low(), worst.planned.high()));
    let message = format!(
        "{} is off the plan on {}, {}{}: {shot} where {asked} is planned ({:.2} EV at most).",
        parameter.word,
        counted(frames, "frame"),
        named(evidence, span),
        clocks_of(evidence, span),
        worst.ev.abs(),
    );
    Some(
        Finding::new(TEXT.id, group.iter().map(|o| o.severity).max()?, message)
            .count(frames)
            .on(span)
            .at(evidence.frame(span.first).moment())
            .figure(parameter.key, beside(worst.ev, Some(worst.level)))
            .figure("shot", Figure::Text(shot))
            .figure("planned", Figure::Text(asked)),
    )
}

/// Frames shot in another exposure mode than the plan asks for.
fn modes(case: &Case<'_>, slots: &Slots) -> Vec<Finding> {
    let evidence = case.evidence;
    let wrong = |at: usize| {
        let row = evidence.frame(at).row();
        let (mode, program) = (row.exposure_mode.known(), row.program.known());
        match case.schedule.at(at).exposure.mode? {
            // A402: 0 automatic, 1 manual, 2 bracketed. 8822: 1 manual, 2 to 8 programs of the camera.
            ExposureMode::Locked
                if mode == Some(0) || (mode.is_none() && program.is_some_and(|p| (2..=8).contains(&p))) =>
            {
                Some("was in an automatic mode where a locked exposure is planned")
            }
            ExposureMode::Automatic if mode == Some(1) && program.is_none_or(|p| p <= 1) => {
                Some("was in manual where an automatic exposure is planned")
            }
            _ => None,
        }
    };
    let all: Vec<_> = slots.iter().flatten().filter_map(|at| Some((*at, wrong(*at)?))).collect();
    let Some((severity, level)) = case.limits.weigh(MODE, all.len() as f64) else { return Vec::new() };
    let groups = all.chunk_by(|a, b| a.0 + 1 == b.0 && a.1 == b.1).filter_map(|group| {
        let (&(first, words), &(last, _)) = (group.first()?, group.last()?);
        let span = FrameSpan { first, last };
        let message = format!(
            "The camera {words} on {}, {}{}.",
            counted(group.len() as u64, "frame"),
            named(evidence, span),
            clocks_of(evidence, span),
        );
        let finding = Finding::new(TEXT.id, severity, message).count(group.len() as u64).on(span);
        Some(
            finding
                .at(evidence.frame(first).moment())
                .figure("frames", beside(all.len() as f64, Some(level))),
        )
    });
    drawn_together(groups, |many| {
        format!(
            "The camera was in another exposure mode than planned on {}, in {many} places.",
            counted(all.len() as u64, "frame")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::{Cell, Row};
    use crate::finding::Severity::{Caution, Note};
    use crate::plan::{Part, PartStart, Plan};

    fn asks(exposure: ExposurePlan) -> Plan {
        Plan { exposure, ..every(10.0) }
    }

    fn shutter(planned: Planned) -> Plan {
        asks(ExposurePlan { shutter_s: Some(planned), ..ExposurePlan::default() })
    }

    fn all(seconds: f64) -> Sequence {
        Sketch::steady(40, 10.0).change(0..40, |row| row.exposure_s = Cell::Known(seconds)).evidence()
    }

    #[test]
    fn stays_quiet_at_the_planned_settings() {
        let exposure = ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(1.0 / 60.0)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            ..ExposurePlan::default()
        };
        assert!(found(&CHECK, &asks(exposure), &Sketch::steady(40, 10.0).evidence()).is_empty());
        // A camera that writes the exact time of a marked 30 s.
        assert!(found(&CHECK, &shutter(Planned::Fixed(30.0)), &all(32.0)).is_empty());
    }

    #[test]
    fn tells_what_was_shot_and_what_was_planned() {
        let evidence = Sketch::steady(40, 10.0)
            .change(10..20, |row| row.exposure_s = Cell::Known(1.0 / 100.0))
            .change(30..31, |row| row.iso = Cell::Known(400))
            .evidence();
        let exposure = ExposurePlan {
            shutter_s: Some(Planned::Fixed(1.0 / 60.0)),
            iso: Some(Planned::Fixed(200.0)),
            ..ExposurePlan::default()
        };
        let findings = found(&CHECK, &asks(exposure), &evidence);
        assert_eq!(findings.len(), 2);
        assert_eq!((findings[0].count, findings[0].first, findings[0].last), (10, Some(10), Some(19)));
        assert!(
            findings[0].message.contains("1/100 s where 1/60 s is planned (0.67 EV"),
            "{}",
            findings[0].message
        );
        assert!(
            findings[1].message.contains("ISO 400 where ISO 200 is planned (1.00 EV"),
            "{}",
            findings[1].message
        );
    }

    /// Neighbouring marks lie a third of a stop apart, though 30 / 25 and 60 / 50 are 0.26 EV.
    #[test]
    fn neighbouring_marks_lie_a_third_apart() {
        for (planned, shot) in [(25.0, 30.0), (1.0 / 60.0, 1.0 / 50.0), (1.0 / 125.0, 1.0 / 100.0)] {
            let findings = found(&CHECK, &shutter(Planned::Fixed(planned)), &all(shot));
            assert!(findings[0].message.contains("(0.33 EV at most)"), "{}", findings[0].message);
        }
        // A time between the marks is compared with the number of the plan.
        let findings = found(&CHECK, &shutter(Planned::Fixed(1.0 / 60.0)), &all(1.0 / 55.0));
        assert!(findings[0].message.contains("(0.13 EV at most)"), "{}", findings[0].message);
    }

    #[test]
    fn a_range_holds_its_ends() {
        let plan = shutter(Planned::Between(1.0 / 500.0, 4.0));
        for seconds in [1.0 / 500.0, 1.0 / 30.0, 4.0] {
            assert!(found(&CHECK, &plan, &all(seconds)).is_empty(), "{seconds}");
        }
        for seconds in [1.0 / 640.0, 5.0] {
            assert_eq!(severities(&CHECK, &plan, &all(seconds)), [Caution], "{seconds}");
        }
    }

    #[test]
    fn below_at_and_above_a_twentieth() {
        // Free times, so that any distance can be set.
        for (ev, severity) in
            [(0.049_f64, vec![]), (0.05, vec![]), (0.051, vec![Caution]), (-0.051, vec![Caution])]
        {
            let plan = shutter(Planned::Fixed(1.0 / 61.0));
            assert_eq!(severities(&CHECK, &plan, &all(ev.exp2() / 61.0)), severity, "{ev}");
        }
    }

    #[test]
    fn a_camera_in_the_wrong_mode() {
        let automatic = |row: &mut Row| row.exposure_mode = Cell::Known(0);
        let locked = asks(ExposurePlan { mode: Some(ExposureMode::Locked), ..ExposurePlan::default() });
        let evidence = Sketch::steady(40, 10.0).change(0..3, automatic).evidence();
        let findings = found(&CHECK, &locked, &evidence);
        assert_eq!((findings.len(), findings[0].count, findings[0].severity), (1, 3, Caution));
        for (level, severity) in [(2.0, vec![Caution]), (3.0, vec![Caution]), (4.0, vec![])] {
            let plan = tolerating(locked.clone(), TEXT.id, "mode_caution", level);
            assert_eq!(severities(&CHECK, &plan, &evidence), severity);
        }
        let plan = asks(ExposurePlan { mode: Some(ExposureMode::Automatic), ..ExposurePlan::default() });
        assert_eq!(severities(&CHECK, &plan, &Sketch::steady(40, 10.0).evidence()), [Caution]);
        let plan = asks(ExposurePlan { mode: Some(ExposureMode::Ramped), ..ExposurePlan::default() });
        assert!(found(&CHECK, &plan, &evidence).is_empty());
        assert!(Note < Caution);
    }

    #[test]
    fn a_part_has_its_own_values_and_a_bracket_its_middle() {
        let evidence = Sketch::steady(40, 10.0)
            .change(20..40, |row| row.exposure_s = Cell::Known(1.0 / 15.0))
            .evidence();
        let exposure =
            ExposurePlan { shutter_s: Some(Planned::Fixed(1.0 / 15.0)), ..ExposurePlan::default() };
        let part =
            Part { from: PartStart::Frame(20), interval_s: None, exposure, direction: None, note: None };
        let plan = Plan { parts: vec![part], ..shutter(Planned::Fixed(1.0 / 60.0)) };
        assert!(found(&CHECK, &plan, &evidence).is_empty());
        let mut sketch = Sketch::steady(30, 10.0);
        sketch.slots = (0..30).map(|k| k / 3).collect();
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.exposure_s = Cell::Known([1.0 / 60.0, 1.0 / 250.0, 1.0 / 15.0][k % 3]);
        }
        let plan = Plan { bracket: Some(3), ..shutter(Planned::Fixed(1.0 / 60.0)) };
        assert!(found(&CHECK, &plan, &sketch.evidence()).is_empty());
    }

    #[test]
    fn cannot_judge_without_a_plan_or_what_it_names() {
        assert!(
            cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("names no exposure")
        );
        let bare = Sketch::steady(9, 10.0).change(0..9, |row| row.f_number = Cell::Known(0.0)).evidence();
        let plan = asks(ExposurePlan { aperture: Some(Planned::Fixed(8.0)), ..ExposurePlan::default() });
        assert!(cannot(&CHECK, &plan, &bare).contains("gives a setting"));
    }
}
