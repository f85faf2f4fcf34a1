//! Names and texts that would do harm where they are shown: escapes, formulas, markup, turned lines, bytes
//! that are no UTF-8.

#![cfg(unix)] // other systems refuse most of these names

use crate::support::run::{Report, code, err, lapseproof, out, put, temp};
use crate::support::shoot::frame;
use crate::support::writer::{Put, block, jpeg};
use std::ffi::OsStr;
use std::os::unix::ffi::OsStrExt;
use std::path::Path;

const NAMES: [&str; 12] = [
    "a\u{1b}[2J\u{1b}]0;owned\u{7}.JPG",
    "=HYPERLINK(\"x\",\"y\").JPG",
    "+1+1.JPG",
    "-2+3.JPG",
    "@SUM(1+1)*cmd.JPG",
    "<img src=x onerror=alert(1)>.JPG",
    "b\u{202E}GPJ.exe.JPG",
    "c\nline,\"two\".JPG",
    "\ttab.JPG",
    "\u{9b}31m.JPG",
    "d\u{200B}\u{2066}hidden.JPG",
    "`rm -rf`$(x);|&.JPG",
];

/// A folder whose frames have those names, each of them empty (so that a finding names it) with a whole frame
/// before it.
fn folder(dir: &Path) {
    for (i, name) in NAMES.iter().enumerate() {
        put(dir, name, b"");
        put(dir, format!("IMG_{i:04}.JPG"), frame(0.3 + 5.0 * i as f64));
    }
    // The camera's own words are no better than a name.
    let exif = [(0x9003, Put::Ascii("2026:05:09 04:20:00")), (0xA431, Put::Ascii("=1+1\u{1b}[1m"))];
    let camera = [(0x010F, Put::Ascii("=cmd|' /C calc'!A0")), (0x0110, Put::Ascii("\u{1b}[31mONE\u{202E}"))];
    put(dir, "IMG_0100.JPG", jpeg(&block(&camera, &exif), 500));
}

/// Characters that move a cursor, ring a bell, turn a line round or are not seen.
fn harmful(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}')
        || matches!(c, '\u{2060}'..='\u{206F}' | '\u{FEFF}')
}

fn inert(text: &str) {
    for line in text.split('\n') {
        assert!(!line.contains(harmful), "{line:?}");
    }
}

#[test]
fn names_are_inert_in_every_output() {
    let dir = temp();
    folder(&dir.path().join("weir"));
    put(dir.path(), "weir/plan.toml", "name = \"=1+1\\u001B[2J\\u202E\"\ninterval = 5\n");
    let told = lapseproof(dir.path(), &["audit", "weir", "--out", "out", "--verbose"]);
    assert_eq!(code(&told), Some(1), "{}", err(&told));
    let report = Report::of(dir.path().join("out"));
    for text in [out(&told), err(&told), report.text("summary.txt")] {
        inert(&text);
    }
    assert!(out(&told).contains("\\u{1B}[2J"), "{}", out(&told));

    // In JSON a name is exact, and its controls are escaped (RFC 8259, 7).
    let raw = report.text("audit.json");
    assert!(!raw.chars().any(|c| c.is_ascii_control() && c != '\n'));
    let json = report.json();
    let named: Vec<&str> =
        json["findings"].as_array().into_iter().flatten().filter_map(|f| f["first_file"].as_str()).collect();
    assert!(named.iter().any(|n| NAMES.contains(n)), "{named:?}");

    for name in ["frames.csv", "findings.csv"] {
        let rows = report.rows(name);
        assert!(!rows.is_empty());
        for (column, cell) in rows.iter().flatten() {
            // Where a number stands it may be negative.
            let number = cell.parse::<f64>().is_ok();
            let runs =
                cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) && !number && column != "utc_offset";
            assert!(!runs, "{name}, {column}: {cell:?}");
            assert!(
                !cell.chars().any(|c| harmful(c) && !matches!(c, '\n' | '\t')),
                "{name}, {column}: {cell:?}"
            );
        }
    }
    // Every file has its row, by a name that tells it from the others.
    let rows = report.rows("frames.csv");
    let mut files: Vec<_> =
        rows.iter().filter(|r| r["state"] != "missing").map(|r| r["file"].clone()).collect();
    assert_eq!(files.len(), 2 * NAMES.len() + 1);
    files.sort();
    files.dedup();
    assert_eq!(files.len(), 2 * NAMES.len() + 1);
}

#[test]
fn a_folder_of_such_a_name_gives_a_plain_report_folder() {
    let dir = temp();
    let name = "we\u{1b}[2Jir <b>\u{202E}:|?";
    for i in 0..8 {
        put(dir.path(), format!("{name}/IMG_{i:04}.JPG"), frame(0.3 + 5.0 * f64::from(i)));
    }
    let told = lapseproof(dir.path(), &["audit", name]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    inert(&out(&told));
    inert(&err(&told));
    let made: Vec<_> = std::fs::read_dir(dir.path().join("reports")).expect("made").collect();
    let made = made[0].as_ref().expect("an entry").file_name().to_string_lossy().into_owned();
    assert!(!made.contains(|c: char| harmful(c) || "<>:\"/\\|?*[".contains(c)), "{made:?}");
    // And where it is not there at all.
    let told = lapseproof(dir.path(), &["audit", "no\u{1b}[2Jwhere"]);
    assert_eq!(code(&told), Some(2));
    inert(&err(&told));
    let told = lapseproof(dir.path(), &["audit", name, "--plan", "no\u{1b}[2Jwhere"]);
    assert_eq!(code(&told), Some(2));
    inert(&err(&told));
}

/// Bytes that are no UTF-8 are written `\xNN`, so that no two files share a name; the frames are read like
/// any other.
#[test]
fn names_that_are_no_utf_8_are_told_apart() {
    let dir = temp();
    let weir = dir.path().join("weir");
    for i in 0..10_u8 {
        let name = [b"IMG_".as_slice(), &[0xF0 + i], b".JPG"].concat();
        put(&weir, OsStr::from_bytes(&name), frame(0.3 + 5.0 * f64::from(i)));
    }
    let told = lapseproof(dir.path(), &["audit", "weir", "--interval", "5s", "--frames", "10"]);
    assert_eq!(code(&told), Some(0), "{}{}", out(&told), err(&told));
    let report = Report::of(dir.path().join("reports/weir"));
    let rows = report.rows("frames.csv");
    assert_eq!(rows.len(), 10);
    for (i, row) in rows.iter().enumerate() {
        assert_eq!(row["file"], format!("IMG_\\x{:02X}.JPG", 0xF0 + i));
        assert_eq!(row["slot"], i.to_string());
    }
    assert_eq!(report.json()["verdict"]["usable"]["first_file"], "IMG_\\xF0.JPG");
}
