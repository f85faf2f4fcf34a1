//! A figure beside the limit it is compared with, and spans of frames.

/// A measured value and, where one applies, the limit it was compared with, in the same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The value, in the unit that its name carries.
    pub value: f64,
    /// The limit in force, in the same unit.
    pub limit: Option<f64>,
}

/// One figure of a finding's evidence. Its key carries the unit (`gap_s`, `step_ev`).
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    /// A whole number.
    Count(i64),
    /// A real number.
    Number(f64),
    /// A measured number beside its limit.
    Limited(Measured),
    /// Words or a name.
    Text(String),
    /// Yes or no.
    Flag(bool),
    /// Asked for, but not known.
    Unknown,
}

/// Frames `first` to `last`, both included, as positions in capture order (from 0).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct FrameSpan {
    /// Position of the first frame.
    pub first: usize,
    /// Position of the last frame, not before `first`.
    pub last: usize,
}

impl FrameSpan {
    /// The span of one frame.
    pub const fn one(at: usize) -> Self {
        Self { first: at, last: at }
    }

    /// How many frames the span holds.
    pub const fn len(self) -> usize {
        self.last - self.first + 1
    }

    /// Never: a span holds a frame at least.
    pub const fn is_empty(self) -> bool {
        false
    }
}
