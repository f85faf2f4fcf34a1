//! Every container, built byte by byte from its published structure, says the same of the same frame; and
//! what it cannot hold is absent. Real files of these containers are compared with an outside reader in
//! `real_files.rs`.

use crate::support::containers::{LITTLE, V, all, cr3, crw, heif, iso, jxl, mrw, raf, rw2};
use crate::support::writer::picture_data;
use lapseproof::frames::source::Source;
use lapseproof::frames::{Camera, Cell, Damage, FileRead, Want, read_source_for};

/// A file that is damaged may cost more than the budget.
fn read_damaged(bytes: &[u8]) -> FileRead {
    let mut source = Source::over(bytes.to_vec()).expect("memory");
    read_source_for(&mut source, Want { embedded: true }).expect("memory")
}

fn read(bytes: &[u8]) -> FileRead {
    let mut source = Source::over(bytes.to_vec()).expect("memory");
    let read = read_source_for(&mut source, Want { embedded: true }).expect("memory");
    assert!(
        source.bytes_read() <= 32 * 1024 && source.reads() <= 5,
        "{}, {}",
        source.bytes_read(),
        source.reads()
    );
    read
}

#[test]
fn the_same_frame_in_every_container() {
    for (name, bytes) in all() {
        let read = read(&bytes);
        let row = &read.row;
        assert_eq!(row.damage, Damage::None, "{name}");
        let stamp = row.stamp.known().unwrap_or_else(|| panic!("{name}: {:?}", row.stamp));
        let small = name == "MRW";
        assert_eq!(row.size, Cell::Known(if small { (60, 40) } else { (6000, 4000) }), "{name}");
        let camera = Camera { maker: "ACME".into(), model: "Snap 7".into(), serial: String::new() };
        assert_eq!(read.camera, Cell::Known(camera), "{name}");
        if name == "CRW" {
            assert_eq!(stamp.at.iso(stamp.digits), "2026-05-09T04:10:00");
            assert_eq!((row.time_apex, row.aperture_apex), (Cell::Known(6.0), Cell::Known(6.0)));
            assert_eq!((row.iso, row.exposure_s), (Cell::Absent, Cell::Absent));
            continue;
        }
        assert_eq!(stamp.at.iso(stamp.digits), "2026-05-09T04:10:00.25", "{name}");
        assert_eq!(row.exposure_s, Cell::Known(1.0 / 60.0), "{name}");
        assert_eq!((row.f_number, row.iso), (Cell::Known(8.0), Cell::Known(200)), "{name}");
    }
}

#[test]
fn pictures_inside() {
    for (name, bytes, count) in [("RAF", raf(), 1), ("RW2", rw2(), 1), ("CR3", cr3(), 1), ("CRW", crw(), 1)] {
        let found = read(&bytes).embedded;
        assert_eq!(found.len(), count, "{name}");
        for e in found {
            let stream = &bytes[e.at as usize..(e.at + e.len) as usize];
            assert!(stream.starts_with(&[0xFF, 0xD8]) && stream.ends_with(&[0xFF, 0xD9]), "{name}");
        }
    }
}

#[test]
fn every_container_that_was_cut_says_so() {
    for (name, bytes) in all() {
        for keep in [bytes.len() - 2000, bytes.len() / 2] {
            let damage = read(&bytes[..keep]).row.damage;
            // A table that stands at the end is gone from a cut file: no more than that can be said.
            let broken = name == "CRW" && matches!(damage, Damage::Broken(_));
            assert!(broken || matches!(damage, Damage::CutShort(_)), "{name} cut at {keep}: {damage:?}");
        }
    }
}

/// The mark of a card that lost power: the file has its length, and its end was never written.
#[test]
fn ends_that_were_never_written() {
    for (name, bytes) in all() {
        if name == "MRW" || name.starts_with("CRW") {
            // MRW: the data is too short here; CRW keeps a table there.
            continue;
        }
        let mut zeros = bytes.clone();
        let from = zeros.len() - 18_000;
        zeros[from..].fill(0);
        let damage = read_damaged(&zeros).row.damage;
        assert!(matches!(damage, Damage::CutShort(_) | Damage::Broken(_)), "{name}: {damage:?}");
    }
}

