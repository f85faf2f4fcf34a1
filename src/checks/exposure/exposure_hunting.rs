//! Exposure that turns back and forth.

use crate::checks::common::{PRACTICE, beside, clocks_of, not_of_the_run, number, opinion, over};
use crate::checks::misfit::untold_members;
use crate::checks::shows::{Shown, at_step};
use crate::checks::steps::{Step, steps};
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::finding::{
    About, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::plan::ExposureMode;
use crate::units::{Figure, FrameSpan};

const TEXT: Text = Text {
    id: "exposure-hunting",
    finds: "settings that go back and forth",
    asks: "Does the exposure go one way at a time?",
    why: "A meter that cannot decide between two settings makes the clip pulse. Each step may be small, and \
          still you see the pulsing.",
    how: "The exact exposure is followed from frame to frame. Where it comes back by more than 0.05 EV from \
          its farthest point, at once or in several steps, that is a reversal. Reversals within 20 frames \
          are counted. A ramp that pauses and goes on has not turned.",
    blind: "Turns of 0.05 EV and less. A pulsing of the light itself.",
    remedy: "Lock the exposure, or ramp it one way by plan. Level the pulsing in post with levels.csv: by \
             the pictures where the exposure followed the light.",
    source: "EV from exact settings: ISO 2720:1974. Levels: common practice, no source.",
    traits: Traits {
        about: About::Light,
        in_the_clip: ClipEffect::Jolts,
        quality: Some(Quality::Exposure),
        ..Traits::PLAIN
    },
};

const REVERSALS: LimitKey = LimitKey::new("reversals");
const PLANNED: LimitKey = LimitKey::new("planned");

const LIMITS: &[Limit] = &[
    Limit {
        key: REVERSALS,
        unit: "reversals within 20 frames",
        direction: Direction::AtLeast,
        caution: Some(3.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: PLANNED,
        unit: "reversals within 20 frames of a run planned locked or ramped",
        direction: Direction::AtLeast,
        caution: Some(3.0),
        fault: Some(6.0),
        source: PRACTICE,
    },
];

/// Reversals are counted within so many frames.
const WINDOW: usize = 20;

/// Coming back by this much, EV, or less is no reversal: it cannot be told from a scene that drifts (common
/// practice, no source).
const STILL_EV: f64 = 0.05;

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Exposures], judge };

/// A stretch of hunting: reversals from one index to another, and the most within the window.
struct Hunt {
    first: usize,
    last: usize,
    most: usize,
    severity: Severity,
    level: f64,
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    if let Some(why) = untold_members(case.schedule.misfit()) {
        return Opinion::cannot(why);
    }
    // A bracket's members move together; the first speaks for all.
    let all = steps(case.plan, evidence, case.schedule).into_iter().next().unwrap_or_default();
    let reversals = reversals(&all);
    let hunts = hunts(case, &reversals);
    let findings = hunts.iter().map(|hunt| told(case, &reversals, hunt)).collect();
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frame(at).ev100().is_none().then_some("no exposure value"))
    })
}

fn reversals(steps: &[Step]) -> Vec<Step> {
    let mut direction = 0.0;
    // How far it lies from the furthest that it came in that direction; without a direction, from where it
    // began.
    let mut off = 0.0;
    let mut found = Vec::new();
    for step in steps {
        if step.on_purpose {
            (direction, off) = (0.0, 0.0);
        }
        off += step.ev;
        if off * direction > 0.0 {
            off = 0.0;
        }
        // A hair off, so that sums of exact steps do not pass the level by their dust.
        if off.abs() <= STILL_EV + 1e-9 {
            continue;
        }
        if direction != 0.0 {
            found.push(*step);
        }
        (direction, off) = (off.signum(), 0.0);
    }
    found
}

