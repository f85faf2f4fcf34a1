//! Quantities that every other room speaks in. This room imports no other room.

pub mod light;
pub mod measured;
pub mod shown;
pub mod stops;
pub mod time;

pub use measured::{Figure, FrameSpan, Measured};
pub use shown::{duration, shown};
pub use time::{CivilTime, Micros};
