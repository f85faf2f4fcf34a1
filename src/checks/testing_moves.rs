//! Evidence of runs that move as told.

use crate::checks::testing::Sketch;
use crate::evidence::Sequence;
use crate::evidence::movement::{MovementTrack, of_layer, of_still};
use crate::plan::{Plan, RigPlan};

/// A plan with a carriage that steps 1.5 mm.
pub fn rig() -> Plan {
    let rig = RigPlan { step_m: Some(0.0015), ..RigPlan::default() };
    Plan { interval_s: Some(10.0), frames: Some(100), rig, ..Plan::default() }
}

/// A little that is not the carriage's, in steps: it comes and goes with the frame, as errors of a picture's
/// place do.
pub fn restless(step: usize) -> f64 {
    let place = |at: usize| 0.02 * ((at * at * 37 + at * 11) % 17) as f64 / 17.0;
    place(step + 1) - place(step)
}

/// A hundred frames; `moved` gives each step of the one layer, in steps.
pub fn run(moved: impl Fn(usize) -> f64) -> Sequence {
    with(of_layer((0..99).map(|s| moved(s) + restless(s)).collect()))
}

/// A hundred frames of a camera that stands; `moved` gives each move of what stands, px of a picture 160
/// wide.
pub fn standing(moved: impl Fn(usize) -> f64) -> Sequence {
    with(of_still((0..99).map(|s| (moved(s) + restless(s), restless(s + 7))).collect()))
}

fn with(movement: MovementTrack) -> Sequence {
    let mut evidence = Sketch::steady(100, 10.0).evidence();
    evidence.movement = Some(movement);
    evidence
}
