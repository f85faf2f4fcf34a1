//! `audit.json` is what its schema says, and holds every key of the published contract: null where a value is not known, never left
//! out.

mod support;

use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use support::run::{Report, lapseproof, out, temp};
use support::schema::wrong;
use support::shoot::{PLAN, rehearsed};

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

/// Folders to audit: the samples, the real runs where they are there, and rehearsals with faults of every kind.
fn folders(rehearsals: &Path) -> Vec<PathBuf> {
    let below = |path: PathBuf| {
        let mut all: Vec<_> = fs::read_dir(&path).into_iter().flatten().flatten().map(|e| e.path()).collect();
        all.sort();
        all
    };
    let mut all = below(Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sequences"));
    assert!(all.len() >= 4);
    all.extend(support::real().map(|real| below(real.join("sequences"))).into_iter().flatten());
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
        if !finding["doubt"].is_null() {
            has(&finding["doubt"], &["count_low", "count_high"]);
        }
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
        "slot,state,file,companions,number,camera,stamp,stamp_resolution_s,utc_offset,interval_s,slot_offset_s,\
         exposure_s,f_number,iso,ev100,ev_step,findings"
    ));
}
