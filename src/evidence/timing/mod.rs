//! What the stamps say: capture order, cadence, stretches, slots and holes.
//!
//! README.md beside this file tells how it works.

pub mod bounds;
pub mod numbers;
pub mod readings;
pub mod region;
pub mod resolution;

mod assemble;
mod beam;
mod belongs;
mod boundary;
mod bracket;
mod clock;
mod coarser;
mod counted;
mod days;
mod doubt;
pub mod effort;
mod ends;
mod fill;
mod hours;
mod law;
mod line;
mod multiples;
mod neighbours;
mod order;
mod own;
mod pauses;
mod placement;
mod reading;
mod run;
mod select;
mod series;
mod steady;
mod strays;

pub use fill::{Found, Unread};
pub use order::capture_order;

use crate::units::{CivilTime, FrameSpan, Micros};

/// What capture order was taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum OrderBasis {
    /// Folder and file number of a camera's names.
    Numbers,
    /// Stamps.
    Stamps,
    /// Natural order of names: neither numbers nor stamps serve.
    #[default]
    Names,
}

impl OrderBasis {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Numbers => "folder and file number",
            Self::Stamps => "stamps",
            Self::Names => "names",
        }
    }
}

/// What the camera's or controller's timer counts from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum TimerLaw {
    /// Shutter open to shutter open.
    #[default]
    Open,
    /// Shutter close to shutter open: the interval grows by the exposure.
    Close,
    /// The same with in-camera dark-frame subtraction.
    CloseDarkFrame,
    /// The exposures do not tell (they do not vary).
    Unknown,
}

/// The timing law of the run, with the interval of its longest stretch: what the timer counts, from the
/// shutter's close where the law says so.
#[derive(Clone, Debug, PartialEq)]
pub struct Cadence {
    /// The interval, s: the middle of what the stamps allow.
    pub interval_s: f64,
    /// The shortest interval that the stamps allow under `timing_error_s`, s.
    pub low_s: f64,
    /// The longest interval that the stamps allow under `timing_error_s`, s.
    pub high_s: f64,
    /// The same bounds with no timing error granted, where some line passes through every window; (low,
    /// high), s.
    pub exact_s: Option<(f64, f64)>,
    /// The timing error that the bounds assume, s.
    pub timing_error_s: f64,
    /// How far the windows had to be widened for one line to pass through them, s (0 in the ordinary case).
    pub widening_s: f64,
    /// What the stamps really resolve, s (from their behaviour, not from their digits).
    pub resolution_s: f64,
    /// What the timer counts from.
    pub law: TimerLaw,
    /// True where the stamps turned out to be written when the shutter closes.
    pub stamped_at_close: bool,
    /// Seconds of interval for each second of exposure (0 counts from open, 1 from close, 2 with dark
    /// frames).
    pub per_exposure: Option<f64>,
}

/// A longest part of the run on one unbroken grid of slots.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Position of its first frame.
    pub first: usize,
    /// Position of its last frame.
    pub last: usize,
    /// Frames of it that stand in a slot.
    pub frames: u64,
    /// Slot of its first frame.
    pub first_slot: i64,
    /// Slot of its last frame.
    pub last_slot: i64,
    /// Its interval, s; where it is a single frame, this and the next two are those of the stretch beside it.
    pub interval_s: f64,
    /// Shortest interval that its stamps allow under the cadence's timing error, s.
    pub low_s: f64,
    /// Longest interval that its stamps allow, s.
    pub high_s: f64,
    /// Moment of its first slot on the camera's clock: the middle of what the stamps allow.
    pub phase: CivilTime,
}

/// Why slots are empty, by the file numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HoleCause {
    /// The numbers run on: the camera did not fire.
    TriggerMissed,
    /// The numbers skip by the same count: the files are not in this folder.
    FileLost,
    /// The numbers fit neither, or do not count as evidence.
    Unknown,
}

impl HoleCause {
    /// The code in `audit.json`.
    pub const fn code(self) -> &'static str {
        match self {
            Self::TriggerMissed => "trigger-missed",
            Self::FileLost => "file-lost",
            Self::Unknown => "unknown",
        }
    }
}

