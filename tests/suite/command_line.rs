//! The command line as a user meets it: what it prints where, and its exit codes.

use crate::support::run::hold_each_line;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

fn lapseproof(dir: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(args)
        .current_dir(dir)
        .stdin(Stdio::null())
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR_FORCE")
        .output()
        .expect("the binary runs")
}

fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder for the test")
}

#[test]
fn help_goes_to_stdout_and_is_no_failure() {
    let dir = folder();
    for args in [
        &["--help"][..],
        &["audit", "--help"],
        &["survey", "--help"],
        &["rehearse", "--help"],
        &["explain", "--help"],
        &["-V"],
    ] {
        let told = lapseproof(dir.path(), args);
        assert_eq!(code(&told), Some(0), "{args:?}");
        assert!(!out(&told).is_empty() && err(&told).is_empty(), "{args:?}");
    }
    let audit = out(&lapseproof(dir.path(), &["audit", "--help"]));
    for flag in [
        "--plan",
        "--interval",
        "--frames",
        "--run",
        "--out",
        "--format",
        "--pictures",
        "--fail-on",
        "--jobs",
        "--quiet",
        "--verbose",
        "--shutter",
        "--settle",
        "--fps",
        "--tolerance",
    ] {
        assert!(audit.contains(flag), "{flag}");
    }
}

#[test]
fn bad_arguments_are_a_failure_told_on_stderr() {
    let dir = folder();
    for args in [
        &["audit"][..],
        &["adit", "x"],
        &["audit", "x", "--intervall", "12s"],
        &["audit", "x", "--interval", "soon"],
        &["audit", "x", "--jobs", "0"],
        &["audit", "x", "--jobs", "100000"],
        &["survey"],
        &["survey", "x", "--plan", "y"],
        &["audit", "x", "--format", "yaml"],
        &["audit", "x", "--quiet", "--verbose"],
        &["rehearse", "plan.toml"],
        &["explain", "--no-such-flag"],
    ] {
        let told = lapseproof(dir.path(), args);
        assert_eq!(code(&told), Some(2), "{args:?}: {}", err(&told));
        assert!(out(&told).is_empty() && !err(&told).is_empty(), "{args:?}");
    }
    assert_eq!(code(&lapseproof(dir.path(), &[])), Some(2));
}

#[test]
fn explain_lists_the_checks_and_tells_one() {
    let dir = folder();
    let list = lapseproof(dir.path(), &["explain"]);
    assert_eq!(code(&list), Some(0));
    for check in lapseproof::checks::CHECKS {
        assert!(out(&list).contains(check.text.id), "{}", check.text.id);
        let one = lapseproof(dir.path(), &["explain", check.text.id]);
        assert_eq!(code(&one), Some(0));
        assert!(out(&one).starts_with(check.text.id));
        assert!(out(&one).contains("What it cannot see"));
        assert!(!out(&one).contains('\u{1b}'), "no colours in a pipe");
    }
    let unknown = lapseproof(dir.path(), &["explain", "no-such-check"]);
    assert_eq!(code(&unknown), Some(2));
    assert!(err(&unknown).contains("no-such-check"), "{}", err(&unknown));
}

#[test]
fn explain_prints_the_schema() {
    let dir = folder();
    let told = lapseproof(dir.path(), &["explain", "--schema"]);
    assert_eq!(code(&told), Some(0));
    let schema: serde_json::Value = serde_json::from_str(&out(&told)).expect("it is JSON");
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    for key in ["schema", "verdict", "counts", "cadence", "stretches", "findings"] {
        assert!(schema["properties"][key].is_object(), "{key}");
    }
}

