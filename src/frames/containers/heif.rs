//! HEIF, HIF and AVIF (ISO/IEC 23008-12): boxes with lengths; the Exif block is an item that the `meta` box
//! names.

use std::collections::HashMap;
use std::io;

use super::carried;
use super::embedded::{self, Embedded};
use super::found::{Found, Want, broken, cut_short, size, zeros};
use super::iso;
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// A `meta` box is at most this long.
const MOST_META: u64 = 1024 * 1024;

/// Items and extents that are looked at.
const MOST_ITEMS: u32 = 20_000;

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let file = source.len();
    let (boxes, damage) = iso::all(source, 0, file)?;
    let mut found = Found { damage, ..Found::default() };
    let Some((body, end)) = iso::named(&boxes, b"meta") else {
        if found.damage == Damage::None {
            found.damage = broken("no box that describes the picture");
        }
        return Ok(found);
    };
    let length = end.min(file).saturating_sub(body);
    if length > MOST_META {
        found.damage = broken("a description of impossible length");
        return Ok(found);
    }
    // Version and flags go before the boxes.
    let bytes = source.read_at(body, length as usize)?;
    let meta = Meta::of(bytes.get(4..).unwrap_or_default(), body + 4);
    found.size = meta.size;
    let items: Vec<Item> = meta.items.iter().filter_map(|(id, kind)| meta.item(*id, *kind)).collect();
    if found.damage == Damage::None
        && let Some(last) = items.iter().map(|item| item.end).max().filter(|last| *last > file)
    {
        found.damage = cut_short(format!("its data ends at byte {last} of {file}"));
    }
    if let Some(item) = items.iter().find(|item| &item.kind == b"Exif") {
        found.exif = exif(source, item)?;
        if want.embedded
            && let Some(base) = tiff_header(source, item)?
        {
            carried::in_block(source, base, item.end, &mut found.embedded)?;
        }
    } else if meta.items.iter().any(|(_, kind)| kind == b"Exif") {
        found.exif = Block::Unreadable;
    }
    for item in items.iter().filter(|item| want.embedded && &item.kind == b"jpeg") {
        embedded::add(
            &mut found.embedded,
            file,
            Embedded { at: item.at, len: item.end.saturating_sub(item.at), size: None },
        );
    }
    if found.damage == Damage::None
        && let Some((at, end)) = iso::named(&boxes, b"mdat")
    {
        found.damage = zeros(source, (at, end.saturating_sub(at)))?;
    }
    Ok(found)
}

/// Where the TIFF header of an Exif item stands: its first four bytes say how far behind them.
fn tiff_header(source: &mut Source, item: &Item) -> io::Result<Option<u64>> {
    let Some(by) = source.array_at::<4>(item.at)? else { return Ok(None) };
    let base = item.at.saturating_add(4).saturating_add(u64::from(u32::from_be_bytes(by)));
    Ok((base < item.end).then_some(base))
}

fn exif(source: &mut Source, item: &Item) -> io::Result<Block> {
    match tiff_header(source, item)? {
        Some(base) => Block::at(source, base, item.end),
        None => Ok(Block::Unreadable),
    }
}

/// An item that lies in one piece.
struct Item {
    kind: [u8; 4],
    /// Where it begins and ends in the file.
    at: u64,
    end: u64,
}

/// What the `meta` box says.
struct Meta {
    size: Cell<(u32, u32)>,
    /// Identity and type of every item.
    items: Vec<(u32, [u8; 4])>,
    /// Where the items lie, by their identity.
    places: HashMap<u64, Place>,
    /// Where the body of the box lies that may hold items itself.
    data: Option<u64>,
}

impl Meta {
    /// Reads the boxes of a `meta` box, which begin at `from` of the file.
    fn of(bytes: &[u8], from: u64) -> Self {
        let mut out = Self { size: Cell::Absent, items: Vec::new(), places: HashMap::new(), data: None };
        for (name, at, body) in boxes(bytes) {
            match name {
                b"iprp" => out.size = largest(body),
                b"iinf" => out.items = items(body),
                b"iloc" => out.places = places(body),
                b"idat" => out.data = Some(from + at as u64),
                _ => {}
            }
        }
        out
    }

    /// Where an item lies; `None` where it is in pieces, in another file or made from other items.
    fn item(&self, id: u32, kind: [u8; 4]) -> Option<Item> {
        let place = self.places.get(&u64::from(id))?;
        let base = match place.method {
            0 => place.base,
            1 => place.base.checked_add(self.data?)?,
            _ => return None,
        };
        let at = base.checked_add(place.extent.0)?;
        let end = at.checked_add(place.extent.1)?;
        (place.extents == 1 && !place.other_file).then_some(Item { kind, at, end })
    }
}

/// What the box of places says of one item.
struct Place {
    /// 0: counted from the file's first byte; 1: from the `idat` box.
    method: u64,
    other_file: bool,
    base: u64,
    extents: u64,
    /// Offset and length of the last extent.
    extent: (u64, u64),
}

