//! Rigs that are set by two dials, wait and step: worked examples, and plans that pass their own audit.

use crate::shoots::{rehearsed, said, told};
use crate::support::cases::tried;
use lapseproof::outputs::shoot::{text, toml};
use lapseproof::plan::shoot::{Key, Known, Origin, Shoot, State, Unsolved, beside, solve};
use lapseproof::plan::{
    DeliveryPlan, ExposurePlan, Plan, Planned, RigPlan, Weight, contradictions, derive, read,
};
use lapseproof::units::stops::{Series, third_mark};
use lapseproof::verdict::Call;
use proptest::option::weighted;
use proptest::prelude::*;

/// Frames past which a shoot is not rehearsed, and under which no cadence can be told.
const REHEARSED: std::ops::RangeInclusive<u64> = 5..=2000;

fn near(got: f64, want: f64) {
    assert!((got - want).abs() < 1e-9, "{got} against {want}");
}

fn slider() -> RigPlan {
    RigPlan { speed_m_s: Some(0.02), settle_s: Some(0.5), ..RigPlan::default() }
}

fn at_25_fps(length_s: Option<f64>) -> DeliveryPlan {
    DeliveryPlan { fps: Some(25.0), length_s, ..DeliveryPlan::default() }
}

/// By hand: 1.7 mm at 20 mm/s take 0.085 s, so a wait of 13 s and 0.5 s of settling make 13.585 s from frame
/// to frame. 7200 s hold 529 of those (7186.465 s): 530 frames, 21.2 s at 25 fps, 529 · 1.7 = 899.3 mm.
#[test]
fn wait_and_step_that_are_said() {
    let rig = RigPlan { wait_s: Some(13.0), step_m: Some(0.0017), ..slider() };
    let plan = Plan { run_s: Some(7200.0), rig, delivery: at_25_fps(None), ..Plan::default() };
    let shoot = solve(&Known { plan, event_s: None }).expect("a shoot");
    near(shoot.plan.interval_s.expect("an interval"), 13.585);
    assert_eq!(shoot.plan.frames, Some(530));
    near(shoot.figures.run_s, 7186.465);
    near(shoot.figures.clip_s.expect("a clip"), 21.2);
    near(shoot.plan.rig.travel_m.expect("a travel"), 0.8993);
    let page = text::page(&shoot, &[], false);
    assert!(page.contains("Set: wait 13 s, step 1.7 mm. That makes"), "{page}");
}

/// By hand: a clip of 12 s at 25 fps takes 300 frames; in an hour that is a frame every 3600/299 = 12.040
/// s. A step of 2 mm at 20 mm/s and 200 mm/s² takes 0.1 + 0.1 = 0.2 s, settling 1 s: 10.840 s are left to
/// wait. The dial goes by 2 s, and 10 s keep the clip long enough. That makes 11.2 s from frame to frame;
/// 3600/11.2 = 321.4, so the frame that covers the hour is the 323rd. They make 12.92 s of clip and 322 · 2
/// = 644 mm. The step that was said, 2.04 mm, is set to a tenth of a millimetre.
#[test]
fn wait_and_step_that_are_worked_out_and_rounded() {
    let rig = RigPlan {
        wait_increment_s: Some(2.0),
        step_increment_m: Some(0.0001),
        step_m: Some(0.002_04),
        acceleration_m_s2: Some(0.2),
        settle_s: Some(1.0),
        ..slider()
    };
    let plan = Plan { rig, delivery: at_25_fps(Some(12.0)), ..Plan::default() };
    let shoot = solve(&Known { plan, event_s: Some(3600.0) }).expect("a shoot");
    let rig = &shoot.plan.rig;
    near(rig.wait_s.expect("a wait"), 10.0);
    near(rig.step_m.expect("a step"), 0.002);
    near(shoot.plan.interval_s.expect("an interval"), 11.2);
    assert_eq!(shoot.plan.frames, Some(323));
    near(shoot.figures.clip_s.expect("a clip"), 12.92);
    near(rig.travel_m.expect("a travel"), 0.644);
    assert_eq!(shoot.origin(Key::Wait), Some(Origin::Worked));
    assert!(shoot.notes.iter().any(|n| n.contains("2 mm is set for 2.04 mm")), "{:?}", shoot.notes);
}

/// By hand: a rail of 900 mm with the wait of 13 s and steps of tenths of a millimetre. 1.7 mm make 13.585 s,
/// and 7200 s then hold 529 moves, 899.3 mm. 1.8 mm make 13.59 s and 529 moves, 952.2 mm: too long.
#[test]
fn the_longest_step_that_stays_on_the_rail() {
    let rig = RigPlan { wait_s: Some(13.0), travel_m: Some(0.9), ..slider() };
    let plan = Plan { run_s: Some(7200.0), rig, ..Plan::default() };
    let shoot = solve(&Known { plan, event_s: None }).expect("a shoot");
    near(shoot.plan.rig.step_m.expect("a step"), 0.0017);
    assert_eq!(shoot.plan.frames, Some(530));
}

