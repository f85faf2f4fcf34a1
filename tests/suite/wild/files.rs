//! A card as real files: each a small JPEG with an Exif block and a thumbnail, written to a folder and read
//! as any card is.

use super::card::{Card, path_of};
use super::film::{Film, SIZE};
use crate::support::run::{put, temp};
use crate::support::writer::{Put, block_with_thumbnail, segment};
use lapseproof::card::walk;
use lapseproof::frames::Pictures;
use lapseproof::frames::{Frames, read_until};
use std::sync::atomic::AtomicBool;

/// Writes the card, reads it with its thumbnails and takes it away again.
pub fn read(card: &Card, film: &Film) -> Frames {
    let dir = temp();
    for (at, shot) in card.shots.iter().enumerate() {
        put(dir.path(), path_of(shot), file(card, film, at));
    }
    read_until(walk(&[dir.path().to_path_buf()]), Some(2), Pictures::Thumb, &|_| (), &AtomicBool::new(false))
}

fn file(card: &Card, film: &Film, at: usize) -> Vec<u8> {
    let shot = &card.shots[at];
    let mut jpeg = Vec::new();
    let (width, height) = (SIZE.0 as u32, SIZE.1 as u32);
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 88)
        .encode(&film.picture(at), width, height, image::ExtendedColorType::Rgb8)
        .expect("a picture can be coded");
    let stamp = card.stamp(at).iso(card.clock.digits);
    let (date, rest) = stamp.split_at(10);
    let (time, fraction) = rest[1..].split_at(8);
    let original = format!("{} {time}", date.replace('-', ":"));
    let subsec = fraction.trim_start_matches('.').to_owned();
    let micros = (shot.exposure_s * 1e6).round() as u32;
    let main = [(0x010F, Put::Ascii("Own")), (0x0110, Put::Ascii("Own")), (0x0112, Put::Short(&[1]))];
    let offset = shot.offset_min.map(|o| {
        format!("{}{:02}:{:02}", if o < 0 { '-' } else { '+' }, o.unsigned_abs() / 60, o.unsigned_abs() % 60)
    });
    let iso = [u16::try_from(shot.iso).unwrap_or(u16::MAX)];
    let mut exif = vec![
        (0x829A, Put::Ratio(micros, 1_000_000)),
        (0x829D, Put::Ratio((shot.f_number * 10.0).round() as u32, 10)),
        (0x8827, Put::Short(&iso)),
        (0x9003, Put::Ascii(&original)),
        (0x920A, Put::Ratio(24, 1)),
    ];
    if !subsec.is_empty() {
        exif.push((0x9291, Put::Ascii(&subsec)));
    }
    if let Some(offset) = &offset {
        exif.push((0x9011, Put::Ascii(offset)));
    }
    let block = block_with_thumbnail(&main, &exif, &jpeg);
    let app1 = segment(0xE1, &[b"Exif\0\0", block.as_slice()].concat());
    [&jpeg[..2], &app1, &jpeg[2..]].concat()
}
