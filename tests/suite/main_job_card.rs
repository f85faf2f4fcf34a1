//! Cards as cameras and desks leave them, through the binary: several folders, wraps, raw beside JPEG, what
//! is no frame, rubbish.

use crate::support::run::{Report, code, err, lapseproof, out, put, temp};
use crate::support::shoot::{frame, shoot};
use crate::support::writer::{Put, block};
use std::fs;
use std::path::Path;

fn audited(dir: &Path, frames: &str, more: &[&str]) -> (Report, std::process::Output) {
    let args: Vec<&str> = ["audit", frames, "--out", "out"].iter().chain(more).copied().collect();
    let told = lapseproof(dir, &args);
    (Report::of(dir.join("out")), told)
}

fn passed_over(report: &Report) -> Vec<(String, u64)> {
    let json = report.json();
    let all = json["passed_over"].as_array().expect("a list");
    let one = |p: &serde_json::Value| {
        (p["why"].as_str().expect("a word").to_owned(), p["files"].as_u64().expect("a count"))
    };
    all.iter().map(one).collect()
}

/// A card of three numbered folders (DCF, CIPA DC-009: 100 to 999, 0001 to 9999) whose numbers pass 9999
/// midway: capture order goes on through folders and wrap, nothing is missing, and the numbers are evidence
/// of what is.
#[test]
fn a_card_of_several_folders_whose_numbers_wrap() {
    let dir = temp();
    let dcim = dir.path().join("card/DCIM");
    shoot(&dcim.join("100WEIR"), "WEIR", 9970, (0, 20), 5.0);
    shoot(&dcim.join("101WEIR"), "WEIR", 9990, (20, 10), 5.0);
    shoot(&dcim.join("102WEIR"), "WEIR", 1, (30, 30), 5.0);
    for frames in ["card", "card/DCIM"] {
        let (report, told) = audited(dir.path(), frames, &["--interval", "5s", "--frames", "60"]);
        assert_eq!(code(&told), Some(0), "{}{}", out(&told), err(&told));
        let json = report.json();
        assert_eq!(json["verdict"]["call"], "clear");
        assert_eq!((&json["counts"]["frames"], &json["counts"]["slots"]), (&60.into(), &60.into()));
        assert_eq!(json["cadence"]["order_from"], "folder and file number");
        let rows = report.rows("frames.csv");
        let below = if frames == "card" { "DCIM/" } else { "" };
        assert_eq!(rows[0]["file"], format!("{below}100WEIR/WEIR9970.JPG"));
        assert_eq!(rows[29]["file"], format!("{below}101WEIR/WEIR9999.JPG"));
        assert_eq!(rows[30]["file"], format!("{below}102WEIR/WEIR0001.JPG"));
        assert!(rows.iter().enumerate().all(|(slot, r)| r["slot"] == slot.to_string()));
    }
    // A file lost right across the wrap: 9999 and 0001.
    fs::remove_file(dcim.join("101WEIR/WEIR9999.JPG")).expect("removed");
    fs::remove_file(dcim.join("102WEIR/WEIR0001.JPG")).expect("removed");
    let (report, _) = audited(dir.path(), "card", &["--interval", "5s", "--frames", "60"]);
    let holes = report.findings("missing-slot");
    assert_eq!(holes.len(), 1);
    assert_eq!((&holes[0]["count"], &holes[0]["cause"]), (&2.into(), &"file-lost".into()));
    assert_eq!(holes[0]["first_file"], "DCIM/101WEIR/WEIR9998.JPG");
    assert_eq!(holes[0]["last_file"], "DCIM/102WEIR/WEIR0002.JPG");
}

