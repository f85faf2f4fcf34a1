//! Shoots that are worked out before they are shot: whatever is known, the plan that comes of it passes its
//! own audit when it is rehearsed.

use crate::support::cases::tried;
use crate::support::rehearsed::frames;
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::finding::Answer;
use lapseproof::outputs::shoot::{json, text, toml};
use lapseproof::plan::shoot::{Key, Known, Shoot, State, Subject, Unsolved, beside, solve};
use lapseproof::plan::{
    CardPlan, CountedFrom, DailyHours, DeliveryPlan, ExposurePlan, Light, Part, PartStart, Plan, Planned,
    RigKind, RigPlan, Weight, contradictions, read,
};
use lapseproof::rehearse::{Options, script};
use lapseproof::units::stops::{Series, third_mark};
use lapseproof::verdict::Call;
use proptest::option::weighted;
use proptest::prelude::*;
use proptest::strategy::ValueTree;

/// Frames past which a shoot is worked out and not rehearsed: time.
const MOST: u64 = 3000;

/// Frames under which no cadence can be told: an audit is then right to look twice, and never to hold.
const LEAST: u64 = 5;

/// A figure as somebody says it, with at most so many decimals.
pub fn said(range: std::ops::Range<f64>, decimals: i32) -> impl Strategy<Value = f64> {
    let scale = 10_f64.powi(decimals);
    range.prop_map(move |v| ((v * scale).round() / scale).max(1.0 / scale))
}

fn mark() -> impl Strategy<Value = f64> {
    (-30..=15_i32).prop_map(|k| third_mark(Series::Time, k).expect("a mark"))
}

fn exposure() -> impl Strategy<Value = ExposurePlan> {
    let shutter = prop_oneof![
        4 => mark().prop_map(Planned::Fixed),
        1 => (mark(), mark()).prop_map(|(a, b)| Planned::Between(a, b)),
    ];
    (weighted(0.8, shutter), weighted(0.6, said(0.0..1.5, 2)), weighted(0.1, Just(true))).prop_map(
        |(shutter_s, busy_s, dark_frame)| ExposurePlan {
            shutter_s,
            busy_s,
            dark_frame,
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            ..ExposurePlan::default()
        },
    )
}

fn rig() -> impl Strategy<Value = RigPlan> {
    let carriage = (
        weighted(0.15, Just(RigKind::Continuous)),
        weighted(0.5, said(0.05..2.0, 2)),
        weighted(0.4, said(0.0002..0.02, 6)),
        weighted(0.6, said(0.0005..0.05, 6)),
        weighted(0.4, said(0.01..0.5, 6)),
    );
    let times =
        (weighted(0.5, said(0.0..2.0, 2)), weighted(0.3, said(0.0..0.3, 6)), weighted(0.3, any::<bool>()));
    let power = (
        weighted(0.4, said(1.0..20.0, 2)),
        weighted(0.2, (said(2.0..5.0, 2), said(5.0..12.0, 2))),
        weighted(0.4, (-25..30_i32).prop_map(f64::from)),
    );
    let gear = (
        weighted(0.2, (said(0.5..3.0, 2), said(10.0..100.0, 2))),
        weighted(0.2, prop::sample::select(vec![0.1, 0.5, 1.0, 2.0])),
    );
    (carriage, times, power, gear).prop_map(|(carriage, times, power, gear)| RigPlan {
        kind: carriage.0,
        travel_m: carriage.1,
        step_m: carriage.2,
        speed_m_s: carriage.3,
        acceleration_m_s2: carriage.4,
        settle_s: times.0,
        trigger_lag_s: times.1,
        waits: times.2,
        battery_hours: power.0,
        hours_range: power.1.map(|(a, b)| Planned::Between(a, b)),
        temperature_c: power.2,
        interval_range_s: gear.0.map(|(a, b)| Planned::Between(a, b)),
        interval_step_s: gear.1,
        ..RigPlan::default()
    })
}

