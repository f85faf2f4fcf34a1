//! Pictures that declare more than any machine should give: the audit ends with a report, names each with its
//! reason, takes little memory, and says the same on any number of threads. `tests/attack/pictures.py FOLDER`
//! prints what such files cost.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use crate::support::bombs::{self, png, profile};
use crate::support::run::{Report, err, put, temp};
use crate::support::shoot::shoot;

/// KiB of addresses that the audit may take. The pictures below would take gigabytes each.
const MOST_ADDRESSES: u32 = 2_000_000;

/// Audits `dir/card` into `dir/OUT`, on Linux within [`MOST_ADDRESSES`].
fn audited(dir: &Path, out: &str, more: &[&str]) -> (Output, Report) {
    let limited = cfg!(target_os = "linux");
    let script = match limited {
        true => format!("ulimit -v {MOST_ADDRESSES} && exec \"$0\" \"$@\""),
        false => "exec \"$0\" \"$@\"".to_owned(),
    };
    let output = Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_lapseproof"), "audit", "card", "--out", out])
        .args(more)
        .current_dir(dir)
        .stdin(Stdio::null())
        .output()
        .expect("a shell");
    let code = output.status.code();
    assert!(matches!(code, Some(0..=2)), "{more:?} ended with {:?}: {}", output.status, err(&output));
    (output, Report::of(dir.join(out)))
}

/// The notes of `frames.csv`, by file.
fn notes(report: &Report) -> BTreeMap<String, String> {
    report.rows("frames.csv").into_iter().map(|row| (row["file"].clone(), row["note"].clone())).collect()
}

/// The messages of all findings.
fn messages(report: &Report) -> String {
    report.rows("findings.csv").into_iter().map(|row| row["message"].clone() + "\n").collect()
}

#[test]
fn each_is_told_by_name_with_its_reason_and_the_rest_is_audited() {
    let dir = temp();
    let card = dir.path().join("card");
    shoot(&card, "WEIR", 1, (0, 40), 5.0);
    let bombs = bombs::all();
    for (name, bytes, _) in &bombs {
        assert!(bytes.len() < 100_000, "{name} is no small file");
        for copy in 0..3 {
            put(&card.join(format!("{copy}")), name, bytes);
        }
    }
    for pictures in ["thumb", "full"] {
        let (_, one) = audited(dir.path(), "one", &["--jobs", "1", "--pictures", pictures, "--quiet"]);
        let (_, two) = audited(dir.path(), "two", &["--jobs", "2", "--pictures", pictures, "--quiet"]);
        assert!(one.all() == two.all(), "{pictures}: threads show");
        let notes = notes(&one);
        assert!(notes.contains_key("WEIR0040.JPG"), "{notes:?}");
        for (name, _, reason) in &bombs {
            for copy in 0..3 {
                let note = &notes[&format!("{copy}/{name}")];
                // Where the whole picture is asked for and decodes, nobody asks for its thumbnail.
                let unasked = pictures == "full" && *name == "thumbnail.jpg";
                assert!(note.contains(reason) || unasked, "{pictures} {copy}/{name}: {note}");
            }
        }
    }
}

/// Alone in a folder, each is a finding, in the report too.
#[test]
fn each_is_a_finding_of_its_own() {
    for (name, bytes, reason) in bombs::all() {
        let dir = temp();
        put(&dir.path().join("card"), name, &bytes);
        let (_, report) = audited(dir.path(), "out", &[]);
        let told = messages(&report);
        assert!(
            told.contains(&format!("{name} was not checked: ")) && told.contains(reason),
            "{name}: {told}"
        );
        for output in ["report.html", "summary.txt"] {
            let text = report.text(output);
            assert!(text.contains(name) && text.contains("was not checked"), "{name}: {output}");
        }
    }
}

/// A profile that unpacks to gigabytes is left alone, and the picture is looked at.
#[test]
fn a_profile_is_not_unpacked() {
    let dir = temp();
    // 49 rows of 81 bytes and more: the picture is whole.
    let bytes = png((80, 40), [8, 0, 0], &[profile(1_300_000_000)]);
    for name in ["A0001.PNG", "A0002.PNG"] {
        put(&dir.path().join("card"), name, &bytes);
    }
    let (_, report) = audited(dir.path(), "out", &["--pictures", "full", "--quiet"]);
    for (file, note) in notes(&report) {
        assert_eq!(note, "", "{file}");
    }
}

/// A file that is larger than what is read for one picture is told by its name, whatever it declares.
#[test]
fn a_file_that_is_too_large_to_be_read_is_told() {
    let dir = temp();
    let whole = png((80, 40), [8, 0, 0], &[]);
    for name in ["A0001.PNG", "A0002.PNG"] {
        put(&dir.path().join("card"), name, &whole);
    }
    let large = dir.path().join("card/A0002.PNG");
    // The bytes behind its end are a hole in the disk.
    fs::OpenOptions::new().write(true).open(large).and_then(|f| f.set_len(300 << 20)).expect("longer");
    for pictures in ["thumb", "full"] {
        let (_, report) = audited(dir.path(), pictures, &["--pictures", pictures, "--quiet"]);
        let told = messages(&report);
        let words = "A0002.PNG was not checked: its picture is a file of 300 MiB; at most 256 MiB are read";
        assert!(told.contains(words) && !told.contains("A0001.PNG was not"), "{pictures}: {told}");
    }
}

/// 64 by 48 pixels, and tables of codes for over a gigabyte.
#[test]
fn tables_of_codes_count_too() {
    let dir = temp();
    let bytes = bombs::webp_of_tables();
    assert!(bytes.len() < 5_000_000, "{}", bytes.len());
    for name in ["A0001.WEBP", "A0002.WEBP", "A0003.WEBP"] {
        put(&dir.path().join("card"), name, &bytes);
    }
    let (_, report) = audited(dir.path(), "out", &["--quiet"]);
    for (file, note) in notes(&report) {
        assert!(note.contains("its picture declares 64 × 48 pixels and would take"), "{file}: {note}");
    }
}

#[test]
fn sixteen_thumbnails_that_are_bombs() {
    let dir = temp();
    let (_, bytes, reason) = bombs::all().into_iter().find(|b| b.0 == "thumbnail.jpg").expect("there is one");
    for n in 1..=16 {
        put(&dir.path().join("card"), format!("WEIR{n:04}.JPG"), &bytes);
    }
    let (_, report) = audited(dir.path(), "out", &["--quiet"]);
    let notes = notes(&report);
    assert_eq!(notes.len(), 16);
    assert!(notes.values().all(|note| note.contains(reason)), "{notes:?}");
    assert!(messages(&report).contains("Another picture in its place was"), "{}", messages(&report));
}

/// The collected ones, where they are there.
#[test]
fn collected_files_are_told_too() {
    let Some(attack) = crate::support::attack() else { return };
    for entry in fs::read_dir(attack).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        if name.ends_with(".md") {
            continue;
        }
        let dir = temp();
        let bytes = fs::read(&path).expect("a readable file");
        for copy in 1..=4 {
            put(&dir.path().join("card"), format!("{copy}-{name}"), &bytes);
        }
        let (_, report) = audited(dir.path(), "out", &["--quiet"]);
        let told = notes(&report);
        assert_eq!(told.len(), 4);
        assert!(told.values().all(|note| note.contains("not checked: its ")), "{name}: {told:?}");
    }
}
