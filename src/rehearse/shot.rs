//! One shot of a rehearsal, and the file that it leaves.

use super::dials::Settings;
use super::faults::Damage;
use crate::units::CivilTime;

/// What a shot belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The frame of a slot.
    Run,
    /// A frame too many, after that of its slot.
    Surplus,
    /// A test shot, outside the run.
    Outside,
}

/// What became of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Written, whole.
    Written,
    /// Shot and numbered, but not in the folder.
    Lost,
    /// In the folder, but no whole picture.
    Damaged(Damage),
}

/// One shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shot {
    /// Slot from 0; `None` outside the run.
    pub slot: Option<u64>,
    /// What it belongs to.
    pub role: Role,
    /// When the shutter really opened, s after the run's start was due.
    pub open_s: f64,
    /// Marked and exact settings.
    pub settings: Settings,
    /// Number of the DCIM folder, 100 to 999.
    pub folder: u16,
    /// File number, 1 to 9999.
    pub number: u16,
    /// The stamp as written: cut off, never rounded, to the options' resolution.
    pub stamp: CivilTime,
    /// Written minutes ahead of UTC, where they are written.
    pub offset_min: Option<i16>,
    /// What became of the file.
    pub state: State,
    /// True where a copy of the file lies beside it.
    pub copied: bool,
    /// Exposure value at ISO 100 that the scene calls for, EV.
    pub scene_ev100: f64,
    /// Brightness that neither scene nor settings explain, EV.
    pub flicker_ev: f64,
    /// Where the carriage stands, m.
    pub carriage_m: f64,
    /// Radius of the blur, pixels.
    pub blur_px: f64,
    /// By how much the picture lies askew, pixels, down and across alike.
    pub askew_px: f64,
    /// How far a lorry has come on its way past, 0 to 1, where one is in the picture.
    pub lorry: Option<f64>,
}

impl Shot {
    /// How much brighter than a well exposed picture this one comes out, EV.
    pub fn brightness_ev(&self) -> f64 {
        self.scene_ev100 - self.settings.ev100() + self.flicker_ev
    }

    /// True where a file of it lies in the folder, whole or not.
    pub fn on_card(&self) -> bool {
        self.state != State::Lost
    }
}

pub(crate) fn file(dcim: bool, prefix: &str, shot: &Shot) -> String {
    let (folder, number) = (shot.folder, shot.number);
    if dcim {
        format!("frames/DCIM/{folder:03}LAPSE/{prefix}{number:04}.JPG")
    } else {
        format!("frames/{prefix}{number:04}.JPG")
    }
}