/// A change on the way: a new interval or a new exposure. Where both change at once an audit may take the one
/// for the cause of the other.
fn part() -> impl Strategy<Value = Part> {
    // A factor on the plan's own interval, laid on it later.
    let interval = weighted(0.7, prop::sample::select(vec![0.5, 0.75, 1.5, 2.0]));
    let shutter = weighted(0.5, mark().prop_map(Planned::Fixed));
    (1..200_u64, interval, shutter).prop_map(|(frame, interval_s, shutter_s)| Part {
        from: PartStart::Frame(frame),
        interval_s,
        exposure: ExposurePlan {
            shutter_s: shutter_s.filter(|_| interval_s.is_none()),
            ..ExposurePlan::default()
        },
        direction: None,
        note: Some("a filter".into()),
    })
}

/// Frames of a part that an audit surely takes for one, and not for shots before or after the run: it does
/// not know the plan's parts when it reads the stamps.
const PART: u64 = 40;

/// Parts follow one another, and not too closely.
fn in_order(mut parts: Vec<Part>, interval_s: Option<f64>) -> Vec<Part> {
    let mut at = 0;
    for part in &mut parts {
        if let PartStart::Frame(frame) = &mut part.from {
            at += PART + *frame;
            *frame = at;
        }
        part.interval_s = part
            .interval_s
            .zip(interval_s)
            .map(|(factor, s)| ((factor * s * 100.0).round() / 100.0).max(0.3));
    }
    parts
}

fn hours() -> impl Strategy<Value = DailyHours> {
    (0..24_u32, 1..23_u32).prop_map(|(from, length)| DailyHours {
        from_s: from * 3600,
        to_s: (from + length - 1) % 24 * 3600 + 3600,
    })
}

/// Whatever may be known, most of it sensible.
pub fn known() -> impl Strategy<Value = Known> {
    let interval =
        prop_oneof![4 => (1..60_u32).prop_map(f64::from), 4 => said(0.5..40.0, 2), 1 => said(0.05..0.5, 2)];
    let fps = prop::sample::select(vec![24.0, 25.0, 30.0, 24_000.0 / 1001.0]);
    let time = (
        weighted(0.5, interval),
        weighted(0.3, prop_oneof![5 => 2..300_u64, 1 => 2..5_u64, 1 => 500..2500_u64]),
        weighted(0.2, said(60.0..7200.0, 2)),
        weighted(0.3, said(60.0..7200.0, 2)),
        weighted(0.1, Just(CountedFrom::Close)),
    );
    let clip = (weighted(0.6, fps), weighted(0.5, said(1.0..12.0, 2)));
    let card = (weighted(0.3, said(0.5e9..64e9, 2)), weighted(0.6, 1e6..60e6_f64));
    let more = (
        weighted(0.2, 2..6_u32),
        prop::collection::vec(part(), 0..3),
        prop_oneof![6 => Just(Vec::new()), 1 => hours().prop_map(|h| vec![h])],
    );
    let light = (
        weighted(0.4, prop::sample::select(vec![Light::Mains, Light::Daylight])),
        weighted(0.5, prop::sample::select(vec![50.0, 60.0])),
    );
    (time, clip, card, exposure(), rig(), more, light).prop_map(
        |(time, clip, card, exposure, rig, more, light)| Known {
            plan: Plan {
                interval_s: time.0,
                frames: time.1,
                run_s: time.2,
                counted_from: time.4,
                bracket: more.0,
                // An audit finds sets and days before it knows of parts, and loses parts of them at another
                // interval.
                parts: if more.0.is_some() || !more.2.is_empty() {
                    Vec::new()
                } else {
                    in_order(more.1, time.0)
                },
                active: more.2,
                exposure,
                rig,
                light: light.0,
                mains_hz: light.1.filter(|_| light.0 == Some(Light::Mains)),
                card: CardPlan { size_bytes: card.0, frame_bytes: card.1, file_system: None },
                delivery: DeliveryPlan { fps: clip.0, length_s: clip.1, ..DeliveryPlan::default() },
                ..Plan::default()
            },
            event_s: time.3,
        },
    )
}

