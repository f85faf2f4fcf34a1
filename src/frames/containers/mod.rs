//! Pictures' containers, one file each: where the Exif block lies, how large the picture is, whether the file
//! is whole.

mod carried;
mod cr3;
mod crw;
mod embedded;
mod found;
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
pub(crate) use found::Found;
use found::TAIL_BYTES;
pub use found::Want;

use super::source::Source;
use super::{Damage, FileKind};

/// Reads a file of the given kind. A new container is one more line here, one file beside this one, and its
/// first bytes in the card's list.
///
/// # Errors
/// What the system says on reading; bytes that do not decode are [`Found::damage`].
pub(crate) fn read(kind: FileKind, source: &mut Source, want: Want) -> io::Result<Found> {
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

fn unknown(source: &Source) -> Damage {
    if source.is_empty() { Damage::Empty } else { Damage::NotAPicture }
}
