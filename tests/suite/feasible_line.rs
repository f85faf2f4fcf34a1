//! Worked series of stamps: exact interval bounds, slots, and no invented missing frame.
//!
//! Sources: J. O'Rourke, CACM 24(9) 1981, 574–578 (the set of lines through vertical ranges); bounds computed
//! with exact rationals from `max (sⱼ−sᵢ−q)/(kⱼ−kᵢ) < T < min (sⱼ−sᵢ+q)/(kⱼ−kᵢ)` and agreed with by a
//! linear-programming solver (scipy linprog/HiGHS) to 1e-12.

use crate::support::series::{Tick, floored, frames};
use lapseproof::checks::judge_one;
use lapseproof::checks::timing::uneven_interval;
use lapseproof::evidence::timing::{JoinKind, bounds};
use lapseproof::evidence::{Sequence, gather};
use lapseproof::finding::Answer;
use lapseproof::plan::Plan;
use lapseproof::units::Micros;

const SECOND: Micros = Micros::SECOND;

/// The slot of each frame; all of them stand in one.
fn slots_of(evidence: &Sequence) -> Vec<i64> {
    evidence.all().map(|frame| frame.slot().expect("a slot")).collect()
}

fn audit(stamps: &[Micros], resolution: Micros, plan: &Plan) -> Sequence {
    let ticks: Vec<Tick> = stamps
        .iter()
        .enumerate()
        .map(|(i, s)| Tick { stamp: Some(*s), number: i as u32 + 1, ..Tick::default() })
        .collect();
    gather(plan, frames(&ticks, resolution))
}

fn series(
    slots: impl Iterator<Item = i64>,
    interval: f64,
    phase: f64,
    resolution: Micros,
) -> Vec<(i64, Micros)> {
    slots.map(|k| (k, floored(phase + interval * k as f64, resolution))).collect()
}

fn missing_a() -> impl Iterator<Item = i64> {
    (0..=205).filter(|k| ![17, 58, 59, 103, 150, 188].contains(k))
}

struct Case {
    name: &'static str,
    points: Vec<(i64, Micros)>,
    resolution: Micros,
    bounds: Option<(f64, f64)>,
    holes: Vec<(i64, u64)>,
}

fn cases() -> Vec<Case> {
    let plain = |n: i64, t: f64, p: f64, q: Micros| series(0..n, t, p, q);
    let rounded: Vec<(i64, Micros)> =
        missing_a().map(|k| (k, floored(0.37 + 7.013 * k as f64 + 0.5, SECOND))).collect();
    let a_holes = vec![(17, 1), (58, 2), (103, 1), (150, 1), (188, 1)];
    vec![
        Case {
            name: "A",
            points: series(missing_a(), 7.013, 0.37, SECOND),
            resolution: SECOND,
            bounds: Some((1087.0 / 155.0, 1073.0 / 153.0)),
            holes: a_holes.clone(),
        },
        Case {
            name: "B",
            points: plain(1000, 1.004, 0.0, SECOND),
            resolution: SECOND,
            bounds: Some((503.0 / 501.0, 1003.0 / 999.0)),
            holes: vec![],
        },
        Case {
            name: "C",
            points: plain(300, 0.8, 0.1, SECOND),
            resolution: SECOND,
            bounds: Some((235.0 / 294.0, 237.0 / 296.0)),
            holes: vec![],
        },
        Case {
            name: "D",
            points: plain(240, 2.5, 0.3, SECOND),
            resolution: SECOND,
            bounds: Some((592.0 / 237.0, 598.0 / 239.0)),
            holes: vec![],
        },
        Case {
            name: "E",
            points: plain(360, 5.0007, 0.0123, Micros::step_of(2)),
            resolution: Micros::step_of(2),
            bounds: Some((121_517.0 / 24_300.0, 64_259.0 / 12_850.0)),
            holes: vec![],
        },
        Case {
            name: "H",
            points: rounded,
            resolution: SECOND,
            bounds: Some((1087.0 / 155.0, 1073.0 / 153.0)),
            holes: a_holes,
        },
        Case {
            name: "steady 1.04 s",
            points: plain(2000, 1.04, 0.21, SECOND),
            resolution: SECOND,
            bounds: None,
            holes: vec![],
        },
    ]
}

#[test]
fn bounds_are_exact() {
    for case in cases() {
        let Some((low, high)) = case.bounds else { continue };
        let region = bounds::lines(case.points.iter().copied(), case.resolution, 0.0).expect(case.name);
        let (got_low, got_high) = region.intervals();
        assert!((got_low - low).abs() < 1e-10, "{}: low {got_low} against {low}", case.name);
        assert!((got_high - high).abs() < 1e-10, "{}: high {got_high} against {high}", case.name);
    }
}

