//! What a lamp on the mains does to exposures of a given length.
//!
//! Light on the mains swells twice a cycle: L(t) = L₀·(1 + m·cos 2πFt) with F twice the mains frequency. Its
//! mean over an exposure t is 1 + m·|sinc(F·t)|·cos φ, whatever the phase φ at which the shutter opened
//! (integration of the cosine).

use super::stops::{self, Series, Step};

/// Modulation of a lamp that goes out at every half cycle: the worst there is.
pub const WORST: f64 = 1.0;
/// Modulation of an ordinary tube on a magnetic ballast, from memory: 0.2 to 0.4.
pub const TUBE: f64 = 0.3;

/// What is left of the modulation in an exposure of `time_s` under mains of `hz`, 0 to 1.
pub fn left(time_s: f64, hz: f64) -> f64 {
    let x = std::f64::consts::PI * 2.0 * hz * time_s;
    if x == 0.0 { 1.0 } else { (x.sin() / x).abs() }
}

/// The largest step, EV, between two exposures of `time_s` of any phase under a lamp of that `modulation` (0
/// to 1).
pub fn worst_step_ev(time_s: f64, hz: f64, modulation: f64) -> f64 {
    let a = modulation * left(time_s, hz);
    ((1.0 + a) / (1.0 - a)).log2()
}

/// The mark on a dial of thirds nearest to `time_s` (in stops) whose exact time makes a worst step below
/// `most_ev` at each of these frequencies. Beyond 1 s every exposure is safe, so there is always one.
pub fn safe_mark_s(time_s: f64, hz: &[f64], most_ev: f64) -> f64 {
    let marks = (-30..=0).filter_map(|k| stops::third_mark(Series::Time, k));
    let safe = marks.filter(|mark| {
        let exact_s = stops::exact_or_same(Series::Time, *mark, Step::Third);
        hz.iter().all(|hz| worst_step_ev(exact_s, *hz, WORST) < most_ev)
    });
    let away = |mark: f64| (mark / time_s).log2().abs();
    safe.min_by(|a, b| away(*a).total_cmp(&away(*b))).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Amplitudes and worst steps by numpy; the formula agrees with a sweep of phases to six decimals.
    #[test]
    fn worst_steps() {
        for (d, a50, w50, t50, a60, w60, t60) in [
            (1000.0, 0.983632, 6.92109, 0.87754, 0.976481, 6.39295, 0.87076),
            (500.0, 0.935489, 4.90702, 0.83210, 0.907909, 4.37279, 0.80625),
            (250.0, 0.756827, 2.85292, 0.66674, 0.661837, 2.29699, 0.58061),
            (160.0, 0.470528, 1.47371, 0.41004, 0.300105, 0.89342, 0.26048),
            (125.0, 0.233872, 0.68754, 0.20278, 0.041557, 0.11998, 0.03597),
            (120.0, 0.190986, 0.55792, 0.16550, 0.0, 0.0, 0.0),
            (100.0, 0.0, 0.0, 0.0, 0.155915, 0.45357, 0.13506),
            (60.0, 0.165399, 0.48166, 0.14329, 0.0, 0.0, 0.0),
            (50.0, 0.0, 0.0, 0.0, 0.126138, 0.36591, 0.10924),
            (30.0, 0.082699, 0.23917, 0.07160, 0.0, 0.0, 0.0),
            (25.0, 0.0, 0.0, 0.0, 0.038979, 0.11253, 0.03374),
        ] {
            for (hz, a, worst, tube) in [(50.0, a50, w50, t50), (60.0, a60, w60, t60)] {
                let t = 1.0 / d;
                assert!((left(t, hz) - a).abs() < 1e-6, "{d} {hz}: {}", left(t, hz));
                assert!((worst_step_ev(t, hz, WORST) - worst).abs() < 1e-4, "{d} {hz}");
                assert!((worst_step_ev(t, hz, TUBE) - tube).abs() < 1e-4, "{d} {hz}");
            }
        }
    }

    /// A marked "1/60" is 1/64 s, and no null under 60 Hz.
    #[test]
    fn exact_exposures() {
        for (exact, hz, worst) in [
            (1.0 / 101.593_667, 50.0, 0.0460),
            (1.0 / 50.796_834, 50.0, 0.0459),
            (1.0 / 128.0, 50.0, 0.7631),
            (1.0 / 64.0, 50.0, 0.5844),
            (1.0 / 64.0, 60.0, 0.1877),
            (1.0 / 32.0, 60.0, 0.1734),
            (1.0 / 128.0, 60.0, 0.1914),
            (1.0 / 40.317_474, 60.0, 0.0229),
        ] {
            let got = worst_step_ev(exact, hz, WORST);
            assert!((got - worst).abs() < 1e-4, "{exact} {hz}: {got}");
        }
    }

    /// From there on no phase makes a step of 0.05 EV.
    #[test]
    fn long_exposures_are_safe() {
        for (hz, from) in [(50.0, 0.184), (60.0, 0.153)] {
            assert!((0..20_000).all(|k| worst_step_ev(from + f64::from(k) * 1e-4, hz, WORST) < 0.05));
        }
    }

    /// The exact time of 1/100 s is 1/101.6 s, of 1/40 s 1/40.3 s (values of `exact_exposures`); 1/60 s and
    /// 1/30 s band at 60 Hz.
    #[test]
    fn marks_on_the_dial() {
        for (time, hz, mark) in [
            (1.0 / 128.0, 50.0, 100.0),
            (1.0 / 64.0, 50.0, 50.0),
            (1.0 / 500.0, 50.0, 100.0),
            (1.0 / 32.0, 60.0, 40.0),
            (1.0 / 64.0, 60.0, 40.0),
        ] {
            let got = safe_mark_s(time, &[hz], 0.05);
            assert!((1.0 / got - mark).abs() < 1e-9, "{time} {hz}: 1/{}", 1.0 / got);
        }
        assert!(safe_mark_s(1.0 / 7.7, &[50.0], 0.05) >= 0.1);
        // Where the mains is not known: 1/100 s bands at 60 Hz, 1/120 s is no mark of thirds.
        let both = 1.0 / safe_mark_s(1.0 / 128.0, &[50.0, 60.0], 0.05);
        assert!(both < 26.0, "1/{both}");
    }
}
