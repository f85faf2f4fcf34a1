//! Exposure in stops. Marked numbers (1/125, f/5.6, ISO 125, "30 s") are names of exact points on series that
//! step by thirds or halves of a stop; the arithmetic is done on the exact points.
//!
//! Sources: Exif (CIPA DC-008) Annex C APEX relations; ISO 2720:1974 reflected-light equation; the rule
//! "marked numbers are rounded, the machine works in powers of two" is common practice.

use super::words::plain;

/// Which quantity a marked number names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Series {
    /// Exposure time in seconds: exact points 2^(−k/3) or 2^(−k/2).
    Time,
    /// f-number: exact points 2^(k/6) or 2^(k/4).
    Aperture,
    /// ISO sensitivity: exact points 100·2^(k/3) or 100·2^(k/2).
    Sensitivity,
}

/// The step in which a body moves its dials.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Step {
    /// Thirds of a stop: the ordinary case.
    #[default]
    Third,
    /// Halves of a stop.
    Half,
}

/// Marked third-stop times of 1 s and longer, fastest first; position k names the exact point 2^(k/3) s.
const LONG_THIRDS: [f64; 16] =
    [1.0, 1.3, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 15.0, 20.0, 25.0, 30.0];

/// Marked third-stop times from 1/4 s as denominators; position k names the exact point 2^(−2−k/3) s.
const SHORT_THIRDS: [f64; 37] = [
    4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 125.0, 160.0,
    200.0, 250.0, 320.0, 400.0, 500.0, 640.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3200.0, 4000.0,
    5000.0, 6400.0, 8000.0, 10000.0, 12800.0, 16000.0,
];

/// Marked half-stop times of 1 s and longer; position k names 2^(k/2) s.
const LONG_HALVES: [f64; 11] = [1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0, 30.0];

/// Marked half-stop times from 1/2 s as denominators; position k names 2^(−1−k/2) s.
const SHORT_HALVES: [f64; 26] = [
    2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 125.0, 180.0, 250.0, 350.0, 500.0,
    750.0, 1000.0, 1500.0, 2000.0, 3000.0, 4000.0, 6000.0, 8000.0, 12000.0,
];

/// Marked third-stop f-numbers; position k names 2^(k/6).
const APERTURE_THIRDS: [f64; 34] = [
    1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0,
    11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0, 36.0, 40.0, 45.0,
];

/// Marked half-stop f-numbers; position k names 2^(k/4).
const APERTURE_HALVES: [f64; 22] = [
    1.0, 1.2, 1.4, 1.7, 2.0, 2.4, 2.8, 3.3, 4.0, 4.8, 5.6, 6.7, 8.0, 9.5, 11.0, 13.0, 16.0, 19.0, 22.0, 27.0,
    32.0, 38.0,
];

/// Marked third-stop sensitivities of one decade; a mark repeats by powers of ten and two (ISO 12232
/// reporting series).
const ISO_THIRDS: [f64; 34] = [
    25.0, 32.0, 40.0, 50.0, 64.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 320.0, 400.0, 500.0, 640.0, 800.0,
    1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3200.0, 4000.0, 5000.0, 6400.0, 8000.0, 10000.0, 12800.0,
    16000.0, 20000.0, 25600.0, 32000.0, 40000.0, 51200.0,
];

/// How far, as a share, a written number may lie from a mark and still be that mark (0.0167 for 1/60).
const MARK_TOLERANCE: f64 = 0.004;

fn nearest(marks: &[f64], value: f64, tolerance: f64) -> Option<usize> {
    let at = marks.iter().enumerate().min_by(|a, b| (a.1 - value).abs().total_cmp(&(b.1 - value).abs()))?;
    ((at.1 - value).abs() <= tolerance * at.1).then_some(at.0)
}

