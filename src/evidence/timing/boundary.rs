//! Where one line gives way to the next. A reading notices a change only when the old line runs out, which
//! may be long after it happened: the later line is followed back, the earlier one forward, and the boundary
//! is put in the middle of where both fit. Both lines as far as they reach also tell whether the interval
//! changed, or only the phase.

use super::bounds;
use super::placement::{Begins, How, Piece, Place};
use super::region::Region;
use crate::units::Micros;

/// Frames in a row between stops over which the interval before them is remembered, at most.
const LONE: usize = 8;

/// How far a change of line may reach: indices of the first stamp of the later line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reach {
    /// The later line fits back to this stamp.
    pub earliest: usize,
    /// The earlier line fits up to the stamp before this one.
    pub latest: usize,
    /// True where no interval serves both lines.
    pub new_interval: bool,
}

impl Reach {
    /// A change between two neighbouring stamps and nowhere else, with the interval kept.
    pub(crate) const fn at(first: usize) -> Self {
        Self { earliest: first, latest: first, new_interval: false }
    }
}

/// Moves the boundaries between neighbouring pieces to the middle of their reach, and returns the reach of
/// each piece's beginning (the first piece has none to speak of). `errors_s`: by how much the windows are
/// widened, as the stamps were read and as the reach is told.
pub(crate) fn settle(
    (stamps, places): (&[Micros], &[Place]),
    pieces: &mut [Piece],
    resolution: Micros,
    errors_s: (f64, f64),
) -> Vec<Reach> {
    let by =
        |widening_s: f64| Walk { stamps, places, window: (-widening_s, resolution.seconds() + widening_s) };
    let (walk, wide) = (by(errors_s.0), by(errors_s.1));
    let mut reaches = vec![Reach::at(0)];
    for at in 1..pieces.len() {
        let (before, after) = (pieces[at - 1], pieces[at]);
        // A frame stays with its own day: a line through the rest between two days says nothing.
        if matches!(after.begins, Begins::Night { .. }) {
            reaches.push(Reach::at(after.first));
            continue;
        }
        // Through one or two frames and any other a line is soon drawn: such a piece ends where it was read
        // to.
        let brief = |p: &Piece| p.last - p.first < 2;
        if brief(&before) || brief(&after) {
            let own = |p: &Piece| walk.follow(p.first, p.last).1;
            // A frame between two stops has no interval: the one before it is what the timer last kept.
            let kept = pieces[..at].iter().rev().take(LONE).find(|p| p.last > p.first).and_then(own);
            let new_interval = kept.zip(own(&after)).is_some_and(|(a, b)| a.0 > b.1 || b.0 > a.1);
            reaches.push(Reach { new_interval, ..Reach::at(after.first) });
            continue;
        }
        let (end_of_earlier, earlier) = walk.follow(before.first, after.last);
        let (start_of_later, later) = walk.follow(after.last, before.first);
        let earliest = start_of_later.clamp(before.first + 1, after.first);
        let latest = (end_of_earlier + 1).clamp(after.first, after.last);
        let new_interval = match (earlier, later) {
            (Some(a), Some(b)) => a.0 > b.1 || b.0 > a.1,
            _ => false,
        };
        let first = earliest + (latest - earliest) / 2;
        let (end_of_earlier, start_of_later) =
            (wide.follow(before.first, after.last).0, wide.follow(after.last, before.first).0);
        reaches.push(Reach {
            earliest: start_of_later.clamp(before.first + 1, earliest),
            latest: (end_of_earlier + 1).clamp(latest, after.last),
            new_interval,
        });
        pieces[at].first = first;
        pieces[at - 1].last = first - 1;
    }
    reaches
}

/// Gives frames that a reading left off the grid just before a new line began to that line, where it holds
/// them: the first frames after a change often look stray until more have been seen.
pub(crate) fn adopt(
    stamps: &[Micros],
    places: &mut [Place],
    pieces: &mut [Piece],
    resolution: Micros,
    widening_s: f64,
) {
    for at in 1..pieces.len() {
        loop {
            let (before, after) = (pieces[at - 1], pieces[at]);
            let stray = after.first - 1;
            if stray <= before.first || places[stray].how == How::On {
                break;
            }
            let slot = places[after.first].slot - 1;
            let on = (after.first..=after.last).filter(|&i| places[i].how == How::On);
            let points =
                std::iter::once((slot, stamps[stray])).chain(on.map(|i| (places[i].slot, stamps[i])));
            let taken = places[before.first..stray].iter().any(|p| p.slot >= slot);
            if taken || bounds::lines(points, resolution, widening_s).is_none() {
                break;
            }
            places[stray] = Place { slot, how: How::On };
            pieces[at].first = stray;
            pieces[at - 1].last = stray - 1;
        }
    }
}

