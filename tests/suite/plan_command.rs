//! `plan` as its users run it: what it prints, what it writes, and with which exit code it ends.

use crate::support::run::{code, err, lapseproof as run_in, out, temp};
use std::path::Path;
use std::process::Output;

/// The binary; every place that a test names is a whole path.
fn lapseproof<A: AsRef<std::ffi::OsStr>>(args: &[A]) -> Output {
    run_in(Path::new(env!("CARGO_TARGET_TMPDIR")), args)
}

const SLIDER: [&str; 14] = [
    "plan",
    "--event",
    "2h",
    "--length",
    "20s",
    "--fps",
    "25",
    "--shutter",
    "8s",
    "--travel",
    "900mm",
    "--speed",
    "20mm/s",
    "--settle=0.5s",
];

fn with<'a>(args: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    args.iter().chain(more).copied().collect()
}

#[test]
fn a_page_a_file_and_json_say_the_same() {
    let page = lapseproof(&SLIDER);
    assert_eq!(code(&page), Some(0), "{}", err(&page));
    let text = out(&page);
    assert!(text.starts_with("This works.\n"), "{text}");
    for words in [
        "14 s (worked out)",
        "516 (worked out)",
        "What limits it",
        "The nearest plans",
        "Take \
                   care",
    ] {
        assert!(text.contains(words), "{words} in {text}");
    }
    let json: serde_json::Value =
        serde_json::from_str(&out(&lapseproof(&with(&SLIDER, &["--json"])))).expect("it is JSON");
    assert_eq!(json["schema"], 1);
    assert_eq!(json["plan"]["interval_s"], 14.0);
    assert_eq!(json["plan"]["frames"], 516);
    assert_eq!(json["neighbours"][0]["plan"]["interval_s"], 13.0);
    assert_eq!(json["neighbours"][1]["plan"]["interval_s"], 15.0);
    let file = out(&lapseproof(&with(&SLIDER, &["--format", "toml"])));
    assert!(file.contains("interval = \"14 s\"") && file.contains("frames = 516"), "{file}");
}

/// A plan that works, with every key that has a row but `run`, which the frames say.
const EVERY_ROW: &str = r#"
name = "Weir"
interval = "20 s"
frames = 601
start = 2026-05-09T04:10:00+02:00
counted_from = "open"
bracket = 1
first = "TIDE0001.JPG"
last = "TIDE0601.JPG"
active = ["03:00-19:00"]
light = "daylight"
mains_hz = 50
[exposure]
mode = "ramped"
shutter = ["1/500", "2 s"]
aperture = 8
iso = [100, 200]
max_step = 0.34
busy = "0.4 s"
dark_frame = false
[rig]
kind = "stepped"
direction = "up"
travel = "600 mm"
step = "1 mm"
speed = "20 mm/s"
acceleration = "400 mm/s²"
settle = "0.5 s"
trigger_lag = "50 ms"
waits = false
battery_hours = 9
hours_range = [8, 10]
temperature = 20
interval_range = ["1 s", "1 h"]
interval_step = "1 s"
step_range = ["0.1 mm", "50 mm"]
speed_range = ["1 mm/s", "40 mm/s"]
distance = "2 m"
focal_length = "24 mm"
pixel_pitch = "5.97 µm"
wait = "19.4 s"
wait_increment = "0.1 s"
step_increment = "0.1 mm"
sensor_diagonal = "43.3 mm"
declination = "-16.7°"
star_trail = "2 px"
pan = "36 °/h"
[card]
size = "64 GB"
frame_size = "25 MB"
file_system = "exfat"
[delivery]
fps = 25
length = "20 s"
patch_up_to = 2
title = "Falling tide"
scenario = "One tide.\nFrom the quay."
contact = ["Studio Example", "desk@studio.example"]
[[part]]
from = 300
interval = "21 s"
mode = "ramped"
shutter = ["1/500", "1 s"]
aperture = 11
iso = [100, 400]
max_step = 0.3
direction = "down"
note = "ND filter"
"#;

/// What `was` says and `is` does not say alike.
fn lost<S: lapseproof::plan::schema::Keyed>(was: &S, is: &S) -> Vec<String> {
    let other = S::KEYS.iter().filter(|key| key.name != "run" && key.said(was) != key.said(is));
    let silent = S::KEYS.iter().filter(|key| key.name != "run" && key.said(was).is_none());
    other
        .map(|key| key.name.to_owned())
        .chain(silent.map(|key| format!("{} is not said", key.name)))
        .collect()
}

