//! The exact settings of each frame, from marks and APEX values.

use super::{ExposureTrack, Settings};
use crate::evidence::FrameState;
use crate::frames::{Frames, Row};
use crate::units::stops::{self, Series, Step};

/// How far, in EV, an APEX value may lie from the mark and still speak of the same exposure: half a
/// third-stop.
const SAME_EXPOSURE_EV: f64 = 0.17;
/// An APEX value this close to the mark's own logarithm, in EV, says nothing that the mark does not.
const OWN_LOGARITHM_EV: f64 = 0.02;
/// An APEX value this close to the exact point, in EV, is that point in coarser writing (6.375 for 6⅓).
const COARSE_EV: f64 = 0.06;
/// The longest marked exposure time, s: past it, times are set by hand and stand as written.
const LONGEST_MARK_S: f64 = 30.2;

/// The exact settings of every frame.
///
/// Marked numbers are taken to the exact points of the series that the run keeps: half-stops where marks of
/// that series alone occur and none of thirds alone, else thirds. Where more than one value in ten is no mark
/// at all, the camera sets that quantity freely (a phone's 1/493 s) and every number stands as written. An
/// APEX value is preferred where it is finer than the mark: near it, but neither its logarithm nor the exact
/// point in coarser writing. A file with APEX values alone is read from those.
///
/// Where no frame of the run tells an f-number the lens has no contacts: it is then taken as constant, at
/// f/1.
pub fn track(frames: &Frames, states: &[FrameState]) -> ExposureTrack {
    let of_run = |at: usize| matches!(states.get(at), Some(FrameState::Frame | FrameState::Damaged));
    let run = || frames.rows.iter().enumerate().filter(|(at, _)| of_run(*at)).map(|(_, row)| row);
    let step = kept_step(run());
    let time =
        Reading { series: Series::Time, step, free: is_free(run().filter_map(mark_time), Series::Time) };
    let aperture = Reading {
        series: Series::Aperture,
        step,
        free: is_free(run().filter_map(mark_aperture), Series::Aperture),
    };
    let iso = Reading {
        series: Series::Sensitivity,
        step,
        free: is_free(run().filter_map(mark_iso), Series::Sensitivity),
    };
    let aperture_assumed = run().next().is_some()
        && !run().any(|row| mark_aperture(row).is_some() || apex_aperture(row).is_some());

    let settings: Vec<_> = frames
        .rows
        .iter()
        .map(|row| Settings {
            time_s: time.exact(mark_time(row), apex_time(row)),
            f_number: if aperture_assumed {
                1.0
            } else {
                aperture.exact(mark_aperture(row), apex_aperture(row)) as f32
            },
            iso: iso.exact(mark_iso(row), None) as f32,
        })
        .collect();
    let unknown =
        settings.iter().enumerate().filter(|(at, s)| of_run(*at) && s.ev100().is_none()).count() as u64;
    ExposureTrack { settings, step, unknown, aperture_assumed }
}

fn positive(value: f64) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(value)
}

/// Longer than any shutter stands open, s: what says more is a broken field (common practice, no source).
const LONGEST_EXPOSURE_S: f64 = 7.0 * 86_400.0;

fn exposure(time_s: f64) -> Option<f64> {
    positive(time_s).filter(|t| *t <= LONGEST_EXPOSURE_S)
}

fn mark_time(row: &Row) -> Option<f64> {
    row.exposure_s.known().and_then(exposure)
}

fn mark_aperture(row: &Row) -> Option<f64> {
    row.f_number.known().map(f64::from).and_then(positive)
}

fn mark_iso(row: &Row) -> Option<f64> {
    row.iso.known().map(f64::from).and_then(positive)
}

fn apex_time(row: &Row) -> Option<f64> {
    row.time_apex.known().map(|tv| stops::time_from_apex(f64::from(tv))).and_then(exposure)
}

/// An aperture of 0 beside the f-number 0 is a lens without contacts, not f/1.
fn apex_aperture(row: &Row) -> Option<f64> {
    let av = row.aperture_apex.known()?;
    if av == 0.0 && row.f_number.known().is_none_or(|n| n <= 0.0) {
        return None;
    }
    positive(stops::f_number_from_apex(f64::from(av)))
}