/// Empty slots between two frames of the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Hole {
    /// Position of the frame before.
    pub before: usize,
    /// Position of the frame after.
    pub after: usize,
    /// First empty slot.
    pub slot: i64,
    /// How many.
    pub slots: u64,
    /// Seconds from the frame before to the frame after.
    pub gap_s: f64,
    /// By how much the file numbers advance across it; `None` where numbers are no evidence.
    pub numbers: Option<i64>,
    /// Why, by the numbers.
    pub cause: HoleCause,
    /// The smallest and largest count that the stamps allow, where another reading is about as good.
    pub doubt: Option<(u64, u64)>,
    /// Frames between it and an end of the run, few, that may be shots of their own: then no slot is missing.
    /// `None` where they are the run's.
    pub shots_beyond: Option<u64>,
}

/// What may have happened where the clock seems to have been changed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ClockRival {
    /// The clock ran on, and the camera stood for as long.
    Stood,
    /// The timer was stopped and began anew early.
    BeganAnew,
    /// The clock was put back by whole half-hours, and the camera stood for the rest.
    PutBackFurther {
        /// By how much it was put back, s (negative).
        step_s: f64,
        /// How long the camera then stood, s.
        stood_s: f64,
    },
    /// The clock was put back with the offset from UTC that the camera writes, while the camera stood for as
    /// long; the step of the clock is nothing in the other reading, in which the offset alone was corrected.
    StoodBehindOffset {
        /// How long the camera then stood, s.
        stood_s: f64,
    },
}

/// What joins two stretches.
#[derive(Clone, Debug, PartialEq)]
pub enum JoinKind {
    /// The timer stood and came back on another phase.
    Slip {
        /// Seconds beyond one interval.
        pause_s: f64,
        /// The same in slots.
        slots: f64,
    },
    /// The camera's clock was changed.
    ClockStep {
        /// By how much the clock jumped, s (negative: back).
        step_s: f64,
        /// What kind of change it looks like, in words.
        looks_like: String,
        /// Seconds that the camera stood there beside the change; `None` where it did not.
        stood_s: Option<f64>,
        /// What may have happened instead; `None` where that is settled.
        rival: Option<ClockRival>,
    },
    /// The interval changed.
    Rate {
        /// Interval before, s.
        from_s: f64,
        /// Interval after, s.
        to_s: f64,
        /// First position at which the change may lie.
        earliest: usize,
        /// Last position at which it may lie.
        latest: usize,
        /// Seconds that the timer stood there beyond the longer of the two intervals; `None` where it did
        /// not, as far as the stamps tell.
        pause_s: Option<f64>,
    },
    /// The hours of rest between two working periods of the plan.
    Night,
}

/// Two stretches that meet.
#[derive(Clone, Debug, PartialEq)]
pub struct Join {
    /// Position of the last frame of the earlier one.
    pub before: usize,
    /// Position of the first frame of the later one.
    pub after: usize,
    /// Seconds between the two.
    pub gap_s: f64,
    /// What it is.
    pub kind: JoinKind,
    /// Slots missing there in another reading of the stamps, about as good, that needs no pause; `None` where
    /// there is none.
    pub or_missing: Option<u64>,
    /// Frames between it and an end of the run, few, that may be shots of their own; `None` where they are
    /// the run's.
    pub shots_beyond: Option<u64>,
}

/// Several exposures in each slot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bracket {
    /// Exposures in a whole set.
    pub size: usize,
    /// Sets with fewer or more, by their frames.
    pub incomplete: Vec<FrameSpan>,
}

/// Where each frame stands on the grid; as long as the frames. A frame is asked through
/// [`FrameView`](crate::evidence::FrameView).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Standing {
    /// Slot of each frame, `NO_SLOT` where it has none.
    pub(in crate::evidence) slots: Vec<i64>,
    /// Seconds by which each frame's window misses its slot's moment (0 where the window holds it; later is
    /// positive); NaN where it has no slot.
    pub(in crate::evidence) offsets_s: Vec<f32>,
}

