//! `progress` as it is typed: what it says of a run that goes on, that stopped and that is whole, and what it
//! says while frames arrive.

use crate::support::run::{code, err, lapseproof, out};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

const PLAN: &str = r#"name = "Weir"
interval = "0.5 s"
frames = 40
start = 2026-05-09T04:10:00

[exposure]
mode = "locked"
shutter = "1/60"
aperture = 8
iso = 200

[delivery]
fps = 25
length = "1 s"
"#;

/// A folder with a plan, and beside it the frames that are to come, in order.
fn weir() -> (tempfile::TempDir, Vec<PathBuf>) {
    let dir = tempfile::tempdir().expect("a folder");
    fs::write(dir.path().join("plan.toml"), PLAN).expect("written");
    let made = lapseproof(dir.path(), &["rehearse", "plan.toml", "--into", "made", "--digits", "2"]);
    assert_eq!(code(&made), Some(0), "{}", err(&made));
    let mut frames: Vec<PathBuf> = fs::read_dir(dir.path().join("made/frames"))
        .expect("frames")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "JPG"))
        .collect();
    frames.sort();
    assert_eq!(frames.len(), 40);
    fs::create_dir(dir.path().join("card")).expect("a folder");
    (dir, frames)
}

fn arrive(dir: &Path, frames: &[PathBuf]) {
    for frame in frames {
        fs::copy(frame, dir.join("card").join(frame.file_name().expect("a name"))).expect("copied");
    }
}

fn progress(dir: &Path, more: &[&str]) -> (Option<i32>, String) {
    let told = lapseproof(dir, &[&["progress", "card", "--plan", "plan.toml"], more].concat());
    (code(&told), out(&told))
}

#[test]
fn a_run_is_on_course_stopped_or_complete() {
    let (dir, frames) = weir();
    arrive(dir.path(), &frames[..20]);
    // The twentieth frame was due 9.5 s after the first.
    let (code, told) = progress(dir.path(), &["--now", "2026-05-09T04:10:10"]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.starts_with("ON COURSE: 20 of 40 frames. The run ends about 04:10:"), "{told}");
    assert!(told.contains("20 frames in one piece so far (0.8 s), 25 ordered; 40 at most"), "{told}");
    let (code, told) = progress(dir.path(), &["--now", "2026-05-09T04:10:40"]);
    assert_eq!(code, Some(1), "{told}");
    assert!(told.starts_with("STOPPED: no frame since 04:10:10, after 20 of 40 frames."), "{told}");
    assert!(told.contains("Now: look at the camera"), "{told}");
    arrive(dir.path(), &frames[20..]);
    let (code, told) = progress(dir.path(), &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.starts_with("COMPLETE: 40 of 40 frames."), "{told}");
}

/// An audit of the same frames is a hold: there the end is over.
#[test]
fn an_end_that_has_not_come_is_no_fault() {
    let (dir, frames) = weir();
    arrive(dir.path(), &frames[..20]);
    let audit = lapseproof(dir.path(), &["audit", "card", "--plan", "plan.toml", "--quiet"]);
    assert!(out(&audit).starts_with("HOLD"), "{}", out(&audit));
    let (_, told) = progress(dir.path(), &["--now", "2026-05-09T04:10:10"]);
    assert!(told.contains("So far    nothing is wrong."), "{told}");
}

