//! Ramps of exposure: how fast, how even, which way; and whether one stopped while the light went on.

use crate::checks::Case;
use crate::checks::common::{beside, clocks_of, count, known, number, over};
use crate::checks::steps::Step;
use crate::evidence::Sequence;
use crate::finding::{CauseCode, Finding, LimitKey, Severity};
use crate::plan::ExposureMode;
use crate::stats::median;
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
/// A step that is no more than the rounding of a written exposure, EV.
const NOTHING_EV: f64 = 1e-4;
/// Half of a third of a stop, EV: what steps off the dials are drawn together to.
const BIT_EV: f64 = 1.0 / 6.0;
/// Times its slowest pace that a smooth ramp may take and be even. Common practice, no source.
const UNEVEN: f64 = 2.0;
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
    let planned: Vec<&Step> = steps.iter().filter(ramped).collect();
    let course = match off_the_dials(&planned) {
        true => smooth(check, case, &planned),
        false => {
            let moving: Vec<&Step> = planned.into_iter().filter(|s| s.ev.abs() > STILL_EV).collect();
            course(check, case, &moving)
        }
    };
    let mut findings: Vec<Finding> = course.into_iter().collect();
    findings.extend(stuck(check, case, steps));
    findings
}

/// True for a ramp of exposures that no dial has: most of its steps are smaller than half of a third of a
/// stop.
fn off_the_dials(steps: &[&Step]) -> bool {
    let sizes = || steps.iter().map(|s| s.ev.abs()).filter(|ev| *ev > NOTHING_EV);
    sizes().count() >= FEWEST && median(sizes()).is_some_and(|middle| middle < BIT_EV)
}

/// A bit of a smooth ramp: as many frames as take half of a third of a stop.
struct Bit {
    before: usize,
    after: usize,
    ev: f64,
    /// Whole seconds of a stamp make the shortest uncertain; `None` without stamps.
    seconds: Option<f64>,
}

/// The whole bits of a smooth ramp, in order.
fn bits(evidence: &Sequence, steps: &[&Step]) -> Vec<Bit> {
    let mut bits = Vec::new();
    let mut open: Option<(usize, f64)> = None;
    for step in steps {
        let (before, ev) = open.take().map_or((step.before, step.ev), |(before, ev)| (before, ev + step.ev));
        if ev.abs() < BIT_EV {
            open = Some((before, ev));
            continue;
        }
        let moments = evidence.frame(before).moment().zip(evidence.frame(step.after).moment());
        let seconds = moments.map(|(a, b)| b.seconds_since(a)).filter(|s| *s > 0.0);
        bits.push(Bit { before, after: step.after, ev, seconds });
    }
    bits
}

/// Rate, evenness and direction of a ramp whose steps are too small to be told one by one.
fn smooth(check: &'static str, case: &Case<'_>, steps: &[&Step]) -> Option<Finding> {
    let evidence = case.evidence;
    let moving = |s: &&&Step| s.ev.abs() > NOTHING_EV;
    let (first, last) = (steps.iter().find(moving)?.before, steps.iter().rev().find(moving)?.after);
    let net: f64 = steps.iter().map(|s| s.ev).sum();
    let bits = bits(evidence, steps);
    if net.abs() <= BACK_EV || bits.is_empty() {
        return None;
    }
    let span_s = evidence.frame(first).moment().zip(evidence.frame(last).moment());
    let span_s = span_s.map(|(a, b)| b.seconds_since(a)).filter(|s| *s > 0.0);
    let pace = span_s.map(|s| (duration(s), 3600.0 * net.abs() / s));
    let back: Vec<&Bit> = bits.iter().filter(|bit| bit.ev * net < 0.0).collect();
    let rates = bits.iter().filter(|bit| bit.ev * net > 0.0);
    let rates = rates.filter_map(|bit| Some(3600.0 * bit.ev.abs() / bit.seconds?));
    let (slow, fast) = rates.fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), r| (a.min(r), b.max(r)));
    let uneven = match fast > UNEVEN * slow {
        true => format!(", unevenly: {slow:.1} to {fast:.1} EV an hour"),
        false => String::new(),
    };
    let turned = match back.first() {
        None => String::new(),
        Some(bit) => format!(
            ", {} the other way (first at {})",
            counted(back.len() as u64, "stretch"),
            evidence.frame(bit.after).name()
        ),
    };
    let message = format!(
        "The ramp goes {:.2} EV towards {} light{}, smoothly off the dials{uneven}{turned}.",
        net.abs(),
        if net > 0.0 { "less" } else { "more" },
        pace.as_ref().map_or_else(String::new, |(time, rate)| format!(" in {time}, {rate:.1} EV an hour")),
    );
    let weighed = case.limits.weigh(BACK, back.len() as f64);
    let mut finding =
        over(Finding::new(check, weighed.map_or(Severity::Note, |w| w.0), message), first, last)
            .count(steps.iter().filter(moving).count() as u64)
            .at(evidence.frame(first).moment())
            .figure("ramp_ev", number(-net))
            .figure("ev_per_hour", known(pace.map(|p| p.1)))
            .figure("slowest_ev_per_hour", known(Some(slow).filter(|s| s.is_finite())))
            .figure("fastest_ev_per_hour", known(Some(fast).filter(|f| *f > 0.0)))
            .figure("steps_back", beside(back.len() as f64, weighed.map(|w| w.1)));
    finding.marks = back.iter().map(|b| FrameSpan { first: b.before + 1, last: b.after }).collect();
    Some(finding)
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

    /// Bulb exposures, written to the hundredth of a second, whose EV over 1 s each frame gives.
    fn bulb(ev: impl Fn(usize) -> f64) -> Sequence {
        let mut sketch = Sketch::steady(200, 40.0);
        for (k, row) in sketch.rows.iter_mut().enumerate() {
            row.exposure_s = Cell::Known((ev(k).exp2() * 100.0).round() / 100.0);
        }
        sketch.evidence()
    }

    /// By hand: 4.91 EV in 199 intervals of 40 s are 2.22 EV an hour; no step of them reaches 0.03 EV.
    #[test]
    fn a_ramp_off_the_dials_is_told_by_its_true_values() {
        let pace = 4.91 / 199.0;
        let told = |ev: &dyn Fn(usize) -> f64| {
            let findings = found(&CHECK, &ramped(), &bulb(ev));
            let course = findings.iter().find(|f| f.message.starts_with("The ramp goes"));
            course.map(|f| (f.severity, f.message.clone())).expect("a ramp")
        };
        let (severity, message) = told(&|k| pace * k as f64);
        assert_eq!(severity, Note);
        assert!(message.contains("4.91 EV towards more light in 2 h 12 min, 2.2 EV an hour"), "{message}");
        assert!(!message.contains("unevenly") && !message.contains("other way"), "{message}");
        let (_, message) = told(&|k| pace * if k < 100 { k as f64 / 3.0 } else { k as f64 - 66.0 });
        assert!(message.contains("unevenly: 0.7 to 2.3 EV an hour"), "{message}");
        let (severity, message) = told(&|k| pace * if k < 140 { k as f64 } else { 280.0 - k as f64 });
        assert_eq!(severity, Caution, "the end of it goes back");
        assert!(message.contains("the other way"), "{message}");
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
