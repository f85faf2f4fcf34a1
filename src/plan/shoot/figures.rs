//! What follows from a whole plan beside its own values.

use super::dial::tidy;
use crate::plan::arithmetic::exact_s;
use crate::plan::budget::{Budget, Slot};
use crate::plan::course::{Course, period_s};
use crate::plan::optics::{View, shutter_angle};
use crate::plan::power::{Hours, share_left};
use crate::plan::{ExposurePlan, Plan, Planned, RigKind, arithmetic, levels};
use crate::units::stops::{Series, third_mark};

/// Figures of a whole plan; what cannot be known is `None`.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// From the first shutter to the last, s.
    pub run_s: f64,
    /// Length of the clip that the frames make, s.
    pub clip_s: Option<f64>,
    /// Longest exposure as marked and as exact, s.
    pub exposure_s: Option<(f64, f64)>,
    /// The part of the interval that the shutter is open, as an angle of a rotating shutter, degrees.
    pub angle: Option<f64>,
    /// The exposure that would be half the interval, 180°, s.
    pub half_s: f64,
    /// What follows each exposure.
    pub budget: Budget,
    /// The slot of the longest exposure, exact.
    pub slot: Slot,
    /// Longest marked exposure that leaves a tenth of the interval to spare, s; `None` where none does.
    pub longest_mark_s: Option<f64>,
    /// Slowest speed of the carriage that leaves a tenth of the interval to spare, m/s, where a step is
    /// planned and no speed; `None` where none does.
    pub slowest_m_s: Option<f64>,
    /// How far the subject moves in the picture from frame to frame, px.
    pub shift_px: Option<f64>,
    /// How far it smears in the longest exposure of a carriage that travels all the time, px.
    pub smear_px: Option<f64>,
    /// The battery's hours.
    pub hours: Option<Hours>,
    /// Hours, as rated in the warm, that leave the run its margin at the plan's temperature.
    pub needs_rated_h: f64,
    /// Bytes of all frames.
    pub bytes: Option<f64>,
}

impl Figures {
    /// Of a plan with interval and frames.
    pub fn of(plan: &Plan) -> Self {
        let interval_s = plan.interval_s.unwrap_or(0.0);
        let frames = plan.frames.unwrap_or(0);
        let period = period_s(plan, interval_s).unwrap_or(interval_s);
        let budget = Budget::of(plan, &plan.exposure);
        let (_, slot) = budget.longest(plan, &plan.exposure);
        let exposure_s = plan.exposure.shutter_s.map(|p| (p.high(), exact_s(p.high())));
        let spare_s = interval_s * (1.0 - levels::USE_TIGHT_PERCENT / 100.0);
        let rig = &plan.rig;
        let continuous = rig.kind == Some(RigKind::Continuous);
        let view = view(plan);
        let way_m = match (continuous, rig.step_m, rig.speed_m_s) {
            (false, Some(step), _) => Some(step),
            (true, _, Some(speed)) => Some(speed * period),
            _ => None,
        };
        let smear_m = rig.speed_m_s.zip(exposure_s).filter(|_| continuous).map(|(v, (_, t))| v * t);
        let course = Course::of(plan).ok().flatten();
        let plain_s = || arithmetic::time_from_frames_s(frames, period);
        let run_s = tidy(course.map_or_else(plain_s, |course| course.run_s(frames)));
        let members = f64::from(plan.members());
        Self {
            run_s,
            clip_s: plan.delivery.clip_s(frames),
            exposure_s,
            angle: exposure_s.map(|(_, exact)| shutter_angle(exact, period)),
            half_s: period / 2.0,
            budget,
            slot,
            longest_mark_s: longest_mark(plan, &budget, interval_s),
            // Up to a ten-thousandth of a mm/s: the figure as it is told must be fast enough.
            slowest_m_s: slowest_m_s(plan, &budget, &slot, interval_s - spare_s)
                .map(|v| (v * 1e7 - 1e-3).ceil() / 1e7),
            shift_px: view.zip(way_m).map(|(v, m)| v.shift_px(m)),
            smear_px: view.zip(smear_m).map(|(v, m)| v.shift_px(m)),
            hours: Hours::of(rig),
            needs_rated_h: run_s / 3600.0 * 100.0
                / levels::POWER_TIGHT_PERCENT
                / rig.temperature_c.map_or(1.0, share_left),
            bytes: plan.card.frame_bytes.map(|b| b * frames as f64 * members),
        }
    }
}

fn view(plan: &Plan) -> Option<View> {
    let rig = &plan.rig;
    Some(View {
        focal_length_m: rig.focal_length_m?,
        distance_m: rig.distance_m?,
        pixel_pitch_m: rig.pixel_pitch_m?,
    })
}

