//! What the frames say together. Every position is one in capture order, from 0.
//!
//! README.md beside this file tells how it works.

mod cameras;
mod copies;
pub mod exposure;
mod gather;
pub mod movement;
mod names;
pub mod picture;
mod sequence;
pub mod slots;
#[cfg(test)]
pub mod testing;
pub mod timing;

pub use cameras::{ByCamera, by_camera};
pub use gather::{AFTER_LAST, BEFORE_FIRST, gather};
pub use sequence::{FrameView, Sequence};

pub(crate) use crate::frames::natural_names;
pub use crate::frames::{
    Camera, Card, CardFile, Cell, Damage, FileKind, FileNumber, Folder, Frames, Look, NotSeen, Row, Shot,
    Stamp, StampSource, Trouble,
};
use crate::units::FrameSpan;

/// What a frame is to the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum FrameState {
    /// A frame of the run, in its slot.
    #[default]
    Frame,
    /// One more than the slots ask for (a double trigger, a copy).
    Surplus,
    /// A frame of the run whose file is damaged.
    Damaged,
    /// Not part of the run: a test shot, another job, another camera.
    Outside,
}

impl FrameState {
    /// The word in `frames.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Frame => "frame",
            Self::Surplus => "surplus",
            Self::Damaged => "damaged",
            Self::Outside => "outside",
        }
    }

    /// True for a frame of the run that stands in a slot.
    pub const fn stands(self) -> bool {
        matches!(self, Self::Frame | Self::Damaged)
    }
}

/// Frames that are not part of the run, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outside {
    /// Which.
    pub span: FrameSpan,
    /// Why, in words ("shot before the run, off its grid").
    pub why: String,
}
