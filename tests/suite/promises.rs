//! A clear call is a promise: cards on which a fault once passed for something else, and good cards that once
//! gave alarm.
//!
//! Invented stamps; what an audit must say of them follows from how they were made.

use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::finding::{Finding, Severity};
use lapseproof::plan::Plan;
use lapseproof::units::Micros;
use lapseproof::verdict::Call;

const SECOND: Micros = Micros::SECOND;

/// Whole-second stamps at those moments, s, numbered in a row.
fn audit(times: &[f64], plan: &Plan) -> Audit {
    let numbers: Vec<u32> = (1..=times.len() as u32).collect();
    numbered(times, &numbers, plan)
}

fn numbered(times: &[f64], numbers: &[u32], plan: &Plan) -> Audit {
    let tick = |(t, number): (&f64, &u32)| Tick {
        stamp: Some(floored(0.3 + *t, SECOND)),
        number: *number,
        ..Tick::default()
    };
    let ticks: Vec<Tick> = times.iter().zip(numbers).map(tick).collect();
    carry_out(
        Setting { name: "promise".into(), plan: plan.clone(), ..Setting::default() },
        frames(&ticks, SECOND),
    )
}

fn every(interval_s: f64) -> Plan {
    Plan { interval_s: Some(interval_s), ..Plan::default() }
}

fn of<'a>(audit: &'a Audit, check: &str) -> Vec<&'a Finding> {
    audit.findings().into_iter().filter(|f| f.check == check).collect()
}

/// The timer stands for five minutes and goes on a little slower: the stop is told at its place, and so is
/// the new interval.
#[test]
fn a_stop_before_another_interval() {
    for (from_s, to_s) in [(6.0, 6.1), (12.0, 12.2), (20.0, 20.5), (30.0, 31.0)] {
        for plan in [Plan::default(), every(from_s)] {
            let mut times: Vec<f64> = (0..150).map(|k| from_s * f64::from(k)).collect();
            let stop = 149.0 * from_s + 300.0;
            times.extend((0..150).map(|k| stop + to_s * f64::from(k)));
            let audit = audit(&times, &plan);
            assert_ne!(audit.verdict.call, Call::Clear, "{from_s}");
            let told = audit.findings().into_iter().any(|f| {
                ["grid-slip", "missing-slot"].contains(&f.check)
                    && f.severity >= Severity::Caution
                    && (f.first, f.last) == (Some(149), Some(150))
            });
            assert!(told, "{from_s}: {:?}", audit.verdict.reasons);
        }
    }
}

/// Triggers missed just before the last frames, or just after the first ones.
#[test]
fn holes_near_the_ends() {
    for missed in [2, 7, 40] {
        for few in [2, 3, 5] {
            for tail in [true, false] {
                let hole = if tail { 200 - few..200 - few + missed } else { few..few + missed };
                let slots = (0..200 + missed).filter(|k| !hole.contains(k));
                let times: Vec<f64> = slots.map(|k| 10.0 * f64::from(k)).collect();
                for plan in [Plan::default(), every(10.0)] {
                    let audit = audit(&times, &plan);
                    let place = format!("{missed} before or after {few}, tail {tail}");
                    assert_ne!(audit.verdict.call, Call::Clear, "{place}");
                    assert!(audit.evidence.outside.is_empty(), "{place}: {:?}", audit.evidence.outside);
                    let holes = of(&audit, "missing-slot");
                    assert_eq!(holes.len(), 1, "{place}");
                    assert_eq!(holes[0].count, missed as u64, "{place}");
                    let before = if tail { 199 - few } else { few - 1 } as usize;
                    assert_eq!((holes[0].first, holes[0].last), (Some(before), Some(before + 1)), "{place}");
                }
            }
        }
    }
}

