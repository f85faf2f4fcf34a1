//! Where Exif blocks and multi-picture files say that their smaller pictures lie.

use std::io;

use super::embedded::{Embedded, add};
use super::pictures::{self, Picture};
use crate::frames::source::Source;
use crate::frames::tiff_stream::Stream;

/// Directories behind the main one that are looked at.
const MOST_DIRECTORIES: usize = 4;
/// Pictures of a multi-picture file that are looked at.
const MOST_PICTURES: u64 = 64;

/// The thumbnail of an Exif block whose TIFF header stands at `base` and which ends at `end` of the file: the
/// directories behind the main one name it.
///
/// # Errors
/// What the system says on reading.
pub(crate) fn in_block(source: &mut Source, base: u64, end: u64, list: &mut Vec<Embedded>) -> io::Result<()> {
    let Some((stream, first)) = Stream::open(source, base, end)? else { return Ok(()) };
    let Some(main) = stream.directory(source, first, |_| false)? else { return Ok(()) };
    let mut next = main.next;
    for _ in 0..MOST_DIRECTORIES {
        if next == 0 {
            break;
        }
        let Some(directory) = stream.directory(source, next, pictures::is_wanted)? else { break };
        if let Some(new) = Picture::of(source, &stream, &directory)?.embedded() {
            add(list, source.len(), new);
        }
        next = directory.next;
    }
    Ok(())
}

/// The streams that the index of a multi-picture file names (CIPA DC-007): a TIFF stream that begins at
/// `base` of the file and ends at `end`. The main picture, which has no place there, is none of them.
///
/// # Errors
/// What the system says on reading.
pub(crate) fn in_index(source: &mut Source, base: u64, end: u64, list: &mut Vec<Embedded>) -> io::Result<()> {
    /// MPEntry: 16 bytes a picture, of which the second four are its length and the third four its place.
    const ENTRIES: u16 = 0xB002;
    let Some((stream, first)) = Stream::open(source, base, end)? else { return Ok(()) };
    let Some(directory) = stream.directory(source, first, |tag| tag == ENTRIES)? else { return Ok(()) };
    for entry in &directory.entries {
        // The same bytes as whole numbers of 32 bits.
        let entry = crate::frames::tiff_stream::Entry { kind: 4, count: entry.len / 4, ..*entry };
        let numbers = stream.numbers(source, &entry, 0, 4 * MOST_PICTURES)?;
        for picture in numbers.chunks_exact(4).filter(|p| p[2] != 0) {
            let new = Embedded { at: base.saturating_add(picture[2]), len: picture[1], size: None };
            add(list, source.len(), new);
        }
    }
    Ok(())
}
