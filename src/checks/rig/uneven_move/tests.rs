//! A slip, a turn, a knock, play in the drive: each is told, and what is none stays quiet.

use super::*;
use crate::checks::testing::{cannot, found, severities};
use crate::checks::testing_moves::{restless, rig, run, standing};
use crate::evidence::movement::{Layer, of_layer};
use crate::evidence::{Cell, Sequence};
use crate::finding::Severity::{Caution, Fault};
use crate::plan::{ExposurePlan, Part, PartStart, Plan, Way};

#[test]
fn stays_quiet_while_the_steps_are_alike() {
    assert!(found(&CHECK, &rig(), &run(|_| 1.0)).is_empty());
    assert!(found(&CHECK, &Plan::default(), &standing(|_| 0.0)).is_empty());
}

#[test]
fn slips_by_their_size() {
    for (by, severity) in [(0.2, vec![]), (0.28, vec![Caution]), (0.5, vec![Caution]), (1.05, vec![Fault])] {
        let evidence = run(|step| if step == 60 { 1.0 - by } else { 1.0 });
        assert_eq!(severities(&CHECK, &rig(), &evidence), severity, "{by}");
    }
    let evidence = run(|step| if step == 60 { 0.5 } else { 1.0 });
    let f = &found(&CHECK, &rig(), &evidence)[0];
    assert_eq!((f.first, f.last), (Some(60), Some(61)));
    assert!(f.message.contains("too little"), "{}", f.message);
}

/// What is far away jumps less than what is near where the carriage slips, and as far where the camera is
/// knocked.
#[test]
fn a_knock_of_a_travelling_camera_is_told_from_a_slip() {
    // The near layer passes by 0.5 px a step and the far one by 0.15 px.
    let jumping = |near: f64, far: f64| {
        let mut evidence = run(|step| if step == 60 { 1.0 + near } else { 1.0 });
        let far =
            of_layer((0..99).map(|s| if s == 60 { 1.0 + far } else { 1.0 } + 3.0 * restless(s)).collect());
        let track = evidence.movement.as_mut().expect("a track");
        track.layers.extend(
            far.layers
                .into_iter()
                .map(|(layer, path)| (Layer { tiles: vec![6, 7, 8], pace: (-0.15, 0.0), ..layer }, path)),
        );
        evidence
    };
    let causes = |evidence: &Sequence| -> Vec<&str> {
        found(&CHECK, &rig(), evidence).iter().filter_map(|f| Some(f.cause.as_ref()?.code.name())).collect()
    };
    assert_eq!(causes(&jumping(-1.2, -1.2)), ["slip"]);
    assert_eq!(causes(&jumping(-1.2, 0.0)), ["slip"], "clouds go on");
    let knocked = jumping(-1.2, -4.0);
    assert_eq!(causes(&knocked), ["knock"]);
    // 1.2 steps of 0.5 px, of 160 px.
    let message = &found(&CHECK, &rig(), &knocked)[0].message;
    assert!(message.contains("0.38 % of its width"), "{message}");
    // A jump that goes across the travel as well is none of the carriage's.
    let mut aside = run(|step| if step == 60 { -0.2 } else { 1.0 });
    let track = aside.movement.as_mut().expect("a track");
    track.layers[0].0.aside = (0..99).map(|s| restless(s + 7) + if s == 60 { 0.8 } else { 0.0 }).collect();
    assert_eq!(causes(&aside), ["knock"]);
    let message = &found(&CHECK, &rig(), &aside)[0].message;
    assert!(message.contains("0.62 % of its width"), "{message}");
    // Alone it may be either.
    let alone = found(&CHECK, &rig(), &run(|step| if step == 60 { -0.2 } else { 1.0 }));
    let words = alone[0].cause.as_ref().map_or("", |c| &c.words);
    assert!(words.contains("or a knock"), "{words}");
}

