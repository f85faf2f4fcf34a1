//! Finished pictures of other kinds (PNG, TIFF, WebP) into codes.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use image::codecs::tiff::TiffDecoder;
use image::codecs::webp::WebPDecoder;
use image::{ImageDecoder, ImageError, Limits};

use super::caps::{MOST_BYTES, Work};
use super::decode::{in_short, of_three};
use super::heard::Heard;
use super::narrowed::narrowed;
use super::refused::Refused;
use super::rgb::Rgb;
use super::{png, tiff, webp};
use crate::card::FileKind;

/// What the file declares.
///
/// # Errors
/// [`Refused`].
pub(crate) fn declared(bytes: &Arc<Vec<u8>>, kind: FileKind) -> Result<Work, Refused> {
    let work = match kind {
        FileKind::Png => png::declared(bytes),
        FileKind::Tiff => tiff::declared(bytes)?,
        FileKind::Webp => webp::declared(bytes),
        _ => return Err(Refused::NotOurs),
    };
    work.ok_or_else(|| Refused::Damaged("its header cannot be followed".into()))
}

/// Decodes a picture that declares so many pixels.
///
/// # Errors
/// [`Refused`].
pub(crate) fn decode(bytes: &[u8], kind: FileKind, pixels: u64, stop: &AtomicBool) -> Result<Rgb, Refused> {
    let heard = || Heard::new(bytes, stop);
    let done = match kind {
        FileKind::Png => png::decode(bytes, stop),
        FileKind::Tiff => TiffDecoder::new(heard()).map_err(refused).and_then(|d| by(d, pixels)),
        FileKind::Webp => WebPDecoder::new(heard()).map_err(refused).and_then(|d| by(d, pixels)),
        _ => Err(Refused::NotOurs),
    };
    // What failed because it was stopped is not damaged.
    if done.is_err() && stop.load(Ordering::Relaxed) { Err(Refused::Stopped) } else { done }
}

/// By a decoder that has read the header: straight into the codes that it gives, which are made narrower in
/// place.
fn by(mut decoder: impl ImageDecoder, pixels: u64) -> Result<Rgb, Refused> {
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_BYTES);
    decoder.set_limits(limits).map_err(refused)?;
    let (width, height) = decoder.dimensions();
    // A decoder that reads a larger size than the bounds were compared with is not let on.
    if u64::from(width) * u64::from(height) > pixels {
        return Err(Refused::NotOurs);
    }
    let color = decoder.color_type();
    let mut native = vec![0; usize::try_from(decoder.total_bytes()).map_err(|_| Refused::NotOurs)?];
    decoder.read_image(&mut native).map_err(refused)?;
    let codes = narrowed(native, color, (width, height)).ok_or(Refused::NotOurs)?;
    of_three(width as usize, height as usize, codes)
}

fn refused(e: ImageError) -> Refused {
    match e {
        ImageError::Unsupported(_) | ImageError::Limits(_) => Refused::NotOurs,
        e => Refused::Damaged(in_short(&e.to_string())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    use image::{DynamicImage, ImageFormat, Luma, LumaA, Rgb as Px, Rgba};

    /// Every kind of pixel comes out as the library's own conversion has it.
    #[test]
    fn narrowing_is_the_librarys_own() {
        let (w, h) = (37, 11);
        let n = |x: u32, y: u32, c: u32| (x * 7919 + y * 104_729 + c * 31_337) as u16;
        let b = |x, y, c| n(x, y, c) as u8;
        let pictures: [DynamicImage; 9] = [
            image::ImageBuffer::from_fn(w, h, |x, y| Luma([b(x, y, 0)])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| LumaA([b(x, y, 0), b(x, y, 1)])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| Px([b(x, y, 0), b(x, y, 1), b(x, y, 2)])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| Rgba([b(x, y, 0), b(x, y, 1), b(x, y, 2), 9])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| Luma([n(x, y, 0)])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| LumaA([n(x, y, 0), n(x, y, 1)])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| Px([n(x, y, 0), n(x, y, 1), n(x, y, 2)])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| Rgba([n(x, y, 0), n(x, y, 1), n(x, y, 2), 9])).into(),
            image::ImageBuffer::from_fn(w, h, |x, y| Px([0, 1, 2].map(|c| f32::from(n(x, y, c)) / 65535.0)))
                .into(),
        ];
        for picture in pictures {
            let color = picture.color();
            let expected = picture.to_rgb8().into_raw();
            let got = narrowed(picture.as_bytes().to_vec(), color, (w, h));
            assert!(got == Some(expected.clone()), "{color:?}");
            // And the same through a file, where the format can hold it.
            for (format, kind) in [(ImageFormat::Png, FileKind::Png), (ImageFormat::Tiff, FileKind::Tiff)] {
                let mut file = Cursor::new(Vec::new());
                if picture.write_to(&mut file, format).is_err() {
                    continue;
                }
                let bytes = Arc::new(file.into_inner());
                let own = image::load_from_memory(&bytes).expect("decodes").into_rgb8().into_raw();
                let pixels = declared(&bytes, kind).expect("it can be followed").pixels();
                let ours = decode(&bytes, kind, pixels, &AtomicBool::new(false)).expect("decodes");
                assert!(ours.codes == own, "{color:?} {kind:?}");
            }
        }
    }

    #[test]
    fn a_decode_that_is_stopped_is_not_damaged() {
        for format in [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::WebP] {
            let mut file = Cursor::new(Vec::new());
            image::RgbImage::new(300, 200).write_to(&mut file, format).expect("encoded");
            let kind = match format {
                ImageFormat::Png => FileKind::Png,
                ImageFormat::Tiff => FileKind::Tiff,
                _ => FileKind::Webp,
            };
            let bytes = file.into_inner();
            let by = |stop: bool| decode(&bytes, kind, 60_000, &AtomicBool::new(stop)).err();
            assert_eq!((by(false), by(true)), (None, Some(Refused::Stopped)), "{kind:?}");
        }
    }

    #[test]
    fn what_is_not_ours_is_said_to_be_so() {
        let nothing = Arc::new(b"nothing".to_vec());
        assert_eq!(declared(&nothing, FileKind::Heif).err(), Some(Refused::NotOurs));
        for kind in [FileKind::Png, FileKind::Tiff, FileKind::Webp] {
            assert!(matches!(declared(&nothing, kind).err(), Some(Refused::Damaged(_))), "{kind:?}");
        }
    }
}
