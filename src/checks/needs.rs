//! What a check needs before it is asked, and the reason where it is missing.

use crate::evidence::{FrameView, Sequence};
use crate::plan::budget::rig_s;
use crate::plan::power::Hours;
use crate::plan::{PartStart, Plan, RigKind};
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
pub fn lacking(need: Need, plan: &Plan, evidence: &Sequence) -> Option<String> {
    let fewer = |wanted: usize, has: &dyn Fn(FrameView<'_>) -> bool| {
        evidence.run().filter(|frame| has(*frame)).take(wanted).count()
    };
    match need {
        Need::Stamps => match fewer(2, &|frame| frame.stamp().is_some()) {
            0 => Some("no frame of the run has a stamp".into()),
            1 => Some("only one frame of the run has a stamp".into()),
            _ => None,
        },
        Need::Grid => evidence.timing.cadence.is_none().then(|| {
            evidence
                .timing
                .no_grid
                .clone()
                .unwrap_or_else(|| "the stamps keep no one interval that holds most of the frames".into())
        }),
        Need::TellableSlots => {
            let cadence = evidence.timing.cadence.as_ref()?;
            let coarse = cadence.low_s <= cadence.resolution_s && evidence.timing.holes.is_empty();
            (coarse && plan.interval_s.is_none()).then(|| {
                format!(
                    "the stamps tell no more than {}, and the interval is no longer: a missed trigger leaves \
                     the stamps of a slower timer (give the interval that was set, with --interval or in the \
                     plan)",
                    duration(cadence.resolution_s)
                )
            })
        }
        Need::Numbers if evidence.timing.number_advance.is_some() => None,
        Need::Numbers if evidence.timing.cadence.is_none() => {
            Some("without a grid of slots there is nothing to count the file numbers against".into())
        }
        Need::Numbers => Some(
            "the file numbers are no evidence here: the names are not a camera's, or another program has \
             written the files"
                .into(),
        ),
        Need::Exposures => match fewer(2, &|frame| frame.ev100().is_some()) {
            0 => Some("no frame of the run tells its exposure (time, aperture and ISO)".into()),
            1 => Some("only one frame of the run tells its exposure (time, aperture and ISO)".into()),
            _ => None,
        },
        Need::ExposureTimes => (fewer(1, &|frame| frame.exposure_s().is_some()) == 0)
            .then(|| "no frame of the run tells its exposure time".into()),
        Need::Pictures if evidence.frames.looks.is_empty() => Some("the pictures were not read".into()),
        Need::Pictures => (fewer(1, &|frame| frame.look().is_some()) == 0)
            .then(|| "no picture of the run could be looked at".into()),
        Need::PlannedInterval => (plan.interval_s.is_none() && !plan.changes_interval())
            .then(|| "the plan names no interval".into()),
        Need::PlannedLength => {
            let paced = plan.interval_s.is_some() || evidence.timing.cadence.is_some();
            let run = plan.run_s.is_some() && paced;
            let clip = plan.delivery.length_s.is_some() && plan.delivery.fps.is_some();
            let parted = plan.parts.iter().any(|p| matches!(p.from, PartStart::File(_)));
            let ends = plan.first.is_some() || plan.last.is_some() || parted;
            (plan.frames.is_none() && !run && !clip && !ends)
                .then(|| "the plan names no length: no frames, no run and no clip (fps and length)".into())
        }
        Need::PlannedMove => {
            let gliding = plan.rig.kind == Some(RigKind::Continuous);
            let known = gliding || rig_s(plan).is_some();
            (!known).then(|| {
                "the plan does not tell how long a move takes ([rig] speed, and step or travel)".into()
            })
        }
        Need::PlannedBattery => Hours::of(&plan.rig)
            .is_none()
            .then(|| "the plan names no battery hours ([rig] battery_hours or hours_range)".into()),
        Need::PlannedCard => {
            plan.card.size_bytes.is_none().then(|| "the plan names no card ([card] size)".into())
        }
        Need::Answers => None,
        Need::PlannedClip => (plan.delivery.fps.is_none() || plan.delivery.length_s.is_none())
            .then(|| "the plan names no clip (fps and length)".into()),
        Need::PlannedExposure => {
            let said = |e: &crate::plan::ExposurePlan| {
                e.mode.is_some() || e.shutter_s.is_some() || e.aperture.is_some() || e.iso.is_some()
            };
            (!said(&plan.exposure) && !plan.parts.iter().any(|p| said(&p.exposure)))
                .then(|| "the plan names no exposure: no mode, shutter, aperture or ISO".into())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::Sketch;
    use crate::evidence::{Cell, Row};
    use crate::plan::{DeliveryPlan, ExposurePlan};

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
