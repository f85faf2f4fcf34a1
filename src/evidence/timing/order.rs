//! Capture order: by folder and file number where those are a camera's, by stamp where they are not, by name
//! where neither serves.

use super::OrderBasis;
use crate::frames::{Folder, Frames};
use crate::units::Micros;

/// Numbers are trusted for the order while at most this share of the stamps runs backwards under it.
const MOST_BACKWARDS: f64 = 0.05;

/// The capture order as a permutation of the card's order, and what it was taken from.
pub fn capture_order(frames: &Frames) -> (Vec<u32>, OrderBasis) {
    let n = frames.len();
    let numbered = frames.card.shots.iter().filter(|s| s.number.is_some()).count();
    let stamped = frames.rows.iter().filter(|r| r.stamp.as_known().is_some()).count();
    if numbered * 10 >= n * 9 && n > 0 {
        let (order, backwards) = by_number(frames);
        if backwards as f64 <= MOST_BACKWARDS * stamped.saturating_sub(1).max(1) as f64
            || stamped * 10 < n * 9
        {
            return (order, OrderBasis::Numbers);
        }
    }
    if stamped * 10 >= n * 9 && n > 0 {
        return (by_stamp(frames), OrderBasis::Stamps);
    }
    ((0..n as u32).collect(), OrderBasis::Names)
}

/// The order by file numbers, and how many stamps run backwards in it.
///
/// Folders stand in the card's order. Where stamps run backwards in that, two more orders are tried: the
/// folders of several cards by their own number (the second card was named first, or a camera wrote to two
/// cards in turn), and all files in one row (one folder holds what another lacks). One of these is taken
/// where it has fewer stamps that run backwards.
fn by_number(frames: &Frames) -> (Vec<u32>, usize) {
    let folders = &frames.card.folders;
    let as_they_stand: Vec<u32> = (0..folders.len() as u32).collect();
    let mut best = blocks(frames, &as_they_stand);
    let mut back = backwards(frames, &best);
    if back == 0 || folders.len() < 2 {
        return (best, back);
    }
    let mut names: Vec<_> =
        folders.iter().map(|f| (f.number, f.number.is_none().then_some(&f.path))).collect();
    names.sort();
    names.dedup();
    let own =
        |f: &Folder| names.binary_search(&(f.number, f.number.is_none().then_some(&f.path))).unwrap_or(0);
    let by_their_numbers: Vec<u32> = folders.iter().map(|f| own(f) as u32).collect();
    for ranks in [by_their_numbers, vec![0; folders.len()]] {
        let other = blocks(frames, &ranks);
        let its_own = backwards(frames, &other);
        if its_own < back {
            (best, back) = (other, its_own);
        }
    }
    (best, back)
}

/// Files in order of their folder's rank, and within a rank of their numbers from after the widest gap in the
/// lap, so that 9999 is followed by 0001. Files without a number come after their neighbour in the card's
/// order.
fn blocks(frames: &Frames, ranks: &[u32]) -> Vec<u32> {
    let shots = &frames.card.shots;
    let rank = |at: u32| ranks.get(shots[at as usize].file.folder as usize).copied().unwrap_or(0);
    let mut all: Vec<u32> = (0..shots.len() as u32).collect();
    // Stable: what the card's order says stays where ranks and numbers do not.
    all.sort_by_key(|at| rank(*at));
    let mut order = Vec::with_capacity(shots.len());
    for block in all.chunk_by(|a, b| rank(*a) == rank(*b)) {
        let numbered = || block.iter().filter_map(|at| shots[*at as usize].number);
        let mut numbers: Vec<u32> = numbered().map(|n| n.value).collect();
        numbers.sort_unstable();
        let digits = numbered().map(|n| n.digits).max().unwrap_or(4);
        let lap = 10_u32.saturating_pow(u32::from(digits.min(9))) - 1;
        let start = lap_start(&numbers, lap);
        let mut last = 0;
        let mut keyed: Vec<(u32, u32)> = Vec::with_capacity(block.len());
        for &at in block {
            if let Some(number) = shots[at as usize].number {
                last = if number.value >= start { number.value - start } else { number.value + lap - start };
            }
            keyed.push((last, at));
        }
        keyed.sort_by_key(|k| k.0);
        order.extend(keyed.iter().map(|k| k.1));
    }
    order
}

/// The number with which a folder begins: the one after the widest gap where the numbers reach both ends of
/// the lap, else the smallest.
fn lap_start(sorted: &[u32], lap: u32) -> u32 {
    let (Some(&first), Some(&last)) = (sorted.first(), sorted.last()) else { return 0 };
    // A lap is only crossed where the numbers stand close on both sides of it.
    let across = first + lap - last;
    if across > lap / 20 {
        return first;
    }
    sorted
        .windows(2)
        .map(|w| (w[1] - w[0], w[1]))
        .max_by_key(|g| g.0)
        .filter(|g| g.0 > across)
        .map_or(first, |g| g.1)
}

fn by_stamp(frames: &Frames) -> Vec<u32> {
    let mut last = None;
    let mut keyed: Vec<(Option<Micros>, u32)> = frames
        .rows
        .iter()
        .enumerate()
        .map(|(i, row)| {
            if let Some(stamp) = row.stamp.as_known() {
                last = Some(stamp.at.micros());
            }
            (last, i as u32)
        })
        .collect();
    keyed.sort_by_key(|k| k.0);
    keyed.into_iter().map(|k| k.1).collect()
}

/// How many stamps lie before the one that precedes them in that order.
fn backwards(frames: &Frames, order: &[u32]) -> usize {
    let mut before = None;
    let mut count = 0;
    for stamp in order.iter().filter_map(|&i| frames.rows[i as usize].stamp.as_known()) {
        let at = Some(stamp.at.micros());
        count += usize::from(at < before);
        before = at;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::lap_start;

    #[test]
    fn a_folder_that_crosses_the_lap_begins_before_it() {
        assert_eq!(lap_start(&[1, 2, 3, 9997, 9998, 9999], 9999), 9997);
        assert_eq!(lap_start(&[1, 2, 3, 400, 401], 9999), 1);
        assert_eq!(lap_start(&[1, 5000, 9990], 9999), 5000);
        assert_eq!(lap_start(&[], 9999), 0);
    }
}
