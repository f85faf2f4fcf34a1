//! Every sequence on a card, a disk or a shelf of shoots: frames read once, parted, and each part audited by
//! itself. What was gathered to part them is what the audit is made of.
//!
//! What is one sequence is asked of the same evidence that an audit chooses its run by; no second reading of
//! the stamps is made here.
//!
//! README.md beside this file tells how it works.

mod cuts;
mod groups;
mod line;
mod parts;

pub use line::{Ends, SequenceLine, Sets};
pub use parts::{Loose, Part, parts};

use crate::audit::{Audit, Setting, concluded};
use crate::frames::{PassedOver, Pictures, Trouble};
use crate::plan::Plan;

/// Fewer frames than this make no sequence. Common practice, no source: ten frames are less than half a
/// second of a clip.
pub const FEW: usize = 10;

/// A plan that was found with some of the frames.
#[derive(Clone, Debug)]
pub struct FoundPlan {
    /// What was meant.
    pub plan: Plan,
    /// Where it came from, in words that follow the count of frames.
    pub words: String,
}

/// What a survey comes to.
#[derive(Clone, Debug, Default)]
pub struct Survey {
    /// Names of the folders that were surveyed, fit to show.
    pub roots: Vec<String>,
    /// The sequences, by the time they begin; those without a stamp last.
    pub sequences: Vec<SequenceLine>,
    /// Frames that are in no sequence.
    pub loose: Vec<Loose>,
    /// Files that are no frames, by reason.
    pub passed_over: Vec<(PassedOver, u64)>,
    /// What could not be walked or read.
    pub trouble: Vec<Trouble>,
}

impl Survey {
    /// True where every file was read and every folder walked.
    pub fn complete(&self) -> bool {
        self.trouble.is_empty()
    }

    /// Frames in the sequences, and frames in none.
    pub fn frames(&self) -> (u64, u64) {
        (self.sequences.iter().map(|s| s.frames).sum(), self.loose.iter().map(|l| l.frames).sum())
    }
}

/// Audits a part; what it was meant to be is its own plan, or nothing. `pictures` tells how far they were
/// read.
pub fn audit_of(part: Part, plans: &[FoundPlan], name: String, pictures: Pictures) -> Audit {
    let found = part.plan.and_then(|at| plans.get(at));
    let setting = Setting {
        name,
        plan: found.map(|f| f.plan.clone()).unwrap_or_default(),
        plan_source: found
            .map_or_else(|| "no plan, compared with its own interval".to_owned(), |f| f.words.clone()),
        pictures,
    };
    concluded(setting, part.evidence)
}
