//! Schema 1 of `audit.json`. Keys may be added under this number; none is renamed, removed or given another
//! meaning.
//!
//! A value that is not known is null and never left out. Keys carry units. Paths are below FRAMES, exact,
//! with `/` between their parts and bytes that are not UTF-8 as `\xNN`.

pub use super::each::Each;
pub use super::plan::{
    AcceptedV1 as Accepted, HoursV1 as Hours, PartV1 as Part, PlanV1 as Plan, RangeV1 as Range,
    TableV1 as Table,
};
pub use super::record::{Record, SCHEMA};
pub use super::several::{Camera, Clock, HoleAcross, Lacking, Stood, StopAcross, Together};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// How the pictures move, in short.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Movement {
    /// Which pictures were followed, mostly: `thumbnail`, `preview`, `reduced` or `whole`; null where that is
    /// not known.
    pub source: Option<String>,
    /// Width at which they were compared, px.
    pub picture_width_px: u32,
    /// What the track goes by: `passing` (what passes by as the carriage travels), `standing` (what stands
    /// still), or null where neither was told apart.
    pub shown_by: Option<String>,
    /// Moves from frame to frame.
    pub moves: u64,
    /// Those that were measured.
    pub measured: u64,
    /// Usual move of the picture to the right from frame to frame, % of its width.
    pub shift_x_percent: Option<f64>,
    /// Usual move down, % of its width.
    pub shift_y_percent: Option<f64>,
    /// What the plan's lens, step and distance let expect, % of the width.
    pub expected_percent: Option<f64>,
    /// The measured move that comes nearest to that, over it.
    pub measured_over_expected: Option<f64>,
    /// The smallest slip that would have stood out, % of a step.
    pub finest_slip_percent: Option<f64>,
    /// The smallest knock that would have stood out, % of the width.
    pub finest_knock_percent: Option<f64>,
    /// True where at least a third of what is to be seen stands still.
    pub locked_off: bool,
}

/// What wrote the record.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Tool {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
}

/// What the audit comes to.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Verdict {
    /// `clear` (strike the rig), `look` (cautions only) or `hold` (a fault stands).
    pub call: String,
    /// "timing and settings only" where the pictures were not read; else null.
    pub limited_to: Option<String>,
    /// True where the plan gives a length, so that the end of the run was compared with it; else the end is
    /// not known.
    pub end_known: bool,
    /// Why, weightiest first.
    pub reasons: Vec<Reason>,
    /// The longest usable part as it is; null where no frame can.
    pub usable: Option<Usable>,
    /// What happened in one sentence, and a second one with the part that is good. Of several cameras that of
    /// the worst one, or what they say together where none holds the call by itself.
    pub story: String,
    /// What to do now; null where the call says it.
    pub to_do: Option<String>,
    /// What happened, the worst first. Every finding that weighs belongs to one.
    pub incidents: Vec<Incident>,
    /// Likely causes of what was found, surest first.
    pub causes: Vec<Cause>,
    /// What would change the call, one sentence each.
    pub would_change: Vec<String>,
    /// The run told in a few lines, in order of time.
    pub timeline: Vec<String>,
}

/// One accident, and all that was found of it.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Incident {
    /// Code of its cause; the id of the check where no cause is known.
    pub cause: String,
    /// How sure the cause is: `sure`, `likely` or `possible`; null where none is known.
    pub strength: Option<String>,
    /// `fault`, `caution` or `note`: that of its weightiest finding.
    pub severity: String,
    /// What happened, in one sentence.
    pub sentence: String,
    /// What to do now.
    pub to_do: String,
    /// What was found of it and what follows from that; empty where a check that is needed could not answer.
    pub findings: Vec<FindingOf>,
    /// Codes of other causes that would account for the same.
    pub rivals: Vec<String>,
}

/// A finding, by its check and its place there.
#[derive(Debug, Serialize, JsonSchema)]
pub struct FindingOf {
    /// Id of the check.
    pub check: String,
    /// Its place among the findings of that check, from 0; with several cameras, among its camera's.
    pub nth: u64,
}

/// A likely cause.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Cause {
    /// Its code.
    pub code: String,
    /// How sure it is: `sure`, `likely` or `possible`.
    pub strength: String,
    /// The cause, with the figures that carry it.
    pub words: String,
    /// What to do.
    pub remedy: String,
    /// What would tell it from its rivals; null where it has none.
    pub apart: Option<String>,
}

/// One reason for the call.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Reason {
    /// Id of the check.
    pub check: String,
    /// `fault`, `caution` or `note`.
    pub severity: String,
    /// One sentence.
    pub words: String,
}

/// A part of the run that can be used as it is.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Usable {
    /// Its first frame.
    pub first_file: Option<String>,
    /// Index of the root that `first_file` is below.
    pub first_root: Option<u16>,
    /// Its last frame.
    pub last_file: Option<String>,
    /// Index of the root that `last_file` is below.
    pub last_root: Option<u16>,
    /// Frames of the run that it holds.
    pub frames: u64,
    /// The clip it makes at the plan's fps once it is patched, s.
    pub clip_s: Option<f64>,
    /// Holes in it that are patched in post.
    pub patches: u64,
    /// Slots that the patches fill.
    pub patched_slots: u64,
    /// Slots of it without a good frame that were agreed to.
    pub agreed_slots: u64,
}

