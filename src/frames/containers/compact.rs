//! A TIFF file without its picture data: the directories and the values that are wanted of it, fetched from wherever they lie
//! and moved together into a small stream of the same meaning. The file itself is never read whole for that.

use std::io;

use super::tiff::{MOST_DIRECTORIES, MOST_STRIPS, PICTURE_TAGS};
use crate::frames::exif::WANTED;
use crate::frames::source::Source;
use crate::frames::tiff_bytes::{Entry, TiffBytes};

/// Pointer to the Exif directory.
const EXIF: u16 = 0x8769;
/// Pointers to sub-directories.
const CHILDREN: u16 = 0x014A;
/// No value that is wanted is longer than this many bytes, but for lists of strips.
const LONGEST_VALUE: usize = 64 * 1024;

/// The small stream; `None` where anything is out of the ordinary (a directory or a value beyond the file's end, pointers of
/// a strange type): the file as it stands must then be judged.
///
/// # Errors
/// What the system says on reading.
pub fn read(source: &mut Source) -> io::Result<Option<Vec<u8>>> {
    let Some(header) = source.array_at::<8>(0)? else { return Ok(None) };
    let mut compact = Compact { out: header.to_vec(), todo: vec![4], moved: Vec::new() };
    while let Some(pointer) = compact.todo.pop() {
        if compact.directory(source, pointer)?.is_none() {
            return Ok(None);
        }
    }
    Ok(Some(compact.out))
}

struct Compact {
    out: Vec<u8>,
    /// Where in `out` pointers stand that still lead into the file.
    todo: Vec<usize>,
    /// Directories by their place in the file and in `out`.
    moved: Vec<(u32, u32)>,
}

impl Compact {
    /// Moves the directory to which the pointer at `pointer` of `out` leads. `None` where it is out of the ordinary.
    fn directory(&mut self, source: &mut Source, pointer: usize) -> io::Result<Option<()>> {
        let Some(at) = TiffBytes::new(&self.out).long(pointer) else { return Ok(None) };
        if at == 0 {
            return Ok(Some(()));
        }
        if let Some((_, place)) = self.moved.iter().find(|(from, _)| *from == at) {
            return Ok(self.point(pointer, *place as usize));
        }
        if self.moved.len() >= MOST_DIRECTORIES {
            return Ok(None);
        }
        let Some(count) = source.array_at::<2>(u64::from(at))? else { return Ok(None) };
        let count =
            usize::from(if self.little() { u16::from_le_bytes(count) } else { u16::from_be_bytes(count) });
        // The mark of the byte order goes before it, so that the entries can be read by it.
        let mut bytes = self.out.get(..2).unwrap_or_default().to_vec();
        bytes.extend(source.read_at(u64::from(at), 2 + 12 * count + 4)?);
        let tiff = TiffBytes::new(&bytes);
        let Some((entries, end)) = tiff.directory(2) else { return Ok(None) };
        let Some(next) = bytes.get(end..end + 4) else { return Ok(None) };

        let kept: Vec<Entry> =
            entries.filter(|e| WANTED.contains(&e.tag) || PICTURE_TAGS.contains(&e.tag)).collect();
        let place = self.out.len();
        self.moved.push((at, u32::try_from(place).unwrap_or(u32::MAX)));
        let number = u16::try_from(kept.len()).unwrap_or(u16::MAX);
        let number = if self.little() { number.to_le_bytes() } else { number.to_be_bytes() };
        self.out.extend(number);
        for entry in &kept {
            self.out.extend(bytes.get(entry.at..entry.at + 12).unwrap_or_default());
        }
        // Pictures are looked at from the last pointer to the first; the order here is of no consequence.
        self.todo.push(self.out.len());
        self.out.extend(next);
        for (i, entry) in kept.iter().enumerate() {
            if self.value(source, tiff, *entry, place + 2 + 12 * i + 8)?.is_none() {
                return Ok(None);
            }
        }
        Ok(self.point(pointer, place))
    }

    /// Moves an entry's value, where it does not stand in the entry itself; `field` is where that has its last four bytes.
    fn value(
        &mut self,
        source: &mut Source,
        tiff: TiffBytes<'_>,
        entry: Entry,
        field: usize,
    ) -> io::Result<Option<()>> {
        let Some((from, len)) = tiff.value_of(entry) else { return Ok(None) };
        let leads = matches!(entry.tag, EXIF | CHILDREN);
        if leads && !(matches!(tiff.short(entry.at + 2), Some(4 | 13)) && len >= 4) {
            return Ok(None);
        }
        if len <= 4 {
            self.todo.extend(leads.then_some(field));
            return Ok(Some(()));
        }
        let most = if PICTURE_TAGS.contains(&entry.tag) { 4 * MOST_STRIPS } else { LONGEST_VALUE };
        if entry.tag == EXIF || len > most {
            return Ok(None);
        }
        let bytes = source.read_at(from as u64, len)?;
        if bytes.len() < len {
            return Ok(None);
        }
        let place = self.out.len();
        self.out.extend(bytes);
        if leads {
            self.todo.extend((place..self.out.len()).step_by(4));
        }
        Ok(self.point(field, place))
    }

    fn little(&self) -> bool {
        self.out.first() == Some(&b'I')
    }

    /// Writes `to` at `at` of `out`.
    fn point(&mut self, at: usize, to: usize) -> Option<()> {
        let to = u32::try_from(to).ok()?;
        let bytes = if self.little() { to.to_le_bytes() } else { to.to_be_bytes() };
        self.out.get_mut(at..)?.first_chunk_mut::<4>().map(|place| *place = bytes)
    }
}
