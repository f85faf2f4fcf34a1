//! JPEG streams into codes.

use std::io::Cursor;

use jpeg_decoder::{Decoder as Scaled, PixelFormat};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::caps::{MOST_SCANS, Work};
use super::jpeg::Declared;
use super::refused::Refused;
use super::rgb::Rgb;

/// A picture that is reduced stays at least this wide, px.
const LEAST_WIDTH: u16 = 240;

/// How a JPEG stream is decoded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum How {
    /// All of it; with `strict`, a stream that ends early or is wrong in the middle is refused, else what is
    /// missing is grey.
    All {
        /// True where damage is to be told.
        strict: bool,
    },
    /// At an eighth of its size, or at as much of it as leaves it [`LEAST_WIDTH`] wide.
    Eighth,
}

/// What a stream declares.
///
/// # Errors
/// [`Refused`], in the decoder's words for what is wrong with its header.
pub(crate) fn declared(bytes: &[u8]) -> Result<Declared, Refused> {
    match Declared::of(bytes) {
        Some(declared) => Ok(declared),
        // A header alone takes no memory to speak of.
        None => header(bytes, true).and(Err(Refused::NotOurs)),
    }
}

/// What decoding a stream will do.
pub(crate) fn work(declared: &Declared, how: How) -> Work {
    match how {
        How::All { .. } => declared.whole(),
        How::Eighth => declared.reduced(reduction(declared.size)),
    }
}

/// A stream of that size whole. With `strict`, one that ends early or is wrong in the middle is refused; else
/// what is missing is grey.
///
/// # Errors
/// [`Refused`].
pub(crate) fn whole(bytes: &[u8], size: (u64, u64), strict: bool) -> Result<Rgb, Refused> {
    let mut decoder = header(bytes, strict)?;
    let info = decoder.info().ok_or(Refused::NotOurs)?;
    // A decoder that reads another size than the bounds were compared with is not let on.
    if size != (u64::from(info.width), u64::from(info.height)) {
        return Err(Refused::NotOurs);
    }
    let codes = decoder.decode().map_err(damaged)?;
    of_three(usize::from(info.width), usize::from(info.height), codes)
}

/// A stream of that size at an eighth of it, or at as much of it as leaves it [`LEAST_WIDTH`] wide.
///
/// # Errors
/// [`Refused`].
pub(crate) fn reduced(bytes: &[u8], size: (u64, u64)) -> Result<Rgb, Refused> {
    let mut decoder = Scaled::new(Cursor::new(bytes));
    let damaged = |e: jpeg_decoder::Error| match e {
        jpeg_decoder::Error::Unsupported(_) => Refused::NotOurs,
        e => Refused::Damaged(in_short(&e.to_string())),
    };
    decoder.read_info().map_err(damaged)?;
    let info = decoder.info().ok_or(Refused::NotOurs)?;
    if size != (u64::from(info.width), u64::from(info.height)) {
        return Err(Refused::NotOurs);
    }
    // The scale is the smallest that covers either side that is asked for: the width alone is to decide.
    decoder.scale(least_width(info.width), u16::MAX).map_err(damaged)?;
    let codes = decoder.decode().map_err(damaged)?;
    let info = decoder.info().ok_or(Refused::NotOurs)?;
    let (width, height) = (usize::from(info.width), usize::from(info.height));
    let codes = match info.pixel_format {
        PixelFormat::RGB24 => codes,
        PixelFormat::L8 => {
            let mut out = Vec::with_capacity(3 * codes.len());
            codes.iter().for_each(|c| out.extend_from_slice(&[*c; 3]));
            out
        }
        PixelFormat::L16 | PixelFormat::CMYK32 => return Err(Refused::NotOurs),
    };
    of_three(width, height, codes)
}

/// The width that the scaled decoder is asked for.
fn least_width(width: u16) -> u16 {
    width.div_ceil(8).max(LEAST_WIDTH)
}

/// How many pixels each way become one: the decoder scales by powers of two.
fn reduction((width, _): (u64, u64)) -> u64 {
    let wanted = u64::from(least_width(u16::try_from(width).unwrap_or(u16::MAX)));
    [8, 4, 2].into_iter().find(|by| width.div_ceil(*by) >= wanted).unwrap_or(1)
}

/// A decoder that has read the stream's header.
fn header(bytes: &[u8], strict: bool) -> Result<JpegDecoder<ZCursor<&[u8]>>, Refused> {
    let options = DecoderOptions::new_safe()
        .set_strict_mode(strict)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_max_scans(MOST_SCANS as usize)
        .jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(damaged)?;
    Ok(decoder)
}

fn damaged(e: zune_jpeg::errors::DecodeErrors) -> Refused {
    Refused::Damaged(in_short(&e.to_string()))
}

/// A decoder's own words, cut to what fits a sentence.
pub(crate) fn in_short(words: &str) -> String {
    let words: String = words.split_whitespace().collect::<Vec<_>>().join(" ").chars().take(120).collect();
    words.trim_end_matches('.').to_owned()
}

/// Codes of the right number.
pub(crate) fn of_three(width: usize, height: usize, codes: Vec<u8>) -> Result<Rgb, Refused> {
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

    fn whole(bytes: &[u8], strict: bool) -> Result<Rgb, Refused> {
        super::whole(bytes, declared(bytes)?.size, strict)
    }

    fn reduced(bytes: &[u8]) -> Result<Rgb, Refused> {
        super::reduced(bytes, declared(bytes)?.size)
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
    }
}
