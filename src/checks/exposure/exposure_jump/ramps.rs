//! Ramps of exposure: how fast, how even, which way; and whether one stopped while the light went on.

use crate::checks::Case;
use crate::checks::common::{beside, clocks_of, count, known, number, over};
use crate::checks::steps::Step;
use crate::evidence::Sequence;
use crate::finding::{CauseCode, Finding, LimitKey, Severity};
use crate::plan::ExposureMode;
use crate::units::{FrameSpan, counted, duration};

const RAMP_STUCK: CauseCode = CauseCode::new("ramp-stuck");

/// Key of a limit of the check that calls this.
pub(crate) const BACK: LimitKey = LimitKey::new("back");
/// Key of a limit of the check that calls this.
pub(crate) const STUCK: LimitKey = LimitKey::new("stuck");

/// A smaller step than this, EV, is none.
const STILL_EV: f64 = 0.02;
/// A step there and another back that add up to less than this, EV, are one odd frame or a hunt, told
/// elsewhere.
const BACK_EV: f64 = 0.05;
/// Fewest steps of a ramp that is told.
const FEWEST: usize = 6;
/// Fewest steps of a run without a planned mode that follows the light.
const FOLLOWS: usize = 3;
/// Frames of a stretch of standing settings whose brightness is compared, at either end, and the shortest
/// such stretch.
const ENDS: usize = 5;
const SHORTEST: usize = 12;

/// What there is to say of a planned ramp, and of settings that stand while the light goes on. `steps` are
/// those of one member.
pub(crate) fn ramps(check: &'static str, case: &Case<'_>, steps: &[Step]) -> Vec<Finding> {
    let ramped = |step: &&Step| case.schedule.at(step.after).exposure.mode == Some(ExposureMode::Ramped);
    let planned: Vec<&Step> = steps.iter().filter(ramped).filter(|s| s.ev.abs() > STILL_EV).collect();
    let mut findings: Vec<Finding> = course(check, case, &planned).into_iter().collect();
    findings.extend(stuck(check, case, steps));
    findings
}

/// Rate, evenness and direction of a planned ramp.
fn course(check: &'static str, case: &Case<'_>, steps: &[&Step]) -> Option<Finding> {
    let evidence = case.evidence;
    let (first, last) = (steps.first()?.before, steps.last()?.after);
    let net: f64 = steps.iter().map(|s| s.ev).sum();
    if steps.len() < FEWEST || net.abs() <= BACK_EV {
        return None;
    }
    let back: Vec<usize> = (0..steps.len()).filter(|k| steps[*k].ev * net < 0.0).collect();
    let wrong: Vec<&Step> = back.iter().filter(|k| !is_paired(steps, **k)).map(|k| steps[*k]).collect();
    let sizes = steps.iter().filter(|s| s.ev * net > 0.0).map(|s| s.ev.abs());
    let (small, large) = sizes.fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), s| (a.min(s), b.max(s)));
    let (from, to) = (evidence.frame(first).stamp(), evidence.frame(last).stamp());
    let span_s = from.zip(to).map(|(a, b)| b.at.seconds_since(a.at)).filter(|s| *s > 0.0);
    let pace = span_s.map(|s| (duration(s), 3600.0 * net.abs() / s));
    let even = if large - small > BACK_EV {
        format!("steps of {small:.2} to {large:.2} EV, unevenly")
    } else {
        format!("steps of {large:.2} EV")
    };
    let turned = back.first().map_or_else(String::new, |k| {
        let at = evidence.frame(steps[*k].after).name();
        let pairs = in_pairs(back.len(), wrong.len());
        format!(", {} of them the other way (first at {at}{pairs})", back.len())
    });
    let message = format!(
        "The ramp goes {:.2} EV towards {} light{} in {} {even}{turned}.",
        net.abs(),
        if net > 0.0 { "less" } else { "more" },
        pace.as_ref().map_or_else(String::new, |(time, rate)| format!(" in {time}, {rate:.1} EV an hour,")),
        steps.len(),
    );
    let weighed = case.limits.weigh(BACK, wrong.len() as f64);
    let mut finding =
        over(Finding::new(check, weighed.map_or(Severity::Note, |w| w.0), message), first, last)
            .count(steps.len() as u64)
            .at(evidence.frame(first).moment())
            .figure("ramp_ev", number(-net))
            .figure("ev_per_hour", known(pace.map(|p| p.1)))
            .figure("smallest_step_ev", number(small))
            .figure("largest_step_ev", number(large))
            .figure("steps_back", beside(wrong.len() as f64, weighed.map(|w| w.1)));
    finding.marks = wrong.iter().map(|s| FrameSpan::one(s.after)).collect();
    Some(finding)
}

/// True where the step right before or after step `k` takes it back: an odd frame or a hunt, judged as such.
fn is_paired(steps: &[&Step], k: usize) -> bool {
    let takes_back = |other: &&Step| {
        let next_to = other.after == steps[k].before || other.before == steps[k].after;
        next_to && (other.ev + steps[k].ev).abs() < BACK_EV
    };
    let before = k.checked_sub(1).and_then(|k| steps.get(k));
    before.is_some_and(takes_back) || steps.get(k + 1).is_some_and(takes_back)
}

/// How many of the steps back go there and back again: the sentence counts them, though they are judged
/// elsewhere.
fn in_pairs(back: usize, wrong: usize) -> String {
    match back - wrong {
        0 => String::new(),
        n if wrong == 0 => format!(
            "; {} there and back again, judged as hunting or as odd frames",
            if n == 1 { "it goes" } else { "they go" }
        ),
        n => format!("; {n} of these there and back again, judged as hunting or as odd frames"),
    }
}

