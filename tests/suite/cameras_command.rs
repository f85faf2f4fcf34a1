//! Several cameras through the binary: files in, every output out.

use crate::support::run::{OUTPUTS, Report, code, err, lapseproof, out, put, temp};
use crate::support::schema::wrong;
use crate::support::writer::{Put, block, jpeg};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// A frame of a camera, shot so many seconds after 04:10:00 of its clock.
fn frame(model: &str, seconds: u32, own: u32) -> Vec<u8> {
    let s = 4 * 3600 + 600 + seconds;
    let stamp = format!("2026:05:09 {:02}:{:02}:{:02}", s / 3600 % 24, s / 60 % 60, s % 60);
    let exif = [
        (0x829A, Put::Ratio(1, 60)),
        (0x829D, Put::Ratio(8, 1)),
        (0x8827, Put::Short(&[200])),
        (0x9003, Put::Ascii(&stamp)),
        // A different picture each time: no two frames are copies of one another.
        (0x9286, Put::Long(own)),
    ];
    jpeg(&block(&[(0x010F, Put::Ascii("ACME")), (0x0110, Put::Ascii(model))], &exif), 600)
}

/// Frames every 5 s, without those of the slots that are missing; the numbers run on.
fn shoot(folder: &Path, letters: &str, model: &str, ahead: u32, count: u32, missing: &[u32]) {
    for (n, slot) in (0..count).filter(|k| !missing.contains(k)).enumerate() {
        let own = slot * 10 + model.len() as u32 + u32::from(letters.as_bytes()[0]) * 100_000;
        put(folder, format!("{letters}{:04}.JPG", n + 1), frame(model, ahead + slot * 5, own));
    }
}

fn two(dir: &Path, missing_a: &[u32], missing_b: &[u32]) {
    shoot(&dir.join("a"), "WEIR", "ACME ONE", 0, 60, missing_a);
    shoot(&dir.join("b"), "BANK", "ACME TWO!", 37, 60, missing_b);
}

fn audited(dir: &Path, frames: &[&str], more: &[&str]) -> (Report, std::process::Output) {
    let _ = fs::remove_dir_all(dir.join("out"));
    let args: Vec<&str> = [&["audit"], frames, &["--out", "out"], more].concat();
    let told = lapseproof(dir, &args);
    (Report::of(dir.join("out")), told)
}

fn schema() -> Value {
    let told = lapseproof(Path::new(env!("CARGO_MANIFEST_DIR")), &["explain", "--schema"]);
    serde_json::from_str(&out(&told)).expect("it is JSON")
}

#[test]
fn both_good_is_clear_and_one_bad_is_not() {
    let dir = temp();
    two(dir.path(), &[], &[]);
    let (report, told) = audited(dir.path(), &["a", "b"], &[]);
    assert_eq!(code(&told), Some(0), "{}", out(&told));
    let json = report.json();
    assert_eq!(json["verdict"]["call"], "clear");
    assert_eq!(json["cameras"].as_array().map(Vec::len), Some(2));
    assert!(out(&told).starts_with("CLEAR: "));

    for file in [24, 25, 26, 27] {
        fs::remove_file(dir.path().join(format!("b/BANK{file:04}.JPG"))).expect("removed");
    }
    for (plan, roots) in [(&[][..], ["a", "b"]), (&["--interval=5s", "--frames=60"], ["a", "b"])] {
        let (report, told) = audited(dir.path(), &roots, plan);
        assert_eq!(code(&told), Some(1), "{}", out(&told));
        let json = report.json();
        assert_eq!(json["verdict"]["call"], "hold");
        assert_eq!(json["cameras"][0]["verdict"]["call"], "clear");
        let b = &json["cameras"][1];
        assert_eq!(
            (&b["letter"], &b["model"], &b["verdict"]["call"]),
            (&"B".into(), &"ACME TWO!".into(), &"hold".into())
        );
        let finding = b["findings"].as_array().expect("a list").iter().find(|f| f["check"] == "missing-slot");
        let finding = finding.expect("it is told");
        assert_eq!((&finding["count"], &finding["first_file"]), (&4.into(), &"BANK0023.JPG".into()));
        assert_eq!((&finding["last_file"], &finding["cause"]), (&"BANK0028.JPG".into(), &"file-lost".into()));
        assert_eq!(b["holes"][0]["slot"], 23, "slots count from 0 in each camera");
        let hole = &json["together"]["holes"][0];
        assert_eq!((&hole["whose"], &hole["files_lost"]), (&"camera".into(), &true.into()));
        // Counts of all are those of each, added up.
        for key in ["frames", "slots", "missing", "surplus", "damaged", "outside"] {
            let sum: u64 = (0..2).map(|n| json["cameras"][n]["counts"][key].as_u64().expect(key)).sum();
            assert_eq!(json["counts"][key], sum, "{key}");
        }
        let checks = |json: &Value| -> Vec<String> {
            let all = json["judgements"].as_array().expect("a list");
            all.iter().map(|j| format!("{} {}", j["check"], j["answer"])).collect()
        };
        assert!(checks(&json).contains(&"\"missing-slot\" \"found\"".to_owned()), "as at the worst camera");
        assert!(checks(&json["cameras"][0]).contains(&"\"missing-slot\" \"clear\"".to_owned()));
    }
}

