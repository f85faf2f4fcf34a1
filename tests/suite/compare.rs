//! `compare`: each way in which a copy can fall short of its card, told right. What stands here by hand is
//! laid out by the test, byte for byte.

use crate::support::run::{copy, lapseproof_with, out, put, state_of, temp};
use crate::support::schema::wrong;
use crate::support::side_by_side::{card, run_compare as run, shows};
use std::fs;
use std::path::Path;

/// What one change of the copy makes of the answer: exit code, first line, and a line further down.
fn change(make: impl FnOnce(&Path), rc: i32, first: &str, line: &str) {
    let dir = temp();
    card(dir.path());
    make(dir.path());
    let before = (state_of(&dir.path().join("card")), state_of(&dir.path().join("copy")));
    let (got, told, why) = run(dir.path(), &["card", "copy"]);
    assert_eq!(got, Some(rc), "{told}{why}");
    assert!(told.starts_with(first), "{first:?} does not begin\n{told}");
    assert!(told.contains(line), "{line:?} is not in\n{told}");
    let after = (state_of(&dir.path().join("card")), state_of(&dir.path().join("copy")));
    assert!(before == after, "something was written");
}

#[test]
fn a_faithful_copy_is_every_file() {
    let dir = temp();
    card(dir.path());
    let (rc, told, why) = run(dir.path(), &["card", "copy"]);
    let how = if shows() { "read back from disk" } else { "read after the disks were plugged in again" };
    // 3000 + 9000 + 4 + 1000 + 70000 + 500 + 6 bytes.
    let first = format!("EVERY FILE IS IN EACH COPY: 8 files, 83.51 kB, {how}.");
    assert_eq!((rc, told.split('\n').next().unwrap_or_default()), (Some(0), first.as_str()), "{told}{why}");
    assert!(told.contains("\ncopy: all 8 files are there.\n"), "{told}");
    assert!(told.contains("1 entry of the computer's own is left out on the card"), "{told}");
    assert_eq!(run(dir.path(), &["card", "copy", "--quiet"]).1, first + "\n");
    let left: Vec<_> =
        state_of(&dir.path().join("state")).into_iter().filter(|(p, ..)| p.is_file()).collect();
    assert!(left.is_empty(), "the record goes when all was read: {left:?}");
}

#[test]
fn what_is_not_in_the_copy() {
    let one = "DO NOT WIPE THE CARD: 1 file is not in copy.";
    change(
        |dir| {
            let path = dir.join("copy/DCIM/100WEIR/WEIR0003.MOV");
            let mut bytes = fs::read(&path).expect("a file");
            bytes[69_000] ^= 0x10;
            fs::write(path, bytes).expect("written");
        },
        1,
        one,
        "  differs     DCIM/100WEIR/WEIR0003.MOV: as long, with other bytes\n",
    );
    change(
        |dir| put(&dir.join("copy"), "DCIM/100WEIR/WEIR0002.JPG", [3; 610]),
        1,
        one,
        "DCIM/100WEIR/WEIR0002.JPG: copied only to 61 %",
    );
    change(
        |dir| put(&dir.join("copy"), "DCIM/100WEIR/WEIR0002.JPG", []),
        1,
        one,
        "DCIM/100WEIR/WEIR0002.JPG: copied only to 0 %",
    );
    change(
        |dir| put(&dir.join("copy"), "DCIM/100WEIR/WEIR0002.JPG", [7; 610]),
        1,
        one,
        "DCIM/100WEIR/WEIR0002.JPG: 390 bytes shorter",
    );
    change(
        |dir| fs::remove_file(dir.join("copy/DCIM/100WEIR/WEIR0001.xmp")).expect("removed"),
        1,
        one,
        "  absent      DCIM/100WEIR/WEIR0001.xmp\n",
    );
    // A folder of its name holds none of its bytes.
    change(
        |dir| {
            fs::remove_file(dir.join("copy/MISC/TRACK.GPX")).expect("removed");
            fs::create_dir(dir.join("copy/MISC/TRACK.GPX")).expect("made");
        },
        1,
        one,
        "  absent      MISC/TRACK.GPX\n",
    );
    change(
        |dir| {
            fs::remove_dir_all(dir.join("copy")).expect("removed");
            fs::create_dir(dir.join("copy")).expect("made");
        },
        1,
        "DO NOT WIPE THE CARD: copy holds no file.",
        "copy: 0 of 8 files are there; 8 are absent.",
    );
}