/// 13 s, 0.085 s and 0.5 s are not 14 s: both figures are told, before a shoot and in an audit.
#[test]
fn an_interval_that_contradicts_the_dials_is_refused() {
    let rig = RigPlan { wait_s: Some(13.0), step_m: Some(0.0017), ..slider() };
    let mut plan = Plan { interval_s: Some(14.0), frames: Some(100), rig, ..Plan::default() };
    let Err(Unsolved::Over(clashes)) = solve(&Known { plan: plan.clone(), event_s: None }) else {
        panic!("it is refused")
    };
    let both = |words: &str| words.contains("13.59 s") && words.contains("14 s");
    assert!(clashes.iter().any(|c| c.keys == [Key::Interval, Key::Wait] && both(&c.words)), "{clashes:?}");
    let odd = contradictions(&plan);
    assert!(odd.iter().any(|c| c.weight == Weight::Refuse && both(&c.words)), "{odd:?}");
    // As somebody writes it down.
    plan.interval_s = Some(13.59);
    assert!(contradictions(&plan).is_empty());
    derive(&mut plan);
    near(plan.interval_s.expect("an interval"), 13.585);
}

/// What a wait rules out is refused in its own words.
#[test]
fn what_does_not_go_with_a_wait() {
    for key in ["kind = \"continuous\"", "waits = true"] {
        let text = format!("frames = 9\n[rig]\nwait = 5\nstep = \"1 mm\"\nspeed = \"1 mm/s\"\n{key}");
        let plan = read(&text, "plan.toml", &[]).expect("a plan");
        let told = contradictions(&plan);
        assert!(told.iter().any(|c| c.weight == Weight::Refuse && c.words.contains("Leave out")), "{told:?}");
        assert!(matches!(solve(&Known { plan, event_s: None }), Err(Unsolved::Over(_))));
    }
    let bare = read("frames = 9\n[rig]\nwait = 5", "plan.toml", &[]).expect("a plan");
    assert!(contradictions(&bare).iter().any(|c| c.words.contains("step and speed")));
    assert!(matches!(solve(&Known { plan: bare, event_s: None }), Err(Unsolved::Under(_))));
}

/// A shutter that is open for longer than the wait sees the carriage move, whatever the interval would hold.
#[test]
fn an_exposure_past_the_wait_smears() {
    let text = "frames = 60\n[exposure]\nshutter = \"8 s\"\nbusy = 0\n[rig]\nwait = \"7 s\"\nstep = \"20 \
                mm\"\nspeed = \"10 mm/s\"\nsettle = \"3 s\"";
    let mut plan = read(text, "plan.toml", &[]).expect("a plan");
    derive(&mut plan);
    near(plan.interval_s.expect("an interval"), 12.0);
    let audit = rehearsed(&plan);
    assert_eq!(audit.verdict.call, Call::Hold, "{}", told(&audit));
    let clash = audit.findings().iter().find(|f| f.check == "move-clash").map(|f| f.message.clone());
    assert!(clash.is_some_and(|m| m.contains("after the wait of 7 s") && m.contains("up to 1 s")));
    plan.exposure.shutter_s = Some(Planned::Fixed(5.0));
    assert_eq!(rehearsed(&plan).verdict.call, Call::Clear);
}

/// Whatever may be known of a rig with dials.
fn known() -> impl Strategy<Value = Known> {
    let carriage = (
        weighted(0.6, said(0.05..2.0, 2)),
        weighted(0.6, said(0.0002..0.02, 6)),
        said(0.0005..0.05, 6),
        weighted(0.3, said(0.01..0.5, 6)),
        weighted(0.7, said(0.0..3.0, 2)),
    );
    let dials = (
        weighted(0.6, said(0.5..30.0, 2)),
        weighted(0.5, prop::sample::select(vec![0.1, 0.5, 1.0, 2.0])),
        weighted(0.5, prop::sample::select(vec![0.00005, 0.0001, 0.001])),
    );
    let time = (
        weighted(0.4, 5..400_u64),
        weighted(0.3, said(60.0..7200.0, 2)),
        weighted(0.4, said(60.0..7200.0, 2)),
        weighted(0.1, said(2.0..40.0, 2)),
        weighted(0.4, said(1.0..12.0, 2)),
    );
    let mark = (-18..=13_i32).prop_map(|k| third_mark(Series::Time, k).expect("a mark"));
    let camera = (mark, said(0.0..1.0, 2), weighted(0.1, Just(true)));
    (carriage, dials, time, camera).prop_map(|(carriage, dials, time, camera)| Known {
        plan: Plan {
            interval_s: time.3.filter(|_| dials.0.is_none()),
            frames: time.0,
            run_s: time.1,
            exposure: ExposurePlan {
                shutter_s: Some(Planned::Fixed(camera.0)),
                busy_s: Some(camera.1),
                dark_frame: camera.2,
                aperture: Some(Planned::Fixed(8.0)),
                iso: Some(Planned::Fixed(200.0)),
                ..ExposurePlan::default()
            },
            rig: RigPlan {
                travel_m: carriage.0,
                step_m: carriage.1.or(carriage.0.is_none().then_some(0.002)),
                speed_m_s: Some(carriage.2),
                acceleration_m_s2: carriage.3,
                settle_s: carriage.4,
                wait_s: dials.0,
                wait_increment_s: dials.1.or(dials.0.is_none().then_some(1.0)),
                step_increment_m: dials.2,
                ..RigPlan::default()
            },
            delivery: at_25_fps(time.4),
            ..Plan::default()
        },
        event_s: time.2,
    })
}