#[test]
fn the_record_is_what_the_schema_says_for_one_and_for_several() {
    let dir = temp();
    two(dir.path(), &[10, 11], &[10, 11, 40]);
    let schema = schema();
    let (report, _) = audited(dir.path(), &["a", "b"], &[]);
    let json = report.json();
    assert_eq!(wrong(&schema, &json), [] as [String; 0]);
    let (one, _) = audited(dir.path(), &["a"], &[]);
    let one = one.json();
    assert_eq!(wrong(&schema, &one), [] as [String; 0]);
    assert!(one["cameras"].is_null() && one["together"].is_null());
    let keys = |of: &Value| of.as_object().expect("an object").keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&json), keys(&one), "no key is left out");
    // The screen has room for each camera's places.
    let (_, told) = audited(dir.path(), &["a", "b"], &[]);
    let screen = out(&told);
    assert_eq!(screen.matches("missing-slot: ").count(), 2, "{screen}");
    assert!(!screen.contains("more incident"), "{screen}");
    // A camera's record says what its own audit says.
    for key in ["verdict", "counts", "cadence", "stretches", "holes", "findings", "judgements"] {
        assert_eq!(json["cameras"][0][key], one[key], "{key}");
    }
    let clock = &json["together"]["clocks"][0];
    assert_eq!((&clock["camera"], &clock["against"]), (&1.into(), &0.into()));
    assert!((clock["ahead_s"].as_f64().expect("known") - 37.0).abs() <= 1.0);
    assert_eq!(clock["strength"], "sure");
    let whose: Vec<_> =
        json["together"]["holes"].as_array().expect("a list").iter().map(|h| h["whose"].clone()).collect();
    assert_eq!(whose, ["controller", "camera"]);
    assert_eq!(json["verdict"]["causes"][0]["code"], "controller-missed");
}

/// Both stand for 13 s after their 30th frame, and the second one for 17 s more after its 45th.
#[test]
fn stops_of_both_cameras_and_of_one_are_in_every_output() {
    let dir = temp();
    for (folder, letters, model, ahead, own) in
        [("a", "WEIR", "ACME ONE", 0, 0), ("b", "BANK", "ACME TWO!", 37, 17)]
    {
        for k in 0..80_u32 {
            let stood = 13 * u32::from(k >= 30) + own * u32::from(k >= 45);
            let print = k * 10 + model.len() as u32 + u32::from(letters.as_bytes()[0]) * 100_000;
            let bytes = frame(model, ahead + k * 5 + stood, print);
            put(&dir.path().join(folder), format!("{letters}{:04}.JPG", k + 1), bytes);
        }
    }
    let (report, told) = audited(dir.path(), &["a", "b"], &[]);
    let json = report.json();
    assert_eq!(wrong(&schema(), &json), [] as [String; 0]);
    let stops = json["together"]["stops"].as_array().expect("a list").clone();
    let shared: Value = serde_json::json!([{"camera": 0, "pause_s": 13.0}, {"camera": 1, "pause_s": 13.0}]);
    let [both, own] = stops.as_slice() else { panic!("{stops:?}") };
    assert_eq!((&both["whose"], &both["at"]), (&"controller".into(), &"2026-05-09T04:12:25".into()));
    assert_eq!((&both["stood"], &both["fired"]), (&shared, &serde_json::json!([])));
    assert_eq!((&own["whose"], &own["at"]), (&"camera".into(), &"2026-05-09T04:14:30".into()));
    assert_eq!(
        (&own["stood"], &own["fired"]),
        (&serde_json::json!([{"camera": 1, "pause_s": 17.0}]), &serde_json::json!([0]))
    );
    let causes = json["verdict"]["causes"].as_array().expect("a list");
    assert_eq!(
        (&causes[0]["code"], &causes[1]["code"]),
        (&"controller-stood".into(), &"camera-stood".into())
    );
    let page = fs::read_to_string(dir.path().join("out/report.html")).expect("written");
    for words in [
        "Cameras A and B both stood for 13 s after 04:12:25 on camera A",
        "Camera B alone stood for 17 s after 04:14:30 on camera B",
    ] {
        let summary = out(&told).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(summary.contains(words), "{summary}");
        assert!(page.contains(words));
    }
}

