//! Steps of exposure that the eye will see.

mod ramps;
mod told;

use crate::checks::common::{PRACTICE, not_of_the_run, opinion};
use crate::checks::misfit::untold_members;
use crate::checks::steps::{Odd, steps};
use crate::checks::{Case, Check, Need};
use crate::finding::{
    About, ByCause, ClipEffect, Direction, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::plan::levels::STEP_EV;
use crate::plan::{ExposureMode, ExposurePlan};
use ramps::{BACK, STUCK, ramps};
pub use told::LIGHT_FOLLOWED;
use told::{Jump, ONE_FRAME, findings};

const TEXT: Text = Text {
    id: "exposure-jump",
    finds: "a jump in exposure",
    asks: "Does the exposure change only in steps that can be levelled?",
    why: "A step in exposure is a flash or a dip in the clip. Small even ones can be levelled in post; a \
          large one clips lights or drowns shadows for good.",
    how: "The exposure value of each frame is taken from exact settings (a marked 1/60 s is 1/64 s). Each \
          frame is compared with the one before it, and in a bracket with its like. A locked run may not \
          step at all, a ramped or automatic one by the plan's max_step. A single frame that steps away and \
          back is reported as one. Where the pictures were read, each step comes with what the picture did. \
          Where the picture stood or went against the settings, they followed the light: that is a note, \
          unless the run was to be locked. A planned ramp comes with its rate, its steps and its direction; \
          one whose exposures no dial has, with its slowest and fastest rate over a sixth of a stop. \
          Where the pictures were read, settings that stand while the light goes on are reported too.",
    blind: "Changes that the settings do not show: an iris that closes unevenly, passing clouds, a lamp. An \
            ND filter, unless the plan names it as a part.",
    remedy: "Level the step in post: levels.csv tells by how much. Where the exposure followed the light, go \
             by the pictures and not by the settings. Set everything to manual for a locked run; ramp by \
             thirds of a stop.",
    source: "EV from exact third-stop or half-stop values: ISO 2720:1974; Exif (CIPA DC-008), annex on APEX. \
             Levels: common practice, no source.",
    traits: Traits {
        about: About::Light,
        in_the_clip: ClipEffect::Jolts,
        patched: true,
        quality: Some(Quality::Exposure),
        by_cause: &[ByCause {
            cause: ONE_FRAME,
            name: "One frame alone",
            remedy: "bridge that frame with its neighbours, or level it in post.",
        }],
        ..Traits::PLAIN
    },
};

/// Two thirds of a stop and a hair: a ramp by thirds holds the picture within half of that.
const STUCK_EV: f64 = 0.7;

const STEP: LimitKey = LimitKey::new("step");
const LOCKED: LimitKey = LimitKey::new("locked");

const LIMITS: &[Limit] = &[
    Limit {
        key: STEP,
        unit: "EV between neighbouring frames, ramped or automatic (the plan's max_step comes first)",
        direction: Direction::Above,
        caution: Some(STEP_EV),
        fault: Some(1.0),
        source: PRACTICE,
    },
    Limit {
        key: LOCKED,
        unit: "EV between neighbouring frames, locked",
        direction: Direction::Above,
        caution: Some(0.05),
        fault: Some(1.0),
        source: PRACTICE,
    },
    Limit {
        key: STUCK,
        unit: "EV that the picture changes while the settings of a run that follows the light stand still",
        direction: Direction::Above,
        caution: Some(STUCK_EV),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: BACK,
        unit: "steps of a planned ramp against its own direction",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Exposures], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    if let Some(why) = untold_members(case.schedule.misfit()) {
        return Opinion::cannot(why);
    }
    let mut jumps = Vec::new();
    let mut ramped = Vec::new();
    for of_member in steps(case.plan, evidence, case.schedule) {
        ramped.extend(ramps(TEXT.id, case, &of_member));
        let mut rest = of_member.as_slice();
        while let Some((step, later)) = rest.split_first() {
            rest = later;
            let asked = &case.schedule.at(step.after).exposure;
            let Some((severity, level)) = weigh(case, asked, step.ev) else { continue };
            let locked = asked.mode == Some(ExposureMode::Locked);
            let back = later.first().filter(|b| b.before == step.after && b.ev * step.ev < 0.0);
            match back.and_then(|b| Some((b, weigh(case, asked, b.ev)?))) {
                Some((b, (back_severity, _))) if weigh(case, asked, step.ev + b.ev).is_none() => {
                    let what = Err(Odd { there: *step, back: *b });
                    jumps.push(Jump::new(case, what, (severity.max(back_severity), level), locked));
                    rest = later.get(1..).unwrap_or_default();
                }
                _ => jumps.push(Jump::new(case, Ok(*step), (severity, level), locked)),
            }
        }
    }
    jumps.sort_by_key(Jump::ends);
    let mut findings = findings(TEXT.id, case, &jumps);
    findings.extend(ramped);
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frame(at).ev100().is_none().then_some("no exposure value"))
    })
}

