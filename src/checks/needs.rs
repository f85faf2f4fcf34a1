//! What a check needs before it is asked, and the reason where it is missing.

use crate::evidence::{FrameView, Sequence};
use crate::plan::budget::rig_s;
use crate::plan::power::Hours;
use crate::plan::{ExposurePlan, PartStart, Plan, RigKind};
use crate::units::duration;

/// What a check needs before it is asked. Where it is missing, the answer is *cannot judge* without a line in
/// the check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Two frames of the run with a stamp.
    Stamps,
    /// A cadence: one grid that holds most of the frames.
    Grid,
    /// Stamps finer than the interval, or the plan's interval beside them, where no hole is seen.
    TellableSlots,
    /// File numbers that count as evidence.
    Numbers,
    /// Exposure values on two frames of the run.
    Exposures,
    /// Exposure times on a frame of the run.
    ExposureTimes,
    /// A picture of the run that was looked at.
    Pictures,
    /// An interval in the plan.
    PlannedInterval,
    /// A length in the plan (frames, run or the delivery's) or a named end.
    PlannedLength,
    /// An exposure setting or mode in the plan.
    PlannedExposure,
    /// How long a move of the carriage takes by the plan, or that it travels all the time.
    PlannedMove,
    /// The battery's hours in the plan.
    PlannedBattery,
    /// The card's size in the plan.
    PlannedCard,
    /// A clip in the plan: frames a second and length.
    PlannedClip,
    /// What the other checks have answered. It is always met.
    Answers,
}

/// Why a need is not met; `None` where it is.
pub(crate) fn lacking(need: Need, plan: &Plan, evidence: &Sequence) -> Option<String> {
    let timing = &evidence.timing;
    let unless = |met: bool, why: &str| (!met).then(|| why.to_owned());
    match need {
        Need::Stamps => fewer_than_two(evidence, |frame| frame.stamp().is_some(), "has a stamp"),
        Need::Grid => timing.cadence.is_none().then(|| {
            let known = timing.no_grid.clone();
            known.unwrap_or_else(|| "the stamps keep no one interval that holds most of the frames".into())
        }),
        Need::TellableSlots => untellable_slots(plan, evidence),
        Need::Numbers => no_numbers(evidence),
        Need::Exposures => {
            let tells = |frame: FrameView<'_>| frame.ev100().is_some();
            fewer_than_two(evidence, tells, "gives its exposure (time, aperture and ISO)")
        }
        Need::ExposureTimes => {
            let met = evidence.run().any(|frame| frame.exposure_s().is_some());
            unless(met, "no frame of the run gives its exposure time")
        }
        Need::Pictures if evidence.frames.looks.is_empty() => Some("the pictures were not read".into()),
        Need::Pictures => {
            let met = evidence.run().any(|frame| frame.look().is_some());
            unless(met, "no picture of the run could be looked at")
        }
        Need::PlannedInterval => {
            unless(plan.interval_s.is_some() || plan.changes_interval(), "the plan names no interval")
        }
        Need::PlannedLength => unless(
            has_length(plan, timing.cadence.is_some()),
            "the plan names no length: no frames, no run and no clip (fps and length)",
        ),
        Need::PlannedExposure => {
            unless(has_exposure(plan), "the plan names no exposure: no mode, shutter, aperture or ISO")
        }
        Need::PlannedMove => unless(
            plan.rig.kind == Some(RigKind::Continuous) || rig_s(plan).is_some(),
            "the plan does not say how long a move takes ([rig] speed, and step or travel)",
        ),
        Need::PlannedBattery => unless(
            Hours::of(&plan.rig).is_some(),
            "the plan names no battery hours ([rig] battery_hours or hours_range)",
        ),
        Need::PlannedCard => unless(plan.card.size_bytes.is_some(), "the plan names no card ([card] size)"),
        Need::PlannedClip => unless(has_clip(plan), "the plan names no clip (fps and length)"),
        Need::Answers => None,
    }
}

