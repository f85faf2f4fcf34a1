//! The sequence's own rate against the plan's.

mod excess;

pub use excess::{COUNTED_FROM_CLOSE, COUNTED_FROM_CLOSE_DARK_FRAME};

use crate::checks::common::{
    PRACTICE, STRETCH_LEAST, beside, clock_of, count, not_of_the_run, number, off_the_grid, opinion, over,
    told_apart,
};
use crate::checks::misfit::{flag, sentence};
use crate::checks::needs::lacking;
use crate::checks::{Case, Check, Need};
use crate::evidence::timing::Stretch;
use crate::finding::{
    ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, PLAN_DOUBTED, Quality, Severity, Text, Traits,
};
use crate::schedule::Misfit;
use crate::units::{Figure, duration, plain};

const TEXT: Text = Text {
    id: "interval-drift",
    finds: "another interval than planned",
    asks: "Does the timer keep the planned interval, and the planned exposures a slot, over the whole run?",
    why: "A timer that is a little slow loses frames by the end: the clip comes out shorter than planned, \
          and everything in it moves faster. Two cameras that should match drift apart.",
    how: "The stamps give exact bounds for the interval. They are compared with the planned one. Where the \
          planned interval lies outside, the difference is given in slots gained or lost by the end of the \
          run. A timer that counts from shutter close, or a controller that waits the interval between its \
          moves, adds a constant time. It is named where the figures fit. The run may keep another common \
          interval (5 s, 10 s), outside of 80 to 120 % of the planned one. That casts doubt on the plan, not \
          on the card. It is a caution, with the flag that would mend the plan. So is another number of \
          exposures a slot.",
    blind: "A difference smaller than the stamps' bounds, and an error of the camera's own clock: its stamps \
            are the only measure.",
    remedy: "Compare what the timer is set to with the plan, and time a few frames by the clock. Where the \
             whole cycle takes longer, set the interval to that, or let the timer count from shutter open. \
             Where the plan is doubted, audit again with the flag that is named. For a clip that comes out \
             short, shoot on while the camera stands.",
    source: "Bounds: feasible line through the stamps' windows (O'Rourke 1981). Levels: common practice, no \
             source.",
    traits: Traits {
        in_the_clip: ClipEffect::Rates,
        in_the_course: true,
        quality: Some(Quality::Interval),
        ..Traits::PLAIN
    },
};

const SLOTS: LimitKey = LimitKey::new("slots");
const RATE: LimitKey = LimitKey::new("rate");

const LIMITS: &[Limit] = &[
    Limit {
        key: SLOTS,
        unit: "slots gained or lost by the end of the run",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: RATE,
        unit: "% off the planned interval",
        direction: Direction::AtLeast,
        caution: None,
        fault: Some(5.0),
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps], judge };

/// What drift needs. A wrong number of exposures a slot leaves no grid, and needs no planned interval to be
/// told.
const DRIFT_NEEDS: [Need; 2] = [Need::Grid, Need::PlannedInterval];

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
    if let Some(misfit) = case.schedule.misfit() {
        return opinion(vec![doubted(case, misfit)], evidence, |at| not_of_the_run(evidence, at));
    }
    if let Some(why) = DRIFT_NEEDS.iter().find_map(|need| lacking(*need, case.plan, evidence)) {
        return Opinion::cannot(why);
    }
    let mut rates: Vec<Rate<'_>> = Vec::new();
    let all = &evidence.timing.stretches;
    // One gap or two between stops are told as what they are, and are no interval that a timer kept.
    for stretch in all.iter().filter(|s| all.len() == 1 || s.frames >= STRETCH_LEAST) {
        // A change that came a slot or two before or after its planned place is still that change: what holds
        // for the most of the stretch is what was asked of it.
        let middle = stretch.first + (stretch.last - stretch.first) / 2;
        let Some(asked_s) = case.schedule.at(middle).interval_s else { continue };
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
            .or_else(|| case.schedule.at(at).interval_s.is_none().then_some("no interval planned here"))
    })
}

