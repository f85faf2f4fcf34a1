//! What a client keeps: the manifest that standard tools accept, `verify`, the page without places, and the
//! metadata of the CSV files.

use crate::support::run::{LIST, Report, code, copy, err, lapseproof, out, put, temp};
use crate::support::skip::{Why, skipped};
use std::fs;
use std::path::Path;
use std::process::Command;

/// A sample laid out below `dir`, with what the client's page says in its plan, and delivered to `dir/out`.
fn delivered(dir: &Path, sample: &str) -> Report {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    copy(&home.join("sample-sequences").join(sample), &dir.join("shoot"));
    let plan = dir.join("shoot/plan.toml");
    let told = fs::read_to_string(&plan).expect("a plan");
    let more = "[delivery]\ntitle = \"<b>Tide</b> & \\\"quay\\\"\"\nscenario = \"=Line one\\nLine \
                two\"\ncontact = [\"Studio Example\", \"desk@studio.example\"]\n";
    assert!(told.contains("[delivery]\n"));
    fs::write(&plan, told.replacen("[delivery]\n", more, 1)).expect("written");
    let told = lapseproof(dir, &["audit", "shoot", "--deliver", "--out", "out", "--fail-on", "never"]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    Report::of(dir.join("out"))
}

fn verify(dir: &Path, args: &[&str]) -> (Option<i32>, String) {
    let told = lapseproof(dir, &[&["verify"], args].concat());
    (code(&told), out(&told))
}

/// A file under another name is told as one file, and a folder in the manifest's place gets its remedy.
#[test]
fn a_renamed_file_is_one_file() {
    let dir = temp();
    let report = delivered(dir.path(), "harbour-falling-tide");
    let shoot = dir.path().join("shoot");
    put(&shoot, "manifest-sha256.txt", report.bytes("manifest-sha256.txt"));
    fs::rename(shoot.join("frames/TIDE0020.JPG"), shoot.join("frames/DAWN.JPG")).expect("renamed");
    fs::remove_file(shoot.join("frames/TIDE0030.JPG")).expect("removed");
    let (rc, told) = verify(dir.path(), &["shoot/manifest-sha256.txt"]);
    assert_eq!(rc, Some(1));
    assert!(told.starts_with("DIFFERENT: 1 vanished, 1 renamed; 178 of 180"), "{told}");
    assert!(told.contains("  renamed       frames/TIDE0020.JPG, now frames/DAWN.JPG\n"), "{told}");
    for (args, remedy) in [
        (&["shoot"][..], "lapseproof verify shoot/manifest-sha256.txt"),
        (&["shoot/frames"], "lapseproof verify MANIFEST shoot/frames"),
        (&["shoot", "out"], "lapseproof compare shoot out"),
    ] {
        let told = lapseproof(dir.path(), &[&["verify"], args].concat());
        assert!(code(&told) == Some(2) && err(&told).contains(remedy), "{}", err(&told));
    }
}

/// GNU coreutils' own check, where it is installed; else a word that it was skipped.
fn sha256sum(dir: &Path, list: &str) -> Option<bool> {
    match Command::new("sha256sum").args(["-c", "--strict", "--quiet", list]).current_dir(dir).output() {
        Ok(told) => Some(told.status.success()),
        Err(_) => {
            skipped(Why::Unable, "there is no sha256sum here");
            None
        }
    }
}

#[test]
fn the_manifest_is_accepted_and_every_difference_is_told() {
    let dir = temp();
    let report = delivered(dir.path(), "harbour-falling-tide");
    let shoot = dir.path().join("shoot");
    put(&shoot, "manifest-sha256.txt", report.bytes("manifest-sha256.txt"));
    assert_eq!(report.text("manifest-sha256.txt").lines().count(), 180);
    assert_ne!(sha256sum(&shoot, "manifest-sha256.txt"), Some(false));
    let (rc, told) = verify(dir.path(), &["shoot/manifest-sha256.txt"]);
    assert_eq!((rc, told.starts_with("SAME: all 180 files")), (Some(0), true), "{told}");
    // The manifest where the report is, the frames where they are.
    assert_eq!(verify(dir.path(), &["out/manifest-sha256.txt", "shoot"]).0, Some(0));

    // Where the report is no frame lies: that is no loss, and the remedy is named.
    let (rc, told) = verify(dir.path(), &["out/manifest-sha256.txt"]);
    assert_eq!((rc, told.contains("vanished")), (Some(2), false), "{told}");

    let name = |n: u32| shoot.join(format!("frames/TIDE{n:04}.JPG"));
    let mut bytes = fs::read(name(20)).expect("a frame");
    *bytes.last_mut().expect("bytes") ^= 1;
    fs::write(name(20), bytes).expect("written");
    fs::remove_file(name(30)).expect("removed");
    fs::copy(name(40), shoot.join("frames/TIDE0999.JPG")).expect("copied");
    assert_ne!(sha256sum(&shoot, "manifest-sha256.txt"), Some(true));
    let (rc, told) = verify(dir.path(), &["shoot/manifest-sha256.txt"]);
    assert_eq!(rc, Some(1));
    assert!(told.starts_with("DIFFERENT: 1 changed, 1 vanished, 1 added; 178 of 180"), "{told}");
    for line in [
        "changed       frames/TIDE0020.JPG",
        "vanished      frames/TIDE0030.JPG",
        "added         frames/TIDE0999.JPG",
    ] {
        assert!(told.contains(line), "{line} in {told}");
    }
    assert_eq!(verify(dir.path(), &["shoot/manifest-sha256.txt", "--quiet"]).1.lines().count(), 1);
}

/// A page or a manifest of another run does not pass for this one's.
#[test]
fn what_belongs_together_is_listed_and_held_to() {
    let dir = temp();
    let report = delivered(dir.path(), "harbour-falling-tide");
    assert_ne!(sha256sum(&dir.path().join("out"), LIST), Some(false));
    assert_eq!(report.text(LIST).lines().count(), 13);
    let page = report.bytes("delivery.html");
    let patches = report.bytes("patch.csv");
    assert!(report.text("delivery.html").contains(&hex(&patches)), "the page names the sum of patch.csv");
    let check = || verify(dir.path(), &["out/manifest-sha256.txt", "shoot"]);
    assert_eq!(check().0, Some(0));
    put(dir.path(), "out/delivery.html", [&page[..], b"<!-- of another day -->"].concat());
    let (rc, told) = check();
    assert!(rc == Some(1) && told.contains("another run   delivery.html"), "{told}");
    put(dir.path(), "out/delivery.html", &page);
    // A later audit leaves the delivery where it is, and says that it is of an earlier run.
    let args = ["audit", "shoot", "--out", "out", "--fail-on", "never", "--quiet"];
    let told = lapseproof(dir.path(), &args);
    assert!(
        err(&told).contains("of an earlier run, and no part of this one: delivery.html, manifest"),
        "{}",
        err(&told)
    );
    assert_eq!(report.bytes("delivery.html"), page);
    assert_eq!(report.text(LIST).lines().filter(|l| l.starts_with('#')).count(), 5, "{}", report.text(LIST));
    // The next delivery takes its place.
    let told = lapseproof(dir.path(), &[&args[..], &["--deliver"]].concat());
    assert!(code(&told) == Some(0) && err(&told).is_empty(), "{}", err(&told));
    assert!(!report.text(LIST).contains('#'));
    // While a run changes the files they are not compared with one another.
    put(dir.path(), "out/.lapseproof.change", "");
    let told = lapseproof(dir.path(), &["verify", "out/manifest-sha256.txt", "shoot"]);
    assert!(code(&told) == Some(2) && err(&told).contains("Run the audit again"), "{}", err(&told));
}

/// Something else that bears an output's name is found before the first frame is read.
#[test]
fn a_file_of_somebody_elses_is_refused_before_the_reading() {
    let dir = temp();
    put(dir.path(), "out/summary.txt", "my notes");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences/harbour-falling-tide");
    let args = ["audit", sample.to_str().expect("text"), "--out", "out"];
    let told = lapseproof(dir.path(), &args);
    assert!(code(&told) == Some(2) && err(&told).contains("no audit wrote"), "{}", err(&told));
    assert_eq!(fs::read(dir.path().join("out/summary.txt")).expect("there"), b"my notes");
    assert_eq!(fs::read_dir(dir.path().join("out")).expect("there").count(), 1);
}

fn hex(bytes: &[u8]) -> String {
    use sha2::{Digest as _, Sha256};
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The manifest does not depend on the threads, and names odd files as GNU coreutils does.
#[cfg(unix)]
#[test]
fn odd_names_and_threads() {
    let dir = temp();
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let frames = home.join("sample-sequences/harbour-falling-tide/frames");
    for (n, name) in [
        "a\\b.JPG",
        "new\nline.JPG",
        "cr\rx.JPG",
        "100%25.JPG",
        " lead.JPG",
        "*star.JPG",
        "~root.JPG",
        "C:\\x.JPG",
        "DCIM\\../x.JPG",
    ]
    .iter()
    .enumerate()
    {
        put(
            &dir.path().join("odd"),
            name,
            fs::read(frames.join(format!("TIDE{:04}.JPG", 20 + n))).expect("a frame"),
        );
    }
    let mut all = Vec::new();
    for jobs in ["1", "3"] {
        let args = ["audit", "odd", "--deliver", "--out", jobs, "--jobs", jobs, "--fail-on", "never"];
        let told = lapseproof(dir.path(), &args);
        assert_eq!(code(&told), Some(0), "{}", err(&told));
        let report = Report::of(dir.path().join(jobs));
        all.push(["manifest-sha256.txt", "delivery.html", "patch.csv"].map(|name| report.bytes(name)));
    }
    assert_eq!(all[0], all[1]);
    let page = String::from_utf8(all[0][1].clone()).expect("UTF-8");
    assert!(page.contains("cannot serve as the manifest of a BagIt bag"), "the page says so");
    assert!(!page.contains("odd"), "the folder's name is not the client's");
    let odd = dir.path().join("odd");
    put(&odd, "manifest-sha256.txt", &all[0][0]);
    assert_ne!(sha256sum(&odd, "manifest-sha256.txt"), Some(false));
    assert_eq!(verify(dir.path(), &["odd/manifest-sha256.txt"]).0, Some(0));
}

/// A name that turns a line round, hides or begins a formula does so in no output, and JSON readers get it as
/// it is.
#[test]
fn names_do_nothing_in_any_output() {
    let dir = temp();
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let frames = home.join("sample-sequences/harbour-falling-tide/frames");
    let names = [
        "A\u{202E}B.JPG",
        "A\u{AD}C.JPG",
        "A\u{3164}D.JPG",
        "A\u{E0041}E.JPG",
        "A;=1+1.JPG",
        "A\u{180E}F.JPG",
    ];
    for (n, name) in names.iter().enumerate() {
        put(
            &dir.path().join("odd"),
            name,
            fs::read(frames.join(format!("TIDE{:04}.JPG", 20 + n))).expect("a frame"),
        );
    }
    let args = ["audit", "odd", "--deliver", "--out", "out", "--fail-on", "never", "--format", "json"];
    let told = lapseproof(dir.path(), &args);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    let report = Report::of(dir.path().join("out"));
    let texts = [
        "report.html",
        "summary.txt",
        "audit.json",
        "frames.csv",
        "findings.csv",
        "delivery.html",
        "patch.csv",
    ];
    let texts = texts.map(|name| report.text(name)).into_iter().chain([out(&told), err(&told)]);
    for text in texts {
        let acts = |c: char| matches!(c, '\u{202E}' | '\u{AD}' | '\u{3164}' | '\u{E0041}' | '\u{180E}');
        assert!(!text.contains(acts), "{text}");
    }
    assert!(report.text("frames.csv").contains("A;'=1+1.JPG"));
    let json = report.json().to_string();
    assert!(json.contains('\u{202E}') || !report.text("audit.json").contains("202e"), "escaped, not changed");
}

/// RFC 8493: the payload below `data/`, `%0A` for a line feed; a bag's manifest is complete, so any other
/// file was added.
#[test]
fn a_bag_is_verified_whole() {
    let dir = temp();
    let hash = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    put(dir.path(), "bag/bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    put(dir.path(), "bag/data/100%.txt", "abc");
    put(dir.path(), "bag/manifest-sha256.txt", format!("{hash}  data/100%25.txt\n"));
    assert_eq!(verify(dir.path(), &["bag/manifest-sha256.txt"]).0, Some(0));
    put(dir.path(), "bag/data/notes.txt", "abc");
    let (rc, told) = verify(dir.path(), &["bag/manifest-sha256.txt"]);
    assert!(rc == Some(1) && told.contains("added         data/notes.txt"), "{told}");
}

/// A frame that was named by a link stands in no manifest: it would not be verified.
#[cfg(unix)]
#[test]
fn a_frame_that_is_a_link_is_not_delivered() {
    let dir = temp();
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let frames = home.join("sample-sequences/harbour-falling-tide/frames");
    for n in 20..32 {
        let name = format!("TIDE{n:04}.JPG");
        put(dir.path(), format!("tide/{name}"), fs::read(frames.join(&name)).expect("a frame"));
    }
    fs::create_dir(dir.path().join("store")).expect("made");
    fs::rename(dir.path().join("tide/TIDE0025.JPG"), dir.path().join("store/A.JPG")).expect("renamed");
    std::os::unix::fs::symlink("../store/A.JPG", dir.path().join("tide/TIDE0025.JPG")).expect("a link");
    let names: Vec<String> = (20..32).map(|n| format!("tide/TIDE{n:04}.JPG")).collect();
    let mut args = vec!["audit", "--out", "out", "--deliver", "--fail-on", "never"];
    args.extend(names.iter().map(String::as_str));
    let told = lapseproof(dir.path(), &args);
    assert!(code(&told) == Some(2) && err(&told).contains("it is a link"), "{}", err(&told));
    let report = Report::of(dir.path().join("out"));
    assert_eq!(report.text("manifest-sha256.txt").lines().count(), 11);
    assert!(report.text("delivery.html").contains("Not whole"));
}

/// What lies behind a link is not what lies in the folder: the bytes may be the same today and gone tomorrow.
#[cfg(unix)]
#[test]
fn links_are_told_and_not_followed() {
    let dir = temp();
    let hash = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    put(dir.path(), "other/A.JPG", "abc");
    put(dir.path(), "in/100WEIR/B.JPG", "abc");
    put(
        dir.path(),
        "in/manifest-sha256.txt",
        format!("{hash}  101WEIR/A.JPG\n{hash}  C.JPG\n{hash}  100WEIR/B.JPG\n"),
    );
    std::os::unix::fs::symlink("../other", dir.path().join("in/101WEIR")).expect("a link");
    std::os::unix::fs::symlink("100WEIR/B.JPG", dir.path().join("in/C.JPG")).expect("a link");
    let (rc, told) = verify(dir.path(), &["in/manifest-sha256.txt"]);
    assert_eq!(rc, Some(1), "{told}");
    assert!(told.starts_with("DIFFERENT: 2 replaced by a link; 1 of 3"), "{told}");
    assert!(told.contains("101WEIR/A.JPG: 101WEIR is a link and was not followed"), "{told}");
    assert!(told.contains("C.JPG: C.JPG is a link and was not followed"), "{told}");
    // The folder itself may be named by a link.
    std::os::unix::fs::symlink("in", dir.path().join("named")).expect("a link");
    assert_eq!(verify(dir.path(), &["in/manifest-sha256.txt", "named"]).1, told);
}

#[test]
fn a_manifest_that_leads_out_or_is_none_is_no_success() {
    let dir = temp();
    let hash = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    put(dir.path(), "secret", "abc");
    put(dir.path(), "in/manifest-sha256.txt", format!("{hash}  ../secret\n"));
    let (rc, told) = verify(dir.path(), &["in/manifest-sha256.txt"]);
    assert!(rc == Some(2) && told.contains("leads out of the folder"), "{told}");
    put(dir.path(), "in/notes.txt", "no manifest\n");
    for args in [&["in/notes.txt"][..], &["in/gone.txt"], &["in/manifest-sha256.txt", "nowhere"]] {
        let told = lapseproof(dir.path(), &[&["verify"], args].concat());
        assert_eq!(code(&told), Some(2), "{args:?}");
        assert!(out(&told).is_empty() && err(&told).contains("Name "), "{}", err(&told));
    }
}

/// No folder, no serial number, no place; titles and names are text.
#[test]
fn the_clients_page_keeps_places_and_serials_to_itself() {
    let dir = temp();
    for sample in ["glasshouse-night", "building-site-copy"] {
        let at = dir.path().join(sample);
        fs::create_dir(&at).expect("made");
        let report = delivered(&at, sample);
        let page = report.text("delivery.html");
        assert!(page.contains("&lt;b&gt;Tide&lt;/b&gt; &amp; &quot;quay&quot;") && !page.contains("<b>Tide"));
        assert!(page.contains("<p>=Line one</p><p>Line two</p>") && page.contains("desk@studio.example"));
        assert!(page.contains("default-src 'none'"));
        // A contact sheet, the verdict in a sentence, and a line to sign.
        assert_eq!(page.matches("data:image/jpeg").count(), 24, "{sample}");
        assert!(page.contains("Not met: ") && page.contains("Accepted by (name)"), "{sample}");
        for text in [page, report.text("patch.csv")] {
            let here = at.canonicalize().expect("there").display().to_string();
            assert!(!text.contains("frames/") && !text.contains(&here), "{sample}");
            for row in report.rows("frames.csv") {
                assert!(row["serial"].is_empty() || !text.contains(&row["serial"]), "{sample}");
            }
        }
    }
}

/// W3C "Metadata Vocabulary for Tabular Data" (2015): every cell is of the datatype that the metadata gives
/// its column.
#[test]
fn cells_are_what_the_metadata_says() {
    let dir = temp();
    for sample in ["glasshouse-night", "valley-day-to-night"] {
        let at = dir.path().join(sample);
        fs::create_dir(&at).expect("made");
        let report = delivered(&at, sample);
        for file in ["frames.csv", "findings.csv", "levels.csv", "patch.csv"] {
            let told: serde_json::Value =
                serde_json::from_slice(&report.bytes(&format!("{file}-metadata.json"))).expect("JSON");
            assert_eq!(
                (&told["@context"], &told["url"]),
                (&"http://www.w3.org/ns/csvw".into(), &file.into())
            );
            let columns = told["tableSchema"]["columns"].as_array().expect("columns");
            let text = report.text(file);
            let names: Vec<_> = columns.iter().map(|c| c["name"].as_str().expect("a name")).collect();
            assert_eq!(text.lines().next().expect("a header"), names.join(","));
            for row in report.rows(file) {
                for column in columns {
                    let name = column["name"].as_str().expect("a name");
                    let cell = &row[name];
                    let fits = cell.is_empty()
                        || match column["datatype"].as_str() {
                            Some("integer") => cell.parse::<i64>().is_ok(),
                            Some("decimal") => cell.parse::<f64>().is_ok() && !cell.contains(['e', 'E', 'N']),
                            Some("dateTime") => {
                                cell.parse::<jiff::civil::DateTime>().is_ok() && cell.contains('T')
                            }
                            Some("string") => true,
                            _ => {
                                cell.len() == 6 && cell.starts_with(['+', '-']) && cell.as_bytes()[3] == b':'
                            }
                        };
                    assert!(fits, "{sample}, {file}, {name}: {cell}");
                }
            }
        }
    }
}