/// Where a slip of half a step would not stand out, quiet means nothing; what is found is told all the
/// same.
#[test]
fn no_quiet_where_half_a_step_would_not_stand_out() {
    let restless = |step: usize| 1.0 + 0.26 * ((step * step * 31 % 101) as f64 / 101.0 - 0.5);
    let why = cannot(&CHECK, &rig(), &run(restless));
    assert!(why.contains("could go unseen"), "{why}");
    let turned = run(|step| if step >= 59 { -restless(step) } else { restless(step) });
    assert!(found(&CHECK, &rig(), &turned).iter().any(|f| f.message.contains("travels back")));
}

/// A step that its tiles leave open may hide a slip.
#[test]
fn no_quiet_where_the_picture_contradicts_itself() {
    let mut evidence = run(|step| if step == 40 { f64::NAN } else { 1.0 });
    assert!(found(&CHECK, &rig(), &evidence).is_empty(), "nobody saw that step");
    evidence.movement.as_mut().unwrap().layers[0].0.open = vec![40];
    let why = cannot(&CHECK, &rig(), &evidence);
    assert!(why.contains("could go unseen from TIDE0041"), "{why}");
    let slipped = |step| match step {
        40 => f64::NAN,
        60 => 0.2,
        _ => 1.0,
    };
    let mut evidence = run(slipped);
    evidence.movement.as_mut().unwrap().layers[0].0.open = vec![40];
    assert_eq!(found(&CHECK, &rig(), &evidence).len(), 1, "what was seen is told all the same");
}

/// What only notes were found in is not cleared by them, and they are not lost.
#[test]
fn a_note_clears_nothing_and_is_kept() {
    let mut evidence = run(|step| 1.0 + 0.26 * ((step * step * 31 % 101) as f64 / 101.0 - 0.5));
    evidence.movement.as_mut().unwrap().expected_px = Some(2.0);
    let why = cannot(&CHECK, &rig(), &evidence);
    assert!(why.contains("could go unseen") && why.contains("plan"), "{why}");
}

/// What stands still before a carriage that travels is no sign that it travels evenly; a knock shows all
/// the same.
#[test]
fn what_stands_clears_no_carriage() {
    let why = cannot(&CHECK, &rig(), &standing(|_| 0.0));
    assert!(why.contains("nothing in the pictures moves evenly"), "{why}");
    let knocked = found(&CHECK, &rig(), &standing(|step| if step == 30 { 0.8 } else { 0.0 }));
    assert_eq!(knocked.len(), 1, "{knocked:?}");
}

#[test]
fn a_carriage_that_turns() {
    let findings = found(&CHECK, &rig(), &run(|step| if step >= 59 { -1.0 } else { 1.0 }));
    assert_eq!(findings.len(), 1, "{findings:?}");
    let f = &findings[0];
    assert_eq!((f.severity, f.first, f.last), (Fault, Some(60), Some(99)));
}

/// What play swallows is known by hand: two steps that stand, and one that comes back by half.
#[test]
fn play_in_the_drive_shows_where_it_turns() {
    let lost = |evidence: &Sequence, plan: &Plan| -> Vec<(Severity, f64)> {
        let of = |f: &Finding| f.evidence.iter().find(|e| e.0 == "steps_lost").map(|e| e.1.clone());
        let one = |f: &Finding| match of(f) {
            Some(crate::units::Figure::Number(v)) => Some((f.severity, (10.0 * v).round() / 10.0)),
            _ => None,
        };
        found(&CHECK, plan, evidence).iter().filter_map(one).collect()
    };
    let clean = run(|step| if step >= 59 { -1.0 } else { 1.0 });
    assert!(lost(&clean, &rig()).is_empty());
    let two = run(|step| match step {
        0..59 => 1.0,
        59 | 60 => 0.0,
        _ => -1.0,
    });
    assert_eq!(lost(&two, &rig()), [(Fault, 2.0)]);
    let half = |step| match step {
        0..59 => 1.0,
        59 => -0.5,
        _ => -1.0,
    };
    assert_eq!(lost(&run(half), &rig()), [(Caution, 0.5)]);
}

