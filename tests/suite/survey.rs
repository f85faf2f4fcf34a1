//! `survey`: what lies on a card, told apart by camera, folder, gap, change of cadence and picture size.

use crate::support::run::{Report, code, err, lapseproof, out, put, rows, temp};
use crate::support::shoot::{PLAN, rehearsed, shoot};
use crate::support::writer::{Put, block, jpeg};
use std::fs;
use std::path::Path;

/// A frame to be: camera, seconds after midnight, shutter as one over this, picture size.
#[derive(Clone, Copy)]
struct Shot<'a> {
    serial: &'a str,
    second: f64,
    shutter: u32,
    size: (u16, u16),
}

const ONE: Shot<'static> = Shot { serial: "A1", second: 0.0, shutter: 60, size: (640, 480) };

fn bytes(shot: Shot<'_>) -> Vec<u8> {
    let hundredths = (shot.second * 100.0).round() as i64;
    let (s, sub) = (hundredths / 100, format!("{:02}", hundredths % 100));
    let stamp =
        format!("2026:05:{:02} {:02}:{:02}:{:02}", 9 + s / 86_400, s / 3600 % 24, s / 60 % 60, s % 60);
    let exif = [
        (0x829A, Put::Ratio(1, shot.shutter)),
        (0x829D, Put::Ratio(8, 1)),
        (0x8827, Put::Short(&[200])),
        (0x9003, Put::Ascii(&stamp)),
        (0x9286, Put::Long(hundredths as u32)),
        (0x9291, Put::Ascii(&sub)),
        (0xA431, Put::Ascii(shot.serial)),
    ];
    let mut bytes =
        jpeg(&block(&[(0x010F, Put::Ascii("ACME")), (0x0110, Put::Ascii("ACME ONE"))], &exif), 600);
    // The frame header (ISO/IEC 10918-1, B.2.2): FF C0, length, precision, height, width.
    let at = bytes.windows(4).position(|w| w == [0xFF, 0xC0, 0, 11]).expect("a frame header");
    bytes[at + 5..at + 7].copy_from_slice(&shot.size.1.to_be_bytes());
    bytes[at + 7..at + 9].copy_from_slice(&shot.size.0.to_be_bytes());
    bytes
}

/// `count` frames every `interval` seconds from `first` on, numbered from `number`, with the roll-over of DCF
/// (CIPA DC-009).
fn series(folder: &Path, number: u32, count: u32, interval: f64, first: Shot<'_>) {
    for i in 0..count {
        let shot = Shot { second: first.second + f64::from(i) * interval, ..first };
        put(folder, format!("WEIR{:04}.JPG", (number + i - 1) % 9999 + 1), bytes(shot));
    }
}

fn surveyed(dir: &Path, args: &[&str]) -> serde_json::Value {
    let args: Vec<&str> = [&["survey"], args, &["--format", "json"]].concat();
    let told = lapseproof(dir, &args);
    serde_json::from_str(&out(&told)).unwrap_or_else(|e| panic!("{e}: {}{}", out(&told), err(&told)))
}

/// Of each sequence: start, frames, interval in hundredths, serial number.
fn lines(survey: &serde_json::Value) -> Vec<(String, u64, i64, String)> {
    let all = survey["sequences"].as_array().expect("a list");
    let one = |s: &serde_json::Value| {
        (
            s["start"].as_str().unwrap_or("-").to_owned(),
            s["frames"].as_u64().expect("a count"),
            (s["interval_s"].as_f64().unwrap_or(-1.0) * 100.0).round() as i64,
            s["camera_serial"].as_str().unwrap_or("-").to_owned(),
        )
    };
    all.iter().map(one).collect()
}

fn line(start: &str, frames: u64, interval: i64, serial: &str) -> (String, u64, i64, String) {
    (format!("2026-05-{start}"), frames, interval, serial.to_owned())
}

