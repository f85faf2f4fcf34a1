//! PNG (ISO/IEC 15948): chunks with lengths, the Exif block in `eXIf`, the end in `IEND`.

use std::io;

use super::found::{Found, broken, cut_short, size};
use crate::frames::Damage;
use crate::frames::exif::Block;
use crate::frames::source::Source;

/// A file of more chunks than this is not followed to its end.
const MOST_CHUNKS: usize = 20_000;

/// An Exif block is at most this long (64 KiB in a JPEG; other containers allow more).
const MOST_EXIF: u32 = 16 * 1024 * 1024;

/// Pieces of picture data that are followed one by one where the file's end is not that of a picture.
const MOST_PIECES: usize = 64;

/// How much of a file's end is searched for its last chunk, and for an Exif block behind the picture data.
const BEHIND_BYTES: usize = 16 * 1024;

pub(crate) fn read(source: &mut Source) -> io::Result<Found> {
    let mut found = Found::default();
    let mut at = 8;
    let mut pieces = 0;
    for count in 0..MOST_CHUNKS {
        let Some([l1, l2, l3, l4, name @ ..]) = source.array_at::<8>(at)? else {
            found.damage = cut_short("it ends without its last chunk");
            return Ok(found);
        };
        let length = u32::from_be_bytes([l1, l2, l3, l4]);
        if !name.iter().all(u8::is_ascii_alphabetic) {
            found.damage = broken(format!("no chunk where one must begin, at byte {at}"));
            return Ok(found);
        }
        let end = at + 12 + u64::from(length);
        match &name {
            b"IHDR" if count == 0 => {
                if let Some([w1, w2, w3, w4, h1, h2, h3, h4]) = source.array_at::<8>(at + 8)? {
                    found.size =
                        size(u32::from_be_bytes([w1, w2, w3, w4]), u32::from_be_bytes([h1, h2, h3, h4]));
                }
            }
            b"eXIf" if length <= MOST_EXIF => {
                found.exif = Block::at(source, at + 8, at + 8 + u64::from(length))?;
            }
            b"IEND" => return Ok(found),
            _ => {}
        }
        if end > source.len() {
            found.damage = cut_short(format!("a chunk ends at byte {end} of {}", source.len()));
            return Ok(found);
        }
        if b"IDAT" == &name && ends_well(source)? {
            if matches!(found.exif, Block::Absent) {
                found.exif = exif_behind(source)?;
            }
            return Ok(found);
        }
        if b"IDAT" == &name {
            pieces += 1;
            if pieces > MOST_PIECES {
                found.damage = cut_short("its last chunk is missing");
                return Ok(found);
            }
        }
        at = end;
    }
    if found.damage == Damage::None {
        found.damage = broken("chunks without an end");
    }
    Ok(found)
}

/// The last chunk, whole: no bytes, its name, its checksum (ISO/IEC 15948, 11.2.5).
const LAST_CHUNK: &[u8] = b"\0\0\0\0IEND\xAE\x42\x60\x82";

/// True where the file's end holds the last chunk, so that those between need not be walked. Bytes may follow
/// it.
fn ends_well(source: &mut Source) -> io::Result<bool> {
    let (_, tail) = source.tail(LAST_CHUNK.len())?;
    if tail == LAST_CHUNK {
        return Ok(true);
    }
    let (_, tail) = source.tail(BEHIND_BYTES)?;
    Ok(tail.windows(LAST_CHUNK.len()).any(|w| w == LAST_CHUNK))
}

/// The Exif block of a writer that puts it behind the picture data, looked for in the end of the file.
fn exif_behind(source: &mut Source) -> io::Result<Block> {
    let file = source.len();
    let (from, tail) = source.tail(BEHIND_BYTES)?;
    for at in (4..tail.len().saturating_sub(4)).rev() {
        if tail.get(at..at + 4) != Some(b"eXIf") {
            continue;
        }
        let length =
            tail.get(at - 4..).and_then(|b| b.first_chunk::<4>()).map_or(0, |b| u32::from_be_bytes(*b));
        let block = from + at as u64 + 4;
        let end = block + u64::from(length);
        if end <= file {
            return Block::at(source, block, end);
        }
    }
    Ok(Block::Absent)
}
