use super::super::faults::Damage;
use super::*;
use crate::plan::{CountedFrom, DailyHours, ExposurePlan, Moment, Part, PartStart, Planned, RigPlan};
use crate::rehearse::Options;
use crate::units::Micros;

fn plan(interval_s: f64, frames: u64) -> Plan {
    Plan { interval_s: Some(interval_s), frames: Some(frames), ..Plan::default() }
}

fn run(plan: &Plan, faults: &[&str], options: &Options) -> Script {
    let faults: Vec<_> = faults.iter().map(|t| Fault::parse(t).expect(t)).collect();
    script(plan, &faults, options).expect("a script")
}

fn simple(faults: &[&str]) -> Script {
    run(&plan(12.0, 200), faults, &Options::default())
}

fn slots(script: &Script) -> Vec<u64> {
    script.shots.iter().filter(|s| s.role == Role::Run && s.on_card()).filter_map(|s| s.slot).collect()
}

fn opens(script: &Script) -> Vec<f64> {
    script.shots.iter().map(|s| s.open_s).collect()
}

#[test]
fn a_clean_run_has_nothing_wrong() {
    let script = simple(&[]);
    assert_eq!(slots(&script), (0..200).collect::<Vec<_>>());
    assert!(script.truth.holes.is_empty() && script.truth.faults.is_empty());
    assert_eq!((script.truth.slots, script.truth.files, script.truth.missing), (200, 200, 0));
    assert!(script.shots.iter().enumerate().all(|(k, s)| s.open_s == 12.0 * k as f64));
}

/// stamp = floor((t0 + t) / q) · q, at each resolution.
#[test]
fn stamps_are_cut_off_to_their_resolution() {
    for (digits, q) in [(0, 1_000_000), (1, 100_000), (2, 10_000), (3, 1000)] {
        let q = Micros::new(q);
        let options = Options { stamp_digits: digits, seed: 9, ..Options::default() };
        let script = run(&plan(1.04, 500), &["jitter=40ms"], &options);
        for shot in &script.shots {
            let off = script.true_time(shot).micros() - shot.stamp.micros();
            assert!((Micros::ZERO..q).contains(&off), "{off:?}");
            assert_eq!(shot.stamp.micros().rem_euclid(q), Micros::ZERO);
        }
    }
    let phases: Vec<_> = (0..5)
        .map(|seed| run(&plan(12.0, 2), &[], &Options { seed, ..Options::default() }).phase_s)
        .collect();
    assert!(phases.windows(2).all(|p| p[0] != p[1]));
}

#[test]
fn missed_triggers_keep_the_numbers_and_lost_files_skip_them() {
    let script = simple(&["missing=3@120", "lost=2@60"]);
    let number = |slot| script.shots.iter().find(|s| s.slot == Some(slot)).expect("a shot").number;
    assert_eq!(number(119) + 1, number(123));
    assert_eq!(number(59) + 3, number(62));
    let holes = &script.truth.holes;
    assert_eq!(holes.len(), 2);
    assert_eq!((holes[0].first_slot, holes[0].count, holes[0].cause.as_str()), (60, 2, "file-lost"));
    assert_eq!((holes[1].first_slot, holes[1].count, holes[1].cause.as_str()), (120, 3, "trigger-missed"));
    assert_eq!(holes[0].first_file, "frames/TIDE0060.JPG");
    assert_eq!(holes[0].last_file, "frames/TIDE0063.JPG");
    assert_eq!(script.truth.files, 195);
    assert_eq!(script.truth.missing, 5);
    assert_eq!(script.truth.faults[0].cause.as_deref(), Some("trigger-missed"));
    assert_eq!(script.truth.faults[1].cause.as_deref(), Some("file-lost"));
    assert_eq!(script.truth.faults[1].first_file.as_deref(), Some("frames/TIDE0060.JPG"));
    assert_eq!(script.truth.faults[1].last_file.as_deref(), Some("frames/TIDE0063.JPG"));
}

#[test]
fn a_hole_of_both_kinds_has_no_one_cause() {
    let script = simple(&["missing=2@50", "lost=2@52"]);
    assert_eq!(script.truth.holes.len(), 1);
    assert_eq!((script.truth.holes[0].count, script.truth.holes[0].cause.as_str()), (4, "unknown"));
}

