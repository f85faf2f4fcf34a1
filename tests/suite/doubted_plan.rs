//! A plan that is not that of the card: what is said first, and what is not made up because of it.

use crate::support::rehearsed;
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::finding::{PLAN_DOUBTED, Severity};
use lapseproof::plan::{DeliveryPlan, ExposureMode, ExposurePlan, Plan, Planned, RigPlan};
use lapseproof::rehearse::{Fault, Options, script};
use lapseproof::verdict::Call;

/// 300 frames every 10 s on a slider whose move and settling take 6 s.
fn shot() -> Plan {
    Plan {
        interval_s: Some(10.0),
        frames: Some(300),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(0.5)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            busy_s: Some(0.4),
            ..ExposurePlan::default()
        },
        rig: RigPlan {
            step_m: Some(0.01),
            speed_m_s: Some(0.002),
            settle_s: Some(1.0),
            ..RigPlan::default()
        },
        ..Plan::default()
    }
}

fn audit(shot: &Plan, held_against: &Plan, faults: &[&str]) -> Audit {
    let faults: Vec<Fault> = faults.iter().map(|f| Fault::parse(f).expect(f)).collect();
    let script = script(shot, &faults, &Options { seed: 5, ..Options::default() }).expect("a script");
    let setting = Setting { name: "plan".into(), plan: held_against.clone(), ..Setting::default() };
    carry_out(setting, rehearsed::frames(&script, 0))
}

fn weighing(audit: &Audit) -> Vec<(&'static str, Severity)> {
    let all = audit.findings().into_iter().filter(|f| f.severity > Severity::Note);
    all.map(|f| (f.check, f.severity)).collect()
}

#[test]
fn a_wrong_interval_is_doubted_and_no_fault_of_the_rig_is_made_up() {
    assert_eq!(audit(&shot(), &shot(), &[]).verdict.call, Call::Clear);
    for (wrong_s, flag) in
        [(5.0, "--interval 10s"), (3.0, "--interval 10s"), (20.0, "--interval 10s"), (7.0, "--interval 10s")]
    {
        let audit = audit(&shot(), &Plan { interval_s: Some(wrong_s), ..shot() }, &[]);
        assert_eq!(weighing(&audit), [("interval-drift", Severity::Caution)], "{wrong_s}");
        assert_eq!(audit.verdict.call, Call::Look, "{wrong_s}");
        let said = &audit.verdict.reasons[0].words;
        assert!(said.starts_with("The plan may be wrong") && said.contains(flag), "{said}");
        let causes: Vec<_> = audit.verdict.causes.iter().map(|c| c.code.name()).collect();
        assert_eq!(causes, [PLAN_DOUBTED.name()], "{wrong_s}");
    }
}

/// 5 s every 30 s, and the plan says 1 s: a camera at work for 5 s would have let five slots go by, not 29.
#[test]
fn an_exposure_longer_than_a_wrong_interval_is_no_overrun() {
    let plain = |interval_s, shutter_s| Plan {
        interval_s: Some(interval_s),
        frames: Some(100),
        exposure: ExposurePlan { shutter_s: Some(Planned::Fixed(shutter_s)), ..shot().exposure },
        rig: RigPlan::default(),
        ..shot()
    };
    for (kept_s, exposure_s, wrong_s) in
        [(30.0, 5.0, 1.0), (60.0, 15.0, 10.0), (20.0, 5.0, 2.0), (12.0, 6.0, 4.0)]
    {
        let shot = plain(kept_s, exposure_s);
        let audit = audit(&shot, &plain(wrong_s, exposure_s), &[]);
        assert_eq!(weighing(&audit), [("interval-drift", Severity::Caution)], "{wrong_s}");
        let said = &audit.verdict.reasons[0].words;
        let flag = format!("--interval {kept_s}s");
        assert!(said.starts_with("The plan may be wrong") && said.contains(&flag), "{said}");
    }
    // At 20 s with 22 s of exposure every other slot is let go by: that is no other plan.
    for (kept_s, exposure_s, planned_s) in [(40.0, 22.0, 20.0), (60.0, 22.0, 20.0), (6.0, 5.0, 1.0)] {
        let audit = audit(&plain(kept_s, exposure_s), &plain(planned_s, exposure_s), &[]);
        assert!(weighing(&audit).contains(&("shutter-overrun", Severity::Fault)), "{:?}", weighing(&audit));
    }
}

