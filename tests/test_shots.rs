//! Test shots, hand-fired tails and older jobs on the card: none of it bends the run.

mod support;

use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::plan::Plan;
use support::series::{Tick, floored, frames};

fn audit(times: &[f64], plan: Plan) -> Audit {
    let ticks: Vec<Tick> = times
        .iter()
        .zip(1..)
        .map(|(t, number)| Tick { stamp: Some(floored(*t, 1_000_000)), number, ..Tick::default() })
        .collect();
    carry_out(Setting { name: "shots".into(), plan, ..Setting::default() }, frames(&ticks, 1_000_000))
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
