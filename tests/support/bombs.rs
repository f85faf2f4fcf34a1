//! Small files whose pictures declare more than any machine should give: each is built here, byte by byte.

use super::writer::{Put, block_with_thumbnail, picture_data, segment};

/// A file's name, its bytes, and what must be told of it.
pub type Bomb = (&'static str, Vec<u8>, &'static str);

/// One of each kind.
pub fn all() -> Vec<Bomb> {
    vec![
        ("progressive.jpg", progressive((16384, 16384), 1), "its picture declares 16384 × 16384 pixels"),
        ("scans.jpg", progressive((640, 480), 2000), "its picture has 2000 scans"),
        ("work.jpg", progressive((11000, 11000), 60), "pixels in 60 scans"),
        ("segments.jpg", segments(9000), "its picture has 9004 segments"),
        ("tall.jpg", progressive((200, 60000), 1), "so much taller than it is wide"),
        ("thumbnail.jpg", thumbnail(), "its preview declares 16384 × 16384 pixels"),
        ("lossless.webp", webp_lossless(16383, 16383), "its picture declares 16383 × 16383 pixels"),
        ("lossy.webp", webp_lossy_inside(16383, 16383), "its picture declares 16383 × 16383 pixels"),
        ("bits.png", png((46340, 46340), [1, 0, 0], &[]), "its picture declares 46340 × 46340 pixels"),
        ("wide.png", png((23000, 23000), [8, 2, 0], &[]), "its picture declares 23000 × 23000 pixels"),
        ("deep.png", png((10000, 10000), [16, 6, 1], &[]), "10000 × 10000 pixels and would take"),
        ("packed.tif", tiff((23000, 23000), 32773, &[&[0x81, 0]]), "declares 23000 × 23000 pixels"),
        ("parts.tif", tiff_of_jpegs(), "a part of 640 × 240 pixels that declares 16000 × 16000"),
    ]
}

/// A progressive JPEG of three components and so many scans, of which each holds a byte.
pub fn progressive((width, height): (u16, u16), scans: usize) -> Vec<u8> {
    let mut out = vec![0xFF, 0xD8];
    out.extend(segment(0xDB, &[&[0][..], &[1; 64]].concat()));
    let ([h1, h2], [w1, w2]) = (height.to_be_bytes(), width.to_be_bytes());
    out.extend(segment(0xC2, &[8, h1, h2, w1, w2, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0]));
    // One code of one bit: no difference from the block before.
    let code = [&[1][..], &[0; 16]].concat();
    out.extend(segment(0xC4, &[&[0x00][..], &code].concat()));
    for _ in 0..scans {
        out.extend(segment(0xDA, &[3, 1, 0, 2, 0, 3, 0, 0, 0, 0]));
        out.push(0);
    }
    out.extend([0xFF, 0xD9]);
    out
}

/// A JPEG with so many empty segments.
fn segments(count: u32) -> Vec<u8> {
    let small = progressive((640, 480), 1);
    let mut out = small[..2].to_vec();
    for _ in 0..count {
        out.extend(segment(0xEF, &[]));
    }
    out.extend(&small[2..]);
    out
}

/// A JPEG of 96 by 72 in grey, drawn plainly, whose Exif thumbnail is a bomb.
fn thumbnail() -> Vec<u8> {
    let mut picture = Vec::new();
    let grey = image::GrayImage::from_fn(96, 72, |x, y| image::Luma([(2 * x + y) as u8]));
    let encoder = image::codecs::jpeg::JpegEncoder::new(&mut picture);
    grey.write_with_encoder(encoder).expect("encoded");
    let block = block_with_thumbnail(&[(0x010F, Put::Ascii("ACME"))], &[], &progressive((16384, 16384), 1));
    let exif = segment(0xE1, &[b"Exif\0\0", &block[..]].concat());
    [&picture[..2], &exif, &picture[2..]].concat()
}

