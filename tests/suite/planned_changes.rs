//! What the plan changes on purpose does not alarm: parts with another interval, site hours with nights
//! between, brackets, accepted findings; and what was due and not shot does.

use crate::support::rehearsed;
use crate::support::series::{self, Tick, floored};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::evidence::FrameState;
use lapseproof::evidence::timing::JoinKind;
use lapseproof::plan::{Plan, read};
use lapseproof::rehearse::{Fault, Options, script};
use lapseproof::units::Micros;
use lapseproof::verdict::Call;

fn plan(text: &str) -> Plan {
    read(text, "plan.toml", &[]).expect("a plan")
}

fn audit(plan: &Plan, faults: &[&str], digits: u8) -> Audit {
    let faults: Vec<Fault> = faults.iter().map(|f| Fault::parse(f).expect(f)).collect();
    let options = Options { seed: 11, stamp_digits: digits, ..Options::default() };
    let script = script(plan, &faults, &options).expect("a script");
    let frames = rehearsed::frames(&script, digits);
    carry_out(Setting { name: "changes".into(), plan: plan.clone(), ..Setting::default() }, frames)
}

const LOCKED: &str =
    "[exposure]\nmode = \"locked\"\nshutter = \"1/60\"\naperture = 8\niso = 200\nbusy = \"0.2 s\"\n";

#[test]
fn a_part_with_another_interval_is_no_drift() {
    for digits in [0, 2] {
        let text = format!(
            "interval = \"12 s\"\nframes = 300\nstart = 2026-05-09T04:10:00\n{LOCKED}[[part]]\nfrom = \
             120\ninterval = \"6 s\"\n[[part]]\nfrom = 220\ninterval = \"20 s\"\n"
        );
        let audit = audit(&plan(&text), &["jitter=8ms"], digits);
        assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
        assert_eq!(audit.evidence.timing.missing(), Some(0));
        assert_eq!(audit.evidence.timing.stretches.len(), 3, "{:?}", audit.evidence.timing.joins);
        // What is asked is told part by part.
        let told = lapseproof::outputs::text::summary(&audit, false);
        assert!(told.contains("12 s, then 6 s, then 20 s"), "{told}");
    }
}

/// The hand that changes the interval is a slot early or late.
#[test]
fn a_planned_change_that_comes_a_slot_early_or_late_is_no_drift() {
    let text = |from: u32| {
        format!(
            "interval = \"5 s\"\nframes = 160\nstart = 2026-05-09T04:10:00\n{LOCKED}[[part]]\nfrom = \
             {from}\ninterval = \"10 s\"\n"
        )
    };
    let options = Options { seed: 11, stamp_digits: 2, ..Options::default() };
    let script = script(&plan(&text(60)), &[], &options).expect("a script");
    for from in [59, 60, 61] {
        let setting = Setting { name: "changes".into(), plan: plan(&text(from)), ..Setting::default() };
        let audit = carry_out(setting, rehearsed::frames(&script, 2));
        let drift = audit.findings().into_iter().filter(|f| f.check == "interval-drift").count();
        assert_eq!(drift, 0, "{from}: {:?}", audit.verdict.reasons);
    }
}

/// How many frames a run of working hours holds is not its length over the interval.
#[test]
fn a_run_by_working_hours_is_not_called_short() {
    let text = format!(
        "interval = \"5 min\"\nrun = \"60 h\"\nstart = 2026-05-09T07:00:00\nactive = \
         [\"07:00-19:00\"]\n{LOCKED}"
    );
    let site = plan(&text);
    let shot = plan(&text.replace("run = \"60 h\"", "frames = 432"));
    let options = Options { seed: 11, ..Options::default() };
    let script = script(&shot, &[], &options).expect("a script");
    let setting = Setting { name: "site".into(), plan: site, ..Setting::default() };
    let audit = carry_out(setting, rehearsed::frames(&script, 0));
    let short = audit.findings().into_iter().filter(|f| f.check == "short-run").count();
    assert_eq!(short, 0, "{:?}", audit.verdict.reasons);
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
}