/// What fits the rig's own time as well is told beside it.
#[test]
fn both_readings_of_an_excess_are_told() {
    let audit = audit(&shot(), &Plan { interval_s: Some(4.0), ..shot() }, &[]);
    let said = &audit.verdict.reasons[0].words;
    assert!(
        said.contains("--interval 10s. Or 4 s was meant.") && said.contains("waits the interval"),
        "{said}"
    );
    assert_eq!(audit.verdict.call, Call::Look);
}

#[test]
fn what_is_wrong_with_the_card_is_told_under_a_wrong_plan_too() {
    let wrong = Plan { interval_s: Some(5.0), ..shot() };
    let holed = audit(&shot(), &wrong, &["missing=4@120"]);
    assert_eq!(
        weighing(&holed),
        [("missing-slot", Severity::Fault), ("interval-drift", Severity::Caution)],
        "the hole has its place and its count"
    );
    assert_eq!(holed.findings()[0].count, 4);
    assert!(
        holed.verdict.reasons[0].words.starts_with("The plan may be wrong"),
        "it is said first all the same"
    );
    // The causes go by what was shot: half a second of 10 s leaves room, whatever share of 5 s it is.
    let codes: Vec<_> = holed.verdict.causes.iter().map(|c| c.code.name()).collect();
    assert_eq!(codes, [PLAN_DOUBTED.name(), "trigger-lost"]);
}

#[test]
fn a_clip_that_comes_out_short_stays_short() {
    let clip = DeliveryPlan { fps: Some(25.0), length_s: Some(20.0), ..DeliveryPlan::default() };
    let wrong = Plan { interval_s: Some(5.0), frames: Some(600), delivery: clip, ..shot() };
    let audit = audit(&shot(), &wrong, &[]);
    assert_eq!(audit.verdict.call, Call::Hold);
    assert!(weighing(&audit).contains(&("short-run", Severity::Fault)), "{:?}", weighing(&audit));
    assert!(audit.verdict.reasons[0].words.starts_with("The plan may be wrong"));
}

/// The table of levels: from 5 % off the planned interval it is a fault.
#[test]
fn drift_stays_drift() {
    for (faults, severity) in
        [(["rate=+3%"], Severity::Caution), (["rate=+6%"], Severity::Fault), (["rate=-15%"], Severity::Fault)]
    {
        let audit = audit(&shot(), &shot(), &faults);
        let all = weighing(&audit);
        assert!(all.contains(&("interval-drift", severity)), "{faults:?}: {all:?}");
        assert!(audit.verdict.causes.iter().all(|c| c.code != PLAN_DOUBTED), "{faults:?}");
    }
}

#[test]
fn a_wrong_number_of_exposures_a_slot_is_doubted() {
    let bracketed = Plan {
        bracket: Some(3),
        interval_s: Some(20.0),
        frames: Some(100),
        rig: RigPlan::default(),
        ..shot()
    };
    assert_eq!(audit(&bracketed, &bracketed, &[]).verdict.call, Call::Clear);
    for wrong in [1, 2, 5] {
        let audit = audit(&bracketed, &Plan { bracket: Some(wrong), ..bracketed.clone() }, &[]);
        assert_eq!(audit.verdict.call, Call::Look, "{wrong}: {:?}", weighing(&audit));
        let said = &audit.verdict.reasons[0].words;
        assert!(said.contains("sets of 3 exposures") && said.contains("--bracket 3"), "{said}");
    }
    let audit = audit(&shot(), &Plan { bracket: Some(3), ..shot() }, &[]);
    assert_eq!(audit.verdict.call, Call::Look, "{:?}", weighing(&audit));
    assert!(audit.verdict.reasons[0].words.contains("--bracket 1"), "{:?}", audit.verdict.reasons);
    // What the delivery lacks it lacks under a wrong plan too.
    let clip = DeliveryPlan { fps: Some(25.0), length_s: Some(16.0), ..DeliveryPlan::default() };
    let short = self::audit(&shot(), &Plan { bracket: Some(3), delivery: clip, ..shot() }, &[]);
    assert!(weighing(&short).contains(&("short-run", Severity::Fault)), "{:?}", weighing(&short));
    let made_up = ["move-clash", "shutter-overrun", "exposure-jump", "missing-slot"];
    assert!(weighing(&audit).iter().all(|(check, _)| !made_up.contains(check)), "{:?}", weighing(&audit));
}
