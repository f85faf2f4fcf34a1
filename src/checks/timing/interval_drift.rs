//! The sequence's own rate against the plan's.

use crate::checks::common::{
    PRACTICE, beside, clock_of, delivery_frames, number, off_the_grid, opinion, over, told_apart,
};
use crate::checks::excess::{self, typical_exposure};
use crate::checks::parts::{Parts, from_close};
use crate::checks::{Case, Check, Need};
use crate::evidence::timing::{Stretch, TimerLaw};
use crate::finding::{Direction, Finding, Limit, Opinion, Severity, Text};
use crate::units::{Figure, duration};

const TEXT: Text = Text {
    id: "interval-drift",
    asks: "Does the timer keep the planned interval over the whole run?",
    why: "A timer that is a little slow loses frames by the end: the clip comes out shorter than planned, and everything in it \
          moves faster. Two cameras that should match drift apart.",
    how: "The interval that the stamps allow (its exact bounds) is held against the planned one. Where the planned interval \
          lies outside, the difference is told in slots gained or lost by the end of the run. A timer that counts from \
          shutter close, or a controller that waits the interval between its moves, leaves a constant excess, which is named \
          where the figures fit.",
    blind: "A difference smaller than the stamps' bounds, and an error of the camera's own clock: the stamps are its own \
            measure.",
    remedy: "Set the interval to what the whole cycle takes, or let the timer count from shutter open. For a clip that comes \
             out short, shoot on while the rig stands.",
    source: "Bounds: feasible line through the stamps' windows (O'Rourke 1981). Levels: common practice, no source.",
};

const LIMITS: &[Limit] = &[
    Limit {
        key: "slots",
        unit: "slots gained or lost by the end of the run",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: "rate",
        unit: "% off the planned interval",
        direction: Direction::AtLeast,
        caution: None,
        fault: Some(5.0),
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps, Need::Grid, Need::PlannedInterval], judge };

/// Neighbouring stretches at one rate under one planned interval.
struct Rate<'a> {
    stretches: Vec<&'a Stretch>,
    planned_s: f64,
}

impl Rate<'_> {
    /// The longest of the stretches: its bounds are the narrowest.
    fn longest(&self) -> Option<&Stretch> {
        self.stretches.iter().copied().max_by_key(|s| s.last_slot.saturating_sub(s.first_slot))
    }

    /// Intervals that the stretches span.
    fn intervals(&self) -> f64 {
        self.stretches.iter().map(|s| s.last_slot.saturating_sub(s.first_slot) as f64).sum()
    }
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let parts = Parts::new(case.plan, evidence);
    let mut rates: Vec<Rate<'_>> = Vec::new();
    for stretch in &evidence.timing.stretches {
        // A change that came a slot or two before or after its planned place is still that change: what holds for the most of the
        // stretch is what was asked of it.
        let middle = stretch.first + (stretch.last - stretch.first) / 2;
        let Some(asked_s) = parts.at(middle).interval_s else { continue };
        let planned_s = asked_s + added_by_exposure(case, stretch);
        match rates.last_mut() {
            Some(rate)
                if (rate.planned_s - planned_s).abs() < 1e-9
                    && rate
                        .longest()
                        .is_some_and(|s| s.low_s <= stretch.high_s && stretch.low_s <= s.high_s) =>
            {
                rate.stretches.push(stretch);
            }
            _ => rates.push(Rate { stretches: vec![stretch], planned_s }),
        }
    }
    let mut findings: Vec<_> = rates.iter().filter_map(|rate| drift(case, rate)).collect();
    findings.extend(rates.iter().filter_map(|rate| by_law(case, rate)));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        off_the_grid(evidence, at)
            .or_else(|| parts.at(at).interval_s.is_none().then_some("no interval planned here"))
    })
}

/// What a plan that counts from shutter close adds to the interval on the stamps, s. Where the law was read from exposures
/// that vary, the interval is already told without them.
fn added_by_exposure(case: &Case<'_>, stretch: &Stretch) -> f64 {
    if !from_close(case.plan) || exposures_counted(case) > 0.0 {
        return 0.0;
    }
    typical_exposure(case.evidence, stretch.first, stretch.last).unwrap_or(0.0)
}

/// How many times each exposure lengthens its slot, by the law that the stamps show.
fn exposures_counted(case: &Case<'_>) -> f64 {
    match case.evidence.timing.cadence.as_ref().map(|c| c.law) {
        Some(TimerLaw::Close) => 1.0,
        Some(TimerLaw::CloseDarkFrame) => 2.0,
        _ => 0.0,
    }
}

