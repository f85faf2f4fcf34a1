//! CRW: heaps within heaps, each with its table at its end (CIFF, as its maker published it in 1997; from
//! memory). The stamp is whole seconds on the camera's own clock; exposure stands in APEX values. Sensitivity
//! is in the maker's notes alone: absent.

use std::io;

use super::embedded::{self, Embedded};
use super::found::{Found, Want, broken, cut_short, size};
use crate::frames::exif::{Block, Gather, Part};
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};
use crate::units::CivilTime;

/// Records of a heap, and heaps, that are looked at.
const MOST_RECORDS: u16 = 1024;
const MOST_HEAPS: usize = 32;

/// Records: two texts, maker and model; the stamp; size of the picture; APEX values; JPEG streams.
const NAMES: u16 = 0x080A;
const STAMP: u16 = 0x180E;
const SIZE: u16 = 0x1810;
const EXPOSURE: u16 = 0x1818;
const PREVIEW: u16 = 0x2007;
const THUMBNAIL: u16 = 0x2008;

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let file = source.len();
    let mut found = Found::default();
    let Some([_, _, start @ .., _, _]) = source.array_at::<8>(0)? else {
        found.damage = cut_short("it ends in its header");
        return Ok(found);
    };
    let mut gather = Gather::default();
    let mut any = false;
    let mut todo = vec![(u64::from(u32::from_le_bytes(start)), file)];
    for _ in 0..MOST_HEAPS {
        let Some(heap) = todo.pop() else { break };
        for record in table(source, heap)? {
            any = true;
            if record.end() > file {
                found.damage = cut_short(format!("its data ends at byte {} of {file}", record.end()));
            } else if record.is_heap() {
                todo.push((record.at, record.end()));
            } else if matches!(record.tag, PREVIEW | THUMBNAIL) && want.embedded {
                let new = Embedded { at: record.at, len: record.len, size: None };
                embedded::add(&mut found.embedded, file, new);
            } else {
                take(source, &record, &mut gather, &mut found.size)?;
            }
        }
    }
    found.exif = if any { gather.finish(source)? } else { Block::Unreadable };
    if !any && found.damage == Damage::None {
        // The table of the whole stands at the file's end: of a file that was cut it is gone.
        found.damage = broken("no table where its end should hold one");
    }
    Ok(found)
}

/// A record, and where in the file its bytes lie.
struct Record {
    tag: u16,
    at: u64,
    len: u64,
}

impl Record {
    fn end(&self) -> u64 {
        self.at.saturating_add(self.len)
    }

    fn is_heap(&self) -> bool {
        matches!(self.tag & 0x3800, 0x2800 | 0x3000)
    }
}

/// The table of a heap: its place is the heap's last number; then a count, and ten bytes a record.
fn table(source: &mut Source, (start, end): (u64, u64)) -> io::Result<Vec<Record>> {
    let Some(by) = end.checked_sub(4).filter(|at| *at >= start) else { return Ok(Vec::new()) };
    let Some(by) = source.array_at::<4>(by)? else { return Ok(Vec::new()) };
    let place = start.saturating_add(u64::from(u32::from_le_bytes(by)));
    let Some(count) = source.array_at::<2>(place)?.filter(|_| place < end) else { return Ok(Vec::new()) };
    let count = u16::from_le_bytes(count).min(MOST_RECORDS);
    let mut out = Vec::new();
    for i in 0..u64::from(count) {
        let place = place + 2 + 10 * i;
        let Some([t1, t2, l1, l2, l3, l4, a1, a2, a3, a4]) = source.array_at::<10>(place)? else { break };
        let tag = u16::from_le_bytes([t1, t2]);
        let (at, len) = if tag & 0xC000 == 0x4000 {
            // Up to eight bytes stand in the record itself.
            (place + 2, 8)
        } else {
            let number = |bytes| u64::from(u32::from_le_bytes(bytes));
            (start.saturating_add(number([a1, a2, a3, a4])), number([l1, l2, l3, l4]))
        };
        out.push(Record { tag: tag & 0x3FFF, at, len });
    }
    Ok(out)
}

fn take(
    source: &mut Source,
    record: &Record,
    gather: &mut Gather,
    picture: &mut Cell<(u32, u32)>,
) -> io::Result<()> {
    match record.tag {
        NAMES => {
            let bytes = source.read_at(record.at, record.len.min(256) as usize)?;
            let mut texts = bytes.split(|byte| *byte == 0);
            for tag in [0x010F, 0x0110] {
                gather.put_text(Part::Main, tag, texts.next().unwrap_or_default());
            }
        }
        STAMP => {
            if let Some(seconds) = source.array_at::<4>(record.at)? {
                let at = CivilTime::from_seconds(u32::from_le_bytes(seconds).into());
                gather.put_text(Part::Exif, 0x9003, at.iso(0).replace('-', ":").as_bytes());
            }
        }
        SIZE => {
            if let Some([w1, w2, w3, w4, h1, h2, h3, h4]) = source.array_at::<8>(record.at)? {
                *picture = size(u32::from_le_bytes([w1, w2, w3, w4]), u32::from_le_bytes([h1, h2, h3, h4]));
            }
        }
        EXPOSURE => {
            if let Some([_, _, _, _, t1, t2, t3, t4, a1, a2, a3, a4]) = source.array_at::<12>(record.at)? {
                gather.put_float(0x9201, f32::from_le_bytes([t1, t2, t3, t4]));
                gather.put_float(0x9202, f32::from_le_bytes([a1, a2, a3, a4]));
            }
        }
        _ => {}
    }
    Ok(())
}
