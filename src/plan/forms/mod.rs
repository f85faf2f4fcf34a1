//! The forms in which people write a quantity: pure functions from text to a number in one fixed unit.
//!
//! Each error begins with "expected" and says what would have been understood. None of them accepts a
//! negative, infinite or absurd value. Letter case, and spaces between a number and its unit, do not matter;
//! a decimal comma is not understood, since `1,500` means two things.

mod angles;
mod letters;
mod measures;
mod moments;
mod quantities;
mod times;

pub use angles::{declination, pixels, turning};
pub use measures::{bytes, temperature};
pub use moments::{daily_hours, moment};
pub use quantities::{
    acceleration, count, ev, exposures, f_number, fps, frequency, iso, length, slots, speed,
};
pub use times::{duration, hours, interval, shutter, span};
