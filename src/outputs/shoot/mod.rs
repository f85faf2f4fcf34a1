//! A shoot that was worked out: as a page, as a plan file, as JSON.

mod care;
mod dials;
pub mod json;
mod refused;
mod stars;
pub mod text;
pub mod toml;

pub use care::care;
pub use refused::refused;
