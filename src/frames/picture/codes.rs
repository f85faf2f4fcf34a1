//! What the code tables of a lossless WebP picture take. A file of two megabytes may hold 65,536 sets of
//! them, which take over a gigabyte when they are laid out.
//!
//! Source: RFC 9649 (WebP Image Format), sections 4 to 6.

use super::caps::MOST_BYTES;

/// Codes of a set: green with lengths and remembered colours, red, blue, alpha, distance.
const ALPHABETS: [usize; 5] = [256 + 24, 256, 256, 256, 40];
/// In which order the lengths of the codes of lengths stand.
const ORDER: [usize; 19] = [17, 18, 0, 1, 2, 3, 4, 5, 16, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15];
/// Longest code, bits.
const LONGEST: usize = 15;
/// Bits of a code that are looked up at once; what is longer has a tree.
const AT_ONCE: usize = 10;
/// Bytes of a place in the table, of a symbol in the tree, of a set itself.
const PLACE: u64 = 4;
const LEAF: u64 = 32;
const SET: u64 = 512;

/// Bytes of the tables of a picture of that size, at least; more than [`MOST_BYTES`] is not counted to its
/// end. `headed` where the picture begins with a header of its own. `None` where it cannot be followed, and
/// no decoder can.
pub(crate) fn tables(bytes: &[u8], (width, height): (u64, u64), headed: bool) -> Option<u64> {
    let mut bits = Bits { bytes, at: if headed { 40 } else { 0 } };
    let mut across = width;
    let mut seen = [false; 4];
    while bits.take(1)? == 1 {
        let transform = bits.take(2)?;
        // None stands twice.
        if std::mem::replace(seen.get_mut(transform as usize)?, true) {
            return None;
        }
        match transform {
            2 => {}
            3 => {
                let colours = u64::from(bits.take(8)?) + 1;
                bits.picture(colours, 1)?;
                across = match colours {
                    0..=2 => across.div_ceil(8),
                    3..=4 => across.div_ceil(4),
                    5..=16 => across.div_ceil(2),
                    _ => across,
                };
            }
            _ => {
                let side = 1 << (bits.take(3)? + 2);
                bits.picture(across.div_ceil(side), height.div_ceil(side))?;
            }
        }
    }
    let remembered = bits.remembered()?;
    let mut sets = 1;
    if bits.take(1)? == 1 {
        let side = 1 << (bits.take(3)? + 2);
        sets = u64::from(bits.picture(across.div_ceil(side), height.div_ceil(side))?) + 1;
    }
    let mut sum = 0;
    for _ in 0..sets {
        let set = bits.set(remembered)?;
        sum += SET + set.iter().map(Code::bytes).sum::<u64>();
        if sum > MOST_BYTES {
            break;
        }
    }
    Some(sum)
}