fn hunts(case: &Case<'_>, reversals: &[Step]) -> Vec<Hunt> {
    let mut hunts: Vec<Hunt> = Vec::new();
    let mut end = 0;
    for (first, reversal) in reversals.iter().enumerate() {
        while reversals.get(end).is_some_and(|r| r.ordinal - reversal.ordinal < WINDOW) {
            end += 1;
        }
        let most = end - first;
        let key = match case.schedule.at(reversal.after).exposure.mode {
            Some(ExposureMode::Locked | ExposureMode::Ramped) => PLANNED,
            _ => REVERSALS,
        };
        let Some((severity, level)) = case.limits.weigh(key, most as f64) else { continue };
        match hunts.last_mut() {
            Some(hunt) if first <= hunt.last => {
                hunt.last = end - 1;
                if most > hunt.most {
                    (hunt.most, hunt.level) = (most, level);
                }
                hunt.severity = hunt.severity.max(severity);
            }
            _ => hunts.push(Hunt { first, last: end - 1, most, severity, level }),
        }
    }
    hunts
}

fn told(case: &Case<'_>, reversals: &[Step], hunt: &Hunt) -> Finding {
    let evidence = case.evidence;
    let of_hunt = &reversals[hunt.first..=hunt.last];
    let (first, last) = (reversals[hunt.first].before, reversals[hunt.last].after);
    let largest = of_hunt.iter().map(|r| r.ev.abs()).fold(0.0, f64::max);
    let up_to = if hunt.most < of_hunt.len() { format!(", up to {}", hunt.most) } else { String::new() };
    let rms = shown_rms(evidence, of_hunt);
    let followed = rms.is_some_and(|(shown, levelled)| levelled > shown);
    let planned = case.schedule.at(first).exposure.mode;
    let still = matches!(planned, Some(ExposureMode::Locked | ExposureMode::Ramped));
    let severity = if followed && !still { Severity::Note } else { hunt.severity };
    let picture = match rms {
        Some((shown, _)) if followed => format!(
            "; it followed the light: the picture turns by {shown:.2} EV rms there, and levelling by the \
             settings would make it worse"
        ),
        Some((shown, _)) => format!("; the picture goes with it, by {shown:.2} EV rms"),
        None => String::new(),
    };
    let message = format!(
        "The exposure hunts from {} to {}{}: {} reversals{up_to} within {WINDOW} frames, by up to \
         {largest:.2} EV{picture}.",
        evidence.frame(first).name(),
        evidence.frame(last).name(),
        clocks_of(evidence, FrameSpan { first, last }),
        of_hunt.len(),
    );
    let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
        .figure("picture_ev_rms", rms.map_or(Figure::Unknown, |r| number(r.0)))
        .count(of_hunt.len() as u64)
        .at(evidence.frame(first).moment())
        .figure("reversals_within_20_frames", beside(hunt.most as f64, Some(hunt.level)))
        .figure("largest_step_ev", number(largest));
    finding.marks = of_hunt.iter().map(|r| FrameSpan::one(r.after)).collect();
    finding
}