#[test]
fn names_and_folders_make_no_difference() {
    let every = "EVERY FILE IS IN EACH COPY: 8 files";
    let from = "copy/DCIM/100WEIR/WEIR0002.JPG";
    let moved = |to: &'static str| {
        move |dir: &Path| {
            let to = dir.join(to);
            fs::create_dir_all(to.parent().expect("a folder")).expect("made");
            fs::rename(dir.join(from), to).expect("moved");
        }
    };
    let line = "copy: all 8 files are there, 1 of them under another name or in another folder.";
    let joined = |told: &str| told.replace('\n', " ");
    for to in ["copy/DCIM/100WEIR/dawn-0002.jpg", "copy/keep/WEIR0002.JPG", "copy/DCIM/100WEIR/weir0002.jpg"]
    {
        let dir = temp();
        card(dir.path());
        moved(to)(dir.path());
        let (rc, told, _) = run(dir.path(), &["card", "copy"]);
        assert!(rc == Some(0) && told.starts_with(every) && joined(&told).contains(line), "{told}");
    }
    // A file twice in the copy, and one that only the copy has.
    change(|dir| put(&dir.join("copy"), "again.JPG", [3; 1000]), 0, every, "1 file is in a copy alone.");
    change(|dir| put(&dir.join("copy"), "notes.txt", "x"), 0, every, "1 file is in a copy alone.");
}

/// The same bytes twice on the card, and once in the copy: one of the two has no file there.
#[test]
fn a_double_needs_a_file_of_its_own() {
    change(
        |dir| put(&dir.join("card"), "DCIM/101WEIR/WEIR0002.JPG", [3; 1000]),
        1,
        "DO NOT WIPE THE CARD: 1 file is not in copy.",
        "once only   DCIM/101WEIR/WEIR0002.JPG: its bytes are there as",
    );
}

#[test]
fn a_copy_in_the_making_is_not_safe() {
    change(
        |dir| put(&dir.join("copy"), "DCIM/100WEIR/WEIR0002.JPG.partial", [3; 100]),
        1,
        "DO NOT WIPE THE CARD: a file in copy has the name of an unfinished copy.",
        "  unfinished  DCIM/100WEIR/WEIR0002.JPG.partial\n",
    );
    change(
        |dir| {
            let at = |name: &str| dir.join("copy/DCIM/100WEIR").join(name);
            fs::rename(at("WEIR0002.JPG"), at(".WEIR0002.JPG.k3Xq9Z")).expect("renamed");
        },
        1,
        "DO NOT WIPE THE CARD: a file in copy has the name of an unfinished copy.",
        "  unfinished  DCIM/100WEIR/.WEIR0002.JPG.k3Xq9Z\n",
    );
}

#[test]
fn names_that_differ_in_case_alone_are_two_files() {
    let dir = temp();
    for (side, lower, upper) in [("card", 1, 2), ("copy", 2, 1)] {
        put(&dir.path().join(side), "a.jpg", [lower; 50]);
        put(&dir.path().join(side), "A.JPG", [upper; 50]);
    }
    if fs::read_dir(dir.path().join("card")).expect("a folder").count() < 2 {
        return; // this file system takes the two names for one
    }
    let (rc, told, _) = run(dir.path(), &["card", "copy", "--verbose"]);
    assert!(rc == Some(0) && told.contains("renamed     A.JPG, there: a.jpg"), "{told}");
    assert!(told.contains("renamed     a.jpg, there: A.JPG"), "{told}");
}

#[test]
fn of_two_copies_the_bad_one_is_named() {
    let dir = temp();
    card(dir.path());
    copy(&dir.path().join("copy"), &dir.path().join("second"));
    fs::remove_file(dir.path().join("second/DCIM/100WEIR/WEIR0001.NEF")).expect("removed");
    let (rc, told, _) = run(dir.path(), &["card", "copy", "second"]);
    assert_eq!(rc, Some(1), "{told}");
    assert!(told.starts_with("DO NOT WIPE THE CARD: 1 file is not in second.\n"), "{told}");
    let (bad, good) =
        (told.find("second: 7 of 8 files are there"), told.find("copy: all 8 files are there."));
    assert!(bad.is_some() && bad < good, "the bad one first:\n{told}");
}

#[test]
fn an_empty_card_is_no_answer() {
    let dir = temp();
    fs::create_dir(dir.path().join("card")).expect("made");
    put(&dir.path().join("copy"), "a", "a");
    put(&dir.path().join("card"), "._a", "a");
    let (rc, told, _) = run(dir.path(), &["card", "copy"]);
    assert!(rc == Some(2) && told.starts_with("NO FILE ON THE CARD: "), "{told}");
}