/// Bits, the lowest of each byte first.
struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Bits<'_> {
    fn take(&mut self, count: usize) -> Option<u32> {
        let mut out = 0;
        for i in 0..count {
            let byte = self.bytes.get(self.at / 8)?;
            out |= u32::from(byte >> (self.at % 8) & 1) << i;
            self.at += 1;
        }
        Some(out)
    }

    /// How many colours are remembered.
    fn remembered(&mut self) -> Option<usize> {
        match self.take(1)? {
            0 => Some(0),
            _ => match self.take(4)? {
                bits @ 1..=11 => Some(1 << bits),
                _ => None,
            },
        }
    }

    fn set(&mut self, remembered: usize) -> Option<[Code; 5]> {
        let [green, others @ ..] = ALPHABETS;
        let green = self.code(green + remembered)?;
        let [a, b, c, d] = others;
        Some([green, self.code(a)?, self.code(b)?, self.code(c)?, self.code(d)?])
    }

    /// Goes over a small picture that the larger one is made with; the largest of its red and green, taken
    /// for one number.
    fn picture(&mut self, across: u64, down: u64) -> Option<u32> {
        let remembered = self.remembered()?;
        let [green, red, blue, alpha, distance] = self.set(remembered)?;
        let pixels = across * down;
        let (mut at, mut most) = (0, 0);
        while at < pixels {
            let from = self.at;
            match green.read(self)? {
                literal @ ..256 => {
                    most = most.max(red.read(self)? << 8 | literal);
                    blue.read(self)?;
                    alpha.read(self)?;
                    at += 1;
                    // Where a pixel takes no bits, all the others are as it is.
                    if self.at == from {
                        break;
                    }
                }
                length @ 256..280 => {
                    at += self.number(length - 256)?;
                    let distance = distance.read(self)?;
                    self.number(distance)?;
                }
                // A remembered colour has stood there before.
                _ => at += 1,
            }
        }
        Some(most)
    }

    /// A length or a distance (section 5.2.2).
    fn number(&mut self, symbol: u32) -> Option<u64> {
        if symbol < 4 {
            return Some(u64::from(symbol) + 1);
        }
        let more = (symbol as usize - 2) >> 1;
        let extra = self.take(more)?;
        Some((u64::from(2 + (symbol & 1)) << more) + u64::from(extra) + 1)
    }

    /// A code of so many symbols (section 6.2.1).
    fn code(&mut self, symbols: usize) -> Option<Code> {
        if self.take(1)? == 1 {
            let (two, eight) = (self.take(1)? == 1, self.take(1)? == 1);
            let first = self.take(if eight { 8 } else { 1 })?;
            return Some(match two {
                true => Code::two(first, self.take(8)?),
                false => Code::one(first),
            });
        }
        let mut lengths = [0; 19];
        let count = 4 + self.take(4)? as usize;
        for place in ORDER.iter().take(count) {
            lengths[*place] = self.take(3)? as u8;
        }
        let of_lengths = Code::of(&lengths)?;
        let mut left = symbols;
        if self.take(1)? == 1 {
            let bits = 2 + 2 * self.take(3)? as usize;
            left = 2 + self.take(bits)? as usize;
        }
        let mut lengths = Vec::with_capacity(symbols);
        let mut before = 8;
        while lengths.len() < symbols && left > 0 {
            left -= 1;
            let (length, times) = match of_lengths.read(self)? {
                16 => (before, 3 + self.take(2)?),
                17 => (0, 3 + self.take(3)?),
                18 => (0, 11 + self.take(7)?),
                length => (length as u8, 1),
            };
            if length != 0 {
                before = length;
            }
            lengths.extend(std::iter::repeat_n(length, times as usize));
        }
        (lengths.len() <= symbols).then(|| Code::of(&lengths)).flatten()
    }
}

/// A canonical prefix code.
struct Code {
    /// How many codes each length has.
    counts: [u32; LONGEST + 1],
    /// The symbols in the order of their codes.
    symbols: Vec<u16>,
}

impl Code {
    fn one(symbol: u32) -> Self {
        Self { counts: [0; LONGEST + 1], symbols: vec![symbol as u16] }
    }

    fn two(zero: u32, one: u32) -> Self {
        let mut counts = [0; LONGEST + 1];
        counts[1] = 2;
        Self { counts, symbols: vec![zero as u16, one as u16] }
    }

    /// From the length of each symbol's code. A symbol alone takes no bits.
    fn of(lengths: &[u8]) -> Option<Self> {
        let mut counts = [0; LONGEST + 1];
        let mut symbols: Vec<(u8, u16)> = Vec::new();
        for (symbol, length) in (0_u16..).zip(lengths).filter(|(_, length)| **length > 0) {
            *counts.get_mut(usize::from(*length))? += 1;
            symbols.push((*length, symbol));
        }
        symbols.sort_unstable();
        if symbols.len() == 1 {
            counts = [0; LONGEST + 1];
        }
        let symbols: Vec<u16> = symbols.into_iter().map(|(_, symbol)| symbol).collect();
        (!symbols.is_empty()).then_some(Self { counts, symbols })
    }

