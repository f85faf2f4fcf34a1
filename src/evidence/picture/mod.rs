//! What the pictures say together: brightness, flicker and how visible it is, flashes, sharpness.
//!
//! README.md beside this file tells how it works.

mod alone;
mod blank;
pub mod flash;
pub mod levels;
mod nature;
mod obstruction;
pub mod red;
mod sharpness;
mod sight;
mod steps;
mod track;

pub use alone::{alike_at, out_of_clip};
pub use blank::{BlankKind, BlankSpell, Passage};
pub use levels::{Levels, levels};
pub use nature::{Nature, odd_frames};
pub use obstruction::{Obstruction, Watch};
pub use sharpness::{Dip, SharpnessTrack};
pub use sight::{Visibility, flash as flash_seen, most_visible, sensitivity, visibility};
pub use steps::LightStep;
pub use track::track;

use crate::evidence::exposure::ExposureTrack;
use crate::frames::Frames;
use crate::stats::median;

pub use crate::frames::picture::{
    AREAS, Areas, Between, CELLS, CELLS_ACROSS, CELLS_DOWN, Cells, Look, PictureSource,
};

/// Neighbours less alike than this, by their median, show different things (common practice, no source).
const SAME_SCENE: f64 = 0.6;

/// How well a picture tells its brightness.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Sight {
    /// It was not looked at, or not part of what is compared.
    #[default]
    Unseen,
    /// It tells.
    Clear,
    /// Cut off at the top: blind, not steady.
    TooBright,
    /// Lost at the bottom: blind, not steady.
    TooDark,
}

/// Steps that a source of pictures makes by itself where nothing changed, EV from one frame to the next, at
/// most: measured against whole decodes of the same pictures. Nothing below is judged.
pub const fn largest_step_ev(source: PictureSource) -> f64 {
    match source {
        PictureSource::Thumbnail => 0.015,
        PictureSource::Preview | PictureSource::Reduced => 0.005,
        PictureSource::Whole => 0.0015,
    }
}

/// The noise floor of a source, EV rms: a third of its largest step.
pub const fn floor_ev(source: PictureSource) -> f64 {
    largest_step_ev(source) / 3.0
}

/// A course of brightness against its own local trend.
#[derive(Clone, Debug, PartialEq)]
pub struct Flicker {
    /// Root of the mean square from frame to frame, EV: of the deviations, or where they go slowly to and fro
    /// of what changes from each frame to the next.
    pub rms_ev: f64,
    /// The largest deviation, EV.
    pub largest_ev: f64,
    /// How visible it is in its most visible second; of single frames, the most visible of them by itself.
    pub visibility: Visibility,
    /// The frames of that second, positions in capture order.
    pub second: (usize, usize),
    /// What it is like.
    pub nature: Nature,
    /// The frames that deviate most, positions in capture order, with their deviation, EV; the worst first.
    pub worst: Vec<(usize, f64)>,
}

/// A shift of colour against its own local trend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ColourShift {
    /// Red against green, EV rms.
    pub red_ev: f64,
    /// Blue against green, EV rms.
    pub blue_ev: f64,
    /// The largest of either, EV.
    pub largest_ev: f64,
    /// Where that is, a position in capture order.
    pub at: usize,
}

/// Frames that are compared with each other: a bracket's members each have their own.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// Positions in capture order.
    pub frames: Vec<usize>,
    /// EV that the picture brightens for each EV that the settings let in: 1 but for a camera's own curve.
    pub response: f64,
    /// True where the settings of its frames are known, so that they could be taken out.
    pub settings_known: bool,
    /// True where the brightness is that of the middle half of the pixels: lamps that are cut off hold most
    /// of the light.
    pub by_centre: bool,
    /// Steps of the light, or of what else the settings do not tell.
    pub steps: Vec<LightStep>,
    /// What the clip shows as it was shot.
    pub shown: Flicker,
    /// What is left when the settings are taken out.
    pub unexplained: Flicker,
    /// How much of it the whole picture does alike, 0 to 1: near 1 the aperture, the shutter or the one
    /// light; near 0 parts by themselves.
    pub alike: f64,
    /// Shifts of colour.
    pub colour: ColourShift,
    /// The noise floor of its source, EV rms.
    pub floor_ev: f64,
}