#[test]
fn raw_and_jpeg_of_one_shot_are_one_frame() {
    let dir = temp();
    let card = dir.path().join("card/DCIM/100WEIR");
    shoot(&card, "WEIR", 1, (0, 40), 5.0);
    for i in 0..40_u32 {
        // A raw on plain TIFF, with the stamp of its JPEG.
        let s = i * 5;
        let stamp = format!("2026:05:09 04:{:02}:{:02}", 10 + s / 60, s % 60);
        let raw = block(
            &[(0x010F, Put::Ascii("ACME")), (0x0110, Put::Ascii("ACME ONE"))],
            &[
                (0x829A, Put::Ratio(1, 60)),
                (0x829D, Put::Ratio(8, 1)),
                (0x8827, Put::Short(&[200])),
                (0x9003, Put::Ascii(&stamp)),
                (0x9286, Put::Long(i)),
            ],
        );
        put(&card, format!("WEIR{:04}.NEF", i + 1), raw);
    }
    let (report, told) = audited(dir.path(), "card", &["--interval", "5s", "--frames", "40"]);
    let json = report.json();
    assert_eq!(
        (&json["counts"]["frames"], &json["counts"]["slots"]),
        (&40.into(), &40.into()),
        "{}",
        out(&told)
    );
    assert_eq!((&json["counts"]["surplus"], &json["counts"]["missing"]), (&0.into(), &0.into()));
    let rows = report.rows("frames.csv");
    assert!(rows.iter().all(|r| r["file"].ends_with(".NEF") && r["companions"].ends_with(".JPG")));
    assert_eq!(rows[4]["companions"], "DCIM/100WEIR/WEIR0005.JPG");
    assert_eq!(code(&told), Some(0), "{}", out(&told));
}

#[test]
fn what_is_no_frame_is_passed_over_and_counted() {
    let dir = temp();
    let dcim = dir.path().join("card/DCIM");
    let folder = dcim.join("100WEIR");
    shoot(&folder, "WEIR", 1, (0, 30), 5.0);
    for (name, bytes) in [
        ("._WEIR0001.JPG", frame(1.0)),
        ("._WEIR0002.JPG", frame(2.0)),
        (".hidden.jpg", frame(3.0)),
        ("WEIR0001.XMP", b"<x/>".to_vec()),
        ("WEIR0002.JPG.xmp", b"<x/>".to_vec()),
        ("notes.txt", b"wind from the west".to_vec()),
        ("MVI_0031.MOV", b"moving".to_vec()),
        ("MVI_0031.THM", frame(4.0)),
        ("list.bin", b"no picture".to_vec()),
    ] {
        put(&folder, name, bytes);
    }
    put(dir.path(), "card/MISC/AUTPRINT.JPG", frame(5.0));
    put(dir.path(), "card/.Trashes/501/WEIR0099.JPG", frame(6.0));
    put(dir.path(), "card/PRIVATE/CLIP0001.JPG", frame(7.0));
    put(dir.path(), "card/Thumbs.db", b"x");
    let (report, told) = audited(dir.path(), "card", &["--interval", "5s", "--frames", "30", "--verbose"]);
    assert_eq!(code(&told), Some(0), "{}", out(&told));
    assert_eq!(report.json()["counts"]["frames"], 30);
    let passed = passed_over(&report);
    let of = |why: &str| passed.iter().filter(|p| p.0 == why).map(|p| p.1).sum::<u64>();
    assert_eq!(
        (of("resource-fork"), of("sidecar"), of("video"), of("not-a-picture")),
        (2, 3, 1, 1),
        "{passed:?}"
    );
    assert_eq!(of("thumbnail"), 2, "{passed:?}");
    // A folder that is not entered counts as what lies in it, or as one: it is counted either way.
    assert!(of("hidden") >= 2 && of("housekeeping") >= 2, "{passed:?}");
    let total: u64 = passed.iter().map(|p| p.1).sum();
    assert!(out(&told).contains(&format!("{total} files that are no frames")), "{total} in {}", out(&told));
}

