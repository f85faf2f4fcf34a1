//! WebP (Google's container specification; RIFF chunks, little-endian): the Exif block in `EXIF`, the whole
//! length in the RIFF header.

use std::io;

use super::carried;
use super::found::{Found, Want, broken, cut_short, size, zeros};
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// A file of more chunks than this is not followed to its end.
const MOST_CHUNKS: usize = 20_000;

/// An Exif block is at most this long.
const MOST_EXIF: u32 = 16 * 1024 * 1024;

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let mut found = Found::default();
    let Some([_, _, _, _, s1, s2, s3, s4]) = source.array_at::<8>(0)? else {
        found.damage = cut_short("it ends in its header");
        return Ok(found);
    };
    let whole = u64::from(u32::from_le_bytes([s1, s2, s3, s4])) + 8;
    if whole > source.len() {
        found.damage = cut_short(format!("its header says {whole} bytes, there are {}", source.len()));
    }
    let end = whole.min(source.len());
    let mut at = 12;
    let mut data = (0, 0);
    for _ in 0..MOST_CHUNKS {
        if at + 8 > end {
            break;
        }
        let Some([n1, n2, n3, n4, l1, l2, l3, l4]) = source.array_at::<8>(at)? else { break };
        let length = u32::from_le_bytes([l1, l2, l3, l4]);
        let name = &[n1, n2, n3, n4];
        match name {
            b"VP8X" => found.size = extended(source, at + 8)?,
            // Some writers keep a JPEG's lead before the block.
            b"EXIF" if length <= MOST_EXIF => {
                let lead = if source.view(at + 8, 6)? == b"Exif\0\0" { 6 } else { 0 };
                let (base, end) = (at + 8 + lead, at + 8 + u64::from(length));
                found.exif = Block::at(source, base, end)?;
                if want.embedded {
                    carried::in_block(source, base, end, &mut found.embedded)?;
                }
            }
            b"VP8 " | b"VP8L" => {
                data = (at + 8, u64::from(length));
                if found.size == Cell::Absent {
                    found.size =
                        if name == b"VP8 " { lossy(source, at + 8)? } else { lossless(source, at + 8)? };
                }
            }
            _ => {}
        }
        at += 8 + u64::from(length) + u64::from(length % 2);
    }
    if found.damage == Damage::None && at > end + 1 {
        found.damage = broken("a chunk that is longer than the file");
    }
    if found.damage == Damage::None {
        found.damage = zeros(source, data)?;
    }
    Ok(found)
}

/// `VP8X`: 24-bit width and height, each less one, after four bytes of flags.
fn extended(source: &mut Source, at: u64) -> io::Result<Cell<(u32, u32)>> {
    let Some([_, _, _, _, w1, w2, w3, h1, h2, h3]) = source.array_at::<10>(at)? else {
        return Ok(Cell::Unreadable);
    };
    Ok(size(u32::from_le_bytes([w1, w2, w3, 0]) + 1, u32::from_le_bytes([h1, h2, h3, 0]) + 1))
}

/// `VP8 `: a key frame's header (RFC 6386, 9.1): start code 9D 01 2A, then 14 bits of width and of height.
fn lossy(source: &mut Source, at: u64) -> io::Result<Cell<(u32, u32)>> {
    let Some([_, _, _, 0x9D, 0x01, 0x2A, w1, w2, h1, h2]) = source.array_at::<10>(at)? else {
        return Ok(Cell::Unreadable);
    };
    let bits = |a, b| u32::from(u16::from_le_bytes([a, b]) & 0x3FFF);
    Ok(size(bits(w1, w2), bits(h1, h2)))
}

/// `VP8L`: signature 2F, then 14 bits of width and of height, each less one.
fn lossless(source: &mut Source, at: u64) -> io::Result<Cell<(u32, u32)>> {
    let Some([0x2F, a, b, c, d]) = source.array_at::<5>(at)? else { return Ok(Cell::Unreadable) };
    let bits = u32::from_le_bytes([a, b, c, d]);
    Ok(size((bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1))
}
