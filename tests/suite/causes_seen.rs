//! Each rehearsed fault that shows in files and pictures has the incident of its own cause first. Those that
//! show in stamps and settings stand in `causes.rs`.

use crate::support::cases::{first_seed, rounds};
use crate::support::moves::{THUMBNAIL, followed};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::walk;
use lapseproof::frames::{Pictures, read_until};
use lapseproof::plan::{ExposureMode, ExposurePlan, Plan, Planned, RigPlan};
use lapseproof::rehearse::{Fault, Options, rehearse};
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::atomic::AtomicBool;

/// A fault that is read from files and thumbnails, and the code of the incident that is to come first; `none`
/// where nothing weighs.
const SEEN: [(&str, &str); 13] = [
    ("flicker=0.15", "aperture-or-light"),
    ("stray=+1", "single-frame"),
    ("lorry=8", "none"),
    ("soft=3px", "soft-frame"),
    ("damaged=empty", "damaged-frame"),
    ("damaged=cut", "damaged-frame"),
    ("damaged=zeros", "damaged-frame"),
    ("damaged=garbage", "damaged-frame"),
    ("surplus=double", "none"),
    ("duplicate", "none"),
    ("tests=3:2", "none"),
    ("wrap", "file-order"),
    ("roll", "none"),
];

/// A fault of the carriage, seen in how the pictures move.
const MOVED: [(&str, &str); 5] = [
    ("stalled", "stood-and-went-on"),
    ("slip=60%", "slip"),
    ("reversal", "reversal"),
    ("rail-end", "stopped"),
    ("knock=6px", "knock"),
];

fn plan(rig: RigPlan) -> Plan {
    Plan {
        interval_s: Some(12.0),
        frames: Some(60),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(1.0 / 60.0)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            ..ExposurePlan::default()
        },
        rig,
        ..Plan::default()
    }
}

fn first(audit: &Audit) -> String {
    audit.verdict.incidents.first().map_or("none", |i| i.code).to_owned()
}

/// Rehearsed on disk, and read through its thumbnails.
fn seen(fault: &str, seed: u64) -> String {
    let dir = tempfile::tempdir().expect("a folder");
    let into = dir.path().join("run");
    let faults = [Fault::parse(fault).expect(fault)];
    let options =
        Options { seed, stamp_digits: 2, picture: (240, 160), thumbnail: (120, 90), ..Options::default() };
    let plan = plan(RigPlan::default());
    rehearse(&plan, &faults, &options, &into).expect("rehearsed");
    let pictures = Pictures::Thumb;
    let stop = AtomicBool::new(false);
    let frames = read_until(walk(&[into.join("frames")]), Some(2), pictures, &|_| (), &stop);
    let setting = Setting { name: "seen".into(), plan, pictures, ..Setting::default() };
    first(&carry_out(setting, frames))
}

/// Drawn with its carriage, and followed.
fn moved(fault: &str, seed: u64) -> String {
    let plan = plan(RigPlan { step_m: Some(4.0 / 160.0), ..RigPlan::default() });
    let (_, frames) = followed(&plan, &[fault.to_owned()], seed, ((480, 320), THUMBNAIL));
    first(&carry_out(Setting { name: "moved".into(), plan, ..Setting::default() }, frames))
}

/// One of the faults with the code that is right, and how it is told.
type Row = (&'static str, &'static str, fn(&str, u64) -> String);

fn rows() -> impl Iterator<Item = Row> {
    let seen = SEEN.into_iter().map(|(fault, right)| (fault, right, seen as fn(&str, u64) -> String));
    let moved = MOVED.into_iter().map(|(fault, right)| (fault, right, moved as fn(&str, u64) -> String));
    seen.chain(moved)
}

/// What came first in place of a fault's own cause, and on which of those seeds.
fn others((fault, right, told): Row, seeds: Range<u64>) -> BTreeMap<String, Vec<u64>> {
    let mut others: BTreeMap<String, Vec<u64>> = BTreeMap::new();
    for (seed, code) in seeds.map(|seed| (seed, told(fault, seed))).filter(|(_, code)| code != right) {
        others.entry(code).or_default().push(seed);
    }
    others
}

/// Every fourth of them: a card with pictures takes its time.
#[test]
fn faults_that_are_seen_have_their_incident_first() {
    for row in rows().step_by(4) {
        let others = others(row, 1..2);
        assert!(others.is_empty(), "{}: {others:?}", row.0);
    }
}

#[test]
#[ignore = "half an hour"]
fn the_whole_board_of_incidents_that_are_seen() {
    let (from, count) = (first_seed(1), rounds(300));
    let mut short = Vec::new();
    let only = std::env::var("FAMILY").unwrap_or_default();
    for row in rows().filter(|row| row.0.contains(&only)) {
        let others = others(row, from..from + count);
        let wrong = others.values().flatten().count() as u64;
        println!("{:20} {:4} of {count} {others:?}", row.0, count - wrong);
        short.extend((wrong * 100 > count).then_some(row.0));
    }
    assert!(short.is_empty(), "{short:?}");
}
