//! TIFF 6.0 and the raws built on plain TIFF (DNG, CR2, NEF, ARW, PEF): the file is the Exif block. Its own small directory
//! reader finds the main picture's size and where its data ends.

use std::io;

use super::{Found, Want, broken, compact, cut_short, embedded, size};
use crate::frames::exif::{Block, is_enough};
use crate::frames::source::{Source, WINDOW_CAP};
use crate::frames::tiff_bytes::TiffBytes;
use crate::frames::{Cell, Damage};

/// The tags that tell of pictures: their sizes, where their data lies, further directories.
pub const PICTURE_TAGS: [u16; 10] = [0xFE, 0x100, 0x101, 0x111, 0x117, 0x144, 0x145, 0x14A, 0x201, 0x202];

/// Directories that are looked at, sub-directories included.
pub const MOST_DIRECTORIES: usize = 32;

/// Strips or tiles of one picture whose ends are looked at.
pub const MOST_STRIPS: usize = 100_000;

pub fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    // Most directories lie in the head, which is there already.
    let mut bytes = source.head().to_vec();
    let mut pictures = Pictures::of(&bytes);
    let mut had = bytes.len() as u64;
    if !(pictures.complete && is_enough(&bytes)) {
        // What is in order is fetched piece by piece; only a file that is not is read as it stands.
        let whole = usize::try_from(source.len()).unwrap_or(usize::MAX).min(WINDOW_CAP);
        (bytes, had) = match compact::read(source)? {
            Some(bytes) => (bytes, source.len()),
            None => (source.read_at(0, whole)?, whole as u64),
        };
        pictures = Pictures::of(&bytes);
    }
    let block = Block::parse(bytes);
    let out_of_reach = !pictures.complete && source.len() > had;
    let damage = match () {
        () if out_of_reach => Damage::None,
        () if !pictures.any && pictures.first > source.len() => {
            cut_short(format!("its directory lies at byte {} of {}", pictures.first, source.len()))
        }
        () if !pictures.any => broken("its directory cannot be followed"),
        () if pictures.cut => cut_short("it ends inside a directory"),
        () if pictures.end > source.len() => {
            cut_short(format!("its picture data ends at byte {} of {}", pictures.end, source.len()))
        }
        () => Damage::None,
    };
    let mut found = Found { exif: block, size: pictures.size, damage, ..Found::default() };
    if want.embedded {
        embedded::in_tiff(source, 0, &mut found.embedded)?;
    }
    Ok(found)
}

/// What the directories say of their pictures.
struct Pictures {
    /// Size of the main picture, px.
    size: Cell<(u32, u32)>,
    /// One past the last byte of any picture's data.
    end: u64,
    /// Where the first directory lies.
    first: u64,
    /// True where a directory was found at all.
    any: bool,
    /// True where a directory does not end within the bytes.
    cut: bool,
    /// True where every directory and every list of strips lay in the bytes.
    complete: bool,
}

impl Pictures {
    fn of(bytes: &[u8]) -> Self {
        let mut out = Self { size: Cell::Absent, end: 0, first: 0, any: false, cut: false, complete: true };
        let tiff = TiffBytes::new(bytes);
        let Some(first) = tiff.long(4) else { return Self { complete: false, ..out } };
        out.first = u64::from(first);
        let mut todo = vec![first];
        let mut seen = Vec::new();
        // Main pictures go before reduced ones, larger before smaller.
        let mut best = (false, 0_u64);
        while let Some(at) = todo.pop() {
            if at == 0 || seen.contains(&at) || seen.len() >= MOST_DIRECTORIES {
                continue;
            }
            seen.push(at);
            let Some(directory) = Directory::read(tiff, at as usize) else {
                out.complete = false;
                continue;
            };
            out.any = true;
            out.complete &= directory.complete;
            out.cut |= directory.cut;
            out.end = out.end.max(directory.end);
            todo.push(directory.next);
            todo.extend(directory.children);
            let (width, height) = (directory.width, directory.height);
            let rank = (!directory.reduced, u64::from(width) * u64::from(height));
            if width > 0 && height > 0 && (out.size == Cell::Absent || rank > best) {
                best = rank;
                out.size = size(width, height);
            }
        }
        out
    }
}

#[derive(Default)]
struct Directory {
    width: u32,
    height: u32,
    reduced: bool,
    end: u64,
    children: Vec<u32>,
    next: u32,
    cut: bool,
    complete: bool,
}

impl Directory {
    fn read(tiff: TiffBytes<'_>, at: usize) -> Option<Self> {
        let (entries, end) = tiff.directory(at)?;
        let cut = end > tiff.len();
        let mut out = Self { complete: !cut, cut, ..Self::default() };
        let (mut offsets, mut counts) = (Vec::new(), Vec::new());
        let (mut preview_at, mut preview_len) = (0, 0);
        for entry in entries {
            let tag = entry.tag;
            if !PICTURE_TAGS.contains(&tag) {
                continue;
            }
            let Some(values) = tiff.numbers(entry, MOST_STRIPS) else {
                out.complete = false;
                continue;
            };
            let first = values.first().copied().unwrap_or(0);
            match tag {
                0xFE => out.reduced = first & 1 == 1,
                0x100 => out.width = first,
                0x101 => out.height = first,
                0x111 | 0x144 => offsets = values,
                0x117 | 0x145 => counts = values,
                0x14A => out.children = values,
                0x201 => preview_at = first,
                _ => preview_len = first,
            }
        }
        match tiff.long(end) {
            Some(next) => out.next = next,
            None => out.complete = false,
        }
        let ends = offsets.iter().zip(&counts).map(|(at, len)| u64::from(*at) + u64::from(*len));
        out.end = ends.chain([u64::from(preview_at) + u64::from(preview_len)]).max().unwrap_or(0);
        Some(out)
    }
}