#[test]
fn every_k_th_trigger_is_missed() {
    let script = simple(&["missing=every:7"]);
    assert_eq!(slots(&script), (0..200).filter(|k| *k == 0 || k % 7 != 0).collect::<Vec<_>>());
    assert_eq!(script.truth.faults[0].count, 28);
    assert_eq!(script.truth.holes.len(), 28);
}

#[test]
fn rates_jitter_pauses_and_late_frames_move_the_shutter() {
    assert!((opens(&simple(&["rate=+200ppm"]))[199] - 199.0 * 12.0024).abs() < 1e-6);
    let changed = opens(&simple(&["rate-change=+2%@100"]));
    assert_eq!(changed[100], 1200.0);
    assert!((changed[101] - 1212.24).abs() < 1e-9 && (changed[199] - 1200.0 - 99.0 * 12.24).abs() < 1e-6);
    let paused = opens(&simple(&["pause=37s@150"]));
    assert_eq!((paused[149], paused[150], paused[151]), (1788.0, 1837.0, 1849.0));
    let late = opens(&simple(&["late=2.4s@80"]));
    assert_eq!((late[79], late[80], late[81]), (948.0, 962.4, 972.0));
    let offs: Vec<f64> =
        opens(&simple(&["jitter=15ms"])).iter().enumerate().map(|(k, t)| t - 12.0 * k as f64).collect();
    let rms = (offs.iter().map(|o| o * o).sum::<f64>() / offs.len() as f64).sqrt();
    assert!((rms - 0.015).abs() < 0.003, "{rms}");
    let uniform = opens(&simple(&["jitter=15ms:uniform"]));
    assert!(uniform.iter().enumerate().all(|(k, t)| (t - 12.0 * k as f64).abs() <= 0.015));
}

#[test]
fn a_pause_of_the_seed_lies_off_the_grid() {
    for seed in 0..20 {
        let script = run(&plan(10.0, 100), &["pause"], &Options { seed, ..Options::default() });
        let length = script.truth.faults[0].amount.expect("a length");
        assert!((0.25..0.75).contains(&(length / 10.0).fract()), "{length}");
        assert!((opens(&script)[99] - 990.0 - length).abs() < 1e-9);
    }
}

#[test]
fn clocks_step_and_the_offset_follows_daylight_saving() {
    let civil = CivilTime::from_calendar((2026, 3, 29), (0, 30, 0), 0).expect("a moment");
    let plan = Plan { start: Some(Moment { civil, offset_min: Some(0) }), ..plan(12.0, 200) };
    let stepped = run(&plan, &["clock=+1h@150"], &Options::default());
    let plain = run(&plan, &[], &Options::default());
    for (k, (a, b)) in stepped.shots.iter().zip(&plain.shots).enumerate() {
        assert_eq!(a.stamp.seconds_since(b.stamp), if k < 150 { 0.0 } else { 3600.0 });
        assert_eq!(a.offset_min, Some(0));
        assert_eq!(a.open_s, b.open_s);
    }
    let saved = run(&plan, &["daylight-saving=+1h@150"], &Options::default());
    assert_eq!((saved.shots[149].offset_min, saved.shots[150].offset_min), (Some(0), Some(60)));
    assert_eq!(saved.truth.faults[0].kind, "daylight-saving");
}

#[test]
fn an_overrun_misses_every_other_trigger() {
    let script = simple(&["overrun@60"]);
    let row = &script.truth.faults[0];
    assert!(row.count > 30, "{row:?}");
    let slots = slots(&script);
    let tail: Vec<_> = slots.iter().filter(|s| **s >= 120).collect();
    assert!(tail.windows(2).all(|w| w[1] - w[0] == 2));
    assert!(script.truth.holes.iter().all(|h| h.count == 1 && h.cause == "trigger-missed"));
    // The last trigger was missed too; no frame follows it, so it is no hole.
    assert_eq!((script.truth.missing + 1, script.truth.slots), (row.count, 199));
    // The light fails with it: the pictures stay as bright as they were.
    assert!(script.shots.iter().all(|s| s.brightness_ev().abs() < 0.15));
}

/// A marked "30" lasts 32 s (marked series: common practice), so a 31 s interval cannot be held with it.
#[test]
fn the_marked_thirty_overruns_by_itself() {
    let exposure = ExposurePlan { shutter_s: Some(Planned::Fixed(30.0)), ..ExposurePlan::default() };
    let script = run(&Plan { exposure, ..plan(31.0, 60) }, &[], &Options::default());
    assert_eq!(slots(&script), (0..60).step_by(2).collect::<Vec<_>>());
    assert_eq!(script.truth.faults[0].kind, "overrun");
    assert_eq!(script.truth.faults[0].count, 30);
}

