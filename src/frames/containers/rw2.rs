//! RW2: TIFF with a magic of its own (`IIU`), whose main directory has tags of its own below 0100 and holds a
//! whole JPEG. The maker publishes no description; the tags are what readers of the format agree on.

use std::io;

use super::embedded::{self, Embedded};
use super::found::{Found, Want, broken, cut_short, size, zeros};
use super::jpeg;
use crate::frames::Damage;
use crate::frames::exif::{Block, Gather, Part, is_wanted};
use crate::frames::source::Source;
use crate::frames::tiff_stream::Stream;

/// Sides of the picture on the sensor: top, left, bottom and right.
const SIDES: [u16; 4] = [4, 5, 6, 7];
/// Sensitivity.
const ISO: u16 = 0x17;
/// A JPEG with an Exif block of its own.
const PICTURE: u16 = 0x2E;
/// Where the sensor's data begins: the strip's place, or where that says FFFFFFFF, the other one.
const DATA: [u16; 2] = [0x111, 0x118];

/// Bytes of that data.
const DATA_BYTES: u16 = 0x117;

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let file = source.len();
    let mut found = Found::default();
    let opened = Stream::open(source, 0, file)?;
    let wanted = |tag| {
        is_wanted(tag)
            || SIDES.contains(&tag)
            || DATA.contains(&tag)
            || matches!(tag, ISO | PICTURE | DATA_BYTES)
    };
    let directory = match &opened {
        Some((stream, first)) => stream.directory(source, *first, wanted)?,
        None => None,
    };
    let (Some((stream, _)), Some(directory)) = (opened, directory) else {
        found.exif = Block::Unreadable;
        found.damage = if file < 32 {
            cut_short("it ends in its header")
        } else {
            broken("its directory cannot be followed")
        };
        return Ok(found);
    };
    let entry = |tag: u16| directory.entries.iter().find(|e| e.tag == tag);
    let number = |tag: u16| entry(tag).and_then(|e| stream.number(e));
    let mut gather = Gather::default();
    if let Some(exif) = gather.take(&stream, &directory, Part::Main) {
        gather.follow_exif(source, &stream, exif)?;
    }
    let mut end = 0;
    if let Some(entry) = entry(PICTURE) {
        end = entry.at.saturating_add(entry.len);
        let header = jpeg::header(source, entry.at)?;
        if let Some((base, end)) = header.block {
            gather.block(source, base, end)?;
        }
        if want.embedded {
            header.embedded(source, &mut found.embedded)?;
            let whole = Embedded { at: entry.at, len: entry.len, size: header.size.known() };
            embedded::add(&mut found.embedded, file, whole);
        }
    }
    if let Some(iso) = number(ISO).and_then(|iso| u32::try_from(iso).ok()) {
        gather.put(0x8827, iso);
    }
    if let [Some(top), Some(left), Some(bottom), Some(right)] = SIDES.map(number) {
        let length = |from: u64, to: u64| u32::try_from(to.saturating_sub(from)).unwrap_or(0);
        found.size = size(length(left, right), length(top, bottom));
    }
    found.exif = gather.finish(source)?;
    let data = DATA.map(number).into_iter().flatten().filter(|at| *at != u64::from(u32::MAX)).max();
    let bytes = number(DATA_BYTES).unwrap_or(0);
    found.damage = match data {
        _ if directory.cut => cut_short("it ends inside a directory"),
        _ if end > file => cut_short(format!("its picture data ends at byte {end} of {file}")),
        Some(at) if at >= file => cut_short(format!("its picture data begins at byte {at} of {file}")),
        Some(at) if at.saturating_add(bytes) > file => {
            cut_short(format!("its picture data ends at byte {} of {file}", at.saturating_add(bytes)))
        }
        Some(at) => zeros(source, (at, bytes))?,
        None => Damage::None,
    };
    Ok(found)
}
