//! The picture that a directory of a TIFF stream describes: its size, where its data lies, whether it is a
//! JPEG stream.

use std::io;

use super::embedded::Embedded;
use crate::frames::source::Source;
use crate::frames::tiff_stream::{Directory, Entry, Stream};

/// Strips or tiles at either end of a picture whose ends are looked at.
const STRIPS: u64 = 512;
/// Sub-directories of one directory that are looked at.
const MOST_CHILDREN: u64 = 16;

/// True where a tag tells of pictures: their sizes, where their data lies, further directories.
pub(crate) fn is_wanted(tag: u16) -> bool {
    matches!(tag, 0xFE | 0x100..=0x103 | 0x106 | 0x111 | 0x117 | 0x144 | 0x145 | 0x14A | 0x201 | 0x202)
}

/// What a directory says. Places count from the file's first byte.
#[derive(Default)]
pub(crate) struct Picture {
    pub width: u32,
    pub height: u32,
    /// A thumbnail or preview of another picture (NewSubfileType, bit 0).
    pub reduced: bool,
    compression: u64,
    photometric: u64,
    /// How many samples a pixel has, by the count of BitsPerSample.
    samples: u64,
    strips: u64,
    /// The strip or tile that ends last: its place and length.
    pub last: (u64, u64),
    /// JPEGInterchangeFormat and its length.
    stream: (u64, u64),
    /// Places of the sub-directories in the stream.
    pub children: Vec<u64>,
    /// True where a list of strips lies beyond the stream's end.
    pub lost: bool,
}

impl Picture {
    /// Reads what the directory says.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn of(source: &mut Source, stream: &Stream, directory: &Directory) -> io::Result<Self> {
        let mut out = Self::default();
        let (mut offsets, mut lengths) = (None, None);
        for entry in &directory.entries {
            match entry.tag {
                0x102 => out.samples = entry.count,
                0x111 | 0x144 => offsets = Some(entry),
                0x117 | 0x145 => lengths = Some(entry),
                0x14A => {
                    out.lost |= !stream.reaches(entry);
                    out.children = stream.numbers(source, entry, 0, MOST_CHILDREN)?;
                }
                _ => out.number(entry.tag, stream.number(entry).unwrap_or(0)),
            }
        }
        if let (Some(offsets), Some(lengths)) = (offsets, lengths) {
            out.strips(source, stream, offsets, lengths)?;
        }
        let (at, len) = out.stream;
        if at != 0 {
            out.stream = (stream.base.saturating_add(at), len);
        }
        Ok(out)
    }

    fn number(&mut self, tag: u16, number: u64) {
        let small = u32::try_from(number).unwrap_or(0);
        match tag {
            0xFE => self.reduced = number & 1 == 1,
            0x100 => self.width = small,
            0x101 => self.height = small,
            0x103 => self.compression = number,
            0x106 => self.photometric = number,
            0x201 => self.stream.0 = number,
            0x202 => self.stream.1 = number,
            _ => {}
        }
    }

    /// Strips follow each other almost always: of a long list the two ends are enough.
    fn strips(
        &mut self,
        source: &mut Source,
        stream: &Stream,
        offsets: &Entry,
        lengths: &Entry,
    ) -> io::Result<()> {
        self.strips = offsets.count;
        self.lost |= !stream.reaches(offsets) || !stream.reaches(lengths);
        let count = offsets.count.min(lengths.count);
        for from in [0, count.saturating_sub(STRIPS).max(STRIPS)] {
            if from >= count {
                break;
            }
            let places = stream.numbers(source, offsets, from, STRIPS)?;
            let lengths = stream.numbers(source, lengths, from, STRIPS)?;
            for (at, len) in places.into_iter().zip(lengths) {
                let at = stream.base.saturating_add(at);
                if at.saturating_add(len) > self.last.0.saturating_add(self.last.1) {
                    self.last = (at, len);
                }
            }
        }
        Ok(())
    }

    /// One past the last byte of its data; 0 where none is told.
    pub(crate) fn end(&self) -> u64 {
        let end = |(at, len): (u64, u64)| at.saturating_add(len);
        end(self.last).max(end(self.stream))
    }

    /// True where long runs of zeros cannot be its data: it is compressed, or it is a sensor's own picture
    /// (photometric interpretation 32803), whose black lies above 0.
    pub(crate) fn is_noise(&self) -> bool {
        self.compression > 1 || self.photometric == 32_803
    }

    /// The picture as a JPEG stream, where it is one. A raw picture is kept under the same compressions (6
    /// and 7): it has one sample a pixel and neither RGB nor YCbCr for its colours.
    pub(crate) fn embedded(&self) -> Option<Embedded> {
        let finished = self.reduced || matches!(self.photometric, 2 | 6) || self.samples == 3;
        let one_strip =
            matches!(self.compression, 6 | 7) && self.photometric < 32_803 && finished && self.strips == 1;
        let (at, len) = match () {
            () if self.stream.0 != 0 => self.stream,
            () if one_strip => self.last,
            () => return None,
        };
        let size = (self.width > 0 && self.height > 0).then_some((self.width, self.height));
        Some(Embedded { at, len, size })
    }
}
