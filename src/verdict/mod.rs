//! Judgements → the call, what can be used, what would change the call.
//!
//! README.md beside this file tells how it works.

pub mod causes;
mod incidents;
mod reach;
mod remedy;
mod timeline;
mod usable;

pub use crate::schedule::clip::{Patch, patch_words};
pub use causes::{LikelyCause, Strength, Which};
pub use incidents::Incident;
pub use reach::{kept_out, reach};
pub use remedy::remedy;

use crate::finding::Severity;
use crate::units::FrameSpan;

/// The verdict in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Call {
    /// Strike the rig.
    Clear,
    /// Cautions only: look before you strike.
    Look,
    /// A fault stands: leave the rig.
    Hold,
}

impl Call {
    /// The word in `audit.json` and on the terminal.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Look => "look",
            Self::Hold => "hold",
        }
    }
}

/// One reason for the call: a finding that weighs, or an answer that is missing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reason {
    /// Id of the check.
    pub check: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// In words, one sentence.
    pub words: String,
}

/// The longest part of the run that makes a clip, once its patches are made.
#[derive(Clone, Debug, PartialEq)]
pub struct Usable {
    /// From which frame to which.
    pub span: FrameSpan,
    /// How many frames of the run it holds.
    pub frames: u64,
    /// The clip it makes at the plan's fps once it is patched, s; `None` without an fps.
    pub clip_s: Option<f64>,
    /// The holes in it that are patched, in order.
    pub patches: Vec<Patch>,
    /// Slots of it that hold no good frame, as agreed.
    pub agreed: u64,
}

/// What the audit comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The call.
    pub call: Call,
    /// Why, weightiest first.
    pub reasons: Vec<Reason>,
    /// The longest part without a slip, a fault that the clip would show, or a hole that no patch bridges;
    /// `None` where no frame can be used.
    pub usable: Option<Usable>,
    /// What happened, the worst first: every finding that weighs belongs to one of them. Empty where the call
    /// is clear.
    pub incidents: Vec<Incident>,
    /// Likely causes of what was found, surest first.
    pub causes: Vec<LikelyCause>,
    /// What would change the call, one sentence each; empty where it is clear.
    pub would_change: Vec<String>,
    /// The run told in a few lines, in order of time.
    pub timeline: Vec<String>,
}
