//! A run says how many frames it holds: the same to the plan, to the rehearsal and to the audit.

use crate::support::cases::tried;
use crate::support::rehearsed::frames;
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::plan::shoot::{Known, solve};
use lapseproof::plan::{
    CountedFrom, DailyHours, ExposurePlan, Moment, Part, PartStart, Plan, Planned, frames_of_run,
};
use lapseproof::rehearse::{Options, Role, Script, script};
use lapseproof::units::stops::{Series, third_mark};
use lapseproof::units::{CivilTime, Figure};
use proptest::option::weighted;
use proptest::prelude::*;

/// Slots past which a run is not rehearsed: time.
const MOST: u64 = 4000;

/// 2026-05-09T00:00:00.
const MIDNIGHT: i64 = 1_778_284_800;

fn moment(second: i64) -> Moment {
    Moment { civil: CivilTime::from_seconds(MIDNIGHT + second), offset_min: None }
}

fn hours() -> impl Strategy<Value = DailyHours> {
    (0..24_u32, 1..23_u32).prop_map(|(from, length)| DailyHours {
        from_s: from * 3600,
        to_s: (from + length - 1) % 24 * 3600 + 3600,
    })
}

/// An interval as a dial has it, or as somebody writes it.
fn interval() -> impl Strategy<Value = f64> {
    prop_oneof![(2..120_u32).prop_map(f64::from), (200..4000_u32).prop_map(|v| f64::from(v) / 100.0)]
}

/// Exposures of which a set of five fits into two seconds.
fn mark() -> impl Strategy<Value = f64> {
    (-30..=-9_i32).prop_map(|k| third_mark(Series::Time, k).expect("a mark"))
}

fn part() -> impl Strategy<Value = (bool, u64, Option<f64>, Option<f64>)> {
    (any::<bool>(), 1..400_u64, weighted(0.7, interval()), weighted(0.4, mark()))
}

prop_compose! {
    fn plan()(
        interval_s in interval(),
        slots in 0.0..700.0_f64,
        days in weighted(0.5, 0..4_u32),
        start in weighted(0.5, 0..86_400_i64),
        close in weighted(0.3, Just(CountedFrom::Close)),
        bracket in weighted(0.3, 2..6_u32),
        exposure in (mark(), weighted(0.5, 0..20_u32)),
        parts in prop::collection::vec(part(), 0..3),
        active in prop_oneof![2 => Just(Vec::new()), 1 => hours().prop_map(|h| vec![h])],
    ) -> Plan {
        let nights = days.filter(|_| !active.is_empty()).unwrap_or(0);
        let run_s = interval_s * slots + 86_400.0 * f64::from(nights);
        let (mut frame, mut second) = (0, start.unwrap_or(0));
        let parts = parts.into_iter().filter_map(|(by_time, after, interval_s, shutter_s)| {
            (frame, second) = (frame + after, second + 60 * after as i64);
            // Parts by moments and parts by frames are not mixed: their order would be a riddle.
            let from = match (by_time, start) {
                (true, Some(_)) => PartStart::Moment(moment(second)),
                (true, None) => return None,
                (false, _) => PartStart::Frame(frame),
            };
            let shutter_s = shutter_s.map(Planned::Fixed);
            let exposure = ExposurePlan { shutter_s, ..ExposurePlan::default() };
            Some(Part { from, interval_s, exposure, direction: None, note: Some("a filter".into()) })
        });
        let mut parts: Vec<Part> = parts.collect();
        // An audit may leave the frames before a part out of the run, and counts hours without a start from
        // the first one of it.
        if start.is_none() && !active.is_empty() {
            parts.clear();
        }
        if let Some(first) = parts.first().cloned() {
            parts.retain(|p| std::mem::discriminant(&p.from) == std::mem::discriminant(&first.from));
        }
        Plan {
            interval_s: Some(interval_s),
            run_s: Some((run_s * 100.0).round() / 100.0),
            start: start.map(moment),
            counted_from: close,
            bracket,
            exposure: ExposurePlan {
                shutter_s: Some(Planned::Fixed(exposure.0)),
                busy_s: exposure.1.map(|b| f64::from(b) / 100.0),
                aperture: Some(Planned::Fixed(8.0)),
                iso: Some(Planned::Fixed(200.0)),
                ..ExposurePlan::default()
            },
            parts,
            active,
            ..Plan::default()
        }
    }
}

