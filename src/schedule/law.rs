//! What the timer counts from: as planned, and as the stamps show it.

use crate::evidence::timing::TimerLaw;

impl TimerLaw {
    /// How many times each exposure lengthens its slot: once from shutter close, twice from the end of a dark
    /// frame, else not at all.
    pub const fn times_exposed(self) -> u8 {
        match self {
            Self::Open | Self::Unknown => 0,
            Self::Close => 1,
            Self::CloseDarkFrame => 2,
        }
    }

    /// True where it counts from the shutter's close, with a dark frame or without.
    pub const fn from_close(self) -> bool {
        self.times_exposed() > 0
    }
}
