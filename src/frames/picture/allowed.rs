//! What of a file is decoded, and the leave to decode it: nothing is decoded that has not been compared with
//! its bounds.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use super::caps::{Role, Work};
use super::decode::{self, How};
use super::jpeg::Declared;
use super::other;
use super::refused::Refused;
use super::rgb::Rgb;
use crate::card::FileKind;
use crate::frames::containers::Embedded;

/// A preview wider than this, px, is decoded at an eighth.
const WIDE_PREVIEW: u32 = 1000;
/// So is one of more bytes than this, or of more pixels than a thumbnail may have.
const LARGE_PREVIEW: usize = 512 * 1024;

/// What is decoded of a file.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Part {
    /// A JPEG stream inside it; the role is that of the largest that is taken.
    Stream(Embedded, Role),
    /// Its own picture, a JPEG.
    Jpeg(Role, How),
    /// Its own picture, of another kind.
    Other(FileKind),
}

/// A part that keeps to all bounds.
pub(crate) struct Allowed {
    bytes: Arc<Vec<u8>>,
    by: By,
    /// What decoding it will do.
    pub work: Work,
    /// Bytes that it will take, its own included.
    pub takes: u64,
    /// True for a stream that is decoded at an eighth.
    pub wide: bool,
}

enum By {
    Jpeg(How),
    Other(FileKind),
}

impl Allowed {
    /// Holds what the part declares against the bounds of its role.
    ///
    /// # Errors
    /// [`Refused`]: with the decoder's own words where a JPEG's header is damaged.
    pub(crate) fn of(part: Part, bytes: &Arc<Vec<u8>>) -> Result<Self, Refused> {
        let jpeg = |role: Role, how: How, declared: &Declared, wide: bool| {
            let work = decode::work(declared, how);
            let takes = work.within(role, bytes.len())?;
            Ok(Self { bytes: Arc::clone(bytes), by: By::Jpeg(how), work, takes, wide })
        };
        match part {
            Part::Stream(stream, largest) => {
                let declared = decode::declared(bytes)?;
                let (width, height) = declared.size;
                let wide = stream.size.is_some_and(|(w, _)| w > WIDE_PREVIEW)
                    || bytes.len() > LARGE_PREVIEW
                    || width * height > Role::Thumbnail.most_pixels();
                match wide {
                    true => jpeg(largest, How::Eighth, &declared, true),
                    false => jpeg(Role::Thumbnail, How::All { strict: false }, &declared, false),
                }
            }
            Part::Jpeg(role, how) => jpeg(role, how, &decode::declared(bytes)?, false),
            Part::Other(kind) => {
                let work = other::declared(bytes, kind)?;
                let role = if kind == FileKind::Webp { Role::Slow } else { Role::Whole };
                let takes = work.within(role, bytes.len())?;
                Ok(Self { bytes: Arc::clone(bytes), by: By::Other(kind), work, takes, wide: false })
            }
        }
    }

    /// How much work it is, in pixels; to go over a block counts as three.
    pub(crate) fn effort(&self) -> u64 {
        self.work.pixels().saturating_add(self.work.blocks.saturating_mul(3))
    }

    /// Decodes it; kinds other than JPEG not to their end where `stop` is raised on the way.
    ///
    /// # Errors
    /// [`Refused`].
    pub(crate) fn decode(&self, stop: &AtomicBool) -> Result<Rgb, Refused> {
        match self.by {
            By::Jpeg(How::All { strict }) => decode::whole(&self.bytes, self.work.size, strict),
            By::Jpeg(How::Eighth) => decode::reduced(&self.bytes, self.work.size),
            By::Other(kind) => other::decode(&self.bytes, kind, self.work.pixels(), stop),
        }
    }
}