/// The audit of the plan's rehearsal.
pub fn rehearsed(plan: &Plan) -> Audit {
    let options = Options { stamp_digits: 2, ..Options::default() };
    // The rehearsed camera is busy for a while where the plan says nothing; the plan counts that as none.
    let mut shot = plan.clone();
    shot.exposure.busy_s = Some(plan.exposure.busy_s.unwrap_or(0.0));
    let script = script(&shot, &[], &options).expect("a plan that can be rehearsed");
    let mut frames = frames(&script, 2);
    if let Some(bytes) = plan.card.frame_bytes {
        frames.card.shots.iter_mut().for_each(|s| s.file.bytes = bytes as u64);
    }
    let setting = Setting { plan: plan.clone(), ..Setting::default() };
    carry_out(setting, frames)
}

pub fn told(audit: &Audit) -> String {
    let found: Vec<_> = audit.findings().iter().map(|f| format!("{}: {}", f.check, f.message)).collect();
    format!("{}\n{:#?}", found.join("\n"), audit.plan)
}

/// What holds of every shoot that is worked out.
fn holds(shoot: &Shoot) -> Result<(), TestCaseError> {
    let plan = &shoot.plan;
    let odd = contradictions(plan);
    prop_assert!(odd.iter().all(|c| c.weight == Weight::Warn), "{odd:?}");
    if shoot.state() == State::Works {
        // A part after the end changes nothing; the plan's notes say so.
        let late = odd.iter().any(|c| c.words.contains("end before it"));
        prop_assert!(late || odd.is_empty(), "{odd:?} {plan:#?}");
    }
    let frames = plan.frames.expect("frames");
    if frames * u64::from(plan.bracket.unwrap_or(1)) > MOST {
        return Ok(());
    }
    let audit = rehearsed(plan);
    for judgement in &audit.judgements {
        prop_assert!(
            !matches!(judgement.answer, Answer::Broke(_)),
            "{}: {:?}",
            judgement.text.id,
            judgement.answer
        );
    }
    if plan.parts.iter().any(|p| matches!(p.from, PartStart::Frame(n) if n < frames && n + PART > frames)) {
        return Ok(());
    }
    // Few sets, and sets that fill the interval, are not told from single frames that come unevenly; and past
    // the dial's end nobody marks the exposures of one.
    let past = |members: u32| {
        plan.exposure.shutter_s.is_some_and(|p| p.high() * f64::from(1 << (members / 2)) > 30.0)
    };
    let full = shoot.figures.slot.camera_s > 0.5 * plan.interval_s.expect("an interval");
    if plan.bracket.is_some_and(|members| frames < PART || past(members) || full) {
        return Ok(());
    }
    // From the exposures of a set, and of a part, an audit does not tell what a timer counts that counts from
    // shutter close.
    if plan.counted_from == Some(CountedFrom::Close) && (plan.bracket.is_some() || !plan.parts.is_empty()) {
        return Ok(());
    }
    let few = frames < LEAST || days(plan, shoot.figures.run_s).is_some_and(|days| frames < LEAST * days);
    // Where the plan says no exposure it counts none, and may leave less than any takes: told as tight.
    let exposures = f64::from(plan.bracket.unwrap_or(1) + 1) / 2.0;
    let shortest_s =
        plan.parts.iter().filter_map(|p| p.interval_s).chain(plan.interval_s).fold(f64::MAX, f64::min);
    let rehearsed_s = (exposures.exp2() / 60.0).min(0.05 * shortest_s);
    if plan.exposure.shutter_s.is_none()
        && shoot.state() == State::Tight
        && shortest_s - shoot.figures.slot.whole_s() < rehearsed_s
    {
        return Ok(());
    }
    match shoot.state() {
        // Too few frames make no grid.
        State::Works | State::Tight if few => {
            prop_assert_ne!(audit.verdict.call, Call::Hold, "{}", told(&audit));
        }
        // Where the plan says no exposure, the rehearsed one takes its little of the margin.
        State::Works if plan.exposure.shutter_s.is_none() => {
            prop_assert_ne!(audit.verdict.call, Call::Hold, "{}", told(&audit));
        }
        State::Works => prop_assert_eq!(audit.verdict.call, Call::Clear, "{}", told(&audit)),
        State::Tight => prop_assert_ne!(audit.verdict.call, Call::Hold, "{}", told(&audit)),
        State::Fails => {}
    }
    Ok(())
}

