//! The checks on whole series of stamps, from frames to judgements.

use crate::support::series::{Tick, floored, frames};
use lapseproof::checks::judge_all;
use lapseproof::evidence::{Sequence, gather};
use lapseproof::finding::{Answer, Finding, Severity};
use lapseproof::frames::Cell;
use lapseproof::plan::Plan;
use lapseproof::schedule::Schedule;
use lapseproof::units::Micros;

const SECOND: Micros = Micros::SECOND;

/// Whole-second stamps at those slots of a timer; with `lost` the numbers of the empty slots are gone too.
fn shot(slots: impl Iterator<Item = i64>, interval_s: f64, lost: bool) -> Vec<Tick> {
    let number = |at: usize, slot: i64| if lost { slot as u32 + 1 } else { at as u32 + 1 };
    slots
        .enumerate()
        .map(|(at, k)| Tick {
            stamp: Some(floored(0.3 + interval_s * k as f64, SECOND)),
            number: number(at, k),
            ..Tick::default()
        })
        .collect()
}

fn every(interval_s: f64) -> Plan {
    Plan { interval_s: Some(interval_s), ..Plan::default() }
}

/// All findings. The counts of every check must add up to the folder, and none may break.
fn findings(plan: &Plan, evidence: &Sequence) -> Vec<Finding> {
    let mut all = Vec::new();
    for judgement in judge_all(plan, evidence, &Schedule::of(plan, evidence)) {
        let id = judgement.text.id;
        let aside: u64 = judgement.set_aside.iter().map(|(count, _)| count).sum();
        assert_eq!(judgement.looked_at + aside, evidence.len() as u64, "{id}");
        assert!(!matches!(judgement.answer, Answer::Broke(_)), "{id}: {:?}", judgement.answer);
        all.extend(judgement.findings().iter().cloned());
    }
    all
}

/// A steady timer a little slower than the stamps' resolution shows "gaps" of two seconds, and nothing is
/// missing.
#[test]
fn a_steady_timer_is_clear() {
    for interval in [1.04, 2.11, 7.013, 12.0] {
        let evidence = gather(&Plan::default(), frames(&shot(0..600, interval, false), SECOND));
        assert_eq!(findings(&Plan::default(), &evidence), [], "{interval}");
    }
}

#[test]
fn a_hole_has_its_cause_and_its_count() {
    for (lost, code) in [(true, "file-lost"), (false, "trigger-missed")] {
        let slots = (0..601).filter(|k| ![300, 301].contains(k));
        let evidence = gather(&every(12.0), frames(&shot(slots, 12.0, lost), SECOND));
        let all = findings(&every(12.0), &evidence);
        assert_eq!(all.len(), 1, "{all:?}");
        let (f, cause) = (&all[0], all[0].cause.as_ref().expect("a cause"));
        assert_eq!((f.check, f.severity, f.count), ("missing-slot", Severity::Caution, 2));
        assert_eq!((f.first, f.last, cause.code.name()), (Some(299), Some(300), code));
    }
}

#[test]
fn a_slow_timer_drifts() {
    let evidence = gather(&every(12.0), frames(&shot(0..601, 12.12, false), SECOND));
    let all = findings(&every(12.0), &evidence);
    assert_eq!(all.iter().map(|f| (f.check, f.count)).collect::<Vec<_>>(), [("interval-drift", 6)]);
}

/// A file that cannot say when or how it was shot is told, and stops no check.
#[test]
fn frames_that_say_nothing_are_told() {
    let ticks: Vec<_> = (0..50).map(|k| Tick { stamp: None, number: k + 1, ..Tick::default() }).collect();
    let mut mute = frames(&ticks, SECOND);
    for row in &mut mute.rows {
        (row.exposure_s, row.f_number, row.iso) = (Cell::Blank, Cell::Absent, Cell::Unreadable);
    }
    let evidence = gather(&every(12.0), mute);
    let all = findings(&every(12.0), &evidence);
    assert_eq!(all.iter().map(|f| f.check).collect::<Vec<_>>(), ["stamp-missing"]);
}

