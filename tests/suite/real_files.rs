//! Real camera files against what an outside reader found in them: `files/INDEX.tsv` was written with
//! exiftool 12.57 (`-n`).

use std::collections::{BTreeMap, BTreeSet};

use lapseproof::card::walk;
use lapseproof::frames::{Cell, Damage, Frames, Row, StampSource, read_all};

/// Maker's notes are not read: what is only there stays unknown.
const NOTES: &str = "the value stands in the maker's notes alone";
/// The outside reader lets the maker's notes go first.
const NOTES_FIRST: &str = "the index prefers the maker's notes to the Exif field";
/// A 0 is the sign for "not known", never a value.
const ZERO: &str = "0 is taken for not known";
/// Damaged and blank dates are never handed on as text.
const NO_DATE: &str = "the index keeps the text of a date that is none; the row calls it blank or unreadable";
/// The directory holds no such field; another block of the file does.
const ELSEWHERE: &str = "the value stands in XMP or in an editor's resource, not in the Exif block";

/// File (its beginning), column, reason.
#[rustfmt::skip]
const DIFFERENCES: &[(&str, &str, &str)] = &[
    ("nef__bep-imagemeta__images__sample", "ISO", NOTES),
    ("webp__drewnoakes-metadata-extractor-images__webp__Nikon_D1X", "ISO", NOTES),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__Nikon_D1X", "ISO", NOTES),
    ("tiff__hMatoba-Piexif__images__01", "ISO", NOTES),
    ("jpeg__hMatoba-Piexif__images__L01", "ISO", NOTES),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__Canon_IXUS_v3", "ISO", NOTES),
    ("pef__bep-imagemeta__bep__jlstravatnet", "ISO", "the index gives a code of the maker's notes (6); Exif \
                                                      says 100"),
    ("jpeg__haraldk-TwelveMonkeys__jpeg__exif-with-interop-subdir-bad", "ISO", NOTES),
    ("jpeg__haraldk-TwelveMonkeys__jpeg__exif-with-interop-subdir-bad", "ExposureTime", NOTES_FIRST),
    ("jpeg__haraldk-TwelveMonkeys__jpeg__exif-with-interop-subdir-bad", "FNumber", NOTES_FIRST),
    ("dng__ianare-exif-py__raw__nikon_z_9", "ISO", "65535 means that or more; the 32-bit tag says 102400"),
    ("jpeg__dlemstra-Magick.NET__Images__ExifUndefType", "ExposureTime", ZERO),
    ("jpeg__dlemstra-Magick.NET__Images__ExifUndefType", "FNumber", ZERO),
    ("jpeg__dlemstra-Magick.NET__Images__ExifUndefType", "ISO", ZERO),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_FinePixS1Pro_1", "ISO", ZERO),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_FinePixS1Pro_3", "ISO", ZERO),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_FinePixS1Pro_4", "ISO", ZERO),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_FinePixS2Pro", "ISO", ZERO),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__Casio_EX-S1", "ISO", ZERO),
    ("jpeg__rwcarlsen-goexif__samples__geodegrees_as_string", "ExposureTime", ZERO),
    ("jpeg__hMatoba-Piexif__images__01.jpg", "ExposureTime", "FFFFFFFF is the sign for not known"),
    ("tiff__drewnoakes-metadata-extractor-images__ImageTestSuite__m2-f4830e8d", "DateTimeOriginal", NO_DATE),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_DX-5", "DateTimeOriginal", NO_DATE),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_SP-2500", "DateTimeOriginal", NO_DATE),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__Olympus_C4040Z", "DateTimeOriginal", NO_DATE),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__Olympus_C860L", "DateTimeOriginal", NO_DATE),
    ("jpeg__drewnoakes-metadata-extractor-images__jpg__Issue_609", "DateTimeOriginal", NO_DATE),
    ("jpeg__haraldk-TwelveMonkeys__jpeg__exif-with-interop-subdir-R98", "DateTimeOriginal", NO_DATE),
    ("jpeg__dlemstra-Magick.NET__Images__8Bim", "maker", ELSEWHERE),
    ("jpeg__dlemstra-Magick.NET__Images__8Bim", "model", ELSEWHERE),
    ("jpeg__apache-tika__test-documents__testJPEG_commented", "maker", ELSEWHERE),
    ("jpeg__apache-tika__test-documents__testJPEG_commented", "model", ELSEWHERE),
];

/// What the index says of files that are a JPEG's header and nothing behind it: the outside reader gave them
/// up unread. The row holds their Exif block and calls them cut short.
const GIVEN_UP: &str = "JPEG format error";

type Entry = BTreeMap<String, String>;

fn files() -> Option<(Frames, Vec<Entry>)> {
    let folder = crate::support::real()?.join("files");
    let text = std::fs::read_to_string(folder.join("INDEX.tsv")).expect("the index is text");
    let mut lines = text.lines().map(|line| line.split('\t').map(str::to_owned).collect::<Vec<_>>());
    let head = lines.next().expect("a head line");
    let index = lines.map(|line| head.iter().cloned().zip(line).collect()).collect();
    Some((read_all(walk(&[folder]), None, &|_| ()), index))
}