/// A note where the stamps show a timer that counts from shutter close and the plan does not: what it costs in slots.
fn by_law(case: &Case<'_>, rate: &Rate<'_>) -> Option<Finding> {
    let (evidence, times) = (case.evidence, exposures_counted(case));
    if times == 0.0 || from_close(case.plan) || rate.planned_s <= 0.0 {
        return None;
    }
    let (first, last) = (rate.stretches.first()?.first, rate.stretches.last()?.last);
    let settings = &evidence.exposure.settings;
    let run = evidence.in_run().skip_while(|at| *at < first).take_while(|at| *at < last);
    let exposed =
        run.filter_map(|at| settings.get(at)).map(|s| s.time_s).filter(|t| t.is_finite()).sum::<f64>();
    let slots = times * exposed / rate.planned_s;
    case.limits.weigh("slots", slots)?;
    let (code, from) = if times > 1.0 {
        ("counted-from-close-dark-frame", "the end of each dark frame")
    } else {
        ("counted-from-close", "shutter close")
    };
    let because = format!("the intervals grow with the exposures: the timer counts from {from}");
    let message = format!(
        "The timer counts the interval from {from}: the exposures add {} by the end of the run, {slots:.1} slots lost from {} to {}.",
        duration(times * exposed),
        evidence.name(first),
        evidence.name(last),
    );
    let finding = over(Finding::new(TEXT.id, Severity::Note, message), first, last)
        .count(slots.round() as u64)
        .at(evidence.stamp(first).map(|s| s.at))
        .because(code, because)
        .figure("drift_slots", number(slots))
        .figure("drift_s", number(times * exposed));
    Some(finding)
}

fn drift(case: &Case<'_>, rate: &Rate<'_>) -> Option<Finding> {
    let (evidence, planned) = (case.evidence, rate.planned_s);
    let stretch = rate.longest()?;
    if planned <= 0.0 || (stretch.low_s <= planned && planned <= stretch.high_s) {
        return None;
    }
    let (first, last) = (rate.stretches.first()?.first, rate.stretches.last()?.last);
    let excess_s = stretch.interval_s - planned;
    let rate_error = excess_s / planned;
    let slots = excess_s * rate.intervals() / planned;
    let short = clip_short(case, rate, stretch);
    let weights = [
        case.limits.weigh("slots", slots.abs()),
        case.limits.weigh("rate", 100.0 * rate_error.abs()),
        short.map(|asked| (Severity::Fault, asked as f64)),
    ];
    let severity = weights.iter().flatten().map(|(s, _)| *s).max()?;
    let (lost, slow) = if slots > 0.0 { ("lost", "slow") } else { ("gained", "fast") };
    let clip = short.map_or_else(String::new, |asked| {
        format!(" Because of it the clip comes out shorter than the {asked} frames asked.")
    });
    let cause = excess::explain(case.plan, evidence, stretch, excess_s);
    let why = cause.as_ref().map_or_else(String::new, |c| format!(" {}.", c.words));
    let message = format!(
        "The interval is {} where {} is planned ({:.2} % {slow}): {:.1} slots {lost} from {}{} to {}{}.{clip}{why}",
        told_apart(stretch.interval_s, planned),
        duration(planned),
        100.0 * rate_error.abs(),
        slots.abs(),
        evidence.name(first),
        clock_of(evidence, first),
        evidence.name(last),
        clock_of(evidence, last),
    );
    let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
        .count(slots.abs().round() as u64)
        .at(evidence.stamp(first).map(|s| s.at))
        .figure("planned_interval_s", number(planned))
        .figure("interval_s", number(stretch.interval_s))
        .figure("interval_low_s", number(stretch.low_s))
        .figure("interval_high_s", number(stretch.high_s))
        .figure("drift_slots", beside(slots, case.limits.get("slots").caution))
        .figure("drift_s", number(excess_s * rate.intervals()))
        .figure("rate_error_ppm", number(1e6 * rate_error))
        .figure("rate_error_percent", beside(100.0 * rate_error, case.limits.get("rate").fault))
        .figure("excess_s", number(excess_s));
    if let Some(asked) = short {
        finding = finding.figure("delivery_frames", Figure::Count(i64::try_from(asked).unwrap_or(i64::MAX)));
    }
    finding.cause = cause;
    Some(finding)
}

