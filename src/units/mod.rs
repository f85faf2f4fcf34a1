//! Quantities that every other room speaks in. This room imports no other room.

mod amounts;
pub mod light;
pub mod mains;
pub mod measured;
pub mod micros;
pub mod shown;
pub mod stops;
pub mod time;
mod words;

pub use amounts::{length_text, size_text, speed_text};
pub use measured::{Figure, FrameSpan, Measured};
pub use micros::Micros;
pub(crate) use shown::typed;
pub use shown::{duration, is_hidden, refusal, shown, shown_path};
pub use time::CivilTime;
pub use words::{counted, counted_as, fixed, plain, quantity};