/// Half-stops where marks of that series alone occur and none of thirds alone.
fn kept_step<'a>(rows: impl Iterator<Item = &'a Row>) -> Step {
    let mut halves = false;
    for row in rows {
        for (series, mark) in [(Series::Time, mark_time(row)), (Series::Aperture, mark_aperture(row))] {
            let Some(mark) = mark else { continue };
            if stops::only_third(series, mark) {
                return Step::Third;
            }
            halves |= stops::only_half(series, mark);
        }
    }
    if halves { Step::Half } else { Step::Third }
}

/// True where more than one value in ten is a mark of neither series.
fn is_free(values: impl Iterator<Item = f64>, series: Series) -> bool {
    let (mut all, mut free) = (0_u64, 0_u64);
    for value in values.filter(|v| series != Series::Time || *v <= LONGEST_MARK_S) {
        let marked =
            stops::exact(series, value, Step::Third).or_else(|| stops::exact(series, value, Step::Half));
        all += 1;
        free += u64::from(marked.is_none());
    }
    free * 10 > all
}

/// How one quantity is read.
struct Reading {
    series: Series,
    step: Step,
    free: bool,
}

impl Reading {
    /// The exact value from the mark and the APEX value; NaN where there is neither.
    fn exact(&self, mark: Option<f64>, apex: Option<f64>) -> f64 {
        let Some(mark) = mark else {
            return apex.map_or(f64::NAN, |value| self.snapped(value));
        };
        let point = self.snapped(mark);
        let marked = !self.free && stops::exact(self.series, mark, self.step).is_some();
        match apex {
            Some(value)
                if marked
                    && self.apart_ev(value, mark) > OWN_LOGARITHM_EV
                    && self.apart_ev(value, mark) <= SAME_EXPOSURE_EV
                    && self.apart_ev(value, point) > COARSE_EV =>
            {
                value
            }
            _ => point,
        }
    }

    fn snapped(&self, value: f64) -> f64 {
        if self.free { value } else { stops::exact_or_same(self.series, value, self.step) }
    }

