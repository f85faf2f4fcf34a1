//! Frames at the ends of a run, exposed otherwise or on a pace of their own: nothing of them is passed over,
//! and nothing is made of them that the stamps do not carry.
//!
//! Invented stamps; what an audit must say of them follows from how they were made.

use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::evidence::timing::Join;
use lapseproof::finding::Severity;
use lapseproof::plan::Plan;
use lapseproof::units::Micros;
use lapseproof::verdict::Call;

/// The exposure of the run and of what was exposed otherwise, s.
const USUAL_S: f64 = 1.0 / 8.0;
const OTHER_S: f64 = 1.0 / 2.0;

/// Frames at those moments, s, on a clock of that step; those of `other` were exposed otherwise.
fn audit(times: &[f64], step: Micros, other: &[usize], plan: Plan) -> Audit {
    let tick = |(n, t): (usize, &f64)| Tick {
        stamp: Some(floored(*t, step)),
        number: n as u32 + 1,
        exposure_s: if other.contains(&n) { OTHER_S } else { USUAL_S },
        ..Tick::default()
    };
    let ticks: Vec<Tick> = times.iter().enumerate().map(tick).collect();
    carry_out(Setting { name: "ends".into(), plan, ..Setting::default() }, frames(&ticks, step))
}

fn told(audit: &Audit, check: &str, before: usize, after: usize) -> bool {
    let here = (Some(before), Some(after));
    let all = audit.findings();
    let mut of = all.iter().filter(|f| f.check == check && f.severity > Severity::Note);
    of.any(|f| (f.first, f.last) == here)
}

/// A stop of 30 s before the last three frames, which are at one pace to the millisecond, the first of them
/// brighter: nobody fires so evenly by hand.
#[test]
fn one_brighter_frame_makes_no_test_shots_of_an_even_row() {
    let mut times: Vec<f64> = (0..99).map(|k| 7.371_926 * f64::from(k)).collect();
    times.extend([759.825, 767.095, 774.365]);
    let audit = audit(&times, Micros::step_of(3), &[99], Plan::default());
    assert_ne!(audit.verdict.call, Call::Clear);
    assert!(told(&audit, "grid-slip", 98, 99), "{:?}", audit.verdict.reasons);
}

/// Two pairs of frames at the same step an hour before a run at another one: a timer fired both pairs.
#[test]
fn a_step_that_comes_again_is_a_timers() {
    let mut times = vec![0.0, 196.01, 579.38, 775.38];
    times.extend((0..357).map(|k| 4647.08 + 293.992_8 * f64::from(k)));
    let audit = audit(&times, Micros::step_of(2), &[], Plan::default());
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.outside);
}

/// A first gap much longer than any interval after it is a stop, and no interval of two frames.
#[test]
fn a_long_first_gap_is_a_stop() {
    let mut times = vec![0.0, 34.0, 54.0, 177.0, 237.3];
    times.extend((1..84).map(|k| 237.3 + 19.271_6 * f64::from(k)));
    let plan = Plan { interval_s: Some(20.0), frames: Some(88), ..Plan::default() };
    let audit = audit(&times, Micros::SECOND, &[], plan);
    assert!(told(&audit, "grid-slip", 0, 1), "{:?}", audit.evidence.timing.joins);
    let early = |j: &Join| j.stood_s().is_some_and(|s| s < 0.0);
    assert!(!audit.evidence.timing.joins.iter().any(early), "{:?}", audit.evidence.timing.joins);
}

/// The plan's length lacks frames, and one lies beyond a stop, brighter than the rest: it may be the run's,
/// so the stop is told.
#[test]
fn a_frame_that_a_planned_length_lacks_is_not_cut_off() {
    let mut times: Vec<f64> = (0..161).map(|k| 3.572_964 * f64::from(k)).collect();
    times.push(614.5);
    let plan = Plan { run_s: Some(582.4), ..Plan::default() };
    let audit = audit(&times, Micros::step_of(1), &[161], plan);
    let told = ["grid-slip", "missing-slot"].iter().any(|check| told(&audit, check, 160, 161));
    assert!(told, "{:?}", audit.verdict.reasons);
}

/// A timer on the very edge between two seconds, as coarse as the clock: seven frames fall into the second
/// before, and all 345 stand in slots of their own.
#[test]
fn a_timer_on_the_edge_of_a_second_has_a_frame_in_each_slot() {
    let mut steps = vec![1.0; 120];
    for row in [22, 4, 48, 40, 35, 30, 31] {
        steps.extend([0.0, 2.0]);
        steps.extend(vec![1.0; row]);
    }
    let mut times = vec![0.5];
    for step in steps {
        times.push(times[times.len() - 1] + step);
    }
    let plan = Plan { interval_s: Some(1.0), frames: Some(345), ..Plan::default() };
    let audit = audit(&times, Micros::SECOND, &[], plan);
    assert_eq!(audit.evidence.timing.slot_count, Some(345));
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
}

