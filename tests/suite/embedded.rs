//! The smaller pictures that a file carries, against what an outside decoder makes of the bytes at the places
//! named.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use crate::support::writer::{Put, block_with_thumbnail, directories, jpeg, picture_data, segment};
use image::ImageFormat;
use lapseproof::frames::source::Source;
use lapseproof::frames::{Embedded, Want, read_source_for};

fn embedded(bytes: &[u8]) -> Vec<Embedded> {
    let mut source = Source::over(bytes.to_vec()).expect("memory");
    read_source_for(&mut source, Want { embedded: true }).expect("memory").embedded
}

fn slice<'a>(bytes: &'a [u8], e: &Embedded) -> &'a [u8] {
    &bytes[e.at as usize..(e.at + e.len) as usize]
}

fn real_files(folder: &str) -> Vec<PathBuf> {
    let Some(real) = crate::support::real() else { return Vec::new() };
    let mut files: Vec<PathBuf> = walkdir::WalkDir::new(real.join(folder))
        .into_iter()
        .filter_map(|e| Some(e.ok()?.into_path()))
        .filter(|p| p.is_file() && p.extension().is_some_and(|e| e != "tsv" && e != "md"))
        .collect();
    files.sort();
    files
}

/// A file that was made small for a test collection: its thumbnail is 28 bytes of text.
fn is_stub(path: &Path, e: &Embedded) -> bool {
    path.ends_with("rw2__exiftool-exiftool__images__Panasonic.rw2") && e.len == 28
}

/// What `image` reads of a stream's header.
fn size_of(stream: &[u8]) -> Option<(u32, u32)> {
    image::ImageReader::with_format(Cursor::new(stream), ImageFormat::Jpeg).into_dimensions().ok()
}

#[test]
fn places_in_real_files_hold_pictures() {
    let files = real_files("files");
    let (mut streams, mut wrong) = (0, Vec::new());
    for path in &files {
        let bytes = std::fs::read(path).expect("a real file");
        for e in embedded(&bytes).into_iter().filter(|e| !is_stub(path, e)) {
            streams += 1;
            let told = size_of(slice(&bytes, &e));
            if told.is_none() || e.size.is_some_and(|size| Some(size) != told) {
                wrong.push(format!("{}: {e:?}, the stream says {told:?}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(files.is_empty() || streams >= 40, "{streams} streams in {} files", files.len());
}

#[test]
fn every_frame_of_the_real_sequences_carries_its_thumbnail() {
    for path in real_files("sequences").iter().step_by(10) {
        let bytes = std::fs::read(path).expect("a real file");
        let all = embedded(&bytes);
        assert!(!all.is_empty(), "{}", path.display());
        let picture = image::load_from_memory_with_format(slice(&bytes, &all[0]), ImageFormat::Jpeg)
            .unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        assert!((100..=640).contains(&picture.width()), "{}", path.display());
    }
}

#[test]
fn a_thumbnail_is_found_wherever_its_directory_lies() {
    let thumbnail = jpeg(b"", 3000);
    for notes in [0, 7000, 40_000] {
        let notes = picture_data(notes);
        let block = block_with_thumbnail(
            &[(0x010F, Put::Ascii("ACME"))],
            &[(0x9003, Put::Ascii("2026:05:09 04:10:00")), (0x927C, Put::Bytes(&notes))],
            &thumbnail,
        );
        let whole = jpeg(&block, 200_000);
        let all = embedded(&whole);
        assert_eq!(all.len(), 1);
        assert_eq!(slice(&whole, &all[0]), thumbnail);
    }
}

/// A raw with its previews as the makers keep them: a strip of a reduced picture (compression 7, as DNG has
/// it) beside the raw's own strip, which is kept under compression 7 too and is none.
#[test]
fn the_preview_of_a_raw_and_not_the_raw_itself() {
    let preview = jpeg(b"", 9000);
    let raw = |reduced: u32, photometric: u16| {
        let mut out = b"II*\0\x08\0\0\0".to_vec();
        let fields = |at: usize| {
            let fields = [
                (0x00FE, Put::Long(reduced)),
                (0x0100, Put::Long(640)),
                (0x0101, Put::Long(480)),
                (0x0103, Put::Short(&[7])),
                (0x0106, Put::Short(std::slice::from_ref(&photometric))),
                (0x0111, Put::Long(at as u32)),
                (0x0117, Put::Long(preview.len() as u32)),
            ];
            directories(8, &fields, &[(0x8827, Put::Short(&[200]))])
        };
        let at = 8 + fields(0).len();
        out.extend(fields(at));
        out.extend(&preview);
        out
    };
    let whole = raw(1, 6);
    let all = embedded(&whole);
    assert_eq!((all.len(), all[0].size), (1, Some((640, 480))));
    assert_eq!(slice(&whole, &all[0]), preview);
    // 32803: colour filter array (DNG 1.4, TIFF/EP).
    assert_eq!(embedded(&raw(0, 32_803)), []);
    assert_eq!(embedded(&raw(1, 32_803)), []);
}

/// Multi-picture format (CIPA DC-007, 5.2): the index counts places from its own byte-order mark; the first
/// picture has none.
#[test]
fn pictures_of_a_multi_picture_file() {
    let second = jpeg(b"", 5000);
    let index = |place: u32| {
        let mut out = b"II*\0\x08\0\0\0\x01\0".to_vec();
        out.extend([&0xB002_u16.to_le_bytes()[..], &7_u16.to_le_bytes()].concat());
        out.extend([32_u32.to_le_bytes(), 26_u32.to_le_bytes(), [0; 4]].concat());
        for (len, at) in [(1000_u32, 0_u32), (second.len() as u32, place)] {
            out.extend([[0; 4], len.to_le_bytes(), at.to_le_bytes(), [0; 4]].concat());
        }
        out
    };
    let with = |place| {
        let mut main = jpeg(b"", 20_000);
        main.splice(2..2, segment(0xE2, &[b"MPF\0", &index(place)[..]].concat()));
        main
    };
    // SOI, marker, length, "MPF\0": the mark of the byte order is the eleventh byte.
    let place = with(0).len() - 10;
    let whole = [with(place as u32), second.clone()].concat();
    let all = embedded(&whole);
    assert_eq!(all.len(), 1);
    assert_eq!(slice(&whole, &all[0]), second);
}
