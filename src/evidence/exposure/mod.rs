//! Settings: the exact exposure of each frame, and the steps between neighbours.

mod track;

pub use track::track;

use crate::units::stops::Step;

/// The exposure of one frame on the exact series. What is not known is NaN (kept small: a million of these
/// are held).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Exact exposure time, s.
    pub(in crate::evidence) time_s: f64,
    /// Exact f-number.
    pub(in crate::evidence) f_number: f32,
    /// Exact ISO sensitivity.
    pub(in crate::evidence) iso: f32,
}

impl Settings {
    /// Exact exposure time, s; `None` where it is not known.
    pub fn exposure_s(self) -> Option<f64> {
        Some(self.time_s).filter(|time_s| time_s.is_finite())
    }

    /// Exact f-number; `None` where it is not known.
    pub fn f_number(self) -> Option<f64> {
        Some(f64::from(self.f_number)).filter(|number| number.is_finite())
    }

    /// Exact ISO sensitivity; `None` where it is not known.
    pub fn iso(self) -> Option<f64> {
        Some(f64::from(self.iso)).filter(|iso| iso.is_finite())
    }

    /// Exposure value at ISO 100, EV; `None` where a part of it is not known. A lens that tells no f-number
    /// throughout counts as f/1: only differences are then told.
    pub fn ev100(self) -> Option<f64> {
        let ev = crate::units::stops::ev100(f64::from(self.f_number), self.time_s, f64::from(self.iso));
        ev.is_finite().then_some(ev)
    }
}

/// The exposure track of the folder.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ExposureTrack {
    /// One entry a frame, in capture order.
    pub(in crate::evidence) settings: Vec<Settings>,
    /// The step of the marked series that the sequence keeps.
    pub step: Step,
    /// How many frames of the run have no exposure value.
    pub unknown: u64,
    /// True where no frame of the run tells an f-number (a lens without contacts): every frame then counts as
    /// f/1, so that steps can still be told. The exposure values are then not absolute and are not to be
    /// shown as such.
    pub aperture_assumed: bool,
}

impl ExposureTrack {
    /// The settings of a frame.
    pub(in crate::evidence) fn of(&self, at: usize) -> Option<Settings> {
        self.settings.get(at).copied()
    }

    /// The exposure value of a frame at ISO 100, EV.
    pub(in crate::evidence) fn ev100(&self, at: usize) -> Option<f64> {
        self.of(at)?.ev100()
    }
}