/// The camera does not fire for whole half-hours, or its clock is put forward: the stamps are the same, and
/// both are told.
#[test]
fn whole_half_hours_are_told_both_ways() {
    for hours in [0.5, 1.0, 1.5, 2.0] {
        let times: Vec<f64> =
            (0..300).map(|k| 6.0 * f64::from(k) + if k < 140 { 0.0 } else { 3600.0 * hours }).collect();
        let audit = audit(&times, &every(6.0));
        assert_ne!(audit.verdict.call, Call::Clear, "{hours}");
        let told = of(&audit, "clock-step");
        assert_eq!(told.len(), 1, "{hours}: {:?}", audit.verdict.reasons);
        assert_eq!((told[0].first, told[0].last), (Some(139), Some(140)));
        let doubt = told[0].doubt.as_ref().expect("both readings");
        assert_eq!((doubt.count_low, doubt.count_high), (0, (600.0 * hours) as u64));
        assert!(
            audit.verdict.causes.iter().all(|c| c.code.name() != "clock-changed"),
            "{:?}",
            audit.verdict.causes
        );
    }
}

/// Nobody sets a clock so often: stops of exactly an hour are stops.
#[test]
fn many_whole_hours_are_stops() {
    let times: Vec<f64> = (0..400).map(|k| f64::from(k) * 2.0 + 3600.0 * f64::from(k / 40)).collect();
    let audit = audit(&times, &Plan::default());
    assert_eq!(audit.verdict.call, Call::Hold);
    assert!(of(&audit, "clock-step").is_empty(), "{:?}", of(&audit, "clock-step"));
    for before in (1..10).map(|n| n * 40 - 1) {
        let told = audit.findings().into_iter().any(|f| {
            ["missing-slot", "grid-slip"].contains(&f.check)
                && f.first.is_some_and(|at| at <= before)
                && f.last > Some(before)
        });
        assert!(told, "{before}");
    }
}

/// A hole of 45 to 90 minutes with the numbers running on parts no run; another exposure behind it does.
#[test]
fn a_long_hole_is_one_run_unless_it_was_set_up_anew() {
    for minutes in [50.0, 85.0] {
        let hole = (minutes * 60.0 / 5.0) as i32;
        let times: Vec<f64> =
            (0..300 + hole).filter(|k| !(150..150 + hole).contains(k)).map(|k| 5.0 * f64::from(k)).collect();
        let audit = audit(&times, &Plan::default());
        assert_eq!(audit.verdict.call, Call::Hold, "{minutes}");
        assert!(audit.evidence.outside.is_empty(), "{:?}", audit.evidence.outside);
    }
    // An older job: two stops darker, an hour before, at another interval.
    let mut ticks: Vec<Tick> = (0..60)
        .map(|k| Tick {
            stamp: Some(floored(20.0 * f64::from(k), SECOND)),
            exposure_s: 1.0 / 250.0,
            number: k + 1,
            ..Tick::default()
        })
        .collect();
    ticks.extend((0..300).map(|k| Tick {
        stamp: Some(floored(5000.0 + 5.0 * f64::from(k), SECOND)),
        number: k + 61,
        ..Tick::default()
    }));
    let setting = Setting { name: "older job".into(), ..Setting::default() };
    let audit = carry_out(setting, frames(&ticks, SECOND));
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
    assert_eq!(audit.evidence.in_run().count(), 300);
}

/// Every gap longer than the intervals around it is accounted for by a hole, a stop, a change of the clock or
/// what lies outside.
#[test]
fn gaps_add_up() {
    let mut times: Vec<f64> = (0..80).map(|k| 7.0 * f64::from(k)).collect();
    let mut add = |pause_s: f64, interval_s: f64, frames: u32| {
        let from = times.last().copied().unwrap_or(0.0) + 7.0 + pause_s;
        times.extend((0..frames).map(|k| from + interval_s * f64::from(k)));
    };
    add(33.5, 7.0, 60);
    add(70.0, 7.0, 60);
    add(400.0, 7.4, 60);
    add(0.0, 7.0, 60);
    let audit = audit(&times, &Plan::default());
    let timing = &audit.evidence.timing;
    for at in [79, 139, 199] {
        let holes = timing.holes.iter().filter(|h| h.before <= at && at < h.after).count();
        let stops = timing.joins.iter().filter(|j| j.before == at && j.stood_s().is_some()).count();
        assert_eq!(holes + stops, 1, "{at}: {:?} {:?}", timing.holes, timing.joins);
    }
}