/// The frames that the delivery asks, where the run falls short of them and would not have at the planned rate.
fn clip_short(case: &Case<'_>, rate: &Rate<'_>, stretch: &Stretch) -> Option<u64> {
    let asked = delivery_frames(case.plan)?;
    let shot = case.evidence.timing.slot_count?;
    let lasted = rate.intervals() * stretch.interval_s;
    let gained = (lasted / rate.planned_s + 1e-6).floor() - rate.intervals();
    (shot < asked && shot as f64 + gained >= asked as f64).then_some(asked)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::{CountedFrom, DeliveryPlan, Plan, RigPlan};

    #[test]
    fn stays_quiet_where_the_planned_interval_fits() {
        assert!(found(&CHECK, &every(12.0), &Sketch::steady(601, 12.0005).evidence()).is_empty());
        // Outside of the bounds, but less than a slot by the end.
        assert!(found(&CHECK, &every(12.0), &Sketch::steady(601, 12.0125).evidence()).is_empty());
    }

    #[test]
    fn a_slot_by_the_end_is_a_caution() {
        // 600 intervals: an excess of 1/50 s on 12 s is exactly one slot.
        for (interval, severity) in [(12.0199, vec![]), (12.02, vec![Caution]), (12.021, vec![Caution])] {
            let mut sketch = Sketch::steady(601, interval);
            sketch.interval_s = interval + 1e-12;
            assert_eq!(severities(&CHECK, &every(12.0), &sketch.evidence()), severity, "{interval}");
        }
        let findings = found(&CHECK, &every(12.0), &Sketch::steady(601, 11.95).evidence());
        assert_eq!((findings[0].count, findings[0].first, findings[0].last), (3, Some(0), Some(600)));
        assert!(findings[0].message.contains("2.5 slots gained"), "{}", findings[0].message);
    }

    #[test]
    fn five_per_cent_is_a_fault() {
        for (interval, severity) in [(9.52, Caution), (9.5, Fault), (9.4, Fault), (10.6, Fault)] {
            assert_eq!(
                severities(&CHECK, &every(10.0), &Sketch::steady(100, interval).evidence()),
                [severity]
            );
        }
    }

    #[test]
    fn a_clip_that_comes_out_short_is_a_fault() {
        let plan = |length_s| Plan {
            delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(length_s) },
            ..every(10.0)
        };
        // 198 frames at 10.2 s take as long as 201 at 10 s.
        let evidence = Sketch::steady(198, 10.2).evidence();
        for (frames, severity) in [(198.0, Caution), (199.0, Fault), (201.0, Fault), (202.0, Caution)] {
            assert_eq!(severities(&CHECK, &plan(frames / 25.0), &evidence), [severity], "{frames}");
        }
    }

    #[test]
    fn a_timer_that_counts_from_close_is_named_or_planned() {
        let close = |plan: Plan| Plan { counted_from: Some(CountedFrom::Close), ..plan };
        let long = |row: &mut crate::evidence::Row| row.exposure_s = crate::evidence::Cell::Known(2.0);
        let evidence = Sketch::steady(100, 12.0).change(0..100, long).evidence();
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code, "counted-from-close");
        assert!(found(&CHECK, &close(every(10.0)), &evidence).is_empty());
    }

    #[test]
    fn a_law_that_the_stamps_show_is_a_note_and_no_drift() {
        let long = |row: &mut crate::evidence::Row| row.exposure_s = crate::evidence::Cell::Known(2.0);
        let mut sketch = Sketch::steady(101, 10.0).change(0..101, long);
        sketch.law = TimerLaw::Close;
        let evidence = sketch.evidence();
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings.len(), findings[0].severity, findings[0].count), (1, Severity::Note, 20));
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code, "counted-from-close");
        let plan = Plan { counted_from: Some(CountedFrom::Close), ..every(10.0) };
        assert!(found(&CHECK, &plan, &evidence).is_empty());
    }

    #[test]
    fn a_controller_that_waits_between_moves_is_named() {
        let rig = RigPlan {
            step_m: Some(0.0015),
            speed_m_s: Some(0.002),
            settle_s: Some(0.5),
            ..RigPlan::default()
        };
        let plan = Plan { rig, ..every(12.0) };
        let findings = found(&CHECK, &plan, &Sketch::steady(100, 13.25).evidence());
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code, "waits-between-moves");
    }

    #[test]
    fn cannot_judge_without_a_plan_or_a_grid() {
        assert!(
            cannot(&CHECK, &Plan::default(), &Sketch::steady(9, 12.0).evidence()).contains("no interval")
        );
        assert_eq!(cannot(&CHECK, &every(1.0), &Sketch::steady(9, 12.0).loose("loose").evidence()), "loose");
    }
}
