//! What a plot is made of: columns that keep their smallest and largest value, the scale they are drawn on,
//! and paths.

use crate::outputs::report::axis::Axis;
use crate::units::plain;
use std::fmt::Write as _;

/// Height of a plot's data, px.
pub(crate) const HEIGHT: f64 = 132.0;
/// Height of a plot that stands below another, px.
pub(crate) const LOW: f64 = 64.0;

/// Units from the upper to the lower edge of the data's own coordinates.
pub(crate) const UNITS: f64 = 1000.0;

/// Smallest and largest value of each column.
pub(crate) struct Bins {
    low: Vec<f32>,
    high: Vec<f32>,
}

impl Bins {
    /// Empty columns.
    pub(crate) fn new(axis: &Axis) -> Self {
        Self { low: vec![f32::NAN; axis.columns()], high: vec![f32::NAN; axis.columns()] }
    }

    /// Adds a value to a column. What is not finite is left out.
    pub(crate) fn add(&mut self, column: usize, value: f64) {
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
    pub(crate) fn filled(&self) -> impl Iterator<Item = (usize, f64, f64)> + '_ {
        let pairs = self.low.iter().zip(&self.high).enumerate();
        pairs.filter(|(_, (low, _))| low.is_finite()).map(|(c, (l, h))| (c, f64::from(*l), f64::from(*h)))
    }

    /// The smallest and the largest value of all; `None` where there is none.
    pub(crate) fn extent(&self) -> Option<(f64, f64)> {
        self.filled().fold(None, |seen, (_, low, high)| {
            let (a, b) = seen.unwrap_or((low, high));
            Some((low.min(a), high.max(b)))
        })
    }