fn riff(chunks: &[(&[u8; 4], Vec<u8>)]) -> Vec<u8> {
    let mut body = b"WEBP".to_vec();
    for (name, data) in chunks {
        body.extend_from_slice(*name);
        body.extend((data.len() as u32).to_le_bytes());
        body.extend(data);
        body.resize(body.len().next_multiple_of(2), 0);
    }
    [b"RIFF", &(body.len() as u32).to_le_bytes()[..], &body].concat()
}

fn webp_lossless(width: u32, height: u32) -> Vec<u8> {
    let sides = (width - 1) | (height - 1) << 14;
    riff(&[(b"VP8L", [&[0x2F][..], &sides.to_le_bytes(), &[0; 40]].concat())])
}

/// A lossless picture of 64 by 48 with 65,536 sets of codes (RFC 9649, section 6.2), each of which asks for
/// tables of 1024 places. The picture that names the sets is one value.
pub fn webp_of_tables() -> Vec<u8> {
    let mut bits = Bits::default();
    let one = |bits: &mut Bits, symbol: u32| {
        [(1, 1), (0, 1), (1, 1), (symbol, 8)].iter().for_each(|(v, n)| bits.put(*v, *n));
    };
    bits.put(0x2F, 8);
    bits.put(63, 14);
    bits.put(47, 14);
    bits.put(0, 1 + 3);
    // No transform, no remembered colours, sets by blocks of 4 px; in their picture no remembered colours.
    [(0, 1), (0, 1), (1, 1), (0, 3), (0, 1)].iter().for_each(|(v, n)| bits.put(*v, *n));
    [255, 255, 0, 0, 0].iter().for_each(|symbol| one(&mut bits, *symbol));
    for _ in 0..65_536 {
        (0..5).for_each(|_| lengths(&mut bits));
    }
    riff(&[(b"VP8L", bits.out)])
}

/// The lengths 1, 2, 3 and so on to 9, 10, 10 for the first symbols of a code, whose table then has 1024
/// places.
fn lengths(bits: &mut Bits) {
    bits.put(0, 1);
    // All sixteen plain lengths have codes of four bits.
    bits.put(15, 4);
    [17, 18, 0, 1, 2, 3, 4, 5, 16, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15]
        .iter()
        .for_each(|place| bits.put(if *place < 16 { 4 } else { 0 }, 3));
    // Only the first eleven are told: 2 and a number of four bits.
    bits.put(1, 1);
    bits.put(1, 3);
    bits.put(11 - 2, 4);
    for length in [1_u32, 2, 3, 4, 5, 6, 7, 8, 9, 10, 10] {
        // A code stands with its first bit first.
        bits.put((length << 28).reverse_bits() & 15, 4);
    }
}

/// Bits, the lowest of each byte first.
#[derive(Default)]
struct Bits {
    out: Vec<u8>,
    at: usize,
}

impl Bits {
    fn put(&mut self, value: u32, width: usize) {
        for i in 0..width {
            if self.at.is_multiple_of(8) {
                self.out.push(0);
            }
            *self.out.last_mut().expect("a byte") |= ((value >> i & 1) as u8) << (self.at % 8);
            self.at += 1;
        }
    }
}

/// A small canvas, and a frame in it that is none.
fn webp_lossy_inside(width: u16, height: u16) -> Vec<u8> {
    let canvas = vec![0, 0, 0, 0, 99, 0, 0, 74, 0, 0];
    let sides = [width.to_le_bytes(), height.to_le_bytes()].concat();
    let frame = [&[0x10, 0x02, 0, 0x9D, 0x01, 0x2A][..], &sides, &picture_data(60)].concat();
    riff(&[(b"VP8X", canvas), (b"VP8 ", frame)])
}

/// A PNG of so many bits, of that kind of colour, in passes or not, with these chunks before its pixels, of
/// which there are hardly any.
pub fn png(
    (width, height): (u32, u32),
    [depth, kind, passes]: [u8; 3],
    chunks: &[(&[u8; 4], Vec<u8>)],
) -> Vec<u8> {
    let mut out = b"\x89PNG\r\n\x1A\n".to_vec();
    let header = [&width.to_be_bytes()[..], &height.to_be_bytes(), &[depth, kind, 0, 0, passes]].concat();
    out.extend(chunk(b"IHDR", &header));
    chunks.iter().for_each(|(name, data)| out.extend(chunk(name, data)));
    out.extend(chunk(b"IDAT", &zeros(4096)));
    out.extend(chunk(b"IEND", &[]));
    out
}

