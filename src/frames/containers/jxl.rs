//! JPEG XL (ISO/IEC 18181): a bare codestream, which holds no Exif block, or boxes (18181-2) with one in
//! `Exif`. A block that was packed with Brotli (`brob`) is not unpacked here: its fields are absent.

use std::io;

use super::carried;
use super::found::{Found, Want, cut_short, size, zeros};
use super::iso;
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let mut found = Found::default();
    if source.head().starts_with(&[0xFF, 0x0A]) {
        found.size = codestream(source, 0)?;
        return Ok(found);
    }
    let file = source.len();
    let (boxes, damage) = iso::all(source, 0, file)?;
    found.damage = damage;
    if let Some((body, end)) = iso::named(&boxes, b"Exif")
        && let Some(by) = source.array_at::<4>(body)?
    {
        // The first four bytes say how far behind them the TIFF header stands.
        let base = body.saturating_add(4).saturating_add(u64::from(u32::from_be_bytes(by)));
        found.exif = Block::at(source, base, end)?;
        if want.embedded {
            carried::in_block(source, base, end, &mut found.embedded)?;
        }
    }
    // In parts, each behind four bytes that number it, or in one piece.
    let stream = iso::named(&boxes, b"jxlc").map(|(at, _)| at).into_iter();
    let stream = stream.chain(iso::named(&boxes, b"jxlp").map(|(at, _)| at + 4)).next();
    // The number of the last part has its highest bit set.
    if let Some(part) = boxes.iter().rfind(|b| &b.name == b"jxlp")
        && found.damage == Damage::None
        && source.array_at::<1>(part.body)?.is_none_or(|[byte]| byte & 0x80 == 0)
    {
        found.damage = cut_short("its last part is missing");
    }
    let last = boxes.iter().rfind(|b| matches!(&b.name, b"jxlc" | b"jxlp"));
    if let Some(last) = last.filter(|_| found.damage == Damage::None) {
        found.damage = zeros(source, (last.body, last.end.saturating_sub(last.body)))?;
    }
    match stream {
        Some(at) => found.size = codestream(source, at)?,
        None if found.damage == Damage::None => found.damage = cut_short("no picture data"),
        None => {}
    }
    Ok(found)
}

/// Width and height from the header of a codestream (18181-1, SizeHeader): bits from the lowest on.
fn codestream(source: &mut Source, at: u64) -> io::Result<Cell<(u32, u32)>> {
    let Some([0xFF, 0x0A, bytes @ ..]) = source.array_at::<14>(at)? else { return Ok(Cell::Unreadable) };
    let mut bits = Bits(bytes.iter().rev().fold(0, |n, byte| n << 8 | u128::from(*byte)));
    let small = bits.take(1) == 1;
    let height = if small { 8 * (bits.take(5) + 1) } else { bits.length() };
    let width = match bits.take(3) {
        0 if small => 8 * (bits.take(5) + 1),
        0 => bits.length(),
        ratio => {
            let (n, d) = [(1, 1), (12, 10), (4, 3), (3, 2), (16, 9), (5, 4), (2, 1)][ratio as usize - 1];
            height * n / d
        }
    };
    Ok(size(u32::try_from(width).unwrap_or(0), u32::try_from(height).unwrap_or(0)))
}

struct Bits(u128);

impl Bits {
    fn take(&mut self, count: u32) -> u64 {
        let out = self.0 & ((1 << count) - 1);
        self.0 >>= count;
        out as u64
    }

    /// A length of 9, 13, 18 or 30 bits, as the two bits before it say.
    fn length(&mut self) -> u64 {
        let bits = [9, 13, 18, 30][self.take(2) as usize];
        self.take(bits) + 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_of_codestreams() {
        let of = |bits: u128| {
            let bytes = [&[0xFF, 0x0A][..], &bits.to_le_bytes()].concat();
            codestream(&mut Source::over(bytes).expect("memory"), 0).expect("memory")
        };
        // Small, 32 · 8 high; ratio 1:1, and a width of its own.
        assert_eq!(of(1 | 31 << 1 | 1 << 6), Cell::Known((256, 256)));
        assert_eq!(of(1 | 31 << 1 | 9 << 9), Cell::Known((80, 256)));
        // 13 bits of height, ratio 3:2; then 13 bits of width.
        assert_eq!(of(1 << 1 | 3999 << 3 | 4 << 16), Cell::Known((6000, 4000)));
        assert_eq!(of(1 << 1 | 3999 << 3 | 1 << 19 | 5999 << 21), Cell::Known((6000, 4000)));
    }
}
