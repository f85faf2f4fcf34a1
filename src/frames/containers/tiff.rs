//! TIFF 6.0 and the raws built on plain TIFF (DNG, CR2, NEF, ARW, PEF): the file is the Exif block. Its own small directory
//! reader finds the main picture's size and where its data ends.

use std::io;

use super::{Found, broken, cut_short, size};
use crate::frames::exif::Block;
use crate::frames::source::{Source, WINDOW_CAP};
use crate::frames::{Cell, Damage};

/// The part that is read first; most raws keep their directories in it.
const FIRST_BYTES: usize = 512 * 1024;

/// Directories that are looked at, sub-directories included.
const MOST_DIRECTORIES: usize = 32;

/// Strips or tiles of one picture whose ends are looked at.
const MOST_STRIPS: usize = 100_000;

pub fn read(source: &mut Source) -> io::Result<Found> {
    let bytes = source.read_at(0, FIRST_BYTES)?;
    let mut had = bytes.len();
    let mut pictures = Pictures::of(&bytes);
    let mut block = Block::parse(bytes);
    let whole = usize::try_from(source.len()).unwrap_or(usize::MAX).min(WINDOW_CAP);
    if whole > had && !(pictures.complete && block.is_whole()) {
        let bytes = source.read_at(0, whole)?;
        had = bytes.len();
        pictures = Pictures::of(&bytes);
        block = Block::parse(bytes);
    }
    let out_of_reach = !pictures.complete && source.len() > had as u64;
    let damage = match () {
        () if out_of_reach => Damage::None,
        () if !pictures.any && pictures.first > source.len() => {
            cut_short(format!("its directory lies at byte {} of {}", pictures.first, source.len()))
        }
        () if !pictures.any => broken("its directory cannot be followed"),
        () if pictures.end > source.len() => {
            cut_short(format!("its picture data ends at byte {} of {}", pictures.end, source.len()))
        }
        () => Damage::None,
    };
    Ok(Found { exif: block, size: pictures.size, damage, tail: Vec::new() })
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
    /// True where every directory and every list of strips lay in the bytes.
    complete: bool,
}

impl Pictures {
    fn of(bytes: &[u8]) -> Self {
        let mut out = Self { size: Cell::Absent, end: 0, first: 0, any: false, complete: true };
        let tiff = Tiff { bytes, little: bytes.first() == Some(&b'I') };
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
            let Some(directory) = tiff.directory(at as usize) else {
                out.complete = false;
                continue;
            };
            out.any = true;
            out.complete &= directory.complete;
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
    complete: bool,
}

struct Tiff<'a> {
    bytes: &'a [u8],
    little: bool,
}

impl Tiff<'_> {
    fn short(&self, at: usize) -> Option<u16> {
        let bytes = *self.bytes.get(at..)?.first_chunk::<2>()?;
        Some(if self.little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    }

    fn long(&self, at: usize) -> Option<u32> {
        let bytes = *self.bytes.get(at..)?.first_chunk::<4>()?;
        Some(if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    fn directory(&self, at: usize) -> Option<Directory> {
        let count = usize::from(self.short(at)?);
        let mut out = Directory { complete: true, ..Directory::default() };
        let (mut offsets, mut counts) = (Vec::new(), Vec::new());
        let (mut preview_at, mut preview_len) = (0, 0);
        for entry in (0..count).map(|i| at + 2 + 12 * i) {
            let Some(tag) = self.short(entry) else {
                out.complete = false;
                return Some(out);
            };
            let wanted =
                matches!(tag, 0xFE | 0x100 | 0x101 | 0x111 | 0x117 | 0x144 | 0x145 | 0x14A | 0x201 | 0x202);
            if !wanted {
                continue;
            }
            let Some(values) = self.values(entry) else {
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
        out.next = self.long(at + 2 + 12 * count).unwrap_or(0);
        let ends = offsets.iter().zip(&counts).map(|(at, len)| u64::from(*at) + u64::from(*len));
        out.end = ends.chain([u64::from(preview_at) + u64::from(preview_len)]).max().unwrap_or(0);
        Some(out)
    }

    /// Whole numbers of an entry; `None` where they lie outside the bytes or are of another type.
    fn values(&self, entry: usize) -> Option<Vec<u32>> {
        let count = (self.long(entry + 4)? as usize).min(MOST_STRIPS);
        let width = match self.short(entry + 2)? {
            3 => 2,
            4 | 13 => 4,
            _ => return None,
        };
        let at = if count * width <= 4 { entry + 8 } else { self.long(entry + 8)? as usize };
        let one = |i: usize| {
            let at = at.checked_add(i * width)?;
            if width == 2 { self.short(at).map(u32::from) } else { self.long(at) }
        };
        (0..count).map(one).collect()
    }
}