#[test]
fn settings_jump_hunt_and_stray() {
    let shutter = |script: &Script, k: usize| script.shots[k].settings.marked_s;
    let jump = simple(&["jump=+1EV@90"]);
    assert_eq!(
        (shutter(&jump, 89), shutter(&jump, 90), shutter(&jump, 199)),
        (1.0 / 60.0, 1.0 / 30.0, 1.0 / 30.0)
    );
    assert!((jump.shots[90].brightness_ev() - jump.shots[89].brightness_ev() - 1.0).abs() < 0.01);
    let odd = simple(&["odd=-1EV@50"]);
    assert_eq!(
        (shutter(&odd, 49), shutter(&odd, 50), shutter(&odd, 51)),
        (1.0 / 60.0, 1.0 / 125.0, 1.0 / 60.0)
    );
    let hunting = simple(&["hunting=12@60"]);
    let changes = hunting.shots.windows(2).filter(|w| w[0].settings != w[1].settings).count();
    assert_eq!(changes, 12);
    assert_eq!(
        (shutter(&hunting, 60), shutter(&hunting, 61), shutter(&hunting, 72)),
        (1.0 / 50.0, 1.0 / 60.0, 1.0 / 60.0)
    );
}

#[test]
fn flicker_is_not_in_the_settings() {
    for text in ["flicker=0.2EV", "flicker=0.2EV:alternating"] {
        let script = simple(&[text]);
        assert!(script.shots.iter().all(|s| s.settings == script.shots[0].settings));
        let rms = (script.shots.iter().map(|s| s.flicker_ev.powi(2)).sum::<f64>() / 200.0).sqrt();
        assert!((rms - 0.2).abs() < 0.03, "{rms}");
    }
}

#[test]
fn damaged_copied_and_surplus_files() {
    let script = simple(&["damaged=zeros:3@30", "duplicate@33", "surplus=hand@40", "surplus=double@50"]);
    let damaged: Vec<_> = script.shots.iter().filter(|s| s.state == State::Damaged(Damage::Zeros)).collect();
    assert_eq!(damaged.iter().filter_map(|s| s.slot).collect::<Vec<_>>(), [30, 31, 32]);
    let copied = script.shots.iter().find(|s| s.copied).expect("a copy");
    assert_eq!((copied.slot, script.copy(copied)), (Some(33), "frames/TIDE0034 (1).JPG".into()));
    let surplus: Vec<_> = script.shots.iter().filter(|s| s.role == Role::Surplus).collect();
    assert_eq!(surplus.len(), 2);
    assert!((surplus[0].open_s - 485.4).abs() < 1e-9);
    assert!(surplus[1].open_s > 600.0 && surplus[1].open_s < 600.5);
    let truth = &script.truth;
    assert_eq!(
        (truth.damaged, truth.copies, truth.surplus, truth.run_files, truth.files),
        (3, 1, 2, 200, 203)
    );
    assert!(truth.holes.is_empty());
}

#[test]
fn test_shots_lie_outside_the_run_with_other_settings() {
    let script = simple(&["tests=4:3"]);
    let outside: Vec<_> = script.shots.iter().filter(|s| s.role == Role::Outside).collect();
    assert_eq!(outside.len(), 7);
    assert!(outside.iter().take(4).all(|s| s.open_s < 0.0));
    assert!(outside.iter().skip(4).all(|s| s.open_s > 199.0 * 12.0));
    assert!(script.shots.windows(2).all(|w| w[0].open_s < w[1].open_s));
    assert!(outside.iter().any(|s| s.settings != script.shots[10].settings));
    assert_eq!(script.truth.first_file.as_deref(), Some("frames/TIDE0005.JPG"));
    assert_eq!((script.truth.outside, script.truth.slots), (7, 200));
}

#[test]
fn a_run_stops_early() {
    let script = simple(&["stop=60%"]);
    assert_eq!((script.truth.slots, script.truth.planned_frames), (120, 200));
    assert_eq!((script.truth.faults[0].count, script.truth.faults[0].amount), (80, Some(0.6)));
}

