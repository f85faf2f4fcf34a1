//! Two stamps of a card compared with each other: what speaks for one run that holds both, and what against.

use super::numbers;
use super::placement::Place;
use crate::evidence::exposure::ExposureTrack;
use crate::frames::Frames;
use crate::stats;
use crate::units::Micros;
use std::collections::BTreeSet;

/// A jump of the clock is a whole number of half hours and one interval: so far may it miss them beyond a
/// tenth of the interval, s.
const HOUR_SLACK_S: f64 = 2.0;
/// Stamps on either side from which the interval there is taken.
const BESIDE: usize = 8;
/// Neighbours with a setting that differs by more than this, EV, may be a test shot and the run.
pub(crate) const OTHER_SHOT_EV: f64 = 0.3;
/// Parts so far from one another, s, are two jobs unless the plan counts on both (common practice, no
/// source).
pub(crate) const OTHER_DAY_S: f64 = 12.0 * 3600.0;

/// What an exposure is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ExposureParameter {
    /// The shutter.
    Shutter,
    /// The aperture.
    Aperture,
    /// The sensitivity.
    Sensitivity,
}

impl ExposureParameter {
    /// Every one.
    pub(crate) const ALL: [Self; 3] = [Self::Shutter, Self::Aperture, Self::Sensitivity];
}

/// Stamps of which any two may be neighbours, once those between them are left out.
pub(crate) struct Neighbours<'a> {
    /// The frames, in capture order.
    pub frames: &'a Frames,
    /// Their settings.
    pub exposure: &'a ExposureTrack,
    /// Frames planned by the plan.
    pub planned: Option<u64>,
    /// True where each stamp is that of a set of exposures.
    pub sets: bool,
    /// Position of each stamp's frame.
    pub ticks: &'a [usize],
    /// The stamps.
    pub stamps: &'a [Micros],
    /// Slots from the stamp before, by the file numbers; 0 where they are no evidence.
    pub by_number: &'a [i64],
    /// Their places.
    pub places: &'a [Place],
    /// Stamps before which the plan rests.
    pub nights: BTreeSet<usize>,
}

impl Neighbours<'_> {
    /// True where two stamps belong to one run, however far apart they are: the plan rests between them, the
    /// numbers say that the files between were lost, or that none was while the clock jumped by whole hours
    /// or backwards.
    pub(crate) fn together(&self, a: usize, b: usize) -> bool {
        if self.nights.contains(&b) {
            return true;
        }
        let slots = self.places[b].slot - self.places[a].slot;
        let gap = self.gap_s(a, b);
        // Far apart, and both together make up what was planned: the clock was put forward, or the timer
        // stood and went on.
        let counted = gap > OTHER_DAY_S && self.planned == Some(self.stamps.len() as u64);
        let number = self.by_number[b];
        (slots > 1 && number == slots)
            || (number == 1 && (gap < 0.0 || self.jumped_by_hours(a, b) || counted))
    }

    /// True where the timer went on at its old pace but for some hours: one that was set up anew has another
    /// interval, or another phase.
    fn jumped_by_hours(&self, a: usize, b: usize) -> bool {
        let gap = self.gap_s(a, b);
        let [early, late] = self.usual_gaps(a, b);
        let past_hour = gap - ((gap - early) / 1800.0).round() * 1800.0;
        let slack = HOUR_SLACK_S + 0.1 * early;
        let goes_on = (past_hour - early).abs() <= slack && (late - early).abs() <= slack;
        gap >= 1800.0 && goes_on && gap < 25.0 * 3600.0
    }

    /// True where the frames of two stamps were exposed differently.
    pub(crate) fn differ(&self, a: usize, b: usize) -> bool {
        !self.sets && ExposureParameter::ALL.into_iter().any(|what| self.change(a, b, what) > OTHER_SHOT_EV)
    }

    /// By how many stops one setting of two stamps' frames differs; 0 where it is not known.
    pub(crate) fn change(&self, a: usize, b: usize, what: ExposureParameter) -> f64 {
        let of = |at: usize| self.exposure.settings.get(self.ticks[at]);
        let (Some(a), Some(b)) = (of(a), of(b)) else { return 0.0 };
        let stops = match what {
            ExposureParameter::Shutter => (a.time_s / b.time_s).log2(),
            ExposureParameter::Aperture => 2.0 * f64::from(a.f_number / b.f_number).log2(),
            ExposureParameter::Sensitivity => f64::from(a.iso / b.iso).log2(),
        };
        if stops.is_finite() { stops.abs() } else { 0.0 }
    }

    /// True where nothing in names and folders speaks against one stamp's frame being the next after the
    /// other's. Names that are no camera's say nothing against it; folders that a camera numbers follow one
    /// another.
    pub(crate) fn run_on(&self, a: usize, b: usize) -> bool {
        let step = numbers::between(self.frames, self.ticks[a], self.ticks[b]);
        let folder = |at: usize| self.frames.card.shots[self.ticks[at]].file.folder;
        let numbered =
            |at: usize| self.frames.card.folders.get(folder(at) as usize).is_some_and(|f| f.number.is_some());
        // Lost files leave a gap for themselves.
        let usual = self.usual_gaps(a, b).into_iter().filter(|g| *g > 0.0).fold(f64::INFINITY, f64::min);
        let number = self.by_number[b];
        let room = self.gap_s(a, b) >= 0.8 * usual * number as f64;
        (step.is_none() || number == 1 || number > 1 && room)
            && (folder(a) == folder(b) || numbered(a) && numbered(b))
    }

    fn gap_s(&self, a: usize, b: usize) -> f64 {
        (self.stamps[b] - self.stamps[a]).seconds()
    }

    /// The middle of the gaps up to one stamp, and from another on, s.
    fn usual_gaps(&self, a: usize, b: usize) -> [f64; 2] {
        let sides = [
            &self.stamps[a.saturating_sub(BESIDE)..=a],
            &self.stamps[b..(b + BESIDE).min(self.stamps.len())],
        ];
        sides.map(|s| stats::median(s.windows(2).map(|w| (w[1] - w[0]).seconds())).unwrap_or(0.0))
    }
}
