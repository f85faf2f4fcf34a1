//! A shoot worked out, or why there is none.

use super::attempt::attempt;
use super::clash::clashes;
use super::model::{Known, Shoot, Unsolved};

/// Works a shoot out.
///
/// # Errors
/// What lacks, or what contradicts itself.
pub fn solve(known: &Known) -> Result<Shoot, Unsolved> {
    let found = clashes(known);
    if !found.is_empty() {
        return Err(Unsolved::Over(found));
    }
    attempt(known).map_err(Unsolved::Under)
}