#[test]
fn a_timer_that_counts_from_close_is_longer_by_the_exposure() {
    let exposure = ExposurePlan { shutter_s: Some(Planned::Fixed(2.0)), ..ExposurePlan::default() };
    let close = Plan { counted_from: Some(CountedFrom::Close), exposure, ..plan(12.0, 50) };
    assert!((opens(&run(&close, &[], &Options::default()))[49] - 49.0 * 14.0).abs() < 1e-9);
    let fault = run(&Plan { counted_from: None, ..close }, &["counted-from-close"], &Options::default());
    assert!((opens(&fault)[49] - 49.0 * 14.0).abs() < 1e-9);
    assert_eq!(fault.truth.counted_from, "close");
}

#[test]
fn dark_frames_keep_the_camera_busy() {
    let exposure = ExposurePlan { shutter_s: Some(Planned::Fixed(8.0)), ..ExposurePlan::default() };
    let plan = Plan { exposure, ..plan(12.0, 50) };
    assert_eq!(slots(&run(&plan, &[], &Options::default())).len(), 50);
    assert_eq!(slots(&run(&plan, &["dark-frame"], &Options::default())).len(), 25);
}

#[test]
fn the_carriage_steps_and_stalls() {
    let rig = RigPlan { step_m: Some(0.0015), ..RigPlan::default() };
    let plan = Plan { rig, ..plan(12.0, 200) };
    let at = |script: &Script, k: usize| (script.shots[k].carriage_m * 1e4).round() as i64;
    let clean = run(&plan, &[], &Options::default());
    assert_eq!((at(&clean, 0), at(&clean, 100)), (0, 1500));
    let stalled = run(&plan, &["stalled=6@80"], &Options::default());
    assert_eq!(
        (at(&stalled, 79), at(&stalled, 80), at(&stalled, 85), at(&stalled, 86)),
        (1185, 1185, 1185, 1200)
    );
    let slots = |fault: &str| {
        let script = run(&plan, &[fault], &Options::default());
        [79, 80, 81, 199].map(|k| at(&script, k))
    };
    assert_eq!(slots("slip=0.5@80"), [1185, 1193, 1208, 2978]);
    assert_eq!(slots("reversal@80"), [1185, 1170, 1155, -615]);
    assert_eq!(slots("rail-end@80"), [1185, 1185, 1185, 1185]);
    let askew = run(&plan, &["knock=3px@80", "lorry=2@20"], &Options::default());
    assert_eq!((askew.shots[79].askew_px, askew.shots[80].askew_px), (0.0, 3.0));
    let passes: Vec<_> = askew.shots.iter().filter_map(|s| s.lorry.map(|way| (s.slot, way))).collect();
    assert_eq!(passes, [(Some(20), 0.25), (Some(21), 0.75)]);
    assert_eq!(simple(&["soft=2px@80"]).shots.iter().filter(|s| s.blur_px > 0.0).count(), 1);
}

/// 9999 is followed by 0001, and in a DCIM by the next folder (DCF, CIPA DC-009).
#[test]
fn numbers_wrap_and_folders_roll() {
    let wrapped = simple(&["wrap@50"]);
    assert_eq!((wrapped.shots[49].number, wrapped.shots[50].number), (9999, 1));
    assert_eq!(wrapped.file(&wrapped.shots[50]), "frames/TIDE0001.JPG");
    let rolled = simple(&["roll@50", "wrap@80"]);
    assert_eq!(rolled.shots[49].folder, 100);
    assert_eq!((rolled.shots[50].folder, rolled.shots[80].folder), (101, 102));
    assert_eq!(rolled.file(&rolled.shots[50]), "frames/DCIM/101LAPSE/TIDE9970.JPG");
    let long = run(&plan(1.0, 10_050), &[], &Options::default());
    assert!(long.dcim);
    assert_eq!(long.file(&long.shots[9999]), "frames/DCIM/101LAPSE/TIDE0001.JPG");
    let started = run(&plan(1.0, 3), &[], &Options { first_number: 9999, ..Options::default() });
    assert_eq!(started.shots.iter().map(|s| s.number).collect::<Vec<_>>(), [9999, 1, 2]);
}

