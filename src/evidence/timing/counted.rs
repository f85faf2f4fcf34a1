//! How far a long hole can be counted: its slots are as sure as the interval that counts them.
//!
//! Frames on either side of a hole show the interval within bounds, and the hole's length is known to the
//! stamps' step. Where one count alone fits both, the hole is counted, and its own length then narrows the
//! interval for the longer ones. Where several counts fit, no reading of the stamps can tell them apart: many
//! equal holes share one line as well with a slot more in each. Interval arithmetic; source: R. E. Moore,
//! "Interval Analysis", 1966, from memory.

use super::Timing;
use super::bounds;
use super::placement::{How, Piece};
use super::series::Series;
use crate::evidence::timing::HoleCause;

/// A hole of fewer slots than this is counted by the readings themselves.
const LONG: i64 = 100;
/// The share to which a crystal keeps the planned interval. Common practice, no source.
const CRYSTAL: f64 = 2e-4;
/// The phase on either side of a hole is known to less than this share of an interval, or no slot was known.
const PHASE: f64 = 0.45;

/// The intervals that are still possible, s.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Span {
    low_s: f64,
    high_s: f64,
}

impl Span {
    /// What this span and another one share; this span where they share nothing.
    fn and(self, low_s: f64, high_s: f64) -> Self {
        let both = Self { low_s: self.low_s.max(low_s), high_s: self.high_s.min(high_s) };
        if both.low_s <= both.high_s { both } else { self }
    }

    /// The fewest and the most slots that make up a gap of `gap_s` seconds, known to `doubt_s`.
    fn steps(self, gap_s: f64, doubt_s: f64) -> (i64, i64) {
        (((gap_s - doubt_s) / self.high_s).ceil() as i64, ((gap_s + doubt_s) / self.low_s).floor() as i64)
    }
}

impl Series<'_> {
    /// Gives each long hole the range of counts that the interval around it leaves open. `error_s` is the
    /// timing error that the frames are granted, s.
    pub(super) fn count_long_holes<'p>(
        &self,
        timing: &mut Timing,
        pieces: impl Iterator<Item = &'p Piece>,
        error_s: f64,
    ) {
        // By how many slots all ranges together reach further, down and up.
        let mut wider = (0_u64, 0_u64);
        for piece in pieces {
            let (first, last) = (self.ticks[piece.first], self.ticks[piece.last]);
            let from = timing.holes.partition_point(|h| h.before < first);
            let to = timing.holes.partition_point(|h| h.after <= last).max(from);
            let open = |at: &usize| {
                let hole = &timing.holes[*at];
                hole.slots >= LONG.unsigned_abs() && hole.cause != HoleCause::FileLost
            };
            let mut long: Vec<usize> = (from..to).filter(open).collect();
            let Some(mut span) = (!long.is_empty()).then(|| self.beside_holes(piece, error_s)).flatten()
            else {
                continue;
            };
            long.sort_by(|&a, &b| timing.holes[a].gap_s.total_cmp(&timing.holes[b].gap_s));
            for at in long {
                let hole = &mut timing.holes[at];
                let doubt_s = (self.asked.resolution_s() + 2.0 * error_s).min(PHASE * span.low_s);
                let (fewest, most) = span.steps(hole.gap_s, doubt_s);
                if fewest < most {
                    let (low, high) = hole.doubt.unwrap_or((hole.slots, hole.slots));
                    let (fewest, most) = ((fewest - 1).max(0).unsigned_abs(), (most - 1).unsigned_abs());
                    wider.0 += low.saturating_sub(fewest);
                    wider.1 += most.saturating_sub(high);
                    hole.doubt = Some((low.min(fewest), high.max(most)));
                } else if fewest == most {
                    let steps = most as f64;
                    span = span.and((hole.gap_s - doubt_s) / steps, (hole.gap_s + doubt_s) / steps);
                }
            }
        }
        if wider == (0, 0) {
            return;
        }
        let told: u64 = timing.holes.iter().map(|h| h.slots).sum();
        let (low, high) = timing.missing_doubt.unwrap_or((told, told));
        timing.missing_doubt = Some((low.saturating_sub(wider.0), high.saturating_add(wider.1)));
    }

    /// The intervals that the frames of a piece allow when no long hole of it is counted across; `None` where
    /// they show none.
    fn beside_holes(&self, piece: &Piece, error_s: f64) -> Option<Span> {
        let on: Vec<usize> =
            (piece.first..=piece.last).filter(|&at| self.places[at].how == How::On).collect();
        let slot = |at: usize| self.places[at].slot;
        let mut span: Option<Span> = None;
        for block in on.chunk_by(|&a, &b| slot(b) - slot(a) <= LONG) {
            let points = block.iter().map(|&at| (slot(at), self.stamps[at]));
            let Some((low_s, high_s)) =
                bounds::lines(points, self.asked.resolution, error_s).map(|r| r.intervals())
            else {
                continue;
            };
            span = Some(span.map_or(Span { low_s, high_s }, |s| s.and(low_s, high_s)));
        }
        let span = span.filter(|s| s.low_s > 0.0)?;
        let planned = self.asked.planned_s.filter(|p| (span.low_s..=span.high_s).contains(p));
        Some(planned.map_or(span, |p| span.and(p * (1.0 - CRYSTAL), p * (1.0 + CRYSTAL))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_counted_where_the_interval_leaves_one_count() {
        // 100 intervals of 5 s: to 0.2 % there is one count, to 2 % there are five.
        let sure = Span { low_s: 4.995, high_s: 5.005 };
        assert_eq!(sure.steps(500.0, 1.0), (100, 100));
        let open = Span { low_s: 4.9, high_s: 5.1 };
        assert_eq!(open.steps(500.0, 1.0), (98, 102));
    }

    #[test]
    fn spans_that_share_nothing_leave_the_first() {
        let span = Span { low_s: 1.0, high_s: 2.0 };
        assert_eq!(span.and(1.5, 3.0), Span { low_s: 1.5, high_s: 2.0 });
        assert_eq!(span.and(2.5, 3.0), span);
    }
}