/// The longest mark that leaves a tenth of the interval to spare, or of the wait where the rig has one: by
/// the mark and in fact, and with the other exposures of a set. Whole seconds past the last mark. `None`
/// where none does, and where the timer counts from the close of the only exposure.
fn longest_mark(plan: &Plan, budget: &Budget, interval_s: f64) -> Option<f64> {
    if budget.from_close && plan.members() == 1 {
        return None;
    }
    let share = levels::USE_TIGHT_PERCENT / 100.0;
    let fits = |mark: f64| {
        let exposure = ExposurePlan { shutter_s: Some(Planned::Fixed(mark)), ..plan.exposure.clone() };
        let (by_mark, exact) = budget.longest(plan, &exposure);
        let camera_s = by_mark.camera_s.max(exact.camera_s);
        let rig_s = if budget.wait_s.is_some() { 0.0 } else { by_mark.rig_s.max(exact.rig_s) };
        camera_s <= budget.room_s(interval_s) * share + 1e-9 && rig_s <= interval_s * share + 1e-9
    };
    let bulb = budget.longest_exposure_s(interval_s, budget.room_s(interval_s) * (1.0 - share));
    let bulb = bulb.map(f64::floor).filter(|s| *s > 32.0 && s.is_finite() && fits(*s));
    let marked = || (-42..=15).rev().filter_map(|k| third_mark(Series::Time, k)).find(|mark| fits(*mark));
    // The plan's own exposure may be none of the marks.
    let own = plan.exposure.shutter_s.map(Planned::high).filter(|mark| fits(*mark));
    bulb.or_else(marked).into_iter().chain(own).reduce(f64::max)
}

/// The slowest speed with which the move ends in time.
fn slowest_m_s(plan: &Plan, budget: &Budget, slot: &Slot, until_s: f64) -> Option<f64> {
    let rig = &plan.rig;
    let step = rig.step_m.filter(|_| {
        rig.speed_m_s.is_none() && rig.wait_s.is_none() && rig.kind != Some(RigKind::Continuous)
    })?;
    let left_s = until_s - slot.sets_off_s - budget.settle_s;
    if left_s <= 0.0 {
        return None;
    }
    match rig.acceleration_m_s2 {
        None => Some(step / left_s),
        // s/v + v/a = t, the smaller root.
        Some(a) => {
            let under = (a * left_s).powi(2) - 4.0 * a * step;
            (under >= 0.0).then(|| (a * left_s - under.sqrt()) / 2.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::RigPlan;

    /// A tenth of the interval to spare leaves 8.5 s of 9.444 s: the mark 8 s. A marked 30 s is 32 s and
    /// does not fit 31 s. 13 s is longer than the 12.7 s that it names. Of a set of three about 8 s, 16 s
    /// is the longest: 4 + 8 + 16 = 28 s fit in 32 s, and the next mark's 10.08 · 3.5 = 35.3 s do not.
    #[test]
    fn the_longest_mark_that_fits() {
        let of =
            |plan: &Plan, room_s: f64| longest_mark(plan, &Budget::of(plan, &plan.exposure), room_s / 0.9);
        let single = |room_s| of(&Plan::default(), room_s);
        assert_eq!(single(8.5), Some(8.0));
        assert_eq!(single(31.0), Some(25.0));
        assert_eq!(single(32.0), Some(30.0));
        assert_eq!(single(100.4), Some(100.0));
        assert_eq!(single(12.8), Some(10.0));
        assert_eq!(single(0.0), None);
        assert_eq!(of(&Plan { bracket: Some(3), ..Plan::default() }, 32.0), Some(8.0));
    }

    /// 20 mm in 2 s: 10 mm/s at once. At 20 mm/s² the trapezoid s/v + v/a = 2 has its smaller root at v = 20
    /// mm/s.
    #[test]
    fn the_slowest_carriage_that_is_in_time() {
        let rig = RigPlan { step_m: Some(0.02), ..RigPlan::default() };
        let exposure = ExposurePlan { shutter_s: Some(Planned::Fixed(8.0)), ..ExposurePlan::default() };
        let plan = |acceleration_m_s2| Plan {
            rig: RigPlan { acceleration_m_s2, ..rig.clone() },
            exposure: exposure.clone(),
            interval_s: Some(100.0 / 9.0),
            frames: Some(10),
            ..Plan::default()
        };
        let near =
            |got: Option<f64>, want: f64| assert!((got.expect("a speed") - want).abs() < 2e-7, "{got:?}");
        near(Figures::of(&plan(None)).slowest_m_s, 0.01);
        near(Figures::of(&plan(Some(0.02))).slowest_m_s, 0.02);
        assert_eq!(Figures::of(&plan(Some(0.01))).slowest_m_s, None);
    }
}
