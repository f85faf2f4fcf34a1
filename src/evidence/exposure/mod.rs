//! Settings: the exact exposure of each frame, and the steps between neighbours.

mod track;

pub use track::track;

use crate::units::stops::Step;

/// The exposure of one frame on the exact series. What is not known is NaN (kept small: a million of these are held).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Exact exposure time, s.
    pub time_s: f64,
    /// Exact f-number.
    pub f_number: f32,
    /// Exact ISO sensitivity.
    pub iso: f32,
}

impl Settings {
    /// Exposure value at ISO 100, EV; `None` where a part of it is not known. A lens that tells no f-number throughout counts
    /// as f/1: only differences are then told.
    pub fn ev100(self) -> Option<f64> {
        let ev = crate::units::stops::ev100(f64::from(self.f_number), self.time_s, f64::from(self.iso));
        ev.is_finite().then_some(ev)
    }
}

/// The exposure track of the folder.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ExposureTrack {
    /// One entry a frame, in capture order.
    pub settings: Vec<Settings>,
    /// The step of the marked series that the sequence keeps.
    pub step: Step,
    /// How many frames of the run have no exposure value.
    pub unknown: u64,
    /// True where no frame of the run tells an f-number (a lens without contacts): every frame then counts as f/1, so that
    /// steps can still be told. The exposure values are then not absolute and are not to be shown as such.
    pub aperture_assumed: bool,
}
