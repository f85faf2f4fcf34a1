//! What stands before the lens for a while: a part of the picture that is unlike the pictures on both
//! sides, which are like each other.
//!
//! Two pictures are compared with each other cell by cell. What makes a cell is not its brightness, which
//! light changes, but how it stands out of the cells around it: a cloud, a shadow or another exposure moves
//! neighbours alike and leaves their ratios. Cells without such structure (sky, a wall) are told by their
//! brightness and colour, against what the light did elsewhere in the picture.

mod compare;
mod long;
mod reel;
mod spell;
mod spells;

pub use spell::Obstruction;
pub use spells::Watch;
pub(crate) use spells::obstructions;
