//! The faults that a rehearsal can be given, and the forms in which people write them.

mod forms;
mod parse;

pub use forms::{FAULTS, FaultForm};
use std::fmt;

/// How the moments of the shutter wander.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// Near normal; the amount is its standard deviation.
    Gaussian,
    /// Uniform; the amount is its half-width.
    Uniform,
}

/// How brightness flickers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flicker {
    /// Each frame by itself.
    Random,
    /// Bright, dark, bright, dark.
    Alternating,
}

/// What is wrong with a damaged file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Damage {
    /// No bytes at all.
    Empty,
    /// Ends in the middle.
    Cut,
    /// Whole length, the last part all zero bytes: a card pulled while it was being written.
    Zeros,
    /// Whole length, none of its bytes those of a picture.
    Garbage,
}

/// How a frame too many came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surplus {
    /// The trigger bounced: as soon as the camera could fire again.
    Double,
    /// Fired by hand between two slots.
    Hand,
}

/// One fault. `at` is a slot from 0; `None` lets the seed choose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// The camera did not fire in `count` slots: file numbers run on.
    Missing {
        /// Slots in a row.
        count: u64,
        /// The first of them.
        at: Option<u64>,
    },
    /// The camera did not fire in every `every`-th slot.
    MissingEvery {
        /// At least 2.
        every: u64,
    },
    /// Files that were shot and are gone: file numbers skip.
    Lost {
        /// Files in a row.
        count: u64,
        /// Slot of the first of them.
        at: Option<u64>,
    },
    /// The timer runs at another rate from the start.
    Rate {
        /// True interval over planned interval, over 0.
        factor: f64,
    },
    /// The timer changes its rate midway.
    RateChange {
        /// New interval over the interval before.
        factor: f64,
        /// The first slot of the new rate.
        at: Option<u64>,
    },
    /// The shutter opens a little early or late each time.
    Jitter {
        /// Standard deviation or half-width, s.
        amount_s: f64,
        /// Its shape.
        spread: Spread,
    },
    /// A wait after which the grid goes on at another phase.
    Pause {
        /// Length, s; `None`: some two to four intervals, off the grid.
        seconds: Option<f64>,
        /// The first slot after it.
        at: Option<u64>,
    },
    /// The camera's clock is put forward or back.
    Clock {
        /// By how much, s; forward is positive.
        step_s: f64,
        /// True where the written offset from UTC changes with it (daylight saving).
        offset_follows: bool,
        /// The first slot on the new clock.
        at: Option<u64>,
    },
    /// The exposure grows, as the light fails, until it no longer fits the interval.
    Overrun {
        /// Where it begins to grow.
        at: Option<u64>,
    },
    /// The settings jump and stay there.
    Jump {
        /// EV, brighter is positive; rounded to thirds.
        ev: f64,
        /// First frame of the new settings.
        at: Option<u64>,
    },
    /// One frame with other settings.
    Odd {
        /// EV, brighter is positive; rounded to thirds.
        ev: f64,
        /// The frame.
        at: Option<u64>,
    },
    /// The settings go to and fro by a third of a stop.
    Hunting {
        /// For how many frames.
        count: u64,
        /// From which.
        at: Option<u64>,
    },
    /// Brightness that the settings do not explain.
    Flicker {
        /// EV rms.
        rms_ev: f64,
        /// Its shape.
        shape: Flicker,
    },
    /// One frame brighter or darker than its settings make it.
    Stray {
        /// EV, brighter is positive.
        ev: f64,
        /// The frame.
        at: Option<u64>,
    },
    /// The settings stand still from there on while the light goes on.
    Stuck {
        /// The first frame after the last change.
        at: Option<u64>,
    },
    /// Files that are there and are no whole pictures.
    Damaged {
        /// What is wrong.
        damage: Damage,
        /// Files in a row.
        count: u64,
        /// Slot of the first.
        at: Option<u64>,
    },
    /// A frame too many.
    Surplus {
        /// How it came about.
        surplus: Surplus,
        /// The slot after whose frame it comes.
        at: Option<u64>,
    },
    /// A file copied beside itself.
    Duplicate {
        /// The frame.
        at: Option<u64>,
    },
    /// Test shots before and after the run, with other settings, at odd times.
    Tests {
        /// Before.
        head: u64,
        /// After.
        tail: u64,
    },
    /// The run ends early.
    Stop {
        /// Share of the planned slots that are shot, over 0 to 1.
        share: f64,
    },
    /// The timer counts its interval from the shutter's close.
    FromClose,
    /// In-camera dark-frame subtraction is on: busy for as long as the exposure again.
    DarkFrame,
    /// The carriage stands still and then goes on from there.
    Stalled {
        /// Moves that fail.
        count: u64,
        /// The first slot whose move failed.
        at: Option<u64>,
    },
    /// One move falls short: the carriage slips.
    Slip {
        /// Share of the step that is lost, over 0; past 1 it slides back.
        share: f64,
        /// The slot whose move fell short.
        at: Option<u64>,
    },
    /// From there on the carriage travels back.
    Reversal {
        /// The first slot that it reaches by travelling back.
        at: Option<u64>,
    },
    /// The carriage stands at the end of its rail while the camera goes on.
    RailEnd {
        /// The first slot whose move failed.
        at: Option<u64>,
    },
    /// The camera is knocked and stays askew.
    Knock {
        /// By how much the picture jumps, pixels of the picture, down and across alike.
        pixels: f64,
        /// The first slot after it.
        at: Option<u64>,
    },
    /// A lorry passes in front.
    Lorry {
        /// Frames in which it is seen.
        count: u64,
        /// The first of them.
        at: Option<u64>,
    },
    /// File numbers pass 9999.
    Wrap {
        /// Slot of the file that is numbered 0001.
        at: Option<u64>,
    },
    /// The camera begins a new folder.
    Roll {
        /// First slot in it.
        at: Option<u64>,
    },
    /// One frame late; the grid goes on unmoved.
    Late {
        /// By how much, s; `None`: a fifth of the interval.
        seconds: Option<f64>,
        /// The frame.
        at: Option<u64>,
    },
    /// Frames out of focus.
    Soft {
        /// Radius of the blur, pixels of the picture.
        pixels: f64,
        /// The frame.
        at: Option<u64>,
    },
}

