//! Smaller pictures that a file carries beside its own: thumbnails and previews, as JPEG streams with their places. Nothing of
//! them is read here but where they lie.

use std::io;

use crate::frames::source::Source;
use crate::frames::tiff_bytes::{Entry, TiffBytes};

/// A JPEG stream inside a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Embedded {
    /// Where it begins, bytes from the file's first.
    pub at: u64,
    /// Its length in bytes, as the file tells it; it lies within the file.
    pub len: u64,
    /// Width and height, px, where the file tells them beside the place. The stream's own header has the last word.
    pub size: Option<(u32, u32)>,
}

/// Directories that are looked at, sub-directories included.
const MOST_DIRECTORIES: usize = 16;
/// Entries of one directory that are looked at.
const MOST_ENTRIES: usize = 512;
/// Pointers of one directory to sub-directories that are followed.
const MOST_CHILDREN: usize = 8;
/// No JPEG stream is shorter than its two ends.
const LEAST_BYTES: u64 = 4;

/// Adds a stream, where it lies within a file of `file` bytes and stands there for the first time.
pub fn add(list: &mut Vec<Embedded>, file: u64, new: Embedded) {
    let inside = new.at.checked_add(new.len).is_some_and(|end| end <= file);
    if inside && new.len >= LEAST_BYTES && !list.iter().any(|e| e.at == new.at) {
        list.push(new);
    }
}

/// The streams that the directories of a TIFF stream name, `base` being where that begins in the file: those of
/// JPEGInterchangeFormat (0201, 0202), and those that fill one strip (compression 6 or 7) of a picture that is finished.
///
/// # Errors
/// What the system says on reading.
pub fn in_tiff(source: &mut Source, base: u64, list: &mut Vec<Embedded>) -> io::Result<()> {
    let header = source.read_at(base, 8)?;
    let Some(first) = TiffBytes::new(&header).long(4) else { return Ok(()) };
    let order = header.get(..2).unwrap_or_default().to_vec();
    let mut todo = vec![first];
    let mut seen = Vec::new();
    while let Some(at) = todo.pop() {
        if at == 0 || seen.contains(&at) || seen.len() >= MOST_DIRECTORIES {
            continue;
        }
        seen.push(at);
        let place = base.saturating_add(u64::from(at));
        // The mark of the byte order goes before the directory, so that its numbers can be read by it.
        let with_order = |bytes: Vec<u8>| [order.as_slice(), &bytes].concat();
        let count = with_order(source.read_at(place, 2)?);
        let count = usize::from(TiffBytes::new(&count).short(2).unwrap_or(0)).min(MOST_ENTRIES);
        let bytes = with_order(source.read_at(place, 2 + 12 * count + 4)?);
        let tiff = TiffBytes::new(&bytes);
        let Some((entries, end)) = tiff.directory(2) else { continue };
        let mut directory = Directory::default();
        for entry in entries {
            if entry.tag == 0x014A {
                todo.extend(children(source, base, tiff, entry, &order)?);
            } else {
                directory.take(tiff, entry);
            }
        }
        todo.extend(tiff.long(end));
        if let Some((at, len)) = directory.stream() {
            let size =
                (directory.width > 0 && directory.height > 0).then_some((directory.width, directory.height));
            let new = Embedded { at: base.saturating_add(u64::from(at)), len: u64::from(len), size };
            add(list, source.len(), new);
        }
    }
    Ok(())
}

/// Where the sub-directories lie: in the entry where there is one, elsewhere where there are more.
fn children(
    source: &mut Source,
    base: u64,
    tiff: TiffBytes<'_>,
    entry: Entry,
    order: &[u8],
) -> io::Result<Vec<u32>> {
    let Some((at, len)) = tiff.value_of(entry) else { return Ok(Vec::new()) };
    if len <= 4 {
        return Ok(tiff.numbers(entry, 1).unwrap_or_default());
    }
    let bytes = source.read_at(base.saturating_add(at as u64), len.min(4 * MOST_CHILDREN))?;
    let bytes = [order, &bytes].concat();
    let tiff = TiffBytes::new(&bytes);
    Ok((0..MOST_CHILDREN).map_while(|i| tiff.long(2 + 4 * i)).collect())
}

/// What a directory says of its picture, as far as one number each can say it.
#[derive(Default)]
struct Directory {
    width: u32,
    height: u32,
    reduced: bool,
    compression: u32,
    photometric: u32,
    /// How many samples a pixel has.
    samples: u32,
    strips: u32,
    strip: (u32, u32),
    stream: (u32, u32),
}

impl Directory {
    fn take(&mut self, tiff: TiffBytes<'_>, entry: Entry) {
        if entry.tag == 0x0102 {
            self.samples = tiff.long(entry.at + 4).unwrap_or(0);
        }
        let one = tiff.value_of(entry).is_some_and(|(_, len)| len <= 4);
        let number = if one { tiff.numbers(entry, 1).and_then(|n| n.first().copied()) } else { None };
        let Some(number) = number else { return };
        match entry.tag {
            0x00FE => self.reduced = number & 1 == 1,
            0x0100 => self.width = number,
            0x0101 => self.height = number,
            0x0103 => self.compression = number,
            0x0106 => self.photometric = number,
            0x0111 => (self.strip.0, self.strips) = (number, tiff.long(entry.at + 4).unwrap_or(0)),
            0x0117 => self.strip.1 = number,
            0x0201 => self.stream.0 = number,
            0x0202 => self.stream.1 = number,
            _ => {}
        }
    }

    /// Place and length of a finished picture's stream. A raw picture is kept under the same compressions: it has one sample
    /// a pixel and neither RGB nor YCbCr for its colours.
    fn stream(&self) -> Option<(u32, u32)> {
        if self.stream.0 != 0 {
            return Some(self.stream);
        }
        let finished = self.reduced || matches!(self.photometric, 2 | 6) || self.samples == 3;
        let jpeg = matches!(self.compression, 6 | 7) && self.photometric < 32_803;
        (jpeg && finished && self.strips == 1).then_some(self.strip)
    }
}

/// The streams that the index of a multi-picture file names (CIPA DC-007), `at` being where that index, a TIFF stream, begins
/// in the file and `len` how long it is. The main picture, which has no place there, is none of them.
///
/// # Errors
/// What the system says on reading.
pub fn in_index(source: &mut Source, at: u64, len: usize, list: &mut Vec<Embedded>) -> io::Result<()> {
    /// MPEntry: 16 bytes a picture.
    const ENTRIES: u16 = 0xB002;
    let bytes = source.read_at(at, len.min(4096))?;
    let tiff = TiffBytes::new(&bytes);
    let Some(first) = tiff.long(4) else { return Ok(()) };
    let Some((mut entries, _)) = tiff.directory(first as usize) else { return Ok(()) };
    let Some((from, len)) = entries.find(|e| e.tag == ENTRIES).and_then(|e| tiff.value_of(e)) else {
        return Ok(());
    };
    for i in 0..len / 16 {
        let number = |by: usize| tiff.long(from.checked_add(16 * i + by)?);
        let (Some(len), Some(place)) = (number(4), number(8)) else { break };
        if place != 0 {
            let new = Embedded { at: at.saturating_add(u64::from(place)), len: u64::from(len), size: None };
            add(list, source.len(), new);
        }
    }
    Ok(())
}
