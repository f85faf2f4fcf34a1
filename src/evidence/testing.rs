//! Sequences that tests make by hand: what stands in them beside the frames is open to them alone.

use super::exposure::{ExposureTrack, Settings};
use super::picture::{self, Pictured};
use super::timing::{self, Standing, Timing};
use super::{FrameState, Frames, Sequence, slots};
use crate::plan::Plan;

/// A frame that stands in no slot.
pub const NO_SLOT: i64 = timing::NO_SLOT;

impl Sequence {
    /// Of these frames alone, with what their pictures say: nothing lies outside, and nothing moves.
    pub fn by_hand(frames: Frames, states: Vec<FrameState>, timing: Timing, exposure: ExposureTrack) -> Self {
        let below = frames.card.shared_folders();
        let run = (0..states.len()).filter(|at| states[*at].stands()).collect();
        let plan = Plan::default();
        let members = slots::members(&plan, &timing, run);
        let pictures = picture::track(&plan, Pictured { frames: &frames, exposure: &exposure }, members);
        Self {
            frames,
            states,
            below,
            copies: Vec::new(),
            outside: Vec::new(),
            timing,
            exposure,
            movement: None,
            pictures,
        }
    }

    /// What each frame is to the run.
    pub fn states_mut(&mut self) -> &mut Vec<FrameState> {
        &mut self.states
    }

    /// Slot of each frame.
    pub fn slots_mut(&mut self) -> &mut Vec<i64> {
        &mut self.timing.standing.slots
    }

    /// Seconds by which the window of each frame misses its slot's moment.
    pub fn offsets_mut(&mut self) -> &mut Vec<f32> {
        &mut self.timing.standing.offsets_s
    }
}

impl Standing {
    /// In these slots, and so many seconds beside their moments.
    pub fn by_hand(slots: Vec<i64>, offsets_s: Vec<f32>) -> Self {
        Self { slots, offsets_s }
    }
}

impl Settings {
    /// Exposure time in seconds, f-number and ISO.
    pub fn by_hand(time_s: f64, f_number: f32, iso: f32) -> Self {
        Self { time_s, f_number, iso }
    }
}

impl ExposureTrack {
    /// Of these settings, one a frame.
    pub fn by_hand(settings: Vec<Settings>) -> Self {
        Self { settings, ..Self::default() }
    }
}
