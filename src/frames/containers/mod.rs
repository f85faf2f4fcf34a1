//! Pictures' containers, one file each: where the Exif block lies, how large the picture is, whether the file is whole.

mod cr3;
mod crw;
mod embedded;
mod heif;
mod iso;
mod jp2;
mod jpeg;
mod jpeg_end;
mod jxl;
mod mrw;
mod pictures;
mod png;
mod raf;
mod rw2;
mod tiff;
mod webp;

use std::io;

pub use embedded::Embedded;

use super::exif::Block;
use super::source::Source;
use super::{Cell, Damage, FileKind};

/// What a container had to say.
#[derive(Default)]
pub struct Found {
    /// The Exif block.
    pub exif: Block,
    /// Width and height of the main picture, px, as stored.
    pub size: Cell<(u32, u32)>,
    /// What is wrong with the file.
    pub damage: Damage,
    /// JPEG streams that the file carries beside its own picture, the smallest first; only where they were asked for.
    pub embedded: Vec<Embedded>,
    /// How many of the file's last bytes were read to judge it.
    pub tail: usize,
}

/// What is wanted of a file beside its header.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Want {
    /// Where the JPEG streams lie that the file carries: thumbnails, previews. Costs a read or two where they lie deep.
    pub embedded: bool,
}

/// How much of a file's end is read first.
const TAIL_BYTES: usize = 4096;

/// Reads a file of the given kind. A new container is one more line here, one file beside this one, and its first bytes in
/// the card's list.
///
/// # Errors
/// What the system says on reading; bytes that do not decode are [`Found::damage`].
pub fn read(kind: FileKind, source: &mut Source, want: Want) -> io::Result<Found> {
    let mut found = match kind {
        FileKind::Jpeg => jpeg::read(source, want)?,
        FileKind::Tiff => tiff::read(source, want)?,
        FileKind::Png => png::read(source)?,
        FileKind::Webp => webp::read(source, want)?,
        FileKind::Heif => heif::read(source, want)?,
        FileKind::Cr3 => cr3::read(source, want)?,
        FileKind::Crw => crw::read(source, want)?,
        FileKind::Raf => raf::read(source, want)?,
        FileKind::Rw2 => rw2::read(source, want)?,
        FileKind::Mrw => mrw::read(source)?,
        FileKind::Jxl => jxl::read(source, want)?,
        FileKind::Jp2 => jp2::read(source)?,
        FileKind::Other => Found::default(),
        FileKind::Unknown => Found { damage: unknown(source), ..Found::default() },
    };
    found.embedded.sort_by_key(|e| (e.len, e.at));
    if found.tail == 0 {
        found.tail = TAIL_BYTES;
    }
    Ok(found)
}

/// Data this long that ends in nothing but zeros was never written.
const ZEROS: u64 = 16 * 1024;

/// The damage of a file whose picture data (place and length) ends in zeros though it is of a kind that has no long runs of
/// them: the mark of a card that lost power. Looked at only where the file's own end is zeros.
fn zeros(source: &mut Source, (at, len): (u64, u64)) -> io::Result<Damage> {
    let only_zeros = |bytes: &[u8]| bytes.iter().all(|byte| *byte == 0);
    if len < ZEROS || !only_zeros(source.tail(TAIL_BYTES)?.1) {
        return Ok(Damage::None);
    }
    let end = at.saturating_add(len).min(source.len());
    let last = source.view(end.saturating_sub(ZEROS).max(at), ZEROS as usize)?;
    let never_written = !last.is_empty() && only_zeros(last);
    Ok(if never_written { cut_short("its end is filled with zeros") } else { Damage::None })
}

fn unknown(source: &Source) -> Damage {
    if source.is_empty() { Damage::Empty } else { Damage::NotAPicture }
}

fn cut_short(why: impl Into<String>) -> Damage {
    Damage::CutShort(why.into().into_boxed_str())
}

fn broken(why: impl Into<String>) -> Damage {
    Damage::Broken(why.into().into_boxed_str())
}

/// A size in pixels; a picture without width or height is no size.
fn size(width: u32, height: u32) -> Cell<(u32, u32)> {
    if width == 0 || height == 0 { Cell::Unreadable } else { Cell::Known((width, height)) }
}
