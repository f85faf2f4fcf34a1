//! Read-only by proof: nothing below FRAMES changes in contents or times, and on Linux the process cannot
//! write anywhere but in the place of its outputs from before the first frame is read.

use crate::support::run::{code, err, lapseproof, put, temp};
use crate::support::shoot::shoot;
use crate::support::skip::{Why, skipped};
use std::fs::{self, File, FileTimes};
use std::path::Path;
use std::time::{Duration, SystemTime};

/// Days back: an access time so old is renewed by any reader that does not ask otherwise, on file systems
/// mounted the ordinary way ("relatime", mount(8)).
fn long_ago(days: u64) -> SystemTime {
    SystemTime::now() - Duration::from_secs(days * 86_400)
}

fn age(path: &Path) {
    let times = FileTimes::new().set_accessed(long_ago(3)).set_modified(long_ago(2));
    File::open(path).and_then(|f| f.set_times(times)).expect("its times can be set");
}

/// What the system keeps of every file and folder: length, mode, mtime and ctime.
#[cfg(unix)]
fn state(folder: &Path) -> Vec<(std::path::PathBuf, [i64; 6])> {
    use std::os::unix::fs::MetadataExt;
    let mut all: Vec<_> = walkdir::WalkDir::new(folder)
        .into_iter()
        .map(|entry| {
            let entry = entry.expect("readable");
            let meta = entry.metadata().expect("metadata");
            let length = meta.len().cast_signed();
            let changed = [meta.mtime(), meta.mtime_nsec(), meta.ctime(), meta.ctime_nsec()];
            let [m, m_ns, c, c_ns] = changed;
            (entry.into_path(), [length, i64::from(meta.mode()), m, m_ns, c, c_ns])
        })
        .collect();
    all.sort();
    all
}

#[cfg(unix)]
#[test]
fn nothing_on_the_card_changes() {
    let dir = temp();
    let folder = dir.path().join("card/DCIM/100WEIR");
    shoot(&folder, "WEIR", 1, (0, 40), 5.0);
    put(&folder, "WEIR0041.JPG", b"dear diary");
    put(&folder, "WEIR0042.NEF", b"II*\0\x08\0\0\0\xFF\xFF");
    put(&folder, "no extension", b"no picture");
    put(&folder, "plan.toml", b"interval = \"5 s\"\n");
    let files: Vec<_> = fs::read_dir(&folder).expect("there").map(|e| e.expect("an entry").path()).collect();
    let contents: Vec<_> = files.iter().map(|p| fs::read(p).expect("readable")).collect();
    files.iter().for_each(|path| age(path));
    let accessed = || -> Vec<SystemTime> {
        files.iter().map(|p| fs::metadata(p).and_then(|m| m.accessed()).expect("a time")).collect()
    };
    let (before, times) = (state(&dir.path().join("card")), accessed());

    let folder_of_frames = folder.to_str().expect("text");
    let told = lapseproof(dir.path(), &["audit", folder_of_frames, "--out", "out"]);
    assert!(matches!(code(&told), Some(0 | 1)) && err(&told).contains("plan.toml"), "{}", err(&told));

    let times_now = accessed();
    assert_eq!(state(&dir.path().join("card")), before, "lengths, mtime, ctime and modes");
    let now: Vec<_> = files.iter().map(|p| fs::read(p).expect("readable")).collect();
    assert_eq!(contents, now);
    // A control: where this file system renews access times, the reading just now has done so.
    if cfg!(not(target_os = "linux")) || accessed() == times_now {
        skipped(Why::Unable, "access times are not kept here");
        return;
    }
    assert_eq!(times, times_now, "access times");
}

/// The line that tells that the kernel holds the process to its word, or that it cannot.
#[cfg(target_os = "linux")]
#[test]
fn the_restriction_is_told() {
    let dir = temp();
    shoot(&dir.path().join("weir"), "WEIR", 1, (0, 30), 5.0);
    let told = lapseproof(dir.path(), &["audit", "weir", "--out", "out", "--verbose"]);
    let words = err(&told);
    assert!(words.contains("can write in out alone") || words.contains("Landlock"), "{words}");
    assert!(dir.path().join("out/audit.json").exists());
}