/// A chunk with its check (W3C, Portable Network Graphics, annex D).
fn chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let mut crc = u32::MAX;
    for byte in name.iter().chain(data) {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { 0xEDB8_8320 ^ (crc >> 1) } else { crc >> 1 };
        }
    }
    [&(data.len() as u32).to_be_bytes(), &name[..], data, &(!crc).to_be_bytes()].concat()
}

/// A colour profile of so many zeros, packed.
pub fn profile(bytes: usize) -> (&'static [u8; 4], Vec<u8>) {
    (b"iCCP", [&b"bomb\0\0"[..], &zeros(bytes)].concat())
}

/// Zeros, packed with the fixed codes of Deflate (RFC 1951, 3.2.6): 13 bits for each 258.
fn zeros(count: usize) -> Vec<u8> {
    let (mut out, mut bits, mut held) = (vec![0x78, 0x01], 0_u32, 0);
    let mut put = |value: u32, length: u32, out: &mut Vec<u8>| {
        bits |= value << held;
        held += length;
        while held >= 8 {
            out.push(bits as u8);
            (bits, held) = (bits >> 8, held - 8);
        }
    };
    put(0b011, 3, &mut out);
    // A zero is 00110000; a match of 258 is 11000101 and one byte back 00000: codes stand with their first
    // bit first.
    put(0b0000_1100, 8, &mut out);
    for _ in 0..count / 258 {
        put(0b1010_0011, 8, &mut out);
        put(0, 5, &mut out);
    }
    put(0, 7 + 7, &mut out);
    // The sum of that many zeros (RFC 1950, 9).
    let sum = ((1 + 258 * (count / 258)) % 65521) as u32;
    out.extend((sum << 16 | 1).to_be_bytes());
    out
}

/// A TIFF in red, green and blue, of these strips.
pub fn tiff((width, height): (u32, u32), compression: u32, strips: &[&[u8]]) -> Vec<u8> {
    let mut data = Vec::new();
    let mut places = Vec::new();
    for strip in strips {
        places.push((8 + data.len()) as u32);
        data.extend_from_slice(strip);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    let at = 8 + data.len();
    let mut behind = Vec::new();
    let mut list = |values: Vec<u32>| match values[..] {
        [one] => one,
        _ => {
            let place = at + 2 + 10 * 12 + 4 + behind.len();
            values.iter().for_each(|v| behind.extend(v.to_le_bytes()));
            place as u32
        }
    };
    let (count, lengths) = (strips.len() as u32, strips.iter().map(|s| s.len() as u32).collect());
    let (bits, offsets, lengths) = (list(vec![0x0008_0008, 8]), list(places), list(lengths));
    let entries: [(u16, u16, u32, u32); 10] = [
        (0x100, 4, 1, width),
        (0x101, 4, 1, height),
        (0x102, 3, 3, bits),
        (0x103, 3, 1, compression),
        (0x106, 3, 1, 2),
        (0x111, 4, count, offsets),
        (0x115, 3, 1, 3),
        (0x116, 4, 1, height.div_ceil(count)),
        (0x117, 4, count, lengths),
        (0x11C, 3, 1, 1),
    ];
    let mut out = [&b"II*\0"[..], &(at as u32).to_le_bytes(), &data].concat();
    out.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        out.extend(tag.to_le_bytes().into_iter().chain(kind.to_le_bytes()));
        out.extend(count.to_le_bytes().into_iter().chain(value.to_le_bytes()));
    }
    out.extend([0; 4]);
    out.extend(behind);
    out
}

/// A TIFF of 640 by 480 in two JPEG strips, of which each declares 16000 by 16000.
fn tiff_of_jpegs() -> Vec<u8> {
    let strip = progressive((16000, 16000), 1);
    tiff((640, 480), 7, &[&strip, &strip])
}
