//! The plan laid on the run, once: which part is in force at each frame, the timer's law, the budget of each
//! slot, when a slot was due, how many slots are asked, and the frames of the clip. Checks, verdict and
//! outputs read it here.
//!
//! README.md beside this file tells how it works.

mod begins;
pub mod clip;
mod due;
mod laid;
mod law;
mod length;
mod misfit;
mod uses;

pub use begins::on_clock;
pub use laid::Schedule;
pub use length::CRYSTAL;
pub use misfit::{Misfit, TIMER_OFF};
pub use uses::SlotUse;
