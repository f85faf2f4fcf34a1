//! One file in, one row out: stamp, exposure, camera, damage. The only parallel code of the house. It does not know the plan:
//! what was expected must not bend what was read.

mod cell;
mod row;

pub use crate::card::{Card, CardFile, FileKind, FileNumber, Folder, PassedOver, Shot, Trouble};
pub use cell::Cell;
pub use row::{Camera, Damage, Frames, Row, Stamp, StampSource};