/// Where the items lie (`iloc`, ISO/IEC 14496-12, 8.11.3), as far as the box can be followed. Of two entries
/// for one item the first counts.
fn places(iloc: &[u8]) -> HashMap<u64, Place> {
    let mut out = HashMap::new();
    let mut reader = Reader(iloc);
    let Some(shape) = Shape::of(&mut reader) else { return out };
    let count = reader.number(shape.id).unwrap_or(0).min(u64::from(MOST_ITEMS));
    for _ in 0..count {
        let Some((id, place)) = shape.place(&mut reader) else { break };
        out.entry(id).or_insert(place);
    }
    out
}

/// How many bytes the fields of an `iloc` box take.
struct Shape {
    version: u64,
    id: u64,
    index: u64,
    offset: u64,
    length: u64,
    base: u64,
}

impl Shape {
    fn of(reader: &mut Reader<'_>) -> Option<Self> {
        let version = reader.number(1)?;
        reader.number(3)?;
        let (sizes, more) = (reader.number(1)?, reader.number(1)?);
        Some(Self {
            version,
            id: if version < 2 { 2 } else { 4 },
            index: if version == 0 { 0 } else { more & 15 },
            offset: sizes >> 4,
            length: sizes & 15,
            base: more >> 4,
        })
    }

    fn place(&self, reader: &mut Reader<'_>) -> Option<(u64, Place)> {
        let id = reader.number(self.id)?;
        let method = if self.version == 0 { 0 } else { reader.number(2)? & 15 };
        let other_file = reader.number(2)? != 0;
        let base = reader.number(self.base)?;
        let extents = reader.number(2)?;
        let mut extent = (0, 0);
        // Extents without a byte of their own are all the same, and so many that they would never end.
        let told = if self.index + self.offset + self.length == 0 { 0 } else { extents };
        for _ in 0..told {
            reader.number(self.index)?;
            extent = (reader.number(self.offset)?, reader.number(self.length)?);
        }
        Some((id, Place { method, other_file, base, extents, extent }))
    }
}

/// Identities and types of the items (`iinf` with its `infe` boxes).
fn items(iinf: &[u8]) -> Vec<(u32, [u8; 4])> {
    let skip = if iinf.first() == Some(&0) { 6 } else { 8 };
    let mut out = Vec::new();
    for (name, _, infe) in boxes(iinf.get(skip..).unwrap_or_default()) {
        let mut reader = Reader(infe);
        let id_size = match reader.number(1) {
            Some(2) => 2,
            Some(3) => 4,
            // Earlier versions name no type.
            _ => continue,
        };
        let id = reader.number(3).and_then(|_| reader.number(id_size));
        let kind = reader.number(2).and_then(|_| reader.0.first_chunk::<4>());
        if let (b"infe", Some(id), Some(kind)) = (name, id.and_then(|id| u32::try_from(id).ok()), kind) {
            out.push((id, *kind));
        }
    }
    out.truncate(MOST_ITEMS as usize);
    out
}

/// Takes numbers of some bytes each, the highest byte first.
struct Reader<'a>(&'a [u8]);

impl Reader<'_> {
    fn number(&mut self, bytes: u64) -> Option<u64> {
        let (number, rest) = self.0.split_at_checked(usize::try_from(bytes).ok()?)?;
        self.0 = rest;
        Some(number.iter().fold(0, |n, byte| n << 8 | u64::from(*byte)))
    }
}

/// The largest extent that the item properties (`iprp`, `ipco`, `ispe`) name: a picture made of tiles and the
/// thumbnails stand there beside the picture itself.
fn largest(iprp: &[u8]) -> Cell<(u32, u32)> {
    let mut best = Cell::Absent;
    for (_, _, ipco) in boxes(iprp).filter(|(name, _, _)| *name == b"ipco") {
        for (_, _, ispe) in boxes(ipco).filter(|(name, _, _)| *name == b"ispe") {
            let number =
                |at| ispe.get(at..at + 4).and_then(|b| b.first_chunk::<4>()).map(|b| u32::from_be_bytes(*b));
            let (Some(w), Some(h)) = (number(4), number(8)) else { continue };
            let area = |(w, h): (u32, u32)| u64::from(w) * u64::from(h);
            if best.known().is_none_or(|known| area((w, h)) > area(known)) {
                best = size(w, h);
            }
        }
    }
    best
}

/// The boxes that lie in `bytes` one after the other: name, place of the body in `bytes`, body.
fn boxes(bytes: &[u8]) -> impl Iterator<Item = (&[u8; 4], usize, &[u8])> {
    let mut at = 0;
    std::iter::from_fn(move || {
        let rest = bytes.get(at..)?;
        let length = u32::from_be_bytes(*rest.first_chunk::<4>()?) as usize;
        let length = if length == 0 { rest.len() } else { length };
        let name = rest.get(4..8)?.first_chunk::<4>()?;
        let body = rest.get(8..length)?;
        let place = at + 8;
        at += length;
        Some((name, place, body))
    })
}