/// How many of what. `frames`, `surplus` and `outside` add up to the shots in the folder.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Counts {
    /// Frames of the run, damaged ones and every exposure of a bracket included: the rows of `frames.csv`
    /// whose state is `frame` or `damaged`.
    pub frames: u64,
    /// Slots of the run, missing ones included; null without a cadence.
    pub slots: Option<u64>,
    /// Slots in which no frame stands; null without a cadence.
    pub missing: Option<u64>,
    /// The fewest missing slots that the stamps allow; null where no other reading of them is about as good.
    pub missing_low: Option<u64>,
    /// The most missing slots that the stamps allow; null as `missing_low` is.
    pub missing_high: Option<u64>,
    /// Frames beyond those that the slots ask for.
    pub surplus: u64,
    /// Frames of the run whose file is damaged (counted in `frames` too).
    pub damaged: u64,
    /// Frames that are not part of the run.
    pub outside: u64,
}

/// The timing law: of the longest stretch, but for what is said of the run.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Cadence {
    /// The interval, s: the middle of what the stamps allow.
    pub interval_s: Option<f64>,
    /// The shortest interval that the stamps allow under `timing_error_s`, s.
    pub interval_low_s: Option<f64>,
    /// The longest interval that the stamps allow under `timing_error_s`, s.
    pub interval_high_s: Option<f64>,
    /// The step that the stamps really resolve, s.
    pub stamp_resolution_s: Option<f64>,
    /// What the timer counts from: shutter `open` or `close`; null where the exposures do not tell.
    pub counted_from: Option<String>,
    /// True where the stamps turned out to be written when the shutter closes.
    pub stamped_at_close: Option<bool>,
    /// Exposures in each slot of the run: 1, or the size of a bracket.
    pub exposures_per_slot: u64,
    /// Slots of the run whose bracket has fewer or more exposures; null without a bracket.
    pub incomplete_brackets: Option<u64>,
    /// Seconds of interval for each second of exposure (0 counts from open, 1 from close, 2 with dark
    /// frames).
    pub per_exposure: Option<f64>,
    /// The timing error that the bounds assume, s.
    pub timing_error_s: Option<f64>,
    /// How far the stamps' windows were widened for one line to pass through them, s.
    pub widening_s: Option<f64>,
    /// Shortest interval with no timing error granted, s; null where no line passes through every window.
    pub exact_low_s: Option<f64>,
    /// Longest interval with no timing error granted, s.
    pub exact_high_s: Option<f64>,
    /// The step of the digits that the stamps are written with, s (the coarsest in the run).
    pub written_resolution_s: Option<f64>,
    /// Usual advance of the file numbers per slot of the run; null where they are no evidence.
    pub number_advance: Option<i64>,
    /// What the run's capture order was taken from, in words.
    pub order_from: String,
    /// Frames of the run whose stamp is not known.
    pub unstamped: u64,
    /// Why there is no cadence; null where there is one.
    pub no_grid: Option<String>,
}

/// A part of the run on one unbroken grid.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Stretch {
    /// Its first frame.
    pub first_file: Option<String>,
    /// Index of the root that `first_file` is below.
    pub first_root: Option<u16>,
    /// Its last frame.
    pub last_file: Option<String>,
    /// Index of the root that `last_file` is below.
    pub last_root: Option<u16>,
    /// Frames of it that stand in a slot.
    pub frames: u64,
    /// Slot of its first frame, from 0.
    pub first_slot: i64,
    /// Slot of its last frame.
    pub last_slot: i64,
    /// Its interval, s.
    pub interval_s: Option<f64>,
    /// Shortest interval that its stamps allow, s.
    pub interval_low_s: Option<f64>,
    /// Longest interval that its stamps allow, s.
    pub interval_high_s: Option<f64>,
    /// Moment of its first slot on the camera's clock.
    pub starts_at: String,
}

/// What joins two stretches.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Join {
    /// Last frame of the earlier stretch.
    pub before_file: Option<String>,
    /// Index of the root that `before_file` is below.
    pub before_root: Option<u16>,
    /// First frame of the later stretch.
    pub after_file: Option<String>,
    /// Index of the root that `after_file` is below.
    pub after_root: Option<u16>,
    /// Seconds between the two.
    pub gap_s: Option<f64>,
    /// `slip`, `clock-step`, `rate` or `night` (the hours of rest that the plan names).
    pub kind: String,
    /// The figures of the kind, by name with units.
    pub figures: BTreeMap<String, Option<f64>>,
    /// What it looks like, in words, where that is known.
    pub looks_like: Option<String>,
    /// For a change of rate, the first frame at which it may lie (below `before_root`).
    pub earliest_file: Option<String>,
    /// For a change of rate, the last frame at which it may lie (below `after_root`).
    pub latest_file: Option<String>,
}

