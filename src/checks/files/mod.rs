//! Questions about the files themselves: stamps, numbers, copies, damage.

pub mod damaged_frame;
pub mod duplicate_frame;
pub mod file_order;
pub mod number_gap;
pub mod stamp_missing;