#[test]
fn one_folder_twice_is_refused() {
    let dir = temp();
    card(dir.path());
    put(dir.path(), "card/backup/a", "a");
    for (args, why) in [
        (["card", "card"], "card is named twice"),
        (["card", "card/backup"], "card/backup lies inside card"),
        (["card/DCIM", "card"], "card/DCIM lies inside card"),
        (["card", "nowhere"], "nowhere: it is not there"),
        (["card/MISC/TRACK.GPX", "copy"], "card/MISC/TRACK.GPX: it is no folder"),
    ] {
        let (rc, told, said) = run(dir.path(), &args);
        assert!(rc == Some(2) && told.is_empty() && said.contains(why), "{args:?}: {told}{said}");
    }
    let (rc, _, said) = run(dir.path(), &["card", "copy", "copy"]);
    assert!(rc == Some(2) && said.contains("copy is named twice"), "{said}");
}

#[cfg(unix)]
#[test]
fn links_are_no_copies() {
    use std::os::unix::fs::symlink;
    let frame = "DCIM/100WEIR/WEIR0001.JPG";
    change(
        |dir| {
            fs::remove_file(dir.join("copy").join(frame)).expect("removed");
            fs::hard_link(dir.join("card").join(frame), dir.join("copy/kept.JPG")).expect("linked");
        },
        1,
        "DO NOT WIPE THE CARD: 1 file is not in copy.",
        "no copy     DCIM/100WEIR/WEIR0001.JPG: kept.JPG leads to the card's own file",
    );
    change(
        |dir| {
            fs::remove_file(dir.join("copy").join(frame)).expect("removed");
            symlink(dir.join("card").join(frame), dir.join("copy").join(frame)).expect("linked");
        },
        1,
        "DO NOT WIPE THE CARD: 1 file is not in copy.",
        "  absent      DCIM/100WEIR/WEIR0001.JPG\n",
    );
    // A link on the card holds nothing, and nobody knows what it stood for.
    change(
        |dir| symlink("WEIR0001.JPG", dir.join("card/DCIM/100WEIR/FIRST.JPG")).expect("linked"),
        2,
        "NOT COMPLETE: 1 file or folder could not be read.",
        "no file but a link or a device",
    );
    let dir = temp();
    card(dir.path());
    symlink("card", dir.path().join("named")).expect("linked");
    symlink("copy", dir.path().join("shelf")).expect("linked");
    let (rc, _, said) = run(dir.path(), &["card", "named"]);
    assert!(rc == Some(2) && said.contains("card and named are one folder"), "{said}");
    let (rc, told, _) = run(dir.path(), &["named", "shelf"]);
    assert!(rc == Some(0) && told.starts_with("EVERY FILE"), "{told}");
}

/// A second copy that is made of links to the first one is no second copy.
#[cfg(unix)]
#[test]
fn copies_that_are_one_are_told() {
    let dir = temp();
    card(dir.path());
    copy(&dir.path().join("copy"), &dir.path().join("second"));
    let frame = "DCIM/100WEIR/WEIR0001.JPG";
    fs::remove_file(dir.path().join("second").join(frame)).expect("removed");
    fs::hard_link(dir.path().join("copy").join(frame), dir.path().join("second").join(frame))
        .expect("linked");
    let (rc, told, _) = run(dir.path(), &["card", "copy", "second"]);
    let words = "1 file is one and the same in copy and second: there they are one copy.";
    assert!(rc == Some(0) && told.replace('\n', " ").contains(words), "{told}");
}

#[cfg(unix)]
#[test]
fn names_that_are_no_text_and_names_that_act() {
    use std::os::unix::ffi::OsStrExt as _;
    let dir = temp();
    card(dir.path());
    let odd = |name: &[u8]| Path::new("card").join(std::ffi::OsStr::from_bytes(name));
    for name in [&b"\xFF\xFE.JPG"[..], b"a\x1b[2Jb.JPG", b"line\nend.JPG", b"two  blanks.JPG"] {
        if fs::write(dir.path().join(odd(name)), name).is_err() {
            return; // this file system takes text alone
        }
    }
    let (rc, told, _) = run(dir.path(), &["card", "copy"]);
    assert_eq!(rc, Some(1), "{told}");
    for name in ["\\xFF\\xFE.JPG", "a\\u{1B}[2Jb.JPG", "line\\u{A}end.JPG"] {
        assert!(told.contains(&format!("  absent      {name}\n")), "{name} in\n{told}");
    }
    copy(&dir.path().join("card"), &dir.path().join("copy"));
    assert_eq!(run(dir.path(), &["card", "copy"]).0, Some(0));
}