/// Timing of the run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timing {
    /// What capture order was taken from.
    pub basis: OrderBasis,
    /// Neighbours (before, after) in capture order whose stamps run backwards.
    pub backwards: Vec<(usize, usize)>,
    /// The cadence; `None` where no grid holds most of the frames, with the reason in `no_grid`.
    pub cadence: Option<Cadence>,
    /// Why there is no cadence.
    pub no_grid: Option<String>,
    /// Where each frame stands.
    pub standing: Standing,
    /// Stretches, in order.
    pub stretches: Vec<Stretch>,
    /// What joins them; one fewer than the stretches.
    pub joins: Vec<Join>,
    /// Holes, in order.
    pub holes: Vec<Hole>,
    /// The smallest and largest number of missing slots that the stamps allow, where another reading is about
    /// as good.
    pub missing_doubt: Option<(u64, u64)>,
    /// The smallest and largest number of surplus frames, likewise.
    pub surplus_doubt: Option<(u64, u64)>,
    /// Slots of the run, missing ones included; `None` without a cadence.
    pub slot_count: Option<u64>,
    /// Brackets, where there are several exposures in each slot.
    pub bracket: Option<Bracket>,
    /// Usual advance of the file numbers per slot (r); `None` where numbers are no evidence.
    pub number_advance: Option<i64>,
    /// The written resolution of the stamps (the coarsest in the run).
    pub written_resolution: Micros,
    /// Frames of the run whose stamp is not known.
    pub unstamped: u64,
    /// Lines that were tried to read the stamps: the cost of the reading, the same on every machine.
    pub lines_tried: u64,
}

/// A frame that stands in no slot.
pub(in crate::evidence) const NO_SLOT: i64 = i64::MIN;

impl Join {
    /// How long the timer stood there, s: beyond one interval, whatever the interval is afterwards. `None`
    /// where it did not stand.
    pub fn stood_s(&self) -> Option<f64> {
        match self.kind {
            JoinKind::Slip { pause_s, .. } => (pause_s > 0.0).then_some(pause_s),
            JoinKind::Rate { pause_s, .. } => pause_s,
            JoinKind::ClockStep { stood_s, .. } => stood_s,
            JoinKind::Night => None,
        }
    }
}

impl Standing {
    /// So many frames, none of them in a slot.
    fn nowhere(frames: usize) -> Self {
        Self { slots: vec![NO_SLOT; frames], offsets_s: vec![f32::NAN; frames] }
    }

    /// The slot of a frame.
    pub(in crate::evidence) fn slot(&self, at: usize) -> Option<i64> {
        self.slots.get(at).copied().filter(|&s| s != NO_SLOT)
    }

    /// Seconds by which the window of a frame misses its slot's moment.
    pub(in crate::evidence) fn offset_s(&self, at: usize) -> Option<f64> {
        self.offsets_s.get(at).map(|s| f64::from(*s)).filter(|s| s.is_finite())
    }
}

impl Timing {
    /// Missing slots in all; `None` without a cadence.
    pub fn missing(&self) -> Option<u64> {
        self.cadence.as_ref().map(|_| self.holes.iter().map(|h| h.slots).sum())
    }

    /// Slots that may be missing where the timer seems to have stood; `None` where it surely stood. A pause
    /// of whole slots is hardly one where the stamps allow as many to be missing.
    pub fn missing_instead(&self, join: &Join) -> Option<u64> {
        let JoinKind::Slip { slots, .. } = join.kind else { return None };
        let whole = || {
            let near = (slots - slots.round()).abs() < OF_A_WHOLE_SLOT && slots.round() >= 1.0;
            let high = self.missing_doubt.filter(|_| near)?.1;
            Some(slots.round() as u64).filter(|n| *n <= high)
        };
        join.or_missing.filter(|n| *n > 0 && slots > 0.0).or_else(whole)
    }
}

/// A pause this near to whole slots may be as many missing frames, slots.
const OF_A_WHOLE_SLOT: f64 = 0.02;
