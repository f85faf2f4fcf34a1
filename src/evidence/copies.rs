//! Files whose bytes repeat another file's.

use crate::frames::Frames;
use std::collections::BTreeMap;
use std::path::Path;

/// Positions of copies and of the frames they repeat: equal length, kind and print. Empty files repeat
/// nothing.
///
/// Of files that are alike, the one in the fuller place is the original: a folder beside the card's own that
/// holds a few of its frames holds copies of them. In places as full as one another it is the earliest.
pub(crate) fn find(frames: &Frames) -> Vec<(usize, usize)> {
    let (rows, shots) = (&frames.rows, &frames.card.shots);
    let key = |at: u32| (rows[at as usize].print, shots[at as usize].file.bytes);
    // Positions alone are sorted, four bytes a frame: a map of prints would be the largest thing in memory
    // beside the rows.
    let told = |at: &u32| shots[*at as usize].file.bytes != 0 && !rows[*at as usize].damage.is_some();
    let mut order: Vec<u32> = (0..rows.len() as u32).filter(told).collect();
    order.sort_unstable_by_key(|at| (key(*at), *at));
    let held = held(frames);
    let fullness = |at: u32| held.get(shots[at as usize].file.folder as usize).copied().unwrap_or_default();
    let mut copies: Vec<(usize, usize)> = order
        .chunk_by(|a, b| key(*a) == key(*b))
        .filter(|same| same.len() > 1)
        .flat_map(|same| {
            let fullest = same.iter().map(|at| fullness(*at)).max();
            let original = same.iter().copied().find(|at| Some(fullness(*at)) == fullest).unwrap_or(same[0]);
            same.iter()
                .filter(move |at| **at != original)
                .map(move |copy| (*copy as usize, original as usize))
        })
        .collect();
    copies.sort_unstable();
    copies
}

/// Frames that each folder's place holds (the folders beside it and itself), and that it holds itself.
fn held(frames: &Frames) -> Vec<(u64, u64)> {
    let folders = &frames.card.folders;
    let mut own = vec![0_u64; folders.len()];
    for shot in &frames.card.shots {
        if let Some(count) = own.get_mut(shot.file.folder as usize) {
            *count += 1;
        }
    }
    let place = |at: usize| (folders[at].root, folders[at].path.parent().unwrap_or(Path::new("")));
    let mut beside: BTreeMap<(u16, &Path), u64> = BTreeMap::new();
    for (at, count) in own.iter().enumerate() {
        *beside.entry(place(at)).or_default() += count;
    }
    own.iter().enumerate().map(|(at, count)| (beside[&place(at)], *count)).collect()
}
