//! Files whose bytes repeat an earlier file's.

use crate::frames::Frames;
use std::collections::HashMap;

/// Positions of copies and of the frames they repeat: equal length, kind and print. Empty files repeat nothing.
pub fn find(frames: &Frames) -> Vec<(usize, usize)> {
    // The map is only asked, never walked: no order comes from it.
    let mut seen: HashMap<(u64, u64), usize> = HashMap::with_capacity(frames.len());
    let mut copies = Vec::new();
    for (at, (row, shot)) in frames.rows.iter().zip(&frames.card.shots).enumerate() {
        if shot.file.bytes == 0 || row.damage.is_some() {
            continue;
        }
        match seen.entry((row.print, shot.file.bytes)) {
            std::collections::hash_map::Entry::Occupied(first) => copies.push((at, *first.get())),
            std::collections::hash_map::Entry::Vacant(place) => {
                place.insert(at);
            }
        }
    }
    copies
}