/// A picture that does not decode is told from the one that does, on either side.
#[test]
fn of_two_pictures_the_sound_one_is_named() {
    let home = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences/harbour-falling-tide/frames");
    let sound = fs::read(home.join("TIDE0012.JPG")).expect("a frame");
    let mut spoilt = sound.clone();
    let half = spoilt.len() / 2;
    spoilt[half..].fill(0);
    for (card, copy, words) in [
        (&sound, &spoilt, "the copy does not decode, the card's does"),
        (&spoilt, &sound, "the card's does not decode, the copy does"),
    ] {
        let dir = temp();
        put(dir.path(), "card/A.JPG", card);
        put(dir.path(), "copy/A.JPG", copy);
        let (rc, told, _) = run(dir.path(), &["card", "copy"]);
        assert!(rc == Some(1) && told.replace("\n              ", " ").contains(words), "{told}");
    }
}

#[test]
fn what_is_told_fits_a_screen() {
    let dir = temp();
    for i in 0..500_u32 {
        put(
            dir.path(),
            format!("card/DCIM/100WEIR/a name that is rather long for a file {i:04}.JPG"),
            i.to_le_bytes(),
        );
    }
    put(dir.path(), "copy/x", "x");
    put(dir.path(), "second/x", "x");
    let (rc, told, _) = run(dir.path(), &["card", "copy", "second"]);
    assert_eq!(rc, Some(1));
    assert!(told.starts_with("DO NOT WIPE THE CARD: 500 files are not in each copy.\n"), "{told}");
    assert!(told.lines().count() <= 24 && told.lines().all(|l| l.chars().count() <= 80), "{told}");
    let (_, full, _) = run(dir.path(), &["card", "copy", "second", "--verbose"]);
    assert_eq!(full.matches("  absent ").count(), 1000);
}

#[test]
fn threads_change_nothing() {
    let dir = temp();
    card(dir.path());
    fs::rename(dir.path().join("copy/MISC"), dir.path().join("copy/OTHER")).expect("moved");
    put(dir.path(), "copy/DCIM/100WEIR/WEIR0001.JPG", [8; 3000]);
    for format in ["text", "json"] {
        let told =
            |jobs| run(dir.path(), &["card", "copy", "--verbose", "--format", format, "--jobs", jobs]).1;
        let one = told("1");
        assert!(!one.is_empty() && ["2", "9"].iter().all(|n| told(n) == one), "{one}");
    }
}

#[test]
fn the_record_is_what_its_schema_says() {
    let dir = temp();
    let schema = out(&lapseproof_with(dir.path(), &["explain", "--schema=compare"], &[]));
    let schema: serde_json::Value = serde_json::from_str(&schema).expect("it is JSON");
    card(dir.path());
    let json = || {
        let told = run(dir.path(), &["card", "copy", "--format", "json"]).1;
        let json: serde_json::Value = serde_json::from_str(&told).expect("it is JSON");
        assert_eq!(wrong(&schema, &json), [] as [String; 0]);
        json
    };
    let good = json();
    assert_eq!((&good["schema"], &good["answer"]), (&1.into(), &"every-file".into()));
    assert_eq!(good["copies"][0]["same"], 8);
    put(dir.path(), "copy/DCIM/100WEIR/WEIR0002.JPG", [3; 610]);
    fs::remove_file(dir.path().join("copy/MISC/TRACK.GPX")).expect("removed");
    put(dir.path(), "copy/more.tmp", "x");
    let bad = json();
    assert_eq!(bad["answer"], "not-in-each");
    let files = bad["copies"][0]["files"].as_array().expect("a list");
    let cut = &files[0];
    assert_eq!((&cut["state"], &cut["difference"]), (&"differs".into(), &"cut-short".into()));
    assert_eq!((&cut["copied_percent"], &cut["in_copy"]), (&61.into(), &cut["path"]));
    assert_eq!((&files[1]["state"], &files[1]["path"]), (&"absent".into(), &"MISC/TRACK.GPX".into()));
    assert_eq!(bad["copies"][0]["unfinished"], serde_json::json!(["more.tmp"]));
}

#[test]
fn the_record_lies_off_the_card_and_spoils_no_file() {
    let dir = temp();
    card(dir.path());
    put(dir.path(), "letter.txt", "Dear heron\n");
    for (state, why) in [
        ("card/state.txt", "where nothing is written"),
        ("copy/DCIM/state.txt", "where nothing is written"),
        ("letter.txt", "no record of a comparison"),
    ] {
        let (rc, told, said) = run(dir.path(), &["card", "copy", "--state", state]);
        assert!(rc == Some(2) && told.is_empty() && said.contains(why), "{state}: {told}{said}");
    }
    assert_eq!(fs::read(dir.path().join("letter.txt")).expect("it is there"), b"Dear heron\n");
    assert!(!dir.path().join("card/state.txt").exists());
    assert_eq!(run(dir.path(), &["card", "copy", "--state", "here.txt"]).0, Some(0));
    assert!(!dir.path().join("here.txt").exists());
}
