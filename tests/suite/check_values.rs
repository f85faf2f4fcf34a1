//! Published methods and worked values for series of stamps, compared with the cadence.
//!
//! Sources: Sidiropoulos, Swami & Sadler, "Quasi-ML period estimation from incomplete timing data", IEEE TSP
//! 2005 (Fourier transform of the Dirac train); Theil 1950 and Sen 1968 (values by scipy's `theilslopes`);
//! Killick, Fearnhead & Eckley, JASA 107 2012 (change points; values by the ruptures library);
//! daylight-saving instants from the tz database.

use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::evidence::timing::JoinKind;
use lapseproof::stats::slope;
use lapseproof::units::Micros;

const SECOND: Micros = Micros::SECOND;

fn audit(ticks: &[Tick], resolution: Micros) -> Audit {
    carry_out(Setting { name: "values".into(), ..Setting::default() }, frames(ticks, resolution))
}

fn ticks(stamps: impl IntoIterator<Item = Micros>) -> Vec<Tick> {
    stamps
        .into_iter()
        .zip(1..)
        .map(|(s, number)| Tick { stamp: Some(s), number, ..Tick::default() })
        .collect()
}

fn slots_a() -> impl Iterator<Item = i64> {
    (0..=205).filter(|k| ![17, 58, 59, 103, 150, 188].contains(k))
}

/// Strength of the Dirac train of `times` at a frequency.
fn train(times: &[f64], frequency: f64) -> f64 {
    let (re, im) = times.iter().fold((0.0, 0.0), |(re, im), t| {
        let phase = -std::f64::consts::TAU * frequency * t;
        (re + phase.cos(), im + phase.sin())
    });
    f64::hypot(re, im)
}

/// The transform peaks near the cadence, is nearly as strong at its harmonic and almost nothing at half of
/// it: the interval that is told is the longest one that explains the stamps.
#[test]
fn the_cadence_is_where_the_dirac_train_peaks() {
    let stamps: Vec<Micros> = slots_a().map(|k| floored(0.37 + 7.013 * k as f64, SECOND)).collect();
    let times: Vec<f64> = stamps.iter().map(|s| s.seconds()).collect();
    assert!((train(&times, 1.0 / 7.012665593) - 193.6586).abs() < 1e-3);
    assert!((train(&times, 1.0 / 7.013) - 193.6278).abs() < 1e-3);
    assert!((train(&times, 2.0 / 7.013) - 175.3042).abs() < 1e-3);
    assert!((train(&times, 0.5 / 7.013) - 0.3743).abs() < 1e-3);
    let audit = audit(&ticks(stamps), SECOND);
    let interval = audit.evidence.timing.cadence.as_ref().expect("a cadence").interval_s;
    assert!(train(&times, 1.0 / interval) > 193.6, "{interval}");
}

/// Theil–Sen slopes, which fall outside the feasible interval: a fit is no bound.
#[test]
fn theil_sen_slopes() {
    let a: Vec<(f64, f64)> = slots_a().map(|k| (k as f64, (0.37 + 7.013 * k as f64).floor())).collect();
    let h: Vec<(f64, f64)> = slots_a().map(|k| (k as f64, (0.37 + 7.013 * k as f64 + 0.5).floor())).collect();
    let g: Vec<(f64, f64)> = (0..120)
        .map(|k| {
            let k = f64::from(k);
            (k, (0.1 + 5.0 * k + 0.0005 * k * (k - 1.0)).floor())
        })
        .collect();
    assert!(
        slope(&a, 0.0).expect("a slope") < 1087.0 / 155.0,
        "no line of that slope passes through the windows"
    );
    for (points, expected) in [(a, 7.011627906977), (h, 7.012195121951), (g, 5.055555555556)] {
        assert!((slope(&points, 0.0).expect("a slope") - expected).abs() < 1e-9);
    }
}

/// Intervals of 5.0 s × 60, 5.2 s × 40, 5.0 s × 50 with a small regular wobble: change points at 60 and 100.
#[test]
fn change_points() {
    let mut at = 0.0_f64;
    let mut stamps = vec![Micros::ZERO];
    for i in 0..150 {
        let base = if (60..100).contains(&i) { 5.2 } else { 5.0 };
        at += base + 0.02 * (f64::from((7 * i) % 11) - 5.0) / 5.0;
        stamps.push(floored(at, Micros::step_of(2)));
    }
    let audit = audit(&ticks(stamps), Micros::step_of(2));
    let timing = &audit.evidence.timing;
    assert_eq!(timing.missing(), Some(0));
    let reaches: Vec<(usize, usize)> = timing
        .joins
        .iter()
        .filter_map(|j| match j.kind {
            JoinKind::Rate { earliest, latest, .. } => Some((earliest, latest)),
            _ => None,
        })
        .collect();
    assert_eq!(reaches.len(), 2, "{:?}", timing.joins);
    for ((earliest, latest), truth) in reaches.iter().zip([60, 100]) {
        assert!(*earliest <= truth + 2 && *latest + 2 >= truth, "{truth}: {earliest} to {latest}");
    }
}

/// A series of 200 frames whose clock jumps by `step_s` before frame 100; the camera fires on.
fn jumped(interval: f64, step_s: f64, offsets: Option<(i16, i16)>, resolution: Micros) -> Audit {
    let ticks: Vec<Tick> = (0..200_u32)
        .map(|k| {
            let moved = if k >= 100 { step_s } else { 0.0 };
            let offset_min = offsets.map(|(a, b)| if k >= 100 { b } else { a });
            let stamp = Some(floored(0.4 + interval * f64::from(k) + moved, resolution));
            Tick { stamp, number: k + 1, offset_min, ..Tick::default() }
        })
        .collect();
    audit(&ticks, resolution)
}

