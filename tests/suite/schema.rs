//! `audit.json` is what its schema says, and holds every key of the published contract: null where a value is
//! not known, never left out.

use crate::support::run::{Report, lapseproof, out, temp};
use crate::support::schema::wrong;
use crate::support::shoot::{PLAN, rehearsed};
use lapseproof::rehearse::{Options, rehearse};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

fn schema() -> Value {
    let told = lapseproof(Path::new(env!("CARGO_MANIFEST_DIR")), &["explain", "--schema"]);
    serde_json::from_str(&out(&told)).expect("it is JSON")
}

/// The record of an audit of `frames`.
fn record(frames: &Path) -> Value {
    let dir = temp();
    lapseproof(dir.path(), &["audit", frames.to_str().expect("a plain path"), "--out", "out"]);
    Report::of(dir.path().join("out")).json()
}

/// Folders to audit: the samples, the real runs where they are there, and rehearsals with faults of every
/// kind.
fn folders(rehearsals: &Path) -> Vec<PathBuf> {
    let below = |path: PathBuf| {
        let mut all: Vec<_> = fs::read_dir(&path).into_iter().flatten().flatten().map(|e| e.path()).collect();
        all.sort();
        all
    };
    let mut all = below(Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences"));
    assert!(all.len() >= 4);
    all.extend(crate::support::real().map(|real| below(real.join("sequences"))).into_iter().flatten());
    for (name, faults) in [
        ("clock", &["clock=+1h@20"][..]),
        ("rate", &["rate-change=+20%@20", "duplicate@5"]),
        (
            "everything",
            &["missing=2@9", "lost=1@14", "pause=33s@25", "tests=2:1", "surplus=hand@30", "damaged=zeros@33"],
        ),
    ] {
        let into = rehearsals.join(name);
        rehearsed(&into, faults, 3);
        fs::write(into.join("plan.toml"), PLAN).expect("written");
        all.push(into);
    }
    all
}

#[test]
fn every_record_is_what_the_schema_says() {
    let schema = schema();
    let rehearsals = temp();
    for folder in folders(rehearsals.path()) {
        let record = record(&folder);
        assert_eq!(wrong(&schema, &record), [] as [String; 0], "{}", folder.display());
        contract(&record);
    }
}

/// A slider run that is followed tells its movement, a row a frame in `frames.csv` and in short in the
/// record.
#[test]
fn the_movement_is_told_in_short_and_a_row_a_frame() {
    let dir = temp();
    let plan = dir.path().join("plan.toml");
    let words = "interval = \"12 s\"\nframes = 32\nstart = 2026-05-09T09:00:00\n[rig]\n\
        step = \"6.25 mm\"\ndirection = \"right\"\n";
    fs::write(&plan, words).expect("written");
    let options = Options { picture: (200, 134), ..Options::default() };
    let read = lapseproof::plan::read(words, "plan.toml", &[]).expect("it reads");
    rehearse(&read, &[], &options, &dir.path().join("run")).expect("a rehearsal");
    lapseproof(dir.path(), &["audit", "run", "--plan", "plan.toml", "--movement", "--out", "out"]);
    let report = Report::of(dir.path().join("out"));
    let record = report.json();
    assert_eq!(wrong(&schema(), &record), [] as [String; 0]);
    contract(&record);
    let movement = &record["movement"];
    assert_eq!(movement["source"], "thumbnail");
    assert_eq!(movement["shown_by"], "passing");
    assert_eq!((&movement["moves"], &movement["measured"]), (&json!(31), &json!(31)));
    // The nearest layer of the drawn scene passes by a thousandth of the width for each millimetre of travel.
    let shift = movement["shift_x_percent"].as_f64().expect("a shift");
    assert!((shift + 0.625).abs() < 0.03, "{shift}");
    let mut table = csv::Reader::from_path(dir.path().join("out/frames.csv")).expect("a table");
    let header = table.headers().expect("a header").clone();
    let column = |name: &str| header.iter().position(|h| h == name).expect("a column");
    let (x, steps) = (column("shift_x_percent"), column("move_steps"));
    let rows: Vec<_> = table.records().map(|r| r.expect("a row")).collect();
    assert_eq!(rows.len(), 32);
    assert!(rows[0][x].is_empty() && rows[0][steps].is_empty(), "no frame lies before the first");
    for row in &rows[1..] {
        let (x, steps): (f64, f64) =
            (row[x].parse().expect("a number"), row[steps].parse().expect("a number"));
        assert!((x - shift).abs() < 0.15 && (steps - 1.0).abs() < 0.25, "{row:?}");
    }
}

/// What `plan --json` tells is what its schema says, whether the plan works or not.
#[test]
fn a_plan_is_what_its_schema_says() {
    let dir = temp();
    let told = lapseproof(dir.path(), &["explain", "--schema=plan"]);
    let schema: Value = serde_json::from_str(&out(&told)).expect("it is JSON");
    for flags in [
        &["--interval=12s", "--frames=100"][..],
        &[
            "--interval=5s",
            "--frames=601",
            "--shutter=8s",
            "--travel=900mm",
            "--direction=left",
            "--speed=20mm/s",
        ],
        &["--event=2h", "--length=20s", "--fps=25", "--shutter=1/60..4s", "--card=64GB", "--frame-size=25MB"],
    ] {
        let all: Vec<&str> = ["plan", "--json"].into_iter().chain(flags.iter().copied()).collect();
        let told: Value = serde_json::from_str(&out(&lapseproof(dir.path(), &all))).expect("it is JSON");
        assert_eq!(wrong(&schema, &told), [] as [String; 0], "{flags:?}");
    }
}

/// The reader of schemas sees what it should.
#[test]
fn a_record_that_is_wrong_is_seen() {
    let schema = schema();
    let good = record(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences/building-site-copy"));
    assert!(wrong(&schema, &good).is_empty());
    let spoilt = |spoil: &dyn Fn(&mut Value)| {
        let mut record = good.clone();
        spoil(&mut record);
        wrong(&schema, &record)
    };
    assert!(!spoilt(&|r| r["counts"]["frames"] = json!("many")).is_empty());
    assert!(!spoilt(&|r| r["counts"]["frames"] = json!(-1)).is_empty());
    assert!(!spoilt(&|r| r["findings"][0]["count"] = json!(null)).is_empty());
    assert!(!spoilt(&|r| r["stretches"][0]["more"] = json!(1)).is_empty());
    assert!(!spoilt(&|r| r["findings"][0]["evidence"]["gap_s"] = json!([])).is_empty());
    assert!(
        !spoilt(&|r| {
            r["cadence"].as_object_mut().expect("an object").remove("interval_s");
        })
        .is_empty()
    );
}

/// Every key that the contract names is there.
fn contract(record: &Value) {
    let has = |value: &Value, keys: &[&str]| {
        for key in keys {
            assert!(value.get(key).is_some(), "{key} in {value}");
        }
    };
    assert_eq!(record["schema"], 1);
    has(&record["verdict"], &["call"]);
    has(&record["counts"], &["frames", "slots", "missing", "surplus", "damaged"]);
    has(
        &record["cadence"],
        &[
            "interval_s",
            "interval_low_s",
            "interval_high_s",
            "stamp_resolution_s",
            "counted_from",
            "per_exposure",
        ],
    );
    for stretch in record["stretches"].as_array().expect("a list") {
        has(stretch, &["first_file", "last_file", "frames", "interval_s"]);
    }
    for finding in record["findings"].as_array().expect("a list") {
        has(
            finding,
            &["check", "severity", "message", "count", "first_file", "last_file", "at", "cause", "doubt"],
        );
        assert!(finding["evidence"].is_object());
        assert!(matches!(finding["severity"].as_str(), Some("fault" | "caution" | "note")));
        // A finding of no slot speaks of doubt alone.
        if finding["check"] == "missing-slot" && finding["count"] != 0 {
            assert!(
                matches!(finding["cause"].as_str(), Some("trigger-missed" | "file-lost" | "unknown")),
                "{finding}"
            );
        }
        has(finding, &["count_low", "count_high"]);
        assert!(finding["doubt"].is_null() || finding["doubt"].is_string(), "{finding}");
        assert_eq!(finding["doubt"].is_null(), finding["count_low"].is_null(), "{finding}");
    }
    assert!(matches!(record["verdict"]["call"].as_str(), Some("clear" | "look" | "hold")));
}

/// The columns of the contract, first and in their order.
#[test]
fn the_columns_of_the_contract() {
    let header = fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/harbour-falling-tide/frames.csv"),
    )
    .expect("the report of a sample");
    assert!(header.starts_with(
        "slot,state,file,companions,number,camera,stamp,stamp_resolution_s,utc_offset,interval_s,\
             slot_offset_s,\
         exposure_s,f_number,iso,ev100,ev_step,findings"
    ));
}
