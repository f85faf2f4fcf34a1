//! A site camera whose clock is set in the middle of a day: the days after keep their grids, and nothing is
//! missing that was shot.

use crate::support::rehearsed::frames;
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::evidence::timing::JoinKind;
use lapseproof::plan::{DailyHours, Moment, Plan};
use lapseproof::rehearse::{Options, script};
use lapseproof::units::{CivilTime, Micros};
use lapseproof::verdict::Call;

/// 2026-05-09T07:00:00.
const OPENING: CivilTime = CivilTime::from_seconds(1_778_310_000);

/// A week from 07:00 to 19:00 every `interval_s`, with the clock set by `set_s` after the frame `at`, and the
/// slots of `lost` left out.
fn week(interval_s: f64, at: usize, set_s: i64, lost: &[usize]) -> (Audit, u64) {
    audited(interval_s, (at, set_s), 0, lost)
}

/// A week every 120 s that begins `late_s` after the opening each day, less than an interval.
fn late_week(late_s: i64, lost: &[usize]) -> (Audit, u64) {
    audited(120.0, (0, 0), late_s, lost)
}

fn audited(interval_s: f64, (at, set_s): (usize, i64), late_s: i64, lost: &[usize]) -> (Audit, u64) {
    let slots = (12.0 * 3600.0 / interval_s) as u64;
    let plan = Plan {
        interval_s: Some(interval_s),
        frames: Some(7 * slots),
        start: Some(Moment { civil: OPENING, offset_min: None }),
        active: vec![DailyHours { from_s: 7 * 3600, to_s: 19 * 3600 }],
        ..Plan::default()
    };
    let mut script = script(&plan, &[], &Options::default()).expect("a rehearsal");
    for shot in script.shots.iter_mut().skip(at + 1) {
        shot.stamp = shot.stamp.plus(Micros::from_seconds(set_s));
    }
    for shot in &mut script.shots {
        shot.stamp = shot.stamp.plus(Micros::from_seconds(late_s));
    }
    let mut n = 0_usize;
    script.shots.retain(|_| {
        n += 1;
        !lost.contains(&(n - 1))
    });
    // The camera did not fire: its numbers run on.
    for (k, shot) in script.shots.iter_mut().enumerate() {
        shot.number = k as u16 % 9999 + 1;
    }
    (carry_out(Setting { plan, ..Setting::default() }, frames(&script, 0)), 7 * slots)
}

fn said(audit: &Audit) -> String {
    let all =
        audit.findings().into_iter().map(|f| format!("{} {}: {}", f.severity.word(), f.check, f.message));
    all.collect::<Vec<_>>().join("\n")
}

fn missing(audit: &Audit) -> u64 {
    audit.evidence.timing.holes.iter().map(|h| h.slots).sum()
}

/// A minute from frame to frame and a clock that was set back three: the stamps run backwards, the numbers
/// on.
#[test]
fn a_clock_set_back_in_the_middle_of_a_day() {
    let slots = 720;
    for at in [3 * slots + 300, 3 * slots + 11, 3 * slots + 700] {
        let (audit, all) = week(60.0, at, -180, &[]);
        let timing = &audit.evidence.timing;
        assert_eq!((missing(&audit), timing.slot_count), (0, Some(all)), "{at}\n{}", said(&audit));
        let steps: Vec<_> = timing
            .joins
            .iter()
            .filter_map(|j| match &j.kind {
                JoinKind::ClockStep { step_s, .. } => Some((j.before, step_s.round())),
                _ => None,
            })
            .collect();
        assert_eq!(steps, [(at, -180.0)], "{at}\n{}", said(&audit));
        let nights = timing.joins.iter().filter(|j| j.kind == JoinKind::Night).count();
        assert_eq!(nights, 6, "{at}");
        assert!(audit.findings().iter().any(|f| f.check == "clock-step"), "{}", said(&audit));
        assert!(!said(&audit).contains("uneven-interval"), "{}", said(&audit));
        assert_ne!(audit.verdict.call, Call::Hold, "{}", said(&audit));
    }
}

/// Ten minutes from frame to frame: the gap is shorter by three minutes, and nothing comes 13 hours late.
#[test]
fn a_step_shorter_than_the_interval_moves_no_night() {
    for set_s in [-180, 180, -420, 420] {
        let at = 3 * 72 + 30;
        let (audit, all) = week(600.0, at, set_s, &[]);
        let timing = &audit.evidence.timing;
        assert_eq!((missing(&audit), timing.slot_count), (0, Some(all)), "{set_s}\n{}", said(&audit));
        let nights = timing.joins.iter().filter(|j| j.kind == JoinKind::Night).count();
        assert_eq!((nights, timing.joins.len()), (6, 7), "{set_s}\n{}", said(&audit));
        assert_ne!(audit.verdict.call, Call::Hold, "{set_s}\n{}", said(&audit));
    }
}

/// Set by 25 min in the night, either way.
#[test]
fn a_clock_set_in_the_night() {
    for set_s in [-1500, 1500] {
        let (audit, all) = week(300.0, 3 * 144 - 1, set_s, &[]);
        assert_eq!(
            (missing(&audit), audit.evidence.timing.slot_count),
            (0, Some(all)),
            "{set_s}\n{}",
            said(&audit)
        );
    }
}

