//! `sample-sequences/` is what the table in `support/samples.rs` makes, byte for byte.
//!
//! `cargo test --test suite samples::rebuild -- --ignored` makes it again (`SAMPLE=NAME` one of it); the
//! other ignored test compares every file.

use crate::support::samples::{Sample, samples};
use lapseproof::rehearse::write::Camera;
use lapseproof::rehearse::{Script, State, Truth, rehearse, script};
use std::fs;

/// Most bytes of one sample, and of all of them together.
const MOST: (u64, u64) = (3_000_000, 8_000_000);

fn worked_out(sample: &Sample) -> Script {
    script(&sample.plan, &sample.faults(), &sample.options).expect("a script")
}

/// Files of a sample's `frames/`, as the script names them.
fn files_of(sample: &Sample) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(sample.folder().join("frames"))
        .expect("frames/")
        .map(|e| format!("frames/{}", e.expect("an entry").file_name().to_string_lossy()))
        .collect();
    names.sort();
    names
}

/// Compares every `step`-th file, and every damaged one.
fn compare(sample: &Sample, step: usize) {
    let script = worked_out(sample);
    let camera = Camera::new(&script, &sample.plan, &sample.options);
    for (index, shot) in script.shots.iter().enumerate().filter(|s| s.1.on_card()) {
        if index % step == 0 || matches!(shot.state, State::Damaged(_)) {
            let file = script.file(shot);
            let committed = fs::read(sample.folder().join(&file)).expect(&file);
            assert!(
                committed == camera.file(index, shot).expect("encoded"),
                "{}: {file} differs",
                sample.name
            );
        }
    }
}

#[test]
fn the_folders_hold_what_the_table_names() {
    let mut all = 0;
    for sample in samples() {
        let script = worked_out(&sample);
        let named: Vec<String> =
            script.shots.iter().filter(|s| s.on_card()).map(|s| script.file(s)).collect();
        assert_eq!(files_of(&sample), named, "{}", sample.name);
        let text = fs::read_to_string(sample.folder().join("truth.json")).expect("truth.json");
        let truth: Truth = serde_json::from_str(&text).expect("a truth");
        assert_eq!(truth, script.truth, "{}", sample.name);
        let mut bytes = 0;
        for name in named.iter().map(String::as_str).chain(["plan.toml", "why.txt", "truth.json"]) {
            bytes += fs::metadata(sample.folder().join(name)).expect(name).len();
        }
        assert!(bytes < MOST.0, "{}: {bytes} bytes", sample.name);
        all += bytes;
    }
    assert!(all < MOST.1, "{all} bytes");
}

#[test]
fn the_files_are_what_the_table_makes() {
    std::thread::scope(|scope| {
        for sample in samples() {
            scope.spawn(move || compare(&sample, 16));
        }
    });
}

/// The plan in the table and the plan in the folder say the same in the keys that place the frames.
#[test]
fn the_plan_file_says_what_the_table_says() {
    for sample in samples() {
        let text = fs::read_to_string(sample.folder().join("plan.toml")).expect("plan.toml");
        let plan: toml::Table = text.parse().expect("TOML");
        let get = |key: &str| plan.get(key).and_then(toml::Value::as_integer);
        assert_eq!(get("frames"), sample.plan.frames.map(|n| n as i64));
        assert_eq!(plan.get("name").and_then(toml::Value::as_str), sample.plan.name.as_deref());
        let interval = plan.get("interval").and_then(toml::Value::as_str).expect("an interval");
        let (number, unit) = interval.split_once(' ').expect("a number and a unit");
        let scale = if unit == "min" { 60.0 } else { 1.0 };
        assert_eq!(number.parse::<f64>().ok().map(|n| n * scale), sample.plan.interval_s);
        let start = plan.get("start").map(ToString::to_string).expect("a start");
        let planned = sample.plan.start.expect("a start").civil;
        assert_eq!(start.get(..19), Some(planned.iso(0).as_str()));
    }
}

/// What is said to be wrong is what is wrong.
#[test]
fn the_faults_are_where_the_story_says() {
    let truth = |name: &str| {
        let all = samples();
        worked_out(all.iter().find(|s| s.name == name).expect(name)).truth
    };
    assert!(truth("harbour-falling-tide").holes.is_empty());
    let site = truth("building-site-copy");
    let holes: Vec<_> = site.holes.iter().map(|h| (h.first_slot, h.count, h.cause.as_str())).collect();
    assert_eq!(holes, [(41, 2, "file-lost"), (97, 3, "file-lost")]);
    assert_eq!(site.damaged, 1);
    let night = truth("glasshouse-night");
    assert!(night.missing > 40 && night.holes.iter().all(|h| h.count == 1 && h.cause == "trigger-missed"));
    assert!(night.slots < night.planned_frames / 4);
    let valley = truth("valley-day-to-night");
    assert_eq!((valley.run_files, valley.missing, valley.stamp_resolution_s), (200, 0, 0.01));
    let dusk = truth("canal-lock-dusk");
    assert_eq!((dusk.run_files, dusk.missing), (165, 0));
    assert_eq!((truth("bridge-road").outside, truth("bridge-road").run_files), (7, 120));
}

#[test]
#[ignore = "draws every picture again: some minutes unoptimised"]
fn every_file_is_what_the_table_makes() {
    std::thread::scope(|scope| {
        for sample in samples() {
            scope.spawn(move || compare(&sample, 1));
        }
    });
}

#[test]
#[ignore = "writes into sample-sequences/"]
fn rebuild() {
    // `SAMPLE=NAME` makes one of them.
    let one = std::env::var("SAMPLE").ok();
    for sample in samples().into_iter().filter(|s| one.as_deref().is_none_or(|one| one == s.name)) {
        rehearse(&sample.plan, &sample.faults(), &sample.options, &sample.folder()).expect(sample.name);
    }
}
