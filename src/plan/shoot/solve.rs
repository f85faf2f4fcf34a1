//! A shoot worked out, or why there is none.

use super::absurd::absurd;
use super::attempt::attempt;
use super::clash::clashes;
use super::model::{Clash, Key, Known, Shoot, Unsolved};
use crate::plan::dials;

/// Works a shoot out.
///
/// # Errors
/// What nobody means, what lacks, or what contradicts itself.
pub fn solve(known: &Known) -> Result<Shoot, Unsolved> {
    let absurd = absurd(known);
    if !absurd.is_empty() {
        return Err(Unsolved::Absurd(absurd));
    }
    let odd = dials::conflicts(&known.plan);
    if !odd.is_empty() {
        let clash = |words| Clash { keys: vec![Key::Wait], words, remedies: Vec::new() };
        return Err(Unsolved::Over(odd.into_iter().map(clash).collect()));
    }
    let found = clashes(known);
    if !found.is_empty() {
        return Err(Unsolved::Over(found));
    }
    attempt(known).map_err(Unsolved::Under)
}