/// At an end only every second or third slot has a frame, on the grid: chance puts no shots by hand there.
#[test]
fn thin_ends_are_of_the_run() {
    for (step, few) in [(2, 2), (2, 4), (2, 5), (3, 2), (3, 4)] {
        for tail in [true, false] {
            let body = (0..90).map(f64::from);
            let thin = (1..=few).map(|n| 89.0 + f64::from(step * n));
            let mut slots: Vec<f64> = body.chain(thin).collect();
            if !tail {
                slots = slots.iter().rev().map(|s| 200.0 - s).collect();
            }
            let times: Vec<f64> = slots.iter().map(|s| 5.0 * s).collect();
            for plan in [Plan::default(), every(5.0)] {
                let audit = audit(&times, &plan);
                assert_ne!(audit.verdict.call, Call::Clear, "{step} {few} {tail}");
                assert!(!of(&audit, "missing-slot").is_empty(), "{step} {few} {tail}");
            }
        }
    }
}

/// Frames at the run's own pace beyond a long stop are never passed over, however few they are.
#[test]
fn frames_at_the_pace_beyond_a_stop_are_told() {
    for few in [2, 3, 4, 5, 8] {
        let times: Vec<f64> =
            (0..70).map(|k| 2.0 * f64::from(k) + if k >= 70 - few { 2481.3 } else { 0.0 }).collect();
        let audit = audit(&times, &every(2.0));
        assert_ne!(audit.verdict.call, Call::Clear, "{few}: {:?}", audit.evidence.outside);
    }
}

/// Every other frame was taken out, the clock is fine and the timer unsteady by a quarter of a per cent:
/// every gap is as long as its numbers say, however few of the steps are alike.
#[test]
fn a_culled_run_of_an_unsteady_timer_lacks_what_its_numbers_lack() {
    for seed in 0..12 {
        let mut chance = lapseproof::rehearse::chance::Chance::new(seed);
        let mut ticks = Vec::new();
        for k in 0..80_u32 {
            let late_s: f64 = (0..4).map(|_| chance.unit() - 0.5).sum::<f64>() * 0.1;
            if k == 0 || k == 79 || chance.unit() > 0.5 {
                let at = floored(1.0 + 29.53 * f64::from(k) + late_s, Micros::step_of(3));
                ticks.push(Tick { stamp: Some(at), number: k + 1, ..Tick::default() });
            }
        }
        for plan in [every(29.53), Plan::default()] {
            let audit = carry_out(Setting { plan, ..Setting::default() }, frames(&ticks, Micros::step_of(3)));
            let timing = &audit.evidence.timing;
            let missing: u64 = timing.holes.iter().map(|h| h.slots).sum();
            assert_eq!(missing, 80 - ticks.len() as u64, "{seed}: {:?}", audit.verdict.reasons);
            assert_eq!(timing.slot_count, Some(80), "{seed}");
        }
    }
}

/// A timer that counts from the open and stood every sixth frame, while the exposure grew: the interval is
/// what the gaps say, and no law that takes the exposures out of it.
#[test]
fn many_stops_make_no_other_law() {
    let ticks: Vec<Tick> = (0..1200_u32)
        .map(|k| Tick {
            stamp: Some(floored(0.4 + 10.0001 * f64::from(k) + 5400.0 * f64::from(k / 6), SECOND)),
            number: k + 1,
            exposure_s: 0.5 * 2.0_f64.powf(f64::from(k) / 400.0),
            ..Tick::default()
        })
        .collect();
    for plan in [every(10.0), Plan::default()] {
        let audit = carry_out(Setting { plan, ..Setting::default() }, frames(&ticks, SECOND));
        assert_eq!(audit.verdict.call, Call::Hold);
        let cadence = audit.evidence.timing.cadence.as_ref().expect("a pace");
        assert!((cadence.interval_s - 10.0).abs() < 0.05, "{cadence:?}");
    }
}