/// A working card: a morning's run, a few test shots, an afternoon's at another interval, straight after it
/// one more at yet another, a second body in the same folders, numbers past 9999 and a new folder, small
/// pictures at the end.
#[test]
fn one_card_of_several_jobs() {
    let dir = temp();
    let dcim = dir.path().join("card/DCIM");
    let (a, b) = (dcim.join("100WEIRS"), dcim.join("101WEIRS"));
    let at = |hour: f64| Shot { second: hour * 3600.0, ..ONE };
    series(&a, 9700, 120, 12.0, at(6.0));
    // Test shots an hour before the next job.
    series(&a, 9820, 3, 41.7, at(13.0));
    series(&a, 9823, 177, 5.0, at(14.0));
    series(&b, 1, 23, 5.0, at(14.0 + 177.0 * 5.0 / 3600.0));
    // Ten seconds after the last frame of that, the interval is another.
    series(&b, 24, 90, 20.0, at(14.0 + 205.0 * 5.0 / 3600.0));
    series(&b, 114, 60, 20.0, Shot { size: (320, 240), ..at(14.0 + (205.0 * 5.0 + 1800.0) / 3600.0) });
    // Another body of the same make, at the same time.
    for i in 0..80_u32 {
        let shot = Shot { serial: "B2", second: 6.0 * 3600.0 + 60.0 + f64::from(i) * 7.0, ..ONE };
        put(&a, format!("RIVR{:04}.JPG", i + 1), bytes(shot));
    }
    let survey = surveyed(dir.path(), &["card"]);
    assert_eq!(
        lines(&survey),
        [
            line("09T06:00:00", 120, 1200, "A1"),
            line("09T06:01:00", 80, 700, "B2"),
            line("09T14:00:00", 200, 500, "A1"),
            line("09T14:17:05", 90, 2000, "A1"),
            line("09T14:47:05", 60, 2000, "A1"),
        ]
    );
    let first = &survey["sequences"][2];
    assert_eq!(first["folder"], "DCIM");
    assert_eq!(first["first_file"], "DCIM/100WEIRS/WEIR9823.JPG");
    assert_eq!(first["last_file"], "DCIM/101WEIRS/WEIR0023.JPG");
    assert_eq!((&first["call"], &first["missing"]), (&"clear".into(), &0.into()));
    assert_eq!(
        (&survey["sequences"][4]["width"], &survey["sequences"][3]["width"]),
        (&320.into(), &640.into())
    );
    let inside: u64 = lines(&survey).iter().map(|l| l.1).sum();
    let others: u64 =
        survey["sequences"].as_array().expect("a list").iter().filter_map(|s| s["others"].as_u64()).sum();
    let loose: u64 =
        survey["loose"].as_array().expect("a list").iter().filter_map(|l| l["frames"].as_u64()).sum();
    assert_eq!(inside + others + loose, 553, "every frame is told once");
    assert_eq!(others + loose, 3);
}

#[test]
fn two_cards_that_go_on_and_two_that_hold_the_same() {
    let dir = temp();
    let at = |slot: u32| Shot { second: 3600.0 + f64::from(slot) * 5.0, ..ONE };
    series(&dir.path().join("cards/a/DCIM/100WEIRS"), 1, 60, 5.0, at(0));
    series(&dir.path().join("cards/b/DCIM/100WEIRS"), 61, 60, 5.0, at(60));
    assert_eq!(lines(&surveyed(dir.path(), &["cards"])), [line("09T01:00:00", 120, 500, "A1")]);
    assert_eq!(
        lines(&surveyed(dir.path(), &["cards/b", "cards/a"])),
        [line("09T01:00:00", 120, 500, "A1")],
        "in whichever order they are named"
    );
    // A backup of the first beside it is a sequence of its own, not a second frame in every slot.
    series(&dir.path().join("cards/backup/DCIM/100WEIRS"), 1, 60, 5.0, at(0));
    let survey = surveyed(dir.path(), &["cards"]);
    let frames: Vec<u64> = lines(&survey).iter().map(|l| l.1).collect();
    assert_eq!(frames, [120, 60], "{survey:#}");
}

/// A timer that was set up again after a pause is another sequence; a short pause, a hole of a few slots and
/// a clock that was set by an hour are faults or notes of one.
#[test]
fn what_is_one_sequence_and_what_is_two() {
    let dir = temp();
    let case = |name: &str, parts: &[(u32, f64)]| {
        let (mut number, mut shot) = (1, Shot { second: 3600.0, ..ONE });
        for (count, gap) in parts {
            shot.second += gap;
            series(&dir.path().join(name), number, *count, 5.0, shot);
            number += count;
            shot.second += f64::from(*count) * 5.0;
        }
        lines(&surveyed(dir.path(), &[name])).iter().map(|l| l.1).collect::<Vec<_>>()
    };
    assert_eq!(case("pause", &[(60, 0.0), (60, 22.2)]), [120]);
    assert_eq!(case("hole", &[(60, 0.0), (60, 15.0)]), [120]);
    assert_eq!(case("again", &[(60, 0.0), (60, 333.3)]), [60, 60]);
    assert_eq!(case("later", &[(60, 0.0), (60, 7203.1), (40, 36_001.7)]), [60, 60, 40]);
    assert_eq!(case("clock", &[(60, 0.0), (60, 3600.0)]), [120], "summer time began");
}

