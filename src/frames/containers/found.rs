//! What a container has to say of a file, and the words for what is wrong with it.

use std::io;

use super::embedded::Embedded;
use crate::frames::exif::Block;
use crate::frames::source::Source;
use crate::frames::{Cell, Damage};

/// What a container had to say.
#[derive(Default)]
pub(crate) struct Found {
    /// The Exif block.
    pub exif: Block,
    /// Width and height of the main picture, px, as stored.
    pub size: Cell<(u32, u32)>,
    /// What is wrong with the file.
    pub damage: Damage,
    /// JPEG streams that the file carries beside its own picture, the smallest first; only where they were
    /// asked for.
    pub embedded: Vec<Embedded>,
    /// How many of the file's last bytes were read to judge it.
    pub tail: usize,
}

/// What is wanted of a file beside its header.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Want {
    /// Where the JPEG streams lie that the file carries: thumbnails, previews. Costs a read or two where they
    /// lie deep.
    pub embedded: bool,
}

/// How much of a file's end is read first.
pub(crate) const TAIL_BYTES: usize = 4096;

/// Data this long that ends in nothing but zeros was never written.
pub(crate) const ZEROS: u64 = 16 * 1024;

/// The damage of a file whose picture data (place and length) ends in zeros though it is of a kind that has
/// no long runs of them: the mark of a card that lost power. Looked at only where the file's own end is
/// zeros.
pub(crate) fn zeros(source: &mut Source, (at, len): (u64, u64)) -> io::Result<Damage> {
    let only_zeros = |bytes: &[u8]| bytes.iter().all(|byte| *byte == 0);
    if len < ZEROS || !only_zeros(source.tail(TAIL_BYTES)?.1) {
        return Ok(Damage::None);
    }
    let end = at.saturating_add(len).min(source.len());
    let last = source.view(end.saturating_sub(ZEROS).max(at), ZEROS as usize)?;
    let never_written = !last.is_empty() && only_zeros(last);
    Ok(if never_written { cut_short("its end is filled with zeros") } else { Damage::None })
}

/// Damage: the file ends too early.
pub(crate) fn cut_short(why: impl Into<String>) -> Damage {
    Damage::CutShort(why.into().into_boxed_str())
}

/// Damage: what the file says of itself contradicts itself.
pub(crate) fn broken(why: impl Into<String>) -> Damage {
    Damage::Broken(why.into().into_boxed_str())
}

/// A size in pixels; a picture without width or height is no size.
pub(crate) fn size(width: u32, height: u32) -> Cell<(u32, u32)> {
    if width == 0 || height == 0 { Cell::Unreadable } else { Cell::Known((width, height)) }
}
