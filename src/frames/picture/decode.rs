//! JPEG streams and other finished pictures into codes.

use std::io::Cursor;

use image::{ImageError, ImageReader, Limits};
use jpeg_decoder::{Decoder as Scaled, PixelFormat};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::Rgb;
use crate::card::FileKind;

/// No picture of more pixels is decoded: 16384 a side, squared.
const MOST_PIXELS: usize = 1 << 28;
/// A picture that is reduced stays at least this wide, px.
const LEAST_WIDTH: u16 = 240;
/// Bytes that decoding another kind of picture may take.
const MOST_BYTES: u64 = 2 << 30;

/// Why a picture gave no codes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// Its bytes are wrong, in words.
    Damaged(String),
    /// It is of a kind, or of a size, that is not decoded here.
    NotOurs,
}

/// A JPEG stream whole. With `strict`, a stream that ends early or is wrong in the middle is refused; else what is missing is
/// grey.
///
/// # Errors
/// [`Refused`].
pub fn whole(bytes: &[u8], strict: bool) -> Result<Rgb, Refused> {
    let options = DecoderOptions::new_safe()
        .set_strict_mode(strict)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    let damaged = |e: zune_jpeg::errors::DecodeErrors| Refused::Damaged(in_short(&e.to_string()));
    decoder.decode_headers().map_err(damaged)?;
    let info = decoder.info().ok_or(Refused::NotOurs)?;
    let (width, height) = (usize::from(info.width), usize::from(info.height));
    if width * height > MOST_PIXELS {
        return Err(Refused::NotOurs);
    }
    let codes = decoder.decode().map_err(damaged)?;
    of_three(width, height, codes)
}

/// A JPEG stream at an eighth of its size, or at as much of it as leaves it [`LEAST_WIDTH`] wide.
///
/// # Errors
/// [`Refused`].
pub fn reduced(bytes: &[u8]) -> Result<Rgb, Refused> {
    let mut decoder = Scaled::new(Cursor::new(bytes));
    let damaged = |e: jpeg_decoder::Error| match e {
        jpeg_decoder::Error::Unsupported(_) => Refused::NotOurs,
        e => Refused::Damaged(in_short(&e.to_string())),
    };
    decoder.read_info().map_err(damaged)?;
    let info = decoder.info().ok_or(Refused::NotOurs)?;
    if usize::from(info.width) * usize::from(info.height) > MOST_PIXELS {
        return Err(Refused::NotOurs);
    }
    // The scale is the smallest that covers either side that is asked for: the width alone is to decide.
    let wanted = info.width.div_ceil(8).max(LEAST_WIDTH);
    decoder.scale(wanted, u16::MAX).map_err(damaged)?;
    let codes = decoder.decode().map_err(damaged)?;
    let info = decoder.info().ok_or(Refused::NotOurs)?;
    let (width, height) = (usize::from(info.width), usize::from(info.height));
    let codes = match info.pixel_format {
        PixelFormat::RGB24 => codes,
        PixelFormat::L8 => codes.into_iter().flat_map(|c| [c; 3]).collect(),
        PixelFormat::L16 | PixelFormat::CMYK32 => return Err(Refused::NotOurs),
    };
    of_three(width, height, codes)
}

/// A finished picture of another kind (PNG, TIFF, WebP) whole.
///
/// # Errors
/// [`Refused`].
pub fn other(bytes: &[u8], kind: FileKind) -> Result<Rgb, Refused> {
    let format = match kind {
        FileKind::Png => image::ImageFormat::Png,
        FileKind::Tiff => image::ImageFormat::Tiff,
        FileKind::Webp => image::ImageFormat::WebP,
        _ => return Err(Refused::NotOurs),
    };
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let picture = reader.decode().map_err(|e| match e {
        ImageError::Unsupported(_) | ImageError::Limits(_) => Refused::NotOurs,
        e => Refused::Damaged(in_short(&e.to_string())),
    })?;
    let rgb = picture.into_rgb8();
    of_three(rgb.width() as usize, rgb.height() as usize, rgb.into_raw())
}

/// A decoder's own words, cut to what fits a sentence.
fn in_short(words: &str) -> String {
    let words: String = words.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(120).collect();
    words.trim_end_matches('.').to_owned()
}

fn of_three(width: usize, height: usize, codes: Vec<u8>) -> Result<Rgb, Refused> {
    if codes.len() != 3 * width * height || codes.is_empty() {
        return Err(Refused::NotOurs);
    }
    Ok(Rgb { width, height, codes })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::codecs::jpeg::JpegEncoder;

    fn jpeg(width: u32, height: u32) -> Vec<u8> {
        let picture = image::RgbImage::from_fn(width, height, |x, y| {
            image::Rgb([(x * 255 / width) as u8, (y * 255 / height) as u8, 90])
        });
        let mut out = Vec::new();
        JpegEncoder::new_with_quality(&mut out, 92).encode_image(&picture).expect("encoded");
        out
    }

    #[test]
    fn an_eighth_shows_what_the_whole_shows() {
        let bytes = jpeg(2400, 1600);
        let (whole, small) = (whole(&bytes, true).expect("decodes"), reduced(&bytes).expect("decodes"));
        assert_eq!((whole.width, whole.height, small.width, small.height), (2400, 1600, 300, 200));
        let mean = |p: &Rgb, c: usize| {
            p.codes.iter().skip(c).step_by(3).map(|v| f64::from(*v)).sum::<f64>()
                / (p.width * p.height) as f64
        };
        for channel in 0..3 {
            let (a, b) = (mean(&whole, channel), mean(&small, channel));
            // Blue comes out a code lower at an eighth, always: no step comes of it.
            assert!((a - b).abs() < 1.5, "{channel}: {a} against {b}");
        }
        // A small picture is not made smaller than it is of use.
        assert_eq!(reduced(&jpeg(400, 300)).expect("decodes").width, 400);
        assert_eq!(reduced(&jpeg(500, 300)).expect("decodes").width, 250);
    }

    #[test]
    fn damage_is_told_where_it_is_asked_for() {
        let bytes = jpeg(800, 600);
        let cut = &bytes[..bytes.len() / 2];
        assert!(matches!(whole(cut, true), Err(Refused::Damaged(_))));
        assert!(matches!(whole(b"\xFF\xD8\xFF\xD9", false), Err(Refused::Damaged(_))));
        assert!(matches!(reduced(b"nothing"), Err(Refused::Damaged(_) | Refused::NotOurs)));
        assert_eq!(other(b"nothing", FileKind::Heif).err(), Some(Refused::NotOurs));
    }
}