/// Everything at once goes wrong: what repeats is drawn together, and no check breaks.
#[test]
fn a_folder_where_everything_is_wrong_is_judged_to_the_end() {
    let slots = (0..700).filter(|k| k % 7 != 3 && k % 11 != 5);
    let mut wild = frames(&shot(slots, 12.0, false), SECOND);
    for (k, row) in wild.rows.iter_mut().enumerate() {
        row.exposure_s = Cell::Known(if k % 3 == 0 { 1.0 / 60.0 } else { 15.0 });
        row.iso = Cell::Known(if k % 5 == 0 { 100 } else { 1600 });
        row.orientation = Cell::Known((k % 8) as u8 + 1);
        row.focal_mm = Cell::Known((k % 3) as f32 * 10.0 + 24.0);
    }
    let evidence = gather(&every(12.0), wild);
    let all = findings(&every(12.0), &evidence);
    let of = |id: &str| all.iter().filter(|f| f.check == id).count();
    assert!(of("missing-slot") > 0);
    for id in ["shutter-overrun", "exposure-jump", "exposure-hunting", "settings-change"] {
        assert!((1..=40).contains(&of(id)), "{id}: {}", of(id));
    }
}

/// A hole on whole-second stamps is due at a whole second, as the camera would have stamped it.
#[test]
fn a_hole_is_due_when_the_camera_would_have_stamped() {
    for interval in [5.0, 7.013, 12.34] {
        let slots = (0..200).filter(|k| *k != 90);
        let evidence = gather(&every(interval), frames(&shot(slots, interval, true), SECOND));
        let at = findings(&every(interval), &evidence)[0].at.expect("a moment");
        assert_eq!(at.micros().rem_euclid(SECOND), Micros::ZERO, "{interval}");
        let start = evidence.frame(0).stamp().expect("a stamp").at;
        assert!((at.seconds_since(start) - 90.0 * interval).abs() <= 1.0, "{interval}: {at}");
    }
}

/// The numbers of the run carried on by another body: the camera changes inside the run, which is a fault; a
/// body with numbers of its own is another job.
#[test]
fn another_body_inside_the_run_is_told() {
    use lapseproof::frames::Camera;
    let camera = |serial: &str| Camera { maker: "Box".into(), model: "One".into(), serial: serial.into() };
    for (first_other, jump, severity) in [(40, 0, Some(Severity::Fault)), (40, 700, None)] {
        let ticks: Vec<_> = (0..70_u32)
            .map(|i| Tick {
                stamp: Some(floored(f64::from(i) * 6.0, Micros::SECOND)),
                number: i + 1 + if i >= first_other { jump } else { 0 },
                ..Tick::default()
            })
            .collect();
        let mut frames = frames(&ticks, Micros::SECOND);
        frames.cameras = vec![camera("11"), camera("12")];
        for (i, row) in frames.rows.iter_mut().enumerate() {
            row.camera = Cell::Known(u16::from(i as u32 >= first_other));
        }
        let plan = Plan::default();
        let evidence = gather(&plan, frames);
        let kept = evidence.in_run().count();
        let told = findings(&plan, &evidence)
            .iter()
            .filter(|f| f.check == "settings-change")
            .map(|f| f.severity)
            .max();
        assert_eq!((kept, told), (if jump == 0 { 70 } else { 40 }, severity), "{jump}");
    }
}

/// Where a check that has to answer could not, its answer is what would change the call, not its remedy for a
/// finding.
#[test]
fn a_missing_answer_is_what_would_change_the_call() {
    let ticks: Vec<_> = (1..=9).map(|number| Tick { number, ..Tick::default() }).collect();
    let plan = Plan::default();
    let evidence = gather(&plan, frames(&ticks, SECOND));
    let schedule = Schedule::of(&plan, &evidence);
    let verdict =
        lapseproof::verdict::reach(&plan, &evidence, &schedule, &judge_all(&plan, &evidence, &schedule));
    let said = verdict.would_change.iter().find(|w| w.starts_with("missing-slot")).expect("a line");
    assert_eq!(said, "missing-slot: an answer. It could not judge, because no frame of the run has a stamp.");
}