/// Empty files, text named .JPG, a directory named IMG_0001.JPG, a file of FF bytes, links in a ring, one cut
/// short: the audit goes to its end and tells each.
#[test]
fn a_folder_of_rubbish_is_audited_to_the_end() {
    let dir = temp();
    let weir = dir.path().join("weir");
    shoot(&weir, "IMG_", 10, (0, 40), 5.0);
    put(&weir, "IMG_0001.JPG/IMG_0050.JPG", frame(200.3));
    put(&weir, "IMG_0051.JPG", b"");
    put(&weir, "IMG_0052.JPG", b"dear diary");
    put(&weir, "IMG_0053.JPG", [0xFF; 5000]);
    put(&weir, "IMG_0054.JPG", &frame(220.3)[..500]);
    put(&weir, "IMG_0055.NEF", b"II*\0\x08\0\0\0\xFF\xFF");
    put(&weir, "IMG_0056.PNG", b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR");
    put(&weir, "IMG_0057.HEIC", b"\0\0\0\x18ftypheic\0\0\0\0");
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&weir, weir.join("loop")).expect("a link");
        std::os::unix::fs::symlink("nowhere", weir.join("IMG_0058.JPG")).expect("a link");
    }
    let (report, told) = audited(dir.path(), "weir", &["--jobs", "3"]);
    assert_eq!(code(&told), Some(1), "{}{}", out(&told), err(&told));
    assert!(!err(&told).contains("panic"));
    let json = report.json();
    assert_eq!((&json["complete"], &json["trouble"]), (&true.into(), &serde_json::json!([])));
    assert!(json["judgements"].as_array().is_some_and(|all| all.iter().all(|j| j["answer"] != "broke")));
    let rows = report.rows("frames.csv");
    let note = |name: &str| {
        let row =
            rows.iter().find(|r| r["file"].ends_with(name)).unwrap_or_else(|| panic!("{name} is not told"));
        row["note"].clone()
    };
    for (name, words) in [
        ("IMG_0051.JPG", "empty"),
        ("IMG_0052.JPG", "not a picture"),
        ("IMG_0053.JPG", "not a picture"),
        ("IMG_0054.JPG", "cut short"),
    ] {
        assert!(note(name).contains(words), "{name}: {}", note(name));
    }
    for name in ["IMG_0055.NEF", "IMG_0056.PNG", "IMG_0057.HEIC"] {
        assert!(!note(name).is_empty(), "{name}");
    }
    assert!(rows.iter().any(|r| r["file"] == "IMG_0001.JPG/IMG_0050.JPG"));
    let damaged: u64 = report.findings("damaged-frame").iter().filter_map(|f| f["count"].as_u64()).sum();
    assert_eq!(damaged, 7);
    if cfg!(unix) {
        let links: u64 = passed_over(&report).iter().filter(|p| p.0 == "not-a-file").map(|p| p.1).sum();
        assert_eq!(links, 2);
    }
}

/// Nothing but rubbish: still no crash, and no clean bill.
#[test]
fn nothing_but_rubbish_is_never_clear() {
    let dir = temp();
    for i in 0..12 {
        put(dir.path(), format!("weir/IMG_{i:04}.JPG"), if i % 2 == 0 { &b""[..] } else { &[0xFF; 100] });
    }
    let (report, told) = audited(dir.path(), "weir", &[]);
    assert_eq!(code(&told), Some(1), "{}", out(&told));
    assert_ne!(report.json()["verdict"]["call"], "clear");
    assert_eq!(report.json()["verdict"]["usable"], serde_json::Value::Null);
}

/// Frames without a stamp, as a desk's export leaves them: missing-slot cannot be judged, so the call is at
/// best look.
#[test]
fn frames_without_stamps_are_not_clear() {
    let dir = temp();
    for i in 1..=30_u16 {
        let bytes = crate::support::writer::jpeg(&block(&[], &[(0x9286, Put::Short(&[i]))]), 500);
        put(dir.path(), format!("weir/WEIR{i:04}.JPG"), bytes);
    }
    let (report, told) = audited(dir.path(), "weir", &["--interval", "5s", "--fail-on", "caution"]);
    assert_eq!(code(&told), Some(1), "{}", out(&told));
    assert_eq!(report.answer("missing-slot"), "cannot-judge");
    assert_ne!(report.json()["verdict"]["call"], "clear");
}