/// A whole picture with bytes behind it, in pieces that a camera's processor writes.
#[test]
fn bytes_behind_the_last_chunk_of_a_png_are_no_damage() {
    let chunk = |name: &[u8; 4], body: &[u8], sum: [u8; 4]| {
        [&(body.len() as u32).to_be_bytes()[..], name, body, &sum].concat()
    };
    let mut png = b"\x89PNG\r\n\x1A\n".to_vec();
    let size = [&6000_u32.to_be_bytes()[..], &4000_u32.to_be_bytes(), &[8, 2, 0, 0, 0]].concat();
    png.extend(chunk(b"IHDR", &size, [0; 4]));
    let piece = chunk(b"IDAT", &crate::support::writer::picture_data(8192), [0; 4]);
    png.extend(piece.repeat(1100));
    // The checksum of an empty IEND (ISO/IEC 15948, 11.2.5 and annex D).
    png.extend(chunk(b"IEND", b"", [0xAE, 0x42, 0x60, 0x82]));
    assert_eq!(read(&png).row.damage, Damage::None);
    png.extend([7; 16]);
    assert_eq!(read(&png).row.damage, Damage::None);
    let cut = read_damaged(&png[..png.len() / 2]).row.damage;
    assert!(matches!(cut, Damage::CutShort(_)), "{cut:?}");
}

/// A raw whose main directory stands at its head and the directory it leads to in an end that was never
/// written.
#[test]
fn a_directory_of_nothing_is_damage() {
    let mut raw = LITTLE.stream(&[(0x014A, V::Long(100_000))]);
    raw.extend(crate::support::writer::picture_data(50_000));
    raw.resize(200_000, 0);
    let damage = read(&raw).row.damage;
    assert!(matches!(damage, Damage::Broken(_)), "{damage:?}");
}

#[test]
fn an_uncompressed_black_picture_is_no_damage() {
    let with = |at: usize, compression: u16| {
        LITTLE.stream(&[
            (0x0100, V::Long(200)),
            (0x0101, V::Long(100)),
            (0x0103, V::Short(compression)),
            (0x0111, V::Long(at as u32)),
            (0x0117, V::Long(60_000)),
        ])
    };
    let file = |compression| {
        let mut out = with(with(0, 1).len(), compression);
        out.resize(out.len() + 60_000, 0);
        out
    };
    assert_eq!(read(&file(1)).row.damage, Damage::None);
    assert_eq!(read(&file(7)).row.damage, Damage::CutShort("its end is filled with zeros".into()));
}

#[test]
fn a_packed_block_is_absent_and_no_damage() {
    let whole = jxl();
    let at = whole.windows(4).position(|w| w == b"Exif").expect("the block's box");
    let mut packed = whole.clone();
    packed[at..at + 4].copy_from_slice(b"brob");
    let row = read(&packed).row;
    assert_eq!((row.stamp, row.damage), (Cell::Absent, Damage::None));
    assert_eq!(row.size, Cell::Known((6000, 4000)));
    let bare = [&[0xFF, 0x0A, 0x7F, 0][..], &picture_data(9000)].concat();
    let row = read(&bare).row;
    assert_eq!((row.stamp, row.size, row.damage), (Cell::Absent, Cell::Known((256, 256)), Damage::None));
}

/// A box with a 64-bit length (ISO/IEC 14496-12, 4.2), and one that reaches to the file's end.
#[test]
fn long_boxes_and_boxes_without_a_length() {
    let whole = heif(b"heic");
    let at = whole.windows(4).position(|w| w == b"mdat").expect("the data");
    let mut open = whole.clone();
    open[at - 4..at].fill(0);
    assert_eq!(read(&open).row, read(&whole).row.clone_with_print(&open));
    let jp2 = [iso(b"jP  ", b"\r\n\x87\n"), iso(b"ftyp", b"jp2 \0\0\0\0jp2 ")].concat();
    assert!(read(&jp2).row.damage.is_some(), "nothing that describes the picture");
    let mut long = mrw();
    long[4..8].copy_from_slice(&u32::MAX.to_be_bytes());
    assert!(matches!(read(&long).row.damage, Damage::CutShort(_)));
}

trait WithPrint {
    fn clone_with_print(&self, of: &[u8]) -> Self;
}

impl WithPrint for lapseproof::frames::Row {
    /// The same row with the print of other bytes.
    fn clone_with_print(&self, of: &[u8]) -> Self {
        Self { print: read(of).row.print, ..self.clone() }
    }
}
