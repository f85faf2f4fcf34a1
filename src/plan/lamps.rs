//! What lamps on the mains do to the exposures of a plan: the arithmetic is `units::mains`, the level that of
//! the check.

use super::arithmetic::exact_s;
use super::levels::MAINS_STEP_EV;
use super::{Light, Plan, Planned};
use crate::units::mains::{WORST, safe_mark_s, worst_step_ev};
use crate::units::stops::{Series, third_mark};

/// The exposure of a plan at which two frames could differ most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Banding {
    /// As marked, s.
    pub mark_s: f64,
    /// The exact time, s.
    pub exact_s: f64,
    /// The mains, Hz.
    pub hz: f64,
    /// The largest step between two such frames under lamps that go out at each half cycle, EV.
    pub step_ev: f64,
}

impl Banding {
    /// True where the step is one that shows.
    pub fn shows(&self) -> bool {
        self.step_ev > MAINS_STEP_EV
    }
}

/// The frequencies that a plan's lamps may have: what it names, else 50 and 60 Hz.
pub fn frequencies(plan: &Plan) -> Vec<f64> {
    match plan.mains_hz {
        Some(hz) if hz.is_finite() && hz > 0.0 => vec![hz],
        _ => vec![50.0, 60.0],
    }
}

/// The worst exposure of a plan that names lamps on the mains: of all marks of a ramp, of all members of a
/// bracket. `None` where the plan names no such light or no exposure.
pub fn banding(plan: &Plan) -> Option<Banding> {
    let shutter_s = plan.exposure.shutter_s.filter(|_| plan.light == Some(Light::Mains))?;
    let hz = frequencies(plan);
    let mut worst: Option<Banding> = None;
    for mark_s in marks(shutter_s) {
        for (mark_s, exact_s) in plan.set_of(mark_s).zip(plan.set_of(exact_s(mark_s))) {
            for hz in &hz {
                let step_ev = worst_step_ev(exact_s, *hz, WORST);
                if worst.is_none_or(|w| step_ev > w.step_ev) {
                    worst = Some(Banding { mark_s, exact_s, hz: *hz, step_ev });
                }
            }
        }
    }
    worst
}

/// The ends, and the marks of thirds between them.
fn marks(planned: Planned) -> Vec<f64> {
    let (low, high) = (planned.low(), planned.high());
    let mut all: Vec<f64> = (-60..=30).filter_map(|k| third_mark(Series::Time, k)).collect();
    all.retain(|mark| *mark > low && *mark < high);
    all.extend([low, high]);
    all.retain(|mark| mark.is_finite() && *mark > 0.0);
    all
}

/// The mark nearest to the plan's one exposure that such lamps leave alone; `None` where that exposure is
/// one, where there are several, and where the plan names no such light.
pub fn safe_instead_s(plan: &Plan) -> Option<f64> {
    let Some(Planned::Fixed(mark_s)) = plan.exposure.shutter_s else { return None };
    banding(plan).filter(|b| b.shows() && plan.members() == 1)?;
    Some(safe_mark_s(exact_s(mark_s), &frequencies(plan), MAINS_STEP_EV))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::ExposurePlan;

    fn lit(shutter_s: Planned, mains_hz: Option<f64>, bracket: Option<u32>) -> Plan {
        Plan {
            light: Some(Light::Mains),
            mains_hz,
            bracket,
            exposure: ExposurePlan { shutter_s: Some(shutter_s), ..ExposurePlan::default() },
            ..Plan::default()
        }
    }

    /// Worst steps of exact exposures by the formula of `units::mains`: 0.0460 EV at "1/100", 0.7631 at
    /// "1/125" under 50 Hz.
    #[test]
    fn the_mark_is_weighed_by_its_exact_time() {
        let one = |mark: f64, hz| banding(&lit(Planned::Fixed(mark), hz, None)).expect("lamps");
        assert!((one(0.01, Some(50.0)).step_ev - 0.0460).abs() < 1e-4);
        assert!((one(0.008, Some(50.0)).step_ev - 0.7631).abs() < 1e-4);
        // Where the mains is not named the worse of the two counts.
        assert_eq!(one(0.01, None).hz, 60.0);
        assert_eq!(banding(&Plan { light: None, ..lit(Planned::Fixed(0.008), None, None) }), None);
    }

    #[test]
    fn another_mark_is_offered_for_one_exposure_alone() {
        let safe = |plan: &Plan| safe_instead_s(plan).map(|s| (1.0 / s).round());
        assert_eq!(safe(&lit(Planned::Fixed(0.008), Some(50.0), None)), Some(100.0));
        assert_eq!(safe(&lit(Planned::Fixed(0.01), Some(50.0), None)), None, "it is one");
        assert_eq!(safe(&lit(Planned::Between(0.01, 1.0), Some(50.0), None)), None);
        assert_eq!(safe(&lit(Planned::Fixed(0.01), Some(50.0), Some(3))), None);
    }

    /// The ends of this ramp are safe, marks between them are not; nor is the shorter exposure of a set about
    /// one that is.
    #[test]
    fn what_lies_between_and_beside_counts() {
        let ramp = banding(&lit(Planned::Between(0.01, 1.0), Some(50.0), None)).expect("lamps");
        assert!(ramp.shows() && ramp.mark_s > 0.01 && ramp.mark_s < 1.0, "{ramp:?}");
        let set = banding(&lit(Planned::Fixed(0.01), Some(50.0), Some(3))).expect("lamps");
        assert!(set.shows() && (set.mark_s - 0.005).abs() < 1e-9, "{set:?}");
    }
}
