//! Layers, halts and ways back of made-up steps.

use super::*;
use crate::frames::Cell;

fn once(span: Range<usize>) -> Vec<Range<usize>> {
    std::iter::once(span).collect()
}

/// 50 mm at 1.5 m bring a step of 2 mm to 66.7 µm on a sensor of 36 mm, and so to 0.3 px of a picture 160
/// wide, worked out by hand.
#[test]
fn what_the_plan_lets_expect() {
    let mut plan = Plan::default();
    plan.rig.step_m = Some(0.002);
    plan.rig.distance_m = Some(1.5);
    plan.rig.focal_length_m = Some(0.05);
    plan.rig.pixel_pitch_m = Some(6e-6);
    let shot = |width: u32| {
        let row = crate::frames::Row { size: Cell::Known((width, width * 2 / 3)), ..Default::default() };
        expected(&plan, &Frames { rows: vec![row], ..Frames::default() }, &[0], 160)
    };
    assert!(shot(6000).is_some_and(|px| (px - 0.2963).abs() < 1e-3), "{:?}", shot(6000));
    assert_eq!(shot(240), None, "a sensor 1.4 mm wide");
}

/// Eighty steps out and forty back.
fn there_and_back() -> Vec<f64> {
    (0..120).map(|s| if s < 80 { 1.0 } else { -1.0 }).collect()
}

/// A lorry between the camera and what shows its way does not cut a way back in two.
#[test]
fn what_hides_the_way_back_for_a_while_does_not_part_it() {
    let mut moved = there_and_back();
    moved[95..98].fill(f64::NAN);
    assert_eq!(of_layer(moved).back(), once(80..120));
}

/// A far layer in which clouds go on seems to stand where a near one turned.
#[test]
fn what_a_sharper_layer_saw_turn_did_not_stand() {
    let mut track = of_layer(there_and_back());
    let blur = |s: usize| if s.is_multiple_of(2) { 0.08 } else { -0.08 };
    let far = (0..120).map(|s| blur(s) + if (80..88).contains(&s) { 0.0 } else { 1.0 }).collect();
    let far = of_layer(far);
    assert_eq!(far.halts(), once(80..88), "alone it tells a halt");
    track.layers.splice(0..0, far.layers);
    assert_eq!(track.halts(), []);
    assert_eq!(track.back(), once(80..120));
    assert!(
        track.play(80).is_some_and(|(lost, error)| lost.abs() < 0.1 && error < 0.1),
        "{:?}",
        track.play(80)
    );
}

/// A pace that was taken a little wrong is no play: both ways are shorter by the same.
#[test]
fn a_wrong_pace_is_no_play() {
    let track = of_layer(there_and_back().iter().map(|step| 0.97 * step).collect());
    assert!(track.play(80).is_some_and(|(lost, _)| lost.abs() < 0.01), "{:?}", track.play(80));
}

/// Where steps before it were not seen, a turn lies at any of them.
#[test]
fn a_turn_that_nobody_saw_lies_between() {
    let mut moved = there_and_back();
    assert_eq!(of_layer(moved.clone()).turned_between(80), Some((80, 81)));
    moved[76..80].fill(f64::NAN);
    let mut track = of_layer(moved);
    assert_eq!(track.back(), once(80..120));
    assert_eq!(track.turned_between(80), Some((76, 81)));
    // Clouds that pass evenly do not show it, however sharply they are seen.
    let clouds = of_layer(vec![1.0; 120]).layers;
    track.layers.splice(0..0, clouds);
    assert_eq!(track.turned_between(80), Some((76, 81)));
}

/// Steps that are too torn to measure but on whose way most tiles agree place the turn between them.
#[test]
fn most_tiles_place_a_turn_in_torn_steps() {
    let mut moved = there_and_back();
    moved[76..86].fill(f64::NAN);
    let (mut layer, _) = of_layer(moved).layers.remove(0);
    let turned = |layer: &Layer| {
        let path = events::path(layer);
        let track = MovementTrack { layers: vec![(layer.clone(), path)], ..of_layer(vec![1.0; 120]) };
        let back = track.back();
        assert_eq!(back.len(), 1, "{back:?}");
        track.turned_between(back[0].start)
    };
    assert_eq!(turned(&layer), Some((76, 87)), "nobody saw it");
    layer.heading[76..86].copy_from_slice(&[1, 0, 1, 1, -1, 0, -1, -1, 0, -1]);
    assert_eq!(turned(&layer), Some((80, 81)));
    layer.heading[79] = 0;
    assert_eq!(turned(&layer), Some((79, 81)), "one of two steps");
}