/// A rest of 54 minutes, the same interval but for a hair, other settings behind it: one run that stood, or
/// two shoots. Both are told, and nobody is sent away.
#[test]
fn a_rest_with_other_settings_behind_it_is_told_both_ways() {
    let mut times: Vec<f64> = (0..46).map(|k| 0.2 + 7.0 * f64::from(k)).collect();
    times.extend((0..60).map(|k| 3568.1 + 7.242_2 * f64::from(k)));
    let other: Vec<usize> = (46..106).collect();
    let audit = audit(&times, Micros::SECOND, &other, Plan::default());
    assert_eq!(audit.verdict.call, Call::Look, "{:?}", audit.verdict.reasons);
    let all = audit.findings();
    let stop = all.iter().find(|f| f.check == "grid-slip").expect("the stop");
    assert_eq!((stop.first, stop.last), (Some(45), Some(46)));
    let doubt = stop.doubt.as_ref().expect("the other reading");
    assert!(
        doubt.words.starts_with("Or the 46 frames beyond it are a shoot of their own."),
        "{}",
        doubt.words
    );
}

/// Three frames behind a stop, the last of them two slots on where a file is lost: by the numbers both steps
/// are the same to the millisecond, and a timer shot them.
#[test]
fn steps_are_alike_over_lost_files_too() {
    let mut times: Vec<f64> = (0..145).map(|k| 40.0004 * f64::from(k)).collect();
    times.extend([6072.058, 6100.059, 6156.059]);
    let tick = |(n, t): (usize, &f64)| Tick {
        stamp: Some(floored(*t, Micros::step_of(3))),
        number: n as u32 + 1 + u32::from(n == 147),
        ..Tick::default()
    };
    let ticks: Vec<Tick> = times.iter().enumerate().map(tick).collect();
    let audit =
        carry_out(Setting { name: "ends".into(), ..Setting::default() }, frames(&ticks, Micros::step_of(3)));
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.outside);
}

/// An older job every 2 s and a run every 2 min, exposed otherwise, are on one grid: they are two shoots all
/// the same.
#[test]
fn an_older_job_on_the_runs_own_grid_is_none_of_it() {
    let mut times: Vec<f64> = (0..35).map(|k| 0.4 + 2.0 * f64::from(k)).collect();
    times.extend((0..120).map(|k| 4000.4 + 120.0 * f64::from(k)));
    let other: Vec<usize> = (0..35).collect();
    let audit = audit(&times, Micros::SECOND, &other, Plan::default());
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
    assert_eq!(audit.evidence.in_run().count(), 120);
}

/// Twenty frames at one interval and 57 at another, 2 % shorter: the longer stretch does not take the others,
/// and no interval is stated with a bound below nothing.
#[test]
fn a_stretch_takes_no_other_timers_frames() {
    let steps = [2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1, 2, 2, 2, 2, 2, 2, 2, 2, 1, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1];
    let rest = [2, 2, 2, 2, 2, 2, 2, 2, 1].into_iter().cycle().take(46);
    let mut times = vec![0.5];
    for step in steps.into_iter().chain(rest) {
        times.push(times[times.len() - 1] + f64::from(step));
    }
    let plan = Plan { interval_s: Some(1.929), frames: Some(77), ..Plan::default() };
    let audit = audit(&times, Micros::SECOND, &[], plan);
    let cadence = audit.evidence.timing.cadence.as_ref().expect("a cadence");
    assert!(cadence.low_s > 1.8 && cadence.high_s < 2.0, "{cadence:?}");
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.timing.joins);
}

/// A ramp by thirds with a hole of 50 minutes, behind which the light has gone on: the settings follow it, no
/// second shoot begins, and the fault stays one.
#[test]
fn a_ramp_that_goes_on_behind_a_hole_is_no_second_shoot() {
    let slots: Vec<i32> = (0..400).filter(|k| !(150..250).contains(k)).collect();
    let tick = |(n, slot): (usize, &i32)| Tick {
        stamp: Some(floored(0.3 + 30.0 * f64::from(*slot), Micros::SECOND)),
        number: n as u32 + 1,
        exposure_s: f64::exp2(f64::from(slot / 20) / 3.0 - 10.0),
        ..Tick::default()
    };
    let ticks: Vec<Tick> = slots.iter().enumerate().map(tick).collect();
    let audit =
        carry_out(Setting { name: "ends".into(), ..Setting::default() }, frames(&ticks, Micros::SECOND));
    assert_eq!(audit.verdict.call, Call::Hold, "{:?}", audit.verdict.reasons);
    assert!(told(&audit, "missing-slot", 149, 150), "{:?}", audit.verdict.reasons);
    assert!(audit.evidence.perhaps_beside().is_empty());
}