fn at(frames: &Frames, file: &str) -> usize {
    (0..frames.len())
        .find(|at| frames.path_text(*at).starts_with(file))
        .unwrap_or_else(|| panic!("{file} is not listed"))
}

/// What the row says in a column of numbers; `None` where it says nothing.
fn number(row: &Row, column: &str) -> Option<f64> {
    match column {
        "ExposureTime" => row.exposure_s.known(),
        "FNumber" => row.f_number.known().map(f64::from),
        _ => row.iso.known().map(f64::from),
    }
}

/// What the row says in a column of the stamp, as the index writes it.
fn stamp(row: &Row, column: &str) -> String {
    let Some(stamp) = row.stamp.known().filter(|s| s.source == StampSource::Original) else {
        return String::new();
    };
    match column {
        "DateTimeOriginal" => stamp.at.iso(0).replace('-', ":").replace('T', " "),
        "SubSecTimeOriginal" if stamp.digits == 0 => String::new(),
        "SubSecTimeOriginal" => stamp.at.iso(stamp.digits).split('.').nth(1).unwrap_or_default().to_owned(),
        _ => stamp.offset_min.map_or(String::new(), |m| {
            format!("{}{:02}:{:02}", if m < 0 { '-' } else { '+' }, m.abs() / 60, m.abs() % 60)
        }),
    }
}

/// Every column in which the row says something else than the index: column, theirs, ours.
fn differences(entry: &Entry, row: &Row, frames: &Frames) -> Vec<(&'static str, String, String)> {
    let mut out = Vec::new();
    for column in ["DateTimeOriginal", "SubSecTimeOriginal", "OffsetTimeOriginal"] {
        let ours = stamp(row, column);
        if ours != entry[column].trim_end() {
            out.push((column, entry[column].clone(), ours));
        }
    }
    for column in ["ExposureTime", "FNumber", "ISO"] {
        // Two values ("0 200") stand for the one that is not 0.
        let theirs = entry[column].split(' ').filter_map(|n| n.parse().ok()).reduce(f64::max);
        let ours = number(row, column);
        let same = match (theirs, ours) {
            (Some(a), Some(b)) => (a - b).abs() <= 2e-7 * a.abs(),
            (None, None) => entry[column].is_empty(),
            _ => false,
        };
        if !same {
            out.push((column, entry[column].clone(), format!("{ours:?}")));
        }
    }
    let camera = row.camera.known().map(|n| frames.cameras[usize::from(n)].clone()).unwrap_or_default();
    for (column, ours) in [("maker", camera.maker), ("model", camera.model)] {
        if ours != entry[column].trim() {
            out.push((column, entry[column].clone(), ours));
        }
    }
    out
}

#[test]
fn rows_agree_with_the_outside_reader() {
    let Some((frames, index)) = files() else { return };
    let mut wrong = Vec::new();
    let mut used = BTreeSet::new();
    let mut seen = 0;
    for entry in index.iter() {
        let name = &entry["file"];
        let row = &frames.rows[at(&frames, name)];
        seen += 1;
        if entry["warning"] == GIVEN_UP {
            given_up(name, row);
            continue;
        }
        for (column, theirs, ours) in differences(entry, row, &frames) {
            match DIFFERENCES.iter().position(|(file, c, _)| name.starts_with(file) && *c == column) {
                Some(named) => _ = used.insert(named),
                None => wrong.push(format!("{name}: {column}: index {theirs:?}, row {ours:?}")),
            }
        }
    }
    assert!(wrong.is_empty(), "{} differences in {seen} files:\n{}", wrong.len(), wrong.join("\n"));
    assert_eq!(used.len(), DIFFERENCES.len(), "a named difference that is none any more");
    assert!(seen >= 100, "only {seen} files were compared with the index");
}

/// Several of those files carry the moment of their capture in their names: a second witness.
fn given_up(name: &str, row: &Row) {
    assert!(row.damage.is_some(), "{name}: {:?}", row.damage);
    assert!(row.stamp.as_known().is_some() || name.contains("f2-exif"), "{name}: {:?}", row.stamp);
    if let Some(date) =
        name.strip_prefix("jpeg__rwcarlsen-goexif__samples__20").and_then(|rest| rest.get(..17))
    {
        let said = stamp(row, "DateTimeOriginal").replace([':', ' '], "-");
        assert_eq!(said, format!("20{date}"), "{name}");
    }
}