/// What does lack is told all the same: the first five frames of the sixth day.
#[test]
fn a_late_morning_is_told_on_a_clock_that_was_set() {
    let lost: Vec<usize> = (5 * 144..5 * 144 + 5).collect();
    for set_s in [0, -180, 180] {
        let (audit, all) = week(300.0, 3 * 144 + 60, set_s, &lost);
        assert_eq!(
            (missing(&audit), audit.evidence.timing.slot_count),
            (5, Some(all)),
            "{set_s}\n{}",
            said(&audit)
        );
    }
}

/// Frames were due at noon and not shot, for whole half-hours with the numbers running on: the day began and
/// ended with its hours, so no clock was put forward and nothing rested.
#[test]
fn a_hole_of_whole_half_hours_within_the_hours_is_missing() {
    for (interval_s, slots) in [(600.0, 72), (60.0, 720)] {
        for halves in [1, 2, 3, 5, 8] {
            let many = halves * (1800.0 / interval_s) as usize;
            // The first day, one in the middle, and the last.
            for day in [0, 3, 6] {
                let at = day * slots + slots / 4;
                let (audit, all) = week(interval_s, 0, 0, &(at..at + many).collect::<Vec<_>>());
                let timing = &audit.evidence.timing;
                let holes: Vec<_> = timing.holes.iter().map(|h| (h.before, h.slots)).collect();
                let said = said(&audit);
                assert_eq!(holes, [(at - 1, many as u64)], "{interval_s} {halves} {day}\n{said}");
                assert_eq!(timing.slot_count, Some(all), "{said}");
                let nights = timing.joins.iter().all(|j| j.kind == JoinKind::Night);
                assert_eq!((timing.joins.len(), nights), (6, true), "{interval_s} {halves} {day}\n{said}");
                assert_eq!(audit.verdict.call, Call::Hold, "{said}");
            }
        }
    }
}

/// Put forward by whole half-hours at noon, the day goes on after its hours: the clock or the camera, both
/// are told, and the gap is no rest.
#[test]
fn a_clock_put_forward_by_half_hours_is_no_rest() {
    for set_s in [1800, 3600] {
        let at = 3 * 72 + 30;
        let (audit, _) = week(600.0, at, set_s, &[]);
        let timing = &audit.evidence.timing;
        let kinds: Vec<_> = timing.joins.iter().filter(|j| j.kind != JoinKind::Night).collect();
        let nights = timing.joins.len() - kinds.len();
        let step = |j: &JoinKind| matches!(j, JoinKind::ClockStep { step_s, .. } if *step_s == set_s as f64);
        assert!(nights == 6 && kinds.len() == 1, "{set_s}\n{}", said(&audit));
        assert!(kinds[0].before == at && step(&kinds[0].kind), "{set_s}\n{}", said(&audit));
        assert_eq!(audit.verdict.call, Call::Look, "{set_s}\n{}", said(&audit));
    }
}

/// Every day from 07:01:46 each 120 s, the last at 18:59:46: nothing was due overnight. What lacks in one
/// morning is told.
#[test]
fn days_that_begin_late_within_the_interval() {
    for (lost, missing_slots) in [(vec![], 0), (vec![3 * 360], 1), (vec![3 * 360 - 1, 3 * 360], 2)] {
        let (audit, all) = late_week(106, &lost);
        let timing = &audit.evidence.timing;
        assert_eq!((missing(&audit), timing.slot_count), (missing_slots, Some(all)), "{}", said(&audit));
        let clear = audit.verdict.call == Call::Clear;
        assert_eq!(clear, missing_slots == 0, "{}", said(&audit));
    }
}

/// Soon after the morning, at noon, shortly before the evening; of a day of many frames at noon alone: time.
fn places(slots: usize) -> Vec<usize> {
    if slots > 200 { vec![slots / 2] } else { vec![5, slots / 2, slots - 8] }
}

/// Set back by less than an interval, by one, by many, at any time of the day.
#[test]
fn however_far_the_clock_was_set_back() {
    let mut wrong = Vec::new();
    for interval_s in [60.0, 300.0, 600.0] {
        let slots = (12.0 * 3600.0 / interval_s) as usize;
        for set_s in [-30, -90, -180, -300, -420, -900, -1800, -3600] {
            // Set back by just an interval, two frames bear one stamp: by the stamps, a double trigger.
            if -set_s as f64 == interval_s {
                continue;
            }
            for at in places(slots) {
                let (audit, all) = week(interval_s, 3 * slots + at, set_s, &[]);
                let nights = audit.evidence.timing.joins.iter().filter(|j| j.kind == JoinKind::Night).count();
                if (missing(&audit), audit.evidence.timing.slot_count, nights) != (0, Some(all), 6) {
                    wrong.push(format!("{interval_s} {set_s} {at}: {nights}\n{}", said(&audit)));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// Put forward, the gap alone may be a clock that was set or a camera that did not fire: no morning after it
/// lacks a frame.
#[test]
fn however_far_the_clock_was_put_forward() {
    let mut wrong = Vec::new();
    for interval_s in [60.0, 300.0, 600.0] {
        let slots = (12.0 * 3600.0 / interval_s) as usize;
        for set_s in [30, 90, 180, 420, 900, 1500, 2700] {
            for at in places(slots) {
                let at = 3 * slots + at;
                let (audit, _) = week(interval_s, at, set_s, &[]);
                let timing = &audit.evidence.timing;
                let nights = timing.joins.iter().filter(|j| j.kind == JoinKind::Night).count();
                if nights != 6 || timing.holes.iter().any(|h| h.before != at) {
                    wrong.push(format!("{interval_s} {set_s} {at}: {nights}\n{}", said(&audit)));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}
