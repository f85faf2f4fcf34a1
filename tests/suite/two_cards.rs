//! One sequence on several cards or in several folders: carried on from one to the other, raw on one and JPEG
//! on the other, the same files twice; and what only looks like it.

use crate::support::run::{Report, code, err, lapseproof, out, put, temp};
use crate::support::shoot::{frame, shoot};
use crate::support::writer::{Put, block};
use std::fs;
use std::path::Path;

fn audited(dir: &Path, frames: &[&str], more: &[&str]) -> (Report, std::process::Output) {
    let _ = fs::remove_dir_all(dir.join("out"));
    let args: Vec<&str> = [&["audit"], frames, &["--out", "out", "--interval", "5s"], more].concat();
    let told = lapseproof(dir, &args);
    (Report::of(dir.join("out")), told)
}

/// A raw on plain TIFF (TIFF 6.0), shot so many seconds after 04:10:00, with the exposure of `frame`.
fn raw(seconds: u32) -> Vec<u8> {
    let s = 4 * 3600 + 600 + seconds;
    let stamp = format!("2026:05:09 {:02}:{:02}:{:02}", s / 3600 % 24, s / 60 % 60, s % 60);
    let exif = [
        (0x829A, Put::Ratio(1, 60)),
        (0x829D, Put::Ratio(8, 1)),
        (0x8827, Put::Short(&[200])),
        (0x9003, Put::Ascii(&stamp)),
        (0x9286, Put::Long(seconds)),
    ];
    block(&[(0x010F, Put::Ascii("ACME")), (0x0110, Put::Ascii("ACME ONE"))], &exif)
}

fn raws(folder: &Path, number: u32, from: u32, count: u32) {
    for i in 0..count {
        put(folder, format!("WEIR{:04}.NEF", number + i), raw(from + i * 5));
    }
}

fn counts(report: &Report) -> [u64; 4] {
    let json = report.json();
    ["frames", "slots", "missing", "surplus"].map(|key| json["counts"][key].as_u64().expect(key))
}

#[test]
fn a_sequence_that_goes_on_on_the_second_card() {
    for (folder_b, number_b) in [("100WEIRS", 31), ("101WEIRS", 31), ("101WEIRS", 1)] {
        let dir = temp();
        shoot(&dir.path().join("a/DCIM/100WEIRS"), "WEIR", 1, (0, 30), 5.0);
        shoot(&dir.path().join("b/DCIM").join(folder_b), "WEIR", number_b, (30, 30), 5.0);
        // In whichever order the cards are named.
        for cards in [["a", "b"], ["b", "a"]] {
            let (report, told) = audited(dir.path(), &cards, &["--frames", "60"]);
            assert_eq!(code(&told), Some(0), "{cards:?} {folder_b}: {}", out(&told));
            assert_eq!(counts(&report), [60, 60, 0, 0], "{cards:?} {folder_b}");
            assert_eq!(report.json()["verdict"]["call"], "clear", "{cards:?} {folder_b}: {}", out(&told));
            let rows = report.rows("frames.csv");
            assert_eq!(rows[59]["root"], if cards[0] == "a" { "1" } else { "0" });
        }
    }
}

#[test]
fn raw_on_one_card_and_jpeg_on_the_other_are_one_frame() {
    for (a, b) in [("a/DCIM/100WEIRS", "b/DCIM/100WEIRS"), ("a/raw", "a/jpg"), ("a", "b")] {
        let dir = temp();
        raws(&dir.path().join(a), 1, 0, 40);
        shoot(&dir.path().join(b), "WEIR", 1, (0, 40), 5.0);
        let roots: &[&str] = if b.starts_with('a') { &["a"] } else { &["b", "a"] };
        let (report, told) = audited(dir.path(), roots, &["--frames", "40"]);
        assert_eq!(counts(&report), [40, 40, 0, 0], "{a} {b}: {}", out(&told));
        assert_eq!(report.json()["verdict"]["call"], "clear", "{}", out(&told));
        let rows = report.rows("frames.csv");
        assert!(rows.iter().all(|r| r["file"].ends_with(".NEF") && r["companions"].ends_with(".JPG")));
        assert_eq!(code(&told), Some(0));
    }
}

/// The same names on both cards, and other pictures: nothing is a companion of anything.
#[test]
fn two_jobs_of_the_same_names_are_not_paired() {
    let dir = temp();
    raws(&dir.path().join("a/DCIM/100WEIRS"), 1, 0, 60);
    shoot(&dir.path().join("b/DCIM/100WEIRS"), "WEIR", 1, (3000, 40), 5.0);
    let (report, told) = audited(dir.path(), &["a", "b"], &[]);
    let rows = report.rows("frames.csv");
    assert!(rows.iter().all(|r| r["companions"].is_empty()), "{}", out(&told));
    assert_eq!(counts(&report)[..3], [60, 60, 0]);
    assert_eq!(report.json()["counts"]["outside"], 40);
}

