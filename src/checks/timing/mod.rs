//! Questions about when the frames were shot.

pub mod clock_step;
pub mod grid_slip;
pub mod interval_drift;
pub mod missing_slot;
pub mod short_run;
pub mod surplus_frame;
pub mod uneven_interval;