/// Clock events: daylight saving (an hour; half an hour on Lord Howe), 12 h, a factory date, a week roll-over
/// of satellite time (1024 weeks). An hour at 5 s is exactly 720 slots: the file numbers tell it from missing
/// frames.
#[test]
fn clock_changes_are_no_missing_frames() {
    for (interval, resolution) in [(5.0, SECOND), (6.0, Micros::step_of(2)), (7.013, SECOND), (12.0, SECOND)]
    {
        for step_s in [3600.0, -3600.0, 1800.0, -1800.0, 43_200.0, -43_200.0, -619_315_200.0] {
            let audit = jumped(interval, step_s, None, resolution);
            let timing = &audit.evidence.timing;
            assert_eq!(timing.missing(), Some(0), "{interval} s, {step_s} s: {:?}", timing.holes);
            assert_eq!(timing.slot_count, Some(200), "{interval} s, {step_s} s");
            assert_eq!(timing.missing_doubt, None, "{interval} s, {step_s} s");
            match timing.joins.as_slice() {
                [join] => {
                    assert!(join.before == 99 && join.after == 100, "{join:?}");
                    let JoinKind::ClockStep { step_s: told, .. } = join.kind else { panic!("{join:?}") };
                    assert!((told - step_s).abs() < 1.0, "{told} against {step_s}");
                }
                other => panic!("{interval} s, {step_s} s: {other:?}"),
            }
        }
    }
}

/// Offsets from UTC that change with the stamps tell daylight saving even where names are no numbers.
#[test]
fn offsets_tell_daylight_saving() {
    let audit = jumped(5.0, 3600.0, Some((0, 60)), SECOND);
    assert!(
        matches!(audit.evidence.timing.joins.as_slice(), [j] if matches!(j.kind, JoinKind::ClockStep { .. }))
    );
    assert_eq!(audit.evidence.timing.missing(), Some(0));
}

/// The same hour with the file numbers skipping by as many is frames lost, and told as such.
#[test]
fn an_hour_of_lost_files_is_missing() {
    let ticks: Vec<Tick> = (0..200_u32)
        .map(|k| {
            let slot = if k >= 100 { k + 720 } else { k };
            Tick {
                stamp: Some(floored(0.4 + 5.0 * f64::from(slot), SECOND)),
                number: slot + 1,
                ..Tick::default()
            }
        })
        .collect();
    let audit = audit(&ticks, SECOND);
    assert_eq!(audit.evidence.timing.missing(), Some(720));
}

/// Timers at and below the clock's step: a steady run lacks nothing, at any phase of the clock; a missed
/// trigger is told, or held by the range that the stamps allow.
#[test]
fn at_and_below_the_clocks_step() {
    let run = |interval: f64, phase: f64, n: u32, missed: Option<u32>| {
        let stamps =
            (0..n).filter(|k| Some(*k) != missed).map(|k| floored(phase + interval * f64::from(k), SECOND));
        audit(&ticks(stamps), SECOND)
    };
    for interval in [0.5, 0.7, 0.8, 0.93, 1.0, 1.013, 1.04] {
        for seed in 0..20_u32 {
            let (phase, n) = (0.13 * f64::from(seed), 120 + 7 * seed);
            let clean = run(interval, phase, n, None).evidence.timing;
            assert_eq!(clean.missing(), Some(0), "{interval} s, phase {phase}: {:?}", clean.holes);
            let missed = run(interval, phase, n, Some(40 + seed)).evidence.timing;
            let (low, high) = missed.missing_doubt.or(missed.missing().map(|m| (m, m))).expect("a grid");
            let as_coarse = interval <= 1.0;
            let unjudged = as_coarse && missed.holes.is_empty();
            assert!(unjudged || (low <= 1 && high >= 1), "{interval} s, phase {phase}: {low} to {high}");
            // As coarse as the interval: the stamps are those of a slower timer too, so nothing is certain.
            assert!(!as_coarse || missed.holes.iter().all(|h| h.doubt.is_some_and(|d| d.0 == 0)));
        }
    }
}

/// A clock's fork at 0 °C runs 21.25 ppm slow (0.034 ppm/°C² off 25 °C, from a maker's data sheet): beside a
/// timer in the warm that is 0.106 ms of a 5 s interval and 0.612 s in 8 h, and no drift that anybody would
/// act on.
#[test]
fn a_cold_clock_is_no_drift() {
    let ppm: f64 = 0.034 * (0.0_f64 - 25.0).powi(2);
    assert!((ppm - 21.25).abs() < 1e-9);
    assert!((5.0 * ppm / 1000.0 - 0.106).abs() < 5e-4 && (8.0 * 3600.0 * ppm / 1e6 - 0.612).abs() < 1e-9);
    let interval_s = 5.0 * (1.0 - ppm / 1e6);
    let stamps = (0..=5760).map(|k| floored(0.37 + interval_s * f64::from(k), SECOND / 100));
    let plan = lapseproof::plan::Plan { interval_s: Some(5.0), frames: Some(5761), ..Default::default() };
    let setting = Setting { name: "values".into(), plan, ..Setting::default() };
    let audit = carry_out(setting, frames(&ticks(stamps), SECOND / 100));
    let cadence = audit.evidence.timing.cadence.as_ref().expect("a cadence");
    assert!((cadence.interval_s - interval_s).abs() < 5e-6, "{}", cadence.interval_s);
    assert!(cadence.low_s <= interval_s && interval_s <= cadence.high_s);
    assert!(audit.findings().iter().all(|f| f.check != "interval-drift"), "{:?}", audit.findings());
}
