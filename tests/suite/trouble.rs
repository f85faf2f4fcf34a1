//! Trouble on the way: a card pulled out, a file that vanishes or shrinks, Ctrl-C, what would hang. What was
//! read is audited, the reports are written and marked incomplete, and what was not read is listed.

#![cfg(unix)]

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::support::bombs;
use crate::support::run::{LIST, Report, code, err, lapseproof, out, put, temp};
use crate::support::shoot::{frame, shoot};
use crate::support::skip::{Why, skipped};
use lapseproof::card::walk;
use lapseproof::frames::{Damage, Pictures, read_all, read_until};

/// Enough files that their reading, one at a time, takes a while; links to a few frames.
fn many(folder: &Path, files: u32) {
    let store = folder.parent().expect("a folder above").join("store");
    put(&store, "A", frame(0.3));
    fs::create_dir_all(folder).expect("made");
    for n in 1..=files {
        fs::hard_link(store.join("A"), folder.join(format!("WEIR{n:04}.JPG"))).expect("a link");
    }
}

/// Starts an audit or a survey of `weir` and waits until its reading begins.
fn started(dir: &Path, command: &str) -> (Child, BufReader<std::process::ChildStderr>) {
    started_with(dir, &[command, "weir", "--out", "out", "--jobs", "1", "--verbose"])
}

fn started_with(dir: &Path, args: &[&str]) -> (Child, BufReader<std::process::ChildStderr>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(args)
        .current_dir(dir)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut told = BufReader::new(child.stderr.take().expect("piped"));
    // The last line before the first frame says whether the kernel holds the process to writing nowhere else.
    let mut line = String::new();
    while !line.contains("right to write") && !line.contains("can write") {
        line.clear();
        if told.read_line(&mut line).expect("readable") == 0 {
            break;
        }
    }
    // A few files are read, thousands are not yet.
    std::thread::sleep(Duration::from_millis(10));
    (child, told)
}

