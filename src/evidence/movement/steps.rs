//! From moves between neighbouring pictures to one move a slot, tile by tile.

use crate::evidence::timing::Timing;
use crate::frames::Frames;
use crate::frames::shift::{Moved, TILES};
use crate::stats::median;

/// A tile is right where its shift leaves at most this share of its contrast over, or a few times what it usually does.
const WELL: f64 = 0.05;
const USUAL: f64 = 6.0;
const NEVER: f64 = 0.4;

/// The move from one frame of the run to the next.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Position of the earlier frame in capture order.
    pub before: usize,
    /// Position of the later one.
    pub after: usize,
    /// Across and down, px, for each tile; not finite where it is not known.
    pub tiles: Vec<(f64, f64)>,
}

impl Step {
    fn unknown(before: usize, after: usize) -> Self {
        Self { before, after, tiles: vec![(f64::NAN, f64::NAN); TILES] }
    }
}

/// The steps of the run in order. Where a slot is missing, or a picture, the move is not known: nobody saw how often the carriage
/// was told to go. Several exposures in one slot count as one frame.
pub fn steps(frames: &Frames, timing: &Timing, run: &[usize], moves: &[Moved]) -> Vec<Step> {
    let neighbours: Vec<&Moved> = moves.iter().filter(|m| m.lag == 1).collect();
    let usual = usual(&neighbours);
    let mut firsts: Vec<usize> = Vec::with_capacity(run.len());
    for &at in run {
        let slot = timing.slot(at);
        let same = firsts.last().is_some_and(|last| slot.is_some() && timing.slot(*last) == slot);
        if !same {
            firsts.push(at);
        }
    }
    debug_assert!(firsts.len() <= frames.len());
    let mut next = neighbours.iter().copied().peekable();
    let mut steps = Vec::with_capacity(firsts.len().saturating_sub(1));
    for pair in firsts.windows(2) {
        let (before, after) = (pair[0], pair[1]);
        let neighbours_in_time = match (timing.slot(before), timing.slot(after)) {
            (Some(a), Some(b)) => b == a + 1,
            _ => true,
        };
        while next.next_if(|m| (m.after as usize) <= before).is_some() {}
        let mut sum = vec![(0.0, 0.0); TILES];
        let mut at = before;
        while let Some(moved) = next.next_if(|m| (m.after as usize) <= after) {
            if moved.before as usize != at {
                break;
            }
            at = moved.after as usize;
            for ((sum, tile), usual) in sum.iter_mut().zip(&moved.tiles).zip(&usual) {
                let unlike = f64::from(tile.unlike);
                let right = tile.is_known() && unlike <= WELL.max(USUAL * usual).min(NEVER);
                let (x, y) =
                    if right { (f64::from(tile.by.x), f64::from(tile.by.y)) } else { (f64::NAN, f64::NAN) };
                *sum = (sum.0 + x, sum.1 + y);
            }
        }
        let whole = at == after && neighbours_in_time;
        steps.push(if whole { Step { before, after, tiles: sum } } else { Step::unknown(before, after) });
    }
    steps
}

/// What each tile usually leaves over.
fn usual(moves: &[&Moved]) -> Vec<f64> {
    let of = |tile: usize| {
        let all = moves.iter().filter_map(|m| m.tiles.get(tile)).filter(|t| t.is_known());
        median(all.map(|t| f64::from(t.unlike))).unwrap_or(1.0)
    };
    (0..TILES).map(of).collect()
}