#[test]
fn every_slot_is_found_and_none_invented() {
    for case in cases() {
        let stamps: Vec<Micros> = case.points.iter().map(|p| p.1).collect();
        let evidence = audit(&stamps, case.resolution, &Plan::default());
        let timing = &evidence.timing;
        let holes: Vec<(i64, u64)> = timing.holes.iter().map(|h| (h.slot, h.slots)).collect();
        assert_eq!(holes, case.holes, "{}", case.name);
        let slots: Vec<i64> = case.points.iter().map(|p| p.0).collect();
        assert_eq!(slots_of(&evidence), slots, "{}", case.name);
        let cadence = timing.cadence.as_ref().expect(case.name);
        if let Some((low, high)) = case.bounds {
            let exact = cadence.exact_s.expect(case.name);
            assert!(
                (exact.0 - low).abs() < 1e-9 && (exact.1 - high).abs() < 1e-9,
                "{}: {exact:?}",
                case.name
            );
            assert!(cadence.low_s <= low && cadence.high_s >= high, "{}", case.name);
        }
        assert_eq!(timing.stretches.len(), 1, "{}", case.name);
    }
}

/// A plan's rounded interval must not bend the slots: 1.000 s against a true 1.004 s invents nothing.
#[test]
fn a_plan_that_is_a_little_off_invents_nothing() {
    for (interval, planned) in [(1.004, 1.0), (7.013, 7.0), (7.013, 6.95)] {
        let stamps: Vec<Micros> = (0..1000).map(|k| floored(interval * f64::from(k), SECOND)).collect();
        let plan = Plan { interval_s: Some(planned), ..Plan::default() };
        let evidence = audit(&stamps, SECOND, &plan);
        assert_eq!(evidence.timing.missing(), Some(0), "{interval} against {planned}");
    }
}

/// F: the interval steps from 5.000 to 5.021 s at slot 100; no one line fits, and the change is known to a
/// range.
#[test]
fn a_change_of_rate_is_told_with_its_range() {
    let stamps: Vec<Micros> = (0..200)
        .map(|k| {
            let t = if k <= 100 { 5.0 * f64::from(k) } else { 500.0 + 5.021 * f64::from(k - 100) };
            floored(0.2 + t, SECOND)
        })
        .collect();
    let points = stamps.iter().enumerate().map(|(k, s)| (k as i64, *s));
    assert!(bounds::lines(points.clone(), SECOND, 0.0).is_none());
    assert!(bounds::lines(points.clone().take(186), SECOND, 0.0).is_some());
    assert!(bounds::lines(points.clone().take(187), SECOND, 0.0).is_none());
    let right = bounds::lines(points.skip(100), SECOND, 0.0).expect("the right half fits");
    assert!((right.intervals().0 - 241.0 / 48.0).abs() < 1e-9);
    let timing = audit(&stamps, SECOND, &Plan::default()).timing;
    assert_eq!(timing.missing(), Some(0));
    assert_eq!(timing.joins.len(), 1, "{:?}", timing.joins);
    match timing.joins[0].kind {
        JoinKind::Rate { from_s, to_s, earliest, latest, .. } => {
            assert!((from_s - 5.0).abs() < 0.01 && (to_s - 5.021).abs() < 0.01, "{from_s} {to_s}");
            assert!(earliest <= 100 && latest >= 100, "{earliest} {latest}");
        }
        ref other => panic!("{other:?}"),
    }
}

/// G: a timer that slows steadily. No frame is missing, and more than one rate is told.
#[test]
fn an_acceleration_is_no_missing_frame() {
    let stamps: Vec<Micros> = (0..120)
        .map(|k| {
            let k = f64::from(k);
            floored(0.1 + 5.0 * k + 0.0005 * k * (k - 1.0), SECOND)
        })
        .collect();
    let evidence = audit(&stamps, SECOND, &Plan::default());
    let timing = &evidence.timing;
    assert_eq!(timing.missing(), Some(0));
    assert!(timing.stretches.len() >= 2);
    // Told once, as one drift where it came apart into several rates.
    let answer = judge_one(&uneven_interval::CHECK, &Plan::default(), &evidence).answer;
    let Answer::Found(told) = answer else { panic!("{answer:?}") };
    let rates = evidence.timing.joins.iter().filter(|j| matches!(j.kind, JoinKind::Rate { .. })).count();
    assert!(rates > 0 && told.len() == 1, "{told:?}");
    assert_eq!(told[0].cause.is_some(), rates > 1, "{}", told[0].message);
}

/// I: series A with slot 80 late by 2.4 s: one frame off the grid, in its own slot.
#[test]
fn one_late_frame_keeps_its_slot() {
    let points: Vec<(i64, Micros)> = missing_a()
        .map(|k| (k, floored(0.37 + 7.013 * k as f64 + if k == 80 { 2.4 } else { 0.0 }, SECOND)))
        .collect();
    assert!(bounds::lines(points.iter().copied(), SECOND, 0.0).is_none());
    assert!(bounds::lines(points.iter().copied().filter(|p| p.0 != 80), SECOND, 0.0).is_some());
    let stamps: Vec<Micros> = points.iter().map(|p| p.1).collect();
    let evidence = audit(&stamps, SECOND, &Plan::default());
    assert_eq!(slots_of(&evidence), points.iter().map(|p| p.0).collect::<Vec<_>>());
    let late = points.iter().position(|p| p.0 == 80).expect("slot 80");
    let off_s = evidence.frame(late).offset_s().expect("a slot");
    assert!((off_s - 2.0).abs() < 1.0, "{off_s}");
    assert_eq!(evidence.timing.missing(), Some(6));
}
