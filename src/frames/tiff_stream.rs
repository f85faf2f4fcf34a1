//! A TIFF stream inside a file: its directories and values, fetched from wherever they lie and compared with
//! its end.
//!
//! Source: TIFF 6.0 and its technical note 1; the form with 64-bit offsets (magic 43, "BigTIFF") as libtiff's
//! authors publish it.

use std::io;

use super::source::Source;

/// A directory of more entries than this is none.
const MOST_ENTRIES: u64 = 4096;

/// Where a stream lies, and how its numbers are written.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stream {
    /// The stream's first byte, from the file's first.
    pub base: u64,
    /// One past its last byte.
    pub end: u64,
    little: bool,
    /// True where counts and offsets have 64 bits.
    wide: bool,
}

/// One entry of a directory.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry {
    /// Tag.
    pub tag: u16,
    /// Type, 1 to 13 and 16 to 18.
    pub kind: u16,
    /// How many values.
    pub count: u64,
    /// Where the value begins, from the file's first byte.
    pub at: u64,
    /// Its length in bytes.
    pub len: u64,
    /// The value, where it stands in the entry itself.
    pub inline: Option<[u8; 8]>,
}

/// A directory: the entries that were asked for, and where the next directory lies.
#[derive(Debug)]
pub(crate) struct Directory {
    /// The entries.
    pub entries: Vec<Entry>,
    /// Place of the next directory in the stream; 0 where there is none.
    pub next: u64,
    /// True where the stream ends before its entries do.
    pub cut: bool,
    /// True where it has no entry at all, which no writer may leave (TIFF 6.0, section 2).
    pub empty: bool,
}

