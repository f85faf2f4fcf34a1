//! What reading costs, and what a damaged file looks like.

use crate::support::cases::tried;
use crate::support::writer::{Put, block, directories, jpeg, picture_data, segment};
use lapseproof::frames::source::Source;
use lapseproof::frames::{Cell, Damage, FileKind, FileRead, read_source};
use proptest::prelude::*;

fn read(bytes: Vec<u8>) -> (FileRead, u64, u32) {
    let mut source = Source::over(bytes).expect("memory");
    let read = read_source(&mut source).expect("memory");
    (read, source.bytes_read(), source.reads())
}

fn damage(bytes: Vec<u8>) -> Damage {
    read(bytes).0.row.damage
}

fn cut(why: &str) -> Damage {
    Damage::CutShort(why.into())
}

/// A block of an ordinary camera's size: directories first, then a thumbnail's worth of bytes.
fn camera_block(thumbnail: usize) -> Vec<u8> {
    let mut out = block(
        &[(0x010F, Put::Ascii("ACME")), (0x0110, Put::Ascii("Snap 7"))],
        &[
            (0x9003, Put::Ascii("2026:05:09 04:10:00")),
            (0x829A, Put::Ratio(1, 60)),
            (0x8827, Put::Short(&[200])),
        ],
    );
    out.extend(picture_data(thumbnail));
    out
}

#[test]
fn a_large_jpeg_costs_little() {
    let whole = jpeg(&camera_block(8_000), 20_000_000);
    let (read, bytes, reads) = read(whole);
    assert_eq!(read.row.damage, Damage::None);
    assert_eq!(read.row.iso, Cell::Known(200));
    assert!(bytes <= 16 * 1024 && reads <= 3, "{bytes} bytes in {reads} reads");
}

#[test]
fn segments_behind_the_head_are_reached_without_what_lies_between() {
    // Thumbnail and colour profile fill several segments before the frame's header.
    let mut whole = jpeg(&camera_block(40_000), 20_000_000);
    for _ in 0..4 {
        let profile = segment(0xE2, &[7; 60_000]);
        whole.splice(2..2, profile);
    }
    let (read, bytes, reads) = read(whole);
    assert_eq!((read.row.size, read.row.iso), (Cell::Known((640, 480)), Cell::Known(200)));
    assert!(bytes < 128 * 1024, "{bytes} bytes in {reads} reads");
}

/// A raw whose directories stand at `base` of `len` bytes, with one strip of picture data of `strip` bytes
/// behind the header.
fn raw_with_directory_at(base: usize, len: usize, strip: u32) -> Vec<u8> {
    let told = directories(
        base,
        &[
            (0x0100, Put::Long(6000)),
            (0x0101, Put::Long(4000)),
            (0x010F, Put::Ascii("ACME")),
            (0x0111, Put::Long(64)),
            (0x0117, Put::Long(strip)),
        ],
        &[
            (0x9003, Put::Ascii("2026:05:09 04:10:00")),
            (0x829A, Put::Ratio(1, 60)),
            (0x8827, Put::Short(&[200])),
            (0x927C, Put::Bytes(&[7; 40_000])),
        ],
    );
    let mut whole = vec![0x55; len];
    whole[..4].copy_from_slice(b"II*\0");
    whole[4..8].copy_from_slice(&(base as u32).to_le_bytes());
    whole[base..base + told.len()].copy_from_slice(&told);
    whole
}

#[test]
fn a_raw_costs_little_wherever_its_directory_lies() {
    for base in [64, 100_000, 9_000_000, 19_900_000] {
        let (read, bytes, reads) = read(raw_with_directory_at(base, 20_000_000, 19_000_000));
        assert_eq!(read.row.damage, Damage::None, "{base}");
        assert_eq!(read.row.size, Cell::Known((6000, 4000)), "{base}");
        assert_eq!(
            (read.row.iso, read.row.exposure_s),
            (Cell::Known(200), Cell::Known(1.0 / 60.0)),
            "{base}"
        );
        assert!(read.row.stamp.as_known().is_some() && read.camera.as_known().is_some(), "{base}");
        assert!(bytes <= 32 * 1024 && reads <= 4, "{base}: {bytes} bytes in {reads} reads");
    }
}