/// Two bodies that both come past 9999, in places and under names of their own, are two.
#[test]
fn numbers_that_begin_anew_make_no_one_body() {
    let mut names = Vec::new();
    for (word, first) in [("NEAR", 9990), ("WIDE", 9900)] {
        names.extend((0..120_u32).map(|n| {
            let number = (first + n - 1) % 9999 + 1;
            let folder = if first + n > 9999 { "101" } else { "100" };
            format!("{word}/{folder}ABCDE/{word}{number:04}.JPG")
        }));
    }
    let dir = tempfile::tempdir().expect("a place");
    for (at, name) in names.iter().enumerate() {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        let seconds = 40 * (at % 120);
        let stamp =
            format!("2026:05:09 {:02}:{:02}:{:02}", 4 + seconds / 3600, seconds / 60 % 60, seconds % 60);
        let block =
            crate::support::writer::block(&[], &[(0x9003, crate::support::writer::Put::Ascii(&stamp))]);
        std::fs::write(path, crate::support::writer::jpeg(&block, 300)).expect("a file");
    }
    let card = lapseproof::card::walk(&[dir.path().to_owned()]);
    let all = lapseproof::frames::read_all(card, Some(2), &|_| ());
    let by = lapseproof::evidence::by_camera(&all);
    assert_eq!(by.parts, 2, "{:?}", by.part_of);
}

/// A trial at the run's own pace before it: the rest is the planned count to the frame, and lacks nothing.
#[test]
fn a_trial_beside_the_planned_count_is_none_of_it() {
    for trial in [2, 6, 11] {
        for behind in [false, true] {
            let mut times: Vec<f64> = (0..trial).map(|k| 7.0 * f64::from(k)).collect();
            times.extend((0..101).map(|k| 7.0 * f64::from(150 + k)));
            if behind {
                times = times.iter().rev().map(|t| 2000.0 - t).collect();
            }
            let audit = audit(&times, &Plan { frames: Some(101), ..every(7.0) });
            assert_eq!(audit.verdict.call, Call::Clear, "{trial} {behind}: {:?}", audit.verdict.reasons);
        }
    }
}

/// Six frames every 1.5 s, then a rest, sixty times: whole seconds leave the interval open to a hundredth,
/// and a rest of 6,000 slots to some sixty. No count is told for certain that the frames do not bear out.
#[test]
fn a_long_hole_is_counted_as_far_as_the_interval_is_known() {
    for interval_s in [1.499_925, 1.499_985, 1.500_045] {
        for (rest_s, phase_s) in [(1800.0, 0.2), (9000.0, 0.0), (9000.0, 0.19), (18_000.0, 0.0)] {
            let block_s = rest_s + 6.0 * interval_s;
            let of_block = |block: i32| {
                (0..6).map(move |k| phase_s + f64::from(block) * block_s + interval_s * f64::from(k))
            };
            let times: Vec<f64> = (0..60).flat_map(of_block).collect();
            let audit = audit(&times, &Plan::default());
            assert_ne!(audit.verdict.call, Call::Clear);
            let timing = &audit.evidence.timing;
            assert!(timing.holes.len() + timing.joins.len() >= 59, "{interval_s} {rest_s} {phase_s}");
            for hole in &timing.holes {
                let (low, high) = hole.doubt.unwrap_or((hole.slots, hole.slots));
                let slots = (hole.gap_s / interval_s).round() as u64 - 1;
                assert!(
                    (low..=high).contains(&slots),
                    "{interval_s} {rest_s} {phase_s}: {low} to {high} of {slots}"
                );
            }
        }
    }
}

/// A few odd shots, a rest, and then a timer that keeps its 20 s for two hours.
#[test]
fn odd_shots_before_a_run_do_not_hide_its_interval() {
    let mut times = vec![0.0, 14.14, 39.48, 92.705, 120.19];
    times.extend((0..383).map(|k| 485.34 + 20.000_2 * f64::from(k)));
    let audit = audit(&times, &Plan { run_s: Some(7640.0), ..Plan::default() });
    let interval_s = audit.evidence.timing.cadence.as_ref().map(|c| c.interval_s);
    assert!(interval_s.is_some_and(|i| (i - 20.0).abs() < 0.01), "{interval_s:?}");
    assert!(of(&audit, "uneven-interval").iter().all(|f| f.severity < Severity::Fault));
}

