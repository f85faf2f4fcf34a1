//! The main job through the binary: a folder and a plan in, a call, four files and an exit code out.

use crate::support::cases::rounds;
use crate::support::run::{OUTPUTS, Report, code, err, lapseproof, out, put, rows, state_of, temp};
use crate::support::shoot::{PLAN, frame, rehearsed, shoot};
use crate::support::skip::{Why, skipped};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

/// A folder with the plan's run in `weir/` and the plan beside the frames.
fn weir(faults: &[&str]) -> tempfile::TempDir {
    let dir = temp();
    rehearsed(&dir.path().join("weir"), faults, 7);
    put(dir.path(), "weir/plan.toml", PLAN);
    dir
}

fn report(dir: &Path) -> Report {
    Report::of(dir.join("reports/weir"))
}

fn exit_with(dir: &Path, more: &[&str]) -> Option<i32> {
    let args: Vec<&str> = ["audit", "weir"].iter().chain(more).copied().collect();
    code(&lapseproof(dir, &args))
}

#[test]
fn the_exit_codes_of_the_contract() {
    // Clear, look and hold under each of the three levels.
    for (faults, call, exits) in [
        (&[][..], "clear", [0, 0, 0]),
        (&["odd=+0.33EV@20"], "look", [0, 1, 0]),
        (&["missing=3@20"], "hold", [1, 1, 0]),
    ] {
        let dir = weir(faults);
        for (level, exit) in ["fault", "caution", "never"].iter().zip(exits) {
            assert_eq!(exit_with(dir.path(), &["--fail-on", level]), Some(exit), "{faults:?} {level}");
        }
        assert_eq!(exit_with(dir.path(), &[]), Some(exits[0]), "the default is fault");
        assert_eq!(report(dir.path()).json()["verdict"]["call"], call, "{faults:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_file_left_unread_is_two_whatever_was_found() {
    use std::os::unix::fs::PermissionsExt;
    let dir = weir(&["missing=3@20"]);
    let file = dir.path().join("weir/frames/WEIR0005.JPG");
    fs::set_permissions(&file, fs::Permissions::from_mode(0o000)).expect("permissions");
    if fs::File::open(&file).is_ok() {
        skipped(Why::Unable, "this user may read every file");
        return;
    }
    let told = lapseproof(dir.path(), &["audit", "weir", "--fail-on", "never"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("incomplete"), "{}", err(&told));
    let json = report(dir.path()).json();
    assert_eq!(
        (&json["complete"], &json["trouble"][0]["path"]),
        (&false.into(), &"frames/WEIR0005.JPG".into())
    );
}

#[test]
fn a_plan_as_flags_is_the_plan_as_a_file() {
    let dir = temp();
    rehearsed(&dir.path().join("weir"), &["lost=2@20"], 7);
    put(dir.path(), "asked.toml", PLAN);
    let by_file = lapseproof(dir.path(), &["audit", "weir", "--plan", "asked.toml", "--out", "file"]);
    let flags = "--name Weir --interval 5s --frames 40 --start 2026-05-09T04:10:00+02:00 --mode locked \
                 --shutter 1/60 --aperture f/8 --iso 200 --fps 10 --length 4s --out flags";
    let args: Vec<&str> = ["audit", "weir"].into_iter().chain(flags.split_whitespace()).collect();
    let by_flags = lapseproof(dir.path(), &args);
    assert_eq!((code(&by_file), code(&by_flags)), (Some(1), Some(1)), "{}", err(&by_flags));
    let (file, flags) = (Report::of(dir.path().join("file")), Report::of(dir.path().join("flags")));
    let (mut a, mut b) = (file.json(), flags.json());
    assert_ne!(a["plan_source"], b["plan_source"]);
    a["plan_source"].take();
    b["plan_source"].take();
    assert_eq!(a, b);
    assert_eq!(file.bytes("frames.csv"), flags.bytes("frames.csv"));
    assert_eq!(file.bytes("findings.csv"), flags.bytes("findings.csv"));
}

#[test]
fn a_flag_wins_over_the_file_and_leaves_the_rest_of_it() {
    let dir = weir(&[]);
    assert_eq!(
        exit_with(
            dir.path(),
            &["--fail-on", "caution", "--frames", "80", "--tolerance", "short-run.frames_caution=2"]
        ),
        Some(1)
    );
    let json = report(dir.path()).json();
    assert_eq!((&json["plan"]["frames"], &json["plan"]["interval_s"]), (&80.into(), &5.0.into()));
    assert!(json["plan_source"].as_str().is_some_and(|s| s.contains("plan.toml") && s.contains("flags")));
    assert_eq!(report(dir.path()).answer("short-run"), "found");
    let judgements = json["judgements"].as_array().expect("a list");
    let short = judgements.iter().find(|j| j["check"] == "short-run").expect("the check");
    let limit =
        short["limits"].as_array().and_then(|l| l.iter().find(|l| l["key"] == "frames")).expect("the limit");
    assert_eq!((&limit["caution"], &limit["from_plan"]), (&2.0.into(), &true.into()));
}

#[test]
fn the_plan_beside_the_frames_is_used_and_said_so() {
    let dir = weir(&[]);
    let told = lapseproof(dir.path(), &["audit", "weir/frames"]);
    assert!(err(&told).contains("plan.toml"), "{}", err(&told));
    assert!(out(&told).contains("plan.toml"), "{}", out(&told));
    assert_eq!(report(dir.path()).json()["plan"]["frames"], 40);
    // Without one, the run is compared with its own cadence, and that is said too.
    fs::remove_file(dir.path().join("weir/plan.toml")).expect("removed");
    let told = lapseproof(dir.path(), &["audit", "weir"]);
    assert!(out(&told).contains("no plan"), "{}", out(&told));
    assert_eq!(report(dir.path()).json()["plan"]["interval_s"], serde_json::Value::Null);
}

#[test]
fn every_mistake_of_a_plan_is_shown_with_its_place() {
    let dir = weir(&[]);
    let plan = "intervall = \"12 s\"\nframes = \"many\"\nstart = \"yesterday\"\n[exposure]\nshutter = \
                \"fast\"\nmode = \"lockd\"\n[tolerance.missing-slots]\ncaution = 1\n";
    put(dir.path(), "bad.toml", plan);
    let told = lapseproof(dir.path(), &["audit", "weir", "--plan", "bad.toml"]);
    assert_eq!(code(&told), Some(2));
    let words = err(&told);
    for place in [
        "bad.toml:1:1: ",
        "bad.toml:2:10: ",
        "bad.toml:3:9: ",
        "bad.toml:5:11: ",
        "bad.toml:6:8: ",
        "bad.toml:7:12: ",
        "meant: interval",
        "meant: \"locked\"",
        "meant: missing-slot",
        "6 mistakes",
    ] {
        assert!(words.contains(place), "{place} in {words}");
    }
    assert!(words.matches("expected: ").count() == 6 && words.matches("^^").count() >= 6, "{words}");
    assert!(out(&told).is_empty() && !dir.path().join("reports").exists());
}

#[test]
fn quiet_is_one_line_and_json_is_the_record() {
    let dir = weir(&["missing=3@20"]);
    let quiet = lapseproof(dir.path(), &["audit", "weir", "--quiet"]);
    assert_eq!((code(&quiet), out(&quiet).lines().count()), (Some(1), 1));
    assert!(out(&quiet).starts_with("HOLD") && err(&quiet).is_empty(), "{}{}", out(&quiet), err(&quiet));
    for more in [&["--format", "json"][..], &["--format", "json", "--quiet"]] {
        let args: Vec<&str> = ["audit", "weir"].iter().chain(more).copied().collect();
        let json = lapseproof(dir.path(), &args);
        assert_eq!(code(&json), Some(1));
        assert_eq!(json.stdout, report(dir.path()).bytes("audit.json"));
        let read: serde_json::Value = serde_json::from_slice(&json.stdout).expect("it is JSON");
        assert_eq!(read["verdict"]["call"], "hold");
    }
}

#[test]
fn an_audit_changes_nothing_among_the_frames() {
    let dir = weir(&["missing=3@20", "damaged=empty@5"]);
    let frames = dir.path().join("weir");
    let before = state_of(&frames);
    assert!(before.len() > 36);
    assert_eq!(exit_with(dir.path(), &["--jobs", "4"]), Some(1));
    assert!(before == state_of(&frames), "contents and times are as they were");
}

#[test]
fn outputs_never_land_on_the_card() {
    let dir = temp();
    shoot(&dir.path().join("card/DCIM/100WEIR"), "WEIR", 1, (0, 20), 5.0);
    put(dir.path(), "card/DCIM/100WEIR/plan.toml", "interval = 5");
    let before = state_of(dir.path());
    for (frames, place) in [
        ("card/DCIM/100WEIR", "card/DCIM/100WEIR"),
        ("card/DCIM/100WEIR", "card/DCIM/100WEIR/out"),
        ("card/DCIM/100WEIR", "card/DCIM/other"),
        ("card/DCIM/100WEIR", "card/reports"),
        ("card/DCIM", "card"),
        ("card", "card/x/../y"),
        ("card/DCIM/100WEIR/WEIR0001.JPG", "card/DCIM/100WEIR/out"),
    ] {
        let told = lapseproof(dir.path(), &["audit", frames, "--out", place]);
        assert_eq!(code(&told), Some(2), "{frames} to {place}");
        assert!(err(&told).contains("--out") && out(&told).is_empty(), "{}", err(&told));
        assert!(before == state_of(dir.path()), "{frames} to {place}: something was written");
    }
}

#[test]
fn an_empty_folder_is_two_with_a_remedy() {
    let dir = temp();
    fs::create_dir_all(dir.path().join("weir/DCIM/100WEIR")).expect("made");
    let told = lapseproof(dir.path(), &["audit", "weir"]);
    assert_eq!(code(&told), Some(2));
    assert!(
        err(&told).contains("no frame was found") && err(&told).contains("Name the folder"),
        "{}",
        err(&told)
    );
    assert!(out(&told).is_empty() && !dir.path().join("reports").exists());
}

/// Whole-second stamps of a 1.04 s timer show a gap of 2 s at every 25th frame: nothing is missing.
#[test]
fn a_steady_run_slower_than_its_stamps_is_clear() {
    for plan in [Some("interval = \"1.04 s\"\nframes = 300\n"), None] {
        let dir = temp();
        shoot(&dir.path().join("weir"), "WEIR", 1, (0, 300), 1.04);
        if let Some(plan) = plan {
            put(dir.path(), "weir/plan.toml", plan);
        }
        assert_eq!(exit_with(dir.path(), &[]), Some(0));
        let report = report(dir.path());
        let gaps = report.rows("frames.csv").iter().filter(|r| r["interval_s"] == "2.000").count();
        assert!((10..=12).contains(&gaps), "{gaps} gaps of two seconds");
        let json = report.json();
        assert_eq!(json["verdict"]["call"], "clear", "{}", json["findings"]);
        assert_eq!((&json["counts"]["slots"], &json["counts"]["missing"]), (&300.into(), &0.into()));
    }
}

/// One seed of each; `.ci/rounds tests` takes more.
#[test]
fn test_shots_make_no_hold() {
    for seed in 1..=rounds(1) {
        for (head, tail) in [(1, 0), (3, 2), (5, 0), (0, 4)] {
            let dir = temp();
            let fault = format!("tests={head}:{tail}");
            let truth = rehearsed(&dir.path().join("weir"), &[&fault], seed);
            let place = format!("{fault}, seed {seed}");
            // By the plan, exactly they are not of the run.
            put(dir.path(), "weir/plan.toml", PLAN);
            assert_eq!(exit_with(dir.path(), &["--fail-on", "caution"]), Some(0), "{place}");
            let counts = report(dir.path()).json()["counts"].clone();
            assert_eq!(counts["frames"], 40, "{place}");
            assert_eq!(counts["outside"], truth.outside, "{place}");
            assert_eq!((&counts["missing"], &counts["surplus"]), (&0.into(), &0.into()), "{place}");
            // Without one, shots may keep a pace by chance (whole-second stamps leave it a second in five): a
            // caution at most.
            fs::remove_file(dir.path().join("weir/plan.toml")).expect("removed");
            assert_eq!(exit_with(dir.path(), &[]), Some(0), "{place}, no plan");
            let counts = report(dir.path()).json()["counts"].clone();
            assert!(counts["frames"].as_u64().is_some_and(|n| (40..=43).contains(&n)), "{place}: {counts}");
            assert_eq!((&counts["missing"], &counts["surplus"]), (&0.into(), &0.into()), "{place}, no plan");
        }
    }
}

/// A reader that goes away before the end is no failure, and the files are written all the same.
#[cfg(unix)]
#[test]
fn a_closed_pipe_is_no_panic() {
    let dir = weir(&["missing=3@20"]);
    for more in [&["--format", "json"][..], &[], &["--quiet"]] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_lapseproof"))
            .args(["audit", "weir"])
            .args(more)
            .current_dir(dir.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        drop(child.stdout.take());
        let told = child.wait_with_output().expect("it ends");
        assert_eq!(code(&told), Some(1), "{}", err(&told));
        assert!(!err(&told).contains("panic") && !err(&told).contains("Broken pipe"), "{}", err(&told));
    }
    for name in OUTPUTS {
        assert!(!report(dir.path()).bytes(name).is_empty());
    }
}

/// What was there before stays whole until the new report is.
#[test]
fn a_second_audit_replaces_the_first_whole() {
    let dir = weir(&["missing=3@20"]);
    assert_eq!(exit_with(dir.path(), &[]), Some(1));
    let first = report(dir.path()).all();
    put(dir.path(), "weir/frames/WEIR0041.JPG", frame(200.3));
    assert_eq!(exit_with(dir.path(), &["--plan", "gone.toml"]), Some(2));
    assert_eq!(report(dir.path()).all(), first, "a run that could not start leaves the earlier report");
    exit_with(dir.path(), &[]);
    assert_ne!(report(dir.path()).bytes("frames.csv"), first[0]);
    assert!(rows(&report(dir.path()).bytes("frames.csv")).len() > 40);
    // The list of what belongs together lies beside them.
    assert_eq!(fs::read_dir(dir.path().join("reports/weir")).expect("there").count(), OUTPUTS.len() + 1);
}

/// A rehearsal carries its plan, so that an audit of it needs no more words.
#[test]
fn a_rehearsal_is_audited_against_its_own_plan() {
    let dir = temp();
    put(dir.path(), "weir.toml", PLAN);
    let made =
        lapseproof(dir.path(), &["rehearse", "weir.toml", "--into", "trial", "--with", "missing=3@20"]);
    assert_eq!(code(&made), Some(0), "{}", err(&made));
    let audited = lapseproof(dir.path(), &["audit", "trial"]);
    assert_eq!(code(&audited), Some(1), "{}", err(&audited));
    assert!(out(&audited).contains("compared with plan.toml"), "{}", out(&audited));
}
