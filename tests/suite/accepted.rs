//! What a plan accepts is said beside the call, wherever the call is told, and a plan that lies on the card
//! cannot make it clear.

use crate::support::run::{Report, code, err, lapseproof, out, temp};
use std::fs;
use std::path::Path;

const PLAN: &str = "name = \"Weir\"\ninterval = \"12 s\"\nframes = 80\nstart = 2026-05-09T04:10:00+02:00\n\
     [exposure]\nmode = \"locked\"\nshutter = \"1/60\"\naperture = 8\niso = 200\n[delivery]\nfps = 25\n";

/// A run with five slots missing at two places, and a plan beside it that ends with `accepted`.
fn shot(dir: &Path) {
    fs::write(dir.join("plan.toml"), PLAN).expect("written");
    let faults = ["--with", "missing=4@20", "--with", "missing=3@50"];
    let made = lapseproof(
        dir,
        &[&["rehearse", "plan.toml", "--into", "weir", "--digits", "2"], &faults[..]].concat(),
    );
    assert_eq!(code(&made), Some(0), "{}", err(&made));
}

fn accept(dir: &Path, blocks: &[&str]) {
    let blocks: String = blocks.iter().map(|b| format!("[[accepted]]\nreason = \"seen\"\n{b}\n")).collect();
    fs::write(dir.join("weir/plan.toml"), format!("{PLAN}{blocks}")).expect("written");
}

/// The first line of an audit, and its call.
fn first_line(dir: &Path) -> (String, String) {
    let told = lapseproof(dir, &["audit", "weir", "--out", "out", "--fail-on", "never", "--quiet"]);
    assert_eq!(code(&told), Some(0), "{}", err(&told));
    let call = Report::of(dir.join("out")).json()["verdict"]["call"].as_str().expect("a word").to_owned();
    (out(&told).lines().next().expect("a line").to_owned(), call)
}

#[test]
fn a_found_plan_cannot_silence_a_card() {
    let dir = temp();
    shot(dir.path());
    assert_eq!(first_line(dir.path()).1, "hold");
    let all = lapseproof::checks::CHECKS.iter().map(|c| format!("check = \"{}\"", c.text.id));
    let all: Vec<String> = all.collect();
    accept(dir.path(), &all.iter().map(String::as_str).collect::<Vec<_>>());
    let (line, call) = first_line(dir.path());
    assert_eq!(call, "look", "{line}");
    assert!(line.contains(" faults") && line.contains("accepted by plan.toml)"), "{line}");
    let report = Report::of(dir.path().join("out"));
    assert!(report.text("report.html").contains("accepted by plan.toml)"));
    let told = report.text("summary.txt").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("without a place or a count, whatever they are"), "{told}");
    assert!(told.contains("how many were agreed to (count)"), "{told}");

    let told = lapseproof(dir.path(), &["survey", "weir", "--fail-on", "never", "--quiet"]);
    let told = out(&told);
    assert!(
        told.lines().next().is_some_and(|l| l.contains("1 sequence with findings that a plan accepts")),
        "{told}"
    );
    assert!(told.contains("accepted by plan.toml") && told.contains("LOOK"), "{told}");

    let args = ["audit", "weir", "--out", "out", "--fail-on", "never", "--deliver"];
    assert_eq!(code(&lapseproof(dir.path(), &args)), Some(0));
    let page = report.text("delivery.html");
    let head = page.split("<main>").next().expect("a head");
    assert!(head.contains("accepted by plan.toml"), "{head}");
}

/// As many as were agreed to: one more, and none of them is accepted.
#[test]
fn a_count_is_as_many_as_were_agreed_to() {
    let dir = temp();
    shot(dir.path());
    let of = |count: u64, check: &str| format!("check = \"{check}\"\ncount = {count}");
    let missing = Report::of(dir.path().join("out"));
    first_line(dir.path());
    let found: u64 = missing.findings("missing-slot").iter().filter_map(|f| f["count"].as_u64()).sum();
    assert_eq!(found, 7);
    let accepted = |count: u64| {
        accept(dir.path(), &[&of(count, "missing-slot")]);
        let (line, _) = first_line(dir.path());
        let all = Report::of(dir.path().join("out")).findings("missing-slot");
        (line, all.iter().filter(|f| !f["accepted"].is_null()).count())
    };
    let (line, agreed) = accepted(7);
    assert!(agreed == 2 && line.contains("2 faults accepted by plan.toml"), "{line}");
    let (line, agreed) = accepted(6);
    assert!(agreed == 0 && !line.contains("accepted"), "{line}");
    // With a place only what stands there is counted, and a place alone is bound enough.
    // Large and small letters are one, as they are to a card.
    accept(dir.path(), &["check = \"missing-slot\"\nfile = \"tide0020.jpg\"\ncount = 4"]);
    let (line, _) = first_line(dir.path());
    let reasons = Report::of(dir.path().join("out")).json()["verdict"]["reasons"].to_string();
    assert!(
        line.contains("1 fault accepted by plan.toml") && !reasons.contains("without a place"),
        "{line} {reasons}"
    );
}

