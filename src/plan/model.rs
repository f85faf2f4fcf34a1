//! The model of a plan: its tables, a field a key. Each key has its row in [`schema`](super::schema).

use super::levels;
use crate::units::CivilTime;
use std::collections::{BTreeMap, BTreeSet};

/// A whole plan. Every key is optional: what is `None` was not said.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// Title of the shoot.
    pub name: Option<String>,
    /// Interval between the openings (or closings, see [`CountedFrom`]) of neighbouring slots, s, over 0.
    pub interval_s: Option<f64>,
    /// Frames planned, at least 1. Where only `run` is written: `floor(run / interval) + 1`.
    pub frames: Option<u64>,
    /// Length of the run from the first shutter to the last, s.
    pub run_s: Option<f64>,
    /// When the first slot is due.
    pub start: Option<Moment>,
    /// What the timer counts from; shutter open where nothing is said.
    pub counted_from: Option<CountedFrom>,
    /// Exposures in each slot, at least 1; 1 where nothing is said.
    pub bracket: Option<u32>,
    /// File name with which the run begins, where the card holds more.
    pub first: Option<String>,
    /// File name with which the run ends.
    pub last: Option<String>,
    /// Hours of the day in which frames are due (a site camera).
    pub active: Vec<DailyHours>,
    /// The light of the scene, where it is known.
    pub light: Option<Light>,
    /// Mains frequency, Hz (50 or 60).
    pub mains_hz: Option<f64>,
    /// `[exposure]`.
    pub exposure: ExposurePlan,
    /// `[rig]`.
    pub rig: RigPlan,
    /// `[card]`.
    pub card: CardPlan,
    /// `[delivery]`: the clip.
    pub delivery: DeliveryPlan,
    /// `[delivery]`: what the client's page says.
    pub document: DocumentPlan,
    /// `[[part]]`: what changes on purpose.
    pub parts: Vec<Part>,
    /// Name of the file that it was read from, fit to show.
    pub file: Option<String>,
    /// `[[accepted]]`: findings seen and agreed to.
    pub accepted: Vec<Accepted>,
    /// `[tolerance.CHECK] key = number`: overrides of the checks' limits.
    pub tolerances: BTreeMap<String, BTreeMap<String, f64>>,
    /// What of it lets more pass and is nobody's word: the plan lay with the frames.
    pub unnamed: Unnamed,
}

/// What of a plan nobody's word stands for, and would let more pass than a plan without it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Unnamed {
    /// Keys of [`Plan::tolerances`], check by check.
    pub tolerances: BTreeMap<String, BTreeSet<String>>,
    /// A `max_step` of `[exposure]` that is larger than where nothing is said.
    pub max_step: bool,
    /// The same in a `[[part]]`.
    pub step_of_part: bool,
    /// A `patch_up_to` that is larger than where nothing is said.
    pub patch_up_to: bool,
    /// `first`: what stands before it is left out.
    pub first: bool,
    /// `last`: what stands after it is left out.
    pub last: bool,
}

/// A civil moment, with the offset from UTC where one was written. The offset counts where the frames tell
/// theirs; else the moment is one of the camera's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// The moment on the local clock.
    pub civil: CivilTime,
    /// Minutes ahead of UTC.
    pub offset_min: Option<i16>,
}

/// What the camera's or controller's timer counts the interval from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountedFrom {
    /// From shutter open to shutter open: the ordinary timer.
    Open,
    /// From shutter close to the next open: the interval on the stamps is longer by the exposure.
    Close,
}

/// Daily hours in which frames are due, seconds after midnight; `to` may lie past midnight (`to <= from`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DailyHours {
    /// First second of the day.
    pub from_s: u32,
    /// Second of the day at which they end.
    pub to_s: u32,
}

/// The light of the scene.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Light {
    /// Sun and sky, or lamps that do not follow the mains.
    Daylight,
    /// Lamps on alternating current.
    Mains,
    /// A night sky with its stars.
    Night,
}

/// How the exposure is meant to behave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExposureMode {
    /// Nothing moves.
    Locked,
    /// It follows the light in small steps, one direction at a time.
    Ramped,
    /// The camera chooses for each frame.
    Automatic,
}

