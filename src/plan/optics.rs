//! What a move of the carriage does in the picture, in pixels, for a subject at a distance much longer than
//! the lens.
//!
//! Source: similar triangles of the pinhole camera; the magnification is taken as focal length over distance.

/// Where a carriage stands `t_s` seconds after it set off on a move of `step_m` at `speed_m_s`, m from its
/// start.
///
/// The speed is a trapezoid or a triangle over time, as in [`move_time_s`](super::arithmetic::move_time_s). 0
/// before it sets off, the whole step once it has come to rest.
pub fn position_m(t_s: f64, step_m: f64, speed_m_s: f64, acceleration_m_s2: Option<f64>) -> f64 {
    if t_s <= 0.0 {
        return 0.0;
    }
    let Some(a) = acceleration_m_s2 else { return (speed_m_s * t_s).min(step_m) };
    // A move too short to reach the speed turns round at its top speed.
    let top = speed_m_s.min((step_m * a).sqrt());
    let (up_s, whole_s) = (top / a, step_m / top + top / a);
    let left_s = whole_s - t_s;
    if left_s <= 0.0 {
        step_m
    } else if t_s < up_s {
        a * t_s * t_s / 2.0
    } else if left_s < up_s {
        step_m - a * left_s * left_s / 2.0
    } else {
        top * (t_s - up_s / 2.0)
    }
}

/// The lens, the subject and the sensor, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Focal length, m, over 0.
    pub focal_length_m: f64,
    /// Distance to the subject, m, over 0.
    pub distance_m: f64,
    /// Pixel pitch, m, over 0.
    pub pixel_pitch_m: f64,
}

impl View {
    /// How far the subject moves in the picture when the carriage travels `travel_m` across the line of
    /// sight, px: `focal length · travel / (distance · pitch)`.
    pub fn shift_px(&self, travel_m: f64) -> f64 {
        self.focal_length_m * travel_m / (self.distance_m * self.pixel_pitch_m)
    }
}

/// Angle that the exposure is of the interval, as of a rotating shutter: `360 · t / T`, degrees. Half a turn,
/// 180°, is the habit of the trade for motion that looks natural (common practice, no source).
pub fn shutter_angle(exposure_s: f64, interval_s: f64) -> f64 {
    360.0 * exposure_s / interval_s
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64) {
        assert!((got - want).abs() < 5e-5, "{got} against {want}");
    }

    /// Worked values, computed outside the project from `f·v·t/(D·p)` and `f·s/(D·p)`.
    #[test]
    fn smear_and_jump_of_a_picture() {
        let view =
            |focal_length_m, distance_m, pixel_pitch_m| View { focal_length_m, distance_m, pixel_pitch_m };
        near(view(0.024, 2.0, 5.97e-6).shift_px(0.002 * 0.5), 2.0101);
        near(view(0.024, 10.0, 5.97e-6).shift_px(0.002 * 0.5), 0.4020);
        near(view(0.050, 1.5, 4.37e-6).shift_px(0.001), 7.6278);
        let (close, far) =
            (view(0.024, 1.0, 5.97e-6).shift_px(0.002), view(0.024, 10.0, 5.97e-6).shift_px(0.002));
        near(close, 8.0402);
        near(far, 0.8040);
        near(close - far, 7.2362);
    }

    /// Half of 5 s is 2.5 s; the nearest third of a stop, 2.5198 s, is 181.4°.
    #[test]
    fn half_a_turn() {
        near(shutter_angle(2.5, 5.0), 180.0);
        near(shutter_angle((4.0_f64 / 3.0).exp2(), 5.0), 181.4286);
    }

    /// Kinematics: at constant acceleration half the way is done in half the time, and a²/2·t² until the
    /// speed is reached.
    #[test]
    fn a_carriage_on_its_way() {
        near(position_m(0.5, 0.02, 0.02, None), 0.01);
        near(position_m(9.0, 0.02, 0.02, None), 0.02);
        near(position_m(-1.0, 0.02, 0.02, None), 0.0);
        // 20 mm at 20 mm/s and 200 mm/s² take 1.1 s: 1 mm while speeding up, 18 mm along, 1 mm while slowing
        // down.
        for (t, want) in
            [(0.05, 0.00025), (0.1, 0.001), (0.55, 0.01), (1.0, 0.019), (1.05, 0.01975), (1.1, 0.02)]
        {
            near(position_m(t, 0.02, 0.02, Some(0.2)), want);
        }
        // A triangle: 1.5 mm at 200 mm/s² take 2·√0.0075 s and never reach 20 mm/s.
        let whole = 2.0 * 0.0075_f64.sqrt();
        near(position_m(whole / 2.0, 0.0015, 0.02, Some(0.2)), 0.00075);
        near(position_m(whole, 0.0015, 0.02, Some(0.2)), 0.0015);
    }
}