/// The days that a plan with working hours takes.
fn days(plan: &Plan, run_s: f64) -> Option<u64> {
    (!plan.active.is_empty()).then(|| (run_s / 86_400.0).floor() as u64 + 2)
}

/// A last working day, or a first one, of a single frame: 10 800 s at 45 s are 240 frames, and the plan
/// counts on one more.
#[test]
fn a_day_of_one_frame_is_of_the_run() {
    // A timer that counts 2 s from the close of 12.7 s: 245 frames in the hour from 06:00.
    let close = "interval = \"2 s\"\nframes = 246\ncounted_from = \"close\"\nstart = \
                 2026-05-09T06:00:00\nactive = [\"00:00-07:00\"]\n[exposure]\nshutter = \"13 s\"";
    let audit = rehearsed(&read(close, "plan.toml", &[]).expect("a plan"));
    assert_eq!(audit.verdict.call, Call::Clear, "{}", told(&audit));
    for start in ["2026-05-09T06:00:00", "2026-05-09T08:59:15"] {
        let start = format!("start = \"{start}\"\n");
        let text = format!("interval = \"45 s\"\nframes = 241\nactive = [\"00:00-09:00\"]\n{start}");
        let plan = read(&text, "plan.toml", &[]).expect("a plan");
        let audit = rehearsed(&plan);
        assert_eq!(audit.verdict.call, Call::Clear, "{}", told(&audit));
        // The frame is not taken for one of the run where the plan counts on no more.
        let audit = carry_out(
            Setting { plan: Plan { frames: Some(240), ..plan.clone() }, ..Setting::default() },
            frames(&script(&plan, &[], &Options::default()).expect("a script"), 0),
        );
        assert_eq!(audit.evidence.outside.len(), 1, "{start}");
    }
}

/// At 0.05 s a carriage that takes nine tenths of the interval leaves 5 ms: the exposure that a rehearsal
/// chooses for itself fits in.
#[test]
fn what_a_rehearsal_chooses_for_itself_fits_a_short_interval() {
    let rig = RigPlan { step_m: Some(0.012_283), speed_m_s: Some(0.273), ..RigPlan::default() };
    let exposure = ExposurePlan { busy_s: Some(0.0), ..ExposurePlan::default() };
    let plan = Plan { interval_s: Some(0.05), frames: Some(163), rig, exposure, ..Plan::default() };
    for bracket in [None, Some(3)] {
        let audit = rehearsed(&Plan { bracket, ..plan.clone() });
        assert_ne!(audit.verdict.call, Call::Hold, "{}", told(&audit));
    }
}

/// The file of a shoot that its rail does not hold: the rail stands in it, and read back it does not agree.
#[test]
fn a_rail_that_is_too_short_stays_in_the_file() {
    let rig = RigPlan {
        travel_m: Some(1.54),
        step_m: Some(0.019_472),
        interval_step_s: Some(1.0),
        ..RigPlan::default()
    };
    let delivery = DeliveryPlan { fps: Some(30.0), length_s: Some(2.6), ..DeliveryPlan::default() };
    let plan = Plan { rig, delivery, ..Plan::default() };
    let shoot = solve(&Known { plan, event_s: Some(270.17) }).expect("it is worked out");
    assert!(shoot.rulings.fails(Subject::Rail));
    let written = toml::file(&shoot);
    assert!(written.contains("travel = \"1540 mm\""), "{written}");
    let again = solve(&Known { plan: read(&written, "plan.toml", &[]).expect("it reads"), event_s: None });
    assert!(matches!(again, Err(Unsolved::Over(_))), "{again:?}");
}

