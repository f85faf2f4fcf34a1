//! What the frames say together. Every position is one in capture order, from 0.
//!
//! README.md beside this file tells how it works.

mod cameras;
mod copies;
pub mod exposure;
mod gather;
pub mod movement;
mod names;
pub mod picture;
pub mod slots;
pub mod timing;

pub use cameras::{ByCamera, by_camera};
pub use gather::{AFTER_LAST, BEFORE_FIRST, gather};

pub(crate) use crate::frames::natural_names;
pub use crate::frames::{
    Camera, Card, CardFile, Cell, Damage, FileKind, FileNumber, Folder, Frames, Look, NotSeen, Row, Shot,
    Stamp, StampSource, Trouble,
};
use crate::units::FrameSpan;

/// What a frame is to the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum FrameState {
    /// A frame of the run, in its slot.
    #[default]
    Frame,
    /// One more than the slots ask for (a double trigger, a copy).
    Surplus,
    /// A frame of the run whose file is damaged.
    Damaged,
    /// Not part of the run: a test shot, another job, another camera.
    Outside,
}

impl FrameState {
    /// The word in `frames.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Frame => "frame",
            Self::Surplus => "surplus",
            Self::Damaged => "damaged",
            Self::Outside => "outside",
        }
    }
}

/// Frames that are not part of the run, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outside {
    /// Which.
    pub span: FrameSpan,
    /// Why, in words ("shot before the run, off its grid").
    pub why: String,
}

/// All evidence of one audit.
#[derive(Clone, Debug)]
pub struct Evidence {
    /// The frames, in capture order.
    pub frames: Frames,
    /// What each frame is to the run; as long as the frames.
    pub states: Vec<FrameState>,
    /// Positions of frames whose bytes repeat another frame's: (the copy, the frame it repeats), by copy.
    pub copies: Vec<(usize, usize)>,
    /// What lies outside the run, in capture order.
    pub outside: Vec<Outside>,
    /// Stamps: order, cadence, stretches, slots, holes.
    pub timing: timing::Timing,
    /// Settings: exact exposure of each frame.
    pub exposure: exposure::ExposureTrack,
    /// How the pictures move; `None` where they were not compared.
    pub movement: Option<movement::MovementTrack>,
    /// Pictures: brightness, flicker, sharpness; empty where they were not read.
    pub pictures: picture::PictureTrack,
}

impl Evidence {
    /// Positions of the frames of the run that stand in a slot (state frame or damaged), in capture order.
    pub fn in_run(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.states.len()).filter(|&at| self.stands(at))
    }

    /// True for a frame of the run that stands in a slot.
    pub fn stands(&self, at: usize) -> bool {
        matches!(self.states[at], FrameState::Frame | FrameState::Damaged)
    }

    /// The first and the last stamp of the run, in capture order; `None` where no frame of it has one.
    pub fn ends(&self) -> Option<(Stamp, Stamp)> {
        let mut stamps = self.in_run().filter_map(|at| self.stamp(at));
        let first = stamps.next()?;
        Some((first, stamps.last().unwrap_or(first)))
    }

    /// By how much the camera's clock was set within the run, s, all changes together: no time of the run.
    pub fn clock_set_s(&self) -> f64 {
        let set = self.timing.joins.iter().map(|join| match join.kind {
            timing::JoinKind::ClockStep { step_s, .. } => step_s,
            _ => 0.0,
        });
        set.sum()
    }

    /// How long the run lasted from its first stamp to its last, s; `None` without a stamp.
    pub fn lasted_s(&self) -> Option<f64> {
        let (first, last) = self.ends()?;
        Some(last.at.seconds_since(first.at) - self.clock_set_s())
    }

    /// Frames at the ends of the run, beyond a hole or a stop, that may be shots beside it; with the frame on
    /// the hole's other side.
    pub fn perhaps_beside(&self) -> Vec<FrameSpan> {
        let (first, last) = (self.in_run().next(), self.in_run().last());
        let (Some(first), Some(last)) = (first, last) else { return Vec::new() };
        let joins =
            self.timing.joins.iter().filter(|j| j.shots_beyond.is_some()).map(|j| (j.before, j.after));
        let holes =
            self.timing.holes.iter().filter(|h| h.shots_beyond.is_some()).map(|h| (h.before, h.after));
        joins
            .chain(holes)
            .map(|(before, after)| match after - first <= last.saturating_sub(before) {
                true => FrameSpan { first, last: after },
                false => FrameSpan { first: before, last },
            })
            .collect()
    }

    /// How often the file numbers of neighbouring frames of the run advance by other than usual; 0 where
    /// numbers are no evidence.
    pub fn gaps_in_numbers(&self) -> usize {
        let Some(usual) = self.timing.number_advance else { return 0 };
        let run: Vec<usize> = self.in_run().collect();
        run.windows(2)
            .filter(|w| timing::numbers::between(&self.frames, w[0], w[1]).is_some_and(|n| n != usual))
            .count()
    }

    /// How many frames are in that state.
    pub fn count(&self, state: FrameState) -> u64 {
        self.states.iter().filter(|s| **s == state).count() as u64
    }

    /// The stamp of a frame, where it is known.
    pub fn stamp(&self, at: usize) -> Option<Stamp> {
        self.frames.rows[at].stamp.known()
    }

    /// The exposure time of a frame, s, on the exact series; `None` where it is not known.
    pub fn exposure_s(&self, at: usize) -> Option<f64> {
        self.exposure.settings.get(at).map(|settings| settings.time_s).filter(|s| s.is_finite())
    }

    /// The middle exposure time of the frames of the run from `first` to `last`, s; `None` where none tells it.
    pub fn middle_exposure_s(&self, first: usize, last: usize) -> Option<f64> {
        let run = self.in_run().skip_while(|at| *at < first).take_while(|at| *at <= last);
        let mut times: Vec<f64> = run.filter_map(|at| self.exposure_s(at)).collect();
        let middle = times.len() / 2;
        (middle < times.len()).then(|| *times.select_nth_unstable_by(middle, f64::total_cmp).1)
    }

    /// True where a frame bears the name that a plan gives: its path below FRAMES or the file's own name, in
    /// large letters or small.
    pub fn bears(&self, at: usize, name: &str) -> bool {
        names::bears(&self.frames, at, name)
    }

    /// The name of a frame below FRAMES, fit to show.
    pub fn name(&self, at: usize) -> String {
        self.frames.shown_name(at)
    }
}
