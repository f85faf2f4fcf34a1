//! The outer object of schema 1: what is of one audit, or of all cameras.

use super::v1::{
    Cadence, Camera, Counts, Each, Finding, Hole, Join, Judgement, Movement, Outside, PassedOver, Plan,
    Stretch, Together, Tool, Trouble, Verdict,
};
use schemars::JsonSchema;
use serde::Serialize;

/// The number of the schema that is written.
pub const SCHEMA: u32 = 1;

/// The finished record of one audit.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Record<'a> {
    /// Number of this schema: 1.
    pub schema: u32,
    /// What wrote the record.
    pub tool: Tool,
    /// Title: the plan's name, else that of the folder.
    pub name: String,
    /// False where a file could not be read or a folder not be walked (see `trouble`).
    pub complete: bool,
    /// What the pictures were read for: `none`, `thumb` or `full`.
    pub pictures: String,
    /// Names of the folders or files given as FRAMES; a `root` elsewhere is an index into these.
    pub roots: Vec<Option<String>>,
    /// The plan as asked.
    pub plan: Plan,
    /// Where the plan came from, in words.
    pub plan_source: String,
    /// What it comes to.
    pub verdict: Verdict,
    /// How many of what.
    pub counts: Counts,
    /// The timing law: of the longest stretch, but for what is said of the run. What tells of the grid
    /// (interval, law, bounds) is null where no grid holds most of the frames.
    pub cadence: Cadence,
    /// Longest parts of the run on one unbroken grid of slots, in order.
    pub stretches: Vec<Stretch>,
    /// What joins neighbouring stretches: one fewer than they are.
    pub joins: Vec<Join>,
    /// How the pictures move from frame to frame; null where they were not followed (`--movement`). A row a
    /// frame stands in `frames.csv`.
    pub movement: Option<Movement>,
    /// Empty slots, in order.
    pub holes: Each<'a, Hole>,
    /// Frames that are not part of the run, in capture order.
    pub outside: Each<'a, Outside>,
    /// Every finding, weightiest first.
    pub findings: Each<'a, Finding>,
    /// One answer a check, in the checks' order.
    pub judgements: Vec<Judgement>,
    /// Files passed over, by reason.
    pub passed_over: Vec<PassedOver>,
    /// What could not be walked or read.
    pub trouble: Vec<Trouble>,
    /// Where frames are by several cameras, one record each, in order of their first frame; null where they
    /// are by one. With several, what stands above is of all of them: `verdict.call` is the worst, counts are
    /// added up, lists hold those of every camera (slots count from 0 in each), `usable` and what tells of
    /// one grid in `cadence` are null, and a check answers as at its worst camera.
    pub cameras: Option<Each<'a, Camera<'a>>>,
    /// What several cameras say together; null where there is one.
    pub together: Option<Together>,
}
