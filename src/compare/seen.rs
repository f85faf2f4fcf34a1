//! What is known of a file's content once it was its turn.

use super::past_cache::ReadFrom;

/// SHA-256 (FIPS 180-4).
pub type Sha = [u8; 32];

/// A file that was read whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// Digest of the whole file.
    pub digest: Sha,
    /// Digests of its beginnings, by their length in bytes.
    pub marks: Vec<(u64, Sha)>,
    /// Where its bytes came from.
    pub from: ReadFrom,
    /// True where an earlier, interrupted run read it.
    pub earlier: bool,
}

/// What is known of a file's content.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum FileState {
    /// Its length alone answers the question; it was not read.
    #[default]
    NotNeeded,
    /// The reading was stopped before its turn came.
    NotReached,
    /// It was read.
    Seen(Seen),
    /// It could not be read; why, in words.
    Failed(String),
}

impl FileState {
    /// What was seen of it, where it was read.
    pub fn seen(&self) -> Option<&Seen> {
        if let Self::Seen(seen) = self { Some(seen) } else { None }
    }
}