/// A process of its own, started by the test below: it gives up the right to write and then tries.
#[cfg(target_os = "linux")]
#[test]
fn child_that_tries_to_write() {
    use lapseproof::cli::confine::{Confined, to_writing_in};
    let Some(dir) = std::env::var_os("LAPSEPROOF_TEST_CONFINED") else { return };
    let dir = Path::new(&dir);
    let (card, out) = (dir.join("card"), dir.join("out"));
    let held = lapseproof::store::Disk::open(&out).expect("a folder");
    let confined = to_writing_in(&[&held]);
    if confined == Confined::Not {
        println!("the kernel cannot");
        return;
    }
    // A thread that is started afterwards, as those are that read the frames.
    std::thread::scope(|s| {
        s.spawn(|| {
            let file = card.join("WEIR0001.JPG");
            let refused = |what: &str, done: std::io::Result<()>| {
                let e = done.expect_err(what);
                assert_eq!(e.kind(), std::io::ErrorKind::PermissionDenied, "{what}: {e}");
            };
            refused("write", fs::write(&file, b"x"));
            refused("append", fs::OpenOptions::new().append(true).open(&file).map(drop));
            refused("make a file", fs::write(card.join("new"), b"x"));
            refused("make a folder", fs::create_dir(card.join("new")));
            refused("remove", fs::remove_file(&file));
            refused("rename", fs::rename(&file, card.join("other")));
            refused("rename out of the card", fs::rename(&file, out.join("other")));
            refused("link into it", std::os::unix::fs::symlink("x", card.join("link")));
            refused("write beside the outputs", fs::write(dir.join("stray"), b"x"));
            assert!(fs::read(&file).is_ok_and(|bytes| !bytes.is_empty()), "reading goes on");
            fs::write(out.join("summary.txt"), b"x").expect("the outputs may be written");
            fs::rename(out.join("summary.txt"), out.join("renamed.txt")).expect("and renamed");
            let cut = || fs::OpenOptions::new().write(true).truncate(true).open(&file).map(drop);
            refused("cut short", cut());
        });
    });
    println!("held to it");
}

#[cfg(target_os = "linux")]
#[test]
fn after_the_restriction_nothing_else_can_be_written() {
    let dir = temp();
    shoot(&dir.path().join("card"), "WEIR", 1, (0, 2), 5.0);
    fs::create_dir(dir.path().join("out")).expect("made");
    let told = std::process::Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "read_only::child_that_tries_to_write", "--nocapture"])
        .env("LAPSEPROOF_TEST_CONFINED", dir.path())
        .output()
        .expect("it runs");
    let words = String::from_utf8_lossy(&told.stdout).into_owned();
    assert!(told.status.success(), "{words}{}", String::from_utf8_lossy(&told.stderr));
    if words.contains("the kernel cannot") {
        skipped(Why::Unable, "this kernel has no Landlock");
        return;
    }
    assert!(words.contains("held to it"), "{words}");
    assert!(!dir.path().join("stray").exists());
}

