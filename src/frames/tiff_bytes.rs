//! Whole numbers of a TIFF stream, checked against its end.

/// The bytes of a stream, or its beginning, in its own byte order.
#[derive(Clone, Copy)]
pub struct TiffBytes<'a> {
    bytes: &'a [u8],
    little: bool,
}

/// One entry of a directory.
#[derive(Clone, Copy)]
pub struct Entry {
    /// Tag.
    pub tag: u16,
    /// Where the entry begins.
    pub at: usize,
}

impl<'a> TiffBytes<'a> {
    /// The stream that begins with `bytes`.
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, little: bytes.first() == Some(&b'I') }
    }

    /// How many bytes there are.
    pub fn len(&self) -> usize {
        self.bytes.len()
    }

    /// 16 bits at `at`; `None` beyond the end.
    pub fn short(&self, at: usize) -> Option<u16> {
        let bytes = *self.bytes.get(at..)?.first_chunk::<2>()?;
        Some(if self.little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    }

    /// 32 bits at `at`; `None` beyond the end.
    pub fn long(&self, at: usize) -> Option<u32> {
        let bytes = *self.bytes.get(at..)?.first_chunk::<4>()?;
        Some(if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    /// The entries of the directory at `at` that lie in the bytes, and where the directory ends; `None` where not even its
    /// count does.
    pub fn directory(&self, at: usize) -> Option<(impl Iterator<Item = Entry> + use<'a>, usize)> {
        let count = usize::from(self.short(at)?);
        let this = *self;
        let entries = (0..count).map_while(move |i| {
            let at = at.checked_add(2 + 12 * i)?;
            this.bytes.get(at..at.checked_add(12)?)?;
            Some(Entry { tag: this.short(at)?, at })
        });
        Some((entries, at.checked_add(2 + 12 * count)?))
    }

    /// Where the entry's value begins, and its length in bytes.
    pub fn value_of(&self, entry: Entry) -> Option<(usize, usize)> {
        // Sizes of the types 1 to 13 (TIFF 6.0 and its technical note 1).
        let unit = match self.short(entry.at + 2)? {
            1 | 2 | 6 | 7 => 1,
            3 | 8 => 2,
            4 | 9 | 11 | 13 => 4,
            5 | 10 | 12 => 8,
            _ => 0,
        };
        let len = (self.long(entry.at + 4)? as usize).checked_mul(unit)?;
        Some((if len <= 4 { entry.at + 8 } else { self.long(entry.at + 8)? as usize }, len))
    }

    /// True where the entry's value lies in the bytes.
    pub fn reaches(&self, entry: Entry) -> bool {
        let end = self.value_of(entry).and_then(|(at, len)| at.checked_add(len));
        end.is_some_and(|end| end <= self.bytes.len())
    }

    /// Up to `most` whole numbers of an entry of 16 or 32 bits each; `None` where they lie outside the bytes or are of
    /// another type.
    pub fn numbers(&self, entry: Entry, most: usize) -> Option<Vec<u32>> {
        let (at, len) = self.value_of(entry)?;
        let wide = match self.short(entry.at + 2)? {
            3 => false,
            4 | 13 => true,
            _ => return None,
        };
        let unit = if wide { 4 } else { 2 };
        let one = |i: usize| {
            let at = at.checked_add(i * unit)?;
            if wide { self.long(at) } else { self.short(at).map(u32::from) }
        };
        (0..(len / unit).min(most)).map(one).collect()
    }
}
