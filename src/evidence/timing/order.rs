//! Capture order: by folder and file number where those are a camera's, by stamp where they are not, by name where neither
//! serves.

use super::OrderBasis;
use crate::frames::Frames;

/// Numbers are trusted for the order while at most this share of the stamps runs backwards under it.
const MOST_BACKWARDS: f64 = 0.05;

/// The capture order as a permutation of the card's order, and what it was taken from.
pub fn capture_order(frames: &Frames) -> (Vec<u32>, OrderBasis) {
    let n = frames.len();
    let numbered = frames.card.shots.iter().filter(|s| s.number.is_some()).count();
    let stamped = frames.rows.iter().filter(|r| r.stamp.as_known().is_some()).count();
    if numbered * 10 >= n * 9 && n > 0 {
        let order = by_number(frames);
        let backwards = backward_share(frames, &order);
        if backwards <= MOST_BACKWARDS || stamped * 10 < n * 9 {
            return (order, OrderBasis::Numbers);
        }
    }
    if stamped * 10 >= n * 9 && n > 0 {
        return (by_stamp(frames), OrderBasis::Stamps);
    }
    ((0..n as u32).collect(), OrderBasis::Names)
}

/// Within each folder from after the widest gap in the lap of numbers, so that 9999 is followed by 0001; folders in the
/// card's order; files without a number after their neighbour in the card's order.
fn by_number(frames: &Frames) -> Vec<u32> {
    let shots = &frames.card.shots;
    let mut order = Vec::with_capacity(shots.len());
    let mut at = 0;
    while at < shots.len() {
        let folder = shots[at].file.folder;
        let end = at + shots[at..].iter().take_while(|s| s.file.folder == folder).count();
        let mut numbers: Vec<u32> = shots[at..end].iter().filter_map(|s| s.number).map(|n| n.value).collect();
        numbers.sort_unstable();
        let digits = shots[at..end].iter().filter_map(|s| s.number).map(|n| n.digits).max().unwrap_or(4);
        let lap = 10_u32.saturating_pow(u32::from(digits.min(9))) - 1;
        let start = lap_start(&numbers, lap);
        let mut last = 0;
        let mut keyed: Vec<(u32, u32)> = (at..end)
            .map(|i| {
                if let Some(number) = shots[i].number {
                    last =
                        if number.value >= start { number.value - start } else { number.value + lap - start };
                }
                (last, i as u32)
            })
            .collect();
        keyed.sort_by_key(|k| k.0);
        order.extend(keyed.iter().map(|k| k.1));
        at = end;
    }
    order
}

/// The number with which a folder begins: the one after the widest gap where the numbers reach both ends of the lap, else the
/// smallest.
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
    let mut last = i64::MIN;
    let mut keyed: Vec<(i64, u32)> = frames
        .rows
        .iter()
        .enumerate()
        .map(|(i, row)| {
            if let Some(stamp) = row.stamp.as_known() {
                last = stamp.at.micros();
            }
            (last, i as u32)
        })
        .collect();
    keyed.sort_by_key(|k| k.0);
    keyed.into_iter().map(|k| k.1).collect()
}

fn backward_share(frames: &Frames, order: &[u32]) -> f64 {
    let stamps: Vec<i64> = order
        .iter()
        .filter_map(|&i| frames.rows[i as usize].stamp.as_known())
        .map(|s| s.at.micros())
        .collect();
    let back = stamps.windows(2).filter(|w| w[1] < w[0]).count();
    back as f64 / (stamps.len().saturating_sub(1)).max(1) as f64
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