/// Limits that nothing reaches, in a plan that nobody named: of every check, by all of its keys.
fn every_tolerance() -> String {
    let limits =
        lapseproof::checks::CHECKS.iter().flat_map(|check| check.limits.iter().map(|l| (check.text.id, l)));
    let mut blocks = String::new();
    for (id, limit) in limits {
        let heading = format!("[tolerance.{id}]\n");
        if !blocks.contains(&heading) {
            blocks.push_str(&heading);
        }
        let level = if limit.direction == lapseproof::finding::Direction::Below { "-1e12" } else { "1e12" };
        blocks.push_str(&format!("{0}_caution = {level}\n{0}_fault = {level}\n", limit.key.name()));
    }
    blocks
}

#[test]
fn tolerances_of_a_found_plan_cannot_silence_a_card() {
    let dir = temp();
    shot(dir.path());
    let plan = format!("{PLAN}{}", every_tolerance());
    fs::write(dir.path().join("weir/plan.toml"), &plan).expect("written");
    let (line, call) = first_line(dir.path());
    assert_eq!(call, "look", "{line}");
    assert!(line.contains(" fault") && line.contains("tolerated by plan.toml)"), "{line}");
    let report = Report::of(dir.path().join("out"));
    assert!(report.text("report.html").contains("tolerated by plan.toml)"));
    let told = report.text("summary.txt").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("missing-slot: 2 faults tolerated by plan.toml, which lay with the frames"),
        "{told}"
    );
    assert!(told.contains("Look at [tolerance.missing-slot] in the plan"), "{told}");

    let told = out(&lapseproof(dir.path(), &["survey", "weir", "--fail-on", "never", "--quiet"]));
    assert!(told.contains("tolerated by plan.toml") && told.contains("LOOK"), "{told}");
    assert!(told.lines().next().is_some_and(|l| l.contains("a plan accepts or tolerates")), "{told}");

    let args = ["audit", "weir", "--out", "out", "--fail-on", "never", "--deliver"];
    assert_eq!(code(&lapseproof(dir.path(), &args)), Some(0));
    let page = report.text("delivery.html");
    let head = page.split("<main>").next().expect("a head");
    assert!(head.contains("tolerated by plan.toml") && head.contains("wider than usual"), "{head}");

    // A plan that somebody names is his own word, as are flags over a found one.
    fs::write(dir.path().join("mine.toml"), &plan).expect("written");
    let args = ["audit", "weir", "--plan", "mine.toml", "--out", "out", "--fail-on", "never", "--quiet"];
    let told = out(&lapseproof(dir.path(), &args));
    assert!(told.starts_with("CLEAR") && !told.contains("tolerated"), "{told}");
}

/// Frames of a good card, left out by the ends that a found plan names.
#[test]
fn ends_of_a_found_plan_leave_no_frame_out_in_silence() {
    let dir = temp();
    fs::write(dir.path().join("plan.toml"), PLAN).expect("written");
    let made = lapseproof(dir.path(), &["rehearse", "plan.toml", "--into", "weir", "--digits", "2"]);
    assert_eq!(code(&made), Some(0), "{}", err(&made));
    let short = PLAN.replace("frames = 80", "frames = 50\nfirst = \"TIDE0031.JPG\"");
    let short = short.replace("start = 2026-05-09T04:10:00+02:00\n", "");
    fs::write(dir.path().join("weir/plan.toml"), &short).expect("written");
    let (line, call) = first_line(dir.path());
    assert!(line.contains("(30 frames left out by plan.toml)") && call == "look", "{line}");
    let told = Report::of(dir.path().join("out")).text("summary.txt");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("short-run: 30 frames left out by plan.toml, which lay with the frames"), "{told}");
    assert!(told.contains("Look at first and last in the plan. If these ends are yours"), "{told}");
    // A plan that somebody names is his own word, as are flags over a found one.
    fs::write(dir.path().join("mine.toml"), &short).expect("written");
    for own in [["--plan", "mine.toml"], ["--first", "TIDE0031.JPG"]] {
        let args = [&["audit", "weir", "--out", "out", "--fail-on", "never", "--quiet"], &own[..]].concat();
        let told = out(&lapseproof(dir.path(), &args));
        assert!(told.starts_with("CLEAR") && !told.contains("left out by"), "{told}");
    }
}

#[test]
fn a_long_patch_of_a_found_plan_cannot_silence_a_card() {
    let dir = temp();
    shot(dir.path());
    let patch = format!("{PLAN}patch_up_to = 1000\nlength = \"2 s\"\n");
    fs::write(dir.path().join("weir/plan.toml"), patch).expect("written");
    let (line, _) = first_line(dir.path());
    assert!(line.contains("tolerated by plan.toml)"), "{line}");
    let reasons = Report::of(dir.path().join("out")).json()["verdict"].to_string();
    assert!(reasons.contains("tolerated by plan.toml, which lay with the frames"), "{reasons}");
}