/// What is patched in post stands in the file and in the JSON, 0 as well.
#[test]
fn what_is_patched_is_written() {
    for patch_up_to in [None, Some(0), Some(3)] {
        let delivery = DeliveryPlan { patch_up_to, ..DeliveryPlan::default() };
        let plan = Plan { interval_s: Some(6.0), frames: Some(100), delivery, ..Plan::default() };
        let shoot = solve(&Known { plan, event_s: None }).expect("it is worked out");
        let read = read(&toml::file(&shoot), "plan.toml", &[]).expect("it reads");
        assert_eq!(read.delivery.patch_up_to, patch_up_to);
        let mut out = Vec::new();
        json::write(&shoot, &[], &mut out).expect("it is written");
        let value: serde_json::Value = serde_json::from_slice(&out).expect("it is JSON");
        assert_eq!(value["plan"]["delivery"]["patch_up_to"].as_u64(), patch_up_to, "{value:#}");
    }
}

proptest! {
    #![proptest_config(tried(250))]

    /// Every plan that is worked out passes its own audit, and so do the plans beside it; its file reads back
    /// as the same shoot.
    #[test]
    fn every_plan_passes_its_own_audit(known in known()) {
        let shoot = match solve(&known) {
            Ok(shoot) => shoot,
            Err(Unsolved::Under(words) | Unsolved::Absurd(words)) => {
                prop_assert!(!words.is_empty() && words.iter().all(|w| !w.is_empty()));
                return Ok(());
            }
            Err(Unsolved::Over(clashes)) => {
                prop_assert!(clashes.iter().all(|c| c.keys.len() > 1 && !c.words.is_empty()));
                return Ok(());
            }
        };
        holds(&shoot)?;

        // What was given stands.
        let (given, plan) = (&known.plan, &shoot.plan);
        prop_assert!(given.interval_s.is_none() || given.interval_s == plan.interval_s);
        prop_assert!(given.frames.is_none() || given.frames == plan.frames);
        if let Some(event_s) = known.event_s {
            prop_assert!(shoot.figures.run_s >= event_s - 1e-3, "{} {event_s}", shoot.figures.run_s);
        }
        if let Some(run_s) = given.run_s.filter(|_| plan.active.is_empty() && plan.parts.is_empty()) {
            let slot_s = shoot.figures.run_s / (plan.frames.unwrap_or(2).max(2) - 1) as f64;
            // Frames that are given beside it may be one off, and a run rarely ends on a slot.
            prop_assert!((shoot.figures.run_s - run_s).abs() <= 2.0 * slot_s + 1e-3);
        }
        if let (Some(clip_s), Some(asked_s)) = (shoot.figures.clip_s, given.delivery.length_s) {
            prop_assert!(clip_s >= asked_s - 1e-6);
        }

        let others = beside(&known, &shoot);
        for other in others.iter().filter_map(|n| n.shoot.as_ref()) {
            prop_assert_eq!(other.state(), State::Works);
            holds(other)?;
        }

        let written = toml::file(&shoot);
        let again = read(&written, "plan.toml", &[]);
        let again = again.map_err(|e| TestCaseError::fail(format!("{e}\n{written}")))?;
        let again = solve(&Known { plan: again, event_s: None });
        // A rail that is too short stands in the file, and the frames with it: read back, they do not agree.
        if let (true, Err(Unsolved::Over(clashes))) = (shoot.rulings.fails(Subject::Rail), &again) {
            prop_assert!(clashes.iter().any(|c| c.keys.contains(&Key::Travel)), "{}", written);
            return Ok(());
        }
        let again = again.map_err(|e| TestCaseError::fail(format!("{e:?}\n{written}")))?;
        prop_assert_eq!(again.state(), shoot.state(), "{}", written);
        prop_assert_eq!(again.plan.interval_s, plan.interval_s);
        prop_assert_eq!(again.plan.frames, plan.frames);
        let whole_s = [&again, &shoot].map(|s| s.figures.slot.whole_s());
        prop_assert!((whole_s[0] - whole_s[1]).abs() < 1e-5, "{}", written);

        for line in text::page(&shoot, &others, false).lines() {
            prop_assert!(line.chars().count() <= 80 && line == line.trim_end(), "{line:?}");
        }
        let mut out = Vec::new();
        json::write(&shoot, &others, &mut out).expect("it is written");
        let value: serde_json::Value = serde_json::from_slice(&out).expect("it is JSON");
        prop_assert_eq!(value["state"].as_str(), Some(shoot.state().word()));
    }
}

