//! How the stars move in the picture, and what is dark between the pieces of their trails.
//!
//! Sources: the sky turns once in a sidereal day of 86 164.09 s, 15.041 arcseconds a second on the
//! celestial equator and less by the cosine of the declination; a lens draws it by gnomonic projection (`x
//! = f · tan θ`). A slide adds nothing, because stars are as good as infinitely far away.

use super::{Plan, RigKind};
use std::f64::consts::PI;

/// One turn of the sky, s (mean sidereal day).
pub const SIDEREAL_DAY_S: f64 = 86_164.09;

/// The trail up to which stars count as points where nothing is said, px. Common practice, no source.
pub const POINT_PX: f64 = 2.0;

/// Directions in which a corner of the picture may lie towards the pole: every degree of half a turn. The
/// other half mirrors it.
const DIRECTIONS: u32 = 180;

/// Lens and sensor under the sky, and where they point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sky {
    /// Focal length over pixel pitch: pixels for one radian on the axis.
    px_per_rad: f64,
    /// Tangent of the angle from the axis to a corner; `None` where the sensor's size is not said.
    corner: Option<f64>,
    /// Declination on the axis, rad.
    declination_rad: f64,
    /// Rate of a pan while the shutter is open, rad/s, 0 or more.
    pan_rad_s: f64,
}

impl Sky {
    /// Of a plan; `None` without focal length and pixel pitch. Without a declination the camera is taken to
    /// point at the celestial equator, where stars move fastest.
    pub fn of(plan: &Plan) -> Option<Self> {
        let rig = &plan.rig;
        let focal_m = rig.focal_length_m?;
        // A carriage that stops for each frame stands still while the shutter is open.
        let pans = rig.kind == Some(RigKind::Continuous);
        Some(Self {
            px_per_rad: focal_m / rig.pixel_pitch_m?,
            corner: rig.sensor_diagonal_m.map(|m| m / 2.0 / focal_m),
            declination_rad: rig.declination_deg.unwrap_or(0.0).to_radians(),
            pan_rad_s: rig.pan_deg_s.filter(|_| pans).unwrap_or(0.0).to_radians().abs(),
        })
    }

    /// How fast a star on the axis moves in the picture, px/s, at the worst: where the pan adds to the sky.
    pub fn axis_px_s(&self) -> f64 {
        (self.axis_rad_s() + self.pan_rad_s) * self.px_per_rad
    }

    /// The same where the pan takes its rate from the sky's, px/s; `None` without a pan.
    pub fn followed_px_s(&self) -> Option<f64> {
        (self.pan_rad_s > 0.0).then(|| (self.axis_rad_s() - self.pan_rad_s).abs() * self.px_per_rad)
    }

    /// How fast a star in a corner moves in the picture, px/s, at the worst of all ways in which the camera
    /// may be turned; `None` where the sensor's size is not said.
    pub fn corner_px_s(&self) -> Option<f64> {
        let r = self.corner?;
        let rate = |declination_rad: f64| {
            let directions = 0..DIRECTIONS;
            directions
                .map(move |k| corner_rate(r, declination_rad, PI * f64::from(k) / f64::from(DIRECTIONS)))
        };
        let sky = rate(self.declination_rad).fold(0.0, f64::max) * sky_rad_s();
        // A pan turns the camera about an axis across its own, as the sky does at the equator.
        let pan = rate(0.0).fold(0.0, f64::max) * self.pan_rad_s;
        Some((sky + pan) * self.px_per_rad)
    }

    fn axis_rad_s(&self) -> f64 {
        sky_rad_s() * self.declination_rad.cos()
    }
}

/// The rate at which the sky turns, rad/s.
fn sky_rad_s() -> f64 {
    2.0 * PI / SIDEREAL_DAY_S
}

/// How fast a star moves in the picture at `r` focal lengths from the axis, in focal lengths per radian of
/// the sky's turn: the motion of a turning sphere in gnomonic projection. `towards` is the direction from
/// the axis, rad, 0 along the star's own path on the axis.
fn corner_rate(r: f64, declination_rad: f64, towards: f64) -> f64 {
    let (u, v) = (r * towards.cos(), r * towards.sin());
    let (sin, cos) = declination_rad.sin_cos();
    let along = cos * (1.0 + u * u) - sin * v;
    let across = cos * u * v + sin * u;
    along.hypot(across)
}

/// The longest exposure in which a star that moves so fast trails by no more than `trail_px`, s; `None` where
/// it takes a day or longer, as about the pole.
pub fn longest_s(trail_px: f64, rate_px_s: f64) -> Option<f64> {
    (rate_px_s > 0.0).then(|| trail_px / rate_px_s).filter(|s| *s < SIDEREAL_DAY_S)
}

/// What is dark between two frames, s and as a share of the trail, where the shutter is open for `exposure_s`
/// of every `period_s`. `None` where the exposure fills it.
pub fn dark(exposure_s: f64, period_s: f64) -> Option<(f64, f64)> {
    let dark_s = period_s - exposure_s;
    (dark_s > 0.0 && period_s.is_finite()).then(|| (dark_s, dark_s / period_s))
}