/// A knock throws slow clouds back by what they make in twelve steps; they go on as before.
#[test]
fn a_knock_is_no_way_back_of_a_slow_layer() {
    let place = |at: usize| 1.2 * ((at * at * 373 + at * 89) % 397) as f64 / 397.0;
    let clouds: Vec<f64> = (0..120).map(|s| 1.0 + place(s + 1) - place(s)).collect();
    let knocked = |by: f64| {
        let mut moved = clouds.clone();
        moved[60] += by;
        of_layer(moved)
    };
    assert!(knocked(0.0).layers[0].1.window > 1, "no single step is sure");
    assert_eq!(knocked(-12.0).back(), []);
    let turned: Vec<f64> =
        clouds.iter().enumerate().map(|(s, m)| if s < 60 { *m } else { m - 2.0 }).collect();
    assert_eq!(of_layer(turned.clone()).back().len(), 1);
    // The way of a single step says nothing where a layer is looked at over several.
    let mut hidden = turned;
    hidden[56..64].fill(f64::NAN);
    let mut track = of_layer(hidden);
    track.layers[0].0.heading[56..64].fill(1);
    let back = track.back();
    assert_eq!(track.turned_between(back[0].start).map(|b| b.0), Some(56), "{back:?}");
}

/// A little that is not the carriage's, alike at no two neighbouring steps.
fn restless(step: usize) -> f64 {
    let place = |at: usize| 0.02 * ((at * at * 373 + at * 89) % 397) as f64 / 397.0;
    place(step + 1) - place(step)
}

/// Places at the ends have partners on one side only: what stands out just enough elsewhere is not told
/// there.
#[test]
fn a_slip_must_stand_out_more_at_the_ends() {
    let told = |at: usize, by: f64| {
        let quiet = |s: usize| if s.abs_diff(at) > 3 { 1.0 + restless(s) } else { 1.0 };
        let mut moved: Vec<f64> = (0..100).map(quiet).collect();
        let least = of_layer(moved.clone()).jumps().expect("jumps").finest;
        moved[at] += by * least;
        let jumps = of_layer(moved).jumps().expect("jumps");
        jumps.all.iter().any(|j| j.step == at)
    };
    assert!(told(50, 1.3) && told(3, 2.5) && told(96, 2.5));
    assert!(!told(3, 1.3) && !told(96, 1.3), "near an end");
}

/// What shakes the camera shakes all that it sees: a lorry before what stands still does not shake the
/// near things that pass.
#[test]
fn a_knock_that_a_sharp_layer_does_not_show_is_none() {
    let still = of_still((0..100).map(|s| (if s == 40 { 0.8 } else { 0.0 } + restless(s), 0.0)).collect());
    let still = still.still.expect("what stands");
    let knocks = |layer: MovementTrack| knocks::knocks(&still, &layer.layers).all.len();
    let shown =
        |by: f64| of_layer((0..100).map(|s| 1.0 + restless(s) + if s == 40 { by } else { 0.0 }).collect());
    // The layer passes by half a pixel a step, the other way.
    assert_eq!(knocks(shown(-1.6)), 1, "it shows the knock as well");
    assert_eq!(knocks(shown(0.0)), 0, "it stands firm");
    let mut hidden = shown(0.0);
    hidden.layers[0].0.moved[39..42].fill(f64::NAN);
    assert_eq!(knocks(hidden), 1, "it was not seen there");
    let clouds = |s: usize| 1.0 + 0.8 * ((s * s * 31 % 101) as f64 / 101.0 - 0.5);
    assert_eq!(knocks(of_layer((0..100).map(clouds).collect())), 1, "it is too restless to say");
}