#[test]
fn parts_active_hours_and_brackets() {
    let part = Part {
        from: PartStart::Frame(10),
        interval_s: Some(6.0),
        exposure: ExposurePlan { shutter_s: Some(Planned::Fixed(0.5)), ..ExposurePlan::default() },
        direction: None,
        note: None,
    };
    let parted = run(&Plan { parts: vec![part], ..plan(12.0, 20) }, &[], &Options::default());
    assert_eq!((parted.shots[10].open_s, parted.shots[11].open_s), (120.0, 126.0));
    assert_eq!((parted.shots[9].settings.marked_s, parted.shots[10].settings.marked_s), (1.0 / 60.0, 0.5));
    let civil = CivilTime::from_calendar((2026, 5, 9), (18, 0, 0), 0).expect("a moment");
    let site = Plan {
        start: Some(Moment { civil, offset_min: None }),
        active: vec![DailyHours { from_s: 7 * 3600, to_s: 19 * 3600 }],
        ..plan(600.0, 10)
    };
    let script = run(&site, &[], &Options::default());
    assert_eq!(script.shots[5].stamp.clock().get(..5), Some("18:50"));
    assert_eq!(script.shots[6].stamp.iso(0).get(..16), Some("2026-05-10T07:00"));
    let bracketed = run(&Plan { bracket: Some(3), ..plan(12.0, 4) }, &[], &Options::default());
    assert_eq!(bracketed.shots.len(), 12);
    assert_eq!(bracketed.shots.iter().filter_map(|s| s.slot).max(), Some(3));
    assert!((bracketed.shots[0].settings.ev100() - bracketed.shots[2].settings.ev100() - 2.0).abs() < 1e-9);
}

/// By hand: 4 s of exposure and a dark frame as long leave no room in 6 s, and plenty in 12 s.
#[test]
fn the_camera_is_as_busy_as_the_part_in_force_says() {
    let exposure = ExposurePlan {
        shutter_s: Some(Planned::Fixed(4.0)),
        dark_frame: Some(true),
        ..ExposurePlan::default()
    };
    let part =
        |interval_s| Part { interval_s, exposure: exposure.clone(), ..Part::from(PartStart::Frame(10)) };
    let shot = |interval_s| {
        run(&Plan { parts: vec![part(interval_s)], ..plan(12.0, 20) }, &[], &Options::default()).shots.len()
    };
    assert_eq!((shot(None), shot(Some(6.0))), (20, 15));
}

#[test]
fn a_plan_without_an_interval_is_refused_with_a_remedy() {
    let error = script(&Plan::default(), &[], &Options::default()).expect_err("refused");
    assert!(error.to_string().contains("interval = \"12 s\""));
    for interval_s in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(script(&plan(interval_s, 5), &[], &Options::default()).is_err());
    }
    assert!(script(&plan(1.0, u64::MAX), &[], &Options::default()).is_err());
    assert!(script(&plan(12.0, 100), &[Fault::Roll { at: Some(100) }], &Options::default()).is_err());
}

#[test]
fn exposures_that_no_camera_has_are_refused() {
    let with = |exposure| Plan { exposure, ..plan(12.0, 5) };
    for exposure in [
        ExposurePlan { shutter_s: Some(Planned::Fixed(0.0)), ..ExposurePlan::default() },
        ExposurePlan { shutter_s: Some(Planned::Between(1.0, f64::INFINITY)), ..ExposurePlan::default() },
        ExposurePlan { aperture: Some(Planned::Fixed(-8.0)), ..ExposurePlan::default() },
        ExposurePlan { iso: Some(Planned::Fixed(f64::NAN)), ..ExposurePlan::default() },
        ExposurePlan { busy_s: Some(-1.0), ..ExposurePlan::default() },
    ] {
        assert!(script(&with(exposure.clone()), &[], &Options::default()).is_err(), "{exposure:?}");
    }
    assert!(script(&Plan { bracket: Some(16), ..plan(12.0, 5) }, &[], &Options::default()).is_err());
}

#[test]
fn the_same_seed_gives_the_same_script() {
    let faults = ["missing", "lost", "jitter", "pause", "flicker", "tests", "hunting", "odd"];
    let make = |seed| run(&plan(5.0, 300), &faults, &Options { seed, ..Options::default() });
    assert_eq!(make(4).shots, make(4).shots);
    assert_eq!(make(4).truth, make(4).truth);
    assert_ne!(make(4).shots, make(5).shots);
}

#[test]
fn two_hundred_thousand_frames_are_quick() {
    let began = std::time::Instant::now();
    let script = run(&plan(1.04, 200_000), &["missing=3", "lost=2", "rate", "jitter"], &Options::default());
    assert_eq!(script.truth.missing, 5);
    assert_eq!(script.shots.len(), 199_997);
    // A second unoptimised; a quadratic step would take half an hour.
    assert!(began.elapsed().as_secs() < 60);
}