/// Half the interval again is also a multiple: only a plan tells a change on purpose from every other trigger
/// missed.
#[test]
fn twice_the_interval_is_told_by_the_plan() {
    let changed = "interval = \"12 s\"\nframes = 200\nstart = 2026-05-09T04:10:00\n".to_owned()
        + LOCKED
        + "[[part]]\nfrom = 100\ninterval = \"24 s\"\n";
    let with_part = audit(&plan(&changed), &[], 0);
    assert_eq!(with_part.evidence.timing.missing(), Some(0), "{:?}", with_part.evidence.timing.joins);
    assert_eq!(with_part.verdict.call, Call::Clear, "{:?}", with_part.verdict.reasons);
}

#[test]
fn nights_between_site_hours_are_no_pause() {
    let text = format!(
        "interval = \"5 min\"\nframes = 432\nstart = 2026-05-09T07:00:00\nactive = \
         [\"07:00-19:00\"]\n{LOCKED}"
    );
    let site = plan(&text);
    let whole = audit(&site, &[], 0);
    assert_eq!(whole.evidence.timing.missing(), Some(0), "{:?}", whole.evidence.timing.holes);
    let nights = whole.evidence.timing.joins.iter().filter(|j| j.kind == JoinKind::Night).count();
    assert_eq!(nights, 2, "{:?}", whole.evidence.timing.joins);
    assert_eq!(whole.verdict.call, Call::Clear, "{:?}", whole.verdict.reasons);
    // The camera sleeps from noon of the second day: slots 60 to 143 of that day are due and not shot.
    let half = audit(&site, &["missing=84@204"], 0);
    assert_eq!(half.evidence.timing.missing(), Some(84), "{:?}", half.evidence.timing.holes);
    assert_eq!(half.verdict.call, Call::Hold);
}

/// Frames from the opening hour to the closing one, both included, on three days.
#[test]
fn the_closing_hour_is_part_of_the_day() {
    let site = plan(&format!("interval = \"5 min\"\nactive = [\"10:00-20:00\"]\n{LOCKED}"));
    let ticks: Vec<Tick> = (0..3_u32)
        .flat_map(|day| (0..=120_u32).map(move |k| (day, k)))
        .zip(1..)
        .map(|((day, k), number)| {
            // The series begins at 04:10.
            let at = f64::from(day) * 86_400.0 + 21_000.0 + 300.0 * f64::from(k);
            Tick { stamp: Some(floored(at, Micros::SECOND)), number, ..Tick::default() }
        })
        .collect();
    let setting = Setting { name: "site".into(), plan: site, ..Setting::default() };
    let audit = carry_out(setting, series::frames(&ticks, Micros::SECOND));
    assert_eq!(audit.evidence.timing.missing(), Some(0), "{:?}", audit.evidence.timing.holes);
    assert_eq!(audit.verdict.call, Call::Clear, "{:?}", audit.verdict.reasons);
}

#[test]
fn brackets_count_once_a_slot() {
    let text =
        format!("interval = \"10 s\"\nframes = 120\nbracket = 3\nstart = 2026-05-09T04:10:00\n{LOCKED}");
    let audit = audit(&plan(&text), &["missing=2@40"], 0);
    let timing = &audit.evidence.timing;
    assert_eq!(timing.bracket.as_ref().map(|b| b.size), Some(3));
    assert_eq!(timing.missing(), Some(2), "{:?}", timing.holes);
    assert_eq!(timing.slot_count, Some(120));
    assert!(audit.judgements.iter().flat_map(|j| j.findings()).all(|f| f.check != "exposure-jump"));
    assert_eq!(audit.evidence.count(FrameState::Surplus), 0);
}

#[test]
fn an_accepted_finding_is_told_and_does_not_weigh() {
    let mut agreed =
        plan(&format!("interval = \"12 s\"\nframes = 120\nstart = 2026-05-09T04:10:00\n{LOCKED}"));
    let before = audit(&agreed, &["missing=1@50"], 0);
    assert_eq!(before.verdict.call, Call::Look);
    agreed.accepted.push(lapseproof::plan::Accepted {
        check: "missing-slot".into(),
        at: None,
        file: None,
        count: Some(1),
        reason: "lorry; agreed with the client".into(),
    });
    let after = audit(&agreed, &["missing=1@50"], 0);
    assert_eq!(after.verdict.call, Call::Clear, "{:?}", after.verdict.reasons);
    assert_eq!(after.findings().iter().filter(|f| f.accepted.is_some()).count(), 1);
}
