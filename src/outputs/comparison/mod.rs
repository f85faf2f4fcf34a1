//! What `compare` prints: for people, a screen whose first line is the answer, and for scripts.

mod json;
mod text;

pub use json::{schema, write};
pub use text::{first_line, told};

use crate::compare::{Tree, TreeFile};
use crate::frames::push_lossless;
use std::path::Path;

/// A path below a root with `/` between its parts, bytes that are not UTF-8 as `\xNN`, so that no two files
/// share a text.
fn text_of(path: &Path) -> String {
    let mut text = String::new();
    for part in path {
        if !text.is_empty() {
            text.push('/');
        }
        push_lossless(&mut text, part);
    }
    text
}

fn file(tree: &Tree, at: usize) -> Option<&TreeFile> {
    tree.files.get(at)
}

/// How much of the card's file the copy holds, whole percent rounded down: 100 would be all of it.
fn percent(card: &TreeFile, copy: &TreeFile) -> u64 {
    let share = u128::from(copy.version.bytes) * 100 / u128::from(card.version.bytes.max(1));
    u64::try_from(share).unwrap_or(u64::MAX)
}
