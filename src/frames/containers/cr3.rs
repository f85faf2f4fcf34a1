//! CR3: an ISO base media file (ISO/IEC 14496-12) whose `moov` box holds a maker's box with bare TIFF
//! streams: `CMT1` with the main directory, `CMT2` with the Exif directory as its first one, `CMT4` with a
//! satellite fix. The maker publishes no description; the layout is what readers of the format agree on, and
//! holds for the real files in the tests.

use std::io;

use super::embedded::{self, Embedded};
use super::found::{Found, Want, broken, cut_short, size, zeros};
use super::{iso, pictures};
use crate::frames::exif::{Block, Gather, Part, is_wanted};
use crate::frames::source::Source;
use crate::frames::tiff_stream::Stream;
use crate::frames::{Cell, Damage};

/// Identity of the maker's box in `moov`.
const HEADERS: [u8; 16] =
    [0x85, 0xC0, 0xB6, 0x87, 0x82, 0x0F, 0x11, 0xE0, 0x81, 0x11, 0xF4, 0xCE, 0x46, 0x2B, 0x6A, 0x48];
/// Identity of the box that holds a preview.
const PREVIEW: [u8; 16] =
    [0xEA, 0xF4, 0x2B, 0x5E, 0x1C, 0x98, 0x4B, 0x88, 0xB9, 0xFB, 0xB7, 0xDC, 0x40, 0x6E, 0x4D, 0x16];

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let file = source.len();
    let (boxes, damage) = iso::all(source, 0, file)?;
    let mut found = Found { damage, ..Found::default() };
    let Some((moov, end)) = iso::named(&boxes, b"moov") else {
        if found.damage == Damage::None {
            found.damage = broken("no box that describes the picture");
        }
        return Ok(found);
    };
    let (inner, _) = iso::all(source, moov, end.min(file))?;
    let maker = inside(source, &inner, &HEADERS)?;
    headers(source, &maker, &mut found)?;
    if want.embedded {
        for name in [b"THMB", b"PRVW"] {
            let holder = if name == b"THMB" { maker.clone() } else { preview(source, &boxes)? };
            if let Some((body, _)) = iso::named(&holder, name) {
                found.embedded.extend(picture(source, name, body)?);
            }
        }
        let streams = std::mem::take(&mut found.embedded);
        for stream in streams {
            embedded::add(&mut found.embedded, file, stream);
        }
    }
    if found.damage == Damage::None {
        found.damage = match iso::named(&boxes, b"mdat") {
            Some((at, end)) => zeros(source, (at, end.saturating_sub(at)))?,
            None => cut_short("no picture data"),
        };
    }
    Ok(found)
}

/// The boxes inside the `uuid` box of that identity.
fn inside(source: &mut Source, boxes: &[iso::IsoBox], identity: &[u8; 16]) -> io::Result<Vec<iso::IsoBox>> {
    for b in boxes.iter().filter(|b| &b.name == b"uuid") {
        if source.array_at::<16>(b.body)?.as_ref() == Some(identity) {
            return Ok(iso::all(source, b.body + 16, b.end.min(source.len()))?.0);
        }
    }
    Ok(Vec::new())
}

/// The preview's box, which stands behind eight bytes of its holder.
fn preview(source: &mut Source, boxes: &[iso::IsoBox]) -> io::Result<Vec<iso::IsoBox>> {
    for b in boxes.iter().filter(|b| &b.name == b"uuid") {
        if source.array_at::<16>(b.body)? == Some(PREVIEW) {
            return Ok(iso::at(source, b.body + 24, b.end)?.into_iter().collect());
        }
    }
    Ok(Vec::new())
}

/// Fields and size from the TIFF streams.
fn headers(source: &mut Source, maker: &[iso::IsoBox], found: &mut Found) -> io::Result<()> {
    let mut gather = Gather::default();
    let mut any = false;
    for (name, part) in [(b"CMT1", Part::Main), (b"CMT2", Part::Exif)] {
        let Some((base, end)) = iso::named(maker, name) else { continue };
        any = true;
        let Some((stream, first)) = Stream::open(source, base, end)? else {
            gather.lost();
            continue;
        };
        let wanted = |tag| is_wanted(tag) || pictures::is_wanted(tag);
        let Some(directory) = stream.directory(source, first, wanted)? else {
            gather.lost();
            continue;
        };
        gather.take(&stream, &directory, part);
        if part == Part::Main {
            let picture = pictures::Picture::of(source, &stream, &directory)?;
            found.size = match (picture.width, picture.height) {
                (0, 0) => Cell::Absent,
                (width, height) => size(width, height),
            };
        }
    }
    if let Some((base, end)) = iso::named(maker, b"CMT4")
        && let Some((stream, first)) = Stream::open(source, base, end)?
    {
        gather.follow_satellite(source, &stream, first)?;
    }
    found.exif = if any { gather.finish(source)? } else { Block::Absent };
    Ok(())
}

/// A picture's box: version and flags, then (behind two bytes more in `PRVW`) width and height, the stream's
/// length, and the stream from its 16th byte on.
fn picture(source: &mut Source, name: &[u8; 4], body: u64) -> io::Result<Option<Embedded>> {
    let Some(b) = source.array_at::<16>(body)? else { return Ok(None) };
    let short = |at: usize| u32::from(u16::from_be_bytes([b[at], b[at + 1]]));
    let (width, height, len) = if name == b"THMB" {
        (short(4), short(6), short(8) << 16 | short(10))
    } else {
        (short(6), short(8), short(12) << 16 | short(14))
    };
    let size = (width > 0 && height > 0).then_some((width, height));
    Ok(Some(Embedded { at: body + 16, len: u64::from(len), size }))
}
