//! The arithmetic of a shoot: pure functions, the unit of every result in its name.
//!
//! Sources: frames, clip and travel follow the definitions of the plan (the first frame stands at zero, so a
//! run holds one frame more than it holds intervals); the move is the motion of a carriage at constant
//! acceleration (kinematics).

use crate::units::stops::{Series, Step, exact_or_same, only_half};

/// How far, as a share of one interval, a run may fall short of a slot and still reach it: the rounding of
/// binary fractions.
const ROUNDING: f64 = 1e-6;

/// Most frames that a run is believed to hold.
const MOST_FRAMES: f64 = 1e15;

/// The exact exposure that a marked one names, s: "30" is 32 s.
pub fn exact_s(mark: f64) -> f64 {
    let step = if only_half(Series::Time, mark) { Step::Half } else { Step::Third };
    exact_or_same(Series::Time, mark, step)
}

/// Frames of a run of `run_s` seconds at one frame every `interval_s` seconds, the first at zero: `floor(run
/// / interval) + 1`.
///
/// `None` where the run is negative, the interval not positive, or either is not finite.
pub fn frames_from_run(run_s: f64, interval_s: f64) -> Option<u64> {
    let sane = run_s.is_finite() && run_s >= 0.0 && interval_s.is_finite() && interval_s > 0.0;
    let intervals = (run_s / interval_s + ROUNDING).floor();
    (sane && intervals < MOST_FRAMES).then(|| intervals as u64 + 1)
}

/// Slots that fall before `span_s`, the first at zero: a slot on the end itself is not counted. `None` as in
/// [`frames_from_run`].
pub fn slots_before(span_s: f64, interval_s: f64) -> Option<u64> {
    let sane = span_s.is_finite() && span_s >= 0.0 && interval_s.is_finite() && interval_s > 0.0;
    let slots = (span_s / interval_s - ROUNDING).ceil().max(0.0);
    (sane && slots < MOST_FRAMES).then_some(slots as u64)
}

/// Seconds from the first frame's slot to the last one's: `(frames − 1) · interval`.
pub fn time_from_frames_s(frames: u64, interval_s: f64) -> f64 {
    frames.saturating_sub(1) as f64 * interval_s
}

/// Length of the clip in seconds: `frames / fps`. `None` where `fps` is not positive.
pub fn clip_length_s(frames: u64, fps: f64) -> Option<f64> {
    (fps.is_finite() && fps > 0.0).then_some(frames as f64 / fps)
}

/// Frames that a clip of `length_s` seconds takes at `fps`: the least whole number that is not shorter.
/// `None` where `fps` is not positive or the length negative.
pub fn frames_from_clip(length_s: f64, fps: f64) -> Option<u64> {
    let frames = (length_s * fps - ROUNDING).ceil().max(0.0);
    let sane = fps.is_finite() && fps > 0.0 && length_s.is_finite() && length_s >= 0.0;
    (sane && frames < MOST_FRAMES).then_some(frames as u64)
}

/// Travel of the run in metres: one move between neighbouring frames, `(frames − 1) · step`.
pub fn travel_m(frames: u64, step_m: f64) -> f64 {
    frames.saturating_sub(1) as f64 * step_m
}

/// Seconds that one move of `step_m` metres takes at `speed_m_s`.
///
/// Without an acceleration the carriage is taken to be at speed at once. With one the speed is a trapezoid
/// over time: up at `acceleration_m_s2`, along at `speed_m_s`, down at the same rate; a move too short to
/// reach the speed is a triangle. `None` where one of the figures is not positive; a step of 0 takes no time.
pub fn move_time_s(step_m: f64, speed_m_s: f64, acceleration_m_s2: Option<f64>) -> Option<f64> {
    let positive = |v: f64| v.is_finite() && v > 0.0;
    if step_m == 0.0 {
        return Some(0.0);
    }
    if !positive(step_m) || !positive(speed_m_s) || acceleration_m_s2.is_some_and(|a| !positive(a)) {
        return None;
    }
    Some(match acceleration_m_s2 {
        None => step_m / speed_m_s,
        Some(a) if step_m * a >= speed_m_s * speed_m_s => step_m / speed_m_s + speed_m_s / a,
        Some(a) => 2.0 * (step_m / a).sqrt(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64) {
        assert!((got - want).abs() < 5e-5, "{got} against {want}");
    }

    /// Worked values, computed outside the project from the definitions.
    #[test]
    fn frames_of_a_run() {
        for (run, interval, frames) in [
            (3600.0, 5.0, 721),
            (7200.0, 3.0, 2401),
            (600.0, 7.013, 86),
            (7200.0, 12.0, 601),
            (0.0, 5.0, 1),
            (4.999, 5.0, 1),
            (0.3, 0.1, 4),
            (1195.0, 5.0, 240),
        ] {
            assert_eq!(frames_from_run(run, interval), Some(frames), "{run} / {interval}");
        }
        for (run, interval) in
            [(-1.0, 5.0), (10.0, 0.0), (10.0, -1.0), (f64::NAN, 5.0), (f64::INFINITY, 5.0), (1e30, 1e-3)]
        {
            assert_eq!(frames_from_run(run, interval), None);
        }
    }

    #[test]
    fn slots_before_a_change() {
        for (span, interval, slots) in
            [(3000.0, 12.0, 250), (3000.1, 12.0, 251), (0.0, 5.0, 0), (0.3, 0.1, 3)]
        {
            assert_eq!(slots_before(span, interval), Some(slots), "{span} / {interval}");
        }
        assert_eq!(slots_before(-1.0, 5.0), None);
        assert_eq!(slots_before(1.0, 0.0), None);
    }

    #[test]
    fn clips_times_and_travel() {
        near(clip_length_s(721, 25.0).expect("a rate"), 28.84);
        near(clip_length_s(2401, 24.0).expect("a rate"), 100.0417);
        assert_eq!(clip_length_s(10, 0.0), None);
        assert_eq!(frames_from_clip(20.0, 25.0), Some(500));
        assert_eq!(frames_from_clip(28.84, 25.0), Some(721));
        assert_eq!(frames_from_clip(20.01, 25.0), Some(501));
        assert_eq!(frames_from_clip(-1.0, 25.0), None);
        near(time_from_frames_s(240, 5.0), 1195.0);
        near(time_from_frames_s(0, 5.0), 0.0);
        near(travel_m(721, 0.002), 1.440);
        near(travel_m(601, 0.0015), 0.9);
    }

    /// Kinematics: a trapezoid takes s/v + v/a, a triangle 2·√(s/a); both meet where s = v²/a.
    #[test]
    fn moves() {
        near(move_time_s(0.02, 0.02, None).expect("a move"), 1.0);
        near(move_time_s(0.02, 0.02, Some(0.2)).expect("a trapezoid"), 1.1);
        near(move_time_s(0.0015, 0.02, Some(0.2)).expect("a triangle"), 2.0 * 0.0075_f64.sqrt());
        near(move_time_s(0.002, 0.02, Some(0.2)).expect("both"), 0.2);
        assert_eq!(move_time_s(0.0, 0.02, None), Some(0.0));
        for (step, speed, a) in
            [(-0.1, 0.02, None), (0.1, 0.0, None), (0.1, 0.1, Some(0.0)), (f64::NAN, 0.1, None)]
        {
            assert_eq!(move_time_s(step, speed, a), None);
        }
    }
}