/// The plan is doubted, and not the card.
fn doubted(case: &Case<'_>, misfit: &Misfit) -> Finding {
    let evidence = case.evidence;
    let run = evidence.in_run().next().zip(evidence.in_run().last());
    let frames = evidence.in_run().count() as u64;
    let longest = evidence.timing.stretches.iter().max_by_key(|s| s.frames);
    let cause = match misfit {
        Misfit::Interval { kept_s, planned_s, .. } => {
            longest.and_then(|s| excess::explain(case.plan, evidence, s, kept_s - planned_s))
        }
        Misfit::Exposures { .. } => None,
    };
    let finding = Finding::new(TEXT.id, Severity::Caution, sentence(misfit, cause.as_ref()))
        .count(frames)
        .because(PLAN_DOUBTED, "The plan may be wrong")
        .figure("mended_by", Figure::Text(flag(misfit)));
    let mut finding = match misfit {
        Misfit::Interval { set_s, kept_s, planned_s } => finding
            .figure("planned_interval_s", number(*planned_s))
            .figure("interval_s", number(*kept_s))
            .figure("set_interval_s", number(*set_s)),
        Misfit::Exposures { shot, planned } => finding
            .figure("planned_exposures", count(u64::from(*planned)))
            .figure("exposures", count(*shot as u64)),
    };
    if let Some((first, last)) = run {
        finding = over(finding, first, last).at(evidence.frame(first).moment());
    }
    finding
}

/// What a plan that counts from shutter close adds to the interval on the stamps, s. Where the law was read
/// from exposures that vary, the interval is already told without them.
fn added_by_exposure(case: &Case<'_>, stretch: &Stretch) -> f64 {
    if !case.plan.from_close() || case.schedule.law().from_close() {
        return 0.0;
    }
    case.evidence.middle_exposure_s(stretch.first, stretch.last).unwrap_or(0.0)
}

/// A note where the stamps show a timer that counts from shutter close and the plan does not: what it costs
/// in slots.
fn by_law(case: &Case<'_>, rate: &Rate<'_>) -> Option<Finding> {
    let (evidence, times) = (case.evidence, f64::from(case.schedule.law().times_exposed()));
    if times == 0.0 || case.plan.from_close() || rate.planned_s <= 0.0 {
        return None;
    }
    let (first, last) = (rate.stretches.first()?.first, rate.stretches.last()?.last);
    let run = evidence.in_run().skip_while(|at| *at < first).take_while(|at| *at < last);
    let exposed = run.filter_map(|at| evidence.frame(at).exposure_s()).sum::<f64>();
    let slots = times * exposed / rate.planned_s;
    case.limits.weigh(SLOTS, slots)?;
    let (code, from) = if times > 1.0 {
        (COUNTED_FROM_CLOSE_DARK_FRAME, "the end of each dark frame")
    } else {
        (COUNTED_FROM_CLOSE, "shutter close")
    };
    let because = format!("the intervals grow with the exposures: the timer counts from {from}");
    let message = format!(
        "The timer counts the interval from {from}: the exposures add {} by the end of the run, {slots:.1} \
         slots lost from {} to {}.",
        duration(times * exposed),
        evidence.frame(first).name(),
        evidence.frame(last).name(),
    );
    let finding = over(Finding::new(TEXT.id, Severity::Note, message), first, last)
        .count(slots.round() as u64)
        .at(evidence.frame(first).moment())
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
        case.limits.weigh(SLOTS, slots.abs()),
        case.limits.weigh(RATE, 100.0 * rate_error.abs()),
        short.map(|asked| (Severity::Fault, asked as f64)),
    ];
    let severity = weights.iter().flatten().map(|(s, _)| *s).max()?;
    let (fewer, slow) = if slots > 0.0 { ("fewer", "slow") } else { ("more", "fast") };
    let clip = short.map_or_else(String::new, |asked| {
        format!(" That makes the clip shorter than the {asked} frames ordered.")
    });
    let cause = excess::explain(case.plan, evidence, stretch, excess_s);
    let why = cause.as_ref().map_or_else(String::new, |c| format!(" {}.", c.words));
    // What adds to each interval is not the timer's own pace, and no timer is half as slow again by itself.
    let ran = if cause.is_some() || rate_error.abs() > 0.5 { "frames came" } else { "timer ran" };
    let message = format!(
        "The {ran} {} % {slow}, every {} where {} is planned: {:.1} frames {fewer} than \
         planned, {}{} to {}{}.{clip}{why}",
        percent(100.0 * rate_error.abs()),
        told_apart(stretch.interval_s, planned),
        duration(planned),
        slots.abs(),
        evidence.frame(first).name(),
        clock_of(evidence, first),
        evidence.frame(last).name(),
        clock_of(evidence, last),
    );
    let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
        .count(slots.abs().round() as u64)
        .at(evidence.frame(first).moment())
        .figure("planned_interval_s", number(planned))
        .figure("interval_s", number(stretch.interval_s))
        .figure("interval_low_s", number(stretch.low_s))
        .figure("interval_high_s", number(stretch.high_s))
        .figure("drift_slots", beside(slots, case.limits.get(SLOTS).caution))
        .figure("drift_s", number(excess_s * rate.intervals()))
        .figure("rate_error_ppm", number(1e6 * rate_error))
        .figure("rate_error_percent", beside(100.0 * rate_error, case.limits.get(RATE).fault))
        .figure("excess_s", number(excess_s));
    if let Some(asked) = short {
        finding = finding.figure("delivery_frames", Figure::Count(i64::try_from(asked).unwrap_or(i64::MAX)));
    }
    finding.cause = cause;
    Some(finding)
}