#[test]
fn the_tables_name_the_camera_of_each_row() {
    let dir = temp();
    two(dir.path(), &[10], &[10, 40]);
    let (report, _) = audited(dir.path(), &["a", "b"], &[]);
    let rows = report.rows("frames.csv");
    assert_eq!(rows.len(), 120, "a row a slot of each");
    for (n, own) in rows.chunks(60).enumerate() {
        for (slot, row) in own.iter().enumerate() {
            assert_eq!(
                (row["slot"].as_str(), row["camera_index"].as_str()),
                (slot.to_string().as_str(), n.to_string().as_str())
            );
            assert_eq!(row["camera"], ["ACME ONE", "ACME TWO!"][n], "missing slots, too");
        }
    }
    let missing: Vec<_> = rows
        .iter()
        .filter(|r| r["state"] == "missing")
        .map(|r| (r["camera_index"].clone(), r["slot"].clone()))
        .collect();
    let want = [("0", "10"), ("1", "10"), ("1", "40")].map(|(a, b)| (a.to_owned(), b.to_owned()));
    assert_eq!(missing, want);
    let header = report.text("frames.csv");
    assert!(header.lines().next().is_some_and(|h| h.trim_end().ends_with("move_steps,camera_index")));
    let findings = report.rows("findings.csv");
    assert!(findings.iter().any(|f| f["camera_index"] == "1" && f["camera"] == "ACME TWO!"));
    assert_eq!(report.rows("levels.csv").iter().filter(|r| r["camera_index"] == "1").count(), 58);
    for (table, last) in
        [("frames.csv", "camera_index"), ("findings.csv", "camera"), ("levels.csv", "camera_index")]
    {
        let told: Value =
            serde_json::from_str(&report.text(&format!("{table}-metadata.json"))).expect("JSON");
        let columns = told["tableSchema"]["columns"].as_array().expect("a list");
        assert_eq!(columns.last().expect("one")["name"], last, "{table}");
    }
}

#[test]
fn the_worst_call_comes_first_and_then_a_line_a_camera() {
    let dir = temp();
    two(dir.path(), &[], &[30, 31, 32]);
    let (report, told) = audited(dir.path(), &["a", "b"], &[]);
    let text = report.text("summary.txt");
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines[0].starts_with("HOLD: "), "{text}");
    assert_eq!(lines[1], "Because of camera B.");
    let at = |words: &str| {
        lines.iter().position(|l| l.contains(words)).unwrap_or_else(|| panic!("{words} in {text}"))
    };
    assert!(
        at("HOLD   B (ACME TWO!): 57 frames, 3 missing, every 5 s.")
            < at("CLEAR  A (ACME ONE): 60 frames, 0 missing")
    );
    assert!(at("Between the cameras") < at("Camera B: ACME TWO!"));
    assert!(at("Camera B: ACME TWO!") < at("Camera A: ACME ONE"), "the worst story first");
    assert!(lines.iter().all(|l| l.chars().count() <= 80));
    let plain: String = out(&told).lines().collect::<Vec<_>>().join("\n");
    assert!(plain.contains("Camera B alone lacks 3 frames"), "{plain}");
    let (_, quiet) = audited(dir.path(), &["a", "b"], &["--quiet"]);
    assert_eq!(out(&quiet).lines().count(), 1);
    assert!(out(&quiet).starts_with("HOLD: ") && err(&quiet).is_empty());
}

