//! Boxes of the ISO base media format (ISO/IEC 14496-12): a length of 32 or 64 bits, a name, a body that may
//! hold boxes.

use std::io;

use super::found::{broken, cut_short};
use crate::frames::Damage;
use crate::frames::source::Source;

/// A file of more boxes than this side by side is not followed to its end.
const MOST_BOXES: usize = 1000;

/// A box: its name, and where its body begins and ends in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct IsoBox {
    pub name: [u8; 4],
    pub body: u64,
    /// One past its last byte, as its length says it: beyond the file's end where that was cut.
    pub end: u64,
}

/// The box at `at`; one without a length reaches to `limit`. `None` where there is none.
///
/// # Errors
/// What the system says on reading.
pub(crate) fn at(source: &mut Source, at: u64, limit: u64) -> io::Result<Option<IsoBox>> {
    let Some([s1, s2, s3, s4, name @ ..]) = source.array_at::<8>(at)? else { return Ok(None) };
    let (head, length) = match u32::from_be_bytes([s1, s2, s3, s4]) {
        0 => (8, limit.saturating_sub(at)),
        1 => match source.array_at::<8>(at + 8)? {
            Some(long) => (16, u64::from_be_bytes(long)),
            None => return Ok(None),
        },
        short => (8, u64::from(short)),
    };
    let named = name.iter().all(|c| matches!(c, b' '..=b'~' | 0xA9));
    let end = at.checked_add(length).filter(|_| length >= head && named);
    Ok(end.map(|end| IsoBox { name, body: at + head, end }))
}

/// The boxes from `from` to `limit`, one after the other, and what is wrong with them: the last one ends
/// beyond the limit, or something else stands where one must begin.
///
/// # Errors
/// What the system says on reading.
pub(crate) fn all(source: &mut Source, from: u64, limit: u64) -> io::Result<(Vec<IsoBox>, Damage)> {
    let mut out = Vec::new();
    let mut place = from;
    while place < limit && out.len() < MOST_BOXES {
        let Some(next) = at(source, place, limit)? else {
            return Ok((out, broken(format!("no box where one must begin, at byte {place}"))));
        };
        out.push(next);
        place = next.end;
    }
    let damage = match () {
        () if place > limit => cut_short(format!("a box ends at byte {place} of {limit}")),
        () if place < limit => broken("boxes without an end"),
        () => Damage::None,
    };
    Ok((out, damage))
}

/// The body of the first box of that name.
pub(crate) fn named(boxes: &[IsoBox], name: &[u8; 4]) -> Option<(u64, u64)> {
    boxes.iter().find(|b| b.name == *name).map(|b| (b.body, b.end))
}
