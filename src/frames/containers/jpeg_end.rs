//! Is a JPEG whole? Judged from its end, without reading its picture data.
//!
//! In picture data FF is always followed by 00 or by a restart marker (ISO/IEC 10918-1, B.1.1.5). So an end
//! marker in the last bytes is one, and a window in which every FF is followed so is picture data that was
//! cut off. What stands behind the end marker (the second picture of a multi-picture file, the video of a
//! moving picture, padding) is no damage.

use std::io;

use super::found::{TAIL_BYTES, cut_short};
use crate::frames::Damage;
use crate::frames::source::Source;

/// How much of the end is read where the first look settles nothing.
const WIDE_BYTES: usize = 64 * 1024;

/// A file up to this length is read whole.
const SMALL_FILE: u64 = 16 * 1024;

/// How much of the picture data is walked before a file is called cut short.
const FORWARD_BYTES: usize = 32 * 1024;

/// Judges the file whose picture data begins at `scan`: the damage, and how many of the last bytes were read
/// for it.
pub(crate) fn judge(source: &mut Source, scan: u64) -> io::Result<(Damage, usize)> {
    if scan >= source.len() {
        return Ok((cut_short("no picture data"), 0));
    }
    if source.len() <= SMALL_FILE {
        // All of it is here: the picture data can be walked.
        let data = source.view(scan, SMALL_FILE as usize)?;
        let damage = if walk(data) { Damage::None } else { cut_short(why(data)) };
        return Ok((damage, data.len().min(TAIL_BYTES)));
    }
    let mut bytes = TAIL_BYTES;
    loop {
        let (from, tail) = source.tail(bytes)?;
        let inside = usize::try_from(scan.saturating_sub(from)).unwrap_or(usize::MAX);
        let data = tail.get(inside..).unwrap_or_default();
        match look(data) {
            Look::Whole => return Ok((Damage::None, bytes)),
            Look::Unclear if bytes < WIDE_BYTES => bytes = WIDE_BYTES,
            Look::Cut | Look::Unclear => {
                // A small picture may have ended long before, with the remains of another behind it.
                let why = why(data);
                let whole = walk(source.view(scan, FORWARD_BYTES)?);
                return Ok((if whole { Damage::None } else { cut_short(why) }, bytes));
            }
        }
    }
}

enum Look {
    Whole,
    Cut,
    Unclear,
}

/// What a window at the end of the file shows.
fn look(data: &[u8]) -> Look {
    // The ordinary case, without a walk through the window.
    if data.ends_with(&[0xFF, 0xD9]) {
        return Look::Whole;
    }
    let mut plain = 0;
    let mut strange = 0;
    for pair in data.windows(2).filter(|w| w[0] == 0xFF) {
        match pair[1] {
            0xD9 => return Look::Whole,
            0x00 | 0xD0..=0xD7 => plain += 1,
            // Between two scans of one picture stand tables, comments and the next scan's header; FF may be
            // repeated.
            0xC4 | 0xDA..=0xDD | 0xFE | 0xFF => {}
            // Neither picture data nor what stands between it: something lies behind the picture.
            _ => strange += 1,
        }
    }
    let zeros = data.iter().rev().take_while(|c| **c == 0).count();
    if strange > 0 {
        Look::Whole
    } else if plain >= 4 && zeros < 64 {
        // A handful is enough to tell: other data would have followed one FF with something else.
        Look::Cut
    } else {
        Look::Unclear
    }
}

/// True where the end marker is reached from the first byte of picture data on: data, restart markers, tables
/// and further scans by their lengths.
fn walk(data: &[u8]) -> bool {
    let mut at = 0;
    while let Some(by) = data.get(at..).and_then(|rest| rest.iter().position(|c| *c == 0xFF)) {
        at += by;
        match data.get(at + 1) {
            Some(0xD9) => return true,
            Some(0xFF) => at += 1,
            Some(0x00 | 0x01 | 0xD0..=0xD8) => at += 2,
            Some(_) => match data.get(at + 2..at + 4) {
                Some(length) => at += 2 + usize::from(u16::from_be_bytes([length[0], length[1]])).max(2),
                None => return false,
            },
            None => return false,
        }
    }
    false
}

fn why(data: &[u8]) -> &'static str {
    let zeros = data.iter().rev().take_while(|c| **c == 0).count();
    if zeros >= 64 { "its end is filled with zeros" } else { "its end marker is missing" }
}
