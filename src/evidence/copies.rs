//! Files whose bytes repeat an earlier file's.

use crate::frames::Frames;

/// Positions of copies and of the frames they repeat: equal length, kind and print. Empty files repeat nothing.
pub fn find(frames: &Frames) -> Vec<(usize, usize)> {
    let (rows, shots) = (&frames.rows, &frames.card.shots);
    let key = |at: u32| (rows[at as usize].print, shots[at as usize].file.bytes);
    // Positions alone are sorted, four bytes a frame: a map of prints would be the largest thing in memory beside the rows.
    let told = |at: &u32| shots[*at as usize].file.bytes != 0 && !rows[*at as usize].damage.is_some();
    let mut order: Vec<u32> = (0..rows.len() as u32).filter(told).collect();
    order.sort_unstable_by_key(|at| (key(*at), *at));
    let mut copies: Vec<(usize, usize)> = order
        .chunk_by(|a, b| key(*a) == key(*b))
        .flat_map(|same| same[1..].iter().map(|copy| (*copy as usize, same[0] as usize)))
        .collect();
    copies.sort_unstable();
    copies
}