/// A card that is mounted a second time, whole or from a folder of it on, is the same card.
#[cfg(target_os = "linux")]
#[test]
fn no_output_lies_on_a_card_by_another_road() {
    let dir = temp();
    let frames = dir.path().join("card/DCIM/100WEIR");
    shoot(&frames, "WEIR", 1, (0, 10), 5.0);
    fs::create_dir(dir.path().join("road")).expect("made");
    for bound in ["card", "card/DCIM", "card/DCIM/100WEIR"] {
        let script = format!(
            "mount --bind {bound} road || exit 77; exec '{}' audit card/DCIM --out road/out",
            env!("CARGO_BIN_EXE_lapseproof")
        );
        let told = std::process::Command::new("unshare")
            .args(["--mount", "sh", "-c", &script])
            .current_dir(dir.path())
            .output();
        let Ok(told) = told else { return skipped(Why::Unable, "there is no unshare here") };
        if code(&told) != Some(2) && err(&told).contains("ermi") {
            return skipped(Why::Unable, "nothing may be mounted here");
        }
        assert!(code(&told) == Some(2) && err(&told).contains("on the card"), "{bound}: {}", err(&told));
        assert_eq!(fs::read_dir(&frames).expect("there").count(), 10, "{bound}");
        assert!(!dir.path().join("card/out").exists() && !dir.path().join("card/DCIM/out").exists());
    }
}

/// The folder of the outputs is held from before the walk: a link that takes its place leads nowhere.
#[cfg(unix)]
#[test]
fn a_link_that_takes_the_outputs_place_is_not_followed() {
    use lapseproof::outputs::place::Place;
    let dir = temp();
    let card = dir.path().join("card");
    shoot(&card, "WEIR", 1, (0, 10), 5.0);
    let place = Place::open(&dir.path().join("reports/weir"), std::slice::from_ref(&card)).expect("a place");
    fs::rename(dir.path().join("reports"), dir.path().join("before")).expect("renamed");
    fs::create_dir(card.join("weir")).expect("made");
    std::os::unix::fs::symlink("card", dir.path().join("reports")).expect("a link");
    let summary = place.stage("summary.txt", |out| out.write_all(b"whole")).expect("staged");
    place.commit(vec![summary]).expect("put there");
    assert_eq!(fs::read(dir.path().join("before/weir/summary.txt")).expect("there"), b"whole");
    assert_eq!(fs::read_dir(card.join("weir")).expect("there").count(), 0);
    // Nor is one that takes the place of a folder in it.
    fs::create_dir(dir.path().join("before/weir/elsewhere")).expect("made");
    std::os::unix::fs::symlink("../../card", dir.path().join("before/weir/camera-a")).expect("a link");
    assert!(place.inside("camera-a").stage("patch.csv", |out| out.write_all(b"x")).is_err());
    assert_eq!(fs::read_dir(&card).expect("there").count(), 11);
}

/// Folders above that may be passed and not listed, as those of a machine that many share, stand in nobody's
/// way.
#[cfg(target_os = "linux")]
#[test]
fn folders_above_need_not_be_listed() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let dir = temp();
    let at = dir.path().join("shared");
    for (n, folder) in ["frames/one", "frames/two"].iter().enumerate() {
        let first = u32::try_from(n).expect("small") * 10;
        shoot(&at.join(folder), "WEIR", first + 1, (first, 10), 5.0);
    }
    fs::create_dir(at.join("outs")).expect("made");
    let binary = dir.path().join("lapseproof");
    fs::copy(env!("CARGO_BIN_EXE_lapseproof"), &binary).expect("copied");
    let root = fs::metadata(&at).expect("there").uid() == 0;
    let mode =
        |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).expect("a mode");
    mode(&at.join("outs"), 0o777);
    mode(dir.path(), 0o755);
    // The superuser may list everything: somebody else is asked then.
    let passed = if root { 0o711 } else { 0o311 };
    mode(&at.join("frames"), passed);
    mode(&at, passed);
    let mut run = std::process::Command::new(&binary);
    run.args(["audit", "--deliver", "--fail-on", "never", "--out"]).arg(at.join("outs/report"));
    run.arg(at.join("frames/one")).arg(at.join("frames/two"));
    if root {
        run.uid(65_534).gid(65_534);
    }
    let told = run.current_dir("/").output().expect("it runs");
    mode(&at, 0o755);
    mode(&at.join("frames"), 0o755);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    let manifest = fs::read_to_string(at.join("outs/report/manifest-sha256.txt")).expect("delivered");
    assert_eq!(manifest.lines().count(), 20);
}