#[test]
fn every_key_is_written_as_it_was_said() {
    let dir = temp();
    let path = dir.path().join("plan.toml");
    std::fs::write(&path, EVERY_ROW).expect("written");
    let told = lapseproof(&["plan", path.to_str().expect("a path"), "--format", "toml"]);
    let written = out(&told);
    let read =
        |text: &str| lapseproof::plan::read(text, "plan.toml", &[]).unwrap_or_else(|e| panic!("{e}\n{text}"));
    let (was, is) = (read(EVERY_ROW), read(&written));
    let lost = [
        lost(&was, &is),
        lost(&was.exposure, &is.exposure),
        lost(&was.rig, &is.rig),
        lost(&was.card, &is.card),
        lost(&was.delivery, &is.delivery),
        lost(&was.document, &is.document),
        lost(&was.parts[0], &is.parts[0]),
    ]
    .concat();
    assert!(lost.is_empty(), "{lost:?}\n{written}");
    assert_eq!(was.parts, is.parts);
}

#[test]
fn a_file_is_written_once_and_reads_back() {
    let dir = temp();
    let path = dir.path().join("plan.toml");
    let path = path.to_str().expect("a path");
    let first = lapseproof(&with(&SLIDER, &["--write", path]));
    assert_eq!(code(&first), Some(0), "{}", err(&first));
    let written = std::fs::read_to_string(path).expect("the plan");
    let second = lapseproof(&with(&SLIDER, &["--name", "second", "--write", path]));
    assert_eq!(code(&second), Some(2));
    assert!(err(&second).contains("left as it is"), "{}", err(&second));
    assert_eq!(std::fs::read_to_string(path).expect("the plan"), written);
    let over = lapseproof(&with(&SLIDER, &["--interval", "15s", "--write", path, "--overwrite"]));
    assert_eq!(code(&over), Some(0), "{}", err(&over));
    assert_ne!(std::fs::read_to_string(path).expect("the plan"), written);
    let again = lapseproof(&["plan", path]);
    assert!(out(&again).contains("15 s (given)"), "{}", out(&again));
    let left: Vec<_> = std::fs::read_dir(dir.path()).expect("the folder").collect();
    assert_eq!(left.len(), 1, "nothing is left beside it");
}

#[test]
fn what_does_not_work_is_told_and_not_written() {
    let dir = temp();
    let path = dir.path().join("plan.toml");
    let path = path.to_str().expect("a path");
    // A marked 30 s is 32 s and does not fit 14 s.
    let args = ["plan", "--interval", "14s", "--frames", "500", "--shutter", "30"];
    let told = lapseproof(&args);
    assert_eq!(code(&told), Some(1));
    assert!(out(&told).starts_with("This does not work"), "{}", out(&told));
    assert!(out(&told).contains("36 s: 500 frames"), "the next that works: {}", out(&told));
    let refused = lapseproof(&with(&args, &["--write", path]));
    assert_eq!(code(&refused), Some(2));
    assert!(!Path::new(path).exists());
    assert_eq!(code(&lapseproof(&with(&args, &["--fail-on", "never"]))), Some(0));
}

#[test]
fn too_little_and_too_much_end_with_a_remedy() {
    let little = lapseproof(&["plan", "--interval", "12s"]);
    assert_eq!(code(&little), Some(2));
    assert!(err(&little).contains("--frames") && out(&little).is_empty(), "{}", err(&little));
    let much = lapseproof(&["plan", "--interval", "12s", "--frames", "600", "--run", "1h"]);
    assert_eq!(code(&much), Some(2));
    for words in ["301 frames", "you want 600", "Without the interval: an interval of 6.01 s"] {
        assert!(err(&much).contains(words), "{words}: {}", err(&much));
    }
    let parts = temp();
    let file = parts.path().join("plan.toml");
    std::fs::write(&file, "interval = 5\nframes = 100\n[[part]]\nfrom = 50\ninterval = 10\n")
        .expect("a file");
    // Parts are worked out: 50 intervals of 5 s and 49 of 10 s.
    let told = lapseproof(&["plan", file.to_str().expect("a path")]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    assert!(out(&told).contains("12 min 20 s (worked out)"), "{}", out(&told));
}

/// The file that is written is rehearsed and audited by the commands themselves.
#[test]
fn a_written_plan_is_rehearsed_and_passes() {
    let dir = temp();
    let at = |name: &str| dir.path().join(name).to_str().expect("a path").to_owned();
    let (plan, run, report) = (at("plan.toml"), at("run"), at("report"));
    let args = [
        "plan",
        "--frames",
        "40",
        "--fps",
        "25",
        "--shutter",
        "1/4",
        "--busy",
        "0.3s",
        "--step",
        "2mm",
        "--speed",
        "10mm/s",
        "--settle",
        "0.4s",
        "--battery-hours",
        "2",
        "--card",
        "32GB",
        "--frame-size",
        "20MB",
        "--write",
        &plan,
    ];
    let written = lapseproof(&args);
    assert_eq!(code(&written), Some(0), "{}", err(&written));
    assert_eq!(code(&lapseproof(&["rehearse", &plan, "--into", &run, "--digits", "2"])), Some(0));
    let audit = lapseproof(&["audit", &run, "--out", &report]);
    assert_eq!(code(&audit), Some(0), "{}{}", out(&audit), err(&audit));
    assert!(out(&audit).starts_with("CLEAR"), "{}", out(&audit));
}
