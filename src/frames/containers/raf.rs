//! RAF: a header of fixed places (highest byte first), a whole JPEG with the Exif block, a directory of the
//! sensor's picture, its data. The maker publishes no description; the places are what readers of the format
//! agree on: 84 and 88 the JPEG and its length, 92 and 96 the directory, 100 and 104 the data.

use std::io;

use super::embedded::{self, Embedded};
use super::found::{Found, Want, broken, cut_short, size, zeros};
use super::jpeg;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// Records of the directory that are looked at.
const MOST_RECORDS: u32 = 256;

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let file = source.len();
    let Some(header) = source.array_at::<108>(0)? else {
        return Ok(Found { damage: cut_short("it ends in its header"), ..Found::default() });
    };
    let place = |at: usize| {
        let number = |at: usize| {
            u64::from(u32::from_be_bytes([header[at], header[at + 1], header[at + 2], header[at + 3]]))
        };
        (number(at), number(at + 4))
    };
    let (picture, directory, data) = (place(84), place(92), place(100));
    let mut found = Found::default();
    if source.array_at::<2>(picture.0)? == Some([0xFF, 0xD8]) {
        let header = jpeg::header(source, picture.0)?;
        found.exif = header.exif(source)?;
        found.size = header.size;
        if want.embedded {
            header.embedded(source, &mut found.embedded)?;
            let whole = Embedded { at: picture.0, len: picture.1, size: header.size.known() };
            embedded::add(&mut found.embedded, file, whole);
        }
    } else {
        found.damage = broken("no picture where its header says that one is");
    }
    found.size = sensor_size(source, directory)?.or(found.size);
    let end = [picture, directory, data].iter().map(|(at, len)| at + len).max().unwrap_or(0);
    if end > file {
        found.damage = cut_short(format!("its picture data ends at byte {end} of {file}"));
    } else if found.damage == Damage::None {
        found.damage = zeros(source, data)?;
    }
    Ok(found)
}

/// The directory: a count, then records of a tag, a length and that many bytes. 0111 is height and width of
/// the picture, 0100 those of the sensor.
fn sensor_size(source: &mut Source, (at, len): (u64, u64)) -> io::Result<Cell<(u32, u32)>> {
    let end = at.saturating_add(len);
    let Some(count) = source.array_at::<4>(at)? else { return Ok(Cell::Absent) };
    let mut place = at.saturating_add(4);
    let mut sensor = Cell::Absent;
    for _ in 0..u32::from_be_bytes(count).min(MOST_RECORDS) {
        let Some([t1, t2, l1, l2]) = source.array_at::<4>(place)?.filter(|_| place < end) else { break };
        let tag = u16::from_be_bytes([t1, t2]);
        if matches!(tag, 0x0100 | 0x0111)
            && let Some([h1, h2, w1, w2]) = source.array_at::<4>(place + 4)?
        {
            let number = |a, b| u32::from(u16::from_be_bytes([a, b]));
            let told = size(number(w1, w2), number(h1, h2));
            if tag == 0x0111 {
                return Ok(told);
            }
            sensor = told;
        }
        place += 4 + u64::from(u16::from_be_bytes([l1, l2]));
    }
    Ok(sensor)
}