/// One page holds a part a camera; no id stands twice, every link leads somewhere.
#[test]
fn the_page_has_a_part_a_camera() {
    let dir = temp();
    two(dir.path(), &[], &[30, 31, 32]);
    let (report, _) = audited(dir.path(), &["a", "b"], &[]);
    let page = report.text("report.html");
    let values = |key: &str| -> Vec<String> {
        page.split(key).skip(1).filter_map(|rest| rest.split('"').next()).map(str::to_owned).collect()
    };
    let ids = values(" id=\"");
    let mut once = ids.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "{ids:?}");
    let labels = values("aria-labelledby=\"");
    let links = values("href=\"#");
    for link in labels.iter().flat_map(|l| l.split(' ')).chain(links.iter().map(String::as_str)) {
        assert!(ids.iter().any(|id| id == link), "#{link} leads nowhere");
    }
    for id in ["call", "between", "camera-a", "camera-b", "a-run", "b-run", "b-incident-1"] {
        assert!(ids.iter().any(|i| i == id), "{id} in {ids:?}");
    }
    assert!(page.contains("data-ids=\"b-\""));
}

#[test]
fn the_same_bytes_whatever_the_threads() {
    let dir = temp();
    two(dir.path(), &[10], &[10, 40]);
    shoot(&dir.path().join("c"), "LOCK", "ACME THREE", 3600, 60, &[50]);
    let all = |jobs: &str| {
        let (report, _) = audited(dir.path(), &["a", "b", "c"], &["--jobs", jobs]);
        report.all()
    };
    let first = all("1");
    assert_eq!(first.len(), OUTPUTS.len());
    assert!(first == all("4") && first == all("1"));
}

/// What a client keeps is made for each camera by itself.
#[test]
fn a_delivery_a_camera() {
    let dir = temp();
    two(dir.path(), &[], &[]);
    let (_, told) = audited(dir.path(), &["a", "b"], &["--deliver"]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    for (folder, name) in [("camera-a", "WEIR0001.JPG"), ("camera-b", "BANK0001.JPG")] {
        let manifest = fs::read_to_string(dir.path().join("out").join(folder).join("manifest-sha256.txt"));
        let manifest = manifest.expect("it is written");
        assert_eq!(manifest.lines().count(), 60);
        assert!(manifest.contains(name));
        assert!(dir.path().join("out").join(folder).join("delivery.html").is_file());
    }
}

/// A survey tells the same cameras apart, under a plan as well.
#[test]
fn a_survey_tells_the_same_cameras_apart() {
    let dir = temp();
    two(&dir.path().join("job"), &[], &[30, 31, 32]);
    for planned in [false, true] {
        if planned {
            fs::write(dir.path().join("job/plan.toml"), "interval = \"5 s\"\nframes = 60\n")
                .expect("written");
        }
        let told = lapseproof(dir.path(), &["survey", "job", "--format", "json"]);
        let json: Value = serde_json::from_str(&out(&told)).expect("JSON");
        let calls: Vec<_> =
            json["sequences"].as_array().expect("a list").iter().map(|s| s["call"].clone()).collect();
        assert_eq!(calls, ["clear", "hold"], "{planned}: {}", out(&told));
    }
}

/// What files say of their camera is text, whatever it holds.
#[test]
fn names_from_files_are_harmless_in_every_output() {
    let dir = temp();
    shoot(&dir.path().join("a"), "WEIR", "ACME ONE", 0, 30, &[]);
    for slot in 0..30_u32 {
        put(
            &dir.path().join("b"),
            format!("BANK{:04}.JPG", slot + 1),
            frame("=<i>\u{1b}[2J\"", slot * 5, slot + 9_000_000),
        );
    }
    let (report, told) = audited(dir.path(), &["a", "b"], &[]);
    assert_eq!(report.json()["cameras"].as_array().map(Vec::len), Some(2), "{}", out(&told));
    assert!(!report.text("report.html").contains("<i>"));
    assert!(!report.text("summary.txt").contains('\u{1b}'));
    assert!(report.rows("frames.csv").iter().all(|r| !r["camera"].starts_with('=')));
    assert!(report.rows("findings.csv").iter().all(|r| !r["camera"].starts_with('=')));
}
