//! What a plot is made of: columns that keep their smallest and largest value, the scale they are drawn on,
//! and paths.

use crate::outputs::report::axis::Axis;
use crate::units::plain;
use std::fmt::Write as _;

/// Units from the upper to the lower edge of the data's own coordinates.
pub const UNITS: f64 = 1000.0;

/// Smallest and largest value of each column.
pub struct Bins {
    low: Vec<f32>,
    high: Vec<f32>,
}

impl Bins {
    /// Empty columns.
    pub fn new(axis: &Axis) -> Self {
        Self { low: vec![f32::NAN; axis.columns()], high: vec![f32::NAN; axis.columns()] }
    }

    /// Adds a value to a column. What is not finite is left out.
    pub fn add(&mut self, column: usize, value: f64) {
        let value = value as f32;
        if !value.is_finite() {
            return;
        }
        if let (Some(low), Some(high)) = (self.low.get_mut(column), self.high.get_mut(column)) {
            // `min` and `max` take the number where the other is NaN.
            *low = low.min(value);
            *high = high.max(value);
        }
    }

    /// Columns that hold a value: the column, its smallest and its largest.
    pub fn filled(&self) -> impl Iterator<Item = (usize, f64, f64)> + '_ {
        let pairs = self.low.iter().zip(&self.high).enumerate();
        pairs.filter(|(_, (low, _))| low.is_finite()).map(|(c, (l, h))| (c, f64::from(*l), f64::from(*h)))
    }

    /// The smallest and the largest value of all; `None` where there is none.
    pub fn extent(&self) -> Option<(f64, f64)> {
        self.filled().fold(None, |seen, (_, low, high)| {
            let (a, b) = seen.unwrap_or((low, high));
            Some((low.min(a), high.max(b)))
        })
    }

    /// A mark for each column, from its smallest to its largest value. Values beyond the scale are left out.
    pub fn marks(&self, scale: &Scale) -> String {
        let mut d = String::new();
        for (column, low, high) in self.filled() {
            if high < scale.low || low > scale.high {
                continue;
            }
            let (top, bottom) = (scale.y(high.min(scale.high)), scale.y(low.max(scale.low)));
            // A mark without height is a dot: its round ends are drawn.
            let _ = if top == bottom {
                write!(d, "M{column}.5 {top}h0")
            } else {
                write!(d, "M{column}.5 {top}V{bottom}")
            };
        }
        d
    }

    /// A line through neighbouring columns, broken where more than a few columns hold nothing.
    pub fn line(&self, scale: &Scale) -> String {
        let near = (self.low.len() / 100).max(2);
        let mut d = String::new();
        let mut before: Option<(usize, f64)> = None;
        for (column, low, high) in self.filled() {
            let joined = before.filter(|(c, _)| c + near >= column);
            // The end that lies nearer to where the line stands comes first.
            let (first, last) = match joined {
                Some((_, y)) if (y - high).abs() < (y - low).abs() => (high, low),
                _ => (low, high),
            };
            let _ = match joined {
                Some(_) => write!(d, "L{column}.5 {}", scale.y(first)),
                None => write!(d, "M{column}.5 {}h0", scale.y(first)),
            };
            if scale.y(first) != scale.y(last) {
                let _ = write!(d, "V{}", scale.y(last));
            }
            before = Some((column, last));
        }
        d
    }

    /// The value of each column as it is told, joined by line ends; empty where there is none.
    pub fn told(&self, decimals: usize, unit: &str) -> String {
        let mut words = String::new();
        for (column, (low, high)) in self.low.iter().zip(&self.high).enumerate() {
            if column > 0 {
                words.push('\n');
            }
            if !low.is_finite() {
                continue;
            }
            let (low, high) = (plain(f64::from(*low), decimals), plain(f64::from(*high), decimals));
            words.push_str(&low);
            if low != high {
                let _ = write!(words, " to {high}");
            }
            let _ = write!(words, " {unit}");
        }
        words
    }
}

/// The values that a plot spans.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// The lowest.
    pub low: f64,
    /// The highest; over the lowest.
    pub high: f64,
}