#[test]
fn what_runs_out_first_is_said_first() {
    let (dir, frames) = weir();
    arrive(dir.path(), &frames[..20]);
    let bytes: u64 = frames.iter().map(|f| fs::metadata(f).expect("a file").len()).sum::<u64>() / 40;
    // Room for thirty of them on what can be filled of the card.
    let size = format!("{:.6} MB", 30.5 * bytes as f64 / 0.97 / 1e6);
    let (code, told) = progress(dir.path(), &["--now", "2026-05-09T04:10:10", "--card", &size]);
    assert_eq!(code, Some(1), "{told}");
    assert!(told.starts_with("OFF COURSE: CARD FULL at frame 30, 04:10:15, 10 frames before the"), "{told}");
    let json = lapseproof(
        dir.path(),
        &["progress", "card", "--plan", "plan.toml", "--now", "2026-05-09T04:10:10", "--card", &size]
            .iter()
            .chain(&["--format", "json"])
            .copied()
            .collect::<Vec<_>>(),
    );
    let record: serde_json::Value = serde_json::from_str(&out(&json)).expect("JSON");
    let run = &record["runs"][0];
    assert_eq!((record["schema"].as_u64(), record["on_course"].as_bool()), (Some(1), Some(false)));
    assert_eq!((run["slots"].as_u64(), run["slots_asked"].as_u64()), (Some(20), Some(40)));
    assert_eq!(
        (run["supplies"][0]["what"].as_str(), run["supplies"][0]["slot"].as_u64()),
        (Some("card"), Some(30))
    );
    // The fortieth is due 19.5 s after the first, which came in the first half second.
    let end = run["end"]["at"].as_str().expect("a planned end");
    assert!(["2026-05-09T04:10:19", "2026-05-09T04:10:20"].contains(&end), "{end}");
}

#[test]
fn an_empty_folder_and_a_time_that_is_none_are_refused() {
    let (dir, _) = weir();
    let (code, _) = progress(dir.path(), &[]);
    assert_eq!(code, Some(2));
    let told = lapseproof(dir.path(), &["progress", "card", "--now", "soon"]);
    assert!(err(&told).contains("2026-05-09T04:10:00"), "{}", err(&told));
}

/// Frames of this morning's run stand on the card with those of yesterday's.
#[test]
fn an_earlier_run_on_the_card_is_left_out() {
    let (dir, frames) = weir();
    let plan = PLAN.replace("2026-05-09", "2026-05-08");
    fs::write(dir.path().join("earlier.toml"), plan).expect("written");
    let made = lapseproof(
        dir.path(),
        &["rehearse", "earlier.toml", "--into", "earlier", "--digits", "2", "--prefix", "MILL"],
    );
    assert_eq!(code(&made), Some(0), "{}", err(&made));
    for entry in fs::read_dir(dir.path().join("earlier/frames")).expect("frames") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|e| e == "JPG") {
            arrive(dir.path(), &[path]);
        }
    }
    arrive(dir.path(), &frames[..20]);
    let told =
        lapseproof(dir.path(), &["progress", "card", "--plan", "plan.toml", "--now", "2026-05-09T04:10:10"]);
    assert!(out(&told).starts_with("ON COURSE: 20 of 40 frames."), "{}", out(&told));
    assert!(err(&told).contains("Left out: 40 frames of an earlier run."), "{}", err(&told));
}

/// The line changes as frames arrive; a run that nobody feeds has stopped; the end ends the watch.
#[test]
fn a_watch_follows_the_run_to_its_end() {
    let (dir, frames) = weir();
    let mut watch = Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(["progress", "card", "--plan", "plan.toml", "--watch", "--every", "0.1"])
        .current_dir(dir.path())
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    let mut lines = BufReader::new(watch.stdout.take().expect("its output")).lines();
    let mut until = |begins: &str| {
        let line = lines.by_ref().map(|line| line.expect("a line")).find(|line| line.starts_with(begins));
        line.unwrap_or_else(|| panic!("{begins} was not said"))
    };
    until("Waiting for the first frame");
    arrive(dir.path(), &frames[..10]);
    until("ON COURSE: 10 of 40 frames.");
    arrive(dir.path(), &frames[10..11]);
    until("ON COURSE: 11 of 40 frames.");
    until("STOPPED: no frame since 04:10:0");
    // One that arrives in two pieces.
    let name = dir.path().join("card").join(frames[11].file_name().expect("a name"));
    let whole = fs::read(&frames[11]).expect("a frame");
    fs::write(&name, &whole[..whole.len() / 3]).expect("written");
    std::thread::sleep(Duration::from_millis(300));
    fs::write(&name, &whole).expect("written");
    arrive(dir.path(), &frames[12..39]);
    until("ON COURSE: 39 of 40 frames.");
    arrive(dir.path(), &frames[39..]);
    until("COMPLETE: 40 of 40 frames.");
    until("So far    nothing is wrong.");
    assert_eq!(watch.wait().expect("it ends").code(), Some(0));
}