/// A camera that writes to two cards at once: the second card's files are copies, said so, and lie in no
/// slot.
#[test]
fn the_same_files_on_both_cards() {
    let dir = temp();
    for card in ["a", "b"] {
        shoot(&dir.path().join(card).join("DCIM/100WEIRS"), "WEIR", 1, (0, 30), 5.0);
    }
    let (report, told) = audited(dir.path(), &["a", "b"], &["--frames", "30"]);
    assert_eq!(counts(&report), [30, 30, 0, 30], "{}", out(&told));
    assert_ne!(report.json()["verdict"]["call"], "hold", "{}", out(&told));
    let copies: u64 = report.findings("duplicate-frame").iter().filter_map(|f| f["count"].as_u64()).sum();
    assert_eq!(copies, 30);
}

/// A copy that the camera made later: another number at the end of the folder, the stamp of the first. It is
/// no frame of the run.
#[test]
fn a_copy_made_in_the_camera() {
    let dir = temp();
    let folder = dir.path().join("a/DCIM/100WEIRS");
    shoot(&folder, "WEIR", 1, (0, 40), 5.0);
    let mut bytes = frame(0.3 + 12.0 * 5.0);
    let end = bytes.len() - 200;
    bytes.drain(end..end + 100);
    put(&folder, "WEIR0041.JPG", bytes);
    let (report, told) = audited(dir.path(), &["a"], &["--frames", "40"]);
    assert_eq!(counts(&report)[..3], [40, 40, 0], "{}", out(&told));
    let rows = report.rows("frames.csv");
    let copy = rows.iter().find(|r| r["file"].ends_with("0041.JPG")).expect("told");
    assert!(["surplus", "outside"].contains(&copy["state"].as_str()), "{copy:?}");
    assert_ne!(report.json()["verdict"]["call"], "hold", "{}", out(&told));
}

/// Renamed at a desk: no number left, and an order of names that is not that of the shoot. Names that differ
/// by one are 23 frames apart, modulo 40: from the frames 17 to 39, but the one that bears the last name, the
/// next name was shot earlier.
#[test]
fn renamed_files_are_ordered_by_their_stamps() {
    let dir = temp();
    for i in 0..40_u32 {
        put(dir.path(), format!("a/weir-{}.jpg", (i * 7) % 40 + 100), frame(0.3 + f64::from(i) * 5.0));
    }
    let (report, told) = audited(dir.path(), &["a"], &["--frames", "40"]);
    assert_eq!(counts(&report), [40, 40, 0, 0], "{}", out(&told));
    assert_eq!(report.json()["cadence"]["order_from"], "stamps");
    assert_eq!(report.json()["verdict"]["call"], "look", "{}", out(&told));
    assert_eq!(report.json()["findings"].as_array().map(Vec::len), Some(1), "{}", out(&told));
    assert_eq!(report.findings("file-order")[0]["count"], 22);
    let told = lapseproof(dir.path(), &["audit", "a", "--frames", "40", "--pictures", "none", "--verbose"]);
    let order: Vec<String> = err(&told)
        .lines()
        .skip_while(|line| !line.contains("Order of capture"))
        .skip(1)
        .take(40)
        .map(|line| line.trim().to_owned())
        .collect();
    let shot: Vec<String> = (0..40).map(|i| format!("weir-{}.jpg", (i * 7) % 40 + 100)).collect();
    assert_eq!(order, shot, "{}", err(&told));
}

/// A raw without its JPEG is told; a JPEG without its raw is a reason to look. Neither moves the frame from
/// its slot, wherever the files lie.
#[test]
fn a_companion_that_is_not_there_is_told() {
    for (a, b) in [("a/DCIM/100WEIRS", "b/DCIM/100WEIRS"), ("a/raw", "a/jpg"), ("a", "a")] {
        let dir = temp();
        let (raw_folder, jpeg_folder) = (dir.path().join(a), dir.path().join(b));
        raws(&raw_folder, 1, 0, 40);
        shoot(&jpeg_folder, "WEIR", 1, (0, 40), 5.0);
        let roots: &[&str] = if b.starts_with('a') { &["a"] } else { &["a", "b"] };
        fs::remove_file(jpeg_folder.join("WEIR0007.JPG")).expect("removed");
        let (report, told) = audited(dir.path(), roots, &["--frames", "40"]);
        assert_eq!(counts(&report), [40, 40, 0, 0], "{a} {b}: {}", out(&told));
        let found = report.findings("damaged-frame");
        assert_eq!((found.len(), &found[0]["severity"]), (1, &"note".into()), "{}", out(&told));
        assert!(found[0]["first_file"].as_str().is_some_and(|f| f.ends_with("WEIR0007.NEF")));
        assert_eq!(report.json()["verdict"]["call"], "clear");
        fs::remove_file(raw_folder.join("WEIR0020.NEF")).expect("removed");
        let (report, told) = audited(dir.path(), roots, &["--frames", "40"]);
        assert_eq!(counts(&report), [40, 40, 0, 0], "{a} {b}: {}", out(&told));
        assert_eq!(report.findings("damaged-frame").len(), 2);
        assert_eq!(report.json()["verdict"]["call"], "look", "{}", out(&told));
        let row = &report.rows("frames.csv")[19];
        assert!(
            row["file"].ends_with("WEIR0020.JPG") && row["findings"].contains("damaged-frame"),
            "{row:?}"
        );
    }
}
