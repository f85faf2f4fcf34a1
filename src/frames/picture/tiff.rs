//! What a TIFF file declares.
//!
//! Source: TIFF 6.0 and its technical note 2 (JPEG in TIFF).

use std::io;
use std::sync::Arc;

use super::caps::{MOST_BLOCKS, Work};
use super::jpeg::Declared;
use super::refused::Refused;
use crate::frames::source::Source;
use crate::frames::tiff_stream::{Directory, Stream};

/// What a decoder keeps of one value of a directory, bytes.
const VALUE: u64 = 40;
/// Tags whose values a decoder reads: sizes, bits, compression, colours, strips, planes, the predictor, the
/// map of colours, tiles, further samples, formats, JPEG tables, sampled colours. Others may point anywhere.
const READ: [u16; 21] = [
    0x100, 0x101, 0x102, 0x103, 0x106, 0x10A, 0x111, 0x115, 0x116, 0x117, 0x11C, 0x13D, 0x140, 0x142, 0x143,
    0x144, 0x145, 0x152, 0x153, 0x15B, 0x212,
];
/// JPEG streams of one picture that are looked into.
const MOST_STREAMS: u64 = 1 << 16;
/// Compression: JPEG (technical note 2).
const JPEG: u64 = 7;

/// Width, height and bytes at the peak of the file's first picture; `None` where its directory cannot be
/// followed.
///
/// # Errors
/// [`Refused`] where a JPEG stream of it is larger than its place in the picture.
pub(crate) fn declared(bytes: &Arc<Vec<u8>>) -> Result<Option<Work>, Refused> {
    // Bytes in memory give no error of the system's.
    picture(bytes).unwrap_or(Ok(None))
}

fn picture(bytes: &Arc<Vec<u8>>) -> io::Result<Result<Option<Work>, Refused>> {
    let mut source = Source::of(Box::new(Arc::clone(bytes)), bytes.len() as u64)?;
    let source = &mut source;
    let Some((stream, first)) = Stream::open(source, 0, u64::MAX)? else { return Ok(Ok(None)) };
    let Some(directory) = stream.directory(source, first, |_| true)? else { return Ok(Ok(None)) };
    let read = |tag: u16| READ.contains(&tag);
    if directory.cut || directory.entries.iter().any(|e| read(e.tag) && !stream.reaches(e)) {
        return Ok(Ok(None));
    }
    // A tag that stands there twice is read one way or the other.
    let twice = |tag: &u16| directory.entries.iter().filter(|e| e.tag == *tag).count() > 1;
    if READ.iter().any(twice) {
        return Ok(Err(Refused::NotOurs));
    }
    let number = |tag: u16, without: u64| match directory.entries.iter().find(|e| e.tag == tag) {
        // What is no whole number is larger than any bound.
        Some(entry) => stream.number(entry).unwrap_or(u64::from(u32::MAX)),
        None => without,
    };
    let (width, height) = (number(0x100, 0), number(0x101, 0));
    // Of several numbers of bits the first stands inline only where there are few; 16 is the most that is
    // decoded of whole numbers.
    let bits = match directory.entries.iter().find(|e| e.tag == 0x102) {
        Some(entry) => stream.numbers(source, entry, 0, 8)?.into_iter().max().unwrap_or(64),
        None => 1,
    };
    let samples = number(0x115, 1);
    // What is made of tiles is unpacked in whole tiles, strips in whole rows.
    let (across, down) = match (number(0x142, 0), number(0x143, 0)) {
        (0, _) | (_, 0) => (width, number(0x116, height).min(height).max(1)),
        tile => tile,
    };
    let filled = |side: u64, piece: u64| side.div_ceil(piece.max(1)).saturating_mul(piece);
    let unpacked = filled(width, across).saturating_mul(filled(height, down));
    let pixel = samples.saturating_mul(bits.div_ceil(8)).min(1 << 16);
    let values = directory.entries.iter().filter(|e| read(e.tag));
    let values = values.fold(0_u64, |sum, e| sum.saturating_add(e.count));
    let pixels = width.saturating_mul(height);
    let each = match bits {
        32 => 2 * pixel + 15,
        _ if pixel < 3 => 2 * pixel + 3,
        _ => 2 * pixel,
    };
    let bytes_taken = pixels.saturating_mul(each.max(4)).saturating_add(values.saturating_mul(VALUE));
    let row = across.saturating_mul(pixel).saturating_mul(2);
    let mut work = Work { size: (width, height), bytes: bytes_taken.saturating_add(row), ..Work::default() };
    // Time goes with what is unpacked, not with what is shown of it.
    if unpacked > pixels.saturating_mul(2).saturating_add(1 << 24) {
        work.size = (filled(width, across), filled(height, down));
    }
    if number(0x103, 1) != JPEG {
        return Ok(Ok(Some(work)));
    }
    let inside = streams(bytes, source, &stream, &directory, (across, down))?;
    Ok(inside.map(|(most, blocks)| {
        (work.bytes, work.blocks) = (work.bytes.saturating_add(most), blocks);
        Some(work)
    }))
}

/// The bytes that the largest JPEG stream of the picture takes, and the blocks of all of them.
fn streams(
    bytes: &[u8],
    source: &mut Source,
    stream: &Stream,
    directory: &Directory,
    (across, down): (u64, u64),
) -> io::Result<Result<(u64, u64), Refused>> {
    let list = |source: &mut Source, tags: [u16; 2]| match directory
        .entries
        .iter()
        .find(|e| tags.contains(&e.tag))
    {
        Some(entry) => stream.numbers(source, entry, 0, MOST_STREAMS),
        None => Ok(Vec::new()),
    };
    let (places, lengths) = (list(source, [0x111, 0x144])?, list(source, [0x117, 0x145])?);
    let (mut most, mut blocks) = (0, 0_u64);
    for (at, len) in places.into_iter().zip(lengths) {
        let (at, end) = (usize::try_from(at).ok(), usize::try_from(at.saturating_add(len)).ok());
        let piece = at.zip(end).and_then(|(at, end)| bytes.get(at..end)).unwrap_or_default();
        let Some(work) = Declared::of(piece).map(|d| d.whole()) else { return Ok(Err(Refused::NotOurs)) };
        // A unit of a stream is up to 32 px wide and high.
        if work.size.0 > across.saturating_add(31) || work.size.1 > down.saturating_add(31) {
            let (w, h) = work.size;
            let why = format!("its picture has a part of {across} × {down} pixels that declares {w} × {h}");
            return Ok(Err(Refused::TooMuch(why)));
        }
        most = most.max(work.bytes + 2 * work.pixels());
        blocks = blocks.saturating_add(work.blocks);
        if blocks > MOST_BLOCKS {
            break;
        }
    }
    Ok(Ok((most, blocks)))
}
