//! Pictures to look at: of a few frames, small, turned upright, and encoded anew, so that what a page carries
//! is ours byte for byte and holds no metadata of the file.

use std::collections::BTreeMap;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};

use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::{DynamicImage, ExtendedColorType, ImageEncoder as _, RgbImage};
use rayon::prelude::*;

use super::containers::Want;
use super::picture::Inside;
use super::picture::gate::Gate;
use super::picture::small::{Held, Known, LARGE, Looker};
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

/// Pixels each way that are left of a large picture for one that is shown.
const FEW: u32 = 4;

/// How a picture is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Its longer side at most, px.
    pub longest: u32,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
}

/// The pictures of some frames, in the order asked; `None` where a frame has none that can be shown. The
/// cheapest source that is large enough is taken, else the largest there is. A picture that is asked for in
/// several sizes is decoded once.
pub fn gallery(
    card: &Card,
    wanted: &[(usize, Size)],
    jobs: Option<usize>,
    stop: &AtomicBool,
) -> Vec<Option<Shown>> {
    let processors = std::thread::available_parallelism().map_or(1, usize::from);
    let threads = jobs.unwrap_or(processors).max(1);
    let gate = Gate::new(threads.min(processors));
    let looker = Looker { gate: &gate, stop, to_show: true };
    let mut places: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (place, (at, _)) in wanted.iter().enumerate() {
        places.entry(*at).or_default().push(place);
    }
    let places: Vec<(usize, Vec<usize>)> = places.into_iter().collect();
    let one = |(at, places): &(usize, Vec<usize>)| {
        let sizes: Vec<Size> = places.iter().filter_map(|place| Some(wanted.get(*place)?.1)).collect();
        let Some(shot) = card.shots.get(*at).filter(|_| !stop.load(Ordering::Relaxed)) else {
            return Vec::new();
        };
        // A decoder's own mistake is a picture that is not shown.
        catch_unwind(AssertUnwindSafe(|| of_shot(&looker, card, shot, &sizes))).unwrap_or_default()
    };
    let found: Vec<Vec<Option<Shown>>> = Workers::start(threads).run(|| places.par_iter().map(one).collect());
    let mut out = vec![None; wanted.len()];
    for ((_, places), found) in places.iter().zip(found) {
        for (place, shown) in places.iter().zip(found) {
            out[*place] = shown;
        }
    }
    out
}

/// In each size from the first of the shot's files that has a picture for it.
fn of_shot(looker: &Looker<'_>, card: &Card, shot: &Shot, sizes: &[Size]) -> Vec<Option<Shown>> {
    let mut out = vec![None; sizes.len()];
    for file in shot.files() {
        let open: Vec<usize> = (0..sizes.len()).filter(|i| out[*i].is_none()).collect();
        if open.is_empty() {
            break;
        }
        let sizes: Vec<Size> = open.iter().map(|i| sizes[*i]).collect();
        let found = of_file(looker, card, file, &sizes).unwrap_or_default();
        for (i, shown) in open.into_iter().zip(found) {
            out[i] = shown;
        }
    }
    out
}

fn of_file(
    looker: &Looker<'_>,
    card: &Card,
    file: &CardFile,
    sizes: &[Size],
) -> io::Result<Vec<Option<Shown>>> {
    let mut source = Source::open(&card.path_of(file))?;
    let read = read_source_for(&mut source, Want { embedded: true })?;
    let Some(kind) = read.kind else { return Ok(Vec::new()) };
    let known = Known {
        kind,
        embedded: &read.embedded,
        size: read.row.size.known(),
        grey: false,
        edited: read.row.edited,
    };
    let orientation = read.row.orientation.known().unwrap_or(1);
    let longest: Vec<usize> = sizes.iter().map(|size| size.longest as usize).collect();
    let mut out = vec![None; sizes.len()];
    for (held, inside, places) in looker.upright_sources(&mut source, &known, &longest)? {
        let sizes: Vec<Size> = places.iter().map(|i| sizes[*i]).collect();
        for (i, shown) in places.into_iter().zip(in_sizes(held, inside, orientation, &sizes)) {
            out[i] = shown;
        }
    }
    Ok(out)
}

/// A picture without its bars, upright, in each size.
fn in_sizes(held: Held, inside: Inside, orientation: u8, sizes: &[Size]) -> Vec<Option<Shown>> {
    let (width, height) = (held.rgb.width as u32, held.rgb.height as u32);
    let Some(picture) = RgbImage::from_raw(width, height, held.rgb.codes).map(DynamicImage::from) else {
        return Vec::new();
    };
    let (across, down) = (inside.width as u32, inside.height as u32);
    // No copy of what has no bars.
    let kept = match (across, down) == (width, height) {
        true => picture,
        false => picture.crop_imm(inside.left as u32, inside.top as u32, across, down),
    };
    let large = u64::from(across) * u64::from(down) > LARGE;
    // Nor of what is large, and the better filter is not run over all of it: a few pixels for one that is
    // shown are left to it.
    let most = FEW * sizes.iter().map(|size| size.longest).max().unwrap_or(1);
    let kept = if large { kept.thumbnail(most, most) } else { kept };
    let kept = turned(kept, orientation);
    sizes.iter().map(|size| encoded(&small(&kept, *size), *size)).collect()
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

/// Made smaller, where it is larger than is asked.
fn small(picture: &DynamicImage, size: Size) -> DynamicImage {
    let longest = picture.width().max(picture.height()).max(1);
    let scaled =
        |side: u32| ((u64::from(side) * u64::from(size.longest)).div_ceil(u64::from(longest)) as u32).max(1);
    if longest > size.longest {
        picture.resize_exact(scaled(picture.width()), scaled(picture.height()), FilterType::Triangle)
    } else {
        picture.clone()
    }
}

fn encoded(small: &DynamicImage, size: Size) -> Option<Shown> {
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
        let shown = |picture: RgbImage, size| encoded(&small(&picture.into(), size), size).expect("encoded");
        let told = shown(RgbImage::new(600, 400), Size { longest: 150, quality: 60 });
        assert_eq!((told.width, told.height), (150, 100));
        assert!(told.jpeg.starts_with(&[0xFF, 0xD8]) && told.jpeg.len() < 4000);
        let same = shown(RgbImage::new(80, 40), Size { longest: 150, quality: 60 });
        assert_eq!((same.width, same.height), (80, 40));
    }
}
