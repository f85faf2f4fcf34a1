//! Questions about shutter, carriage and time.

pub mod shutter_overrun;
