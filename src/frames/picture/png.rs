//! PNG: what a file declares, and its pixels row by row.
//!
//! Source: W3C, Portable Network Graphics (Third Edition), sections 5 and 11.

use std::sync::atomic::{AtomicBool, Ordering};

use image::ColorType;
use png::{BitDepth, ColorType as Kind, DecodingError, InterlaceInfo, Transformations};

use super::caps::Work;
use super::decode::{in_short, of_three};
use super::heard::Heard;
use super::narrowed::narrowed;
use super::refused::Refused;
use super::rgb::Rgb;

/// The first chunk's data: behind the signature, its length and its name.
const HEADER_AT: usize = 16;
/// No chunk but the pixels' own takes more than this when it is unpacked.
const MOST_CHUNK: usize = 32 << 20;
/// Bytes of a file behind its last row that are still unpacked, to see that they are whole. Deflate makes at
/// most a thousand of one.
const MOST_BEHIND: u64 = 256 << 10;

/// Width, height and bytes at the peak; `None` where there is no header.
pub(crate) fn declared(bytes: &[u8]) -> Option<Work> {
    let header: &[u8; 13] = bytes.get(HEADER_AT..)?.first_chunk()?;
    let (named, rest) = (bytes.get(12..16)? == b"IHDR", header.as_chunks::<4>().0);
    let [width, height, ..] = rest else { return None };
    let (width, height) = (u64::from(u32::from_be_bytes(*width)), u64::from(u32::from_be_bytes(*height)));
    let [depth, kind, .., interlaced] = header[8..] else { return None };
    let channels = if kind == 0 || kind == 4 { 2 } else { 4 };
    // Transparency may be named in a chunk of its own, and numbers of fewer bits become 8.
    let pixel = channels * if depth == 16 { 2 } else { 1 };
    let pixels = width.saturating_mul(height);
    // Three codes a pixel and afterwards their luma; in passes, what is put together first. Few rows are
    // held.
    let each = if interlaced == 0 { 4 } else { 3 + pixel };
    let rows = width.saturating_mul(8 * pixel);
    let bytes = pixels.saturating_mul(each).saturating_add(rows).saturating_add(MOST_CHUNK as u64);
    named.then_some(Work { size: (width, height), bytes, ..Work::default() })
}

/// The picture, row by row.
///
/// # Errors
/// [`Refused`].
pub(crate) fn decode(bytes: &[u8], stop: &AtomicBool) -> Result<Rgb, Refused> {
    let heard = Heard::new(bytes, stop);
    let at = heard.place();
    let mut decoder = png::Decoder::new_with_limits(heard, png::Limits { bytes: MOST_CHUNK });
    // Profiles and texts may unpack to any size and say nothing of the light.
    decoder.set_ignore_iccp_chunk(true);
    decoder.set_ignore_text_chunk(true);
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(refused)?;
    let (kind, depth) = reader.output_color_type();
    let color = match (kind, depth) {
        (Kind::Grayscale, BitDepth::Eight) => ColorType::L8,
        (Kind::Grayscale, BitDepth::Sixteen) => ColorType::L16,
        (Kind::GrayscaleAlpha, BitDepth::Eight) => ColorType::La8,
        (Kind::GrayscaleAlpha, BitDepth::Sixteen) => ColorType::La16,
        (Kind::Rgb, BitDepth::Eight) => ColorType::Rgb8,
        (Kind::Rgb, BitDepth::Sixteen) => ColorType::Rgb16,
        (Kind::Rgba, BitDepth::Eight) => ColorType::Rgba8,
        (Kind::Rgba, BitDepth::Sixteen) => ColorType::Rgba16,
        _ => return Err(Refused::NotOurs),
    };
    let (width, height) = (reader.info().width, reader.info().height);
    let pixel = usize::from(color.bytes_per_pixel());
    let line = width as usize * pixel;
    let native = |row: &[u8], height: u32| {
        let mut row = row.to_vec();
        if color.bytes_per_pixel() / color.channel_count() == 2 {
            row.as_chunks_mut::<2>().0.iter_mut().for_each(|c| *c = u16::from_be_bytes(*c).to_ne_bytes());
        }
        narrowed(row, color, (width, height)).ok_or(Refused::NotOurs)
    };
    let interlaced = reader.info().interlaced;
    let mut passes = vec![0; if interlaced { line * height as usize } else { 0 }];
    let mut codes = Vec::with_capacity(3 * width as usize * height as usize);
    for _ in 0..rows_in_all(width, height, interlaced) {
        if stop.load(Ordering::Relaxed) {
            return Err(Refused::Stopped);
        }
        let Some(row) = reader.next_interlaced_row().map_err(refused)? else { break };
        match *row.interlace() {
            InterlaceInfo::Null(_) if color == ColorType::Rgb8 => codes.extend_from_slice(row.data()),
            InterlaceInfo::Null(_) => codes.extend(native(row.data(), 1)?),
            InterlaceInfo::Adam7(ref pass) => {
                png::expand_interlaced_row(&mut passes, line, row.data(), pass, 8 * pixel as u8);
            }
        }
    }
    if interlaced {
        codes = native(&passes, height)?;
    }
    // What lies behind the last row shows nothing, but damage there is damage.
    if data_end(bytes).saturating_sub(at.get()) <= MOST_BEHIND {
        reader.next_row().map_err(refused)?;
    }
    of_three(width as usize, height as usize, codes)
}

/// Rows that the file holds: of seven passes (section 8), each of every so many columns and rows from a first
/// one on, those that have columns.
fn rows_in_all(width: u32, height: u32, interlaced: bool) -> u64 {
    const PASSES: [(u32, u32, u32, u32); 7] =
        [(0, 8, 0, 8), (4, 8, 0, 8), (0, 4, 4, 8), (2, 4, 0, 4), (0, 2, 2, 4), (1, 2, 0, 2), (0, 1, 1, 2)];
    if !interlaced {
        return u64::from(height);
    }
    let of = |side: u32, from: u32, step: u32| u64::from(side.saturating_sub(from).div_ceil(step));
    let passes = PASSES.iter().filter(|(x, dx, ..)| of(width, *x, *dx) > 0);
    passes.map(|(_, _, y, dy)| of(height, *y, *dy)).sum()
}

/// Where the last chunk of pixels ends.
fn data_end(bytes: &[u8]) -> u64 {
    let (mut at, mut end) = (8, 0);
    while let Some(head) = bytes.get(at..).and_then(|rest| rest.first_chunk::<8>()) {
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        at = at.saturating_add(length).saturating_add(12);
        if head.ends_with(b"IDAT") {
            end = at.min(bytes.len());
        }
    }
    end as u64
}

fn refused(e: DecodingError) -> Refused {
    match e {
        DecodingError::LimitsExceeded => Refused::NotOurs,
        DecodingError::Format(e) => Refused::Damaged(in_short(&format!("Format error decoding Png: {e}"))),
        e => Refused::Damaged(in_short(&e.to_string())),
    }
}
