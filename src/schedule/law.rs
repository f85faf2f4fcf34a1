//! What the timer counts from as the stamps show it, and where it left its grid.

use crate::evidence::timing::{JoinKind, TimerLaw};

impl JoinKind {
    /// True where the timer left its grid. A night that the plan names is none, and where the clock was set
    /// the timer ran on.
    pub const fn leaves_grid(&self) -> bool {
        !matches!(self, Self::Night | Self::ClockStep { stood_s: None, .. })
    }
}

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