/// Empty slots between two frames of the run.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Hole {
    /// The frame before.
    pub before_file: Option<String>,
    /// Index of the root that `before_file` is below.
    pub before_root: Option<u16>,
    /// The frame after.
    pub after_file: Option<String>,
    /// Index of the root that `after_file` is below.
    pub after_root: Option<u16>,
    /// First empty slot, from 0.
    pub slot: i64,
    /// How many.
    pub slots: u64,
    /// Seconds from the frame before to the frame after.
    pub gap_s: Option<f64>,
    /// By how much the file numbers advance across it; null where they are no evidence.
    pub numbers: Option<i64>,
    /// `trigger-missed`, `file-lost` or `unknown`.
    pub cause: String,
    /// Smallest count that the stamps allow, where another reading is about as good.
    pub count_low: Option<u64>,
    /// Largest count that the stamps allow.
    pub count_high: Option<u64>,
}

/// Frames that are not part of the run.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Outside {
    /// The first of them.
    pub first_file: Option<String>,
    /// Index of the root that `first_file` is below.
    pub first_root: Option<u16>,
    /// The last of them.
    pub last_file: Option<String>,
    /// Index of the root that `last_file` is below.
    pub last_root: Option<u16>,
    /// How many.
    pub frames: u64,
    /// Why, in words.
    pub why: String,
}

/// One answer worth telling.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Finding {
    /// Id of the check.
    pub check: String,
    /// `fault`, `caution` or `note`.
    pub severity: String,
    /// One plain sentence with its figures.
    pub message: String,
    /// How many slots or frames it speaks of.
    pub count: u64,
    /// Where it begins. A finding between two frames (a hole, a jump, a slip) names the frame before.
    pub first_file: Option<String>,
    /// Index of the root that `first_file` is below.
    pub first_root: Option<u16>,
    /// Where it ends. A finding between two frames names the frame after.
    pub last_file: Option<String>,
    /// Index of the root that `last_file` is below.
    pub last_root: Option<u16>,
    /// When, on the camera's clock, `YYYY-MM-DDThh:mm:ss` with a fraction where there is one.
    pub at: Option<String>,
    /// Why, as a code.
    pub cause: Option<String>,
    /// Why, in words.
    pub cause_words: Option<String>,
    /// The figures behind the sentence, by name with units. A figure compared with a limit has it under
    /// `NAME_limit`.
    pub evidence: BTreeMap<String, Figure>,
    /// Another reading of the stamps that would change the finding, one sentence.
    pub doubt: Option<String>,
    /// The smallest count that the stamps allow; null without a doubt.
    pub count_low: Option<u64>,
    /// The largest count that the stamps allow; null without a doubt.
    pub count_high: Option<u64>,
    /// The plan's reason for accepting it; null where it is not accepted.
    pub accepted: Option<String>,
}

/// One figure.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Figure {
    /// A whole number.
    Count(i64),
    /// A real number; null where it is not finite.
    Number(Option<f64>),
    /// Words or a name.
    Text(String),
    /// Yes or no.
    Flag(bool),
}

/// A check's answer. `looked_at` and the frames of `set_aside` add up to the folder.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Judgement {
    /// Id of the check.
    pub check: String,
    /// `clear`, `found`, `cannot-judge` or `broke`. Only `clear` counts as clear.
    pub answer: String,
    /// Why it cannot judge, or what broke; else null.
    pub reason: Option<String>,
    /// How many findings it has.
    pub findings: u64,
    /// How many frames it looked at.
    pub looked_at: u64,
    /// How many it set aside, and why.
    pub set_aside: Vec<SetAside>,
    /// Its limits as they were in force.
    pub limits: Vec<Limit>,
}

/// Frames that a check set aside.
#[derive(Debug, Serialize, JsonSchema)]
pub struct SetAside {
    /// How many.
    pub frames: u64,
    /// Why.
    pub why: String,
}

/// A limit in force.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Limit {
    /// Its key.
    pub key: String,
    /// The unit of its levels.
    pub unit: String,
    /// What crosses a level: `at-least`, `above` or `below` it.
    pub direction: String,
    /// The level of a caution; null where it never is one.
    pub caution: Option<f64>,
    /// The level of a fault; null where it never is one.
    pub fault: Option<f64>,
    /// True where the plan changed a level.
    pub from_plan: bool,
    /// Where the default number comes from.
    pub source: String,
}

/// Files passed over for one reason.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PassedOver {
    /// The reason: `resource-fork`, `hidden`, `sidecar`, `video`, `thumbnail`, `housekeeping`, `not-a-file`
    /// or `not-a-picture`.
    pub why: String,
    /// How many.
    pub files: u64,
}

/// A place that could not be walked or read.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Trouble {
    /// Path below FRAMES, fit to show.
    pub path: String,
    /// What went wrong.
    pub what: String,
}
