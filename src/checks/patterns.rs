//! Many holes drawn together where they come regularly.

use super::common::MANY;
use crate::evidence::timing::Hole;

/// Fewer holes than this in a row are no pattern.
const LEAST: usize = 6;

/// One hole, or several that repeat.
pub(crate) struct Told<'a> {
    /// The holes, in order; never empty.
    pub holes: &'a [Hole],
    /// Slots from the beginning of one to that of the next; 0 for a single hole.
    pub every: i64,
}

/// The holes as they are told: one by one, or, where there are many, regular ones as one.
pub(crate) fn folded(holes: &[Hole]) -> Vec<Told<'_>> {
    let mut told = Vec::new();
    let mut rest = holes;
    while !rest.is_empty() {
        let (length, every) = if holes.len() > MANY { regular(rest) } else { (1, 0) };
        let (now, later) = rest.split_at(length);
        told.push(Told { holes: now, every });
        rest = later;
    }
    told
}

/// How many holes from the first on repeat alike, and how far apart they begin.
fn regular(holes: &[Hole]) -> (usize, i64) {
    let [first, second, ..] = holes else { return (1, 0) };
    let every = second.slot.saturating_sub(first.slot);
    let alike = |pair: &&[Hole]| match pair {
        [a, b] => {
            b.slot.saturating_sub(a.slot) == every
                && b.slots == a.slots
                && b.cause == a.cause
                && b.numbers == a.numbers
        }
        _ => false,
    };
    let length = 1 + holes.windows(2).take_while(alike).count();
    if length >= LEAST { (length, every) } else { (1, 0) }
}