impl Stream {
    /// The stream whose header stands at `base`, and the place of its first directory; `None` where there is
    /// no such header. Raws that are TIFF with a magic of their own are taken too: `IIRO`, `IIRS`, `MMOR` and
    /// `IIU`.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn open(source: &mut Source, base: u64, end: u64) -> io::Result<Option<(Self, u64)>> {
        let Some([a, b, m1, m2, first @ ..]) = source.array_at::<8>(base)? else { return Ok(None) };
        let little = match (a, b) {
            (b'I', b'I') => true,
            (b'M', b'M') => false,
            _ => return Ok(None),
        };
        let mut stream = Self { base, end: end.min(source.len()), little, wide: false };
        match stream.short([m1, m2]) {
            42 | 0x4F52 | 0x5352 | 0x55 => Ok(Some((stream, u64::from(stream.long(first))))),
            43 if stream.short([first[0], first[1]]) == 8 => {
                stream.wide = true;
                let first = source.array_at::<8>(base.saturating_add(8))?;
                Ok(first.map(|first| (stream, stream.long_long(first))))
            }
            _ => Ok(None),
        }
    }

    /// The directory at `at` of the stream, with those of its entries whose tag is `wanted`; `None` where not
    /// even its count can be read.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn directory(
        &self,
        source: &mut Source,
        at: u64,
        wanted: impl Fn(u16) -> bool,
    ) -> io::Result<Option<Directory>> {
        let Some(place) = self.base.checked_add(at).filter(|place| *place < self.end) else {
            return Ok(None);
        };
        let (head, unit, pointer) = if self.wide { (8, 20, 8) } else { (2, 12, 4) };
        let count = if self.wide {
            source.array_at::<8>(place)?.map(|n| self.long_long(n))
        } else {
            source.array_at::<2>(place)?.map(|n| u64::from(self.short(n)))
        };
        let Some(count) = count.filter(|count| *count <= MOST_ENTRIES) else { return Ok(None) };
        let first = place.saturating_add(head);
        let room = self.end.saturating_sub(first);
        let bytes = source.view(first, (count * unit + pointer).min(room) as usize)?;
        let (unit, pointer) = (unit as usize, pointer as usize);
        let mut entries = Vec::with_capacity(bytes.len() / unit);
        let mut chunks = bytes.chunks_exact(unit);
        for (i, entry) in chunks.by_ref().take(count as usize).enumerate() {
            let tag = self.short([entry[0], entry[1]]);
            if wanted(tag) {
                entries.extend(self.entry(tag, entry, first + (i * unit) as u64));
            }
        }
        let next = bytes.get(count as usize * unit..).unwrap_or_default();
        let next = if next.len() < pointer { 0 } else { self.offset(next) };
        let cut = (bytes.len() as u64) < count * unit as u64;
        Ok(Some(Directory { entries, next, cut, empty: count == 0 }))
    }

    /// An entry from its 12 or 20 bytes, which stand at `place` of the file; `None` where its type is
    /// unknown.
    fn entry(&self, tag: u16, bytes: &[u8], place: u64) -> Option<Entry> {
        let kind = self.short([bytes[2], bytes[3]]);
        let (count, field) = match (self.wide, bytes) {
            (false, [_, _, _, _, c1, c2, c3, c4, field @ ..]) => {
                (u64::from(self.long([*c1, *c2, *c3, *c4])), field)
            }
            (true, [_, _, _, _, count @ ..]) => (self.long_long(*count.first_chunk::<8>()?), count.get(8..)?),
            _ => return None,
        };
        let len = count.checked_mul(unit(kind)?)?;
        let within = len <= field.len() as u64;
        let inline = within.then(|| {
            let mut out = [0; 8];
            out[..field.len()].copy_from_slice(field);
            out
        });
        let at = if within {
            place + (bytes.len() - field.len()) as u64
        } else {
            self.base.saturating_add(self.offset(field))
        };
        Some(Entry { tag, kind, count, at, len, inline })
    }

    /// True where the entry's value ends within the stream.
    pub(crate) fn reaches(&self, entry: &Entry) -> bool {
        entry.at.checked_add(entry.len).is_some_and(|end| end <= self.end)
    }

    /// The first number of an entry of whole numbers that stand in the entry itself.
    pub(crate) fn number(&self, entry: &Entry) -> Option<u64> {
        let inline = entry.inline.filter(|_| entry.count > 0)?;
        self.numbers_of(entry.kind, &inline).next()
    }

    /// `most` whole numbers of an entry from its number `from` on, fewer where it holds fewer or the stream
    /// ends before.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn numbers(
        &self,
        source: &mut Source,
        entry: &Entry,
        from: u64,
        most: u64,
    ) -> io::Result<Vec<u64>> {
        let Some(unit) = unit(entry.kind) else { return Ok(Vec::new()) };
        let count = entry.count.saturating_sub(from).min(most);
        if let Some(inline) = entry.inline {
            return Ok(self
                .numbers_of(entry.kind, &inline)
                .skip(from as usize)
                .take(count as usize)
                .collect());
        }
        let at = entry.at.saturating_add(from.saturating_mul(unit));
        let len = count.saturating_mul(unit).min(self.end.saturating_sub(at));
        let bytes = source.view(at, usize::try_from(len).unwrap_or(0))?;
        Ok(self.numbers_of(entry.kind, bytes).collect())
    }

    /// Adds the first bytes of an entry's value, `most` of them, to `out`; false, and nothing added, where
    /// the value does not end within the stream.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn value(
        &self,
        source: &mut Source,
        entry: &Entry,
        most: usize,
        out: &mut Vec<u8>,
    ) -> io::Result<bool> {
        let len = usize::try_from(entry.len).unwrap_or(usize::MAX).min(most);
        if let Some(inline) = &entry.inline {
            out.extend_from_slice(inline.get(..len).unwrap_or(inline));
            return Ok(true);
        }
        if !self.reaches(entry) {
            return Ok(false);
        }
        let bytes = source.view(entry.at, len)?;
        if bytes.len() < len {
            return Ok(false);
        }
        out.extend_from_slice(bytes);
        Ok(true)
    }

    /// True where the stream begins with `II`.
    pub(crate) fn is_little(&self) -> bool {
        self.little
    }

    fn numbers_of<'a>(&self, kind: u16, bytes: &'a [u8]) -> impl Iterator<Item = u64> + use<'a> {
        let this = *self;
        let unit = match kind {
            3 => 2,
            4 | 13 => 4,
            16 | 18 => 8,
            _ => usize::MAX,
        };
        bytes.chunks_exact(unit).map(move |b| match b {
            [a, b] => u64::from(this.short([*a, *b])),
            [a, b, c, d] => u64::from(this.long([*a, *b, *c, *d])),
            long => long.first_chunk::<8>().map_or(0, |long| this.long_long(*long)),
        })
    }

    /// An offset of the stream's own width at the beginning of `bytes`.
    fn offset(&self, bytes: &[u8]) -> u64 {
        if self.wide {
            bytes.first_chunk::<8>().map_or(0, |b| self.long_long(*b))
        } else {
            bytes.first_chunk::<4>().map_or(0, |b| u64::from(self.long(*b)))
        }
    }

    fn short(&self, bytes: [u8; 2]) -> u16 {
        if self.little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) }
    }

    fn long(&self, bytes: [u8; 4]) -> u32 {
        if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) }
    }

    fn long_long(&self, bytes: [u8; 8]) -> u64 {
        if self.little { u64::from_le_bytes(bytes) } else { u64::from_be_bytes(bytes) }
    }
}

/// Bytes of one value of a type.
fn unit(kind: u16) -> Option<u64> {
    Some(match kind {
        1 | 2 | 6 | 7 => 1,
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 | 16 | 17 | 18 => 8,
        _ => return None,
    })
}
