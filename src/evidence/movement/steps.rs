//! From moves between pictures to one move a slot, tile by tile.
//!
//! Each tile's places are those that agree best with all its measured moves, over one picture and over
//! several: the normal equations of that least-squares problem are banded, since no move reaches further than
//! the longest lag. Errors of single comparisons then do not pile up along the run.

use crate::evidence::timing::Timing;
use crate::frames::shift::{LAGS, Moved, TILES, TileShift};
use crate::stats::median;

/// A tile is right where its shift leaves at most this share of its contrast over, or a few times what it
/// usually does.
const WELL: f64 = 0.05;
const USUAL: f64 = 6.0;
const NEVER: f64 = 0.4;
/// Weight of the prior that a tile stays where it is, against one comparison: it only divides up what no
/// comparison tells.
const REST: f64 = 1e-4;
/// A longer move lies at most this far from the sum of the short ones, px: so much, and so much more for each
/// picture of its lag, by which what moves by itself in the tile drags a short one.
const BORNE_OUT: (f64, f64) = (0.5, 0.06);
/// Farthest that a move reaches, in pictures, and so in frames.
const REACH: usize = LAGS[LAGS.len() - 1];

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

/// A move between two pictures of the list.
struct Edge<'a> {
    from: usize,
    to: usize,
    moved: &'a Moved,
}

/// The steps of the run in order. Where a slot is missing, or a picture, the move is not known: nobody saw
/// how often the carriage was told to go. Several exposures in one slot count as one frame.
pub(crate) fn steps(timing: &Timing, run: &[usize], moves: &[Moved]) -> Vec<Step> {
    let mut firsts: Vec<usize> = Vec::with_capacity(run.len());
    for &at in run {
        let slot = timing.standing.slot(at);
        let same = firsts.last().is_some_and(|last| slot.is_some() && timing.standing.slot(*last) == slot);
        if !same {
            firsts.push(at);
        }
    }
    let mut steps: Vec<Step> = firsts
        .windows(2)
        .map(|w| Step { before: w[0], after: w[1], tiles: Vec::with_capacity(TILES) })
        .collect();
    let mut pictures: Vec<usize> = moves.iter().flat_map(|m| [m.before as usize, m.after as usize]).collect();
    pictures.sort_unstable();
    pictures.dedup();
    let place = |at: usize| pictures.binary_search(&at).ok();
    let edges: Vec<Edge<'_>> = moves
        .iter()
        .filter_map(|m| {
            let (from, to) = (place(m.before as usize)?, place(m.after as usize)?);
            (from < to && to - from <= REACH).then_some(Edge { from, to, moved: m })
        })
        .collect();
    let usual = usual(&edges);
    for (tile, usual) in usual.iter().enumerate() {
        let most = WELL.max(USUAL * usual).min(NEVER);
        let right = |t: &TileShift| t.is_known() && f64::from(t.unlike) <= most;
        let places = places(&edges, pictures.len(), tile, right);
        for step in &mut steps {
            let slots = timing.standing.slot(step.before).zip(timing.standing.slot(step.after));
            let next = slots.is_none_or(|(a, b)| b == a + 1);
            let ends = place(step.before).zip(place(step.after)).filter(|_| next);
            let by = ends.and_then(|(a, b)| places.step(a, b));
            step.tiles.push(by.unwrap_or((f64::NAN, f64::NAN)));
        }
    }
    steps
}

