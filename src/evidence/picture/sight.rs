//! How visible a flicker is at the speed of play.
//!
//! Source: the temporal contrast sensitivity function of the Information Display Measurements Standard
//! (ICDM), of the form of Watson & Ahumada, SID 2011: the difference of two low-pass filters of 15 and 16
//! stages. A modulation is at the threshold of sight where sensitivity times modulation is 1.

/// Sensitivity at its top, before the second filter is taken off.
const GAIN: f64 = 148.7;
/// Time constant of the first filter, s.
const TAU_S: f64 = 0.002_67;
/// Time constant of the second over that of the first.
const KAPPA: f64 = 1.834;
/// Weight of the second filter.
const ZETA: f64 = 0.882;
/// Stages of the two.
const STAGES: (i32, i32) = (15, 16);

/// Sensitivity to a modulation of `hz` cycles a second: 1 over the smallest modulation that is seen.
pub fn sensitivity(hz: f64) -> f64 {
    // (1 + iωτ)^−n in polar form.
    let filter = |tau: f64, n: i32| {
        let wt = std::f64::consts::TAU * hz * tau;
        let (size, angle) = ((1.0 + wt * wt).powf(-0.5 * f64::from(n)), -f64::from(n) * wt.atan());
        (size * angle.cos(), size * angle.sin())
    };
    let (a, b) = (filter(TAU_S, STAGES.0), filter(KAPPA * TAU_S, STAGES.1));
    GAIN * f64::hypot(a.0 - ZETA * b.0, a.1 - ZETA * b.1)
}

/// How visible something is, in multiples of the threshold, and how often it comes.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Visibility {
    /// Sensitivity times modulation at its largest; seen from 1 on.
    pub index: f64,
    /// The frequency at which it is largest, Hz.
    pub hz: f64,
}

/// The largest product of sensitivity and modulation over the frequencies of a series of linear luminance
/// played at `fps`: the modulation at a frequency is twice the size of its Fourier coefficient over that of
/// the mean (once, at half the frame rate).
///
/// One flash among N frames is divided by N: give series of at most a second, and take slow changes out
/// first.
pub fn visibility(light: &[f64], fps: f64) -> Visibility {
    let n = light.len();
    let mean = light.iter().sum::<f64>() / n.max(1) as f64;
    let mut best = Visibility::default();
    if n < 2 || mean.is_nan() || mean <= 0.0 {
        return best;
    }
    for k in 1..=n / 2 {
        let turn = std::f64::consts::TAU * k as f64 / n as f64;
        let (re, im) = light.iter().enumerate().fold((0.0, 0.0), |(re, im), (i, y)| {
            let angle = turn * i as f64;
            (re + y * angle.cos(), im + y * angle.sin())
        });
        let twice = if 2 * k == n { 1.0 } else { 2.0 };
        let modulation = twice * f64::hypot(re, im) / n as f64 / mean;
        let hz = k as f64 * fps / n as f64;
        let index = sensitivity(hz) * modulation;
        if index > best.index {
            best = Visibility { index, hz };
        }
    }
    best
}

/// How visible one frame is, in multiples of the threshold, that stands out of an even clip by `ev` for
/// 1/`fps` of a second: the peak of what the function's filters answer to it. A Fourier coefficient of a
/// second would divide it by the frames of that second.
///
/// The answer of n equal low-pass stages of time constant τ to a step is Erlang's distribution, 1 − e^−x · Σ
/// x^j / j! over j < n, with x = t / τ.
pub fn flash(ev: f64, fps: f64) -> f64 {
    let held = 1.0 / fps;
    let answer = |t: f64, tau: f64, n: i32| stages(t / tau, n) - stages((t - held) / tau, n);
    let at = |t: f64| answer(t, TAU_S, STAGES.0) - ZETA * answer(t, KAPPA * TAU_S, STAGES.1);
    // Long after the frame there is nothing left of it.
    let steps = ((held + ANSWERED_S) / ANSWER_STEP_S) as u32;
    let peak = (0..=steps).map(|k| at(f64::from(k) * ANSWER_STEP_S).abs()).fold(0.0, f64::max);
    GAIN * peak * (ev.exp2() - 1.0).abs()
}

/// The filters have answered after so long, s, and are looked at in steps of so much, s.
const ANSWERED_S: f64 = 0.25;
const ANSWER_STEP_S: f64 = 0.001;

fn stages(x: f64, n: i32) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let (mut term, mut sum) = (1.0, 1.0);
    for j in 1..n {
        term *= x / f64::from(j);
        sum += term;
    }
    1.0 - (-x).exp() * sum
}

