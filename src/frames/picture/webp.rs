//! What a WebP file declares.
//!
//! Source: RFC 9649 (WebP Image Format), sections 2 and 3; RFC 6386 (VP8), section 9.1.

use super::caps::{MOST_BYTES, Work};

/// What the largest code tables of a lossless file take, bytes for each of its own: five of 1024 entries,
/// written in 32 bytes.
const TABLES: u64 = 700;

/// The largest sizes that any part of the file declares, and the bytes at the peak; `None` where none does.
/// The file's canvas, each frame and each coded picture have sizes of their own, and a decoder makes room by
/// each of them before it compares them.
pub fn declared(bytes: &[u8]) -> Option<Work> {
    let riff = bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP");
    let mut told = Told::default();
    told.chunks(bytes.get(12..).filter(|_| riff)?, true);
    let (size, most) = told.largest?;
    // A lossy picture: its samples (half of them, each way, of the colours), its codes; with transparency,
    // four codes a pixel, and a lossless picture of its own. A lossless one: four bytes a pixel, and three of
    // them again. Of what moves, a canvas and a frame.
    let each = match (told.moving, told.clear) {
        (true, _) => 16,
        (false, true) => 12,
        (false, false) => 8,
    };
    let picture = most.saturating_mul(each).saturating_add(3 * bytes.len() as u64);
    // The tables are no reason to refuse: what has so many is decoded alone.
    let room = MOST_BYTES.saturating_sub(picture.saturating_add(bytes.len() as u64));
    let tables = TABLES.saturating_mul(told.lossless).min(room);
    Some(Work { size, bytes: picture.saturating_add(tables), ..Work::default() })
}

#[derive(Default)]
struct Told {
    /// The largest size, and its pixels.
    largest: Option<((u64, u64), u64)>,
    /// Bytes of lossless pictures.
    lossless: u64,
    /// True where there is transparency.
    clear: bool,
    /// True where the file moves.
    moving: bool,
}

impl Told {
    fn size(&mut self, width: u64, height: u64) {
        let pixels = width.saturating_mul(height);
        if self.largest.is_none_or(|(_, most)| pixels > most) {
            self.largest = Some(((width, height), pixels));
        }
    }

    fn chunks(&mut self, mut rest: &[u8], outer: bool) {
        while let Some((head, after)) = rest.split_first_chunk::<8>() {
            let length = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
            let body = after.get(..length).unwrap_or(after);
            self.chunk(&head[..4], body, outer);
            rest = after.get(length.saturating_add(length % 2)..).unwrap_or_default();
        }
    }

    fn chunk(&mut self, name: &[u8], body: &[u8], outer: bool) {
        let number =
            |at: usize| body.get(at..at + 3).map(|n| u64::from(u32::from_le_bytes([n[0], n[1], n[2], 0])));
        match name {
            b"VP8X" => {
                self.clear |= body.first().is_some_and(|flags| flags & 0x10 != 0);
                if let (Some(width), Some(height)) = (number(4), number(7)) {
                    self.size(width + 1, height + 1);
                }
            }
            b"ANMF" if outer => {
                self.moving = true;
                if let (Some(width), Some(height)) = (number(6), number(9)) {
                    self.size(width + 1, height + 1);
                }
                self.chunks(body.get(16..).unwrap_or_default(), false);
            }
            b"VP8 " => {
                if let (Some(width), Some(height)) = (number(6), number(8)) {
                    self.size(width & 0x3FFF, height & 0x3FFF);
                }
            }
            b"VP8L" => {
                self.lossless += body.len() as u64;
                if let Some([a, b, c, d]) = body.get(1..5).and_then(|s| s.first_chunk()) {
                    let sides = u64::from(u32::from_le_bytes([*a, *b, *c, *d]));
                    self.size((sides & 0x3FFF) + 1, (sides >> 14 & 0x3FFF) + 1);
                    self.clear |= sides >> 28 & 1 == 1;
                }
            }
            b"ALPH" => {
                self.clear = true;
                self.lossless += body.len() as u64;
            }
            _ => {}
        }
    }
}
