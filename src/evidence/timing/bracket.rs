//! Brackets: several exposures in each slot. Slots are counted once, by the first exposure of each set.

use crate::stats;
use crate::units::Micros;

/// Largest set that is looked for where the plan says nothing.
const MOST: usize = 9;
/// Settings repeat where they come back within this, EV, and make a pattern where they differ by this.
const SAME_EV: f64 = 0.1;
const DIFFERENT_EV: f64 = 0.25;
/// A pattern is believed where this share of the frames keeps to it.
const KEEPS: f64 = 0.9;
/// Between sets the camera rests at least this many times as long as within them.
const REST: f64 = 1.5;

/// What brackets are told from, in capture order.
pub(crate) struct Exposures<'a> {
    /// Stamps.
    pub stamps: &'a [Micros],
    /// Exposure values, EV; NaN where unknown.
    pub ev: &'a [f64],
    /// True where the file says that the exposure is one of a bracket (ExposureMode 2).
    pub tagged: &'a [bool],
}

/// How many exposures a set has, and the index of each set's first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Sets {
    /// Exposures in a whole set.
    pub size: usize,
    /// First exposure of each set, in order.
    pub firsts: Vec<usize>,
    /// By how much each set's first exposure was shot after the set began: 0 unless the exposures before
    /// it are gone.
    pub into: Vec<Micros>,
}

impl Sets {
    /// One past the last exposure of a set, of `all` exposures.
    pub(crate) fn end(&self, set: usize, all: usize) -> usize {
        self.firsts.get(set + 1).copied().unwrap_or(all)
    }
}