fn on_dial(value: f64, dial: Option<f64>) -> bool {
    dial.is_none_or(|dial| (value / dial - (value / dial).round()).abs() < 1e-6)
}

/// What holds of every shoot by dials.
fn holds(shoot: &Shoot) -> Result<(), TestCaseError> {
    let plan = &shoot.plan;
    let rig = &plan.rig;
    let (wait_s, step_m) = (rig.wait_s.expect("a wait"), rig.step_m.expect("a step"));
    prop_assert!(on_dial(wait_s, rig.wait_increment_s) && on_dial(step_m, rig.step_increment_m));
    let (speed, ramp) = (rig.speed_m_s.expect("a speed"), rig.acceleration_m_s2);
    // Kinematics, worked out here anew: a trapezoid, or a triangle where the speed is never reached.
    let move_s = match ramp {
        None => step_m / speed,
        Some(a) if step_m * a >= speed * speed => step_m / speed + speed / a,
        Some(a) => 2.0 * (step_m / a).sqrt(),
    };
    let interval_s = plan.interval_s.expect("an interval");
    prop_assert!((interval_s - (wait_s + move_s + rig.settle_s.unwrap_or(0.0))).abs() < 1e-9);
    if shoot.state() == State::Works {
        prop_assert_eq!(contradictions(plan), []);
    }
    if !REHEARSED.contains(&plan.frames.expect("frames")) {
        return Ok(());
    }
    let audit = rehearsed(plan);
    match shoot.state() {
        State::Works => prop_assert_eq!(audit.verdict.call, Call::Clear, "{}", told(&audit)),
        State::Tight => prop_assert_ne!(audit.verdict.call, Call::Hold, "{}", told(&audit)),
        State::Fails => {}
    }
    Ok(())
}

proptest! {
    #![proptest_config(tried(250))]

    /// A plan by dials passes its own audit, and reads back to the same.
    #[test]
    fn a_plan_by_dials_passes_its_own_audit(known in known()) {
        let Ok(shoot) = solve(&known) else { return Ok(()) };
        holds(&shoot)?;
        if let Some(event_s) = known.event_s {
            prop_assert!(shoot.figures.run_s >= event_s - 1e-3);
        }
        if let (Some(rail_m), Some(used_m)) = (shoot.rail_m, shoot.plan.rig.travel_m) {
            let said = known.plan.rig.step_m.is_some();
            let fits = used_m <= rail_m + 1e-6 || shoot.state() == State::Fails;
            prop_assert!(said || fits, "{used_m} of {rail_m}");
        }
        let others = beside(&known, &shoot);
        for other in others.iter().filter_map(|n| n.shoot.as_ref()) {
            prop_assert_eq!(other.state(), State::Works);
            holds(other)?;
        }
        for line in text::page(&shoot, &others, false).lines() {
            prop_assert!(line.chars().count() <= 80, "{line:?}");
        }
        if shoot.state() == State::Fails {
            return Ok(());
        }
        let written = toml::file(&shoot);
        let again = read(&written, "plan.toml", &[]);
        let again = again.map_err(|e| TestCaseError::fail(format!("{e}\n{written}")))?;
        prop_assert!(contradictions(&again).iter().all(|c| c.weight == Weight::Warn), "{written}");
        let mut derived = again.clone();
        derive(&mut derived);
        let again = solve(&Known { plan: again, event_s: None });
        let again = again.map_err(|e| TestCaseError::fail(format!("{e:?}\n{written}")))?;
        for plan in [&again.plan, &derived] {
            prop_assert_eq!(plan.frames, shoot.plan.frames, "{}", &written);
            prop_assert_eq!(plan.rig.wait_s, shoot.plan.rig.wait_s, "{}", &written);
            let [a, b] = [plan, &shoot.plan].map(|p| p.interval_s.expect("an interval"));
            prop_assert!((a - b).abs() < 1e-9, "{written}");
        }
        prop_assert_eq!(again.state(), shoot.state(), "{}", written);
    }
}
