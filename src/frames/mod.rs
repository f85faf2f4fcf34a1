//! One file in, one row out: stamp, exposure, camera, damage. Most of the parallel code of the house is here.
//! It does not know the plan: what was expected must not bend what was read.
//!
//! README.md beside this file tells how it works.

mod across;
mod again;
mod cell;
mod containers;
mod cost;
mod digest;
mod exif;
mod gallery;
mod left;
mod neighbours;
pub mod picture;
mod print;
mod read;
mod row;
pub mod shift;
pub mod source;
mod tiff_stream;
mod workers;

pub use crate::card::{Card, CardFile, FileKind, FileNumber, Folder, PassedOver, Shot, Trouble, advance};
pub(crate) use crate::card::{natural_names, push_lossless};
pub use again::Again;
pub use cell::Cell;
pub use containers::{Embedded, Want};
pub use cost::Cost;
pub use digest::{Digest, digests};
pub use gallery::{Shown, Size, gallery};
pub use left::unless_stopped;
pub use picture::{Look, PictureSource, Pictures};
pub use read::{Asked, FileRead, look_at_source, read_all, read_source, read_source_for, read_until};
pub use row::{Camera, Damage, Frames, NotSeen, Rare, Row, Stamp, StampSource};
