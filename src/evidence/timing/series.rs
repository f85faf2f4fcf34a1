//! The stamps of the run beside what their best reading says of them: what all that tells of them works on.

use super::ends::Weighed;
use super::law::Lawful;
use super::placement::{Piece, Place};
use super::readings::Asked;
use crate::evidence::exposure::ExposureTrack;
use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::Micros;

/// The stamped frames of the run and what the best reading says of them.
pub(crate) struct Series<'a> {
    /// What was meant.
    pub plan: &'a Plan,
    /// The folder.
    pub frames: &'a Frames,
    /// Settings of its frames.
    pub exposure: &'a ExposureTrack,
    /// Position of each stamp's frame.
    pub ticks: &'a [usize],
    /// The stamps as written.
    pub raw: &'a [Micros],
    /// The stamps with the timing law taken out.
    pub stamps: &'a [Micros],
    /// Their places.
    pub places: &'a [Place],
    /// The pieces they form.
    pub pieces: &'a [Piece],
    /// Slots from the stamp before, by the file numbers; 0 where they are no evidence.
    pub by_number: &'a [i64],
    /// Resolution and plan.
    pub asked: Asked,
    /// The frames beyond a hole at either end.
    pub ends: Weighed,
    /// The law, and all readings within doubt, best first.
    pub read: &'a Lawful,
}

impl Series<'_> {
    /// Seconds between two stamps as written.
    pub(super) fn gap(&self, from: usize, to: usize) -> f64 {
        (self.raw[to] - self.raw[from]).seconds()
    }

    /// The gap that one slot makes near a pair of stamps, s: the middle of the gaps round about.
    pub(super) fn usual_gap(&self, before: usize, after: usize) -> Option<f64> {
        let low = before.saturating_sub(8);
        let high = (after + 8).min(self.stamps.len() - 1);
        let mut gaps: Vec<f64> =
            (low..high).filter(|&i| i != before).map(|i| self.gap(i, i + 1)).filter(|g| *g >= 0.0).collect();
        gaps.sort_by(f64::total_cmp);
        gaps.get(gaps.len() / 2).copied()
    }
}
