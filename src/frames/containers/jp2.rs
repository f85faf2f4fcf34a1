//! JPEG 2000 (JP2, ISO/IEC 15444-1): boxes; width and height in `jp2h`, an Exif block in a `uuid` box that
//! its writers agree on.

use std::io;

use super::found::{Found, broken, cut_short, size, zeros};
use super::iso;
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// Identity of the box with the Exif block (common practice, no source).
const EXIF: [u8; 16] = *b"JpgTiffExif->JP2";

pub(crate) fn read(source: &mut Source) -> io::Result<Found> {
    let file = source.len();
    let (boxes, damage) = iso::all(source, 0, file)?;
    let mut found = Found { damage, ..Found::default() };
    for b in boxes.iter().filter(|b| &b.name == b"uuid") {
        if source.array_at::<16>(b.body)? == Some(EXIF) {
            found.exif = Block::at(source, b.body + 16, b.end)?;
        }
    }
    if let Some((body, end)) = iso::named(&boxes, b"jp2h") {
        let (inner, _) = iso::all(source, body, end.min(file))?;
        if let Some((at, _)) = iso::named(&inner, b"ihdr")
            && let Some([h1, h2, h3, h4, w1, w2, w3, w4]) = source.array_at::<8>(at)?
        {
            found.size = size(u32::from_be_bytes([w1, w2, w3, w4]), u32::from_be_bytes([h1, h2, h3, h4]));
        }
    }
    if found.damage == Damage::None && iso::named(&boxes, b"jp2c").is_none() {
        found.damage = cut_short("no picture data");
    }
    if let Some((at, end)) = iso::named(&boxes, b"jp2c").filter(|_| found.damage == Damage::None) {
        found.damage = zeros(source, (at, end.saturating_sub(at)))?;
    }
    if found.damage == Damage::None && found.size == Cell::Absent {
        found.damage = broken("no box that describes the picture");
    }
    Ok(found)
}
