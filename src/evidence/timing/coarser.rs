//! A timer that stood and went on at twice or three times the interval. On the grid of the shorter one its
//! frames fill every second or third slot, and a reading sees as many holes as frames. Where a stop parts the
//! two, and nothing says that triggers were missed, the longer interval is one of its own.

use super::placement::{Begins, How, Piece, Place};
use crate::stats;
use crate::units::Micros;

/// The most times that the interval is looked for.
const MOST_TIMES: i64 = 8;
/// Steps of that length, at least…
const STEPS: usize = 8;
/// …and as a share of those from the first of them to the last.
const SHARE: f64 = 0.6;
/// An exposure of this share of the shorter interval may have made the camera miss every second trigger.
const TOO_LONG: f64 = 0.5;

/// Stamps on one longer interval, `first..=last`, with the slots of the shorter one that each step takes.
#[derive(Clone, Copy)]
struct Run {
    first: usize,
    last: usize,
    times: i64,
}

/// Gives the frames behind (or before) a stop that fill every n-th slot a piece of their own. `by_number` has
/// the slots from the stamp before, by the file numbers; `exposures_s` may be NaN.
pub(crate) fn part(
    (stamps, places): (&[Micros], &mut [Place]),
    pieces: &mut Vec<Piece>,
    (by_number, exposures_s): (&[i64], &[f64]),
) {
    let mut at = 0;
    while at < pieces.len() {
        let found = longest(places, pieces[at], by_number);
        let Some(run) = found.filter(|r| short_enough(stamps, places, *r, exposures_s)) else {
            at += 1;
            continue;
        };
        let piece = pieces[at];
        renumber(places, piece, run);
        let own = Piece {
            first: run.first,
            last: run.last,
            begins: if run.first == piece.first { piece.begins } else { Begins::Fresh },
        };
        let before = (run.first > piece.first).then(|| Piece { last: run.first - 1, ..piece });
        let after = (run.last < piece.last).then_some(Piece {
            first: run.last + 1,
            last: piece.last,
            begins: Begins::Fresh,
        });
        let skip = usize::from(before.is_some()) + 1;
        pieces.splice(at..=at, before.into_iter().chain([own]).chain(after));
        at += skip;
    }
}

/// The longest run of a piece on a multiple of its interval with a stop beside it.
fn longest(places: &[Place], piece: Piece, by_number: &[i64]) -> Option<Run> {
    (2..=MOST_TIMES)
        .flat_map(|times| runs(places, piece, by_number, times))
        .filter(|run| {
            let step = |at: usize| places[at].slot - places[at - 1].slot;
            let before = run.first > piece.first && step(run.first) > run.times;
            let after = run.last < piece.last && step(run.last + 1) > run.times;
            before || after
        })
        .max_by_key(|run| (run.last - run.first, -run.times))
}

/// Frames of a piece all of whose steps are `times` slots or a multiple of it.
fn runs(places: &[Place], piece: Piece, by_number: &[i64], times: i64) -> Vec<Run> {
    let step = |at: usize| places[at].slot - places[at - 1].slot;
    let fits = |at: usize| {
        let on = places[at].how == How::On && places[at - 1].how == How::On;
        // Lost files leave their numbers.
        on && step(at) > 0 && step(at) % times == 0 && by_number[at] != step(at)
    };
    let all: Vec<usize> = (piece.first + 1..=piece.last).collect();
    let mut out = Vec::new();
    for group in all.chunk_by(|a, b| fits(*a) == fits(*b)).filter(|g| fits(g[0])) {
        let single = |at: &&usize| step(**at) == times;
        let (Some(first), Some(last)) = (group.iter().find(single), group.iter().rfind(single)) else {
            continue;
        };
        let count = group.iter().filter(single).count();
        if count >= STEPS && count as f64 >= SHARE * (last - first + 1) as f64 {
            out.push(Run { first: first - 1, last: *last, times });
        }
    }
    out
}

/// True where the exposures leave the camera time for every slot of the shorter interval.
fn short_enough(stamps: &[Micros], places: &[Place], run: Run, exposures_s: &[f64]) -> bool {
    let slots = (places[run.last].slot - places[run.first].slot) as f64;
    let interval_s = (stamps[run.last] - stamps[run.first]).seconds() / slots;
    let exposure = stats::median(exposures_s[run.first..=run.last].iter().copied().filter(|e| e.is_finite()));
    exposure.is_none_or(|e| e < TOO_LONG * interval_s)
}

/// Counts the slots of the run by its own interval, and a stop beside it as one slot, as every stop is.
fn renumber(places: &mut [Place], piece: Piece, run: Run) {
    let old: Vec<i64> = places.iter().map(|p| p.slot).collect();
    for at in piece.first + 1..places.len() {
        let step = old[at] - old[at - 1];
        let border = at == run.first && run.first > piece.first || at == run.last + 1 && at <= piece.last;
        let step = match () {
            () if border => 1,
            () if at > run.first && at <= run.last => step / run.times,
            () => step,
        };
        places[at].slot = places[at - 1].slot + step;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid(steps: &[i64]) -> (Vec<Micros>, Vec<Place>, Vec<Piece>) {
        let slots: Vec<i64> = std::iter::once(0)
            .chain(steps.iter().scan(0, |at, s| {
                *at += s;
                Some(*at)
            }))
            .collect();
        let stamps = slots.iter().map(|s| Micros::from_seconds(s * 5)).collect();
        let places: Vec<Place> = slots.into_iter().map(|slot| Place { slot, how: How::On }).collect();
        let whole = Piece { first: 0, last: places.len() - 1, begins: Begins::First };
        (stamps, places, vec![whole])
    }

    fn parted(steps: &[i64], exposure_s: f64) -> Vec<(usize, usize)> {
        let (stamps, mut places, mut pieces) = laid(steps);
        let n = stamps.len();
        part((&stamps, &mut places), &mut pieces, (&vec![1; n], &vec![exposure_s; n]));
        pieces.iter().map(|p| (p.first, p.last)).collect()
    }

    #[test]
    fn twice_the_interval_behind_a_stop_is_an_interval() {
        let steps: Vec<i64> = [1; 20].into_iter().chain([61]).chain([2; 15]).collect();
        assert_eq!(parted(&steps, 0.5), [(0, 20), (21, 36)]);
        assert_eq!(parted(&steps, 4.0), [(0, 36)], "an exposure that leaves no time for the next trigger");
    }

    #[test]
    fn every_other_slot_empty_without_a_stop_is_a_fault_of_the_trigger() {
        let steps: Vec<i64> = [1; 20].into_iter().chain([2; 15]).collect();
        assert_eq!(parted(&steps, 0.5), [(0, 35)]);
    }

    #[test]
    fn slots_are_counted_by_their_own_interval() {
        let steps: Vec<i64> = [3; 9].into_iter().chain([50]).chain([1; 9]).collect();
        let (stamps, mut places, mut pieces) = laid(&steps);
        let n = stamps.len();
        part((&stamps, &mut places), &mut pieces, (&vec![1; n], &vec![0.1; n]));
        let slots: Vec<i64> = places.iter().map(|p| p.slot).collect();
        assert_eq!(slots, (0..n as i64).collect::<Vec<_>>());
    }
}
