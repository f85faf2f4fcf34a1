//! JPEG (ISO/IEC 10918-1), multi-picture files included: the segments are walked by their lengths, and only those that are
//! asked for are fetched.

use std::io;

use super::jpeg_end;
use super::{Found, Want, broken, cut_short, embedded, size};
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// A header that is longer than this many segments is taken for broken.
const MOST_SEGMENTS: usize = 2000;

/// How far a damaged header is searched for its next marker.
const RESYNC_BYTES: usize = 4096;

/// The bytes before an Exif block's TIFF stream in its segment (Exif, CIPA DC-008: the second NUL is a pad byte, and some
/// writers put another one there).
const EXIF_LEAD: &[u8] = b"Exif\0";

/// The bytes before the index of a multi-picture file in its segment (CIPA DC-007).
const INDEX_LEAD: &[u8; 4] = b"MPF\0";

pub fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let mut found = Found::default();
    let mut at = 2;
    let mut scan = None;
    for _ in 0..MOST_SEGMENTS {
        let Some([first, code, high, low]) = source.array_at::<4>(at)? else {
            found.damage = cut_short("it ends in its header");
            break;
        };
        if first != 0xFF {
            match next_marker(source, at)? {
                Some(next) => {
                    at = next;
                    continue;
                }
                None => {
                    found.damage = broken(format!("no segment where one must begin, at byte {at}"));
                    break;
                }
            }
        }
        let length = u64::from(u16::from_be_bytes([high, low]));
        match code {
            // Fill bytes, and markers that stand alone.
            0xFF => at += 1,
            0x01 | 0xD0..=0xD8 => at += 2,
            0xD9 => {
                found.damage = broken("no picture data before its end marker");
                break;
            }
            _ if length < 2 => {
                found.damage = broken(format!("a segment of impossible length at byte {at}"));
                break;
            }
            _ => {
                segment(source, want, code, (at + 4, length - 2), &mut found)?;
                at += 2 + length;
                if code == 0xDA {
                    scan = Some(at);
                    break;
                }
            }
        }
    }
    if let Some(from) = scan {
        let (damage, tail) = jpeg_end::judge(source, from)?;
        found.damage = damage;
        found.tail = tail;
    } else if found.damage == Damage::None {
        found.damage = broken("a header without an end");
    }
    if scan.is_some() && found.size == Cell::Absent && found.damage == Damage::None {
        found.damage = broken("picture data without a frame header");
    }
    Ok(found)
}

/// Takes what is wanted of a segment whose payload is `len` bytes at `at`.
fn segment(
    source: &mut Source,
    want: Want,
    code: u8,
    (at, len): (u64, u64),
    found: &mut Found,
) -> io::Result<()> {
    match code {
        0xE1 if matches!(found.exif, Block::Absent) => {
            let lead = source.read_at(at, EXIF_LEAD.len() + 1)?;
            if lead.starts_with(EXIF_LEAD) {
                found.exif = exif(source, at + 6, len.saturating_sub(6))?;
                if want.embedded {
                    embedded::in_tiff(source, at + 6, &mut found.embedded)?;
                }
            }
        }
        0xE2 if want.embedded && source.array_at(at)? == Some(*INDEX_LEAD) => {
            let len = usize::try_from(len.saturating_sub(4)).unwrap_or(0);
            embedded::in_index(source, at + 4, len, &mut found.embedded)?;
        }
        // Start of frame: all but DHT, JPG and DAC, which share its range.
        0xC0..=0xCF if !matches!(code, 0xC4 | 0xC8 | 0xCC) && found.size == Cell::Absent => {
            if let Some([_, h1, h2, w1, w2]) = source.array_at::<5>(at)? {
                let number = |a, b| u32::from(u16::from_be_bytes([a, b]));
                found.size = size(number(w1, w2), number(h1, h2));
            }
        }
        _ => {}
    }
    Ok(())
}

/// Reads the block from the part of it that lies in the head, and the rest only where that part was not enough.
fn exif(source: &mut Source, at: u64, len: u64) -> io::Result<Block> {
    let len = usize::try_from(len).unwrap_or(0);
    let from = usize::try_from(at).unwrap_or(usize::MAX);
    if let Some(kept) = source.head().get(from..)
        && kept.len() >= 1024
        && kept.len() < len
    {
        let block = Block::parse(kept.to_vec());
        if block.is_enough() {
            return Ok(block);
        }
    }
    Ok(Block::parse(source.read_at(at, len)?))
}

/// The next place from `at` on where a marker with a plausible code stands, within a short search.
fn next_marker(source: &mut Source, at: u64) -> io::Result<Option<u64>> {
    let window = source.read_at(at, RESYNC_BYTES)?;
    let found = window
        .windows(2)
        .position(|w| w[0] == 0xFF && matches!(w[1], 0xC0..=0xCF | 0xDA..=0xDD | 0xE0..=0xEF | 0xFE));
    Ok(found.map(|by| at + by as u64))
}
