//! The small picture of a frame: where it comes from, decoded, and what is kept of it.
//!
//! The cheapest honest source is taken: the thumbnail in the file, with its bars off, else a preview, else
//! the picture itself at an eighth of its size (JPEG), else whole. What is kept of a picture is its [`Look`],
//! a few hundred bytes; the picture itself lives as a [`Thin`] only until its neighbour in the card's order
//! has been compared with it ([`Between`]), and as a [`Grey`] until it has been followed, where that is asked
//! for.
//!
//! README.md beside this file tells how it works.

mod allowed;
mod bars;
mod between;
mod budget;
mod caps;
mod cells;
mod codes;
mod decode;
pub(super) mod gate;
mod grey;
mod heard;
mod jpeg;
mod look;
mod measure;
mod narrowed;
mod other;
mod png;
mod refused;
mod rgb;
mod sharp;
pub(super) mod small;
mod smaller;
mod tiff;
mod webp;

pub(super) use bars::Inside;
pub use between::{Between, Thin};
pub use cells::{CELLS, CELLS_ACROSS, CELLS_DOWN, Cells};
pub use grey::Grey;
pub use look::{ACROSS, AREAS, Areas, DOWN, Look, PictureSource};
use measure::measure_until;
pub use measure::{BLOCKED_CODE, CLIPPED_CODE, Measured, measure};
pub use rgb::Rgb;
pub use sharp::{laplacian_variance, tenengrad, variance};

/// How far the pictures themselves are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Pictures {
    /// Not at all: timing and settings only.
    #[default]
    None,
    /// The cheapest honest source of each: thumbnail, preview, else the picture at a reduced size.
    Thumb,
    /// Every picture whole; what does not decode is damage.
    Full,
}