    /// A mark for each column, from its smallest to its largest value. Values beyond the scale are left out.
    pub(crate) fn marks(&self, scale: &Scale) -> String {
        let mut d = String::new();
        for (column, low, high) in self.filled() {
            if high < scale.bottom() || low > scale.top() {
                continue;
            }
            let (top, bottom) = (scale.y(high.min(scale.top())), scale.y(low.max(scale.bottom())));
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
    pub(crate) fn line(&self, scale: &Scale) -> String {
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
    pub(crate) fn told(&self, decimals: usize, unit: &str) -> String {
        self.told_by(|low, high| {
            let (low, high) = (plain(low, decimals), plain(high, decimals));
            if low == high { format!("{low} {unit}") } else { format!("{low} to {high} {unit}") }
        })
    }

    /// The same, told by `words` of the smallest and the largest.
    pub(crate) fn told_by(&self, words_of: impl Fn(f64, f64) -> String) -> String {
        let mut words = String::new();
        for (column, (low, high)) in self.low.iter().zip(&self.high).enumerate() {
            if column > 0 {
                words.push('\n');
            }
            if !low.is_finite() {
                continue;
            }
            words.push_str(&words_of(f64::from(*low), f64::from(*high)));
        }
        words
    }
}

/// Share of a plot that what lies above its even part takes, and what lies below.
const ABOVE: f64 = 0.42;
const BELOW: f64 = 0.2;
/// Lines of a plot stand this far apart at least, in the data's own coordinates.
const APART: i32 = 110;

/// The values that a plot spans: evenly from the lowest to the highest. What lies beyond may be drawn closer,
/// by its logarithm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scale {
    /// The lowest.
    pub low: f64,
    /// The highest; over the lowest.
    pub high: f64,
    /// The highest of all, over the highest of the even part; `None` where that is the highest.
    top: Option<f64>,
    /// The lowest of all, over zero; `None` where the lowest of the even part is.
    bottom: Option<f64>,
}

impl Scale {
    /// From the lowest to the highest, with a little air; never without height.
    pub(crate) fn around(low: f64, high: f64) -> Self {
        let air = ((high - low) * 0.06).max(high.abs().max(1e-9) * 1e-6);
        Self { low: low - air, high: high + air, top: None, bottom: None }
    }

    /// The same, reaching on to values far above and below, which are drawn closer.
    #[must_use]
    pub(crate) fn reaching(self, least: f64, most: f64) -> Self {
        let top = (most > self.high && self.high > 0.0).then_some(most * 1.1);
        let bottom = (least < self.low && least > 0.0).then_some(least / 1.1);
        Self { top, bottom, ..self }
    }

    /// The highest value that is drawn.
    pub(crate) fn top(&self) -> f64 {
        self.top.unwrap_or(self.high)
    }

    /// The lowest value that is drawn.
    pub(crate) fn bottom(&self) -> f64 {
        self.bottom.unwrap_or(self.low)
    }

    /// Where the even part ends, above and below, where something is drawn closer beyond.
    pub(crate) fn folds(&self) -> impl Iterator<Item = f64> {
        [self.top.map(|_| self.high), self.bottom.map(|_| self.low)].into_iter().flatten()
    }

    /// The place of a value in the data's own coordinates, from the upper edge; held within the plot.
    pub(crate) fn y(&self, value: f64) -> i32 {
        let above = if self.top.is_some() { ABOVE } else { 0.0 };
        let below = if self.bottom.is_some() { BELOW } else { 0.0 };
        let share = match (self.top, self.bottom) {
            (Some(top), _) if value > self.high => above * (top / value).ln() / (top / self.high).ln(),
            (_, Some(bottom)) if value < self.low => {
                1.0 - below * (value.max(bottom) / bottom).ln() / (self.low / bottom).ln()
            }
            _ => above + (1.0 - above - below) * (self.high - value) / (self.high - self.low),
        };
        (share * UNITS).clamp(0.0, UNITS).round() as i32
    }

    /// Whole multiples of a value that lie beyond the even part, as far as their lines stand apart.
    pub(crate) fn multiples(&self, of: f64) -> Vec<(f64, u64)> {
        let mut lines = Vec::new();
        let mut last = self.y(self.high);
        for n in [2, 3, 4, 5, 7].into_iter().chain((1..13).flat_map(|p| [1, 2, 5].map(|m| m * 10_u64.pow(p))))
        {
            let value = of * n as f64;
            if value > self.high && value <= self.top() && (last - self.y(value)) >= APART {
                last = self.y(value);
                lines.push((value, n));
            }
        }
        lines
    }

    /// Round values within the scale, two to six of them, with the decimals that tell them apart.
    pub(crate) fn ticks(&self) -> (Vec<f64>, usize) {
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

/// A line across a plot.
pub(crate) struct Line {
    /// The value at which it stands.
    pub value: f64,
    /// What stands left of it.
    pub label: String,
    /// What stands at its right end.
    pub aside: String,
}

/// One plot along the run.
pub(crate) struct Plot {
    /// Its name in the page.
    pub id: &'static str,
    /// What it shows.
    pub title: &'static str,
    /// The unit of its values.
    pub unit: &'static str,
    /// The values it spans.
    pub scale: Scale,
    /// Lines across it beside those of the scale.
    pub lines: Vec<Line>,
    /// True where those lines are all: the values have words of their own.
    pub own_lines: bool,
    /// Its height, px.
    pub height: f64,
    /// What is drawn, the lowest layer first: a class and a path.
    pub layers: Vec<(&'static str, String)>,
    /// What each layer that needs a name means: a class and words.
    pub key: Vec<(&'static str, String)>,
    /// The value of each column in words, joined by line ends.
    pub told: String,
    /// What it shows, in sentences.
    pub words: String,
}

/// A straight line over columns `from` to `to`, from one value to another, as a path.
pub(crate) fn slope(scale: &Scale, from: usize, to: usize, values: (f64, f64)) -> String {
    format!("M{from} {}L{} {}", scale.y(values.0), to + 1, scale.y(values.1))
}

/// A band over columns `from` to `to`, between two values, as a path.
pub(crate) fn band(scale: &Scale, from: usize, to: usize, low: f64, high: f64) -> String {
    format!("M{from} {}H{}V{}H{from}Z", scale.y(high), to + 1, scale.y(low))
}

/// A level line over columns `from` to `to`, as a path.
pub(crate) fn level(scale: &Scale, from: usize, to: usize, value: f64) -> String {
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
        let scale = Scale { low: 0.0, high: 4.0, top: None, bottom: None };
        assert_eq!(bins.marks(&scale), "M2.5 250V750M3.5 750h0");
        assert_eq!(bins.marks(&Scale { low: 2.0, ..scale }), "M2.5 500V1000");
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
            let (ticks, places) = Scale { low, high, top: None, bottom: None }.ticks();
            assert_eq!(places, decimals);
            assert_eq!(ticks.len(), want.len(), "{ticks:?}");
            for (a, b) in ticks.iter().zip(want) {
                assert!((a - b).abs() < 1e-9, "{ticks:?}");
            }
        }
        let flat = Scale::around(12.0, 12.0);
        assert!(flat.high > flat.low && !flat.ticks().0.is_empty());
    }
    /// 30 s and 60 s stand beside each other, and so do 30 s and a night.
    #[test]
    fn what_lies_far_beyond_is_drawn_closer() {
        let scale = Scale::around(29.0, 31.0).reaching(29.0, 60.0);
        let even = scale.y(29.5) - scale.y(30.5);
        assert!(even > 200 && scale.y(60.0) < scale.y(45.0) && scale.y(45.0) < scale.y(31.2));
        assert!(scale.y(31.2) - scale.y(60.0) > 250, "apart: {} and {}", scale.y(31.2), scale.y(60.0));
        assert_eq!(scale.multiples(30.0), [(60.0, 2)]);
        assert_eq!(scale.folds().count(), 1);
        let night = Scale::around(29.0, 31.0).reaching(3.0, 43_200.0);
        let lines = night.multiples(30.0);
        assert!((2..6).contains(&lines.len()), "{lines:?}");
        assert!(lines.windows(2).all(|w| night.y(w[0].0) - night.y(w[1].0) >= APART));
        assert!(night.y(3.0) > night.y(20.0) && night.y(20.0) > night.y(29.5));
        assert_eq!((night.y(0.0), night.y(1e9)), (1000, 0));
        let plain = Scale::around(29.0, 31.0).reaching(29.0, 31.0);
        assert_eq!(plain, Scale::around(29.0, 31.0));
    }
}
