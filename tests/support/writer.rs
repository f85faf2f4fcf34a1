//! A small writer of JPEG files with an Exif block, for tests: little-endian, one main and one Exif
//! directory.

/// A field's value: its Exif type and its bytes.
#[derive(Clone, Debug)]
pub enum Put<'a> {
    Ascii(&'a str),
    Short(&'a [u16]),
    Long(u32),
    Ratio(u32, u32),
    #[allow(dead_code)] // a bench writes it
    Signed(i32, i32),
    /// Bytes of no further meaning (type 7).
    Bytes(&'a [u8]),
}

fn field(tag: u16, put: &Put) -> (u16, u16, u32, Vec<u8>) {
    let (kind, count, bytes) = match put {
        Put::Ascii(text) => (2, text.len() as u32 + 1, [text.as_bytes(), &[0]].concat()),
        Put::Short(list) => (3, list.len() as u32, list.iter().flat_map(|n| n.to_le_bytes()).collect()),
        Put::Long(n) => (4, 1, n.to_le_bytes().to_vec()),
        Put::Ratio(n, d) => (5, 1, [n.to_le_bytes(), d.to_le_bytes()].concat()),
        Put::Signed(n, d) => (10, 1, [n.to_le_bytes(), d.to_le_bytes()].concat()),
        Put::Bytes(bytes) => (7, bytes.len() as u32, bytes.to_vec()),
    };
    (tag, kind, count, bytes)
}

/// One directory that begins at `base` of the block.
fn directory(fields: &[(u16, Put)], base: usize) -> Vec<u8> {
    let mut fields: Vec<_> = fields.iter().map(|(tag, put)| field(*tag, put)).collect();
    fields.sort_by_key(|f| f.0);
    let mut out = (fields.len() as u16).to_le_bytes().to_vec();
    let mut data = Vec::new();
    let data_at = base + 2 + 12 * fields.len() + 4;
    for (tag, kind, count, mut bytes) in fields {
        out.extend(tag.to_le_bytes());
        out.extend(kind.to_le_bytes());
        out.extend(count.to_le_bytes());
        if bytes.len() > 4 {
            out.extend(((data_at + data.len()) as u32).to_le_bytes());
            bytes.resize(bytes.len().next_multiple_of(2), 0);
            data.extend(bytes);
        } else {
            bytes.resize(4, 0);
            out.extend(bytes);
        }
    }
    out.extend([0; 4]);
    out.extend(data);
    out
}

/// A TIFF stream with these fields in its main and in its Exif directory.
pub fn block(main: &[(u16, Put)], exif: &[(u16, Put)]) -> Vec<u8> {
    [b"II*\0\x08\0\0\0".to_vec(), directories(8, main, exif)].concat()
}

/// The main and the Exif directory alone, to stand at `base` of a TIFF stream.
pub fn directories(base: usize, main: &[(u16, Put)], exif: &[(u16, Put)]) -> Vec<u8> {
    let mut main = main.to_vec();
    main.push((0x8769, Put::Long(0)));
    let at = base + directory(&main, base).len();
    if let Some(pointer) = main.last_mut() {
        pointer.1 = Put::Long(at as u32);
    }
    [directory(&main, base), directory(exif, at)].concat()
}

/// A block as [`block`] writes it, with a second directory behind it that holds a thumbnail.
pub fn block_with_thumbnail(main: &[(u16, Put)], exif: &[(u16, Put)], thumbnail: &[u8]) -> Vec<u8> {
    let mut out = block(main, exif);
    let at = out.len();
    let second = |place: u32| {
        let fields = [
            (0x0103, Put::Short(&[6])),
            (0x0201, Put::Long(place)),
            (0x0202, Put::Long(thumbnail.len() as u32)),
        ];
        directory(&fields, at)
    };
    let place = at + second(0).len();
    out.extend(second(place as u32));
    out.extend(thumbnail);
    // The pointer to the next directory stands behind the entries of the first, its pointer to the Exif one
    // included.
    let next = 8 + 2 + 12 * (main.len() + 1);
    out[next..next + 4].copy_from_slice(&(at as u32).to_le_bytes());
    out
}

/// A segment with its marker and length.
pub fn segment(code: u8, payload: &[u8]) -> Vec<u8> {
    [&[0xFF, code][..], &((payload.len() + 2) as u16).to_be_bytes(), payload].concat()
}

/// A JPEG of 640 by 480 with that block, and `scan` bytes of picture data. What it shows is noise; its
/// structure is right.
pub fn jpeg(block: &[u8], scan: usize) -> Vec<u8> {
    let mut out = vec![0xFF, 0xD8];
    if !block.is_empty() {
        out.extend(segment(0xE1, &[b"Exif\0\0", block].concat()));
    }
    out.extend(segment(0xDB, &[1; 65]));
    out.extend(segment(0xC0, &[8, 0x01, 0xE0, 0x02, 0x80, 1, 1, 0x11, 0]));
    out.extend(segment(0xC4, &[0; 28]));
    out.extend(segment(0xDA, &[1, 1, 0, 0, 0x3F, 0]));
    out.extend(picture_data(scan));
    out.extend([0xFF, 0xD9]);
    out
}

/// Bytes as an entropy coder writes them: like noise, each FF followed by 00 (ISO/IEC 10918-1, B.1.1.5).
pub fn picture_data(len: usize) -> Vec<u8> {
    let mut out = Vec::with_capacity(len + 1);
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    while out.len() < len {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        let byte = (state >> 32) as u8;
        out.push(byte);
        if byte == 0xFF {
            out.push(0);
        }
    }
    out
}
