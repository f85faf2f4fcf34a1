//! One tree of files against others, by content: is every file of a card in each of its copies?
//!
//! README.md beside this file tells how it works.

mod answer;
mod candidates;
mod decodes;
mod file_id;
mod found;
mod known;
mod overlap;
mod past_cache;
mod read;
mod seen;
mod tree;

pub use answer::{Answer, Comparison, InCopy};
pub use file_id::FileId;
pub use found::{Decodes, Difference, Found};
pub use known::Known;
pub use overlap::{Overlap, overlap};
pub use past_cache::{ReadBack, ReadFrom, settle};
pub use read::{Open, Reading, from_disk};
pub use seen::{FileState, Seen, Sha};
pub use tree::{Tree, TreeFile, Unlisted, Version, list};

use candidates::{Candidates, candidates};

/// A comparison that is ready to read.
#[derive(Debug)]
pub struct Work {
    trees: Vec<Tree>,
    candidates: Candidates,
}

impl Work {
    /// Of a card and its copies, the card first.
    pub fn of(trees: Vec<Tree>) -> Self {
        let candidates = candidates(&trees);
        Self { trees, candidates }
    }

    /// How much there is to read, bytes.
    pub fn bytes(&self) -> u64 {
        let length = |t: &candidates::Task| Some(self.trees.get(t.tree)?.files.get(t.file)?.version.bytes);
        self.candidates.tasks.iter().filter_map(length).fold(0, u64::saturating_add)
    }

    /// Reads what could be equal, and tells what became of every file. What cannot be read is in the answer.
    pub fn carry_out(self, known: &Known, how: &Reading<'_>) -> Comparison {
        let states = read::read_all(&self.trees, &self.candidates.tasks, known, how);
        let mut told = Comparison::of(self.trees, &self.candidates, &states);
        decodes::look(&mut told, how.stop);
        told
    }
}