#[test]
fn a_planned_turn_is_no_finding_and_one_that_does_not_come_is() {
    let mut plan = rig();
    plan.rig.direction = Some(Way::Right);
    let back = ExposurePlan::default();
    let (from, direction) = (PartStart::Frame(60), Some(Way::Left));
    plan.parts = vec![Part { from, interval_s: None, exposure: back, direction, note: None }];
    assert!(found(&CHECK, &plan, &run(|step| if step >= 59 { -1.0 } else { 1.0 })).is_empty());
    let on = found(&CHECK, &plan, &run(|_| 1.0));
    assert_eq!(on.len(), 1);
    assert!(on[0].message.contains("went on as before"), "{}", on[0].message);
    let early = found(&CHECK, &plan, &run(|step| if step >= 49 { -1.0 } else { 1.0 }));
    assert_eq!(early.len(), 1);
    assert!(early[0].message.contains("travels back"), "{}", early[0].message);
}

/// The sketch's picture moves to the left, so the carriage travels to the right; a camera held upright
/// turns that.
#[test]
fn the_way_is_held_against_the_plan() {
    let told = |way, orientation| {
        let mut plan = rig();
        plan.rig.direction = Some(way);
        let mut evidence = run(|_| 1.0);
        evidence.frames.rows.iter_mut().for_each(|row| row.orientation = orientation);
        found(&CHECK, &plan, &evidence).iter().map(|f| f.message.clone()).collect::<Vec<_>>()
    };
    assert!(told(Way::Right, Cell::Absent).is_empty());
    assert!(told(Way::Left, Cell::Known(1))[0].contains("travelled right; the plan says left"));
    assert!(told(Way::Up, Cell::Known(1))[0].contains("travelled right"));
    assert!(told(Way::Left, Cell::Known(3)).is_empty());
    // Turned a quarter to the right for viewing, a move to the left is one up: the carriage goes down.
    assert!(told(Way::Down, Cell::Known(6)).is_empty());
    assert!(told(Way::Up, Cell::Known(8)).is_empty());
}

#[test]
fn knocks_and_a_sinking_head() {
    let evidence = standing(|step| if step == 30 { 0.8 } else { 0.0 });
    let f = &found(&CHECK, &Plan::default(), &evidence)[0];
    assert_eq!((f.severity, f.first, f.last), (Caution, Some(30), Some(31)));
    let sinking = found(&CHECK, &Plan::default(), &standing(|_| 0.02));
    assert_eq!(sinking.len(), 1);
    assert!(sinking[0].message.contains("creeps"), "{}", sinking[0].message);
}

/// Water and light that wander before what stands drag single tiles along: no head sinks, and none is shown
/// to stand.
#[test]
fn tiles_that_creep_by_themselves_are_no_sinking_head() {
    let mut evidence = standing(|_| 0.02);
    let still = evidence.movement.as_mut().and_then(|m| m.still.as_mut()).expect("what stands");
    still.apart = 1.4;
    let why = cannot(&CHECK, &Plan::default(), &evidence);
    assert!(why.contains("not all of it alike"), "{why}");
}

#[test]
fn many_slips_are_drawn_together() {
    let evidence = run(|step| if step % 6 == 5 { 0.65 } else { 1.0 });
    let findings = found(&CHECK, &rig(), &evidence);
    assert_eq!(findings.len(), 1);
    assert!(findings[0].message.contains("places"), "{}", findings[0].message);
}

#[test]
fn cannot_judge_without_pictures_or_anything_to_go_by() {
    let evidence = crate::checks::testing::Sketch::steady(100, 10.0).evidence();
    assert!(cannot(&CHECK, &rig(), &evidence).contains("--movement"));
    assert!(cannot(&CHECK, &Plan::default(), &run(|_| 1.0)).contains("stands still"));
}