/// Any value that a plan file can hold, the absurd ones most of all.
fn wild() -> impl Strategy<Value = Option<f64>> {
    weighted(0.5, (-6..9_i32, 1.0..10.0_f64).prop_map(|(e, m)| m * 10_f64.powi(e)))
}

proptest! {
    #![proptest_config(tried(150))]

    /// Nothing that can be said makes the arithmetic fall over or fill the page with what is no number.
    #[test]
    fn absurd_figures_are_answered(
        time in (wild(), weighted(0.4, 1..100_000_000_u64), wild(), wild()),
        clip in (wild(), wild()),
        camera in (wild(), wild(), weighted(0.3, any::<bool>()), weighted(0.2, 1..99_u32)),
        carriage in (wild(), wild(), wild(), wild(), wild()),
        gear in (wild(), wild(), wild(), weighted(0.5, -90.0..70.0_f64)),
        card in (wild(), wild()),
        kinds in (weighted(0.3, Just(RigKind::Continuous)), weighted(0.3, Just(CountedFrom::Close))),
    ) {
        let plan = Plan {
            interval_s: time.0,
            frames: time.1,
            run_s: time.2,
            counted_from: kinds.1,
            bracket: camera.3,
            exposure: ExposurePlan {
                shutter_s: camera.0.map(|s| Planned::Fixed(s.min(86_400.0))),
                busy_s: camera.1,
                dark_frame: camera.2,
                ..ExposurePlan::default()
            },
            rig: RigPlan {
                kind: kinds.0,
                travel_m: carriage.0,
                step_m: carriage.1,
                speed_m_s: carriage.2,
                acceleration_m_s2: carriage.3,
                settle_s: carriage.4,
                battery_hours: gear.0,
                interval_step_s: gear.1,
                interval_range_s: gear.2.map(|s| Planned::Between(s, 10.0 * s)),
                temperature_c: gear.3,
                ..RigPlan::default()
            },
            card: CardPlan { size_bytes: card.0, frame_bytes: card.1, file_system: None },
            delivery: DeliveryPlan {
                fps: clip.0.map(|f| f.clamp(1.0, 1000.0)),
                length_s: clip.1,
                ..DeliveryPlan::default()
            },
            ..Plan::default()
        };
        let known = Known { plan, event_s: time.3 };
        if let Ok(shoot) = solve(&known) {
            let others = beside(&known, &shoot);
            let page = text::page(&shoot, &others, false);
            prop_assert!(!page.contains("NaN") && !page.contains("inf "), "{page}");
            prop_assert!(page.lines().all(|l| l.chars().count() <= 80), "{page}");
            prop_assert!(others.iter().filter_map(|n| n.shoot.as_ref()).all(|s| s.state() == State::Works));
            let written = toml::file(&shoot);
            prop_assert!(!written.contains("NaN") && !written.contains("inf "), "{written}");
        }
    }
}

/// The property above would hold of nothing if nothing could be worked out.
#[test]
fn most_sensible_shoots_can_be_worked_out() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let (mut solved, mut works) = (0, 0);
    for _ in 0..400 {
        let known = known().new_tree(&mut runner).expect("a value").current();
        if let Ok(shoot) = solve(&known) {
            solved += 1;
            works += u32::from(shoot.state() == State::Works);
        }
    }
    assert!(solved > 100 && works > 40, "{solved} solved, {works} of them work");
}

fn fixed(shutter_s: f64, busy_s: f64) -> ExposurePlan {
    ExposurePlan {
        shutter_s: Some(Planned::Fixed(shutter_s)),
        busy_s: Some(busy_s),
        ..ExposurePlan::default()
    }
}

