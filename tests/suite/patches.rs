//! What can be patched, what was agreed to, and what a whole run had to spare: the call that comes of it.

use crate::support::rehearsed::frames;
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::plan::{Accepted, DeliveryPlan, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::{Fault, Options, script};
use lapseproof::verdict::Call;

fn audit(plan: &Plan, faults: &[&str]) -> Audit {
    let faults: Vec<Fault> = faults.iter().map(|f| Fault::parse(f).expect("a fault")).collect();
    let script = script(plan, &faults, &Options::default()).expect("a rehearsal");
    carry_out(Setting { plan: plan.clone(), ..Setting::default() }, frames(&script, 0))
}

fn said(audit: &Audit) -> String {
    let all =
        audit.findings().into_iter().map(|f| format!("{} {}: {}", f.severity.word(), f.check, f.message));
    all.collect::<Vec<_>>().join("\n")
}

/// 480 frames every 6 s, a clip of 300 frames at 25 fps.
fn asked(patch_up_to: Option<u64>) -> Plan {
    Plan {
        interval_s: Some(6.0),
        frames: Some(480),
        delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(12.0), patch_up_to },
        ..Plan::default()
    }
}

/// Call, patches of the usable part and its clip in frames.
fn comes_to(audit: &Audit) -> (Call, usize, u64) {
    let usable = audit.verdict.usable.as_ref().expect("a part");
    let clip = usable.clip_s.expect("a clip") * 25.0;
    (audit.verdict.call, usable.patches.len(), clip.round() as u64)
}

#[test]
fn one_missing_frame_is_looked_at_and_patched() {
    let one = audit(&asked(None), &["missing=1@240"]);
    assert_eq!(comes_to(&one), (Call::Look, 1, 480), "{}", said(&one));
    let page = lapseproof::outputs::text::summary(&one, false);
    let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("479 frames and 1 patch, 19.2 s of clip; 12 s ordered"), "{page}");
    let three = audit(&asked(None), &["missing=1@120", "missing=1@240", "missing=1@360"]);
    assert_eq!(comes_to(&three), (Call::Look, 3, 480), "{}", said(&three));
    // 0 is a value.
    let none = audit(&asked(Some(0)), &["missing=1@240"]);
    assert_eq!(comes_to(&none), (Call::Hold, 0, 240), "{}", said(&none));
    // Two in a row: only where the plan says so.
    let two = audit(&asked(None), &["missing=2@240"]);
    assert_eq!(comes_to(&two), (Call::Hold, 0, 240), "{}", said(&two));
    let two = audit(&asked(Some(2)), &["missing=2@240"]);
    assert_eq!(comes_to(&two), (Call::Look, 1, 480), "{}", said(&two));
}

/// 25 frames of clip between two holes are a second, 24 are less.
#[test]
fn holes_too_close_are_not_patched() {
    for (second, want) in [(266, (Call::Look, 2, 480)), (265, (Call::Hold, 0, 240))] {
        let audit = audit(&asked(None), &["missing=1@240", &format!("missing=1@{second}")]);
        assert_eq!(comes_to(&audit), want, "{second} {}", said(&audit));
    }
}

#[test]
fn a_night_of_every_other_frame_is_no_clip() {
    let audit = audit(&Plan { interval_s: Some(8.0), ..asked(None) }, &["missing=every:2"]);
    let (call, patches, _) = comes_to(&audit);
    assert_eq!((call, patches), (Call::Hold, 0), "{}", said(&audit));
}

/// A hole that was agreed to is taken as good by what follows from it.
#[test]
fn an_agreed_hole_holds_nothing() {
    let (at, file, reason) = (None, None, "a lorry; agreed".to_owned());
    let accepted = vec![Accepted { check: "missing-slot".into(), at, file, count: Some(5), reason }];
    let plan = Plan { accepted, ..asked(None) };
    let hole = audit(&plan, &["missing=5@240"]);
    assert_eq!(comes_to(&hole), (Call::Clear, 0, 480), "{}", said(&hole));
    assert_eq!(audit(&asked(None), &["missing=5@240"]).verdict.call, Call::Hold);
}

/// 30 s stars every 33 s: a marked 30 s lasts 32 s, 97 % of the interval. The run is whole, so nothing is
/// left to look at.
#[test]
fn stars_with_little_to_spare_are_clear_where_they_are_whole() {
    let exposure =
        ExposurePlan { shutter_s: Some(Planned::Fixed(30.0)), busy_s: Some(0.2), ..ExposurePlan::default() };
    let plan = Plan { interval_s: Some(33.0), frames: Some(200), exposure, ..Plan::default() };
    let whole = audit(&plan, &[]);
    assert_eq!(whole.verdict.call, Call::Clear, "{}", said(&whole));
    assert!(whole.findings().iter().any(|f| f.check == "shutter-overrun"), "{}", said(&whole));
    let script = script(&plan, &[], &Options::default()).expect("a rehearsal");
    let setting = Setting { plan: Plan { frames: None, ..plan.clone() }, ..Setting::default() };
    let without_count = carry_out(setting, frames(&script, 0));
    assert_eq!(without_count.verdict.call, Call::Clear, "{}", said(&without_count));
    let holed = audit(&plan, &["missing=1@100"]);
    assert_eq!(holed.verdict.call, Call::Look, "{}", said(&holed));
    let overrun = holed.findings().into_iter().find(|f| f.check == "shutter-overrun").expect("it is told");
    assert_eq!(overrun.severity.word(), "caution");
}