/// What each tile usually leaves over between neighbours.
fn usual(edges: &[Edge<'_>]) -> Vec<f64> {
    let of = |tile: usize| {
        let near = edges.iter().filter(|e| e.moved.lag == 1).filter_map(|e| e.moved.tiles.get(tile));
        median(near.filter(|t| t.is_known()).map(|t| f64::from(t.unlike))).unwrap_or(1.0)
    };
    (0..TILES).map(of).collect()
}

/// The places of one tile.
struct Places {
    x: Vec<f64>,
    y: Vec<f64>,
    /// True where the move to this picture from the one before was seen.
    seen: Vec<bool>,
}

impl Places {
    /// The move from one picture of the list to a later one, where each move between was seen.
    fn step(&self, from: usize, to: usize) -> Option<(f64, f64)> {
        let seen = self.seen.get(from + 1..=to)?.iter().all(|s| *s);
        seen.then(|| (self.x[to] - self.x[from], self.y[to] - self.y[from]))
    }
}

/// The places that agree best with the moves of one tile.
fn places(edges: &[Edge<'_>], pictures: usize, tile: usize, right: impl Fn(&TileShift) -> bool) -> Places {
    // Row i of the band holds the couplings of picture i with those up to REACH before it; the last is its
    // own.
    let mut band = vec![[0.0_f64; REACH + 1]; pictures];
    let (mut x, mut y) = (vec![0.0; pictures], vec![0.0; pictures]);
    let mut seen = vec![false; pictures];
    let mut couple = |from: usize, to: usize, weight: f64| {
        band[from][REACH] += weight;
        band[to][REACH] += weight;
        band[to][REACH - (to - from)] -= weight;
    };
    for i in 1..pictures {
        couple(i - 1, i, REST);
    }
    // Moves between neighbours added up, and how many of them are not known.
    let (mut sums, mut unknown) = (vec![(0.0_f64, 0.0_f64); pictures], vec![1_usize; pictures]);
    for edge in edges.iter().filter(|e| e.to - e.from == 1) {
        if let Some(shift) = edge.moved.tiles.get(tile).filter(|t| right(t)) {
            (sums[edge.to], unknown[edge.to]) = ((f64::from(shift.by.x), f64::from(shift.by.y)), 0);
        }
    }
    for i in 1..pictures {
        sums[i] = (sums[i - 1].0 + sums[i].0, sums[i - 1].1 + sums[i].1);
        unknown[i] += unknown[i - 1];
    }
    for Edge { from, to, moved } in edges {
        let Some(shift) = moved.tiles.get(tile).filter(|t| right(t)) else { continue };
        // Over a longer lag a tile may have left the picture, or look like another: then it is not what its
        // short moves add up to.
        if to - from > 1 {
            let short = (sums[*to].0 - sums[*from].0, sums[*to].1 - sums[*from].1);
            let off = (f64::from(shift.by.x) - short.0).hypot(f64::from(shift.by.y) - short.1);
            if unknown[*to] > unknown[*from] || off > BORNE_OUT.0 + BORNE_OUT.1 * (to - from) as f64 {
                continue;
            }
        }
        couple(*from, *to, 1.0);
        let (by_x, by_y) = (f64::from(shift.by.x), f64::from(shift.by.y));
        x[*from] -= by_x;
        x[*to] += by_x;
        y[*from] -= by_y;
        y[*to] += by_y;
        seen[*to] |= to - from == 1;
    }
    // One place is free: the first stays at nought.
    if let Some(first) = band.first_mut() {
        first[REACH] += 1.0;
    }
    solve(&mut band, &mut [&mut x, &mut y]);
    Places { x, y, seen }
}

/// Solves a banded symmetric positive system in place (Cholesky), for each right-hand side.
fn solve(band: &mut [[f64; REACH + 1]], sides: &mut [&mut Vec<f64>]) {
    let n = band.len();
    for i in 0..n {
        for j in i.saturating_sub(REACH)..=i {
            let shared = i.saturating_sub(REACH).max(j.saturating_sub(REACH));
            let mut sum = band[i][REACH - (i - j)];
            for k in shared..j {
                sum -= band[i][REACH - (i - k)] * band[j][REACH - (j - k)];
            }
            band[i][REACH - (i - j)] = if i == j { sum.max(1e-12).sqrt() } else { sum / band[j][REACH] };
        }
    }
    for side in sides {
        for i in 0..n {
            let known: f64 = (i.saturating_sub(REACH)..i).map(|k| band[i][REACH - (i - k)] * side[k]).sum();
            side[i] = (side[i] - known) / band[i][REACH];
        }
        for i in (0..n).rev() {
            let known: f64 =
                (i + 1..(i + REACH + 1).min(n)).map(|k| band[k][REACH - (k - i)] * side[k]).sum();
            side[i] = (side[i] - known) / band[i][REACH];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::shift::Shift;

    fn moved(before: u32, after: u32, lag: usize, x: f32) -> Moved {
        let tile = TileShift { by: Shift { x, y: -2.0 * x }, unlike: 0.01 };
        Moved { before, after, lag, width: 160, tiles: vec![tile; TILES] }
    }

    /// With moves that agree, the places are theirs; one that is wrong by itself is outvoted by the longer
    /// ones.
    #[test]
    fn places_agree_with_all_moves() {
        let mut moves = Vec::new();
        for to in 1..60_u32 {
            for lag in [1_u32, 4, 16].into_iter().filter(|l| *l <= to) {
                let wrong = if lag == 1 && to == 30 { 0.15 } else { 0.0 };
                moves.push(moved(to - lag, to, lag as usize, 0.25 * lag as f32 + wrong));
            }
        }
        let edges: Vec<Edge<'_>> =
            moves.iter().map(|m| Edge { from: m.before as usize, to: m.after as usize, moved: m }).collect();
        let places = places(&edges, 60, 5, |_| true);
        let (x, y) = places.step(29, 30).expect("seen");
        assert!((x - 0.25).abs() < 0.12 && (y + 0.5).abs() < 0.24, "{x} {y}");
        let (x, y) = places.step(40, 41).expect("seen");
        assert!((x - 0.25).abs() < 0.01 && (y + 0.5).abs() < 0.02, "{x} {y}");
        assert!((places.x[59] - places.x[0] - 0.25 * 59.0).abs() < 0.1);
    }

    #[test]
    fn a_move_that_nobody_saw_is_not_known() {
        let moves: Vec<Moved> = (1..20).filter(|to| *to != 9).map(|to| moved(to - 1, to, 1, 0.25)).collect();
        let edges: Vec<Edge<'_>> =
            moves.iter().map(|m| Edge { from: m.before as usize, to: m.after as usize, moved: m }).collect();
        let places = places(&edges, 20, 0, |_| true);
        assert_eq!(places.step(8, 9), None);
        assert_eq!(places.step(7, 10), None);
        assert!(places.step(9, 10).is_some_and(|s| (s.0 - 0.25).abs() < 1e-3));
    }
}
