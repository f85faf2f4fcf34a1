//! What is known before a shoot, and a shoot that is worked out.

use super::figures::Figures;
use super::ruling::{Rulings, State};
use crate::plan::Plan;

/// What is known before a shoot.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// Whatever of the plan is said. `travel` is the travel that there is; a plan may use less of it.
    pub plan: Plan,
    /// Length of the event that the run has to cover at least, s.
    pub event_s: Option<f64>,
}

/// A quantity that is worked out where it is not given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// The interval.
    Interval,
    /// The wait before each move.
    Wait,
    /// The number of frames.
    Frames,
    /// The run, from the first shutter to the last.
    Run,
    /// The event to cover.
    Event,
    /// Frames a second and length of the clip.
    Clip,
    /// One move.
    Step,
    /// The whole travel.
    Travel,
    /// Speed of the carriage.
    Speed,
}

impl Key {
    /// The word on the page and in `--json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Interval => "interval",
            Self::Wait => "wait",
            Self::Frames => "frames",
            Self::Run => "run",
            Self::Event => "event",
            Self::Clip => "clip",
            Self::Step => "step",
            Self::Travel => "travel",
            Self::Speed => "speed",
        }
    }
}

/// How a value was come by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// It was said.
    Given,
    /// It follows from what was said.
    Worked,
    /// Nothing fixes it; the nearest that works was taken.
    Chosen,
}

impl Origin {
    /// The word on the page and in `--json`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Worked => "worked out",
            Self::Chosen => "chosen",
        }
    }
}

/// A shoot, worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct Shoot {
    /// The whole plan: interval and frames are always there.
    pub plan: Plan,
    /// The event that it covers, s.
    pub event_s: Option<f64>,
    /// The travel that there is, m, where it was given.
    pub rail_m: Option<f64>,
    /// How each quantity was come by, in the order of the keys.
    pub origins: Vec<(Key, Origin)>,
    /// Choices that were made, and what is more than was asked, one sentence each.
    pub notes: Vec<String>,
    /// What else follows.
    pub figures: Figures,
    /// Each constraint, and how the plan stands to it.
    pub rulings: Rulings,
}

impl Shoot {
    /// How the plan stands on the whole.
    pub fn state(&self) -> State {
        self.rulings.state()
    }

    /// How a quantity was come by; `None` where the plan has none.
    pub fn origin(&self, key: Key) -> Option<Origin> {
        self.origins.iter().find(|(k, _)| *k == key).map(|(_, origin)| *origin)
    }
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum Unsolved {
    /// Figures that nobody means: one question for each.
    Absurd(Vec<String>),
    /// More has to be known: one sentence for each thing that lacks.
    Under(Vec<String>),
    /// Too much is said, and it does not agree.
    Over(Vec<Clash>),
}

/// Values that do not agree.
#[derive(Clone, Debug, PartialEq)]
pub struct Clash {
    /// Which.
    pub keys: Vec<Key>,
    /// One sentence with both values.
    pub words: String,
    /// What comes of it where one of them is dropped, one sentence each.
    pub remedies: Vec<String>,
}
