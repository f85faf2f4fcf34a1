//! The camera's dials: settings that move by thirds of a stop from mark to mark, and the exact points that
//! the marks name.

use crate::units::stops::{self, Series, Step};

/// One dial, standing at a marked number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dial {
    series: Series,
    marked: f64,
    /// Position on the third-stop series, where the number is a mark of it.
    at: Option<i32>,
}

/// Thirds of a stop in a doubling of the dial's number.
const fn thirds_a_doubling(series: Series) -> f64 {
    match series {
        Series::Time | Series::Sensitivity => 3.0,
        Series::Aperture => 6.0,
    }
}

/// Three significant figures, as a long bulb exposure would be noted.
fn three_figures(value: f64) -> f64 {
    let scale = 10_f64.powi(2 - value.log10().floor() as i32);
    (value * scale).round() / scale
}

impl Dial {
    /// A dial standing at `marked` (s, f-number or ISO value, over 0).
    pub fn new(series: Series, marked: f64) -> Self {
        let unit = if series == Series::Sensitivity { 100.0 } else { 1.0 };
        let at = stops::exact(series, marked, Step::Third)
            .map(|exact| ((exact / unit).log2() * thirds_a_doubling(series)).round() as i32);
        Self { series, marked, at }
    }

    /// The marked number and the exact value after turning by `thirds` of a stop (up: longer, smaller
    /// opening, more sensitive). Past the ends of the series, and for a number that is no mark, the number
    /// moves by exact thirds.
    pub fn turned(self, thirds: i32) -> (f64, f64) {
        if let Some(mark) = self.at.and_then(|k| stops::third_mark(self.series, k.checked_add(thirds)?)) {
            return (mark, stops::exact_or_same(self.series, mark, Step::Third));
        }
        let base = stops::exact_or_same(self.series, self.marked, Step::Third);
        let exact = base * (f64::from(thirds) / thirds_a_doubling(self.series)).exp2();
        if thirds == 0 { (self.marked, base) } else { (three_figures(exact), exact) }
    }

    /// Thirds of a stop from this dial's number to `other`, rounded.
    pub fn thirds_to(self, other: f64) -> i32 {
        let exact = |marked| stops::exact_or_same(self.series, marked, Step::Third);
        ((exact(other) / exact(self.marked)).log2() * thirds_a_doubling(self.series)).round() as i32
    }
}

/// What one frame was taken with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// The exposure time as marked, s (a "30" lasts 32 s).
    pub marked_s: f64,
    /// How long the shutter is really open, s.
    pub exposure_s: f64,
    /// f-number as marked.
    pub f_number: f64,
    /// The exact f-number.
    pub f_exact: f64,
    /// ISO sensitivity as marked.
    pub iso: f64,
    /// The exact sensitivity.
    pub iso_exact: f64,
}

impl Settings {
    /// Exposure value at ISO 100 of the exact values, EV.
    pub fn ev100(&self) -> f64 {
        stops::ev100(self.f_exact, self.exposure_s, self.iso_exact)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Neighbouring marks of the third-stop series (marked series: common practice, no source).
    #[test]
    fn dials_turn_from_mark_to_mark() {
        let shutter = Dial::new(Series::Time, 1.0 / 60.0);
        assert_eq!(shutter.turned(0).0, 1.0 / 60.0);
        assert_eq!(shutter.turned(1).0, 1.0 / 50.0);
        assert_eq!(shutter.turned(-1).0, 1.0 / 80.0);
        assert_eq!(Dial::new(Series::Time, 25.0).turned(1), (30.0, 32.0));
        assert_eq!(Dial::new(Series::Aperture, 5.6).turned(1).0, 6.3);
        assert_eq!(Dial::new(Series::Sensitivity, 200.0).turned(3).0, 400.0);
    }

    #[test]
    fn past_the_last_mark_the_number_still_moves() {
        let (marked, exact) = Dial::new(Series::Time, 30.0).turned(1);
        assert!((exact - 40.317_47).abs() < 1e-3, "{exact}");
        assert_eq!(marked, 40.3);
        let free = Dial::new(Series::Time, 1.0 / 493.0);
        assert_eq!(free.turned(0), (1.0 / 493.0, 1.0 / 493.0));
        assert!((free.turned(3).1 - 2.0 / 493.0).abs() < 1e-12);
    }

    #[test]
    fn thirds_between_marks() {
        assert_eq!(Dial::new(Series::Time, 1.0 / 500.0).thirds_to(4.0), 33);
        assert_eq!(Dial::new(Series::Aperture, 8.0).thirds_to(2.8), -9);
        assert_eq!(Dial::new(Series::Sensitivity, 100.0).thirds_to(3200.0), 15);
    }
}
