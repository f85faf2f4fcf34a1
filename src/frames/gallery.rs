//! Pictures to look at: of a few frames, small, turned upright, and encoded anew, so that what a page carries is ours byte for byte
//! and holds no metadata of the file.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};

use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::{DynamicImage, ExtendedColorType, ImageEncoder as _, RgbImage};
use rayon::prelude::*;

use super::containers::Want;
use super::picture::small::{Known, upright_source};
use super::read::read_source_for;
use super::source::Source;
use super::workers::Workers;
use crate::card::{Card, CardFile, Shot};

/// A picture to look at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown {
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    /// JPEG bytes, without metadata.
    pub jpeg: Vec<u8>,
}

/// How a picture is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Its longer side at most, px.
    pub longest: u32,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
}

/// The pictures of some frames, in the order asked; `None` where a frame has none that can be shown. The cheapest source that is
/// large enough is taken, else the largest there is.
pub fn gallery(
    card: &Card,
    wanted: &[(usize, Size)],
    jobs: Option<usize>,
    stop: &AtomicBool,
) -> Vec<Option<Shown>> {
    let threads = jobs.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from)).max(1);
    let one = |(at, size): &(usize, Size)| {
        let shot = card.shots.get(*at).filter(|_| !stop.load(Ordering::Relaxed))?;
        // A decoder's own mistake is a picture that is not shown.
        catch_unwind(AssertUnwindSafe(|| of_shot(card, shot, *size))).ok().flatten()
    };
    Workers::start(threads).run(|| wanted.par_iter().map(one).collect())
}

fn of_shot(card: &Card, shot: &Shot, size: Size) -> Option<Shown> {
    std::iter::once(&shot.file)
        .chain(&shot.companions)
        .find_map(|file| of_file(card, file, size).ok().flatten())
}

fn of_file(card: &Card, file: &CardFile, size: Size) -> io::Result<Option<Shown>> {
    let mut source = Source::open(&card.path_of(file))?;
    let read = read_source_for(&mut source, Want { embedded: true })?;
    let Some(kind) = read.kind else { return Ok(None) };
    let known = Known {
        kind,
        embedded: &read.embedded,
        size: read.row.size.known(),
        grey: false,
        edited: read.row.edited,
    };
    let Some((rgb, inside)) = upright_source(&mut source, &known, size.longest as usize)? else {
        return Ok(None);
    };
    let (width, height) = (rgb.width as u32, rgb.height as u32);
    let Some(picture) = RgbImage::from_raw(width, height, rgb.codes) else { return Ok(None) };
    let (left, top) = (inside.left as u32, inside.top as u32);
    let kept = DynamicImage::from(picture).crop_imm(left, top, inside.width as u32, inside.height as u32);
    Ok(shown(turned(kept, read.row.orientation.known().unwrap_or(1)), size))
}

/// Turned as Orientation (Exif 0112) says: the sides that row 0 and column 0 stand for.
fn turned(picture: DynamicImage, orientation: u8) -> DynamicImage {
    match orientation {
        2 => picture.fliph(),
        3 => picture.rotate180(),
        4 => picture.flipv(),
        5 => picture.rotate90().fliph(),
        6 => picture.rotate90(),
        7 => picture.rotate270().fliph(),
        8 => picture.rotate270(),
        _ => picture,
    }
}

fn shown(picture: DynamicImage, size: Size) -> Option<Shown> {
    let longest = picture.width().max(picture.height()).max(1);
    let scaled =
        |side: u32| ((u64::from(side) * u64::from(size.longest)).div_ceil(u64::from(longest)) as u32).max(1);
    let small = if longest > size.longest {
        picture.resize_exact(scaled(picture.width()), scaled(picture.height()), FilterType::Triangle)
    } else {
        picture
    };
    let mut jpeg = Vec::new();
    let (width, height) = (small.width(), small.height());
    let encoder = JpegEncoder::new_with_quality(&mut jpeg, size.quality);
    encoder.write_image(small.to_rgb8().as_raw(), width, height, ExtendedColorType::Rgb8).ok()?;
    Some(Shown { width, height, jpeg })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    /// Exif (CIPA DC-008), Orientation: 6 puts the stored left column on top, 3 turns it upside down.
    #[test]
    fn pictures_are_turned_upright() {
        let mut picture = RgbImage::new(3, 2);
        picture.put_pixel(0, 0, Rgb([255, 0, 0]));
        for (orientation, size, place) in [
            (1, (3, 2), (0, 0)),
            (2, (3, 2), (2, 0)),
            (3, (3, 2), (2, 1)),
            (4, (3, 2), (0, 1)),
            (5, (2, 3), (0, 0)),
            (6, (2, 3), (1, 0)),
            (7, (2, 3), (1, 2)),
            (8, (2, 3), (0, 2)),
        ] {
            let up = turned(picture.clone().into(), orientation).into_rgb8();
            assert_eq!(up.dimensions(), size, "{orientation}");
            assert_eq!(up.get_pixel(place.0, place.1), &Rgb([255, 0, 0]), "{orientation}");
        }
    }

    #[test]
    fn the_longer_side_is_held() {
        let told =
            shown(RgbImage::new(600, 400).into(), Size { longest: 150, quality: 60 }).expect("encoded");
        assert_eq!((told.width, told.height), (150, 100));
        assert!(told.jpeg.starts_with(&[0xFF, 0xD8]) && told.jpeg.len() < 4000);
        let same = shown(RgbImage::new(80, 40).into(), Size { longest: 150, quality: 60 }).expect("encoded");
        assert_eq!((same.width, same.height), (80, 40));
    }
}