/// Leaves the first or the last stamp alone where the line of its neighbours reaches all the way to it: one
/// odd shot at an end is simpler than an interval that changed.
pub(crate) fn leave_ends_alone(
    (stamps, places): (&[Micros], &[Place]),
    pieces: &mut [Piece],
    resolution: Micros,
    widening_s: f64,
) {
    let window = (-widening_s, resolution.seconds() + widening_s);
    let walk = Walk { stamps, places, window };
    if let [head, after, ..] = pieces
        && after.first > head.first + 1
        && walk.follow(after.last, head.first).0 == head.first + 1
    {
        after.first = head.first + 1;
        head.last = head.first;
    }
    if let [.., before, tail] = pieces
        && tail.first < tail.last
        && before.first < before.last
        && walk.follow(before.first, tail.last).0 + 1 == tail.last
    {
        tail.first = tail.last;
        before.last = tail.last - 1;
    }
}

struct Walk<'a> {
    stamps: &'a [Micros],
    places: &'a [Place],
    window: (f64, f64),
}

impl Walk<'_> {
    /// Follows one line from stamp `from` towards stamp `to` as far as it fits: the last stamp it reaches,
    /// and the intervals that it may have.
    fn follow(&self, from: usize, to: usize) -> (usize, Option<(f64, f64)>) {
        let forward = to > from;
        let mut region: Option<Region> = None;
        let (mut at, mut on) = (from, from);
        while at != to {
            let next = if forward { at + 1 } else { at - 1 };
            if self.places[next].how == How::On {
                // Backwards, slots and time both change sign, and the window opens the other way: the same
                // set of lines.
                let slots = (self.places[next].slot - self.places[on].slot).abs();
                let seconds = (self.stamps[next] - self.stamps[on]).seconds();
                let seconds = if forward { seconds } else { -seconds };
                if slots == 0 {
                    break;
                }
                let open = region.clone().unwrap_or_else(|| {
                    let middle = seconds / slots as f64;
                    let spread = self.window.1 - self.window.0 + 1e-6;
                    Region::open((middle - spread, middle + spread), self.window)
                });
                match open.through(slots, seconds, self.window) {
                    Some(next) => region = Some(next),
                    None => break,
                }
                on = next;
            }
            at = next;
        }
        (at, region.map(|r| r.intervals()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A first frame 0.7 s early, a steady 10 s timer after it, whole seconds.
    fn early_first() -> (Vec<Micros>, Vec<Place>) {
        let seconds = (0..40).map(|k| if k == 0 { 0 } else { 10 * k + 1 });
        let places = (0..40).map(|slot| Place { slot, how: How::On }).collect();
        (seconds.map(Micros::from_seconds).collect(), places)
    }

    #[test]
    fn one_odd_shot_at_an_end_is_left_alone() {
        let (mut stamps, places) = early_first();
        let piece = |first, last, begins| Piece { first, last, begins };
        let mut pieces = [piece(0, 8, Begins::First), piece(9, 39, Begins::Fresh)];
        leave_ends_alone((&stamps, &places), &mut pieces, Micros::SECOND / 100, 0.0);
        assert_eq!((pieces[0].last, pieces[1].first), (0, 1));

        // The same from behind.
        stamps = stamps.iter().rev().map(|s| Micros::from_seconds(400) - *s).collect();
        let mut pieces = [piece(0, 30, Begins::First), piece(31, 39, Begins::Fresh)];
        leave_ends_alone((&stamps, &places), &mut pieces, Micros::SECOND / 100, 0.0);
        assert_eq!((pieces[0].last, pieces[1].first), (38, 39));
    }

    #[test]
    fn a_change_in_the_middle_stays() {
        let places: Vec<Place> = (0..40).map(|slot| Place { slot, how: How::On }).collect();
        let stamps: Vec<Micros> = (0..40)
            .map(|k| Micros::from_seconds(if k < 20 { k * 10 } else { 200 + (k - 20) * 12 }))
            .collect();
        let mut pieces = [
            Piece { first: 0, last: 20, begins: Begins::First },
            Piece { first: 21, last: 39, begins: Begins::Fresh },
        ];
        let before = pieces;
        leave_ends_alone((&stamps, &places), &mut pieces, Micros::SECOND / 100, 0.0);
        assert_eq!(pieces, before);
    }
}