/// What the picture does at the reversals, EV rms, and what it would do if it were levelled by the settings;
/// `None` where the pictures do not tell of most.
fn shown_rms(evidence: &Sequence, reversals: &[Step]) -> Option<(f64, f64)> {
    let seen: Vec<(Shown, f64)> =
        reversals.iter().filter_map(|r| Some((at_step(evidence, r)?, r.ev))).collect();
    if seen.len() * 2 <= reversals.len() {
        return None;
    }
    let rms = |of: &dyn Fn(&(Shown, f64)) -> f64| {
        (seen.iter().map(|s| of(s).powi(2)).sum::<f64>() / seen.len() as f64).sqrt()
    };
    Some((rms(&|(shown, _)| shown.ev), rms(&|(shown, less)| shown.ev + less)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::{ExposurePlan, Plan};

    fn mode(mode: ExposureMode) -> Plan {
        Plan { exposure: ExposurePlan { mode: Some(mode), ..ExposurePlan::default() }, ..every(10.0) }
    }

    /// A third of a stop there or back after each of those frames.
    fn turning(at: &[usize]) -> Sequence {
        let mut sketch = Sketch::steady(100, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            let turns = at.iter().filter(|t| **t < k).count();
            row.exposure_s = Cell::Known(if turns % 2 == 0 { 1.0 / 60.0 } else { 1.0 / 50.0 });
        }
        sketch.evidence()
    }

    #[test]
    fn a_ramp_that_pauses_has_not_turned() {
        let mut sketch = Sketch::steady(60, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.iso = Cell::Known([100, 100, 125, 125, 160, 200, 200, 250, 320, 400][k / 6]);
        }
        assert!(found(&CHECK, &mode(ExposureMode::Ramped), &sketch.evidence()).is_empty());
    }

    #[test]
    fn three_within_twenty_frames_are_a_caution() {
        // The first change is a direction, each further one a reversal.
        for (turns, severity) in [
            (vec![10, 12, 14], vec![]),
            (vec![10, 12, 14, 16], vec![Caution]),
            (vec![10, 12, 14, 16, 18], vec![Caution]),
        ] {
            assert_eq!(
                severities(&CHECK, &mode(ExposureMode::Automatic), &turning(&turns)),
                severity,
                "{turns:?}"
            );
        }
        let spread: Vec<_> = (0..8).map(|k| 5 + 10 * k).collect();
        assert!(found(&CHECK, &mode(ExposureMode::Automatic), &turning(&spread)).is_empty());
    }

    /// To and fro every third frame: by 0.05 EV it cannot be told from a scene that drifts, by more it is
    /// hunting.
    #[test]
    fn a_turn_of_a_twentieth_of_a_stop_is_none() {
        for (ev, severity) in [(0.02, vec![]), (0.049, vec![]), (0.053, vec![Caution])] {
            let mut sketch = Sketch::steady(40, 10.0);
            for (k, row) in sketch.rows.iter_mut().enumerate() {
                // Times of an automatic exposure lie between the marks; a slow rise goes on below the turns.
                let off = if k / 3 % 2 == 0 { 0.0 } else { ev };
                row.exposure_s = Cell::Known(0.0418 * f64::exp2(0.000_1 * k as f64 + off));
            }
            assert_eq!(severities(&CHECK, &every(10.0), &sketch.evidence()), severity, "{ev}");
        }
    }

    #[test]
    fn the_window_is_twenty_frames() {
        for (third, severity) in [(30, vec![Caution]), (31, vec![Caution]), (32, vec![])] {
            let turns = [10, 12, 14, third];
            assert_eq!(severities(&CHECK, &every(10.0), &turning(&turns)), severity, "{third}");
        }
    }

    #[test]
    fn six_are_a_fault_in_a_run_planned_still() {
        let turns = |n: usize| (0..=n).map(|k| 10 + 2 * k).collect::<Vec<_>>();
        for (n, severity) in [(5, Caution), (6, Fault), (7, Fault)] {
            for still in [ExposureMode::Locked, ExposureMode::Ramped] {
                assert_eq!(severities(&CHECK, &mode(still), &turning(&turns(n))), [severity], "{n}");
            }
            assert_eq!(severities(&CHECK, &mode(ExposureMode::Automatic), &turning(&turns(n))), [Caution]);
        }
    }

    #[test]
    fn two_hunts_apart_are_two_findings() {
        // The first change is a direction; the one after the long pause turns against the last.
        let turns = [5, 7, 9, 11, 13, 70, 72, 74, 76, 78];
        let findings = found(&CHECK, &every(10.0), &turning(&turns));
        assert_eq!(findings.iter().map(|f| f.count).collect::<Vec<_>>(), [4, 5]);
        assert_eq!((findings[0].first, findings[0].last), (Some(7), Some(14)));
    }

    #[test]
    fn cannot_judge_without_exposures() {
        let blind = Sketch::steady(9, 10.0).change(0..9, |row| row.exposure_s = Cell::Blank).evidence();
        assert!(cannot(&CHECK, &every(10.0), &blind).contains("gives its exposure"));
    }
}