impl Exposures<'_> {
    /// The sets, planned or plain from the data; `None` where there is one exposure a slot.
    pub(crate) fn sets(&self, planned: Option<u32>) -> Option<Sets> {
        let n = self.stamps.len();
        let size = match planned {
            Some(1) => return None,
            Some(size) => size as usize,
            None => self.pattern()?,
        };
        if size < 2 || n < size {
            return None;
        }
        let firsts = self
            .by_rest(size)
            .or_else(|| self.by_pattern(size))
            .unwrap_or_else(|| (0..n).step_by(size).collect());
        let into = self.begun_before(size, &firsts);
        Some(Sets { size, firsts, into })
    }

    /// How far into its set each first exposure stands. A set that lacks its first exposures begins at the
    /// place of the pattern that its own first one has in the whole set beside it.
    fn begun_before(&self, size: usize, firsts: &[usize]) -> Vec<Micros> {
        let end = |set: usize| firsts.get(set + 1).copied().unwrap_or(self.stamps.len());
        let whole: Vec<usize> = (0..firsts.len()).filter(|&set| end(set) - firsts[set] == size).collect();
        let delays: Vec<Micros> = (0..size)
            .map(|place| {
                let delay = |set: &usize| {
                    (self.stamps[firsts[*set] + place] - self.stamps[firsts[*set]]).get() as f64
                };
                Micros::new(stats::median(whole.iter().map(delay)).unwrap_or(0.0) as i64)
            })
            .collect();
        let place = |set: usize| -> Option<usize> {
            let (first, lacks) = (firsts[set], size.saturating_sub(end(set) - firsts[set]));
            let at = whole.partition_point(|w| *w < set);
            let beside = firsts[*at.checked_sub(1).and_then(|before| whole.get(before)).or(whole.get(at))?];
            let off = |place: usize| (self.ev[first] - self.ev[beside + place]).abs();
            let nearest = (0..=lacks).min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
            let told = (self.ev[beside] - self.ev[beside + nearest]).abs() > DIFFERENT_EV;
            (told && 2.0 * off(nearest) < off(0)).then_some(nearest)
        };
        (0..firsts.len()).map(|set| place(set).map_or(Micros::ZERO, |place| delays[place])).collect()
    }

    fn gap(&self, at: usize) -> f64 {
        (self.stamps[at + 1] - self.stamps[at]).seconds()
    }

    /// The shortest period in which the settings come back, where it is a bracket: tagged so, or with a rest
    /// after each set.
    fn pattern(&self) -> Option<usize> {
        let n = self.ev.len();
        let tagged = self.tagged.iter().filter(|t| **t).count() * 10 >= n * 9;
        let known = self.ev.iter().filter(|e| e.is_finite()).count();
        if known * 10 < n * 9 {
            return None;
        }
        (2..=MOST.min(n / 4)).find(|&size| {
            let back = (size..n).filter(|&i| (self.ev[i] - self.ev[i - size]).abs() < SAME_EV).count();
            // The usual distance of each place of the pattern from the first: one odd shot makes no pattern,
            // nor does light that changes once on the way.
            let usual: Vec<f64> = (0..size)
                .filter_map(|p| stats::median(self.ev.chunks_exact(size).map(|set| set[p] - set[0])))
                .collect();
            let low = usual.iter().copied().fold(f64::INFINITY, f64::min);
            let high = usual.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            back as f64 >= KEEPS * (n - size) as f64
                && high - low > DIFFERENT_EV
                && (tagged || self.by_rest(size).is_some())
        })
    }

    /// Sets parted by the rest after each: of `size` gaps one is long.
    fn by_rest(&self, size: usize) -> Option<Vec<usize>> {
        let n = self.stamps.len();
        let mut gaps: Vec<f64> = (0..n - 1).map(|i| self.gap(i)).collect();
        gaps.sort_by(f64::total_cmp);
        let long = (n / size).max(1);
        let within = stats::median(gaps[..gaps.len().saturating_sub(long).max(1)].iter().copied())?;
        let rest = stats::median(gaps[gaps.len() - long..].iter().copied())?;
        if rest < REST * within.max(1e-6) {
            return None;
        }
        let limit = f64::midpoint(within, rest);
        let firsts: Vec<usize> =
            std::iter::once(0).chain((1..n).filter(|&i| self.gap(i - 1) > limit)).collect();
        // Whole sets must be the rule.
        let whole = firsts.windows(2).filter(|w| w[1] - w[0] == size).count();
        (whole as f64 >= 0.6 * (firsts.len().saturating_sub(1)).max(1) as f64).then_some(firsts)
    }

    /// Sets by where each exposure stands in the repeating pattern: a set begins where the pattern does not
    /// go on.
    fn by_pattern(&self, size: usize) -> Option<Vec<usize>> {
        let n = self.ev.len();
        let pattern: Vec<f64> = (0..size)
            .map(|p| stats::median(self.ev.iter().copied().skip(p).step_by(size)))
            .collect::<Option<_>>()?;
        let apart = (0..size).all(|a| (0..a).all(|b| (pattern[a] - pattern[b]).abs() > DIFFERENT_EV));
        if !apart {
            return None;
        }
        let place = |i: usize| {
            (0..size)
                .min_by(|&a, &b| (self.ev[i] - pattern[a]).abs().total_cmp(&(self.ev[i] - pattern[b]).abs()))
        };
        let mut firsts = vec![0];
        for i in 1..n {
            if place(i)? <= place(i - 1)? {
                firsts.push(i);
            }
        }
        Some(firsts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(sets: i64, size: i64, lose: &[i64]) -> (Vec<Micros>, Vec<f64>) {
        let mut stamps = Vec::new();
        let mut ev = Vec::new();
        for i in 0..sets * size {
            if lose.contains(&i) {
                continue;
            }
            stamps.push(Micros::SECOND * (i / size * 10) + Micros::SECOND * (i % size) / 2);
            ev.push(10.0 + (i % size) as f64 * 2.0);
        }
        (stamps, ev)
    }

    #[test]
    fn sets_are_plain_from_rest_and_pattern() {
        let (stamps, ev) = series(40, 3, &[]);
        let tagged = vec![false; stamps.len()];
        let sets = Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(None).expect("sets");
        assert_eq!(sets.size, 3);
        assert_eq!(sets.firsts, (0..120).step_by(3).collect::<Vec<_>>());
    }

    #[test]
    fn an_incomplete_set_keeps_its_slot() {
        let (stamps, ev) = series(40, 3, &[31]);
        let tagged = vec![false; stamps.len()];
        let sets = Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(Some(3)).expect("sets");
        assert_eq!(sets.firsts.len(), 40);
        assert!(sets.firsts.windows(2).any(|w| w[1] - w[0] == 2));
    }

    /// A timer of 1.3 s leaves gaps of 1, 1 and 2 s on whole seconds. Exposure that takes one step half-way
    /// then differs from one third of the frames to the next by as much as a set would.
    #[test]
    fn light_that_changes_once_is_no_pattern() {
        let stamps: Vec<Micros> = (0..150).map(|i| Micros::from_seconds(i * 13 / 10)).collect();
        let ev: Vec<f64> = (0..150).map(|i| if i < 74 { 12.0 } else { 11.67 }).collect();
        let tagged = vec![false; stamps.len()];
        assert_eq!(Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(None), None);
    }

    /// A set that lacks its first exposure, or its first two, begins when the whole sets beside it do.
    #[test]
    fn a_set_without_its_first_exposure_began_before_what_is_left() {
        for (lose, into) in [(&[30][..], 500_000), (&[30, 31], 1_000_000), (&[31], 0), (&[32], 0)] {
            let (stamps, ev) = series(40, 3, lose);
            let tagged = vec![false; stamps.len()];
            for planned in [None, Some(3)] {
                let sets =
                    Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(planned).expect("sets");
                let expected: Vec<Micros> =
                    (0..40).map(|set| Micros::new(if set == 10 { into } else { 0 })).collect();
                assert_eq!(sets.into, expected, "{lose:?} {planned:?}");
            }
        }
    }

    /// Whole-second stamps of a 2.2 s timer beat 2, 2, 2, 2, 3 s: with one odd shot before the run that is
    /// still no bracket.
    #[test]
    fn a_beat_of_the_stamps_is_no_rest() {
        let stamps: Vec<Micros> =
            (0..100).map(|i| Micros::new(i * 2_200_000).floored(Micros::SECOND)).collect();
        let mut ev = vec![10.0; 100];
        ev[0] = 12.0;
        let tagged = vec![false; 100];
        assert_eq!(Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(None), None);
    }

    #[test]
    fn exposure_that_hunts_is_no_bracket() {
        let stamps: Vec<Micros> = (0..60).map(|i| Micros::from_seconds(i * 5)).collect();
        let ev: Vec<f64> = (0..60).map(|i| 10.0 + f64::from(i % 2)).collect();
        let tagged = vec![false; 60];
        assert_eq!(Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(None), None);
        let tagged = vec![true; 60];
        let sets = Exposures { stamps: &stamps, ev: &ev, tagged: &tagged }.sets(None).expect("sets");
        assert_eq!(sets.firsts.len(), 30);
    }
}
