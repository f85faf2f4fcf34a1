//! Test shots, hand-fired tails and older jobs on the card: none of it bends the run.

use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::plan::Plan;
use lapseproof::units::Micros;

fn audit(times: &[f64], plan: Plan) -> Audit {
    let ticks: Vec<Tick> = times
        .iter()
        .zip(1..)
        .map(|(t, number)| Tick { stamp: Some(floored(*t, Micros::SECOND)), number, ..Tick::default() })
        .collect();
    carry_out(Setting { name: "shots".into(), plan, ..Setting::default() }, frames(&ticks, Micros::SECOND))
}

/// Whole-second stamps of five test shots, 137 frames every 4 s, and three shots by hand.
#[test]
fn the_run_keeps_its_first_frames() {
    let mut times = vec![0.0, 6.9, 112.41, 166.97, 208.08];
    times.extend((0..137).map(|k| 525.71 + 4.0 * f64::from(k)));
    times.extend([1312.59, 1350.62, 1408.78]);
    for plan in [Plan::default(), Plan { interval_s: Some(4.0), frames: Some(137), ..Plan::default() }] {
        let audit = audit(&times, plan);
        let run: Vec<usize> = audit.evidence.in_run().collect();
        assert_eq!((run.first(), run.last()), (Some(&5), Some(&141)), "{:?}", audit.evidence.outside);
        assert_eq!(audit.evidence.timing.missing(), Some(0));
        // What lies outside is told with its true reason.
        let why: Vec<&str> = audit.evidence.outside.iter().map(|o| o.why.as_str()).collect();
        let reason = match audit.plan.frames {
            Some(_) => "whose 137 planned frames are there without them",
            None => "off its pace: test shots, or fired by hand",
        };
        assert_eq!(why, [format!("before the run, {reason}"), format!("after the run, {reason}")]);
    }
}

/// Every other trigger missed from slot 101 to 199 of 300: the grid is the faster timer's before, between and
/// after.
#[test]
fn every_other_trigger_missed_in_the_middle() {
    let times: Vec<f64> = (0..300)
        .filter(|k| !(101..200).contains(k) || k % 2 == 0)
        .map(|k| 0.3 + 5.0 * f64::from(k))
        .collect();
    let audit = audit(&times, Plan::default());
    let timing = &audit.evidence.timing;
    assert_eq!(timing.missing(), Some(50), "{:?}", timing.joins);
    assert!(timing.joins.is_empty(), "{:?}", timing.joins);
}

/// Gaps without any pace: no grid, and no missing frame is claimed.
#[test]
fn no_pace_is_no_grid() {
    let gaps = [3.0, 5.0, 9.0, 14.0, 22.0, 31.0];
    let mut chance = lapseproof::rehearse::chance::Chance::new(3);
    let mut at = 0.0;
    let times: Vec<f64> = (0..81)
        .map(|_| {
            at += gaps[(chance.unit() * 6.0) as usize % 6];
            at
        })
        .collect();
    for plan in [Plan::default(), Plan { interval_s: Some(6.0), ..Plan::default() }] {
        let audit = audit(&times, plan);
        let timing = &audit.evidence.timing;
        assert!(timing.cadence.is_none(), "{:?} {:?}", timing.cadence, timing.holes.len());
    }
}

/// Bursts fired by hand, 0.2 s from frame to frame on a clock of hundredths: 0.2 s fits any rest between two
/// of them after a few frames. Nothing is missing, and nobody says that a camera was too slow.
#[test]
fn bursts_by_hand_are_no_timer() {
    for (seed, step_s, digits) in [(1, 0.2, 2), (2, 0.2, 2), (3, 0.3, 2), (4, 0.2, 3), (5, 1.0, 0)] {
        let resolution = Micros::step_of(digits);
        let mut chance = lapseproof::rehearse::chance::Chance::new(seed);
        let (mut at, mut times) = (0.0, Vec::new());
        for _ in 0..20 {
            at += 15.0 + 240.0 * chance.unit().powi(2);
            for _ in 0..3 + (chance.unit() * 6.0) as usize {
                times.push(at);
                at += step_s;
            }
        }
        let ticks: Vec<Tick> = times
            .iter()
            .zip(1..)
            .map(|(t, number)| Tick { stamp: Some(floored(*t, resolution)), number, ..Tick::default() })
            .collect();
        let audit = carry_out(Setting::default(), frames(&ticks, resolution));
        let timing = &audit.evidence.timing;
        assert!(timing.cadence.is_none() && timing.holes.is_empty(), "{seed}: {:?}", timing.cadence);
        let causes: Vec<&str> = audit.verdict.causes.iter().map(|c| c.code.name()).collect();
        assert!(!causes.contains(&"pace-not-held"), "{causes:?}");
    }
}

/// Five test shots at quite another exposure and pace, and a run five short of its plan: that they are as
/// many is chance.
#[test]
fn test_shots_do_not_make_up_the_planned_count() {
    for (shots, front) in [(5_usize, true), (5, false), (2, true), (1, false)] {
        let run: Vec<(f64, f64)> = (0..43).map(|k| (100.2 + 5.0 * f64::from(k), 0.004)).collect();
        let from = if front { 0.0 } else { 400.0 };
        let tests = (0..shots).map(|k| (from + 7.3 * k as f64, if k % 2 == 0 { 2.5 } else { 4.0 }));
        let mut all: Vec<(f64, f64)> = run.into_iter().chain(tests).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let tick = |((at, exposure_s), number): (&(f64, f64), u32)| Tick {
            stamp: Some(floored(*at, Micros::SECOND)),
            number,
            exposure_s: *exposure_s,
            ..Tick::default()
        };
        let ticks: Vec<Tick> = all.iter().zip(1..).map(tick).collect();
        let plan = Plan { frames: Some(43 + shots as u64), ..Plan::default() };
        let audit = carry_out(Setting { plan, ..Setting::default() }, frames(&ticks, Micros::SECOND));
        let timing = &audit.evidence.timing;
        assert_eq!(timing.slot_count, Some(43), "{shots} {front}: {:?}", audit.verdict.reasons);
        let short: Vec<u64> =
            audit.findings().into_iter().filter(|f| f.check == "short-run").map(|f| f.count).collect();
        assert_eq!(short, [shots as u64], "{front}");
        assert!(audit.findings().iter().all(|f| f.check != "exposure-jump"));
    }
}