#[test]
fn frames_that_are_not_there_are_named() {
    let dir = folder();
    let told = lapseproof(dir.path(), &["audit", "nowhere"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("nowhere"), "{}", err(&told));
}

/// What is easily mistyped is answered with what was meant.
#[test]
fn near_misses_are_told_the_way() {
    let dir = folder();
    fs::create_dir(dir.path().join("weir")).expect("made");
    fs::write(dir.path().join("weir/plan.toml"), "interval = 12").expect("written");
    for (args, words) in [
        (&["weir"][..], "Name the folder that holds the frames"),
        (&["audit", "weir/plan.toml"], "--plan"),
        (&["audit", "weir", "--plan", "weir"], "it is a folder"),
        (&["audit", "weir/none.jpg"], "it is not there"),
        (&["audit", "weir"], "Name the folder that holds the frames"),
    ] {
        let told = lapseproof(dir.path(), args);
        assert_eq!(code(&told), Some(2), "{args:?}");
        assert!(err(&told).contains(words), "{args:?}: {}", err(&told));
        assert!(!err(&told).contains("os error"), "{args:?}: {}", err(&told));
    }
    // Short forms of what is asked for most.
    fs::write(dir.path().join("weir/WEIR0001.JPG"), [0xFF, 0xD8, 0xFF, 0xD9]).expect("written");
    let told =
        lapseproof(dir.path(), &["audit", "weir", "-q", "-j", "2", "-o", "out", "-p", "weir/plan.toml"]);
    assert!(code(&told).is_some() && out(&told).lines().count() == 1, "{}", err(&told));
    assert!(dir.path().join("out/audit.json").exists());
}

#[test]
fn a_folder_without_frames_is_a_failure_with_a_remedy_and_leaves_nothing() {
    let dir = folder();
    fs::create_dir(dir.path().join("weir")).expect("made");
    fs::write(dir.path().join("weir/notes.txt"), "no picture").expect("written");
    let told = lapseproof(dir.path(), &["audit", "weir"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("no frame") && err(&told).contains("Name the folder"), "{}", err(&told));
    assert!(!dir.path().join("reports").exists());
}

#[test]
fn outputs_on_the_card_are_refused_before_anything_is_read() {
    let dir = folder();
    let frames = dir.path().join("card/DCIM/100WEIR");
    fs::create_dir_all(&frames).expect("made");
    fs::write(frames.join("WEIR0001.JPG"), [0xFF, 0xD8, 0xFF, 0xD9]).expect("written");
    for place in ["card/DCIM/100WEIR/out", "card/reports"] {
        let told = lapseproof(dir.path(), &["audit", "card/DCIM", "--out", place]);
        assert_eq!(code(&told), Some(2), "{place}");
        assert!(err(&told).contains("--out"), "{}", err(&told));
        assert!(!dir.path().join(place).exists(), "{place}");
    }
    // The default place is no better where the current folder is the card.
    let told = lapseproof(&dir.path().join("card"), &["audit", "DCIM"]);
    assert_eq!(code(&told), Some(2));
    assert!(!dir.path().join("card/reports").exists());
}

#[test]
fn every_mistake_of_a_plan_is_told_at_once() {
    let dir = folder();
    fs::create_dir(dir.path().join("weir")).expect("made");
    fs::write(dir.path().join("weir/WEIR0001.JPG"), [0xFF, 0xD8, 0xFF, 0xD9]).expect("written");
    fs::write(dir.path().join("weir/plan.toml"), "intervall = 12\nframes = \"many\"\n").expect("written");
    let told = lapseproof(dir.path(), &["audit", "weir"]);
    assert_eq!(code(&told), Some(2));
    let words = err(&told);
    assert!(words.contains("intervall") && words.contains("many") && words.contains("plan.toml"), "{words}");
    assert!(out(&told).is_empty());
    assert!(!dir.path().join("reports").exists());
}

#[test]
fn a_plan_that_is_not_there_is_named() {
    let dir = folder();
    fs::write(dir.path().join("WEIR0001.JPG"), [0xFF, 0xD8, 0xFF, 0xD9]).expect("written");
    let told = lapseproof(dir.path(), &["audit", "WEIR0001.JPG", "--plan", "gone.toml"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("gone.toml"), "{}", err(&told));
}

/// A rehearsed run, audited: every output is there and says the same.
#[test]
fn a_rehearsal_is_audited_from_end_to_end() {
    let dir = folder();
    let at = dir.path();
    fs::write(
        at.join("plan.toml"),
        "name = \"Weir\"\ninterval = \"12 s\"\nframes = 20\nstart = 2026-05-09T04:10:00+02:00\n\
         [exposure]\nmode = \"locked\"\nshutter = \"1/60\"\naperture = 8\niso = 200\n[delivery]\nfps = 25\n",
    )
    .expect("written");
    let made = lapseproof(
        at,
        &["rehearse", "plan.toml", "--into", "weir", "--with", "missing=2@10", "--digits", "2"],
    );
    assert_eq!(code(&made), Some(0), "{}", err(&made));
    fs::copy(at.join("plan.toml"), at.join("weir/plan.toml")).expect("copied");
    let told = lapseproof(at, &["audit", "weir", "--verbose"]);
    assert!(matches!(code(&told), Some(0 | 1)), "{}", err(&told));
    assert!(err(&told).contains("plan.toml"), "the plan that was found is said: {}", err(&told));
    let report = at.join("reports/weir");
    let read = |name: &str| fs::read_to_string(report.join(name)).expect("written");
    hold_each_line(&read("summary.txt"), &out(&told));
    let first_line = |words: String| words.lines().next().unwrap_or_default().to_owned();
    assert!(!first_line(out(&told)).contains("timing and settings only"), "the thumbnails were read");
    let blind = lapseproof(at, &["audit", "weir", "--pictures", "none", "--out", "blind"]);
    assert!(first_line(out(&blind)).contains("timing and settings only"));
    let json: serde_json::Value = serde_json::from_str(&read("audit.json")).expect("it is JSON");
    assert_eq!(json["name"], "Weir");
    assert_eq!(json["plan"]["interval_s"], 12.0);
    assert_eq!(json["counts"]["frames"], 18);
    assert_eq!(read("frames.csv").lines().filter(|l| l.contains(",frame,")).count(), 18);
    assert!(read("findings.csv").starts_with("check,severity,message,"));

    // The same again on one thread: the same bytes.
    let before: Vec<_> = ["frames.csv", "findings.csv", "summary.txt", "audit.json"].map(read).into();
    let again = lapseproof(at, &["audit", "weir", "--jobs", "1"]);
    assert_eq!(code(&again), code(&told));
    assert_eq!(before, ["frames.csv", "findings.csv", "summary.txt", "audit.json"].map(read));

    let json_out = lapseproof(at, &["audit", "weir", "--format", "json"]);
    assert_eq!(out(&json_out), read("audit.json"));
    let quiet = lapseproof(at, &["audit", "weir", "--quiet", "--fail-on", "never"]);
    assert_eq!(out(&quiet).lines().count(), 1);
    assert_eq!(code(&quiet), Some(0));
    assert!(err(&quiet).is_empty(), "{}", err(&quiet));
    let names = fs::read_dir(&report).expect("there").map(|e| e.expect("an entry").file_name());
    assert!(
        names.into_iter().all(|n| !n.to_string_lossy().ends_with(".partial")),
        "nothing half written is left"
    );
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let dir = folder();
    let mut child = Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(["explain", "--schema"])
        .current_dir(dir.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    drop(child.stdout.take());
    let told = child.wait_with_output().expect("it ends");
    assert_eq!(code(&told), Some(0));
    assert!(err(&told).is_empty(), "{}", err(&told));
}

/// A folder in place of a command is audited, and its report goes to the user's documents.
#[test]
fn a_folder_alone_is_audited() {
    let dir = folder();
    let frames = dir.path().join("weir");
    fs::create_dir_all(&frames).expect("a folder");
    fs::create_dir_all(dir.path().join("Documents")).expect("a folder");
    fs::write(frames.join("TIDE0001.JPG"), b"\xFF\xD8\xFF").expect("written");
    let run = |args: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_lapseproof"))
            .args(args)
            .current_dir(dir.path())
            .stdin(Stdio::null())
            .env("HOME", dir.path())
            .env("USERPROFILE", dir.path())
            .env_remove("XDG_DOCUMENTS_DIR")
            .output()
            .expect("the binary runs")
    };
    let alone = run(&["weir"]);
    assert!(dir.path().join("Documents/lapseproof/weir/report.html").is_file(), "{}", err(&alone));
    let with_flags = run(&["weir", "--quiet"]);
    assert!(dir.path().join("reports/weir/report.html").is_file(), "{}", err(&with_flags));
    assert!(!out(&with_flags).is_empty());
    assert_eq!(code(&run(&["nothing-of-that-name"])), Some(2));
}

/// The page goes to whatever the system opens pages with, which may write where the audit may not.
#[cfg(target_os = "linux")]
#[test]
fn the_report_is_opened() {
    use std::os::unix::fs::PermissionsExt as _;
    let dir = folder();
    let bin = dir.path().join("bin");
    fs::create_dir_all(&bin).expect("a folder");
    fs::create_dir_all(dir.path().join("weir")).expect("a folder");
    fs::write(dir.path().join("weir/TIDE0001.JPG"), b"\xFF\xD8\xFF").expect("written");
    let told = dir.path().join("told");
    let opener = bin.join("xdg-open");
    fs::write(&opener, format!("#!/bin/sh\necho \"$1\" > '{}'\n", told.display())).expect("written");
    fs::set_permissions(&opener, fs::Permissions::from_mode(0o755)).expect("a mode");
    let path = format!("{}:{}", bin.display(), std::env::var("PATH").unwrap_or_default());
    let audit = Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(["audit", "weir", "--open"])
        .current_dir(dir.path())
        .stdin(Stdio::null())
        .env("PATH", path)
        .output()
        .expect("the binary runs");
    let page = (0..100).find_map(|_| {
        std::thread::sleep(std::time::Duration::from_millis(20));
        fs::read_to_string(&told).ok().filter(|text| text.ends_with('\n'))
    });
    let page = page.unwrap_or_else(|| panic!("nothing was opened: {}", err(&audit)));
    assert!(page.trim_end().ends_with("reports/weir/report.html"), "{page}");
    assert!(page.starts_with('/'), "{page}");
}
