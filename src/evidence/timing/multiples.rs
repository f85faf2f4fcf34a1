//! A timer whose every second or third trigger is missed looks like a slower timer. Where a slower piece goes
//! on on the same grid as the faster one beside it, exactly by a whole multiple, its slots are counted by the
//! faster one: what lies between is missing.

use super::bounds;
use super::law::Lawful;
use super::placement::{Begins, How, Piece, Place};
use super::readings::Asked;
use crate::units::Micros;

/// How far a ratio of intervals may miss a whole number, as a share.
const WHOLE: f64 = 0.02;
/// Frames on the grid that a piece must have before its interval is believed.
const ENOUGH: usize = 4;
/// Each joining goes over all that has been joined by then: so often all stamps are gone over, and so many
/// more of a short series. Of thousands of pieces the later ones are left as they are.
const MOST_TIMES: usize = 20;
const MORE_STAMPS: usize = 6_000_000;
/// More slots than any run counts.
const MOST_SLOTS: i64 = 1 << 48;

/// Joins pieces that are multiples of their neighbours. A piece that keeps an interval of the plan
/// (`planned_s`) is left.
pub(crate) fn join(
    read: &mut Lawful,
    places: &mut [Place],
    pieces: &mut Vec<Piece>,
    asked: Asked,
    planned_s: &[f64],
) {
    if !read.per_slot_s.is_empty() || pieces.len() < 2 {
        return;
    }
    let widening_s = read.readings.first().map_or(0.0, |r| r.widening_s);
    let grid = Grid { stamps: &read.stamps, asked, widening_s, planned_s };
    let mut kept: Vec<Piece> = vec![pieces[0]];
    let (mut slower, mut left) = (false, MOST_TIMES * places.len() + MORE_STAMPS);
    for piece in pieces.iter().skip(1) {
        let joined = match (kept.last_mut(), piece.begins) {
            (Some(before), Begins::Fresh | Begins::Slip) if left > 0 => {
                left = left.saturating_sub(3 * (piece.last - before.first));
                let times = grid.join(places, *before, *piece);
                if times.is_some() {
                    before.last = piece.last;
                    left = left.saturating_sub(places.len() - piece.last);
                }
                slower |= times.is_some_and(|t| t > 1);
                times.is_some()
            }
            _ => false,
        };
        if !joined {
            kept.push(*piece);
        }
    }
    if kept.len() < pieces.len() {
        if slower {
            // The other readings count slots by the slower timer: they are no doubt about these.
            read.readings.truncate(1);
        }
        *pieces = kept;
    }
}

struct Grid<'a> {
    stamps: &'a [Micros],
    asked: Asked,
    widening_s: f64,
    planned_s: &'a [f64],
}

impl Grid<'_> {
    fn interval(&self, places: &[Place], piece: Piece) -> Option<f64> {
        let on = (piece.first..=piece.last).filter(|&i| places[i].how == How::On);
        (on.clone().count() >= ENOUGH)
            .then(|| {
                bounds::lines(
                    on.map(|i| (places[i].slot, self.stamps[i])),
                    self.asked.resolution,
                    self.widening_s,
                )
            })?
            .map(|region| region.centre().0)
    }

    /// Renumbers the slots from `before` on where the two are multiples on one grid, and tells by how much
    /// the slower one is slower; `None` and nothing done where they are not.
    fn join(&self, places: &mut [Place], before: Piece, after: Piece) -> Option<i64> {
        let (Some(a), Some(b)) = (self.interval(places, before), self.interval(places, after)) else {
            return None;
        };
        let on_purpose = |t: f64| self.planned_s.iter().any(|p| (t / p - 1.0).abs() < WHOLE);
        let whole = |ratio: f64| {
            let m = ratio.round();
            (m >= 2.0 && (ratio / m - 1.0).abs() < WHOLE).then_some(m as i64)
        };
        let (times_before, times_after, slot_s) = match (whole(a / b), whole(b / a)) {
            (_, Some(m)) if !on_purpose(b) => (1, m, a),
            (Some(m), _) if !on_purpose(a) => (m, 1, b),
            // One interval on one grid: what parts the two is a hole.
            (None, None) if (a / b - 1.0).abs() < WHOLE => (1, 1, a),
            _ => return None,
        };
        let gap = (self.stamps[after.first] - self.stamps[after.first - 1]).seconds();
        let base = places[before.first].slot;
        let scaled = |slot: i64| base.saturating_add((slot - base).saturating_mul(times_before));
        let joint =
            scaled(places[after.first - 1].slot).saturating_add(((gap / slot_s).round() as i64).max(1));
        let first = places[after.first].slot;
        let moved: Vec<i64> = (before.first..=after.last)
            .map(|i| {
                let slot = places[i].slot;
                if i < after.first {
                    scaled(slot)
                } else {
                    joint.saturating_add((slot - first).saturating_mul(times_after))
                }
            })
            .collect();
        // Stamps of no timer lead anywhere: no run has so many slots.
        if moved.iter().any(|slot| slot.abs() > MOST_SLOTS) {
            return None;
        }
        let points = (before.first..=after.last).filter(|&i| places[i].how == How::On);
        let points = points.map(|i| (moved[i - before.first], self.stamps[i]));
        bounds::lines(points, self.asked.resolution, self.widening_s)?;
        let shift = moved[moved.len() - 1].saturating_sub(places[after.last].slot);
        for (place, slot) in places[before.first..=after.last].iter_mut().zip(&moved) {
            place.slot = *slot;
        }
        for place in &mut places[after.last + 1..] {
            place.slot = place.slot.saturating_add(shift);
        }
        Some(times_before.max(times_after))
    }
}
