//! Three real interval runs of aerial survey cameras, through the binary and without a plan.
//!
//! They are sample sets of OpenDroneMap (CC0), read from `LAPSEPROOF_REAL` or `../shared/real`; where they
//! are absent the tests say so and skip. What is expected stands in tables that were worked out by hand from
//! the stamps and the file numbers.

use crate::support::run::{Report, code, err, lapseproof, temp};
use serde_json::Value;

/// The report of one sequence; `None` where it is not there.
fn audited(name: &str) -> Option<(tempfile::TempDir, Report, Option<i32>)> {
    let frames = crate::support::real()?.join("sequences").join(name);
    crate::support::there(&frames)?;
    let dir = temp();
    let frames = frames.canonicalize().expect("a real folder");
    let told = lapseproof(dir.path(), &["audit", frames.to_str().expect("a plain path"), "--out", "out"]);
    assert!(err(&told).lines().all(|l| l.starts_with("Written to")), "{}", err(&told));
    let report = Report::of(dir.path().join("out"));
    let exit = code(&told);
    Some((dir, report, exit))
}

/// The checks whose answer is about timing or about the files, and what is wrong with the files.
const TIMING: [&str; 10] = [
    "missing-slot",
    "surplus-frame",
    "interval-drift",
    "uneven-interval",
    "grid-slip",
    "clock-step",
    "stamp-missing",
    "number-gap",
    "duplicate-frame",
    "damaged-frame",
];