/// The exact point that a marked number names, or `None` where the number is not a mark of that series (it is
/// then taken at its word: a phone's 1/493 s is exact as it stands).
///
/// `marked` in seconds, as an f-number or as an ISO value; not positive or not finite gives `None`.
pub fn exact(series: Series, marked: f64, step: Step) -> Option<f64> {
    if !(marked.is_finite() && marked > 0.0) {
        return None;
    }
    match (series, step) {
        (Series::Time, Step::Third) => {
            // 0.8, 0.6, 0.4 and 0.3 s are written as decimals; 1/3 s is a half-stop mark, and 0.3 s is not.
            for (mark, k) in [(0.8, 1.0), (0.6, 2.0), (0.5, 3.0), (0.4, 4.0), (0.3, 5.0)] {
                if (marked - mark).abs() <= MARK_TOLERANCE * mark {
                    return Some((-k / 3.0_f64).exp2());
                }
            }
            if marked >= 0.9 {
                nearest(&LONG_THIRDS, marked, MARK_TOLERANCE).map(|k| (k as f64 / 3.0).exp2())
            } else {
                nearest(&SHORT_THIRDS, 1.0 / marked, MARK_TOLERANCE).map(|k| (-2.0 - k as f64 / 3.0).exp2())
            }
        }
        (Series::Time, Step::Half) => {
            for (mark, k) in [(0.7, 1.0), (0.3, 3.0)] {
                if (marked - mark).abs() <= MARK_TOLERANCE * mark {
                    return Some((-k / 2.0_f64).exp2());
                }
            }
            if marked >= 0.9 {
                nearest(&LONG_HALVES, marked, MARK_TOLERANCE).map(|k| (k as f64 / 2.0).exp2())
            } else {
                nearest(&SHORT_HALVES, 1.0 / marked, MARK_TOLERANCE).map(|k| (-1.0 - k as f64 / 2.0).exp2())
            }
        }
        (Series::Aperture, Step::Third) => {
            nearest(&APERTURE_THIRDS, marked, MARK_TOLERANCE).map(|k| (k as f64 / 6.0).exp2())
        }
        (Series::Aperture, Step::Half) => {
            nearest(&APERTURE_HALVES, marked, MARK_TOLERANCE).map(|k| (k as f64 / 4.0).exp2())
        }
        (Series::Sensitivity, Step::Third) => {
            nearest(&ISO_THIRDS, marked, MARK_TOLERANCE).map(|k| 100.0 * ((k as f64 - 6.0) / 3.0).exp2())
        }
        // Half-stop sensitivities have no agreed marks beside the whole stops.
        (Series::Sensitivity, Step::Half) => {
            let k = (marked / 100.0).log2() * 2.0;
            ((k - k.round()).abs() < 0.06).then(|| 100.0 * (k.round() / 2.0).exp2())
        }
    }
}

/// The exact point where `marked` is a mark of the series, else the number itself.
pub fn exact_or_same(series: Series, marked: f64, step: Step) -> f64 {
    exact(series, marked, step).unwrap_or(marked)
}

/// The mark at position `k` of a third-stop series, or `None` beyond its ends: the inverse of [`exact`].
///
/// `k` counts thirds of a stop from 1 s (longer is up), from f/1 (smaller openings are up) or from ISO 100.
pub fn third_mark(series: Series, k: i32) -> Option<f64> {
    let at = |marks: &[f64], i: i32| usize::try_from(i).ok().and_then(|i| marks.get(i)).copied();
    match series {
        Series::Time if k >= 0 => at(&LONG_THIRDS, k),
        Series::Time if k > -6 => at(&[0.8, 0.6, 0.5, 0.4, 0.3], -1 - k),
        Series::Time => at(&SHORT_THIRDS, (-6_i32).checked_sub(k)?).map(|d| 1.0 / d),
        Series::Aperture => at(&APERTURE_THIRDS, k),
        Series::Sensitivity => at(&ISO_THIRDS, k.checked_add(6)?),
    }
}

/// True where the number is a mark of the half-stop series and not of the third-stop one (1/45, f/6.7).
pub fn only_half(series: Series, marked: f64) -> bool {
    exact(series, marked, Step::Third).is_none() && exact(series, marked, Step::Half).is_some()
}

/// True where the number is a mark of the third-stop series and not of the half-stop one (1/50, f/6.3).
pub fn only_third(series: Series, marked: f64) -> bool {
    exact(series, marked, Step::Third).is_some() && exact(series, marked, Step::Half).is_none()
}