/// A planned quantity: one value, or the two ends of a ramp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Planned {
    /// One value for every frame.
    Fixed(f64),
    /// From the first value to the second in the course of the run (either may be the larger).
    Between(f64, f64),
}

impl Planned {
    /// The smallest planned value.
    pub fn low(self) -> f64 {
        match self {
            Self::Fixed(v) => v,
            Self::Between(a, b) => a.min(b),
        }
    }

    /// The largest planned value.
    pub fn high(self) -> f64 {
        match self {
            Self::Fixed(v) => v,
            Self::Between(a, b) => a.max(b),
        }
    }
}

/// `[exposure]`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ExposurePlan {
    /// How the exposure is meant to behave; not judged against a mode where nothing is said.
    pub mode: Option<ExposureMode>,
    /// Exposure time, s.
    pub shutter_s: Option<Planned>,
    /// f-number.
    pub aperture: Option<Planned>,
    /// ISO sensitivity.
    pub iso: Option<Planned>,
    /// Largest step between neighbouring frames of a ramped or automatic run, EV.
    pub max_step_ev: Option<f64>,
    /// After the shutter closes, until the camera can fire again, s.
    pub busy_s: Option<f64>,
    /// In-camera dark-frame subtraction: busy for as long as the exposure again.
    pub dark_frame: Option<bool>,
}

/// How the carriage travels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RigKind {
    /// Shoot, move, settle, shoot.
    Stepped,
    /// Travels through the exposure on purpose.
    Continuous,
}

/// Which way the carriage travels, seen from behind the camera held upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To the left: the picture moves right.
    Left,
    /// To the right: the picture moves left.
    Right,
    /// Up: the picture moves down.
    Up,
    /// Down: the picture moves up.
    Down,
}

impl Way {
    /// The other way along the same line.
    #[must_use]
    pub const fn back(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
            Self::Up => Self::Down,
            Self::Down => Self::Up,
        }
    }

    /// Where the picture moves, as a unit vector: right and down are positive.
    pub const fn of_picture(self) -> (f64, f64) {
        match self {
            Self::Left => (1.0, 0.0),
            Self::Right => (-1.0, 0.0),
            Self::Up => (0.0, 1.0),
            Self::Down => (0.0, -1.0),
        }
    }
}

/// `[rig]`. Lengths in metres, times in seconds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RigPlan {
    /// How the carriage travels; stepped where nothing is said.
    pub kind: Option<RigKind>,
    /// Which way the carriage travels; a `[[part]]` may turn it.
    pub direction: Option<Way>,
    /// Whole travel of the run, m.
    pub travel_m: Option<f64>,
    /// One move, m.
    pub step_m: Option<f64>,
    /// Carriage speed, m/s.
    pub speed_m_s: Option<f64>,
    /// Carriage acceleration, m/s²; the move is a trapezoid where it is given.
    pub acceleration_m_s2: Option<f64>,
    /// Wait after a move before the shutter may open, s.
    pub settle_s: Option<f64>,
    /// From the shutter's close to the start of the move, s.
    pub trigger_lag_s: Option<f64>,
    /// True where the carriage waits for the camera to finish writing before it travels.
    pub waits: Option<bool>,
    /// Hours that the rig's battery lasts.
    pub battery_hours: Option<f64>,
    /// Shortest and longest hours on a set of cells, where no one number is known.
    pub hours_range: Option<Planned>,
    /// Temperature at which the rig works, °C; a battery's hours are derated by it.
    pub temperature_c: Option<f64>,
    /// Shortest and longest interval of the timer, s.
    pub interval_range_s: Option<Planned>,
    /// Step of the timer's dial, s.
    pub interval_step_s: Option<f64>,
    /// Shortest and longest single move of the carriage, m.
    pub step_range_m: Option<Planned>,
    /// Slowest and fastest speed of the carriage, m/s.
    pub speed_range_m_s: Option<Planned>,
    /// Distance to the subject, m.
    pub distance_m: Option<f64>,
    /// Focal length, m.
    pub focal_length_m: Option<f64>,
    /// Pixel pitch of the sensor, m.
    pub pixel_pitch_m: Option<f64>,
    /// The wait from the shutter's opening to the move, s, of a rig that is set by it: its interval is wait,
    /// move and settling.
    pub wait_s: Option<f64>,
    /// Step of the wait's dial, s.
    pub wait_increment_s: Option<f64>,
    /// Step of the step's dial, m.
    pub step_increment_m: Option<f64>,
    /// Diagonal of the sensor, m: how far the corners of the picture lie from its middle.
    pub sensor_diagonal_m: Option<f64>,
    /// Declination at which the camera points, degrees, −90 to 90; 0, where stars move fastest, where nothing
    /// is said.
    pub declination_deg: Option<f64>,
    /// Longest trail of a star that still counts as a point, px.
    pub star_trail_px: Option<f64>,
    /// Rate of a pan while the shutter is open, degrees a second.
    pub pan_deg_s: Option<f64>,
}

