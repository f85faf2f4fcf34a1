//! What a WebP file declares.
//!
//! Source: RFC 9649 (WebP Image Format), sections 2 and 3; RFC 6386 (VP8), section 9.1.

use super::caps::{Role, Work};
use super::codes;

/// The largest size that any part of the file declares, and the bytes at the peak; `None` where none does, or
/// where a lossless picture cannot be followed to its codes. The file's canvas, each frame and each coded
/// picture have sizes of their own, and a decoder makes room by each of them before it compares them.
pub(crate) fn declared(bytes: &[u8]) -> Option<Work> {
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
    // What is too large in any case is not looked into.
    let pieces = told.lossless.iter().flatten().filter(|_| most <= Role::Slow.most_pixels());
    let mut tables = 0;
    for piece in pieces {
        tables = codes::tables(piece.bytes, piece.size, piece.headed)?.max(tables);
    }
    Some(Work { size, bytes: picture.saturating_add(tables), ..Work::default() })
}

/// A lossless picture, or what is transparent of a lossy one.
struct Lossless<'a> {
    bytes: &'a [u8],
    size: (u64, u64),
    headed: bool,
}

#[derive(Default)]
struct Told<'a> {
    /// The largest size, and its pixels.
    largest: Option<((u64, u64), u64)>,
    /// Of the file and of its first frame, the first lossless picture and the first transparency: a decoder
    /// takes these.
    lossless: [Option<Lossless<'a>>; 4],
    /// The size of the canvas, or of the frame.
    canvas: (u64, u64),
    /// True where there is transparency.
    clear: bool,
    /// True where the file moves.
    moving: bool,
}

impl<'a> Told<'a> {
    fn size(&mut self, width: u64, height: u64) {
        let pixels = width.saturating_mul(height);
        if self.largest.is_none_or(|(_, most)| pixels > most) {
            self.largest = Some(((width, height), pixels));
        }
    }

    fn chunks(&mut self, mut rest: &'a [u8], outer: bool) {
        while let Some((head, after)) = rest.split_first_chunk::<8>() {
            let length = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
            let body = after.get(..length).unwrap_or(after);
            self.chunk(&head[..4], body, outer);
            rest = after.get(length.saturating_add(length % 2)..).unwrap_or_default();
        }
    }

    fn chunk(&mut self, name: &[u8], body: &'a [u8], outer: bool) {
        let number =
            |at: usize| body.get(at..at + 3).map(|n| u64::from(u32::from_le_bytes([n[0], n[1], n[2], 0])));
        match name {
            b"VP8X" => {
                self.clear |= body.first().is_some_and(|flags| flags & 0x10 != 0);
                if let (Some(width), Some(height)) = (number(4), number(7)) {
                    self.canvas = (width + 1, height + 1);
                    self.size(width + 1, height + 1);
                }
            }
            b"ANMF" if outer => {
                self.moving = true;
                if let (Some(width), Some(height)) = (number(6), number(9)) {
                    self.canvas = (width + 1, height + 1);
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
                if let Some([a, b, c, d]) = body.get(1..5).and_then(|s| s.first_chunk()) {
                    let sides = u64::from(u32::from_le_bytes([*a, *b, *c, *d]));
                    let size = ((sides & 0x3FFF) + 1, (sides >> 14 & 0x3FFF) + 1);
                    self.size(size.0, size.1);
                    let place = &mut self.lossless[if outer { 0 } else { 2 }];
                    place.get_or_insert(Lossless { bytes: body, size, headed: true });
                    self.clear |= sides >> 28 & 1 == 1;
                }
            }
            b"ALPH" => {
                self.clear = true;
                // Its first byte says how it is packed: 1 is a lossless picture without a header.
                if let Some((1, bytes)) = body.split_first().map(|(how, bytes)| (how & 3, bytes)) {
                    let place = &mut self.lossless[if outer { 1 } else { 3 }];
                    place.get_or_insert(Lossless { bytes, size: self.canvas, headed: false });
                }
            }
            _ => {}
        }
    }
}
