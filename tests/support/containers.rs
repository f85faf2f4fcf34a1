//! Files built byte by byte, one a container, all of the same frame: ACME Snap 7, 2026-05-09 04:10:00.25,
//! 1/60 s, f/8, ISO 200, 6000 by
//! 4000. What they show is noise. Sources: TIFF 6.0 and BigTIFF for the streams; ISO/IEC 14496-12 and
//!       23008-12 (HEIF), 18181-2
//! (JPEG XL), 15444-1 (JP2); ISO/IEC 15948 (PNG); the WebP container specification; CIFF (CRW, from memory).
//! RAF, RW2, CR3 and MRW have no published description: they are built as readers of them agree, which the
//! real files bear out.

use super::writer::{jpeg, picture_data};

/// A value of a field.
#[derive(Clone)]
pub enum V<'a> {
    Text(&'a str),
    Short(u16),
    Long(u32),
    Ratio(u32, u32),
    Bytes(&'a [u8]),
}

/// How a TIFF stream is written.
#[derive(Clone, Copy)]
pub struct Form {
    pub little: bool,
    pub wide: bool,
    pub magic: u16,
}

pub const LITTLE: Form = Form { little: true, wide: false, magic: 42 };
pub const BIG: Form = Form { little: false, wide: false, magic: 42 };
pub const WIDE: Form = Form { little: true, wide: true, magic: 43 };

impl Form {
    fn put(self, out: &mut Vec<u8>, number: u64, bytes: usize) {
        let all = number.to_be_bytes();
        let mut part = all[8 - bytes..].to_vec();
        if self.little {
            part.reverse();
        }
        out.extend(part);
    }

    fn offset(self) -> usize {
        if self.wide { 8 } else { 4 }
    }

    /// Length of a directory of `n` entries.
    fn directory_len(self, n: usize) -> usize {
        if self.wide { 8 + 20 * n + 8 } else { 2 + 12 * n + 4 }
    }

    /// A directory that stands at `base` of the stream, its values behind it.
    pub fn directory(self, base: usize, fields: &[(u16, V)], next: usize) -> Vec<u8> {
        let mut fields = fields.to_vec();
        fields.sort_by_key(|f| f.0);
        let mut out = Vec::new();
        self.put(&mut out, fields.len() as u64, if self.wide { 8 } else { 2 });
        let mut values = Vec::new();
        let values_at = base + self.directory_len(fields.len());
        for (tag, value) in &fields {
            let mut bytes = Vec::new();
            let (kind, count) = match value {
                V::Text(text) => {
                    bytes.extend(text.as_bytes());
                    bytes.push(0);
                    (2, bytes.len())
                }
                V::Short(n) => {
                    self.put(&mut bytes, u64::from(*n), 2);
                    (3, 1)
                }
                V::Long(n) => {
                    self.put(&mut bytes, u64::from(*n), 4);
                    (4, 1)
                }
                V::Ratio(n, d) => {
                    self.put(&mut bytes, u64::from(*n), 4);
                    self.put(&mut bytes, u64::from(*d), 4);
                    (5, 1)
                }
                V::Bytes(b) => {
                    bytes.extend(*b);
                    (7, b.len())
                }
            };
            self.put(&mut out, u64::from(*tag), 2);
            self.put(&mut out, kind, 2);
            self.put(&mut out, count as u64, self.offset());
            if bytes.len() <= self.offset() {
                bytes.resize(self.offset(), 0);
                out.extend(bytes);
            } else {
                self.put(&mut out, (values_at + values.len()) as u64, self.offset());
                bytes.resize(bytes.len().next_multiple_of(2), 0);
                values.extend(bytes);
            }
        }
        self.put(&mut out, next as u64, self.offset());
        out.extend(values);
        out
    }

    /// A header that leads to `first`.
    pub fn header(self, first: usize) -> Vec<u8> {
        let mut out = if self.little { b"II".to_vec() } else { b"MM".to_vec() };
        self.put(&mut out, u64::from(self.magic), 2);
        if self.wide {
            self.put(&mut out, 8, 2);
            self.put(&mut out, 0, 2);
        }
        self.put(&mut out, first as u64, self.offset());
        out
    }

    /// A whole stream: header, main directory (with `more` fields), Exif directory.
    pub fn stream(self, more: &[(u16, V)]) -> Vec<u8> {
        let at = self.header(0).len();
        let main = |exif: u32| {
            let mut fields = MAIN.to_vec();
            fields.extend(more.iter().cloned());
            fields.push((0x8769, V::Long(exif)));
            self.directory(at, &fields, 0)
        };
        let exif_at = at + main(0).len();
        [self.header(at), main(exif_at as u32), self.directory(exif_at, EXIF, 0)].concat()
    }

    /// A stream with one strip of picture data behind it.
    pub fn file(self) -> Vec<u8> {
        let data = picture_data(20_000);
        let with = |at: usize| {
            self.stream(&[
                (0x0100, V::Long(6000)),
                (0x0101, V::Long(4000)),
                (0x0103, V::Short(7)),
                (0x0111, V::Long(at as u32)),
                (0x0117, V::Long(data.len() as u32)),
            ])
        };
        [with(with(0).len()), data].concat()
    }
}

const MAIN: &[(u16, V)] = &[(0x010F, V::Text("ACME")), (0x0110, V::Text("Snap 7"))];
const EXIF: &[(u16, V)] = &[
    (0x829A, V::Ratio(1, 60)),
    (0x829D, V::Ratio(8, 1)),
    (0x8827, V::Short(200)),
    (0x9003, V::Text("2026:05:09 04:10:00")),
    (0x9291, V::Text("25")),
];

/// A box (ISO/IEC 14496-12).
pub fn iso(name: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [&((body.len() + 8) as u32).to_be_bytes()[..], name, body].concat()
}

pub fn jpeg_file() -> Vec<u8> {
    let mut out = jpeg(&LITTLE.stream(&[]), 20_000);
    // The frame's header says 480 by 640.
    let at = out.windows(4).position(|w| w == [0x01, 0xE0, 0x02, 0x80]).expect("a frame header");
    out[at..at + 4].copy_from_slice(&[0x0F, 0xA0, 0x17, 0x70]);
    out
}

pub fn raf() -> Vec<u8> {
    let picture = jpeg_file();
    let mut directory = 1_u32.to_be_bytes().to_vec();
    directory.extend([0x01, 0x11, 0, 4, 0x0F, 0xA0, 0x17, 0x70]);
    let data = picture_data(20_000);
    let mut out = b"FUJIFILMCCD-RAW 0201FF000000Snap 7".to_vec();
    out.resize(84, 0);
    let mut at = 160_u32;
    for part in [&picture, &directory, &data] {
        out.extend(at.to_be_bytes());
        out.extend((part.len() as u32).to_be_bytes());
        at += part.len() as u32;
    }
    out.resize(160, 0);
    [out, picture, directory, data].concat()
}

pub fn rw2() -> Vec<u8> {
    let form = Form { magic: 0x55, ..LITTLE };
    let picture = jpeg_file();
    let data = picture_data(20_000);
    let with = |exif: usize, at: usize| {
        let mut fields = MAIN.to_vec();
        fields.extend([
            (0x04, V::Short(10)),
            (0x05, V::Short(20)),
            (0x06, V::Short(4010)),
            (0x07, V::Short(6020)),
            (0x17, V::Short(200)),
            (0x2E, V::Bytes(&picture)),
            (0x0111, V::Long(at as u32)),
            (0x0117, V::Long(data.len() as u32)),
            (0x8769, V::Long(exif as u32)),
        ]);
        form.directory(24, &fields, 0)
    };
    let exif_at = 24 + with(0, 0).len();
    // Sensitivity stands in the main directory, the fraction of the second in the picture's block.
    let exif = form.directory(exif_at, &EXIF[..2], 0);
    let mut out = form.header(24);
    out.resize(24, 0);
    [out, with(exif_at, exif_at + exif.len()), exif, data].concat()
}

pub fn orf() -> Vec<u8> {
    Form { magic: 0x4F52, ..LITTLE }.file()
}

pub fn cr3() -> Vec<u8> {
    let mut main = MAIN.to_vec();
    main.extend([(0x0100, V::Short(6000)), (0x0101, V::Short(4000))]);
    let stream = |fields: &[(u16, V)]| [LITTLE.header(8), LITTLE.directory(8, fields, 0)].concat();
    let thumbnail = jpeg(b"", 2000);
    let mut picture = vec![0; 4];
    picture.extend([0, 160, 0, 120]);
    picture.extend((thumbnail.len() as u32).to_be_bytes());
    picture.extend([0, 1, 0, 0]);
    picture.extend(thumbnail);
    let identity = b"\x85\xC0\xB6\x87\x82\x0F\x11\xE0\x81\x11\xF4\xCE\x46\x2B\x6A\x48";
    let inside = [
        identity.to_vec(),
        iso(b"CNCV", b"made up"),
        iso(b"CMT1", &stream(&main)),
        iso(b"CMT2", &stream(EXIF)),
        iso(b"THMB", &picture),
    ];
    [
        iso(b"ftyp", b"crx \0\0\0\x01crx isom"),
        iso(b"moov", &iso(b"uuid", &inside.concat())),
        iso(b"mdat", &picture_data(20_000)),
    ]
    .concat()
}

/// The Exif block behind the picture's data, in the data box.
pub fn heif(brand: &[u8; 4]) -> Vec<u8> {
    let block = [&[0, 0, 0, 0][..], &BIG.stream(&[])].concat();
    let data = picture_data(20_000);
    let head = iso(b"ftyp", &[&brand[..], &[0; 4], b"mif1", brand].concat());
    let infe = |id: u8, kind: &[u8; 4]| iso(b"infe", &[&[2, 0, 0, 0, 0, id, 0, 0][..], kind, &[0]].concat());
    let meta = |at: usize| {
        let mut places = vec![0, 0, 0, 0, 0x44, 0, 0, 2];
        for (id, from, len) in [(1, at, data.len()), (2, at + data.len(), block.len())] {
            places.extend([0, id, 0, 0, 0, 1]);
            places.extend((from as u32).to_be_bytes());
            places.extend((len as u32).to_be_bytes());
        }
        let ispe = iso(b"ispe", &[[0; 4], 6000_u32.to_be_bytes(), 4000_u32.to_be_bytes()].concat());
        let inside = [
            vec![0; 4],
            iso(b"hdlr", &[&[0; 8][..], b"pict", &[0; 13]].concat()),
            iso(b"pitm", &[0, 0, 0, 0, 0, 1]),
            iso(b"iinf", &[vec![0, 0, 0, 0, 0, 2], infe(1, b"hvc1"), infe(2, b"Exif")].concat()),
            iso(b"iprp", &iso(b"ipco", &ispe)),
            iso(b"iloc", &places),
        ];
        iso(b"meta", &inside.concat())
    };
    let at = head.len() + meta(0).len() + 8;
    [head, meta(at), iso(b"mdat", &[data, block].concat())].concat()
}

pub fn jxl() -> Vec<u8> {
    let exif = [&[0, 0, 0, 0][..], &LITTLE.stream(&[])].concat();
    // SizeHeader: not small, 13 bits of height, no ratio, 13 bits of width.
    let bits: u64 = 1 << 1 | 3999 << 3 | 1 << 19 | 5999 << 21;
    let stream = [&[0xFF, 0x0A][..], &bits.to_le_bytes(), &picture_data(20_000)].concat();
    [
        iso(b"JXL ", b"\r\n\x87\n"),
        iso(b"ftyp", b"jxl \0\0\0\0jxl "),
        iso(b"Exif", &exif),
        iso(b"jxlc", &stream),
    ]
    .concat()
}

pub fn jp2() -> Vec<u8> {
    let ihdr = [&4000_u32.to_be_bytes()[..], &6000_u32.to_be_bytes(), &[0, 3, 7, 7, 0, 0]].concat();
    [
        iso(b"jP  ", b"\r\n\x87\n"),
        iso(b"ftyp", b"jp2 \0\0\0\0jp2 "),
        iso(b"jp2h", &iso(b"ihdr", &ihdr)),
        iso(b"uuid", &[b"JpgTiffExif->JP2", &LITTLE.stream(&[])[..]].concat()),
        iso(b"jp2c", &picture_data(20_000)),
    ]
    .concat()
}

pub fn png() -> Vec<u8> {
    let mut out = b"\x89PNG\r\n\x1A\n".to_vec();
    let header = [&6000_u32.to_be_bytes()[..], &4000_u32.to_be_bytes(), &[8, 2, 0, 0, 0]].concat();
    let data = picture_data(20_000);
    let block = BIG.stream(&[]);
    for (name, body) in [(b"IHDR", &header), (b"eXIf", &block), (b"IDAT", &data), (b"IEND", &Vec::new())] {
        out.extend((body.len() as u32).to_be_bytes());
        out.extend([&name[..], body, &[0; 4]].concat());
    }
    out
}

pub fn webp() -> Vec<u8> {
    let chunk = |name: &[u8; 4], body: &[u8]| {
        let mut out = [&name[..], &(body.len() as u32).to_le_bytes(), body].concat();
        out.resize(out.len().next_multiple_of(2), 0);
        out
    };
    let mut extended = vec![8, 0, 0, 0];
    extended.extend(&5999_u32.to_le_bytes()[..3]);
    extended.extend(&3999_u32.to_le_bytes()[..3]);
    let frame = [&[0, 0, 0, 0x9D, 0x01, 0x2A, 0x70, 0x17, 0xA0, 0x0F][..], &picture_data(20_000)].concat();
    let chunks =
        [chunk(b"VP8X", &extended), chunk(b"VP8 ", &frame), chunk(b"EXIF", &LITTLE.stream(&[]))].concat();
    [&b"RIFF"[..], &(chunks.len() as u32 + 4).to_le_bytes(), b"WEBP", &chunks].concat()
}

/// One picture of 60 by 40, so that its data stays small; 12 bits a sample.
pub fn mrw() -> Vec<u8> {
    let block = |name: &[u8; 4], body: &[u8]| [&name[..], &(body.len() as u32).to_be_bytes(), body].concat();
    let mut picture = b"27200001".to_vec();
    for n in [44_u16, 64, 40, 60] {
        picture.extend(n.to_be_bytes());
    }
    picture.extend([12, 12, 0x59, 0, 0, 0, 0, 1]);
    let blocks = [block(b"\0PRD", &picture), block(b"\0TTW", &BIG.stream(&[]))].concat();
    [block(b"\0MRM", &blocks), picture_data(44 * 64 * 3 / 2)].concat()
}

/// A heap in a heap. Exposure in APEX values: 2^-6 s, f/8.
pub fn crw() -> Vec<u8> {
    let heap = |records: &[(u16, Vec<u8>)]| {
        let mut out = Vec::new();
        let mut table = (records.len() as u16).to_le_bytes().to_vec();
        for (tag, body) in records {
            table.extend(tag.to_le_bytes());
            table.extend((body.len() as u32).to_le_bytes());
            table.extend((out.len() as u32).to_le_bytes());
            out.extend(body);
        }
        let at = out.len() as u32;
        out.extend(table);
        out.extend(at.to_le_bytes());
        out
    };
    // 2026-05-09 04:10:00, seconds from 1970 on.
    let stamp = [1_778_299_800_u32.to_le_bytes(), [0; 4], [0; 4]].concat();
    let size = [6000_u32.to_le_bytes(), 4000_u32.to_le_bytes()].concat();
    let exposure = [0_f32.to_le_bytes(), 6_f32.to_le_bytes(), 6_f32.to_le_bytes()].concat();
    let inner = heap(&[(0x180E, stamp), (0x1810, size), (0x300B, heap(&[(0x1818, exposure)]))]);
    let names = heap(&[(0x080A, b"ACME\0Snap 7\0".to_vec())]);
    let outer = heap(&[
        (0x2005, picture_data(20_000)),
        (0x2008, jpeg(b"", 2000)),
        (0x300A, [inner].concat()),
        (0x2807, names),
    ]);
    [b"II\x1A\0\0\0HEAPCCDR\x02\0\x01\0\0\0\0\0\0\0\0\0".to_vec(), outer].concat()
}

/// Every container, by name.
pub fn all() -> Vec<(&'static str, Vec<u8>)> {
    vec![
        ("JPEG", jpeg_file()),
        ("TIFF, lowest byte first", LITTLE.file()),
        ("TIFF, highest byte first", BIG.file()),
        ("TIFF of 64 bits", WIDE.file()),
        ("ORF", orf()),
        ("ORF, highest byte first", Form { magic: 0x4F52, ..BIG }.file()),
        ("RW2", rw2()),
        ("RAF", raf()),
        ("CR3", cr3()),
        ("CRW", crw()),
        ("MRW", mrw()),
        ("HEIC", heif(b"heic")),
        ("AVIF", heif(b"avif")),
        ("JPEG XL", jxl()),
        ("JP2", jp2()),
        ("PNG", png()),
        ("WebP", webp()),
    ]
}