/// Four frames at twice the interval, two hours behind the run: their times fit the run's own grid as every
/// other slot. That is a pace of their own, which shots by hand seldom keep, and no frame is passed over.
#[test]
fn frames_at_twice_the_interval_keep_a_pace() {
    let mut times: Vec<f64> = (0..126).map(|k| 2.000_06 * f64::from(k)).collect();
    times.extend((0..4).map(|k| 8458.0 + 4.0 * f64::from(k)));
    let audit = audit(&times, Micros::SECOND, &[], Plan::default());
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.outside);
}

/// Every seventh frame is missing at an interval hardly longer than the clock's step: such a fault repeats to
/// the frame, so it is no unsteady pace.
#[test]
fn every_nth_frame_missing_is_told_on_a_coarse_clock() {
    for interval_s in [1.602, 1.771, 1.816] {
        let fired = (0..130).filter(|k| k % 7 != 6);
        let times: Vec<f64> = fired.map(|k| 0.009 + interval_s * f64::from(k)).collect();
        let audit = audit(&times, Micros::SECOND, &[], Plan::default());
        let missing: u64 = audit.evidence.timing.holes.iter().map(|h| h.slots).sum();
        assert_eq!(missing, 18, "{interval_s} s: {:?}", audit.evidence.timing.no_grid);
    }
}

/// A timer of whole seconds on a clock of tenths stands for half a second: two places in the second say
/// nothing about the clock, and the stop is told.
#[test]
fn half_a_second_is_a_stop_on_a_clock_of_tenths() {
    let mut times: Vec<f64> = (0..50).map(|k| 0.05 + f64::from(k)).collect();
    times.extend((50..75).map(|k| 0.55 + f64::from(k)));
    let audit = audit(&times, Micros::step_of(1), &[], Plan::default());
    assert!(told(&audit, "grid-slip", 49, 50), "{:?}", audit.evidence.timing.cadence);
}

/// A frame that is late by most of an interval stands off the line of all the others, unless a line in a
/// corner of the windows excuses it: that is too unlikely to count.
#[test]
fn a_late_frame_is_told_though_a_corner_would_excuse_it() {
    let slot = |k: i32| 0.55 + 1.995 * f64::from(k);
    let mut times: Vec<f64> = (0..223).filter(|k| !(25..29).contains(k)).map(slot).collect();
    times[197] += 1.1995;
    let audit = audit(&times, Micros::SECOND, &[], Plan::default());
    let late = audit.findings().iter().any(|f| f.check == "uneven-interval" && f.first == Some(197));
    assert!(late, "{:?}", audit.evidence.timing.cadence);
}

/// A run of five frames, and one more 62 intervals on: the line of five stamps of a millisecond leads there
/// to half a second, which chance does once in eighty times.
#[test]
fn five_frames_draw_a_line() {
    let slots = [0, 1, 2, 3, 4, 66];
    let times: Vec<f64> = slots.iter().map(|k| 89.995_5 * f64::from(*k)).collect();
    let audit = audit(&times, Micros::step_of(3), &[], Plan::default());
    assert!(told(&audit, "missing-slot", 4, 5), "{:?}", audit.evidence.outside);
}

/// Three frames behind a stop at another interval, of which one was missed in between: the second gap is
/// twice the first to the millisecond.
#[test]
fn a_gap_twice_the_one_before_is_a_timers() {
    let mut times: Vec<f64> = (0..92).map(|k| 92.469_774 * f64::from(k)).collect();
    times.extend([8567.217, 8668.934, 8872.368]);
    let audit = audit(&times, Micros::step_of(3), &[], Plan::default());
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.outside);
}

/// A darker last frame behind three empty slots keeps the line as closely as the run does, to a millisecond
/// of a second: test shots would hardly do so.
#[test]
fn the_closer_a_run_keeps_its_line_the_rarer_is_chance() {
    let slots = (0..229).chain([232]);
    let times: Vec<f64> = slots.map(|k| 0.999_95 * f64::from(k)).collect();
    let audit = audit(&times, Micros::step_of(3), &[229], Plan::default());
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.outside);
}