/// How much a step weighs against what is asked there.
fn weigh(case: &Case<'_>, asked: &ExposurePlan, ev: f64) -> Option<(Severity, f64)> {
    // Exact points are held as short floats: what they cannot tell apart is the same step.
    let ev = (ev.abs() * 1e4).round() / 1e4;
    if asked.mode == Some(ExposureMode::Locked) {
        return case.limits.weigh(LOCKED, ev);
    }
    let overridden = case.limits.get(STEP).caution != Some(STEP_EV);
    match asked.max_step_ev.filter(|_| !overridden) {
        Some(most) if ev <= most => None,
        Some(most) => {
            case.limits.weigh(STEP, ev).filter(|w| w.0 == Severity::Fault).or(Some((Severity::Caution, most)))
        }
        None => case.limits.weigh(STEP, ev),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Sequence;

    /// Automatic exposure that meters a scene: the settings close by a stop and the picture stands, or grows
    /// brighter.
    #[test]
    fn settings_that_followed_the_light_are_a_note_that_says_so() {
        use crate::finding::Severity::Note;
        for (shown, severity) in [(0.3, Note), (0.0, Note), (-1.0, Caution)] {
            let evidence = Sketch::steady(60, 10.0)
                .change(0..30, shutter(1.0 / 61.0))
                .change(30..60, shutter(0.5 / 61.0))
                .shows(|k| if k < 30 { 0.0 } else { shown })
                .evidence();
            let findings = found(&CHECK, &mode(ExposureMode::Automatic), &evidence);
            assert_eq!(findings.iter().map(|f| f.severity).collect::<Vec<_>>(), [severity], "{findings:?}");
            let says = findings[0].message.contains("followed the light");
            assert_eq!(says, severity == Note, "{}", findings[0].message);
            // A run that was to be locked may not step, whatever the light did.
            let locked = found(&CHECK, &mode(ExposureMode::Locked), &evidence);
            assert_eq!(locked[0].severity, Caution, "{locked:?}");
            let levels = crate::evidence::picture::levels(&Plan::default(), &evidence);
            let known = levels.settings_ev.iter().any(|ev| ev.is_finite());
            assert_eq!(known, severity != Note, "levels by settings where the light was followed");
        }
    }

    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::{Cell, Row};
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::{Part, PartStart, Plan};

    fn mode(mode: ExposureMode) -> Plan {
        Plan { exposure: ExposurePlan { mode: Some(mode), ..ExposurePlan::default() }, ..every(10.0) }
    }

    fn shutter(seconds: f64) -> impl Fn(&mut Row) {
        move |row| row.exposure_s = Cell::Known(seconds)
    }

    /// Free exposure times, so that any step can be set: `ev` less light from frame 30 on.
    fn stepped(ev: f64) -> Sequence {
        Sketch::steady(60, 10.0)
            .change(0..30, shutter(1.0 / 61.0))
            .change(30..60, shutter((-ev).exp2() / 61.0))
            .evidence()
    }

    #[test]
    fn stays_quiet_on_a_locked_run_and_on_a_ramp_by_thirds() {
        assert!(found(&CHECK, &mode(ExposureMode::Locked), &Sketch::steady(60, 10.0).evidence()).is_empty());
        let mut ramp = Sketch::steady(5, 10.0);
        for (row, d) in ramp.rows.iter_mut().zip([125.0, 100.0, 80.0, 60.0, 50.0]) {
            row.exposure_s = Cell::Known(1.0 / d);
        }
        let evidence = ramp.evidence();
        assert!(found(&CHECK, &mode(ExposureMode::Ramped), &evidence).is_empty());
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
        assert_eq!(severities(&CHECK, &mode(ExposureMode::Locked), &evidence), [Caution; 4]);
    }

    #[test]
    fn locked_over_a_twentieth_and_over_one() {
        for (ev, severity) in [
            (0.049, vec![]),
            (0.05, vec![]),
            (0.051, vec![Caution]),
            (1.0, vec![Caution]),
            (-1.001, vec![Fault]),
        ] {
            assert_eq!(severities(&CHECK, &mode(ExposureMode::Locked), &stepped(ev)), severity, "{ev}");
        }
    }

    #[test]
    fn ramped_over_max_step_and_over_one() {
        for (ev, severity) in [
            (0.33, vec![]),
            (0.34, vec![]),
            (0.341, vec![Caution]),
            (1.0, vec![Caution]),
            (1.001, vec![Fault]),
        ] {
            for plan in [mode(ExposureMode::Ramped), mode(ExposureMode::Automatic), every(10.0)] {
                assert_eq!(severities(&CHECK, &plan, &stepped(ev)), severity, "{ev}");
            }
        }
        let mut plan = mode(ExposureMode::Ramped);
        plan.exposure.max_step_ev = Some(0.5);
        for (ev, severity) in [(0.499, vec![]), (0.5, vec![]), (0.501, vec![Caution])] {
            assert_eq!(severities(&CHECK, &plan, &stepped(ev)), severity, "{ev}");
        }
        let plan = tolerating(plan, TEXT.id, "step_caution", 0.7);
        assert!(found(&CHECK, &plan, &stepped(0.6)).is_empty());
    }

    #[test]
    fn names_what_moved() {
        let evidence = Sketch::steady(60, 10.0).change(30..60, shutter(1.0 / 125.0)).evidence();
        let findings = found(&CHECK, &mode(ExposureMode::Ramped), &evidence);
        assert_eq!((findings[0].first, findings[0].last), (Some(29), Some(30)));
        let message = &findings[0].message;
        assert!(message.contains("1.00 EV less light, by shutter 1/60 s to 1/125 s"), "{message}");
    }

    #[test]
    fn says_so_where_slots_are_missing_in_the_step() {
        let sketch = Sketch::steady(60, 10.0).change(32..60, shutter(1.0 / 125.0)).without(&[30, 31], true);
        let findings = found(&CHECK, &mode(ExposureMode::Ramped), &sketch.evidence());
        assert!(findings[0].message.contains(", across 2 missing slots: 1.00 EV"), "{}", findings[0].message);
    }

    #[test]
    fn a_single_odd_frame_is_one_finding() {
        let evidence = Sketch::steady(60, 10.0).change(30..31, shutter(1.0 / 125.0)).evidence();
        let findings = found(&CHECK, &mode(ExposureMode::Locked), &evidence);
        assert_eq!((findings.len(), findings[0].first, findings[0].last), (1, Some(30), Some(30)));
    }

    #[test]
    fn many_steps_are_few_findings() {
        let mut sketch = Sketch::steady(200, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.exposure_s = Cell::Known(if k / 3 % 2 == 0 { 1.0 / 60.0 } else { 1.0 / 100.0 });
        }
        sketch = sketch.change(150..200, |row| row.iso = Cell::Known(1600));
        let findings = found(&CHECK, &mode(ExposureMode::Automatic), &sketch.evidence());
        assert_eq!(findings.len(), 2);
        assert!(findings.iter().any(|f| f.severity == Fault && f.count == 1), "{findings:?}");
    }

    #[test]
    fn a_bracket_is_held_against_its_like_and_a_part_is_exempt() {
        let mut sketch = Sketch::steady(60, 10.0);
        sketch.slots = (0..60).map(|k| k / 3).collect();
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.exposure_s = Cell::Known([1.0 / 60.0, 1.0 / 250.0, 1.0 / 15.0][k % 3]);
        }
        let plan = Plan { bracket: Some(3), ..mode(ExposureMode::Locked) };
        assert!(found(&CHECK, &plan, &sketch.evidence()).is_empty());
        let part = Part {
            from: PartStart::Frame(30),
            interval_s: None,
            exposure: ExposurePlan::default(),
            direction: None,
            note: None,
        };
        let plan = Plan { parts: vec![part], ..mode(ExposureMode::Locked) };
        assert!(found(&CHECK, &plan, &stepped(3.0)).is_empty());
    }

    #[test]
    fn cannot_judge_without_exposures() {
        let blind = Sketch::steady(9, 10.0).change(0..9, |row| row.iso = Cell::Absent).evidence();
        assert!(cannot(&CHECK, &every(10.0), &blind).contains("gives its exposure"));
    }
}
