//! What holds for any rehearsal, whatever faults are put together.

use crate::support::cases::tried;
use lapseproof::plan::{CountedFrom, ExposureMode, ExposurePlan, Plan, Planned, RigPlan};
use lapseproof::rehearse::{FAULTS, Fault, Options, RehearseError, Role, Script, State, script, write_until};
use lapseproof::units::Micros;
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

fn exposures() -> impl Strategy<Value = ExposurePlan> {
    let mode = prop::sample::select(vec![
        None,
        Some(ExposureMode::Locked),
        Some(ExposureMode::Ramped),
        Some(ExposureMode::Automatic),
    ]);
    let shutter = prop::sample::select(vec![
        Planned::Fixed(1.0 / 250.0),
        Planned::Fixed(30.0),
        Planned::Between(1.0 / 500.0, 4.0),
        Planned::Between(8.0, 1.0 / 60.0),
        Planned::Fixed(1.0 / 493.0),
    ]);
    (mode, shutter).prop_map(|(mode, shutter)| ExposurePlan {
        mode,
        shutter_s: Some(shutter),
        iso: Some(Planned::Between(100.0, 800.0)),
        ..ExposurePlan::default()
    })
}

fn plans() -> impl Strategy<Value = Plan> {
    let interval = prop::sample::select(vec![0.5, 1.04, 2.0, 7.013, 12.0, 40.0]);
    let counted = prop::sample::select(vec![None, Some(CountedFrom::Close)]);
    (interval, 40_u64..400, exposures(), counted, 1_u32..4).prop_map(
        |(interval_s, frames, exposure, counted_from, bracket)| Plan {
            interval_s: Some(interval_s),
            frames: Some(frames),
            exposure,
            counted_from,
            bracket: Some(bracket),
            rig: RigPlan { step_m: Some(0.001), ..RigPlan::default() },
            ..Plan::default()
        },
    )
}

fn run_slots(script: &Script) -> Vec<u64> {
    let run = script.shots.iter().filter(|s| s.role == Role::Run && s.on_card());
    run.filter_map(|s| s.slot).collect()
}

proptest! {
    #![proptest_config(tried(256))]

    /// Files, slots and holes add up, and no two files have one name.
    #[test]
    fn the_truth_adds_up(
        plan in plans(),
        names in prop::sample::subsequence(FAULTS.iter().map(|f| f.name).collect::<Vec<_>>(), 0..8),
        seed in any::<u64>(),
        stamp_digits in 0_u8..4,
    ) {
        let faults: Vec<Fault> = names.iter().map(|n| Fault::parse(n).expect(n)).collect();
        let options = Options { seed, stamp_digits, ..Options::default() };
        let script = script(&plan, &faults, &options).expect("a script");
        let truth = &script.truth;

        let on_card: Vec<_> = script.shots.iter().filter(|s| s.on_card()).collect();
        let copies = on_card.iter().filter(|s| s.copied).count();
        prop_assert_eq!(truth.files, (on_card.len() + copies) as u64);
        prop_assert_eq!(truth.files, truth.run_files + truth.surplus + truth.outside + truth.copies);
        let files: BTreeSet<String> = on_card.iter().map(|s| script.file(s)).collect();
        prop_assert_eq!(files.len(), on_card.len());

        let slots = run_slots(&script);
        prop_assert!(slots.windows(2).all(|w| w[0] <= w[1]));
        let distinct: BTreeSet<u64> = slots.iter().copied().collect();
        prop_assert_eq!(truth.slots, distinct.len() as u64 + truth.missing);
        prop_assert_eq!(truth.missing, truth.holes.iter().map(|h| h.count).sum::<u64>());
        for hole in &truth.holes {
            prop_assert!(files.contains(&hole.first_file) && files.contains(&hole.last_file));
            prop_assert!((hole.first_slot..hole.first_slot + hole.count).all(|s| !distinct.contains(&s)));
        }

        // The camera never opens before it could fire again, and its clock stands still for nobody.
        for pair in script.shots.windows(2) {
            prop_assert!(pair[1].open_s >= pair[0].open_s + pair[0].settings.exposure_s);
        }
        let step = Micros::step_of(stamp_digits);
        prop_assert!(script.shots.iter().all(|s| s.stamp.micros().rem_euclid(step) == Micros::ZERO));
        for asked in &faults {
            prop_assert!(truth.faults.iter().any(|row| row.kind == asked.name()));
        }
    }

    /// A hole's cause is what the file numbers say.
    #[test]
    fn causes_agree_with_the_numbers(
        interval_s in 1.0_f64..60.0,
        missing in 1_u64..9,
        lost in 1_u64..9,
        seed in any::<u64>(),
    ) {
        let plan = Plan { interval_s: Some(interval_s), frames: Some(200), ..Plan::default() };
        let faults = [Fault::Missing { count: missing, at: None }, Fault::Lost { count: lost, at: None }];
        let script = script(&plan, &faults, &Options { seed, ..Options::default() }).expect("a script");
        prop_assert_eq!(script.truth.holes.len(), 2);
        let number = |file: &str| file.get(11..15).and_then(|n| n.parse::<u64>().ok()).expect("a number");
        for hole in &script.truth.holes {
            let advance = number(&hole.last_file) - number(&hole.first_file);
            match hole.cause.as_str() {
                "trigger-missed" => prop_assert_eq!((advance, hole.count), (1, missing)),
                "file-lost" => prop_assert_eq!((advance, hole.count), (lost + 1, lost)),
                other => prop_assert!(false, "{other}"),
            }
        }
        prop_assert!(script.shots.iter().all(|s| s.state == State::Written || s.state == State::Lost));
    }

    /// No text makes the reading of a fault fall over.
    #[test]
    fn any_text_is_read_or_refused(
        text in ".{0,40}",
        form in 0..FAULTS.len(),
        tail in "[=@:0-9a-zA-Z%+.-]{0,12}",
    ) {
        let _ = Fault::parse(&text);
        let name = FAULTS[form].name;
        if let Ok(fault) = Fault::parse(&format!("{name}{tail}")) {
            // `rate` may read on as `rate-change`, nothing else changes its name.
            prop_assert!(fault.name().starts_with(name));
        }
    }
}

/// Raised from the first frame on: nothing is left, and what lay there before is as it was.
#[test]
fn an_interrupted_rehearsal_leaves_no_half_folder() {
    let dir = tempfile::tempdir().expect("a folder");
    let (plan, options) =
        (Plan { interval_s: Some(5.0), frames: Some(60), ..Plan::default() }, Options::default());
    let script = script(&plan, &[], &options).expect("a rehearsal");
    let stopped = |into: &std::path::Path| {
        let (stop, done) = (AtomicBool::new(false), AtomicU64::new(0));
        let progress = |more| {
            if done.fetch_add(more, Ordering::Relaxed) >= 5 {
                stop.store(true, Ordering::Relaxed);
            }
        };
        let ended = write_until(&script, &plan, &options, into, &progress, &stop);
        assert!(matches!(ended, Err(RehearseError::Stopped)), "{ended:?}");
    };
    let new = dir.path().join("new");
    stopped(&new);
    assert!(!new.exists());
    let old = dir.path().join("old");
    std::fs::create_dir(&old).expect("a folder");
    std::fs::write(old.join("plan.toml"), "interval = 5\n").expect("written");
    stopped(&old);
    let names: Vec<_> =
        std::fs::read_dir(&old).expect("a folder").map(|e| e.expect("an entry").file_name()).collect();
    assert_eq!(names, ["plan.toml"]);
}
