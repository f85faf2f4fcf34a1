//! HEIF, HIF and AVIF (ISO/IEC 23008-12): boxes with lengths; the Exif block is an item that the `meta` box names.

use std::io::{self, BufReader, Seek, SeekFrom};

use exif::Reader;

use super::{Found, broken, cut_short, size};
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// A file of more boxes than this at its top is not followed to its end.
const MOST_BOXES: usize = 1000;

/// A `meta` box is at most this long.
const MOST_META: u64 = 16 * 1024 * 1024;

pub fn read(source: &mut Source) -> io::Result<Found> {
    let mut found = Found::default();
    let mut at = 0;
    let mut meta = None;
    for _ in 0..MOST_BOXES {
        if at >= source.len() {
            break;
        }
        let Some((name, body, end)) = next_box(source, at)? else {
            found.damage = broken(format!("no box where one must begin, at byte {at}"));
            break;
        };
        if end > source.len() {
            found.damage = cut_short(format!("a box ends at byte {end} of {}", source.len()));
        }
        if &name == b"meta" {
            meta = Some((body, end.min(source.len())));
        }
        at = end;
    }
    let Some((body, end)) = meta else {
        if found.damage == Damage::None {
            found.damage = broken("no box that describes the picture");
        }
        return Ok(found);
    };
    let length = end.saturating_sub(body);
    if length > MOST_META {
        found.damage = broken("a description of impossible length");
        return Ok(found);
    }
    let meta = source.read_at(body, length as usize)?;
    found.size = largest(meta.get(4..).unwrap_or_default());
    if meta.windows(4).any(|w| w == b"Exif") {
        found.exif = exif(source)?;
    }
    Ok(found)
}

/// Name, first byte of the body and first byte after a box; `None` where there is none.
fn next_box(source: &mut Source, at: u64) -> io::Result<Option<([u8; 4], u64, u64)>> {
    let Some([s1, s2, s3, s4, name @ ..]) = source.array_at::<8>(at)? else { return Ok(None) };
    let (head, length) = match u32::from_be_bytes([s1, s2, s3, s4]) {
        0 => (8, source.len() - at),
        1 => match source.array_at::<8>(at + 8)? {
            Some(long) => (16, u64::from_be_bytes(long)),
            None => return Ok(None),
        },
        short => (8, u64::from(short)),
    };
    let end = at.checked_add(length).filter(|_| length >= head);
    Ok(end.map(|end| (name, at + head, end)))
}

/// The block by way of the library, which follows the item to where it lies.
fn exif(source: &mut Source) -> io::Result<Block> {
    source.seek(SeekFrom::Start(0))?;
    let mut stream = BufReader::with_capacity(4096, source);
    match Reader::new().continue_on_error(true).read_from_container(&mut stream) {
        Ok(fields) => Ok(Block::from_fields(fields)),
        Err(exif::Error::Io(e)) => Err(e),
        Err(exif::Error::NotFound(_)) => Ok(Block::Absent),
        Err(e) => Ok(e.distill_partial_result(|_| ()).map_or(Block::Unreadable, Block::from_fields)),
    }
}

/// The largest extent that the item properties (`iprp`, `ipco`, `ispe`) name: a picture made of tiles and the thumbnails
/// stand there beside the picture itself.
fn largest(meta: &[u8]) -> Cell<(u32, u32)> {
    let mut best = Cell::Absent;
    for (name, iprp) in boxes(meta) {
        if name != b"iprp" {
            continue;
        }
        for (_, ipco) in boxes(iprp).filter(|(name, _)| *name == b"ipco") {
            for (_, ispe) in boxes(ipco).filter(|(name, _)| *name == b"ispe") {
                let number = |at| {
                    ispe.get(at..at + 4).and_then(|b| b.first_chunk::<4>()).map(|b| u32::from_be_bytes(*b))
                };
                let (Some(w), Some(h)) = (number(4), number(8)) else { continue };
                let area = |(w, h): (u32, u32)| u64::from(w) * u64::from(h);
                if best.known().is_none_or(|known| area((w, h)) > area(known)) {
                    best = size(w, h);
                }
            }
        }
    }
    best
}

/// The boxes that lie in `bytes` one after the other.
fn boxes(mut bytes: &[u8]) -> impl Iterator<Item = (&[u8; 4], &[u8])> {
    std::iter::from_fn(move || {
        let length = u32::from_be_bytes(*bytes.first_chunk::<4>()?) as usize;
        let length = if length == 0 { bytes.len() } else { length };
        let name = bytes.get(4..8)?.first_chunk::<4>()?;
        let body = bytes.get(8..length)?;
        bytes = bytes.get(length..)?;
        Some((name, body))
    })
}