/// A page as one line: where it is wrapped hangs on how many files were read.
fn unwrapped(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn interrupt(child: &Child) {
    let sent = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
    assert!(sent.is_ok_and(|s| s.success()));
}

/// A whole number of places are listed as unread, and each file is there once: as a frame that was read or as
/// one that was not.
fn incomplete(dir: &Path, files: usize) -> (usize, String) {
    let report = Report::of(dir.join("out"));
    let json = report.json();
    assert_eq!(json["complete"], false);
    let unread = json["trouble"].as_array().expect("a list").len();
    assert!(unread > 0 && unread < files, "{unread} of {files}");
    assert_eq!(report.rows("frames.csv").iter().filter(|r| !r["file"].is_empty()).count(), files);
    let summary = report.text("summary.txt");
    assert!(summary.lines().next().is_some_and(|l| l.ends_with("INCOMPLETE")), "{summary}");
    assert_ne!(json["verdict"]["call"], "clear");
    (unread, summary)
}

#[test]
fn the_first_interruption_reports_what_was_read() {
    let dir = temp();
    many(&dir.path().join("weir"), 9000);
    let (mut child, _told) = started(dir.path(), "audit");
    interrupt(&child);
    let ended = child.wait().expect("it ends");
    assert_eq!(ended.code(), Some(2), "{ended:?}");
    let (unread, summary) = incomplete(dir.path(), 9000);
    assert!(unwrapped(&summary).contains("not read: the reading was stopped"), "{summary}");
    let damaged: u64 = Report::of(dir.path().join("out"))
        .findings("damaged-frame")
        .iter()
        .filter_map(|f| f["count"].as_u64())
        .sum();
    assert_eq!(damaged, 0, "{unread} files that were not tried are not called damaged");
}

/// What a client was given is not replaced by a part of it.
#[test]
fn an_interruption_leaves_the_earlier_delivery_whole() {
    let dir = temp();
    many(&dir.path().join("weir"), 9000);
    let args = ["audit", "weir", "--out", "out", "--jobs", "1", "--verbose", "--deliver"];
    let told = lapseproof(dir.path(), &[&args[..], &["--fail-on", "never"]].concat());
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    let client = ["manifest-sha256.txt", "patch.csv", "delivery.html"];
    let before = client.map(|name| Report::of(dir.path().join("out")).bytes(name));
    let (mut child, mut told) = started_with(dir.path(), &args);
    interrupt(&child);
    assert_eq!(child.wait().expect("it ends").code(), Some(2));
    assert!(client.map(|name| Report::of(dir.path().join("out")).bytes(name)) == before);
    let mut words = String::new();
    told.read_to_string(&mut words).expect("text");
    assert!(words.contains("nothing was written for the client"), "{words}");
    assert!(words.contains("of an earlier run, and no part of this one: delivery.html"), "{words}");
    let list = Report::of(dir.path().join("out")).text(LIST);
    assert_eq!(list.lines().filter(|l| l.starts_with("# ") && l.contains("  ")).count(), 4, "{list}");
}

/// The disk is full when the report is written: the call is printed all the same, and an earlier report stays
/// as it was.
#[test]
fn a_report_that_cannot_be_written_leaves_the_call() {
    let dir = temp();
    shoot(&dir.path().join("weir"), "WEIR", 1, (0, 30), 5.0);
    let told = lapseproof(dir.path(), &["audit", "weir", "--out", "out"]);
    let before = Report::of(dir.path().join("out")).all();
    // No file may grow beyond one block (ulimit, POSIX), and a write that would is refused.
    let limited = format!(
        "trap '' XFSZ; ulimit -f 1; exec '{}' audit weir --out out --interval 7",
        env!("CARGO_BIN_EXE_lapseproof")
    );
    let failed = Command::new("sh").args(["-c", &limited]).current_dir(dir.path()).output().expect("a shell");
    assert_eq!(code(&failed), Some(2), "{}", err(&failed));
    assert!(out(&failed).lines().count() > 3 && out(&failed) != out(&told), "{}", out(&failed));
    assert!(err(&failed).contains("cannot be written"), "{}", err(&failed));
    assert!(Report::of(dir.path().join("out")).all() == before);
}

/// A survey tells what was read by then, in its index and in the report of the sequence.
#[test]
fn a_survey_that_is_stopped_is_incomplete() {
    let dir = temp();
    many(&dir.path().join("weir"), 9000);
    let (mut child, _told) = started(dir.path(), "survey");
    interrupt(&child);
    assert_eq!(child.wait().expect("it ends").code(), Some(2));
    let index = fs::read(dir.path().join("out/index.json")).expect("written");
    let index: serde_json::Value = serde_json::from_slice(&index).expect("it is JSON");
    assert_eq!(index["complete"], false);
    let unread = index["trouble"].as_array().expect("a list").len();
    assert!(unread > 0 && unread < 9000, "{unread}");
    let told = fs::read_to_string(dir.path().join("out/index.txt")).expect("written");
    assert!(told.lines().next().is_some_and(|l| l.ends_with("INCOMPLETE")), "{told}");
    assert!(unwrapped(&told).contains("not read: the reading was stopped"), "{told}");
}

#[test]
fn the_second_interruption_ends_the_program() {
    let dir = temp();
    many(&dir.path().join("weir"), 9000);
    let (mut child, _told) = started(dir.path(), "audit");
    interrupt(&child);
    std::thread::sleep(Duration::from_millis(15));
    interrupt(&child);
    let ended = child.wait().expect("it ends");
    assert_eq!((ended.signal(), ended.code()), (Some(2), None), "killed by the signal itself");
}

/// A card that takes its time to be reckoned: a hand at the release, at no pace.
fn uneven(folder: &Path, frames: u32) {
    let mut at = 0.0;
    for n in 1..=frames {
        at += 2.0 + f64::from(n * 7919 % 97) / 11.0;
        put(folder, format!("WEIR{n:04}.JPG"), frame(at));
    }
}

/// Starts a command and waits for its line on what the reading took: what comes then is reckoning.
fn reckoning(dir: &Path, command: &str) -> (Child, BufReader<std::process::ChildStderr>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args([command, "weir", "--out", "out", "--verbose"])
        .current_dir(dir)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary runs");
    let mut told = BufReader::new(child.stderr.take().expect("piped"));
    let mut line = String::new();
    while !line.contains("Read for a frame") {
        line.clear();
        assert!(told.read_line(&mut line).expect("readable") > 0, "it says what the reading took");
    }
    (child, told)
}

/// Between the reading and the outputs an interruption is heard within a second, and what stood there stands
/// there still.
#[test]
fn an_interruption_is_heard_while_a_card_is_reckoned() {
    let dir = temp();
    uneven(&dir.path().join("weir"), 4000);
    for command in ["audit", "survey"] {
        let (mut child, _told) = reckoning(dir.path(), command);
        let began = std::time::Instant::now();
        child.wait().expect("it ends");
        let whole = began.elapsed();
        if whole < Duration::from_millis(400) {
            skipped(Why::Unable, format!("{command} reckons for {whole:?} only"));
            continue;
        }
        let files = || -> Vec<_> {
            let all = crate::support::run::state_of(&dir.path().join("out"));
            all.into_iter().map(|(path, bytes, _)| (path, bytes)).collect()
        };
        let before = files();
        let (mut child, mut told) = reckoning(dir.path(), command);
        std::thread::sleep(Duration::from_millis(50));
        let began = std::time::Instant::now();
        interrupt(&child);
        let ended = child.wait().expect("it ends");
        let took = began.elapsed();
        let mut words = String::new();
        told.read_to_string(&mut words).expect("text");
        assert_eq!(ended.code(), Some(2), "{command}, {took:?} of {whole:?}: {words}");
        assert!(
            words.contains("topped") && took < Duration::from_millis(1500),
            "{took:?} of {whole:?}: {words}"
        );
        if words.contains("nothing was written") {
            assert!(files() == before);
        }
        println!("{command}: {took:?} of {whole:?}");
        fs::remove_dir_all(dir.path().join("out")).expect("removed");
    }
}

/// A JPEG is decoded to its end by decoders that know no interruption: nobody waits for them.
#[test]
fn an_interruption_is_heard_in_the_middle_of_a_decode() {
    let dir = temp();
    put(dir.path(), "WEIR0001.JPG", bombs::progressive((12_000, 9_000), 4));
    for pictures in [Pictures::Thumb, Pictures::Full] {
        let stop = std::sync::atomic::AtomicBool::new(false);
        let began = std::time::Instant::now();
        let read = || read_until(walk(&[dir.path().to_path_buf()]), Some(2), pictures, &|_| (), &stop);
        read();
        let whole = began.elapsed();
        if whole < Duration::from_millis(400) {
            skipped(Why::Unable, format!("it is decoded in {whole:?}"));
            continue;
        }
        let (frames, took) = std::thread::scope(|scope| {
            let reading = scope.spawn(read);
            std::thread::sleep(Duration::from_millis(200));
            let began = std::time::Instant::now();
            stop.store(true, std::sync::atomic::Ordering::Relaxed);
            (reading.join().expect("no panic"), began.elapsed())
        });
        assert_eq!(frames.rows[0].damage, Damage::NotTried, "{pictures:?}, {took:?} of {whole:?}");
        assert!(took < Duration::from_secs(1).min(whole / 2), "{pictures:?}: {took:?} of {whole:?}");
        println!("{pictures:?}: {took:?} of {whole:?}");
    }
}

#[test]
fn a_card_that_is_pulled_out_half_way() {
    let dir = temp();
    many(&dir.path().join("weir"), 9000);
    let (mut child, _told) = started(dir.path(), "audit");
    fs::rename(dir.path().join("weir"), dir.path().join("gone")).expect("pulled out");
    assert_eq!(child.wait().expect("it ends").code(), Some(2));
    let (unread, summary) = incomplete(dir.path(), 9000);
    assert!(unwrapped(&summary).contains(&format!("{unread} files: it is not there")), "{summary}");
    let report = Report::of(dir.path().join("out"));
    let findings = report.findings("damaged-frame");
    assert!(findings[0]["message"].as_str().is_some_and(|m| m.contains("could not be read")), "{findings:?}");
}

#[test]
fn a_file_that_vanishes_or_shrinks_is_unread_and_the_others_stand() {
    let dir = temp();
    shoot(dir.path(), "WEIR", 1, (0, 10), 5.0);
    let card = walk(&[dir.path().to_path_buf()]);
    fs::remove_file(dir.path().join("WEIR0003.JPG")).expect("removed");
    let whole = fs::read(dir.path().join("WEIR0005.JPG")).expect("readable");
    fs::write(dir.path().join("WEIR0005.JPG"), &whole[..whole.len() / 2]).expect("written");
    let frames = read_all(card, Some(2), &|_| ());
    let told: Vec<_> = frames.trouble.iter().map(|t| (t.path.as_str(), t.what.as_str())).collect();
    assert_eq!(
        told,
        [("WEIR0003.JPG", "it is not there"), ("WEIR0005.JPG", "it became shorter while the card was read")]
    );
    for (at, row) in frames.rows.iter().enumerate() {
        assert_eq!(row.damage.is_some(), [2, 4].contains(&at), "{at}");
    }
}

/// Raw and JPEG together: a JPEG that was cut or lost its bytes is told, though the raw beside it is whole.
#[test]
fn a_damaged_file_beside_a_whole_one_is_told() {
    let dir = temp();
    let form = crate::support::containers::LITTLE;
    for i in 0..12_u32 {
        shoot(dir.path(), "WEIR", i + 1, (i, 1), 5.0);
        put(dir.path(), format!("WEIR{:04}.DNG", i + 1), form.file());
    }
    let whole = fs::read(dir.path().join("WEIR0004.JPG")).expect("readable");
    put(dir.path(), "WEIR0004.JPG", &whole[..whole.len() / 2]);
    put(dir.path(), "WEIR0009.JPG", b"");
    for pictures in ["none", "thumb"] {
        let told = lapseproof(dir.path(), &["audit", ".", "--out", "../out-beside", "--pictures", pictures]);
        assert!(code(&told).is_some_and(|c| c < 2), "{}", err(&told));
        let report = Report::of(dir.path().join("../out-beside"));
        let findings = report.findings("damaged-frame");
        let words: Vec<_> = findings.iter().filter_map(|f| f["message"].as_str()).collect();
        assert_eq!(words.len(), 2, "{pictures}: {words:?}");
        assert!(words[0].contains("WEIR0004.JPG") && words[0].contains("cut short"), "{words:?}");
        assert!(words[1].contains("WEIR0009.JPG") && words[1].contains("empty"), "{words:?}");
        assert!(findings.iter().all(|f| f["severity"] == "caution"), "{findings:?}");
    }
}

#[test]
fn nothing_waits_for_a_pipe_or_a_device() {
    let dir = temp();
    let weir = dir.path().join("weir");
    shoot(&weir, "WEIR", 1, (0, 10), 5.0);
    let card = walk(std::slice::from_ref(&weir));
    // A file that becomes a pipe after it was found, and one that was one all along.
    let pipe = |path: &Path| Command::new("mkfifo").arg(path).status().is_ok_and(|s| s.success());
    fs::remove_file(weir.join("WEIR0004.JPG")).expect("removed");
    if !pipe(&weir.join("WEIR0004.JPG")) || !pipe(&weir.join("plan.toml")) {
        skipped(Why::Unable, "there is no mkfifo here");
        return;
    }
    let frames = read_all(card, Some(2), &|_| ());
    assert_eq!(frames.rows[3].damage, Damage::NotRead("it is no file any more".into()));
    let told = lapseproof(dir.path(), &["audit", "weir", "--out", "out"]);
    assert!(matches!(code(&told), Some(0 | 1)), "{}", err(&told));
    for place in ["weir/plan.toml", "weir/WEIR0004.JPG", "/dev/zero", "/dev/tty"] {
        let told = lapseproof(dir.path(), &["audit", place, "--out", "other"]);
        assert_eq!(code(&told), Some(2), "{place}: {}", err(&told));
    }
}

/// A plan and a manifest are read like frames: within limits, without waiting, and a plan that lies on the
/// card is no window into the machine.
#[test]
fn plans_and_manifests_are_read_with_care() {
    let dir = temp();
    let weir = dir.path().join("weir");
    shoot(&weir, "WEIR", 1, (0, 10), 5.0);
    let plan = weir.join("plan.toml");
    // Three gigabytes without a block on the disk: reading them whole would take the memory.
    fs::File::create(&plan).and_then(|f| f.set_len(3 << 30)).expect("a sparse file");
    for args in [&["audit", "weir", "--out", "out"][..], &["plan", "weir/plan.toml"]] {
        let began = std::time::Instant::now();
        let told = lapseproof(dir.path(), args);
        assert!(code(&told) == Some(2) && err(&told).contains("larger than 1048576 bytes"), "{}", err(&told));
        assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    }
    let told = lapseproof(dir.path(), &["verify", "weir/plan.toml"]);
    assert!(code(&told) == Some(2) && err(&told).contains("larger than"), "{}", err(&told));
    // A link to something secret: its lines are not shown, and the card is not audited as if it had no plan.
    fs::remove_file(&plan).expect("removed");
    put(dir.path(), "secret", "password = \"heron\"\n");
    std::os::unix::fs::symlink("../secret", &plan).expect("a link");
    for args in [&["audit", "weir", "--out", "out"][..], &["survey", "weir"]] {
        let told = lapseproof(dir.path(), args);
        assert_eq!(code(&told), Some(2), "{}", err(&told));
        assert!(err(&told).contains("it is a link") && !err(&told).contains("heron"), "{}", err(&told));
    }
    // Somebody who names a link means what it leads to.
    put(dir.path(), "secret", "interval = \"5 s\"\n");
    let told = lapseproof(dir.path(), &["audit", "weir", "--plan", "weir/plan.toml", "--out", "out"]);
    assert!(code(&told).is_some_and(|c| c < 2), "{}", err(&told));
    if Command::new("mkfifo").arg(dir.path().join("pipe")).status().is_ok_and(|s| s.success()) {
        for args in [&["verify", "pipe"][..], &["audit", "weir", "--plan", "pipe"]] {
            assert_eq!(code(&lapseproof(dir.path(), args)), Some(2), "{args:?}");
        }
    }
}

/// Where no thread can be started (RLIMIT_NPROC, setrlimit(2)) one does all of the work, and the bytes are
/// the same.
#[cfg(target_os = "linux")]
#[test]
fn without_threads_the_audit_runs_on_one() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let dir = temp();
    let at = dir.path();
    many(&at.join("weir"), 900);
    let binary = at.join("lapseproof");
    fs::copy(env!("CARGO_BIN_EXE_lapseproof"), &binary).expect("copied");
    let plain = lapseproof(at, &["audit", "weir", "--out", "plain", "--deliver", "--movement"]);
    assert!(code(&plain).is_some_and(|c| c < 2), "{}", err(&plain));
    fs::set_permissions(at, fs::Permissions::from_mode(0o777)).expect("a mode");
    let mut alone = Command::new("prlimit");
    alone.arg("--nproc=1:1").arg(&binary).args([
        "audit",
        "weir",
        "--out",
        "alone",
        "--deliver",
        "--movement",
    ]);
    // The limit does not bind the superuser: somebody else runs it.
    let root = fs::metadata(at).expect("there").uid() == 0;
    if root {
        alone.uid(65_534).gid(65_534);
    }
    let Ok(told) = alone.current_dir(at).output() else {
        return skipped(Why::Unable, "there is no prlimit here");
    };
    if err(&told).contains("prlimit") || err(&told).contains("error while loading") {
        return skipped(Why::Unable, err(&told));
    }
    assert_eq!(code(&told), code(&plain), "{}", err(&told));
    assert!(Report::of(at.join("alone")).all() == Report::of(at.join("plain")).all());
    let manifest = |out: &str| Report::of(at.join(out)).bytes("manifest-sha256.txt");
    assert!(manifest("alone") == manifest("plain"));
    let told = Command::new("prlimit")
        .arg("--nproc=1:1")
        .arg(&binary)
        .args(["verify", "plain/manifest-sha256.txt", "weir"])
        .current_dir(at)
        .uid(if root { 65_534 } else { fs::metadata(at).expect("there").uid() })
        .output()
        .expect("it ran before");
    assert_eq!(code(&told), Some(0), "{}", err(&told));
}

#[test]
fn a_stop_that_was_asked_before_the_first_file_reads_none() {
    let dir = temp();
    shoot(dir.path(), "WEIR", 1, (0, 10), 5.0);
    let stop = std::sync::atomic::AtomicBool::new(true);
    let frames = read_until(walk(&[dir.path().to_path_buf()]), Some(2), Pictures::None, &|_| (), &stop);
    assert!(frames.rows.iter().all(|r| r.damage == Damage::NotTried));
    assert_eq!(frames.trouble.len(), 10);
}