/// Worked by hand. 1.8 mm at 1 mm/s take 1.8 s, with 8 s of exposure 9.8 s: nine tenths of 10.9 s, so 11 s;
/// with 0.5 s to settle 10.3 s, nine tenths of 11.4 s: 12 s on a dial of whole seconds (common practice for
/// the tenth).
#[test]
fn the_move_binds() {
    let rig =
        RigPlan { step_m: Some(0.0018), speed_m_s: Some(0.001), settle_s: Some(0.5), ..RigPlan::default() };
    let plan = Plan { frames: Some(500), exposure: fixed(8.0, 0.4), rig, ..Plan::default() };
    let known = Known { plan, event_s: None };
    let shoot = solve(&known).expect("a shoot");
    assert_eq!(shoot.plan.interval_s, Some(12.0));
    let binding = shoot.rulings.binding().expect("one that binds");
    assert_eq!(
        binding.words,
        "The move takes 1.8 s and settling 0.5 s: every interval from 12 s on leaves room for an 8 s \
         exposure."
    );
    let others = beside(&known, &shoot);
    assert!(
        others[0].shoot.is_none()
            && others[0].words.starts_with("No shorter interval works. The move takes 1.8 s")
    );
    assert_eq!(others[1].shoot.as_ref().map(|s| s.plan.interval_s), Some(Some(13.0)));
}

/// Worked values, computed outside the project: an hour at 5 s is 721 frames, 28.84 s at 25 fps and 1440 mm
/// of 2 mm moves; two hours at 3 s are 2401 frames, 100.0417 s at 24 fps; 240 frames at 5 s last 1195 s; half
/// of 5 s is 2.5 s.
#[test]
fn the_little_bit_of_maths() {
    let at = |run_s, interval_s, fps, step_m| {
        let plan = Plan {
            run_s: Some(run_s),
            interval_s: Some(interval_s),
            rig: RigPlan { step_m, ..RigPlan::default() },
            delivery: DeliveryPlan { fps: Some(fps), length_s: None, ..DeliveryPlan::default() },
            ..Plan::default()
        };
        solve(&Known { plan, event_s: None }).expect("a shoot")
    };
    let hour = at(3600.0, 5.0, 25.0, Some(0.002));
    assert_eq!(hour.plan.frames, Some(721));
    assert!((hour.figures.clip_s.expect("a clip") - 28.84).abs() < 1e-9);
    assert!((hour.plan.rig.travel_m.expect("a travel") - 1.44).abs() < 1e-9);
    assert!((hour.figures.half_s - 2.5).abs() < 1e-9);
    let two = at(7200.0, 3.0, 24.0, None);
    assert_eq!(two.plan.frames, Some(2401));
    assert!((two.figures.clip_s.expect("a clip") - 100.0417).abs() < 5e-5);
    let counted = Plan { frames: Some(240), interval_s: Some(5.0), ..Plan::default() };
    let counted = solve(&Known { plan: counted, event_s: None }).expect("a shoot");
    assert!((counted.figures.run_s - 1195.0).abs() < 1e-9);
}

/// Two hours of an event in 20 s at 25 fps: 7200 s / 499 = 14.43 s, 14 s on the dial, and then 516 frames
/// cover the event.
#[test]
fn an_event_and_a_clip_make_the_interval() {
    let plan = Plan {
        delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(20.0), ..DeliveryPlan::default() },
        ..Plan::default()
    };
    let shoot = solve(&Known { plan: plan.clone(), event_s: Some(7200.0) }).expect("a shoot");
    assert_eq!((shoot.plan.interval_s, shoot.plan.frames), (Some(14.0), Some(516)));
    let tenths = Plan { rig: RigPlan { interval_step_s: Some(0.1), ..RigPlan::default() }, ..plan };
    let shoot = solve(&Known { plan: tenths, event_s: Some(7200.0) }).expect("a shoot");
    assert_eq!((shoot.plan.interval_s, shoot.plan.frames), (Some(14.4), Some(501)));
}

