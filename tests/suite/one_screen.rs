//! What the terminal shows without being asked for more: one screen, with the place of every fault.
//!
//! A screen has 24 lines of 80 columns (the VT100's, common practice).

use crate::support::rehearsed;
use crate::support::samples::samples;
use lapseproof::audit::{AuditSet, Setting, carry_out_each};
use lapseproof::finding::Severity;
use lapseproof::outputs::text::brief_of_set;
use lapseproof::plan::{ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::{Fault, Options, script};
use lapseproof::verdict::Call;

fn audit(faults: &[&str]) -> AuditSet {
    every(12.0, faults)
}

fn every(interval_s: f64, faults: &[&str]) -> AuditSet {
    let plan = Plan {
        interval_s: Some(interval_s),
        frames: Some(300),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(0.5)),
            ..ExposurePlan::default()
        },
        ..Plan::default()
    };
    let faults: Vec<Fault> = faults.iter().map(|f| Fault::parse(f).expect(f)).collect();
    let script = script(&plan, &faults, &Options { seed: 5, ..Options::default() }).expect("a script");
    let frames = rehearsed::frames(&script, 0);
    carry_out_each(Setting { name: "screen".into(), plan, ..Setting::default() }, frames)
}

/// No line is wider than the screen, and no more of them than it holds; a clear call has eight at most.
fn fits(screen: &str, call: Call) {
    let most = if call == Call::Clear { 8 } else { 23 };
    assert!(screen.lines().count() <= most, "{screen}");
    assert!(screen.lines().all(|l| l.chars().count() <= 80), "{screen}");
}

#[test]
fn a_clear_call_takes_eight_lines() {
    let set = audit(&[]);
    assert_eq!(set.call(), Call::Clear);
    let screen = brief_of_set(&set, false, 80);
    fits(&screen, Call::Clear);
    assert!(screen.contains("300 frames, one every 12 s") && screen.contains("none is missing"), "{screen}");
}

/// Every fault's first frame is named where the incidents are few.
#[test]
fn a_hold_names_the_place_of_every_fault() {
    for faults in [
        &["missing=3@40", "jump=+2@100"][..],
        &["lost=4@60", "pause=90s@150", "jump=+2@200"],
        &["stop=60%", "missing=5@20"],
    ] {
        let set = audit(faults);
        let screen = brief_of_set(&set, false, 80);
        fits(&screen, set.call());
        let audit = &set.cameras[0].audit;
        for fault in audit.findings().into_iter().filter(|f| f.severity == Severity::Fault) {
            if audit.judgements.iter().any(|j| j.text.id == fault.check && j.text.traits.follows()) {
                continue;
            }
            let name = audit.evidence.frame(fault.first.expect("a place")).name();
            let short = name.rsplit('/').next().unwrap_or_default();
            assert!(screen.contains(short), "{} at {short}: {screen}", fault.check);
        }
    }
}

/// A night on which everything went wrong still fits, and says that there is more.
#[test]
fn however_much_happened_it_is_one_screen() {
    let faults: Vec<String> = (1..20)
        .map(|n| match n % 4 {
            0 => format!("missing=2@{}", n * 14),
            1 => format!("lost=3@{}", n * 14),
            2 => format!("pause=47s@{}", n * 14),
            _ => format!("odd=+2@{}", n * 14),
        })
        .collect();
    let set = audit(&faults.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(set.call(), Call::Hold);
    fits(&brief_of_set(&set, false, 80), Call::Hold);
}

/// A narrow terminal, as a phone or half a screen has it: nothing is wider, and the call, what to do and the
/// place of a fault are there.
#[test]
fn a_narrow_terminal_has_narrow_lines() {
    let set = audit(&["missing=3@40", "jump=+2@100"]);
    let screen = brief_of_set(&set, false, 44);
    assert!(screen.lines().all(|l| l.chars().count() <= 44), "{screen}");
    let wide = brief_of_set(&set, false, 80);
    let words = |text: &str| -> Vec<String> {
        let told = text.lines().filter(|l| !l.starts_with("  "));
        told.flat_map(str::split_whitespace).map(str::to_owned).collect()
    };
    assert!(words(&screen).starts_with(&words(&wide)[..20]), "{screen}");
    assert!(screen.contains("Now: ") && screen.contains("RUN_0040.JPG"), "{screen}");
}

/// In a run of two days each time of day is of one moment.
#[test]
fn a_run_of_days_tells_the_day() {
    let set = every(600.0, &["missing=3@200"]);
    let evidence = &set.cameras[0].audit.evidence;
    let before = (0..evidence.frames.len()).find(|at| evidence.frame(*at).name().ends_with("RUN_0200.JPG"));
    let told = evidence.frame(before.expect("the frame before the hole")).clock().expect("a stamp");
    assert_eq!(told.split(' ').count(), 3, "a day, a month and a time: {told}");
    let screen = brief_of_set(&set, false, 80);
    assert!(screen.contains(&told), "{told} in {screen}");
    let short = brief_of_set(&audit(&["missing=3@200"]), false, 80);
    assert!(!short.contains(told.split(' ').nth(1).expect("a month")), "{short}");
}

/// As a user calls it, on every sample.
#[test]
fn every_sample_fits_a_screen() {
    for sample in samples() {
        let out = tempfile::tempdir().expect("a folder");
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_lapseproof"))
            .args(["audit", &format!("sample-sequences/{}", sample.name), "--out"])
            .arg(out.path().join("report"))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .env_remove("CLICOLOR_FORCE")
            .output()
            .expect("the binary runs");
        let screen = String::from_utf8(output.stdout).expect("UTF-8");
        let call = if screen.starts_with("CLEAR") { Call::Clear } else { Call::Hold };
        fits(&screen, call);
    }
}