/// The most visible second of a course of deviations from even brightness, EV, played at `fps`, and where
/// that second begins. Windows of a second at most, an even number of frames (so that what alternates falls
/// on a line of the spectrum), overlap by half; NaN counts as even. A run of less than a second is taken as
/// one window.
pub fn most_visible(deviation_ev: &[f64], fps: f64) -> (Visibility, usize) {
    let window = (fps.round() as usize).clamp(2, 240).min(deviation_ev.len()) & !1;
    let mut best = (Visibility::default(), 0);
    if window < 2 {
        return best;
    }
    let last = deviation_ev.len() - window;
    let starts = (0..last).step_by((window / 2).max(1)).chain([last]);
    let mut light = Vec::with_capacity(window);
    for start in starts {
        light.clear();
        let of = deviation_ev.get(start..start + window).unwrap_or_default();
        light.extend(of.iter().map(|ev| if ev.is_nan() { 1.0 } else { ev.exp2() }));
        let seen = visibility(&light, fps);
        if seen.index > best.0.index {
            best = (seen, start);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of the function, by numpy from its published constants.
    #[test]
    fn sensitivities() {
        for (hz, s) in [
            (0.5, 24.3945),
            (1.0, 37.9984),
            (2.0, 68.2097),
            (4.0, 121.8928),
            (6.0, 157.5010),
            (8.0, 172.3735),
            (10.0, 169.2996),
            (12.0, 154.0564),
            (12.5, 149.0969),
            (15.0, 121.7430),
            (20.0, 73.9736),
            (25.0, 44.7852),
            (30.0, 27.1564),
        ] {
            assert!((sensitivity(hz) - s).abs() < 1e-4, "{hz}: {}", sensitivity(hz));
        }
        assert!((sensitivity(0.0) - 17.5466).abs() < 1e-4);
        assert!((sensitivity(8.5847) - 173.1074).abs() < 1e-4);
        assert!((sensitivity(58.04) - 1.0).abs() < 1e-3);
    }

    /// An independent model of the same thing (Watson 1986, chapter 6 of the Handbook of Perception and Human
    /// Performance, with constants that are from memory) agrees within a quarter from 0.5 to 15 Hz.
    #[test]
    fn an_older_model_agrees() {
        for (hz, s) in [
            (0.5, 25.4638),
            (1.0, 34.7985),
            (2.0, 57.7363),
            (4.0, 100.1905),
            (8.0, 140.0059),
            (15.0, 98.1182),
        ] {
            assert!((sensitivity(hz) / s - 1.0).abs() < 0.25, "{hz}");
        }
    }

    fn series(n: usize, of: impl Fn(usize) -> f64) -> Vec<f64> {
        (0..n).map(of).collect()
    }

    /// 100 frames at 25 a second; values by numpy.
    #[test]
    fn series_of_known_visibility() {
        let wave =
            |hz: f64| series(100, |k| 1.0 + 0.01 * (std::f64::consts::TAU * hz * k as f64 / 25.0).sin());
        let alternating = series(100, |k| if k % 2 == 0 { 1.01 } else { 0.99 });
        let flash = series(100, |k| if k == 50 { 1.1 } else { 1.0 });
        let step = series(100, |k| if k >= 50 { 1.1 } else { 1.0 });
        for (light, index, hz) in [
            (wave(2.0), 0.68210, 2.0),
            (wave(8.0), 1.72374, 8.0),
            (alternating, 1.49097, 12.5),
            (flash, 0.34584, 8.5),
            (step, 1.18192, 0.25),
        ] {
            let seen = visibility(&light, 25.0);
            assert!((seen.index - index).abs() < 1e-4 && (seen.hz - hz).abs() < 1e-9, "{seen:?}");
        }
    }

    /// About 0.02 EV between every two frames is at the threshold at 24 and 25 frames a second.
    #[test]
    fn alternating_frames_by_ev() {
        for (ev, fps, index) in [
            (0.02, 24.0, 1.068),
            (0.02, 25.0, 1.033),
            (0.02, 30.0, 0.844),
            (0.05, 25.0, 2.583),
            (1.0 / 3.0, 24.0, 17.7),
        ] {
            let light = series(fps as usize * 2, |k| if k % 2 == 0 { f64::exp2(ev) } else { 1.0 });
            let seen = visibility(&light, fps);
            assert!((seen.index / index - 1.0).abs() < 2e-3, "{ev} {fps}: {seen:?}");
        }
    }

    /// Peaks by numerical integration of the function's inverse transform, in steps of 0.1 ms, and what they
    /// say: at 25 frames a second one frame is seen from 0.012 EV on, where the spectrum of its second asks
    /// for nine times as much.
    #[test]
    fn a_frame_alone() {
        for (fps, peak) in [(24.0, 122.457), (25.0, 122.353), (30.0, 120.057), (50.0, 95.732), (60.0, 83.932)]
        {
            let seen = flash(1.0, fps);
            assert!((seen / peak - 1.0).abs() < 2e-3, "{fps}: {seen}");
        }
        assert!((flash(0.011_74, 25.0) - 1.0).abs() < 2e-3);
        assert!(flash(-0.011_74, 25.0) > 0.98);
        let mut ev = vec![0.0; 100];
        ev[50] = 0.1;
        let by_spectrum = most_visible(&ev, 25.0).0.index;
        assert!(flash(0.1, 25.0) > 8.0 * by_spectrum, "{by_spectrum}");
    }

    /// The trap of the long window: one flash is four times as visible in a second of its own.
    #[test]
    fn a_single_flash_is_seen_in_its_second() {
        let mut ev = vec![0.0; 400];
        ev[203] = f64::log2(1.1);
        let (seen, start) = most_visible(&ev, 25.0);
        assert!(seen.index > 1.3 && (180..=203).contains(&start), "{seen:?} {start}");
        assert_eq!(most_visible(&[], 25.0).0.index, 0.0);
        assert_eq!(most_visible(&[0.3], 25.0).0.index, 0.0);
    }
}
