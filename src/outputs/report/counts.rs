//! How many frames and slots there are of each kind.

use crate::audit::Audit;
use crate::evidence::FrameState;

/// How many frames and slots there are of each kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Counts {
    /// Frames of the run, damaged ones included.
    pub frames: u64,
    /// Slots of the run, empty ones included; `None` without a grid.
    pub slots: Option<u64>,
    /// Empty slots; `None` without a grid.
    pub missing: Option<u64>,
    /// The fewest and the most that the stamps allow, where another reading is about as good.
    pub missing_doubt: Option<(u64, u64)>,
    /// Frames that are extra.
    pub surplus: u64,
    /// Damaged frames of the run.
    pub damaged: u64,
    /// Frames that are none of the run.
    pub outside: u64,
}

impl Counts {
    /// Counts them.
    pub(crate) fn of(audit: &Audit) -> Self {
        let timing = &audit.evidence.timing;
        let count = |state| audit.evidence.count(state);
        let gridded = timing.cadence.as_ref();
        Self {
            frames: count(FrameState::Frame).saturating_add(count(FrameState::Damaged)),
            slots: gridded.and(timing.slot_count),
            missing: timing.missing(),
            missing_doubt: gridded.and(timing.missing_doubt),
            surplus: count(FrameState::Surplus),
            damaged: count(FrameState::Damaged),
            outside: count(FrameState::Outside),
        }
    }
}