/// Stretches in which the settings stand and the picture goes on growing darker or brighter, in a run that
/// follows the light.
fn stuck(check: &'static str, case: &Case<'_>, steps: &[Step]) -> Vec<Finding> {
    let evidence = case.evidence;
    let moving = steps.iter().filter(|s| s.ev.abs() > STILL_EV).count();
    let follows = |at: usize| match case.schedule.at(at).exposure.mode {
        Some(ExposureMode::Ramped | ExposureMode::Automatic) => true,
        Some(ExposureMode::Locked) => false,
        None => moving >= FOLLOWS,
    };
    let still = |s: &Step| s.ev.abs() <= STILL_EV && !s.on_purpose;
    steps
        .chunk_by(|a, b| still(a) == still(b))
        .filter(|run| run.first().is_some_and(still) && run.len() >= SHORTEST)
        .filter_map(|run| {
            let frames: Vec<usize> =
                run.first().map(|s| s.before).into_iter().chain(run.iter().map(|s| s.after)).collect();
            let (first, last) = (*frames.first()?, *frames.last()?);
            if !follows(first) {
                return None;
            }
            let change = evidence.pictures.change(&frames, ENDS, SHORTEST)?;
            let (severity, limit) = case.limits.weigh(STUCK, change.abs())?;
            Some(told(check, evidence, (first, last), frames.len(), change, (severity, limit)))
        })
        .collect()
}

fn told(
    check: &'static str,
    evidence: &Sequence,
    (first, last): (usize, usize),
    frames: usize,
    change: f64,
    (severity, limit): (Severity, f64),
) -> Finding {
    let message = format!(
        "The settings stand still from {} to {}{} ({}) while the picture grows {:.2} EV {}: the ramp stopped \
         and the light went on.",
        evidence.frame(first).name(),
        evidence.frame(last).name(),
        clocks_of(evidence, FrameSpan { first, last }),
        counted(frames as u64, "frame"),
        change.abs(),
        if change < 0.0 { "darker" } else { "brighter" },
    );
    over(Finding::new(check, severity, message), first, last)
        .count(frames as u64)
        .at(evidence.frame(first).moment())
        .figure("brightness_change_ev", beside(change, Some(limit)))
        .figure("frames", count(frames as u64))
        .because(RAMP_STUCK, "the picture follows the light and the settings do not follow it")
}

#[cfg(test)]
mod tests {
    use super::super::CHECK;
    use crate::checks::testing::{Sketch, every, found};
    use crate::evidence::{Cell, Sequence};
    use crate::finding::Severity::{Caution, Note};
    use crate::plan::{ExposureMode, ExposurePlan, Plan};

    const ISO: [u32; 12] = [200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500];

    fn ramped() -> Plan {
        let exposure = ExposurePlan { mode: Some(ExposureMode::Ramped), ..ExposurePlan::default() };
        Plan { exposure, ..every(10.0) }
    }

    /// A third every ten frames up to `stops_at`, in light that falls by 0.033 EV a frame.
    fn ramp(stops_at: usize, third: impl Fn(usize) -> usize) -> Sequence {
        let at = |k: usize| third(k.min(stops_at) / 10);
        let mut sketch = Sketch::steady(120, 10.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.iso = Cell::Known(ISO[at(k)]);
        }
        sketch.shows(|k| at(k) as f64 / 3.0 - k as f64 / 30.0).evidence()
    }

    #[test]
    fn an_even_ramp_is_told_with_its_rate() {
        let findings = found(&CHECK, &ramped(), &ramp(200, |third| third));
        assert_eq!(findings.iter().map(|f| f.severity).collect::<Vec<_>>(), [Note]);
        let message = &findings[0].message;
        assert!(message.contains("3.67 EV towards more light"), "{message}");
        assert!(message.contains("in 11 steps of 0.33 EV."), "{message}");
        // 3.67 EV between the frames at 90 s and 1100 s.
        assert!(message.contains("13.1 EV an hour"), "{message}");
    }

    #[test]
    fn steps_back_and_uneven_steps_are_told() {
        let findings =
            found(&CHECK, &ramped(), &ramp(200, |third| if third >= 6 { third - 2 } else { third }));
        let course = findings.iter().find(|f| f.message.starts_with("The ramp goes")).expect("a ramp");
        assert_eq!(course.severity, Caution, "{findings:?}");
        assert!(course.message.contains("1 of them the other way"), "{}", course.message);
        let skips =
            found(&CHECK, &ramped(), &ramp(200, |third| if third >= 6 { third.min(10) + 1 } else { third }));
        assert!(skips.iter().any(|f| f.message.contains("unevenly")), "{skips:?}");
    }

    /// Thirty frames of standing settings lose a stop of light; those of an even ramp lose a third at most.
    #[test]
    fn a_ramp_that_stopped_while_the_light_went_on() {
        let findings = found(&CHECK, &ramped(), &ramp(60, |third| third));
        let stuck = findings.iter().find(|f| f.cause.as_ref().is_some_and(|c| c.code.name() == "ramp-stuck"));
        let stuck = stuck.expect("found");
        assert_eq!((stuck.first, stuck.last, stuck.severity), (Some(60), Some(119), Caution));
        let locked = ExposurePlan { mode: Some(ExposureMode::Locked), ..ExposurePlan::default() };
        let still = Sketch::steady(120, 10.0).shows(|k| -0.02 * k as f64).evidence();
        assert!(found(&CHECK, &Plan { exposure: locked, ..every(10.0) }, &still).is_empty());
        assert!(found(&CHECK, &every(10.0), &still).is_empty(), "settings that never moved are no ramp");
    }
}