/// A share as it is said: nobody says 67.20 %.
fn percent(share: f64) -> String {
    plain(share, if share < 10.0 { 2 } else { 0 })
}

/// The frames that the delivery asks, where the run falls short of them and would not have at the planned
/// rate.
fn clip_short(case: &Case<'_>, rate: &Rate<'_>, stretch: &Stretch) -> Option<u64> {
    let asked = case.plan.delivery.clip_frames()?;
    let shot = case.evidence.timing.slot_count?;
    let lasted = rate.intervals() * stretch.interval_s;
    let gained = (lasted / rate.planned_s + 1e-6).floor() - rate.intervals();
    (shot < asked && shot as f64 + gained >= asked as f64).then_some(asked)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::timing::TimerLaw;
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::{CountedFrom, DeliveryPlan, Plan, RigPlan};
    use crate::units::Micros;

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
        assert!(findings[0].message.contains("2.5 frames more than planned"), "{}", findings[0].message);
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
            delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(length_s), ..DeliveryPlan::default() },
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
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code.name(), "counted-from-close");
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
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code.name(), "counted-from-close");
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
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code.name(), "waits-between-moves");
    }

    /// Between 80 and 120 % of the plan it is drift; beyond, an interval that people set makes the plan
    /// doubtful, and any other does not.
    #[test]
    fn another_interval_that_was_set_makes_the_plan_doubtful() {
        let of =
            |planned, kept| found(&CHECK, &every(planned), &Sketch::steady(100, kept).evidence()).remove(0);
        for (planned, kept, severity) in [
            (10.0, 5.0, Caution),
            (5.0, 10.0, Caution),
            (5.0, 6.5, Caution),
            (10.0, 12.0, Fault),
            (10.0, 8.0, Fault),
            (10.0, 13.0, Caution),
            (10.0, 7.0, Caution),
            (5.0, 6.06, Fault),
            (5.0, 10.03, Fault),
        ] {
            let finding = of(planned, kept);
            assert_eq!(finding.severity, severity, "{planned} {kept}: {}", finding.message);
            assert_eq!(finding.message.starts_with("The plan may be wrong"), severity == Caution);
        }
        let said = of(10.0, 5.0).message;
        assert!(said.contains("the card holds 5 s throughout, and the plan says 10 s"), "{said}");
        assert!(said.contains("If 5 s was meant: --interval 5s."), "{said}");
        assert!(of(5.0, 10.0).message.contains("only every 2nd trigger"), "both readings are told");
        assert_eq!(of(5.0, 10.0).cause.expect("a cause").code.name(), PLAN_DOUBTED.name());
    }

    #[test]
    fn a_plan_is_doubted_only_where_one_interval_holds_throughout() {
        let kept = || Sketch::steady(100, 10.0);
        let severity = |sketch: Sketch| severities(&CHECK, &every(5.0), &sketch.evidence());
        assert_eq!(severity(kept()), [Caution]);
        assert_eq!(severity(kept().without(&[10, 20, 30, 40, 50], false)), [Caution]);
        assert_eq!(severity(kept().without(&[10, 20, 30, 40, 50, 60], false)), [Fault]);
        assert_eq!(severity(Sketch::steady(10, 10.0)), [Caution]);
        assert_eq!(severity(Sketch::steady(9, 10.0)), [Fault]);
        // Not known well enough to be told from 10.2 s.
        let mut wide = kept();
        wide.width_s = 0.101;
        assert_eq!(severity(wide), [Fault]);
        // The exposures explain it: a timer that counts from their close, or a camera that was at work when
        // its slot came.
        for exposure_s in [5.0, 2.5, 7.0] {
            let long =
                |row: &mut crate::evidence::Row| row.exposure_s = crate::evidence::Cell::Known(exposure_s);
            assert_eq!(severity(kept().change(0..100, long)), [Fault], "{exposure_s}");
        }
        let part = crate::plan::Part {
            from: crate::plan::PartStart::Frame(50),
            interval_s: Some(10.0),
            exposure: crate::plan::ExposurePlan::default(),
            direction: None,
            note: None,
        };
        let parted = Plan { parts: vec![part], ..every(5.0) };
        assert!(!found(&CHECK, &parted, &kept().evidence())[0].message.contains("plan may be wrong"));
    }

    /// Sets of `size` exposures 2 EV apart, `within_s` apart, one every 20 s.
    fn sets(size: usize, within_s: f64) -> crate::evidence::Sequence {
        let mut sketch = Sketch::steady(30 * size, 1.0);
        for (at, row) in sketch.rows.iter_mut().enumerate() {
            let (set, member) = ((at / size) as f64, (at % size) as f64);
            let moment =
                crate::checks::testing::START.plus(Micros::truncated(20.0 * set + within_s * member));
            if let crate::evidence::Cell::Known(stamp) = &mut row.stamp {
                stamp.at = moment;
            }
            row.exposure_s = crate::evidence::Cell::Known(4.0_f64.powf(member) / 60.0);
        }
        sketch.loose("no grid").evidence()
    }

    #[test]
    fn another_number_of_exposures_a_slot_makes_the_plan_doubtful() {
        let plan = |bracket| Plan { bracket: Some(bracket), ..every(20.0) };
        for (planned, shot) in [(1, 3), (2, 3), (5, 3), (1, 2), (3, 5)] {
            let findings = found(&CHECK, &plan(planned), &sets(shot, 0.7));
            assert_eq!((findings.len(), findings[0].severity), (1, Caution), "{planned} {shot}");
            let flag = format!("--bracket {shot}.");
            assert!(findings[0].message.contains(&flag), "{}", findings[0].message);
        }
        assert_eq!(cannot(&CHECK, &plan(3), &sets(3, 0.7)), "no grid");
        // Without rests and untagged, settings that come and go are no sets.
        assert_eq!(cannot(&CHECK, &plan(1), &sets(3, 20.0 / 3.0)), "no grid");
        // Exposures that alternate, on the beat that whole seconds make of 1.5 s, are no sets of two.
        let mut beat = Sketch::steady(80, 1.5);
        for (at, row) in beat.rows.iter_mut().enumerate() {
            if let crate::evidence::Cell::Known(stamp) = &mut row.stamp {
                stamp.at = crate::checks::testing::START.plus(Micros::from_seconds(at as i64 * 3 / 2));
                stamp.resolution = Micros::SECOND;
            }
            row.exposure_s = crate::evidence::Cell::Known([1.0 / 60.0, 1.0 / 80.0][at % 2]);
        }
        let beat = beat.loose("a beat").evidence();
        assert_eq!(cannot(&CHECK, &Plan { bracket: Some(1), ..every(1.5) }, &beat), "a beat");
        let single = || Sketch::steady(90, 10.0);
        let findings = found(&CHECK, &Plan { bracket: Some(3), ..every(30.0) }, &single().evidence());
        assert!(findings[0].message.contains("--bracket 1."), "{}", findings[0].message);
        // Three alike in each slot of 30 s, evenly spread: the planned interval is kept.
        let mut thirds = single();
        thirds.slots = (0..90).map(|at| at / 3).collect();
        thirds.interval_s = 30.0;
        let plan = Plan { bracket: Some(3), ..every(30.0) };
        assert!(found(&CHECK, &plan, &thirds.evidence()).is_empty());
    }

    #[test]
    fn cannot_judge_without_a_plan_or_a_grid() {
        assert!(
            cannot(&CHECK, &Plan::default(), &Sketch::steady(9, 12.0).evidence()).contains("no interval")
        );
        assert_eq!(cannot(&CHECK, &every(1.0), &Sketch::steady(9, 12.0).loose("loose").evidence()), "loose");
    }
}