/// Slots of a rehearsal that hold a frame, and the last of them.
fn written(script: &Script) -> (u64, u64) {
    let mut slots: Vec<u64> =
        script.shots.iter().filter(|s| s.role == Role::Run).filter_map(|s| s.slot).collect();
    slots.dedup();
    (slots.len() as u64, slots.last().map_or(0, |s| s + 1))
}

/// The audit of a rehearsal of which all but the first frames were lost.
fn audit(plan: &Plan, script: &Script, left: usize) -> Audit {
    let mut frames = frames(script, 2);
    frames.card.shots.truncate(left);
    frames.rows.truncate(left);
    carry_out(Setting { plan: plan.clone(), ..Setting::default() }, frames)
}

/// The frames that an audit expects, where it tells that they are not all there.
fn expected(audit: &Audit) -> Option<u64> {
    let told = audit.findings().into_iter().find(|f| f.check == "short-run")?;
    told.evidence.iter().find_map(|(key, figure)| match (*key, figure) {
        ("slots_asked", Figure::Count(n)) => u64::try_from(*n).ok(),
        _ => None,
    })
}

fn agrees(plan: &Plan) -> Result<(), TestCaseError> {
    let counted = frames_of_run(plan);
    let Some(n) = counted else {
        return Err(TestCaseError::fail(format!("nothing is counted: {plan:#?}")));
    };
    if n > MOST {
        return Ok(());
    }
    match solve(&Known { plan: plan.clone(), event_s: None }) {
        Ok(shoot) => prop_assert_eq!(shoot.plan.frames, counted, "{:#?}", plan),
        Err(why) => return Err(TestCaseError::fail(format!("{why:?} {plan:#?}"))),
    }
    let script = script(plan, &[], &Options { stamp_digits: 2, ..Options::default() }).expect("a rehearsal");
    prop_assert_eq!(written(&script), (n, n), "{:#?}", plan);
    if n > 8 {
        let audit = audit(plan, &script, script.shots.len() / 2);
        prop_assert_eq!(expected(&audit), counted, "{:#?}", plan);
    }
    Ok(())
}

proptest! {
    #![proptest_config(tried(300))]

    #[test]
    fn a_run_means_the_same_to_plan_rehearsal_and_audit(plan in plan()) {
        agrees(&plan)?;
    }
}

/// A site camera for a working day and the next morning: 2 h of a clock that rests in between would be
/// another run.
#[test]
fn a_run_over_the_night() {
    let site = |start: Option<i64>, run_s: f64| Plan {
        interval_s: Some(600.0),
        run_s: Some(run_s),
        start: start.map(moment),
        active: vec![DailyHours { from_s: 7 * 3600, to_s: 19 * 3600 }],
        ..Plan::default()
    };
    // From 17:00 on, by hand: 12 slots until 18:50, 07:00 lies 14 h later.
    for (start, run_s, frames) in [
        (Some(17 * 3600), 7200.0, 12),
        (Some(17 * 3600), 14.0 * 3600.0 - 1.0, 12),
        (Some(17 * 3600), 14.0 * 3600.0, 13),
        (None, 7200.0, 13),
        (None, 86_400.0, 73),
        // A start before the hours: the first frame comes at 07:00.
        (Some(5 * 3600), 7200.0, 13),
    ] {
        let plan = site(start, run_s);
        assert_eq!(frames_of_run(&plan), Some(frames), "{start:?} {run_s}");
        agrees(&plan).expect("the same to all");
    }
}

/// Without a start an audit counts the hours from the first frame on.
#[test]
fn hours_are_counted_from_the_first_frame() {
    let site = Plan {
        interval_s: Some(600.0),
        run_s: Some(4.0 * 3600.0),
        active: vec![DailyHours { from_s: 7 * 3600, to_s: 19 * 3600 }],
        ..Plan::default()
    };
    let late = Plan { start: Some(moment(17 * 3600)), ..site.clone() };
    let shot = script(&late, &[], &Options::default()).expect("a rehearsal");
    assert_eq!(shot.shots.len(), 12);
    let whole = audit(&site, &shot, 12);
    assert_eq!(expected(&whole), None, "{:?}", whole.findings());
    assert_eq!(expected(&audit(&site, &shot, 8)), Some(12));
}