#[test]
fn a_raw_that_is_cut_says_so_wherever_its_directory_lies() {
    let words = |whole: Vec<u8>| damage(whole).words();
    assert!(
        words(raw_with_directory_at(150_000, 200_000, 300_000)).contains("ends at byte 300064 of 200000")
    );
    let mut whole = raw_with_directory_at(150_000, 200_000, 100_000);
    whole.truncate(150_040);
    assert!(words(whole.clone()).contains("inside a directory"), "{}", words(whole.clone()));
    whole.truncate(140_000);
    assert!(words(whole.clone()).contains("lies at byte 150000 of 140000"), "{}", words(whole));
}

/// A raw as most cameras write it: directories first, then the picture's data in one strip of `len` bytes.
fn raw(len: u32) -> Vec<u8> {
    let fields = |at| {
        block(
            &[
                (0x0100, Put::Long(6000)),
                (0x0101, Put::Long(4000)),
                (0x0111, Put::Long(at)),
                (0x0117, Put::Long(len)),
            ],
            &[(0x9003, Put::Ascii("2026:05:09 04:10:00")), (0x8827, Put::Short(&[200]))],
        )
    };
    let mut out = fields(0);
    out = fields(out.len() as u32);
    out.extend(picture_data(len as usize));
    out.truncate(out.len().min(fields(0).len() + len as usize));
    out
}

#[test]
fn a_large_raw_costs_little() {
    let whole = raw(25_000_000);
    let (read, bytes, reads) = read(whole.clone());
    assert_eq!((&read.row.damage, read.row.size), (&Damage::None, Cell::Known((6000, 4000))));
    assert_eq!(read.row.iso, Cell::Known(200));
    assert!(bytes <= 32 * 1024 && reads <= 4, "{bytes} bytes in {reads} reads");
    assert!(matches!(damage(whole[..whole.len() - 1].to_vec()), Damage::CutShort(_)));
    // Cut inside its directory.
    assert!(matches!(damage(whole[..40].to_vec()), Damage::CutShort(_) | Damage::Broken(_)));
    assert!(matches!(damage(whole[..6].to_vec()), Damage::CutShort(_) | Damage::Broken(_)));
}

#[test]
fn a_cut_jpeg_costs_little_too() {
    let mut whole = jpeg(&camera_block(8_000), 20_000_000);
    whole.truncate(11_000_000);
    let (read, bytes, _) = read(whole);
    assert_eq!(read.row.damage, cut("its end marker is missing"));
    assert!(bytes < 128 * 1024, "{bytes} bytes");
}

#[test]
fn what_lies_behind_the_picture_is_no_damage() {
    for scan in [200, 100_000] {
        let whole = jpeg(&camera_block(300), scan);
        let with = |tail: &[u8]| damage([&whole[..], tail].concat());
        assert_eq!(with(b""), Damage::None, "{scan}");
        // Padding to a block's end, a second picture, the boxes of a video, a maker's trailer.
        assert_eq!(with(&[0; 700]), Damage::None, "{scan}");
        assert_eq!(with(&[0; 20_000]), Damage::None, "{scan}");
        assert_eq!(with(&[0xFF; 700]), Damage::None, "{scan}");
        assert_eq!(with(&jpeg(&[], 50_000)), Damage::None, "{scan}");
        let noise: Vec<u8> = picture_data(90_000).into_iter().map(|b| b.rotate_left(3) ^ 0x5A).collect();
        assert_eq!(with(&[b"\0\0\0\x18ftypmp42", &noise[..]].concat()), Damage::None, "{scan}");
    }
}

#[test]
fn what_is_missing_is_damage() {
    for scan in [2000, 100_000] {
        let whole = jpeg(&camera_block(300), scan);
        let half = whole[..whole.len() / 2].to_vec();
        assert_eq!(damage(half.clone()), cut("its end marker is missing"), "{scan}");
        // The second half was never written: the card holds zeros in its place.
        let mut zeros = half;
        zeros.resize(whole.len(), 0);
        assert_eq!(damage(zeros), cut("its end is filled with zeros"), "{scan}");
    }
    let whole = jpeg(&camera_block(300), 200);
    assert_eq!(damage(whole[..100].to_vec()), cut("it ends in its header"));
    assert_eq!(damage(Vec::new()), Damage::Empty);
    assert_eq!(damage(b"hello".to_vec()), Damage::NotAPicture);
    assert_eq!(damage(vec![0xFF; 3000]), Damage::NotAPicture);
    // From the second segment on overwritten with something else.
    let mut hole = jpeg(&[], 2000);
    hole[71..].fill(0x11);
    assert!(matches!(damage(hole), Damage::Broken(_)));
}

