//! JPEG (ISO/IEC 10918-1), multi-picture files included: the segments are walked by their lengths, and only
//! those that are asked for are fetched.

use std::io;

use super::found::{Found, Want, broken, cut_short, size};
use super::jpeg_end;
use super::{carried, embedded};
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// A header that is longer than this many segments is taken for broken.
const MOST_SEGMENTS: usize = 2000;

/// How far a damaged header is searched for its next marker.
const RESYNC_BYTES: usize = 4096;

/// The bytes before an Exif block's TIFF stream in its segment (Exif, CIPA DC-008: the second NUL is a pad
/// byte, and some writers put another one there).
const EXIF_LEAD: &[u8] = b"Exif\0";

/// The bytes before the index of a multi-picture file in its segment (CIPA DC-007).
const INDEX_LEAD: &[u8] = b"MPF\0";

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let mut header = header(source, 0)?;
    let mut found = Found { size: header.size, ..Found::default() };
    if let Some(from) = header.scan {
        let (damage, tail) = jpeg_end::judge(source, from)?;
        found.tail = tail;
        header.damage = damage;
        if header.size == Cell::Absent && header.damage == Damage::None {
            header.damage = broken("picture data without a frame header");
        }
    }
    found.exif = header.exif(source)?;
    if want.embedded {
        header.embedded(source, &mut found.embedded)?;
    }
    found.damage = header.damage;
    Ok(found)
}

/// What stands before the picture data of a stream. Places count from the file's first byte.
#[derive(Default)]
pub(crate) struct Header {
    /// Width and height, px.
    pub size: Cell<(u32, u32)>,
    /// Where the Exif block's TIFF header stands, and where the block ends.
    pub block: Option<(u64, u64)>,
    /// The same of the index of a multi-picture file.
    index: Option<(u64, u64)>,
    /// Where the picture data begins; `None` where the header does not lead there, and [`Header::damage`]
    /// says why.
    pub scan: Option<u64>,
    /// What is wrong with the header.
    pub damage: Damage,
}

impl Header {
    /// The Exif block.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn exif(&self, source: &mut Source) -> io::Result<Block> {
        match self.block {
            Some((base, end)) => Block::at(source, base, end),
            None => Ok(Block::Absent),
        }
    }

    /// Adds the streams that the header names: the thumbnail, the other pictures of a multi-picture file.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn embedded(&self, source: &mut Source, list: &mut Vec<embedded::Embedded>) -> io::Result<()> {
        if let Some((base, end)) = self.block {
            carried::in_block(source, base, end, list)?;
        }
        if let Some((base, end)) = self.index {
            carried::in_index(source, base, end, list)?;
        }
        Ok(())
    }
}

/// Walks the header of the stream that begins at `start` of the file.
///
/// # Errors
/// What the system says on reading.
pub(crate) fn header(source: &mut Source, start: u64) -> io::Result<Header> {
    let mut out = Header::default();
    let mut at = start.saturating_add(2);
    for _ in 0..MOST_SEGMENTS {
        let Some([first, code, high, low]) = source.array_at::<4>(at)? else {
            out.damage = cut_short("it ends in its header");
            return Ok(out);
        };
        if first != 0xFF {
            match next_marker(source, at)? {
                Some(next) => {
                    at = next;
                    continue;
                }
                None => {
                    out.damage = broken(format!("no segment where one must begin, at byte {at}"));
                    return Ok(out);
                }
            }
        }
        let length = u64::from(u16::from_be_bytes([high, low]));
        match code {
            // Fill bytes, and markers that stand alone.
            0xFF => at += 1,
            0x01 | 0xD0..=0xD8 => at += 2,
            0xD9 => {
                out.damage = broken("no picture data before its end marker");
                return Ok(out);
            }
            _ if length < 2 => {
                out.damage = broken(format!("a segment of impossible length at byte {at}"));
                return Ok(out);
            }
            _ => {
                segment(source, code, at + 4, at + 2 + length, &mut out)?;
                at += 2 + length;
                if code == 0xDA {
                    out.scan = Some(at);
                    return Ok(out);
                }
            }
        }
    }
    out.damage = broken("a header without an end");
    Ok(out)
}

/// Takes what is wanted of a segment whose payload stands from `at` to `end`.
fn segment(source: &mut Source, code: u8, at: u64, end: u64, out: &mut Header) -> io::Result<()> {
    match code {
        0xE1 if out.block.is_none() && source.view(at, EXIF_LEAD.len())? == EXIF_LEAD => {
            out.block = Some((at + 6, end.max(at + 6)));
        }
        0xE2 if out.index.is_none() && source.view(at, INDEX_LEAD.len())? == INDEX_LEAD => {
            out.index = Some((at + 4, end));
        }
        // Start of frame: all but DHT, JPG and DAC, which share its range.
        0xC0..=0xCF if !matches!(code, 0xC4 | 0xC8 | 0xCC) && out.size == Cell::Absent => {
            if let Some([_, h1, h2, w1, w2]) = source.array_at::<5>(at)? {
                let number = |a, b| u32::from(u16::from_be_bytes([a, b]));
                out.size = size(number(w1, w2), number(h1, h2));
            }
        }
        _ => {}
    }
    Ok(())
}

/// The next place from `at` on where a marker with a plausible code stands, within a short search.
fn next_marker(source: &mut Source, at: u64) -> io::Result<Option<u64>> {
    let window = source.view(at, RESYNC_BYTES)?;
    let found = window
        .windows(2)
        .position(|w| w[0] == 0xFF && matches!(w[1], 0xC0..=0xCF | 0xDA..=0xDD | 0xE0..=0xEF | 0xFE));
    Ok(found.map(|by| at + by as u64))
}