#[test]
fn single_pictures_are_in_no_sequence() {
    let dir = temp();
    let seconds = [3.0, 11.0, 95.0, 401.0, 404.0, 1800.0, 1807.0, 5000.0, 9000.0, 9100.0, 9500.0, 20_000.0];
    for (i, second) in seconds.iter().enumerate() {
        put(dir.path(), format!("stills/WEIR{:04}.JPG", i + 1), bytes(Shot { second: *second, ..ONE }));
    }
    let told = lapseproof(dir.path(), &["survey", "stills"]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    assert!(out(&told).starts_with("0 sequences"), "{}", out(&told));
    assert!(out(&told).contains("stills: 12 frames, WEIR0001.JPG to WEIR0012.JPG"), "{}", out(&told));
    // A run among them is found.
    series(&dir.path().join("stills"), 13, 40, 8.0, Shot { second: 30_000.0, ..ONE });
    assert_eq!(lines(&surveyed(dir.path(), &["stills"])), [line("09T08:20:00", 40, 800, "A1")]);
}

/// A shelf of shoots: each is compared with the plan that lies with it, and with `--out` its report is the
/// one that `audit` writes.
#[test]
fn a_shelf_of_shoots_with_their_plans() {
    let dir = temp();
    for (name, faults) in [("good", &[][..]), ("bad", &["missing=4@12"])] {
        rehearsed(&dir.path().join("shelf").join(name).join("frames"), faults, 7);
        put(&dir.path().join("shelf").join(name), "plan.toml", PLAN);
    }
    let told = lapseproof(dir.path(), &["survey", "shelf", "--out", "out"]);
    assert_eq!(code(&told), Some(1), "{}{}", out(&told), err(&told));
    let index = fs::read(dir.path().join("out/index.csv")).expect("written");
    let index = rows(&index);
    assert_eq!(index.len(), 2);
    for row in &index {
        let name = row["folder"].split('/').next().expect("a name");
        assert_eq!(row["call"], if name == "bad" { "hold" } else { "clear" }, "{row:?}");
        assert_eq!(row["why"].split(' ').next(), Some(if name == "bad" { "missing-slot" } else { "" }));
        assert_eq!(row["frames"], if name == "bad" { "36" } else { "40" });
        let report = Report::of(dir.path().join("out").join(&row["report"]));
        let shoot = format!("shelf/{name}/frames");
        let alone = lapseproof(dir.path(), &["audit", &shoot, "--out", "alone"]);
        assert!(code(&alone).is_some_and(|c| c < 2), "{}", err(&alone));
        let alone = Report::of(dir.path().join("alone"));
        for (key, of) in [("counts", &report), ("cadence", &report)] {
            assert_eq!(of.json()[key], alone.json()[key], "{name}: {key}");
        }
        assert_eq!(report.json()["plan"], alone.json()["plan"]);
        assert_eq!(report.json()["verdict"]["call"], alone.json()["verdict"]["call"]);
        assert_eq!(report.json()["plan_source"], "compared with plan.toml, found with the frames");
    }
    let text = fs::read_to_string(dir.path().join("out/index.txt")).expect("written");
    assert_eq!(text, out(&told));
    let page = fs::read_to_string(dir.path().join("out/index.html")).expect("written");
    for row in &index {
        assert!(page.contains(&format!(r#"href="{}/report.html""#, row["report"])), "{page}");
    }
    // The same on one thread: the same bytes.
    let json = fs::read(dir.path().join("out/index.json")).expect("written");
    let again =
        lapseproof(dir.path(), &["survey", "shelf", "--out", "out", "--jobs", "1", "--format", "json"]);
    assert_eq!(again.stdout, json);
    assert_eq!(code(&lapseproof(dir.path(), &["survey", "shelf", "--fail-on", "never"])), Some(0));
    // A plan that does not read takes nothing else down, and is no success.
    put(dir.path(), "shelf/good/plan.toml", "intervall = 5");
    let told = lapseproof(dir.path(), &["survey", "shelf"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("intervall") && out(&told).contains("INCOMPLETE"), "{}", out(&told));
    assert!(out(&told).contains("2 sequences"), "{}", out(&told));
}

/// With pictures asked for, a survey's audit is the audit: brightness is judged, and the page shows frames.
#[test]
fn pictures_are_read_where_that_is_asked_for() {
    let dir = temp();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences/harbour-falling-tide");
    let sample = sample.to_str().expect("a plain path");
    let told = lapseproof(dir.path(), &["survey", sample, "--pictures", "thumb", "--out", "out"]);
    assert_eq!(code(&told), Some(0), "{}{}", out(&told), err(&told));
    let own = fs::read(dir.path().join("out/index.csv")).expect("written");
    let own = dir.path().join("out").join(&rows(&own)[0]["report"]);
    assert_eq!(code(&lapseproof(dir.path(), &["audit", sample, "--out", "alone"])), Some(0));
    let (surveyed, alone) = (Report::of(own.clone()), Report::of(dir.path().join("alone")));
    assert_eq!(surveyed.json()["judgements"], alone.json()["judgements"]);
    assert!(alone.json()["judgements"].as_array().is_some_and(|c| !c.is_empty()));
    let page = fs::read_to_string(own.join("report.html")).expect("written");
    assert!(page.contains("data:image/jpeg"), "no picture in the page");
    let index = fs::read_to_string(dir.path().join("out/index.html")).expect("written");
    assert_eq!(index.matches("data:image/jpeg").count(), 1, "a picture of the sequence");
    assert_eq!(index.matches("class=\"lane held\"").count(), 1, "its strip");
}

#[test]
fn nothing_is_written_unless_it_is_asked_for_and_never_on_the_card() {
    let dir = temp();
    shoot(&dir.path().join("card/DCIM/100WEIRS"), "WEIR", 1, (0, 30), 5.0);
    let told = lapseproof(dir.path(), &["survey", "card"]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    assert_eq!(fs::read_dir(dir.path()).expect("there").count(), 1, "the card alone");
    let told = lapseproof(dir.path(), &["survey", "card", "--out", "card/reports"]);
    assert_eq!(code(&told), Some(2));
    assert!(!dir.path().join("card/reports").exists());
    let told = lapseproof(dir.path(), &["survey", "nowhere"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("nowhere"));
    put(dir.path(), "empty/notes.txt", "wind from the west");
    let told = lapseproof(dir.path(), &["survey", "empty", "--out", "out"]);
    assert_eq!(code(&told), Some(2));
    assert!(err(&told).contains("no frame") && !dir.path().join("out").exists(), "{}", err(&told));
}

/// Frames without a stamp, as a desk's export leaves them, are a sequence by their names, and no clean bill.
#[test]
fn frames_without_stamps_are_told() {
    let dir = temp();
    for i in 1..=30_u16 {
        put(
            dir.path(),
            format!("export/weir-{i:04}.jpg"),
            jpeg(&block(&[], &[(0x9286, Put::Short(&[i]))]), 500),
        );
    }
    let survey = surveyed(dir.path(), &["export"]);
    assert_eq!(lines(&survey), [("-".to_owned(), 30, -100, "-".to_owned())]);
    assert_eq!(survey["sequences"][0]["call"], "look");
}

/// The record holds what its schema says.
#[test]
fn the_record_keeps_to_its_schema() {
    let dir = temp();
    series(&dir.path().join("card"), 1, 40, 5.0, ONE);
    put(dir.path(), "card/IMG_0900.JPG", b"");
    put(dir.path(), "card/notes.txt", "wind from the west");
    put(dir.path(), "other/WEIR0001.JPG", bytes(ONE));
    let survey = surveyed(dir.path(), &["card", "other"]);
    let schema = lapseproof(dir.path(), &["explain", "--schema=survey"]);
    let schema: serde_json::Value = serde_json::from_str(&out(&schema)).expect("it is JSON");
    assert_eq!(crate::support::schema::wrong(&schema, &survey), Vec::<String>::new());
    assert_eq!(survey["loose"][0]["root"], 1);
    assert_eq!(survey["roots"], serde_json::json!(["card", "other"]));
}

/// Sets of three exposures 2 EV apart, not announced by any tag: a line of the survey says how many there
/// are, one that lacks a frame among them.
#[test]
fn sets_of_a_bracket_are_shown() {
    let dir = temp();
    for set in 0..60_u32 {
        for member in (0..3).filter(|member| (set, *member) != (31, 1)) {
            let second = 36_000.0 + f64::from(set) * 20.0 + f64::from(member) * 0.5;
            let shot = Shot { second, shutter: 500 >> (2 * member), ..ONE };
            put(dir.path(), format!("card/WEIR{:04}.JPG", 3 * set + member + 1), bytes(shot));
        }
    }
    series(&dir.path().join("other"), 1, 40, 5.0, Shot { second: 50_000.0, ..ONE });
    let told = surveyed(dir.path(), &["card", "other"]);
    let of = |at: usize, key: &str| told["sequences"][at][key].clone();
    assert_eq!(
        (of(0, "frames"), of(0, "sets"), of(0, "set_size")),
        (179.into(), 60.into(), 3.into()),
        "{told}"
    );
    assert!(of(1, "sets").is_null() && of(1, "set_size").is_null(), "{told}");
    let text = out(&lapseproof(dir.path(), &["survey", "card", "other"]));
    let line = text.lines().find(|l| l.contains(" card ")).expect("its line");
    assert!(line.ends_with("  20 s, 60 sets of 3"), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    // What happened in a sequence stands below its line.
    let story = of(0, "story").as_str().expect("an exposure is missing").to_owned();
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains(&story) && of(1, "story").is_null(), "{story}: {text}");
    lapseproof(dir.path(), &["survey", "card", "--out", "out"]);
    let index = rows(&fs::read(dir.path().join("out/index.csv")).expect("an index"));
    assert_eq!((index[0]["sets"].as_str(), index[0]["set_size"].as_str()), ("60", "3"));
}
