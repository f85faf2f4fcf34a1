//! Five real cards as tables of stamps: four that went wrong and one good run.
//!
//! The facts were read with a reference reader from pictures in public repositories; what is true of each was
//! worked out by hand from stamps and file numbers (`stamps/README.md` beside the tables). The tables are
//! read from `LAPSEPROOF_REAL` or `../shared/real`; where they are absent the tests say so and skip.

use crate::support::table::audited;
use lapseproof::audit::Audit;
use lapseproof::evidence::FrameState;
use lapseproof::evidence::timing::JoinKind;
use lapseproof::finding::{Finding, Severity};
use lapseproof::plan::Plan;
use lapseproof::verdict::Call;

fn every(interval_s: f64) -> Plan {
    Plan { interval_s: Some(interval_s), ..Plan::default() }
}

fn of<'a>(audit: &'a Audit, check: &str) -> Vec<&'a Finding> {
    audit.findings().into_iter().filter(|f| f.check == check).collect()
}

/// 32 files of 93: every step of the file numbers times 5 s is the gap of the stamps.
#[test]
fn a_culled_run_is_counted_by_its_numbers() {
    for plan in [Plan::default(), every(5.0)] {
        let Some(audit) = audited("action-5s", plan) else { return };
        let timing = &audit.evidence.timing;
        assert_eq!((timing.slot_count, timing.missing()), (Some(93), Some(61)));
        let cadence = timing.cadence.as_ref().expect("a cadence");
        assert!((cadence.interval_s - 5.0).abs() < 0.05, "{cadence:?}");
        assert!(audit.evidence.outside.is_empty(), "{:?}", audit.evidence.outside);
        let causes = of(&audit, "missing-slot")
            .iter()
            .map(|f| f.cause.as_ref().map(|c| c.code.name()))
            .collect::<Vec<_>>();
        assert!(causes.iter().all(|c| *c == Some("file-lost")), "{causes:?}");
    }
}

/// After DJI_0134 the timer stood for 272 s and went on with another pace; three gaps are 10 s long, a fourth
/// 9 s.
#[test]
fn a_stop_is_told_as_a_stop_whatever_comes_after() {
    for plan in [Plan::default(), every(6.0)] {
        let Some(audit) = audited("drone-6s", plan) else { return };
        let name = |at: Option<usize>| at.map(|at| audit.evidence.frame(at).name()).unwrap_or_default();
        let slips = of(&audit, "grid-slip");
        let stop = slips.iter().find(|f| name(f.first).ends_with("DJI_0134.JPG")).expect("the stop");
        assert!(stop.severity >= Severity::Caution, "{stop:?}");
        assert!(
            stop.message.contains("4 min 26 s") || stop.message.contains("4 min 32 s"),
            "{}",
            stop.message
        );
        assert_ne!(audit.verdict.call, Call::Clear);
        // The three gaps of 10 s are told by one check and weigh the same.
        let ten: Vec<_> =
            audit.evidence.timing.joins.iter().filter(|j| (j.gap_s - 10.0).abs() < 0.01).collect();
        assert_eq!(ten.len(), 3, "{:?}", audit.evidence.timing.joins);
        assert!(ten.iter().all(|j| matches!(j.kind, JoinKind::Slip { .. })), "{ten:?}");
    }
}

/// 205 frames in bursts fired by hand.
#[test]
fn bursts_by_hand_have_no_pace() {
    let Some(audit) = audited("bursts-by-hand", Plan::default()) else { return };
    let timing = &audit.evidence.timing;
    assert!(timing.cadence.is_none(), "{:?}", timing.cadence);
    assert!(of(&audit, "missing-slot").is_empty());
    let outside = audit.evidence.count(FrameState::Outside);
    assert!(outside <= 5, "{outside} outside: {:?}", audit.evidence.outside);
    assert_ne!(audit.verdict.call, Call::Clear);
}

/// 34 files fired by hand.
#[test]
fn files_renamed_by_hand_have_no_pace() {
    let Some(audit) = audited("renamed-by-hand", Plan::default()) else { return };
    assert!(audit.evidence.timing.cadence.is_none(), "{:?}", audit.evidence.timing.cadence);
    assert!(of(&audit, "missing-slot").is_empty());
    assert_ne!(audit.verdict.call, Call::Clear);
}

/// 20 frames, 6.06 to 6.08 s apart: nothing is wrong.
#[test]
fn a_steady_run_is_clear() {
    for plan in [Plan::default(), every(6.07)] {
        let Some(audit) = audited("steady-6s", plan) else { return };
        assert_eq!(audit.evidence.in_run().count(), 20);
        assert_eq!(audit.evidence.timing.missing(), Some(0));
        assert!(of(&audit, "exposure-hunting").is_empty(), "{:?}", of(&audit, "exposure-hunting"));
        assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
    }
}

/// Prints what is told of each table.
#[test]
#[ignore = "prints"]
fn told() {
    let only = std::env::var("TABLE").ok();
    for name in ["action-5s", "drone-6s", "bursts-by-hand", "renamed-by-hand", "steady-6s"] {
        if only.as_deref().is_some_and(|o| o != name) {
            continue;
        }
        let interval = std::env::var("INTERVAL").ok().and_then(|s| s.parse().ok());
        let plan = Plan { interval_s: interval, ..Plan::default() };
        let Some(audit) = audited(name, plan) else { return };
        println!("== {name}: {:?}", audit.verdict.call);
        let timing = &audit.evidence.timing;
        println!("{:?} {:?}\n{:?}", timing.cadence, timing.no_grid, audit.evidence.outside);
        println!(
            "slots {:?} missing {:?} advance {:?}",
            timing.slot_count,
            timing.missing(),
            timing.number_advance
        );
        for join in &timing.joins {
            println!("  {join:?}");
        }
        for finding in audit.findings() {
            println!("  {} {:?}: {}", finding.check, finding.severity, finding.message);
        }
    }
}
