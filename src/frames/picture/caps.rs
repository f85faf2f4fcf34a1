//! How much may be decoded: bounds by role, judged on the file alone, so that every machine refuses the same
//! pictures.
//!
//! A picture declares its size in a few bytes and takes gigabytes when it is decoded. What a decoder will
//! allocate, and how often it will go over the picture, is worked out from what the format declares before
//! the decoder sees it.

use super::refused::Refused;

/// What a picture is to a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// A small picture in the file.
    Thumbnail,
    /// A larger picture in the file, decoded at an eighth.
    Preview,
    /// The picture itself, a JPEG, or what a raw has for it.
    Own,
    /// The picture itself, of a kind that is decoded whole whatever is asked.
    Whole,
    /// The same, of a kind that takes twice the time a pixel.
    Slow,
    /// A JPEG that does not decode at an eighth: what is left of a damaged one, or one of four colours.
    Rest,
}

impl Role {
    /// The most pixels that are decoded. Common practice, no source: a thumbnail has 0.02 megapixels, the
    /// largest sensor of a still camera 151. What is always decoded whole costs more a pixel.
    pub(crate) const fn most_pixels(self) -> u64 {
        match self {
            Self::Thumbnail => 4_000_000,
            Self::Preview | Self::Slow | Self::Rest => 64_000_000,
            Self::Own => 152_000_000,
            Self::Whole => 104_000_000,
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Thumbnail => "its thumbnail",
            Self::Preview => "its preview",
            Self::Own | Self::Whole | Self::Slow => "its picture",
            Self::Rest => "its picture, which does not decode at an eighth,",
        }
    }
}

/// Bytes that all decodes of a process take together; a decode waits until its share is free.
pub(crate) const MOST_TOGETHER: u64 = 736 << 20;
/// Bytes that one decode may take, its file's included.
pub(crate) const MOST_BYTES: u64 = 704 << 20;
/// Scans of a JPEG. Common encoders write ten (common practice, no source); the format itself sets no bound.
pub(crate) const MOST_SCANS: u32 = 64;
/// Blocks of 64 samples that the scans of a JPEG go over together: ten scans of 100 megapixels, each with its
/// colours at half the width and height.
pub(crate) const MOST_BLOCKS: u64 = 24 << 20;
/// Segments of a JPEG: as many as its longest ones need for a file of half a gigabyte.
pub(crate) const MOST_SEGMENTS: u32 = 8192;
/// Bytes of tables in a JPEG: ten scans with tables of their own have some 10 kB.
pub(crate) const MOST_TABLES: u64 = 256 << 10;
/// A picture that is taller than so many times its width is no frame. What is kept of a picture is narrowed
/// to a width alone.
pub(crate) const TALLEST: u64 = 4;

/// What a decoder will do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Work {
    /// Width and height, px, as declared.
    pub size: (u64, u64),
    /// Bytes that the decoder will hold at its peak, the picture that comes out included and the file's bytes
    /// left out.
    pub bytes: u64,
    /// Scans, of a JPEG; else 0.
    pub scans: u32,
    /// Blocks that all scans go over together.
    pub blocks: u64,
    /// Segments of a JPEG.
    pub segments: u32,
    /// Bytes of tables of a JPEG.
    pub tables: u64,
}

impl Work {
    /// Pixels.
    pub(crate) fn pixels(&self) -> u64 {
        self.size.0.saturating_mul(self.size.1)
    }

    /// Bytes that the decode takes with the `file` bytes that it is made from, once it is known to keep to
    /// all bounds.
    ///
    /// # Errors
    /// [`Refused::TooMuch`], with the reason in words.
    pub(crate) fn within(&self, role: Role, file: usize) -> Result<u64, Refused> {
        let (width, height) = self.size;
        let which = role.word();
        let too_much = |why: String| Err(Refused::TooMuch(format!("{which} {why}")));
        let declares = format!("declares {width} × {height} pixels");
        let most = role.most_pixels();
        if self.pixels() > most {
            return too_much(format!("{declares}; at most {} million are decoded", most / 1_000_000));
        }
        if height > TALLEST.saturating_mul(width) {
            return too_much(format!("{declares}; none is decoded that is so much taller than it is wide"));
        }
        if self.scans > MOST_SCANS {
            return too_much(format!("has {} scans; at most {MOST_SCANS} are decoded", self.scans));
        }
        if self.blocks > MOST_BLOCKS {
            let scans = self.scans;
            return too_much(format!("{declares} in {scans} scans; that is more work than is done for one"));
        }
        if self.segments > MOST_SEGMENTS || self.tables > MOST_TABLES {
            let (segments, tables) = (self.segments, self.tables);
            return too_much(format!(
                "has {segments} segments, and {tables} bytes of tables; that is no picture's"
            ));
        }
        let bytes = self.bytes.saturating_add(file as u64);
        if bytes > MOST_BYTES {
            let (bytes, most) = (bytes >> 20, MOST_BYTES >> 20);
            return too_much(format!("{declares} and would take {bytes} MiB; at most {most} MiB are taken"));
        }
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(work: Work, role: Role) -> String {
        match work.within(role, 1 << 20) {
            Err(Refused::TooMuch(why)) => why,
            other => format!("{other:?}"),
        }
    }

    #[test]
    fn each_bound_is_told_apart() {
        let fits =
            Work { size: (6000, 4000), bytes: 100 << 20, scans: 10, blocks: 1 << 20, ..Work::default() };
        assert_eq!(fits.within(Role::Own, 1 << 20), Ok(101 << 20));
        assert!(words(fits, Role::Thumbnail).contains("thumbnail declares 6000 × 4000 pixels"));
        assert!(words(Work { size: (100, 401), ..fits }, Role::Thumbnail).contains("taller"));
        assert_eq!(Work { size: (100, 400), ..fits }.within(Role::Thumbnail, 0), Ok(100 << 20));
        assert!(words(Work { scans: 65, ..fits }, Role::Own).contains("has 65 scans"));
        assert!(words(Work { blocks: MOST_BLOCKS + 1, ..fits }, Role::Own).contains("in 10 scans"));
        assert!(words(Work { segments: 8193, ..fits }, Role::Own).contains("has 8193 segments"));
        assert!(
            words(Work { tables: MOST_TABLES + 1, ..fits }, Role::Own).contains("262145 bytes of tables")
        );
        assert!(words(Work { bytes: MOST_BYTES, ..fits }, Role::Own).contains("would take 705 MiB"));
        assert!(words(Work { size: (u64::MAX, u64::MAX), ..fits }, Role::Own).contains("declares"));
    }
}