/// What the track is made from: the pictures, and the settings that they were exposed with.
#[derive(Clone, Copy, Debug)]
pub struct Pictured<'a> {
    /// The frames, in capture order.
    pub frames: &'a Frames,
    /// Their settings.
    pub exposure: &'a ExposureTrack,
}

/// What the pictures say together. Empty where they were not read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PictureTrack {
    /// log2 of the brightness of each frame (mean linear luminance), EV; NaN where it tells nothing. One a
    /// frame, in capture order.
    pub(in crate::evidence) brightness_ev: Vec<f32>,
    /// How well each frame tells it.
    pub(in crate::evidence) sight: Vec<Sight>,
    /// Deviation of each frame from the local trend, the settings taken out, EV; NaN where not known.
    pub(in crate::evidence) unexplained_ev: Vec<f32>,
    /// Courses that are compared: one, or one a member of the bracket.
    pub courses: Vec<Course>,
    /// Sharpness.
    pub sharpness: SharpnessTrack,
    /// Spells of pictures that show nothing, in order.
    pub blank: Vec<BlankSpell>,
    /// Frames before which something stood, in order.
    pub obstructions: Vec<Obstruction>,
    /// Whether obstructions could be seen.
    pub watch: Watch,
    /// How alike neighbouring pictures of the run are, −1 to 1, by their median; `None` where none were
    /// neighbours.
    pub likeness: Option<f64>,
    /// Frames a second that visibility was worked out for.
    pub fps: f64,
    /// True where the plan names no speed and [`ASSUMED_FPS`](crate::plan::ASSUMED_FPS) was taken.
    pub fps_assumed: bool,
}

impl PictureTrack {
    /// How well a frame tells its brightness.
    pub(in crate::evidence) fn sight(&self, at: usize) -> Sight {
        self.sight.get(at).copied().unwrap_or_default()
    }

    /// How far the brightness of a frame is from the local trend, EV.
    pub(in crate::evidence) fn unexplained(&self, at: usize) -> Option<f64> {
        self.unexplained_ev.get(at).map(|ev| f64::from(*ev)).filter(|ev| ev.is_finite())
    }

    /// Brightness of a frame, EV.
    pub(in crate::evidence) fn brightness(&self, at: usize) -> Option<f64> {
        self.brightness_ev.get(at).map(|b| f64::from(*b)).filter(|b| !b.is_nan())
    }

    /// True for a picture that shows nothing.
    pub(in crate::evidence) fn is_blank(&self, at: usize) -> bool {
        self.blank.iter().any(|s| s.frames.binary_search(&at).is_ok())
    }

    /// True for a picture before which something stood.
    pub(in crate::evidence) fn is_obstructed(&self, at: usize) -> bool {
        self.obstructions.iter().any(|o| (o.first..=o.last).contains(&at))
    }

    /// True where neighbouring pictures show different things: a camera that flies or is carried, not one
    /// that stands.
    pub fn other_scenes(&self) -> bool {
        self.likeness.is_some_and(|l| l < SAME_SCENE)
    }

    /// How much brighter the last `ends` of those frames are than the first `ends`, EV, by their medians;
    /// `None` where fewer than `fewest` of them tell their brightness.
    pub fn change(&self, frames: &[usize], ends: usize, fewest: usize) -> Option<f64> {
        let seen: Vec<f64> = frames.iter().filter_map(|at| self.brightness(*at)).collect();
        if seen.len() < fewest.max(ends) {
            return None;
        }
        let level = |of: &[f64]| median(of.iter().copied());
        Some(level(seen.get(seen.len() - ends..)?)? - level(seen.get(..ends)?)?)
    }
}
