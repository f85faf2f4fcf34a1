//! How far pictures lie from one another: registration of small grey pictures, whole and tile by tile. Plain
//! numbers in and out.

mod correlate;
mod follow;
mod grid;
mod tiles;

pub use correlate::{Correlator, Shift, Spectrum, register};
pub use follow::{Follower, LAGS, Moved};
pub use grid::Grid;
pub use tiles::{Drawn, TILES, TILES_ACROSS, TILES_DOWN, TileShift, Tiler};