/// Why what takes two frames of the run cannot be told, where fewer than two have it. `what` says what one
/// has.
fn fewer_than_two(evidence: &Sequence, has: impl Fn(FrameView<'_>) -> bool, what: &str) -> Option<String> {
    match evidence.run().filter(|frame| has(*frame)).take(2).count() {
        0 => Some(format!("no frame of the run {what}")),
        1 => Some(format!("only one frame of the run {what}")),
        _ => None,
    }
}

fn untellable_slots(plan: &Plan, evidence: &Sequence) -> Option<String> {
    let cadence = evidence.timing.cadence.as_ref()?;
    let coarse = cadence.low_s <= cadence.resolution_s && evidence.timing.holes.is_empty();
    (coarse && plan.interval_s.is_none()).then(|| {
        format!(
            "the stamps step by {}, and the interval is no longer: a missed trigger leaves the stamps of a \
             slower timer (give the interval that was set, with --interval or in the plan)",
            duration(cadence.resolution_s)
        )
    })
}

fn no_numbers(evidence: &Sequence) -> Option<String> {
    let timing = &evidence.timing;
    if timing.number_advance.is_some() {
        return None;
    }
    let why = match timing.cadence {
        None => "without a grid of slots there is nothing to count the file numbers against",
        Some(_) => {
            "the file numbers are no evidence here: the names are not a camera's, or another program has \
             written the files"
        }
    };
    Some(why.into())
}

/// True where the plan tells how long the run is to be; a time alone does so where it is `paced`.
fn has_length(plan: &Plan, paced: bool) -> bool {
    let run = plan.run_s.is_some() && (plan.interval_s.is_some() || paced);
    let parted = plan.parts.iter().any(|p| matches!(p.from, PartStart::File(_)));
    let ends = plan.first.is_some() || plan.last.is_some() || parted;
    plan.frames.is_some() || run || has_clip(plan) || ends
}

fn has_clip(plan: &Plan) -> bool {
    plan.delivery.fps.is_some() && plan.delivery.length_s.is_some()
}

/// True where the plan says something of the exposure, of a part or of all.
fn has_exposure(plan: &Plan) -> bool {
    let said = |e: &ExposurePlan| {
        e.mode.is_some() || e.shutter_s.is_some() || e.aperture.is_some() || e.iso.is_some()
    };
    said(&plan.exposure) || plan.parts.iter().any(|p| said(&p.exposure))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::Sketch;
    use crate::evidence::{Cell, Row};
    use crate::plan::DeliveryPlan;

    #[test]
    fn a_whole_run_lacks_nothing_of_its_own() {
        let evidence = Sketch::steady(5, 10.0).evidence();
        let plan = Plan::default();
        for need in [Need::Stamps, Need::Grid, Need::Numbers, Need::Exposures, Need::ExposureTimes] {
            assert_eq!(lacking(need, &plan, &evidence), None, "{need:?}");
        }
        for need in [Need::PlannedInterval, Need::PlannedLength, Need::PlannedExposure] {
            assert!(lacking(need, &plan, &evidence).is_some(), "{need:?}");
        }
    }

    #[test]
    fn an_empty_folder_lacks_everything_and_one_frame_most() {
        let plan = Plan::default();
        for evidence in
            [Sketch::steady(0, 10.0).evidence(), Sketch::steady(1, 10.0).loose("one frame").evidence()]
        {
            for need in [Need::Stamps, Need::Grid, Need::Exposures] {
                assert!(lacking(need, &plan, &evidence).is_some(), "{need:?}");
            }
        }
        let mut dark = Sketch::steady(3, 10.0);
        for row in &mut dark.rows {
            *row = Row { stamp: Cell::Blank, ..Row::default() };
        }
        let dark = dark.evidence();
        for need in [Need::Stamps, Need::Exposures, Need::ExposureTimes] {
            assert!(lacking(need, &plan, &dark).is_some(), "{need:?}");
        }
    }

    #[test]
    fn an_interval_no_longer_than_the_clocks_step_needs_the_plans() {
        let mut evidence = Sketch::steady(60, 1.0).evidence();
        let cadence = evidence.timing.cadence.as_mut().expect("a cadence");
        cadence.low_s = 0.99 * cadence.resolution_s;
        let why = lacking(Need::TellableSlots, &Plan::default(), &evidence);
        assert!(why.is_some_and(|w| w.contains("--interval")));
        let plan = Plan { interval_s: Some(1.0), ..Plan::default() };
        assert_eq!(lacking(Need::TellableSlots, &plan, &evidence), None);
        let longer = Sketch::steady(60, 2.0).evidence();
        assert_eq!(lacking(Need::TellableSlots, &Plan::default(), &longer), None);
    }

    #[test]
    fn numbers_need_slots_to_be_counted_against() {
        let mut sketch = Sketch::steady(5, 10.0).loose("loose");
        sketch.advance = None;
        let why = lacking(Need::Numbers, &Plan::default(), &sketch.evidence());
        assert!(why.is_some_and(|w| w.contains("without a grid")));
        let mut sketch = Sketch::steady(5, 10.0);
        sketch.advance = None;
        let why = lacking(Need::Numbers, &Plan::default(), &sketch.evidence());
        assert!(why.is_some_and(|w| w.contains("not a camera")));
    }

    #[test]
    fn a_plan_that_says_it() {
        let evidence = Sketch::steady(5, 10.0).evidence();
        let plan = Plan {
            interval_s: Some(10.0),
            delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(4.0), ..DeliveryPlan::default() },
            exposure: ExposurePlan {
                iso: Some(crate::plan::Planned::Fixed(100.0)),
                ..ExposurePlan::default()
            },
            ..Plan::default()
        };
        for need in [Need::PlannedInterval, Need::PlannedLength, Need::PlannedExposure] {
            assert_eq!(lacking(need, &plan, &evidence), None, "{need:?}");
        }
        let half = Plan {
            delivery: DeliveryPlan { fps: Some(25.0), length_s: None, ..DeliveryPlan::default() },
            ..Plan::default()
        };
        assert!(lacking(Need::PlannedLength, &half, &evidence).is_some());
    }
}