/// Files that are less than they should be, and how that shows. Every JPEG that is not listed here decodes
/// whole with Pillow 13.0.0; the raws were cut by those who gave them away.
const DAMAGED: &[(&str, &str)] = &[
    ("cr2__bep-imagemeta__images__sample", "ends at byte 13287537 of 51200"),
    ("nef__bep-imagemeta__images__sample", "ends at byte 4055474 of 76800"),
    ("arw__bep-imagemeta__images__sample", "ends at byte 9571748 of 102400"),
    ("arw__sindresorhus-file-type__fixture", "ends at byte 754577 of 100000"),
    ("dng__bep-imagemeta__images__sample", "ends at byte 6611520 of 51200"),
    ("pef__bep-imagemeta__bep__jlstravatnet", "ends at byte 31326570 of 159648"),
    ("cr3__sindresorhus-file-type__fixture__fixture", "ends at byte 403242 of 131072"),
    ("cr3__mindeng-nom-exif__testdata__canon-r6", "ends at byte 31239766 of 336392"),
    ("rw2__exiftool-exiftool__images__Panasonic", "ends at byte 20524114 of 12344"),
    ("mrw__exiftool-exiftool__images__Minolta", "ends at byte 12056628 of 2596"),
    // Made up: an Exif segment and a piece of video, with no picture between them (Pillow cannot read it
    // either).
    ("jpeg__mindeng-nom-exif__testdata__motion_photo_pixel_synth", "broken"),
];

#[test]
fn whole_files_are_whole_and_cut_ones_cut() {
    let Some((frames, index)) = files() else { return };
    let mut wrong = Vec::new();
    for entry in index.iter().filter(|e| e["warning"] != GIVEN_UP) {
        let row = &frames.rows[at(&frames, &entry["file"])];
        let as_named = match DAMAGED.iter().find(|(file, _)| entry["file"].starts_with(file)) {
            Some((_, words)) => row.damage.words().contains(words),
            None => row.damage == Damage::None && row.size.as_known().is_some(),
        };
        if !as_named {
            wrong.push(format!("{}: {:?}, {:?}", entry["file"], row.damage, row.size));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn sizes_of_main_pictures() {
    let Some((frames, _)) = files() else { return };
    // What Pillow 13.0.0 says of the finished pictures; of the raws, what their own directory of the full
    // picture says, which is not their first one (that holds a preview of 160 by 120 or so).
    for (file, size) in [
        ("mpo__python-pillow-Pillow__images__frame_size", (56, 70)),
        ("png__MikeKovarik-exifr__png__png_with_exif_and_gps", (1, 1)),
        ("webp__bep-imagemeta__bep__sunrise", (1024, 640)),
        ("webp__drewnoakes-metadata-extractor-images__webp__Nikon_D1X", (600, 391)),
        ("avif__AOMediaCodec-libavif__data__paris_icc_exif_xmp", (403, 302)),
        ("tiff__hMatoba-Piexif__images__01", (300, 400)),
        ("jpeg__MikeKovarik-exifr__fixtures__broken1", (600, 900)),
        ("jpeg__drewnoakes-metadata-extractor-images__jpg__Sony_DSC-P12", (1536, 2048)),
        ("nef__bep-imagemeta__images__sample", (2012, 1324)),
        ("arw__bep-imagemeta__images__sample", (3880, 2600)),
        ("dng__ianare-exif-py__raw__nikon_z_9", (5392, 3592)),
        ("pef__bep-imagemeta__bep__jlstravatnet", (6080, 4032)),
        ("cr3__sindresorhus-file-type__fixture__fixture", (6720, 4480)),
        ("cr3__mindeng-nom-exif__testdata__canon-r6", (5472, 3648)),
        ("rw2__exiftool-exiftool__images__Panasonic", (3648, 2736)),
        ("mrw__exiftool-exiftool__images__Minolta", (3264, 2448)),
    ] {
        assert_eq!(frames.rows[at(&frames, file)].size, Cell::Known(size), "{file}");
    }
}

/// Files whose Software tag names an editor, and files in which it names the camera's firmware.
#[test]
fn editors_are_told_from_firmware() {
    let Some((frames, _)) = files() else { return };
    for (file, edited) in [
        ("jpeg__bep-imagemeta__hugo-issue-10738__canon_cr2_integer", true),
        ("jpeg__hMatoba-Piexif__images__r_sigma", true),
        ("jpeg__drewnoakes-metadata-extractor-images__jpg__FujiFilm_FinePix6800Zoom", true),
        ("tiff__hMatoba-Piexif__images__01", true),
        ("dng__ianare-exif-py__raw__nikon_z_9", true),
        ("jpeg__hMatoba-Piexif__images__r_ricoh", false),
        ("jpeg__hMatoba-Piexif__images__r_olympus", false),
        ("jpeg__mapillary-mapillary_tools__data__fixed_exif", false),
        ("jpeg__drewnoakes-metadata-extractor-images__jpg__Nikon_D1X", false),
        ("jpeg__contentauth-c2pa-rs__fixtures__no_alg", false),
        ("mpo__python-pillow-Pillow__images__frame_size", false),
        ("nef__bep-imagemeta__images__sample", false),
    ] {
        assert_eq!(frames.rows[at(&frames, file)].edited, edited, "{file}");
    }
}