#[test]
fn equal_files_have_equal_prints() {
    let print = |bytes: Vec<u8>| read(bytes).0.row.print;
    let one = jpeg(&camera_block(300), 100_000);
    let mut other = one.clone();
    let at = other.len() - 100;
    other[at] ^= 1;
    assert_eq!(print(one.clone()), print(one.clone()));
    assert_ne!(print(one), print(other));
}

/// Other containers, cut where their own lengths show it.
#[test]
fn other_containers_cut_short() {
    let png = |chunks: &[(&[u8; 4], &[u8])]| {
        let mut out = b"\x89PNG\r\n\x1A\n".to_vec();
        for (name, data) in chunks {
            out.extend((data.len() as u32).to_be_bytes());
            out.extend([&name[..], data, &[0; 4]].concat());
        }
        out
    };
    let exif = camera_block(0);
    let header = [0, 0, 2, 0, 0, 0, 1, 0, 8, 2, 0, 0, 0];
    let data = picture_data(100_000);
    let before = png(&[(b"IHDR", &header), (b"eXIf", &exif), (b"IDAT", &data), (b"IEND", b"")]);
    let behind =
        png(&[(b"IHDR", &header), (b"IDAT", &data), (b"IDAT", &data), (b"eXIf", &exif), (b"IEND", b"")]);
    for whole in [before, behind] {
        let row = read(whole.clone()).0.row;
        assert_eq!(
            (row.size, row.iso, row.damage),
            (Cell::Known((512, 256)), Cell::Known(200), Damage::None)
        );
        assert!(matches!(damage(whole[..whole.len() / 2].to_vec()), Damage::CutShort(_)));
    }
    let mut webp = b"RIFF\0\0\0\0WEBPVP8X\x0A\0\0\0\0\0\0\0\xFF\x01\0\xFF\0\0EXIF".to_vec();
    webp.extend((exif.len() as u32).to_le_bytes());
    webp.extend(&exif);
    let size = (webp.len() - 8) as u32;
    webp[4..8].copy_from_slice(&size.to_le_bytes());
    let row = read(webp.clone()).0.row;
    assert_eq!((row.size, row.iso, row.damage), (Cell::Known((512, 256)), Cell::Known(200), Damage::None));
    assert!(matches!(damage(webp[..webp.len() - 5].to_vec()), Damage::CutShort(_)));
}

#[test]
fn the_kind_is_what_the_bytes_say() {
    assert_eq!(read(jpeg(&[], 10)).0.kind, Some(FileKind::Jpeg));
    assert_eq!(read(camera_block(0)).0.kind, Some(FileKind::Tiff));
    assert_eq!(read(b"FUJIFILMCCD-RAW 0201".to_vec()).0.kind, Some(FileKind::Raf));
    assert_eq!(read(vec![0xFF; 40]).0.kind, Some(FileKind::Unknown));
}

/// First bytes of every container, so that arbitrary bytes reach every reader.
const STARTS: [&[u8]; 9] = [
    b"",
    b"\xFF\xD8\xFF\xE1",
    b"\xFF\xD8\xFF\xE1\0\x40Exif\0\0II*\0\x08\0\0\0",
    b"II*\0\x08\0\0\0",
    b"MM\0*\0\0\0\x08",
    b"\x89PNG\r\n\x1A\n\0\0\0\x0DIHDR",
    b"RIFF\x40\0\0\0WEBPEXIF",
    b"\0\0\0\x14ftypheic\0\0\0\0mif1\0\0\0\x60meta\0\0\0\0",
    b"\0\0\0\x14ftypavif\0\0\0\0mif1\0\0\0\0meta\0\0\0\0\0\0\0\x20iprp\0\0\0\x18ipco",
];

proptest! {
    #![proptest_config(tried(400))]

    /// `read_source` catches a reader's panic, so a panic is looked for in its words.
    #[test]
    fn arbitrary_bytes_never_panic(
        start in 0..STARTS.len(),
        rest in prop::collection::vec(any::<u8>(), 0..600),
    ) {
        let words = damage([STARTS[start], &rest].concat()).words();
        prop_assert!(!words.contains("its reader failed"), "{}", words);
    }

    #[test]
    fn flipped_bits_never_panic(
        flips in prop::collection::vec((0_usize..900, 0_u32..8), 1..40),
        as_tiff: bool,
    ) {
        let mut bytes = if as_tiff { camera_block(500) } else { jpeg(&camera_block(200), 400) };
        for (at, bit) in flips {
            let at = at % bytes.len();
            bytes[at] ^= 1 << bit;
        }
        let words = damage(bytes).words();
        prop_assert!(!words.contains("its reader failed"), "{}", words);
    }
}