/// How a card is formatted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileSystem {
    /// FAT16, as on cards up to 2 GB.
    Fat16,
    /// FAT32, as on cards up to 32 GB.
    Fat32,
    /// exFAT, as on larger cards.
    Exfat,
}

/// `[card]`: what takes the frames.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CardPlan {
    /// Its size, bytes.
    pub size_bytes: Option<f64>,
    /// Size of one frame with all its files, bytes.
    pub frame_bytes: Option<f64>,
    /// How it is formatted; as cards of its size usually are where nothing is said.
    pub file_system: Option<FileSystem>,
}

/// `[delivery]`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DeliveryPlan {
    /// Frames a second of the finished clip.
    pub fps: Option<f64>,
    /// Length of the finished clip, s.
    pub length_s: Option<f64>,
    /// Largest hole that is patched in post, slots; 0 for none, 1 where nothing is said.
    pub patch_up_to: Option<u64>,
}

impl DeliveryPlan {
    /// Largest hole that is patched in post, slots.
    pub fn patch_slots(&self) -> u64 {
        self.patch_up_to.unwrap_or(levels::PATCH_SLOTS)
    }
}

/// What the client's page says, in the photographer's words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DocumentPlan {
    /// Its title; the plan's name where nothing is said.
    pub title: Option<String>,
    /// What was shot, and for what.
    pub scenario: Option<String>,
    /// Whom to ask, line by line.
    pub contact: Vec<String>,
}

/// Where a part of the plan begins.
#[derive(Clone, Debug, PartialEq)]
pub enum PartStart {
    /// From the frame of that number in the run, from 0.
    Frame(u64),
    /// From a moment.
    Moment(Moment),
    /// From the file of that name.
    File(String),
}

/// `[[part]]`: what changes on purpose from a frame or a moment on.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Where it begins.
    pub from: PartStart,
    /// The new interval, s.
    pub interval_s: Option<f64>,
    /// The new exposure settings; what is `None` stays as it was.
    pub exposure: ExposurePlan,
    /// The new way of the carriage.
    pub direction: Option<Way>,
    /// What was changed, in the photographer's words (an ND filter, a zoom).
    pub note: Option<String>,
}

impl Part {
    /// A part that begins there and changes nothing.
    pub fn from(from: PartStart) -> Self {
        let exposure = ExposurePlan::default();
        Self { from, interval_s: None, exposure, direction: None, note: None }
    }
}

/// `[[accepted]]`: a finding that was seen and agreed to.
#[derive(Clone, Debug, PartialEq)]
pub struct Accepted {
    /// Id of the check.
    pub check: String,
    /// Where it stands, on the camera's clock; every finding of the check where nothing is said.
    pub at: Option<Moment>,
    /// Or the file that the finding names.
    pub file: Option<String>,
    /// As many slots or frames as were agreed to: where the findings that it names speak of more, it accepts
    /// none.
    pub count: Option<u64>,
    /// Why it is accepted.
    pub reason: String,
}

impl Accepted {
    /// True where it names neither a place nor a count: whatever the check finds is then accepted, seen or
    /// not.
    pub fn is_unbounded(&self) -> bool {
        self.at.is_none() && self.file.is_none() && self.count.is_none()
    }
}