impl Fault {
    /// Its name in [`FAULTS`].
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Missing { .. } | Self::MissingEvery { .. } => "missing",
            Self::Lost { .. } => "lost",
            Self::Rate { .. } => "rate",
            Self::RateChange { .. } => "rate-change",
            Self::Jitter { .. } => "jitter",
            Self::Pause { .. } => "pause",
            Self::Clock { offset_follows: false, .. } => "clock",
            Self::Clock { offset_follows: true, .. } => "daylight-saving",
            Self::Overrun { .. } => "overrun",
            Self::Jump { .. } => "jump",
            Self::Odd { .. } => "odd",
            Self::Hunting { .. } => "hunting",
            Self::Flicker { .. } => "flicker",
            Self::Stray { .. } => "stray",
            Self::Stuck { .. } => "stuck",
            Self::Damaged { .. } => "damaged",
            Self::Surplus { .. } => "surplus",
            Self::Duplicate { .. } => "duplicate",
            Self::Tests { .. } => "tests",
            Self::Stop { .. } => "stop",
            Self::FromClose => "counted-from-close",
            Self::DarkFrame => "dark-frame",
            Self::Stalled { .. } => "stalled",
            Self::Slip { .. } => "slip",
            Self::Reversal { .. } => "reversal",
            Self::RailEnd { .. } => "rail-end",
            Self::Knock { .. } => "knock",
            Self::Lorry { .. } => "lorry",
            Self::Wrap { .. } => "wrap",
            Self::Roll { .. } => "roll",
            Self::Late { .. } => "late",
            Self::Soft { .. } => "soft",
        }
    }

    /// Where it was asked for; `None` where the seed chooses or where it concerns the whole run.
    pub const fn asked_at(&self) -> Option<u64> {
        match *self {
            Self::Missing { at, .. }
            | Self::Lost { at, .. }
            | Self::RateChange { at, .. }
            | Self::Pause { at, .. }
            | Self::Clock { at, .. }
            | Self::Overrun { at }
            | Self::Jump { at, .. }
            | Self::Odd { at, .. }
            | Self::Hunting { at, .. }
            | Self::Stray { at, .. }
            | Self::Stuck { at }
            | Self::Damaged { at, .. }
            | Self::Surplus { at, .. }
            | Self::Duplicate { at }
            | Self::Stalled { at, .. }
            | Self::Slip { at, .. }
            | Self::Reversal { at }
            | Self::RailEnd { at }
            | Self::Knock { at, .. }
            | Self::Lorry { at, .. }
            | Self::Wrap { at }
            | Self::Roll { at }
            | Self::Late { at, .. }
            | Self::Soft { at, .. } => at,
            _ => None,
        }
    }

    /// True where it stands at one place of the run.
    pub const fn has_place(&self) -> bool {
        !matches!(
            self,
            Self::MissingEvery { .. }
                | Self::Rate { .. }
                | Self::Jitter { .. }
                | Self::Flicker { .. }
                | Self::Tests { .. }
                | Self::Stop { .. }
                | Self::FromClose
                | Self::DarkFrame
        )
    }

    /// Slots in a row that it needs at its place.
    pub const fn reach(&self) -> u64 {
        match *self {
            Self::Missing { count, .. }
            | Self::Lost { count, .. }
            | Self::Hunting { count, .. }
            | Self::Damaged { count, .. }
            | Self::Stalled { count, .. }
            | Self::Lorry { count, .. } => count,
            _ => 1,
        }
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Empty => "empty",
            Self::Cut => "cut",
            Self::Zeros => "zeros",
            Self::Garbage => "garbage",
        })
    }
}