#[cfg(test)]
mod tests {
    use super::super::RigPlan;
    use super::*;

    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() <= within, "{got} against {want}");
    }

    fn sky(rig: RigPlan) -> Sky {
        let rig = RigPlan { focal_length_m: Some(0.024), pixel_pitch_m: Some(5.97e-6), ..rig };
        Sky::of(&Plan { rig, ..Plan::default() }).expect("a lens")
    }

    /// 360 · 3600 arcseconds in 86 164.09 s are 15.0411 a second (sidereal day, from memory).
    #[test]
    fn the_sky_turns_once_a_sidereal_day() {
        near(sky_rad_s().to_degrees() * 3600.0, 15.0411, 5e-5);
    }

    /// By hand: 24 mm over 5.97 µm are 4020.10 px a radian; 15.0411 arcseconds are 7.29212e-5 rad. So a
    /// star on the equator moves 0.29315 px/s and trails 2 px in 6.822 s; at 60° it moves half as fast, at
    /// the pole not.
    #[test]
    fn the_longest_exposure_on_the_axis() {
        let at = |deg| sky(RigPlan { declination_deg: Some(deg), ..RigPlan::default() }).axis_px_s();
        near(at(0.0), 0.29315, 1e-5);
        near(at(60.0), 0.146_575, 1e-5);
        near(at(-60.0), 0.146_575, 1e-5);
        near(at(90.0), 0.0, 1e-12);
        near(longest_s(2.0, at(0.0)).expect("a time"), 6.8224, 1e-3);
        assert_eq!(longest_s(2.0, 0.0), None);
        assert_eq!(longest_s(2.0, at(90.0)), None);
    }

    /// By hand: a diagonal of 43.27 mm at 24 mm reaches r = 0.90146 focal lengths from the axis. On the
    /// equator a star that moves outwards there moves 1 + r² = 1.81263 times as fast: 0.53137 px/s, 2 px in
    /// 3.764 s. About the pole a star moves along its circle, r times: 0.26426 px/s.
    #[test]
    fn the_corners_by_gnomonic_projection() {
        let at = |deg| {
            let rig = RigPlan {
                declination_deg: Some(deg),
                sensor_diagonal_m: Some(0.043_27),
                ..RigPlan::default()
            };
            sky(rig).corner_px_s().expect("a corner")
        };
        near(at(0.0), 0.531_37, 2e-5);
        near(at(90.0), 0.264_26, 2e-5);
        assert_eq!(sky(RigPlan::default()).corner_px_s(), None);
        // A corner of a picture that points at 45° may see the equator: faster than the axis by far.
        assert!(at(45.0) > 0.53137 * 0.7 && at(45.0) < 0.53137 * 1.2, "{}", at(45.0));
    }

    /// The same corner from first principles: a point of the sphere, turned about the pole for 10 s,
    /// projected before and after.
    #[test]
    fn a_turned_sphere_agrees() {
        let (r, turned) = (0.6_f64, 1e-4_f64);
        for deg in [-70.0_f64, -20.0, 0.0, 35.0, 80.0] {
            let (sin, cos) = deg.to_radians().sin_cos();
            for k in 0..12 {
                let towards = PI * f64::from(k) / 6.0;
                let (u, v) = (r * towards.cos(), r * towards.sin());
                // Camera: z is its axis, y lies in the plane of axis and pole. The pole is (0, cos, sin).
                let p = [u, v, 1.0];
                let axis = [0.0, cos, sin];
                let dot = p[1] * axis[1] + p[2] * axis[2];
                let cross = [axis[1] * p[2] - axis[2] * p[1], axis[2] * p[0], -axis[1] * p[0]];
                // Rodrigues' rotation.
                let turn = |i: usize| {
                    p[i] * turned.cos() + cross[i] * turned.sin() + axis[i] * dot * (1.0 - turned.cos())
                };
                let moved = (turn(0) / turn(2) - u).hypot(turn(1) / turn(2) - v) / turned;
                near(moved, corner_rate(r, deg.to_radians(), towards), 1e-3);
            }
        }
    }

    /// By hand: a pan of 15.0411 arcseconds a second along the equator doubles the rate, or stands with the
    /// stars. A rig that stops for each frame does not pan while the shutter is open.
    #[test]
    fn a_pan_adds_or_takes_its_own_rate() {
        let pan =
            |kind| RigPlan { pan_deg_s: Some(15.0411 / 3600.0), kind: Some(kind), ..RigPlan::default() };
        let moving = sky(pan(RigKind::Continuous));
        near(moving.axis_px_s(), 0.5863, 1e-4);
        near(moving.followed_px_s().expect("a pan"), 0.0, 1e-5);
        let stepped = sky(pan(RigKind::Stepped));
        near(stepped.axis_px_s(), 0.29315, 1e-5);
        assert_eq!(stepped.followed_px_s(), None);
    }

    /// By hand: a marked 25 s lasts 25.398 s; every 30 s that leaves 4.602 s dark, 15.34 % of the trail.
    #[test]
    fn the_dark_between_frames() {
        let (s, share) = dark(crate::plan::arithmetic::exact_s(25.0), 30.0).expect("a gap");
        near(s, 4.6016, 1e-3);
        near(share, 0.153_39, 1e-4);
        assert_eq!(dark(32.0, 30.0), None);
    }
}