impl Scale {
    /// From the lowest to the highest, with a little air; never without height.
    pub fn around(low: f64, high: f64) -> Self {
        let air = ((high - low) * 0.06).max(high.abs().max(1e-9) * 1e-6);
        Self { low: low - air, high: high + air }
    }

    /// The place of a value in the data's own coordinates, from the upper edge; held within the plot.
    pub fn y(&self, value: f64) -> i32 {
        let share = (self.high - value) / (self.high - self.low);
        (share * UNITS).clamp(0.0, UNITS).round() as i32
    }

    /// Round values within the scale, two to six of them, with the decimals that tell them apart.
    pub fn ticks(&self) -> (Vec<f64>, usize) {
        let span = self.high - self.low;
        let rough = span / 4.0;
        let power = 10.0_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].iter().map(|m| m * power).find(|s| *s >= rough).unwrap_or(rough);
        let first = (self.low / step).ceil() as i64;
        let decimals = usize::try_from((-(step.log10() + 1e-9).floor()).max(0.0) as i64).unwrap_or(0);
        let ticks = (0..8).map(|n| (first + n) as f64 * step).take_while(|v| *v <= self.high).collect();
        (ticks, decimals)
    }
}

/// One plot along the run.
pub struct Plot {
    /// Its name in the page.
    pub id: &'static str,
    /// What it shows.
    pub title: &'static str,
    /// The unit of its values.
    pub unit: &'static str,
    /// The values it spans.
    pub scale: Scale,
    /// What is drawn, the lowest layer first: a class and a path.
    pub layers: Vec<(&'static str, String)>,
    /// What each layer that needs a name means: a class and words.
    pub key: Vec<(&'static str, String)>,
    /// The value of each column in words, joined by line ends.
    pub told: String,
    /// What it shows, in sentences.
    pub words: String,
}

/// A band over columns `from` to `to`, between two values, as a path.
pub fn band(scale: &Scale, from: usize, to: usize, low: f64, high: f64) -> String {
    format!("M{from} {}H{}V{}H{from}Z", scale.y(high), to + 1, scale.y(low))
}

/// A level line over columns `from` to `to`, as a path.
pub fn level(scale: &Scale, from: usize, to: usize, value: f64) -> String {
    format!("M{from} {}H{}", scale.y(value), to + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::report::Report;
    use crate::outputs::sample;

    #[test]
    fn columns_keep_their_smallest_and_largest() {
        let audit = sample::audit();
        let report = Report::of(&audit);
        let mut bins = Bins::new(&report.axis);
        for value in [3.0, f64::NAN, 1.0, 2.0, f64::INFINITY] {
            bins.add(2, value);
        }
        bins.add(3, 1.0);
        bins.add(99, 5.0);
        assert_eq!(bins.filled().collect::<Vec<_>>(), [(2, 1.0, 3.0), (3, 1.0, 1.0)]);
        assert_eq!(bins.extent(), Some((1.0, 3.0)));
        let scale = Scale { low: 0.0, high: 4.0 };
        assert_eq!(bins.marks(&scale), "M2.5 250V750M3.5 750h0");
        assert_eq!(bins.marks(&Scale { low: 2.0, high: 4.0 }), "M2.5 500V1000");
        assert_eq!(bins.line(&scale), "M2.5 750h0V250L3.5 750");
        assert_eq!(bins.told(1, "s"), "\n\n1 to 3 s\n1 s\n\n\n");
    }

    #[test]
    fn ticks_are_round_and_few() {
        for (low, high, want, decimals) in [
            (0.0, 40.0, vec![0.0, 10.0, 20.0, 30.0, 40.0], 0),
            (11.4, 12.6, vec![11.5, 12.0, 12.5], 1),
            (-0.03, 0.05, vec![-0.02, 0.0, 0.02, 0.04], 2),
        ] {
            let (ticks, places) = Scale { low, high }.ticks();
            assert_eq!(places, decimals);
            assert_eq!(ticks.len(), want.len(), "{ticks:?}");
            for (a, b) in ticks.iter().zip(want) {
                assert!((a - b).abs() < 1e-9, "{ticks:?}");
            }
        }
        let flat = Scale::around(12.0, 12.0);
        assert!(flat.high > flat.low && !flat.ticks().0.is_empty());
    }
}