/// Exposure value at ISO 100: `log2(N²/t) − log2(S/100)`, in EV. One more is half the light admitted.
///
/// `f_number` N, `exposure_s` t in seconds and `iso` S must be positive; the result is NaN or infinite
/// otherwise. Source: ISO 2720:1974; ANSI PH2.7 tables.
pub fn ev100(f_number: f64, exposure_s: f64, iso: f64) -> f64 {
    (f_number * f_number / exposure_s).log2() - (iso / 100.0).log2()
}

/// An exposure time in seconds from an APEX time value: `2^(−Tv)` (Exif ShutterSpeedValue).
pub fn time_from_apex(tv: f64) -> f64 {
    (-tv).exp2()
}

/// An f-number from an APEX aperture value: `2^(Av/2)` (Exif ApertureValue).
pub fn f_number_from_apex(av: f64) -> f64 {
    (av / 2.0).exp2()
}

/// An exposure time as photographers write it: `1/125 s`, `0.5 s`, `30 s`.
pub fn time_text(seconds: f64) -> String {
    if !(seconds.is_finite() && seconds > 0.0) {
        return "unknown".into();
    }
    if seconds < 0.3 {
        let d = 1.0 / seconds;
        if (d - d.round()).abs() < 0.02 * d || d > 20.0 {
            return format!("1/{} s", d.round());
        }
    }
    format!("{} s", plain(seconds, 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Marked and exact times, and the error of believing the mark in EV. Series: common practice (marked
    /// numbers are rounded powers of two); values computed from 2^(−k/3).
    #[test]
    fn marked_times_name_exact_thirds() {
        for (mark, exact_s, ev) in [
            (30.0, 32.0, -0.093),
            (25.0, 25.3984, -0.023),
            (20.0, 20.1587, -0.011),
            (15.0, 16.0, -0.093),
            (13.0, 12.6992, 0.034),
            (10.0, 10.0794, -0.011),
            (8.0, 8.0, 0.0),
            (6.0, 6.3496, -0.082),
            (5.0, 5.0397, -0.011),
            (3.2, 3.1748, 0.011),
            (2.5, 2.5198, -0.011),
            (1.6, 1.5874, 0.011),
            (1.3, 1.2599, 0.045),
            (0.8, 0.7937, 0.011),
            (0.6, 0.62996, -0.070),
            (0.4, 1.0 / 2.5198, 0.011),
            (0.3, 1.0 / 3.1748, -0.070),
            (1.0 / 6.0, 1.0 / 6.3496, 0.082),
            (1.0 / 13.0, 1.0 / 12.699, -0.034),
            (1.0 / 15.0, 1.0 / 16.0, 0.093),
            (1.0 / 60.0, 1.0 / 64.0, 0.093),
            (1.0 / 125.0, 1.0 / 128.0, 0.034),
            (1.0 / 250.0, 1.0 / 256.0, 0.034),
            (1.0 / 640.0, 1.0 / 645.080, 0.011),
            (1.0 / 1250.0, 1.0 / 1290.16, 0.046),
            (1.0 / 8000.0, 1.0 / 8192.0, 0.034),
        ] {
            let got = exact(Series::Time, mark, Step::Third).expect("a mark");
            assert!((got / exact_s - 1.0).abs() < 2e-4, "{mark}: {got} against {exact_s}");
            assert!(((mark / got).log2() - ev).abs() < 0.002, "{mark}: {}", (mark / got).log2());
        }
    }

    /// Neighbouring marks are one exact third apart however unequal the marks are (0.2065 to 0.4150 EV).
    #[test]
    fn an_even_ramp_comes_out_even() {
        let marks =
            [1.0 / 80.0, 1.0 / 60.0, 1.0 / 50.0, 1.0 / 40.0, 1.0 / 30.0, 1.0 / 25.0, 1.0 / 20.0, 1.0 / 15.0];
        for pair in marks.windows(2) {
            let a = exact(Series::Time, pair[0], Step::Third).expect("a mark");
            let b = exact(Series::Time, pair[1], Step::Third).expect("a mark");
            assert!(((b / a).log2() - 1.0 / 3.0).abs() < 1e-9);
        }
    }

    /// Every mark names the exact point of its own position.
    #[test]
    fn marks_and_positions_agree() {
        for (series, from, to, unit, per_stop) in [
            (Series::Time, -42, 15, 1.0, 3.0),
            (Series::Aperture, 0, 33, 1.0, 6.0),
            (Series::Sensitivity, -6, 27, 100.0, 3.0),
        ] {
            for k in from..=to {
                let mark = third_mark(series, k).expect("within the series");
                let point = exact(series, mark, Step::Third).expect("a mark");
                assert!(
                    (point / (unit * (f64::from(k) / per_stop).exp2()) - 1.0).abs() < 1e-12,
                    "{series:?} {k}"
                );
            }
            assert_eq!(third_mark(series, from - 1), None);
            assert_eq!(third_mark(series, to + 1), None);
        }
        assert_eq!(third_mark(Series::Time, i32::MIN), None);
        assert_eq!(third_mark(Series::Sensitivity, i32::MAX), None);
    }

    #[test]
    fn apertures_and_sensitivities() {
        for (mark, n) in [
            (1.4, std::f64::consts::SQRT_2),
            (2.8, 2.828427),
            (5.6, 5.656854),
            (11.0, 11.313708),
            (22.0, 22.627417),
        ] {
            assert!((exact(Series::Aperture, mark, Step::Third).expect("a mark") - n).abs() < 1e-5);
        }
        for (mark, s) in [(125.0, 125.9921), (1250.0, 1269.921), (3200.0, 3200.0), (12800.0, 12800.0)] {
            assert!((exact(Series::Sensitivity, mark, Step::Third).expect("a mark") - s).abs() < 1e-3);
        }
    }

    #[test]
    fn half_stops_and_free_numbers() {
        assert!(only_half(Series::Time, 1.0 / 45.0));
        assert!(only_half(Series::Aperture, 6.7));
        assert!(!only_half(Series::Time, 1.0 / 60.0));
        assert_eq!(exact(Series::Time, 1.0 / 493.0, Step::Third), None);
        assert_eq!(exact(Series::Time, 0.0, Step::Third), None);
        assert_eq!(exact(Series::Time, f64::NAN, Step::Third), None);
        let got = exact(Series::Time, 1.0 / 45.0, Step::Half).expect("a mark");
        assert!((got - (-5.5_f64).exp2()).abs() < 1e-9);
    }

    /// Exposure values computed from the definition (ISO 2720:1974; ANSI PH2.7-1986 tables).
    #[test]
    fn exposure_values() {
        for (n, t, s, ev) in [
            (16.0, 1.0 / 125.0, 100.0, 14.965784),
            (16.0, 1.0 / 128.0, 100.0, 15.0),
            (8.0, 1.0 / 125.0, 100.0, 12.965784),
            (2.8, 15.0, 1600.0, -4.936037),
            (2.8, 16.0, 1600.0, -5.029146),
            (5.6, 1.0 / 60.0, 400.0, 8.877744),
            (1.4, 30.0, 6400.0, -9.936037),
            (22.0, 2.0, 50.0, 8.918863),
        ] {
            assert!((ev100(n, t, s) - ev).abs() < 1e-5, "{n} {t} {s}: {}", ev100(n, t, s));
        }
    }

    /// APEX decoding (Exif 2.3 Annex C).
    #[test]
    fn apex_values() {
        assert!((time_from_apex(7.0) - 1.0 / 128.0).abs() < 1e-12);
        assert!((time_from_apex(6.965784) - 0.008000002).abs() < 1e-8);
        assert!((time_from_apex(-5.0) - 32.0).abs() < 1e-9);
        assert!((f_number_from_apex(3.0) - 2.828427).abs() < 1e-6);
        assert!((f_number_from_apex(6.95) - 11.119346).abs() < 1e-5);
    }

    #[test]
    fn times_as_written() {
        assert_eq!(time_text(1.0 / 125.0), "1/125 s");
        assert_eq!(time_text(0.5), "0.5 s");
        assert_eq!(time_text(30.0), "30 s");
    }
}
