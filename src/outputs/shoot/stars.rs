//! What a plan of a night says of its stars.

use crate::outputs::report::stars::dark_words;
use crate::plan::shoot::Shoot;
use crate::plan::stars::{POINT_PX, Sky, longest_s};
use crate::plan::{Light, Plan};
use crate::units::stops::time_text;
use crate::units::{duration, plain};

/// What is told of the stars, one sentence or two each; nothing where the light is not the night. They are no
/// limits of the plan: trails may be what is wanted.
pub(super) fn stars(shoot: &Shoot) -> Vec<String> {
    let plan = &shoot.plan;
    if plan.light != Some(Light::Night) {
        return Vec::new();
    }
    let mut told = Vec::new();
    if let Some((_, exact_s)) = shoot.figures.exposure_s {
        let every_s = plan.interval_s.unwrap_or(0.0) + if plan.from_close() { exact_s } else { 0.0 };
        told.push(format!("trails: {}", dark_words(exact_s, every_s)));
    }
    match Sky::of(plan) {
        Some(sky) => told.extend(points(shoot, &sky)),
        None => told.push("say --focal-length and --pixel-pitch to know when stars trail".to_owned()),
    }
    told
}

/// The longest exposures in which stars are points, and the trail of the planned one.
fn points(shoot: &Shoot, sky: &Sky) -> Vec<String> {
    let plan = &shoot.plan;
    let trail_px = plan.rig.star_trail_px.unwrap_or(POINT_PX);
    let time = |rate_px_s| longest_s(trail_px, rate_px_s).map(duration);
    let Some(axis) = time(sky.axis_px_s()) else {
        return vec!["stars stand still in the middle of the picture: it points at the pole".to_owned()];
    };
    let corner = sky.corner_px_s().and_then(time).map(|s| format!(", {s} in the corners"));
    let mut told = vec![format!(
        "{} px of trail after {axis} in the middle{}, {}",
        plain(trail_px, 2),
        corner.unwrap_or_default(),
        pointing(plan)
    )];
    if let Some((mark, exact_s)) = shoot.figures.exposure_s {
        let axis_px = plain(sky.axis_px_s() * exact_s, 1);
        let corner = sky.corner_px_s().map(|v| format!(", {} px in the corners", plain(v * exact_s, 1)));
        told.push(format!("{} trails by {axis_px} px{}", time_text(mark), corner.unwrap_or_default()));
    }
    if let Some(followed) = sky.followed_px_s() {
        let axis = time(followed).map_or_else(|| "however long".to_owned(), |s| format!("for {s}"));
        told.push(format!("that is a pan against the sky; along with it stars are points {axis}"));
    }
    told
}

/// Where the camera points, as it was counted.
fn pointing(plan: &Plan) -> String {
    match plan.rig.declination_deg {
        Some(deg) => format!("at declination {}°", plain(deg, 1)),
        None => "at the celestial equator, where stars move fastest".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::shoot::{Known, solve};
    use crate::plan::{ExposurePlan, Planned, RigPlan};

    fn night(rig: RigPlan) -> Vec<String> {
        let rig = RigPlan { focal_length_m: Some(0.024), pixel_pitch_m: Some(5.97e-6), ..rig };
        let shutter_s = Some(Planned::Fixed(8.0));
        let plan = Plan {
            interval_s: Some(10.0),
            frames: Some(100),
            light: Some(Light::Night),
            exposure: ExposurePlan { shutter_s, ..ExposurePlan::default() },
            rig,
            ..Plan::default()
        };
        stars(&solve(&Known { plan, event_s: None }).expect("a shoot"))
    }

    /// By hand, as in [`crate::plan::stars`]: 0.29315 px/s make 2 px in 6.822 s and 2.3 px in 8 s. In the
    /// corners 0.53137 px/s make 2 px in 3.764 s and 4.3 px in 8 s. 8 of 10 s leave 2 s dark.
    #[test]
    fn a_night_by_hand() {
        let told = night(RigPlan { sensor_diagonal_m: Some(0.043_27), ..RigPlan::default() });
        assert_eq!(told[0], "trails: 2 s dark between frames, 20 % of the trail");
        assert!(
            told[1].starts_with("2 px of trail after 6.82 s in the middle, 3.76 s in the corners"),
            "{told:?}"
        );
        assert_eq!(told[2], "8 s trails by 2.3 px, 4.3 px in the corners");
        let pole = night(RigPlan { declination_deg: Some(90.0), ..RigPlan::default() });
        assert!(pole[1].contains("points at the pole"), "{pole:?}");
    }
}