/// 3398.48 s / 23 = 147.76 s, 147 s on the dial: 23 · 147 s = 3381 s, and the event lasts 3390.83 s. One
/// frame more covers it.
#[test]
fn an_event_within_a_run_is_covered() {
    let delivery = DeliveryPlan { fps: Some(24.0), length_s: Some(1.0), ..DeliveryPlan::default() };
    let plan = Plan { run_s: Some(3398.48), delivery, ..Plan::default() };
    let shoot = solve(&Known { plan, event_s: Some(3390.83) }).expect("a shoot");
    assert_eq!((shoot.plan.interval_s, shoot.plan.frames), (Some(147.0), Some(25)));
    assert!(shoot.notes.iter().any(|n| n.contains("one frame more")), "{:?}", shoot.notes);
    // With parts, half an hour at 10 s: 181 frames within 1805 s, 182 for an event of 1803 s.
    let part = Part {
        from: PartStart::Frame(200),
        interval_s: Some(20.0),
        exposure: ExposurePlan::default(),
        direction: None,
        note: None,
    };
    let plan = Plan { interval_s: Some(10.0), run_s: Some(1805.0), parts: vec![part], ..Plan::default() };
    let frames = |event_s| solve(&Known { plan: plan.clone(), event_s }).expect("a shoot").plan.frames;
    assert_eq!((frames(Some(1800.0)), frames(Some(1803.0))), (Some(181), Some(182)));
}

#[test]
fn what_does_not_agree_is_named_with_what_comes_of_dropping_it() {
    let plan = Plan { interval_s: Some(12.0), frames: Some(600), run_s: Some(3600.0), ..Plan::default() };
    let Err(Unsolved::Over(clashes)) = solve(&Known { plan, event_s: None }) else {
        panic!("it does not agree")
    };
    assert_eq!(clashes.len(), 1);
    assert_eq!(clashes[0].words, "The run of 1 h at 12 s makes 301 frames; you want 600.");
    assert_eq!(clashes[0].keys, [Key::Frames, Key::Interval, Key::Run]);
    // 3600 / 599 = 6.01 s; 599 · 12 s = 1 h 59 min 48 s.
    for remedy in [
        "Without the frames: 301 frames.",
        "Without the interval: an interval of 6.01 s.",
        "Without the run: a run of 1 h 59 min.",
    ] {
        assert!(clashes[0].remedies.iter().any(|r| r == remedy), "{remedy}: {:?}", clashes[0].remedies);
    }
    // A carriage at 2 mm/s travels 7.2 m in an hour.
    let rig = RigPlan {
        kind: Some(RigKind::Continuous),
        speed_m_s: Some(0.002),
        travel_m: Some(1.0),
        ..RigPlan::default()
    };
    let plan = Plan { interval_s: Some(5.0), run_s: Some(3600.0), rig, ..Plan::default() };
    let Err(Unsolved::Over(clashes)) = solve(&Known { plan, event_s: None }) else {
        panic!("it does not agree")
    };
    assert!(clashes[0].words.contains("7.2 m"), "{}", clashes[0].words);
}

#[test]
fn what_lacks_is_asked_for() {
    for (plan, words) in [
        (Plan::default(), "two of these three"),
        (Plan { interval_s: Some(12.0), ..Plan::default() }, "How long?"),
        (Plan { run_s: Some(3600.0), ..Plan::default() }, "how often?"),
        (Plan { frames: Some(300), ..Plan::default() }, "How often?"),
    ] {
        match solve(&Known { plan, event_s: None }) {
            Err(Unsolved::Under(told)) => assert!(told[0].contains(words), "{told:?}"),
            other => panic!("{words}: {other:?}"),
        }
    }
}

/// A range of the gear that the plan says binds; where it says nothing, nothing is in the way.
#[test]
fn gear_is_data_of_the_plan() {
    let plan = |range| Plan {
        interval_s: Some(2.0),
        frames: Some(100),
        rig: RigPlan { interval_range_s: range, ..RigPlan::default() },
        ..Plan::default()
    };
    let state = |range| solve(&Known { plan: plan(range), event_s: None }).expect("a shoot").state();
    assert_eq!(state(None), State::Works);
    assert_eq!(state(Some(Planned::Between(2.0, 60.0))), State::Works);
    assert_eq!(state(Some(Planned::Between(3.0, 60.0))), State::Fails);
    // Three cells that last 4 to 10 h (common practice, no source), for 6 h: it may last.
    let cells = RigPlan { hours_range: Some(Planned::Between(4.0, 10.0)), ..RigPlan::default() };
    let plan = Plan { interval_s: Some(60.0), frames: Some(361), rig: cells, ..Plan::default() };
    assert_eq!(solve(&Known { plan, event_s: None }).expect("a shoot").state(), State::Tight);
}
