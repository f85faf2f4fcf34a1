use super::super::{CountedFrom, DailyHours, Moment, Part, PartStart, RigPlan};
use super::*;

fn words(plan: &Plan) -> Vec<(Weight, String)> {
    contradictions(plan).into_iter().map(|c| (c.weight, c.words)).collect()
}

fn one(plan: &Plan) -> (Weight, String) {
    let mut all = words(plan);
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

fn at(text: &str) -> Moment {
    super::super::forms::moment(text).expect("a moment")
}

fn part(from: PartStart, interval_s: Option<f64>) -> Part {
    Part {
        from,
        interval_s,
        exposure: ExposurePlan::default(),
        direction: None,
        note: Some("ND filter".into()),
    }
}

fn shot(interval_s: f64, shutter_s: f64) -> Plan {
    let exposure = ExposurePlan { shutter_s: Some(Planned::Fixed(shutter_s)), ..ExposurePlan::default() };
    Plan { interval_s: Some(interval_s), exposure, ..Plan::default() }
}

fn run(frames: u64, run_s: f64, interval_s: f64) -> Plan {
    Plan { frames: Some(frames), run_s: Some(run_s), interval_s: Some(interval_s), ..Plan::default() }
}

#[test]
fn a_sound_plan_is_silent() {
    assert_eq!(words(&Plan::default()), []);
    assert_eq!(words(&run(601, 7200.0, 12.0)), []);
    assert_eq!(words(&shot(12.0, 1.0 / 60.0)), []);
}

#[test]
fn frames_and_run() {
    let (weight, text) = one(&run(600, 7200.0, 12.0));
    assert_eq!(weight, Weight::Warn);
    assert_eq!(
        text,
        "run = \"2 h\" holds 601 frames at an interval of 12 s, one off frames = 600; 600 is used."
    );
    assert_eq!(one(&run(602, 7200.0, 12.0)).0, Weight::Warn);
    let (weight, text) = one(&run(500, 7200.0, 12.0));
    assert_eq!(weight, Weight::Refuse);
    assert_eq!(
        text,
        "run = \"2 h\" holds 601 frames at an interval of 12 s, but frames = 500. Leave out one of the two, \
         or make them agree."
    );
}

#[test]
fn derived_frames() {
    let derived = |mut plan: Plan| {
        derive(&mut plan);
        plan.frames
    };
    let base = Plan { run_s: Some(7200.0), interval_s: Some(12.0), ..Plan::default() };
    assert_eq!(derived(base.clone()), Some(601));
    assert_eq!(derived(Plan { frames: Some(7), ..base.clone() }), Some(7));
    assert_eq!(derived(Plan { interval_s: None, ..base.clone() }), None);
    // 50 min at 12 s, then 70 min at 6 s: slots 0 to 249, then 701 more.
    let start = Some(at("2026-05-09T04:10:00+02:00"));
    let later = PartStart::Moment(at("2026-05-09T05:00:00+02:00"));
    let two = Plan { start, parts: vec![part(later.clone(), Some(6.0))], ..base.clone() };
    assert_eq!(derived(two.clone()), Some(250 + 701));
    // The same instant on another clock.
    let utc = PartStart::Moment(at("2026-05-09T03:00:00Z"));
    assert_eq!(derived(Plan { parts: vec![part(utc, Some(6.0))], ..two.clone() }), Some(951));
    let lost = Plan { start: None, ..two };
    assert!(one(&lost).1.contains("the plan has no start"), "{:?}", words(&lost));
    assert_eq!(derived(lost), None);
    let by_frame = Plan { parts: vec![part(PartStart::Frame(250), Some(6.0))], ..base.clone() };
    assert_eq!(derived(by_frame), Some(951));
    let hours = vec![DailyHours { from_s: 25_200, to_s: 68_400 }];
    // It hangs on the hour of the first frame, which the plan does not say.
    let site = Plan { active: hours, run_s: Some(86_400.0), interval_s: Some(600.0), ..base.clone() };
    assert_eq!(derived(site.clone()), None);
    // From 10:00: 54 to 18:50, 19 from 07:00 to 10:00 of the next day.
    assert_eq!(derived(Plan { start: Some(at("2026-05-09T10:00:00")), ..site }), Some(73));
    // From shutter close, 8 s of exposure: a slot every 20 s.
    let close = Plan { run_s: Some(7200.0), counted_from: Some(CountedFrom::Close), ..shot(12.0, 8.0) };
    assert_eq!(derived(close), Some(361));
}

/// A "30" is 32 s (exact points of the third-stop series, see the units' tests).
#[test]
fn an_exposure_longer_than_the_interval_by_mark_or_in_fact() {
    assert_eq!(words(&shot(33.0, 30.0)), []);
    assert_eq!(words(&shot(32.0, 30.0)), []);
    let (weight, text) = one(&shot(31.0, 30.0));
    assert_eq!(weight, Weight::Warn);
    assert_eq!(
        text,
        "An exposure of 30 s (32 s in fact) is longer than the interval of 31 s: the timer will skip slots \
         or run late."
    );
    assert!(one(&shot(5.0, 8.0)).1.starts_with("An exposure of 8 s is longer than the interval of 5 s"));
    // Counted from shutter close, the exposure lies outside the interval.
    assert_eq!(words(&Plan { counted_from: Some(CountedFrom::Close), ..shot(5.0, 8.0) }), []);
    // The long end of a ramp counts.
    let mut ramp = shot(3.0, 1.0);
    ramp.exposure.shutter_s = Some(Planned::Between(1.0 / 500.0, 4.0));
    assert!(one(&ramp).1.starts_with("An exposure of 4 s"));
    let bracket = Plan { bracket: Some(3), ..shot(5.0, 2.0) };
    assert!(
        one(&bracket).1.starts_with("3 exposures of 2 s are longer than the interval of 5 s"),
        "{:?}",
        one(&bracket)
    );
}

#[test]
fn busy_time_and_dark_frame() {
    let mut plan = shot(5.0, 4.0);
    plan.exposure.busy_s = Some(1.0);
    assert_eq!(words(&plan), []);
    plan.exposure.busy_s = Some(1.5);
    assert_eq!(
        one(&plan).1,
        "An exposure of 4 s with its busy time takes 5.5 s, longer than the interval of 5 s."
    );
    plan.exposure.busy_s = None;
    plan.exposure.dark_frame = Some(true);
    assert_eq!(
        one(&plan).1,
        "An exposure of 4 s with its busy time and dark frame takes 8 s, longer than the interval of 5 s."
    );
    plan.counted_from = Some(CountedFrom::Close);
    assert_eq!(words(&plan), []);
    plan.exposure.busy_s = Some(2.0);
    assert_eq!(one(&plan).1, "Busy time and dark frame take 6 s, longer than the interval of 5 s.");
}

/// The cycle of a slider at 5 s: exposure 4, settle 0.5, move 1.0 (worked outside the project).
#[test]
fn the_rig_against_the_interval() {
    let rig = RigPlan {
        step_m: Some(0.02),
        speed_m_s: Some(0.02),
        settle_s: Some(0.5),
        waits: Some(true),
        ..RigPlan::default()
    };
    let mut plan = Plan { rig, ..shot(5.0, 4.0) };
    plan.exposure.busy_s = Some(0.3);
    assert_eq!(
        one(&plan).1,
        "An exposure of 4 s and the rig's move and settle time of 1.5 s make a slot of 5.8 s, longer than \
         the interval of 5 s."
    );
    plan.exposure.shutter_s = Some(Planned::Fixed(2.5));
    assert_eq!(words(&plan), []);
    plan.interval_s = Some(1.2);
    plan.exposure.shutter_s = Some(Planned::Fixed(0.1));
    assert_eq!(one(&plan).1, "The rig's move and settle time of 1.5 s is longer than the interval of 1.2 s.");
    plan.rig.kind = Some(RigKind::Continuous);
    assert_eq!(words(&plan), []);
}

#[test]
fn steps_against_travel() {
    let rig = RigPlan { travel_m: Some(0.9), step_m: Some(0.0015), ..RigPlan::default() };
    let plan = Plan { frames: Some(601), rig, ..Plan::default() };
    assert_eq!(words(&plan), []);
    let long = Plan { frames: Some(701), ..plan.clone() };
    let (weight, text) = one(&long);
    assert_eq!(weight, Weight::Warn);
    assert_eq!(text, "701 frames are 700 moves of 1.5 mm, 1050 mm in all: more than the travel of 900 mm.");
    assert!(one(&Plan { frames: Some(301), ..plan.clone() }).1.contains("less than the travel"));
    let mut smooth = Plan { interval_s: Some(10.0), ..plan };
    smooth.rig.kind = Some(RigKind::Continuous);
    smooth.rig.speed_m_s = Some(0.000_15);
    assert_eq!(words(&smooth), []);
    smooth.rig.speed_m_s = Some(0.001);
    assert_eq!(
        one(&smooth).1,
        "At a speed of 1 mm/s the carriage travels 6000 mm in the run, more than the travel of 900 mm."
    );
}

#[test]
fn the_clip_against_the_frames() {
    let mut plan = Plan { frames: Some(500), ..Plan::default() };
    plan.delivery.length_s = Some(20.0);
    assert_eq!(
        one(&plan).1,
        "The delivery asks for 20 s of clip, but fps is not said: the length cannot be compared."
    );
    plan.delivery.fps = Some(25.0);
    assert_eq!(words(&plan), []);
    plan.frames = Some(499);
    let (weight, text) = one(&plan);
    assert_eq!(weight, Weight::Warn);
    assert_eq!(
        text,
        "499 frames make 19.96 s at 25 fps; the delivery asks for 20 s, which takes 500 frames."
    );
}

#[test]
fn modes_against_settings() {
    let mut plan = Plan::default();
    plan.exposure.mode = Some(ExposureMode::Ramped);
    assert_eq!(one(&plan).0, Weight::Warn);
    plan.exposure.iso = Some(Planned::Between(100.0, 3200.0));
    assert_eq!(words(&plan), []);
    plan.exposure.mode = Some(ExposureMode::Locked);
    let (weight, text) = one(&plan);
    assert_eq!(weight, Weight::Refuse);
    assert!(text.contains("but iso has two ends"), "{text}");
    plan.exposure.mode = Some(ExposureMode::Automatic);
    assert_eq!(words(&plan), []);
    let lamps = Plan { light: Some(Light::Daylight), mains_hz: Some(50.0), ..Plan::default() };
    assert_eq!(one(&lamps).1, "light is \"daylight\", so mains_hz = 50 is not used.");
}

#[test]
fn hours_that_make_no_sense() {
    let with = |hours: &[(u32, u32)]| {
        let active = hours.iter().map(|(from_s, to_s)| DailyHours { from_s: *from_s, to_s: *to_s }).collect();
        Plan { active, start: Some(at("2026-05-09T08:00:00")), ..Plan::default() }
    };
    assert_eq!(words(&with(&[(25_200, 68_400)])), []);
    assert_eq!(words(&with(&[(0, 86_400)])), []);
    assert_eq!(words(&with(&[(79_200, 36_000)])), [], "over midnight");
    for none in [(25_200, 25_200), (86_400, 10), (0, 90_000)] {
        assert!(words(&with(&[none])).iter().any(|(w, _)| *w == Weight::Refuse), "{none:?}");
    }
    assert!(
        one(&with(&[(25_200, 68_400), (64_800, 72_000)]))
            .1
            .starts_with("The active hours from 18:00:00 overlap")
    );
    assert_eq!(
        one(&with(&[(36_000, 68_400)])).1,
        "The start at 08:00:00 lies outside the active hours: no frame is due then."
    );
}

#[test]
fn parts_against_the_run_and_each_other() {
    let start = Some(at("2026-05-09T04:10:00+02:00"));
    let moment = |text: &str| PartStart::Moment(at(text));
    let with = |parts: Vec<Part>| Plan {
        start,
        interval_s: Some(12.0),
        frames: Some(601),
        parts,
        ..Plan::default()
    };
    assert_eq!(words(&with(vec![part(moment("2026-05-09T05:00:00+02:00"), None)])), []);
    let (weight, text) = one(&with(vec![part(moment("2026-05-09T04:00:00+02:00"), None)]));
    assert_eq!(weight, Weight::Refuse);
    assert_eq!(
        text,
        "[[part]] 1 begins at 2026-05-09T04:00:00, before the start at 2026-05-09T04:10:00. Correct one of \
         the two."
    );
    let (weight, text) = one(&with(vec![part(moment("2026-05-09T07:00:00+02:00"), None)]));
    assert_eq!(weight, Weight::Warn);
    assert_eq!(text, "[[part]] 1 begins 2 h 50 min after the start, but the run ends after 2 h.");
    assert_eq!(one(&with(vec![part(PartStart::Frame(601), None)])).0, Weight::Warn);
    let (weight, text) =
        one(&with(vec![part(PartStart::Frame(300), None), part(PartStart::Frame(200), None)]));
    assert_eq!(weight, Weight::Refuse);
    assert_eq!(text, "[[part]] 2 does not begin after the part before it. Put the parts in their order.");
    let quiet = Part { note: None, ..part(PartStart::Frame(3), None) };
    assert!(one(&with(vec![quiet])).1.starts_with("Nothing changes in [[part]] 1"));
    // A part's interval is compared with the exposure that stands.
    let mut tight = with(vec![part(PartStart::Frame(300), Some(3.0))]);
    tight.exposure.shutter_s = Some(Planned::Fixed(4.0));
    assert!(
        one(&tight).1.contains("in [[part]] 1 is longer than the interval of 3 s"),
        "{:?}",
        words(&tight)
    );
}
