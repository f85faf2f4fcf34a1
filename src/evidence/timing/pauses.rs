//! Pauses that wide windows hide. Where the windows had to be widened by more than a camera's jitter, a gap
//! of one interval and two thirds can pass for two slots: it is told as what it is, a pause, unless the
//! camera's own unevenness explains it.

use super::placement::{Begins, How, Piece, Place};
use super::readings::Asked;
use crate::stats;
use crate::units::Micros;

/// Wider windows than this, s, are no jitter of a camera.
const WIDE_S: f64 = 0.080;
/// Neighbouring steps from which the pace and its unevenness are taken, on either side.
const BESIDE: usize = 24;
/// Share of the ordinary steps that the unevenness covers.
const COVERS: f64 = 0.9;

/// Parts pieces at holes whose gap is no whole number of slots; `confirmed` is true where the file numbers
/// speak for the hole.
pub(crate) fn part(
    (stamps, places): (&[Micros], &mut [Place]),
    pieces: &mut Vec<Piece>,
    (asked, widening_s): (Asked, f64),
    confirmed: impl Fn(usize, i64) -> bool,
) {
    if widening_s <= WIDE_S {
        return;
    }
    let gap = |at: usize| (stamps[at] - stamps[at - 1]).seconds();
    let holes: Vec<usize> = (1..places.len())
        .filter(|&at| {
            let slots = places[at].slot - places[at - 1].slot;
            let on = places[at].how == How::On && places[at - 1].how == How::On;
            slots > 1 && on && !confirmed(at, slots) && pieces.binary_search_by_key(&at, |p| p.first).is_err()
        })
        .collect();
    for at in holes.into_iter().rev() {
        let slots = places[at].slot - places[at - 1].slot;
        let beside = at.saturating_sub(BESIDE).max(1)..(at + BESIDE).min(places.len());
        let steps: Vec<f64> = beside.filter(|&i| places[i].slot - places[i - 1].slot == 1).map(gap).collect();
        let Some(middle) = stats::median(steps.iter().copied()) else { continue };
        let mean = steps.iter().filter(|s| (**s - middle).abs() < 0.5 * middle).copied();
        let (sum, n) = mean.fold((0.0, 0.0), |(s, n), step| (s + step, n + 1.0));
        let interval_s = if n > 0.0 { sum / n } else { middle };
        let mut uneven: Vec<f64> =
            steps.iter().map(|s| ((s - interval_s).abs() - asked.resolution_s()).max(0.0)).collect();
        uneven.sort_by(f64::total_cmp);
        let own = uneven.get((COVERS * uneven.len() as f64) as usize).copied().unwrap_or(0.0);
        let miss = (gap(at) - slots as f64 * interval_s).abs();
        if miss <= asked.resolution_s() + 2.0 * own {
            continue;
        }
        let Some(owner) = pieces.iter().position(|p| p.first < at && at <= p.last) else { continue };
        let last = pieces[owner].last;
        pieces[owner].last = at - 1;
        pieces.insert(owner + 1, Piece { first: at, last, begins: Begins::Slip });
        for place in &mut places[at..] {
            place.slot -= slots - 1;
        }
    }
}