fn answers(report: &Report) -> Vec<(&'static str, String)> {
    TIMING.iter().map(|id| (*id, report.answer(id))).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// 75 files, numbers 9354 to 9430 without 9421 and 9422: 77 slots. From the first stamp (13:20:51) to the
/// last (13:23:31), whole seconds both, lie 76 intervals in 160 ± 1 s: 2.09 to 2.12 s.
#[test]
fn two_files_are_missing_from_the_two_second_run() {
    let Some((_dir, report, exit)) = audited("aerial-2s") else { return };
    let json = report.json();
    let holes = report.findings("missing-slot");
    assert_eq!(holes.len(), 1);
    let hole = &holes[0];
    assert_eq!(hole["count"], 2);
    assert_eq!((&hole["first_file"], &hole["last_file"]), (&"IMG_9420.jpg".into(), &"IMG_9423.jpg".into()));
    assert_eq!(hole["cause"], "file-lost");
    assert_eq!(hole["doubt"], Value::Null);
    // Two of 77 slots are 2.6 %: over the 2 % from which missing slots are a fault.
    assert_eq!((exit, hole["severity"].as_str()), (Some(1), Some("fault")));
    let of_timing = |f: &&Value| TIMING.iter().any(|id| f["check"] == *id);
    let found = json["findings"].as_array().expect("a list").iter().filter(of_timing).count();
    assert_eq!(found, 1, "{}", json["findings"]);
    for (id, answer) in answers(&report) {
        let asked = match id {
            // Looked at: each picture shows another piece of ground, and the sun comes out over the last ten.
            // Notes alone.
            "missing-slot" | "luminance-flicker" | "flash-risk" => "found",
            "interval-drift" => "cannot-judge", // no plan, so no interval to drift from
            _ => "clear",
        };
        assert_eq!(answer, asked, "{id}");
    }
    let counts = &json["counts"];
    assert_eq!(
        (&counts["frames"], &counts["slots"], &counts["missing"]),
        (&75.into(), &77.into(), &2.into())
    );
    let (low, high) =
        (number(&json["cadence"]["interval_low_s"]), number(&json["cadence"]["interval_high_s"]));
    assert!(159.0 / 76.0 <= low && low < high && high <= 161.0 / 76.0, "{low} to {high}");
    assert_eq!(json["cadence"]["stamp_resolution_s"], 1.0);
    assert_eq!(json["stretches"].as_array().map(Vec::len), Some(1));
    let missing: Vec<_> = report.rows("frames.csv").into_iter().filter(|r| r["state"] == "missing").collect();
    assert_eq!(missing.iter().map(|r| r["slot"].as_str()).collect::<Vec<_>>(), ["67", "68"]);
}

/// 167 files, numbers 446 to 612 without a gap, intervals from 3 s to 73 s: no file is lost, and no grid
/// holds.
#[test]
fn the_four_second_run_did_not_hold_its_pace() {
    let Some((_dir, report, exit)) = audited("aerial-4s") else { return };
    let json = report.json();
    assert_eq!(exit, Some(1));
    let uneven = report.findings("uneven-interval");
    assert_eq!(uneven.len(), 1);
    assert_eq!(uneven[0]["severity"], "fault");
    assert_eq!(
        (&uneven[0]["evidence"]["shortest_s"], &uneven[0]["evidence"]["longest_s"]),
        (&3.0.into(), &73.0.into())
    );
    for (id, answer) in answers(&report) {
        let asked = match id {
            "uneven-interval" => "found",
            "missing-slot" | "surplus-frame" | "interval-drift" | "grid-slip" => "cannot-judge",
            _ => "clear",
        };
        assert_eq!(answer, asked, "{id}");
    }
    assert_eq!(report.findings("missing-slot"), [] as [Value; 0]);
    assert_eq!(report.findings("number-gap"), [] as [Value; 0]);
    assert!(!report.text("audit.json").contains("file-lost"));
    // Nothing is left out: what is not known is null.
    let known = |value: &Value, keys: &[&str]| {
        for key in keys {
            assert_eq!(value.get(key), Some(&Value::Null), "{key}");
        }
    };
    known(&json["counts"], &["slots", "missing"]);
    known(
        &json["cadence"],
        &[
            "interval_s",
            "interval_low_s",
            "interval_high_s",
            "stamp_resolution_s",
            "counted_from",
            "per_exposure",
        ],
    );
    assert_eq!((&json["counts"]["frames"], &json["counts"]["outside"]), (&167.into(), &0.into()));
    assert!(json["cadence"]["no_grid"].is_string());
    assert!(report.rows("frames.csv").iter().all(|r| r["state"] == "frame" && r["slot"].is_empty()));
}

/// The holes of the ten-second run by hand: the files before and after, their stamps and the slots between.
///
/// The numbers advance by r = 2 for each slot (the camera's usual step: 33 of the 54 pairs of neighbours,
/// each 10 s or 11 s apart), so numbers that skip by 2·(n + 1) leave n slots, and n + 1 intervals of about
/// 10.02 s lie between the stamps. The two ways of counting agree at every hole. What the files allow to be
/// said: the camera fired there (its numbers went on) and the files are not in this folder. They do not say
/// whether the files were withheld, deleted or lost.
const HOLES: [(u32, &str, u32, &str, u64); 21] = [
    (4074, "16:46:23", 4078, "16:46:43", 1),  // 20 s, numbers +4
    (4086, "16:47:23", 4090, "16:47:43", 1),  // 20 s, +4
    (4092, "16:47:53", 4116, "16:49:53", 11), // 120 s, +24
    (4116, "16:49:53", 4120, "16:50:13", 1),  // 20 s, +4
    (4128, "16:50:53", 4132, "16:51:13", 1),  // 20 s, +4
    (4132, "16:51:13", 4152, "16:52:54", 9),  // 101 s, +20
    (4166, "16:54:04", 4172, "16:54:34", 2),  // 30 s, +6
    (4172, "16:54:34", 4176, "16:54:54", 1),  // 20 s, +4
    (4176, "16:54:54", 4188, "16:55:54", 5),  // 60 s, +12
    (4188, "16:55:54", 4196, "16:56:34", 3),  // 40 s, +8
    (4206, "16:57:24", 4224, "16:58:55", 8),  // 91 s, +18
    (4224, "16:58:55", 4230, "16:59:25", 2),  // 30 s, +6
    (4230, "16:59:25", 4234, "16:59:45", 1),  // 20 s, +4
    (4238, "17:00:05", 4242, "17:00:25", 1),  // 20 s, +4
    (4242, "17:00:25", 4246, "17:00:45", 1),  // 20 s, +4
    (4250, "17:01:05", 4254, "17:01:25", 1),  // 20 s, +4
    (4254, "17:01:25", 4260, "17:01:55", 2),  // 30 s, +6
    (4260, "17:01:55", 4264, "17:02:15", 1),  // 20 s, +4
    (4270, "17:02:45", 4276, "17:03:15", 2),  // 30 s, +6
    (4276, "17:03:15", 4306, "17:05:46", 14), // 151 s, +30
    (4312, "17:06:16", 4344, "17:08:56", 15), // 160 s, +32
];

fn seconds(time: &str) -> i64 {
    time.split(':').fold(0, |sum, part| sum * 60 + part.parse::<i64>().expect("a number"))
}

#[test]
fn every_hole_of_the_ten_second_run_has_its_count() {
    // The table itself: both ways of counting give its last column. The first stamp is 16:46:23, the last
    // 17:09:16, and the numbers from 4074 to 4348 make 137 intervals of that.
    let interval = (seconds("17:09:16") - seconds("16:46:23")) as f64 / 137.0;
    for (before, from, after, to, count) in HOLES {
        assert_eq!(u64::from(after - before) / 2 - 1, count, "{before}");
        assert_eq!(((seconds(to) - seconds(from)) as f64 / interval).round() as u64 - 1, count, "{before}");
    }
    let Some((_dir, report, exit)) = audited("aerial-10s") else { return };
    let json = report.json();
    assert_eq!(exit, Some(1));
    let mut holes = report.findings("missing-slot");
    holes.sort_by_key(|f| f["first_file"].as_str().map(str::to_owned));
    let told: Vec<_> = holes
        .iter()
        .map(|f| {
            (f["first_file"].as_str(), f["last_file"].as_str(), f["count"].as_u64(), f["cause"].as_str())
        })
        .collect();
    let names = HOLES.map(|h| (format!("img_{}.jpg", h.0), format!("img_{}.jpg", h.2), h.4));
    let asked: Vec<_> = names
        .iter()
        .map(|(before, after, n)| (Some(before.as_str()), Some(after.as_str()), Some(*n), Some("file-lost")))
        .collect();
    assert_eq!(told, asked);
    assert!(holes.iter().all(|f| f["doubt"].is_null()));

    // The stamps of the table are those of the files, and each hole's empty slots stand in frames.csv behind
    // the frame before.
    let rows = report.rows("frames.csv");
    let row = |n: u32| rows.iter().position(|r| r["number"] == n.to_string()).expect("a row");
    for (before, from, after, to, count) in HOLES {
        let (first, last) = (row(before), row(after));
        assert!(rows[first]["stamp"].ends_with(from) && rows[last]["stamp"].ends_with(to), "{before}");
        assert_eq!((last - first - 1) as u64, count, "{before}");
        assert!(rows[first + 1..last].iter().all(|r| r["state"] == "missing"), "{before}");
    }

    // 4074 to 4348 by twos are 138 slots, of which 55 hold a file.
    let counts = &json["counts"];
    assert_eq!(
        (&counts["frames"], &counts["slots"], &counts["missing"]),
        (&55.into(), &138.into(), &83.into())
    );
    assert_eq!(json["cadence"]["number_advance"], 2);
    assert_eq!(HOLES.iter().map(|h| h.4).sum::<u64>(), 83);
    for (id, answer) in answers(&report) {
        let asked = match id {
            "missing-slot" => "found",
            "interval-drift" => "cannot-judge",
            _ => "clear",
        };
        assert_eq!(answer, asked, "{id}");
    }
}
