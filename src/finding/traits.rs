//! What a check's findings mean to those who need not know what it asks: the clip, the call, the strip, the
//! course of the run, the patch list and the client's table.

use super::CauseCode;

/// What a fault of the check does to a clip that runs across it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClipEffect {
    /// Nothing that a viewer would see.
    Nothing,
    /// Slots without a frame; with what the timing tells, they part it.
    Holes,
    /// Frames that cannot be shown; likewise.
    Damage,
    /// The timer stood; likewise.
    Pauses,
    /// Another interval than the planned one; likewise.
    Rates,
    /// It shows between two frames: a clip cannot run across them.
    Jolts,
    /// It spoils the frames that it marks: a clip goes without them.
    Spoils,
    /// It parts the clip where what it marks begins and ends: a carriage that turned or slipped. Either part
    /// can be used.
    Parts,
}

/// Whether a clear call needs the check's answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needed {
    /// It does not.
    No,
    /// Without one the call is at best `look`: what it would have seen can cost the sequence.
    Yes {
        /// What would let it answer, a sentence after a blank; empty where nothing would.
        to_answer: &'static str,
        /// True where that helps only with frames that have stamps.
        of_stamped: bool,
    },
}

/// What a client asks for, and a check speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quality {
    /// The interval that was held.
    Interval,
    /// Every frame that was due.
    Frames,
    /// The length of the run.
    Run,
    /// The settings that were asked for.
    Exposure,
    /// The length of the clip.
    Clip,
    /// Brightness from frame to frame.
    Brightness,
    /// What stands before the lens.
    View,
    /// Focus.
    Sharpness,
    /// The movement of the camera.
    Movement,
    /// Flashes that can harm who looks at them.
    Flashes,
}

/// What a check is about: findings about different things that begin at one frame are different accidents.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum About {
    /// Exposure, brightness, and what a picture shows.
    Light,
    /// How the camera stands and moves.
    Stand,
    /// Anything else.
    Others,
}

/// What to do about findings of one cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ByCause {
    /// The cause.
    pub cause: CauseCode,
    /// Its name before a colon, as in `File lost`.
    pub name: &'static str,
    /// What to do then, a sentence that begins with a small letter.
    pub remedy: &'static str,
}

/// All of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Traits {
    /// What it is about.
    pub about: About,
    /// What its faults do to a clip.
    pub in_the_clip: ClipEffect,
    /// Whether a clear call needs its answer.
    pub needed: Needed,
    /// True where the strip shows what it is about in a lane of its own kind.
    pub own_lane: bool,
    /// True where the course of the run tells what it finds.
    pub in_the_course: bool,
    /// True where single frames that it marks can be patched.
    pub patched: bool,
    /// The quality that it speaks of, where a client asks for one.
    pub quality: Option<Quality>,
    /// What to do about findings of some causes, before what is to be done about any.
    pub by_cause: &'static [ByCause],
}

impl Traits {
    /// A check whose findings are told, and no more.
    pub const PLAIN: Self = Self {
        about: About::Others,
        in_the_clip: ClipEffect::Nothing,
        needed: Needed::No,
        own_lane: false,
        in_the_course: false,
        patched: false,
        quality: None,
        by_cause: &[],
    };

    /// True where what it finds follows from something else that happened: the run or the clip is too short.
    pub const fn follows(&self) -> bool {
        matches!(self.quality, Some(Quality::Clip | Quality::Run))
    }
}