    fn read(&self, bits: &mut Bits<'_>) -> Option<u32> {
        if let [one] = self.symbols[..] {
            return Some(u32::from(one));
        }
        let (mut code, mut first, mut before) = (0, 0, 0);
        for count in &self.counts[1..] {
            code = code << 1 | bits.take(1)?;
            first <<= 1;
            if code < first + count {
                return self.symbols.get((before + code - first) as usize).map(|s| u32::from(*s));
            }
            (first, before) = (first + count, before + count);
        }
        None
    }

    /// Bytes of its table and of its tree.
    fn bytes(&self) -> u64 {
        let longest = self.counts.iter().rposition(|n| *n > 0).unwrap_or(0);
        let longer: u32 = self.counts.iter().skip(AT_ONCE + 1).sum();
        (PLACE << longest.min(AT_ONCE)) + LEAF * u64::from(longer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bits as a file has them, from numbers and their widths.
    fn written(parts: &[(u32, usize)]) -> Vec<u8> {
        let mut out: Vec<u8> = Vec::new();
        let mut at = 0_usize;
        for (value, width) in parts {
            for i in 0..*width {
                if at.is_multiple_of(8) {
                    out.push(0);
                }
                *out.last_mut().expect("a byte") |= ((value >> i & 1) as u8) << (at % 8);
                at += 1;
            }
        }
        out
    }

    /// A code of one symbol of eight bits.
    fn one(symbol: u32) -> [(u32, usize); 4] {
        [(1, 1), (0, 1), (1, 1), (symbol, 8)]
    }

    /// A picture of sets is one pixel; it says that the last set is 300, so there are 301 of them.
    #[test]
    fn sets_are_counted() {
        let mut parts = vec![(0, 1), (0, 1), (1, 1), (0, 3), (0, 1)];
        [300 & 255, 300 >> 8, 0, 0, 0].iter().for_each(|s| parts.extend(one(*s)));
        for _ in 0..301 {
            // Two symbols of green, one of each other.
            parts.extend([(1, 1), (1, 1), (1, 1), (7, 8), (9, 8)]);
            (0..4).for_each(|_| parts.extend(one(0)));
        }
        let bytes = written(&parts);
        assert_eq!(tables(&bytes, (4, 4), false), Some(301 * (SET + 2 * PLACE + 4 * PLACE)));
        let mut headed = vec![0x2F, 3, 0xC0, 0, 0];
        headed.extend(&bytes);
        assert_eq!(tables(&headed, (4, 4), true), tables(&bytes, (4, 4), false));
        for len in 0..bytes.len() {
            assert_eq!(tables(&bytes[..len], (4, 4), false), None, "{len}");
        }
    }

    #[test]
    fn no_transform_stands_twice() {
        let once = [(1, 1), (2, 2), (0, 1)];
        let twice = [(1, 1), (2, 2), (1, 1), (2, 2), (0, 1)];
        let rest: Vec<_> = [(0, 1), (0, 1)].into_iter().chain((0..5).flat_map(|_| one(0))).collect();
        let told = |transforms: &[_]| tables(&written(&[transforms, &rest[..]].concat()), (4, 4), false);
        assert_eq!((told(&once), told(&twice)), (Some(SET + 5 * PLACE), None));
    }

    /// What a library's encoder writes is followed, and has one set.
    #[test]
    fn an_encoders_file_is_followed() {
        for (width, height) in [(1, 1), (37, 11), (200, 150)] {
            let of = |x: u32, y: u32| image::Rgb([(x * 7) as u8, (y * 5) as u8, (x * y) as u8]);
            let picture = image::RgbImage::from_fn(width, height, of);
            let mut file = std::io::Cursor::new(Vec::new());
            picture.write_to(&mut file, image::ImageFormat::WebP).expect("encoded");
            let bytes = file.into_inner();
            let at = bytes.windows(4).position(|w| w == b"VP8L").expect("a lossless one") + 8;
            let size = (u64::from(width), u64::from(height));
            let taken = tables(&bytes[at..], size, true).expect("it can be followed");
            assert!((SET..SET + 5 * 80_000).contains(&taken), "{taken}");
        }
    }
}
