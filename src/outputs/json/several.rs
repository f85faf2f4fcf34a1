//! What schema 1 says of several cameras.

use super::v1::{Cadence, Counts, Each, Finding, Hole, Join, Judgement, Movement, Outside, Stretch, Verdict};
use schemars::JsonSchema;
use serde::Serialize;

/// One camera of several: the same record, of its frames alone.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Camera<'a> {
    /// `A` for the first camera, `B` for the second.
    pub letter: String,
    /// Make as most of its files have it; null where none names it.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number of the body.
    pub serial: Option<String>,
    /// Index of the root that its first file is below.
    pub root: u16,
    /// The deepest folder below that root which holds its files; empty for the root itself.
    pub folder: String,
    /// False where a file of it could not be read.
    pub complete: bool,
    /// What its audit comes to.
    pub verdict: Verdict,
    /// How many of what.
    pub counts: Counts,
    /// Its timing law.
    pub cadence: Cadence,
    /// Longest parts of its run on one unbroken grid of slots, in order.
    pub stretches: Vec<Stretch>,
    /// What joins neighbouring stretches: one fewer than they are.
    pub joins: Vec<Join>,
    /// How its pictures move; null where they were not followed.
    pub movement: Option<Movement>,
    /// Empty slots, in order.
    pub holes: Each<'a, Hole>,
    /// Its frames that are not part of the run, and frames of other cameras that are no run.
    pub outside: Each<'a, Outside>,
    /// Its findings, weightiest first.
    pub findings: Each<'a, Finding>,
    /// One answer a check, in the checks' order.
    pub judgements: Vec<Judgement>,
}

/// What several cameras say together.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Together {
    /// The clock of each camera but the first, against the first one's.
    pub clocks: Vec<Clock>,
    /// Missing slots of all cameras, each told once, in order of time.
    pub holes: Vec<HoleAcross>,
    /// Stops of all cameras' timers, each told once, in order of time.
    pub stops: Vec<StopAcross>,
}

/// One camera's clock against that of the first.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Clock {
    /// Index of the camera in `cameras`.
    pub camera: u64,
    /// Index of the camera it is compared with: 0.
    pub against: u64,
    /// By how much it is ahead, s (negative: behind), if one controller fired both: the median over matched
    /// frames. Null where the two cannot be compared.
    pub ahead_s: Option<f64>,
    /// How far that may be wrong, s, if the frames are matched rightly.
    pub within_s: Option<f64>,
    /// Its frames that have a frame of the first camera beside them.
    pub matched: u64,
    /// Its frames in the time that both ran.
    pub of: u64,
    /// How sure the matching is: `sure`, `likely` or `possible`; null where there is none.
    pub strength: Option<String>,
    /// The same in a sentence.
    pub words: String,
}

/// Missing slots next to one another that the same cameras lack.
#[derive(Debug, Serialize, JsonSchema)]
pub struct HoleAcross {
    /// When the first was due, on the clock of the first camera in `lacking`.
    pub at: String,
    /// How many.
    pub slots: u64,
    /// The cameras that lack them.
    pub lacking: Vec<Lacking>,
    /// Indices of the cameras that fired then.
    pub fired: Vec<u64>,
    /// `controller` (no camera that ran fired), `camera` (one alone lacks them), `several` (some, not all) or
    /// `unknown`.
    pub whose: String,
    /// True where the file numbers of a camera that lacks them say that it fired: the files are gone.
    pub files_lost: bool,
}

/// A stop of the timer: the gap was longer than the intervals beside it, and the grid came back on another
/// phase or at another interval.
#[derive(Debug, Serialize, JsonSchema)]
pub struct StopAcross {
    /// Stamp of the last frame before it, on the clock of the first camera in `stood`.
    pub at: String,
    /// How long all of them stood, beyond one interval, s.
    pub pause_s: Option<f64>,
    /// The cameras that stood.
    pub stood: Vec<Stood>,
    /// Indices of the cameras that fired meanwhile.
    pub fired: Vec<u64>,
    /// `controller` (every camera that ran stood), `camera` (one alone did), `several` (some, not all) or
    /// `unknown`.
    pub whose: String,
    /// True where another reading of the stamps is about as good and needs no stop.
    pub doubted: bool,
}

/// A camera whose timer stood.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Stood {
    /// Index in `cameras`.
    pub camera: u64,
    /// How long it stood itself, beyond one interval, s.
    pub pause_s: Option<f64>,
}

/// A camera that lacks slots.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Lacking {
    /// Index in `cameras`.
    pub camera: u64,
    /// The first slot, as that camera counts.
    pub slot: i64,
}
