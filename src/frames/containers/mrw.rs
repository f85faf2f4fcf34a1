//! MRW: blocks with a name and a length (highest byte first) before the sensor's data; `TTW` is a TIFF
//! stream, `PRD` describes the picture. The maker publishes no description; the layout is what readers of the
//! format agree on.

use std::io;

use super::found::{Found, broken, cut_short, size, zeros};
use crate::frames::Damage;
use crate::frames::exif::Block;
use crate::frames::source::Source;

/// Blocks that are looked at.
const MOST_BLOCKS: usize = 64;

pub(crate) fn read(source: &mut Source) -> io::Result<Found> {
    let file = source.len();
    let mut found = Found::default();
    let Some([_, _, _, _, length @ ..]) = source.array_at::<8>(0)? else {
        found.damage = cut_short("it ends in its header");
        return Ok(found);
    };
    let data = 8 + u64::from(u32::from_be_bytes(length));
    let mut bits = 0;
    let mut at = 8;
    for _ in 0..MOST_BLOCKS {
        if at >= data {
            break;
        }
        let Some([0, name @ .., l1, l2, l3, l4]) = source.array_at::<8>(at)? else { break };
        let body = at + 8;
        at = body + u64::from(u32::from_be_bytes([l1, l2, l3, l4]));
        match &name {
            b"PRD" => {
                // Eight bytes of version; height and width of the sensor, then of the picture; bits of a
                // sample as stored.
                if let Some(b) = source.array_at::<17>(body)? {
                    let number = |at: usize| u32::from(u16::from_be_bytes([b[at], b[at + 1]]));
                    found.size = size(number(14), number(12));
                    bits = u64::from(number(8)) * u64::from(number(10)) * u64::from(b[16]);
                }
            }
            b"TTW" => found.exif = Block::at(source, body, at)?,
            _ => {}
        }
    }
    let end = data + bits / 8;
    found.damage = match () {
        () if bits == 0 && data <= file => broken("no block that describes the picture"),
        () if end > file => cut_short(format!("its picture data ends at byte {end} of {file}")),
        () => zeros(source, (data, bits / 8))?,
    };
    if found.damage != Damage::None && data > file {
        found.damage = cut_short(format!("its header ends at byte {data} of {file}"));
    }
    Ok(found)
}