/// The timer stands, goes on at four times its interval, misses five, and fires once more: the last frame
/// stands on the grid that was kept last, so the hole before it is told.
#[test]
fn the_last_frame_is_held_against_the_timer_as_it_was_last() {
    let mut times: Vec<f64> = (0..60).map(|k| 38.77 * f64::from(k)).collect();
    let on = 59.0 * 38.77 + 832.0;
    times.extend([0, 1, 2, 3, 4, 5, 6, 7, 13].map(|k| on + 155.08 * f64::from(k)));
    let audit = audit(&times, &Plan::default());
    let hole = audit.evidence.timing.holes.iter().find(|h| (h.before, h.after) == (67, 68));
    assert_eq!(hole.map(|h| h.slots), Some(5), "{:?}", audit.evidence.outside);
    assert!(of(&audit, "missing-slot").iter().any(|f| f.severity >= Severity::Caution));
}

/// 4 s for a while, a rest, 4 s, a rest, another interval, and again: rows of frames that keep their pace to
/// the stamp are a timer's, however often it stood.
#[test]
fn rows_that_keep_their_pace_are_a_timers() {
    let mut times: Vec<f64> = Vec::new();
    let mut at = 0.0;
    for (frames, interval_s, rest_s) in
        [(24, 4.0, 52.0), (5, 4.0, 888.0), (10, 4.0, 42.0), (12, 5.0, 300.0), (9, 5.0, 77.0), (11, 6.0, 0.0)]
    {
        times.extend((0..frames).map(|k| at + interval_s * f64::from(k)));
        at += interval_s * f64::from(frames - 1) + rest_s;
    }
    let audit = audit(&times, &Plan::default());
    assert_eq!(audit.evidence.timing.no_grid, None);
    let told = |frame: usize| {
        audit.findings().iter().any(|f| f.first == Some(frame) && f.severity >= Severity::Caution)
    };
    for last in [23, 28, 38, 50, 59] {
        assert!(told(last), "the rest after frame {last}");
    }
}

/// The clock is put forward by an hour on the way, and the light goes at the end: an hour is six slots that
/// were never due, so the last frames are no more than the planned count.
#[test]
fn slots_that_a_changed_clock_skipped_do_not_push_the_last_frames_out() {
    let ticks: Vec<Tick> = (0..100_u32)
        .map(|k| Tick {
            stamp: Some(floored(f64::from(k) * 600.0 + if k < 50 { 0.3 } else { 3600.3 }, SECOND)),
            number: k + 1,
            exposure_s: if k < 96 { 1.0 / 60.0 } else { 1.0 / 20.0 },
            ..Tick::default()
        })
        .collect();
    let plan = Plan { frames: Some(100), ..every(600.0) };
    let setting = Setting { name: "promise".into(), plan, ..Setting::default() };
    let audit = carry_out(setting, frames(&ticks, SECOND));
    assert!(audit.evidence.outside.is_empty(), "{:?}", audit.evidence.outside);
}

/// Two frames at exactly twice the run's interval, a third by itself, and the run: shots by hand would hardly
/// lie a whole number of intervals apart to the millisecond, so the stops before the run are told.
#[test]
fn two_frames_at_twice_the_interval_are_no_test_shots_to_pass_over() {
    let mut times = vec![0.0, 3.409, 12.477];
    times.extend((0..120).map(|k| 23.504 + 1.704_482_955 * f64::from(k)));
    let ticks: Vec<Tick> = times
        .iter()
        .zip(1..)
        .map(|(t, number)| Tick { stamp: Some(floored(*t, Micros::step_of(3))), number, ..Tick::default() })
        .collect();
    let setting = Setting { name: "promise".into(), ..Setting::default() };
    let audit = carry_out(setting, frames(&ticks, Micros::step_of(3)));
    assert_ne!(audit.verdict.call, Call::Clear, "{:?}", audit.evidence.outside);
}