    fn apart_ev(&self, a: f64, b: f64) -> f64 {
        let stops = (a / b).log2().abs();
        if self.series == Series::Aperture { 2.0 * stops } else { stops }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::Cell;

    fn row(time_s: f64, f_number: f32, iso: u32) -> Row {
        Row {
            exposure_s: Cell::Known(time_s),
            f_number: Cell::Known(f_number),
            iso: Cell::Known(iso),
            ..Row::default()
        }
    }

    fn tracked(rows: Vec<Row>) -> ExposureTrack {
        let states = vec![FrameState::Frame; rows.len()];
        track(&Frames { rows, ..Frames::default() }, &states)
    }

    fn steps(track: &ExposureTrack) -> Vec<f64> {
        let ev: Vec<_> = track.settings.iter().filter_map(|s| s.ev100()).collect();
        ev.windows(2).map(|p| p[1] - p[0]).collect()
    }

    /// Exif (CIPA DC-008): 30/1 with Tv −5/1 is marked 30 s and exposed 32 s; the mark's own logarithm,
    /// −4.906891, says nothing finer than the mark, which names the same 32 s.
    #[test]
    fn thirty_seconds_are_thirty_two() {
        for apex in [Cell::Absent, Cell::Known(-5.0), Cell::Known(-4.906_891), Cell::Known(-4.9)] {
            let track = tracked(vec![Row { time_apex: apex, ..row(30.0, 2.8, 1600) }]);
            assert!((track.settings[0].time_s - 32.0).abs() < 1e-4, "{apex:?}: {}", track.settings[0].time_s);
        }
    }

    /// A ramp by thirds comes out as equal thirds, whichever quantity moves; marks after common practice.
    #[test]
    fn an_even_ramp_is_even() {
        let times = [1.0 / 125.0, 1.0 / 100.0, 1.0 / 80.0, 1.0 / 60.0, 1.0 / 50.0];
        let track = tracked(times.iter().map(|t| row(*t, 8.0, 100)).collect());
        assert!(steps(&track).iter().all(|s| (s + 1.0 / 3.0).abs() < 1e-6), "{:?}", steps(&track));
        let track = tracked([5.6, 6.3, 7.1, 8.0, 9.0].iter().map(|n| row(0.1, *n, 100)).collect());
        assert!(steps(&track).iter().all(|s| (s - 1.0 / 3.0).abs() < 1e-6), "{:?}", steps(&track));
        let track = tracked([100, 125, 160, 200, 250].iter().map(|s| row(0.1, 8.0, *s)).collect());
        assert!(steps(&track).iter().all(|s| (s + 1.0 / 3.0).abs() < 1e-6), "{:?}", steps(&track));
    }

    #[test]
    fn halves_where_halves_alone_occur() {
        let track = tracked([1.0 / 45.0, 1.0 / 60.0, 1.0 / 90.0].iter().map(|t| row(*t, 8.0, 100)).collect());
        assert_eq!(track.step, Step::Half);
        assert!(steps(&track).iter().all(|s| (s - 0.5).abs() < 1e-6), "{:?}", steps(&track));
        let track = tracked([1.0 / 45.0, 1.0 / 50.0].iter().map(|t| row(*t, 8.0, 100)).collect());
        assert_eq!(track.step, Step::Third);
    }

    #[test]
    fn a_finer_apex_value_is_preferred_and_a_far_one_is_not() {
        // 0.13 EV slower than the mark 1/60 and 0.22 EV slower than its exact point: the camera set it
        // freely.
        let track = tracked(vec![Row { time_apex: Cell::Known(5.78), ..row(1.0 / 60.0, 8.0, 100) }]);
        assert!((track.settings[0].time_s.log2() + 5.78).abs() < 1e-6);
        // A whole Tv beside 1/50 is rounded to stops: the mark stands.
        let track = tracked(vec![Row { time_apex: Cell::Known(6.0), ..row(1.0 / 50.0, 8.0, 100) }]);
        assert!((track.settings[0].time_s - (-17.0_f64 / 3.0).exp2()).abs() < 1e-9);
        // 6.375 is 6⅓ in eighths.
        let track = tracked(vec![Row { time_apex: Cell::Known(6.375), ..row(1.0 / 80.0, 8.0, 100) }]);
        assert!((track.settings[0].time_s - (-19.0_f64 / 3.0).exp2()).abs() < 1e-9);
    }

    /// Exif (CIPA DC-008) APEX: Tv 7/1 is 1/128 s, Av 6 is f/8.
    #[test]
    fn apex_alone() {
        let only = Row {
            time_apex: Cell::Known(7.0),
            aperture_apex: Cell::Known(6.0),
            iso: Cell::Known(100),
            ..Row::default()
        };
        let track = tracked(vec![only]);
        assert!((track.settings[0].ev100().expect("known") - 13.0).abs() < 1e-6);
    }

    #[test]
    fn free_numbers_stand_as_written() {
        let times = [1.0 / 493.0, 1.0 / 500.0, 1.0 / 511.0];
        let track = tracked(times.iter().map(|t| row(*t, 1.8, 57)).collect());
        for (settings, t) in track.settings.iter().zip(times) {
            assert_eq!(settings.time_s, t);
            assert_eq!(settings.iso, 57.0);
        }
    }

    #[test]
    fn a_lens_without_contacts_still_tells_steps() {
        let bare = |t| Row { aperture_apex: Cell::Known(0.0), ..row(t, 0.0, 100) };
        let track = tracked(vec![bare(1.0 / 60.0), bare(1.0 / 50.0)]);
        assert!(track.aperture_assumed);
        assert!((steps(&track)[0] + 1.0 / 3.0).abs() < 1e-6);
        // One frame that tells makes the others unknown, not f/1.
        let track = tracked(vec![bare(1.0 / 60.0), row(1.0 / 60.0, 2.8, 100)]);
        assert!(!track.aperture_assumed);
        assert_eq!(track.unknown, 1);
        assert!(track.settings[0].f_number.is_nan());
    }

    #[test]
    fn what_is_not_known_is_not_a_number() {
        let track = tracked(vec![row(0.0, 8.0, 0), Row::default(), row(f64::INFINITY, 8.0, 100)]);
        assert_eq!(track.unknown, 3);
        assert!(track.settings.iter().all(|s| s.ev100().is_none() && s.time_s.is_nan()));
        assert_eq!(tracked(Vec::new()), ExposureTrack::default());
    }
}
