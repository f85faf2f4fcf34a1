//! Tiles that move alike, and how evenly.

use super::steps::Step;
use crate::frames::shift::{TILES, TILES_ACROSS};
use crate::stats::median;

/// Steps in a block; a tile's pace is taken from its blocks.
const BLOCK: usize = 8;
/// Fewest steps from which a pace is taken.
const FEWEST: usize = 8;
/// From this pace on, px a step, it is taken from single steps, not from blocks.
const FAST: f64 = 2.0;
/// Fewest tiles that make a layer.
const TILES_ALIKE: usize = 3;
/// Slower than this, px a step, a tile is not said to move.
const SLOWEST: f64 = 0.015;
/// Standard errors by which a pace must stand off from rest.
const CERTAIN: f64 = 4.0;
/// Paces that differ by less than this share are alike.
const ALIKE: f64 = 0.10;
/// Tiles below a layer that must move less than this share of its pace for it to be taken for something that
/// drifts by itself.
const SLOWER: f64 = 0.5;
const SLOWER_TILES: usize = 3;
/// Times the usual noise of a layer's tiles past which one is left out.
const NOISY: f64 = 1.7;
/// Spread between a layer's tiles, in steps, past which a step of it is not known (something passes in
/// front): for a layer whose tiles agree sharply, and for others.
const TORN: (f64, f64) = (0.2, 0.4);
/// The first of these for a step that is further than `USUAL` from the usual one, there or back.
const TORN_ODD: f64 = 0.1;
const USUAL: f64 = 0.2;
/// Spread between tiles that stand, over their move, past which they do not share it.
const SHARED: f64 = 0.5;

/// Tiles agree sharply within this share of the spread past which a step is not known.
const SHARPLY: f64 = 0.25;

/// Standard deviation of a normal spread over its median absolute deviation.
pub(crate) const MAD: f64 = 1.4826;

/// Median absolute deviation about the median, as a standard deviation; 0 for none.
pub(crate) fn spread(values: &[f64]) -> f64 {
    let Some(centre) = median(values.iter().copied()) else { return 0.0 };
    MAD * median(values.iter().map(|v| (v - centre).abs())).unwrap_or(0.0)
}

/// How far the tiles of a layer lie apart, as a standard deviation: three quarters of them lie nearer to the
/// middle. Of three tiles none may be elsewhere, of four one: a lorry covers half of a small layer.
fn apart(shares: &[f64]) -> f64 {
    let Some(centre) = median(shares.iter().copied()) else { return 0.0 };
    let mut off: Vec<f64> = shares.iter().map(|s| (s - centre).abs()).collect();
    off.sort_by(f64::total_cmp);
    // 1.15 standard deviations hold three quarters of a normal spread.
    off.get((3 * off.len()).div_ceil(4).saturating_sub(1)).map_or(0.0, |o| o / 1.15)
}

/// One tile over the run.
struct Tile {
    at: usize,
    /// Usual move, px a step.
    pace: (f64, f64),
    /// Standard error of one step, px.
    noise: f64,
    /// Standard error of the pace, px a step.
    error: f64,
}

impl Tile {
    fn speed(&self) -> f64 {
        self.pace.0.hypot(self.pace.1)
    }
}

/// Tiles that move alike: things at one distance, or clouds, or water.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Its tiles, row by row from the top left.
    pub tiles: Vec<usize>,
    /// Usual move, px of the small picture a step, across and down.
    pub pace: (f64, f64),
    /// True where what lies below it in the picture moves much less: clouds over hills, water behind rocks.
    /// As a carriage passes, what is near moves most, and what is near lies low in most pictures.
    pub drifts: bool,
    /// What the layer did at each step, in usual steps: 1 is as usual, 0 stood still, −1 went back; not
    /// finite where it is not known.
    pub moved: Vec<f64>,
    /// Which way most of its tiles went at each step: 1 as usual, −1 back; 0 where they do not say. They may
    /// differ too much for `moved` and yet agree on this.
    pub heading: Vec<i8>,
    /// How far it went across its usual way at each step, px of the small picture; not finite where `moved`
    /// is not.
    pub aside: Vec<f64>,
    /// Steps that its tiles saw and that they leave open: they agree neither on what `moved` would be nor on
    /// the usual way. Something passed in front, or a match is wrong; a slip would look no other.
    pub open: Vec<usize>,
}

impl Layer {
    /// Length of the usual move, px of the small picture.
    pub fn speed(&self) -> f64 {
        self.pace.0.hypot(self.pace.1)
    }

    /// Which way it went, as in `heading`, at a step of which nothing more is known; `None` where more is, or
    /// where there is no such step.
    pub fn hidden_way(&self, step: usize) -> Option<i8> {
        self.heading.get(step).copied().filter(|_| self.moved.get(step).is_some_and(|m| m.is_nan()))
    }
}

/// What stands still in the picture, and how it is shaken.
#[derive(Clone, Debug, PartialEq)]
pub struct Still {
    /// Tiles that stand.
    pub tiles: Vec<usize>,
    /// Their move at each step, px of the small picture, across and down; not finite where it is not known.
    pub moved: Vec<(f64, f64)>,
    /// How far the ways of single tiles over the whole run lie apart, px: what light and shadow that wander
    /// make of tiles that stand.
    pub apart: f64,
}

impl Still {
    /// True where the tiles went that way over the run together, px: a camera that sinks takes all along.
    pub fn together(&self, way: f64) -> bool {
        self.apart <= SHARED * way
    }

    /// The steps whose move is known, with it.
    pub fn seen(&self) -> impl Iterator<Item = (usize, (f64, f64))> + '_ {
        let moves = self.moved.iter().copied().enumerate();
        moves.filter(|(_, (x, y))| x.is_finite() && y.is_finite())
    }
}

/// The layers that move, those of most tiles first, and what stands still.
pub(crate) fn layers(steps: &[Step]) -> (Vec<Layer>, Option<Still>, usize) {
    let tiles: Vec<Tile> = (0..TILES).filter_map(|at| tile(steps, at)).collect();
    let moves = |t: &Tile| t.speed() >= SLOWEST && t.speed() > CERTAIN * t.error;
    let known = tiles.len();
    let all: Vec<(usize, f64, f64)> =
        tiles.iter().map(|t| (t.at / TILES_ACROSS, t.speed(), t.error)).collect();
    let (mut moving, rest): (Vec<Tile>, Vec<Tile>) = tiles.into_iter().partition(|t| moves(t));
    let still: Vec<Tile> = rest.into_iter().filter(|t| t.speed() < 2.0 * SLOWEST).collect();
    let mut layers = Vec::new();
    while !moving.is_empty() {
        let alike = |of: &Tile| -> Vec<usize> {
            let near = |t: &&Tile| {
                let apart = (t.pace.0 - of.pace.0).hypot(t.pace.1 - of.pace.1);
                let rows = (t.at / TILES_ACROSS).abs_diff(of.at / TILES_ACROSS);
                apart <= ALIKE * of.speed() + 2.0 * (t.error + of.error) && rows <= 1
            };
            moving.iter().filter(near).map(|t| t.at).collect()
        };
        let groups = moving.iter().map(|t| (alike(t), t.speed()));
        let Some((group, _)) = groups.reduce(|a, b| if (b.0.len(), b.1) > (a.0.len(), a.1) { b } else { a })
        else {
            break;
        };
        let (taken, left): (Vec<Tile>, Vec<Tile>) = moving.into_iter().partition(|t| group.contains(&t.at));
        moving = left;
        // A tile that is much less certain than the others of its layer would only blur it.
        let usual = median(taken.iter().map(|t| t.noise)).unwrap_or(0.0);
        let clear: Vec<Tile> = taken.into_iter().filter(|t| t.noise <= NOISY * usual).collect();
        if clear.len() >= TILES_ALIKE {
            let layer = layer(steps, &clear);
            let row = layer.tiles[layer.tiles.len() / 2] / TILES_ACROSS;
            let slower = |t: &&(usize, f64, f64)| t.0 > row && t.1 + 2.0 * t.2 < SLOWER * layer.speed();
            let drifts = all.iter().filter(slower).count() >= SLOWER_TILES;
            layers.push(Layer { drifts, ..layer });
        }
    }
    let still = (still.len() >= TILES_ALIKE).then(|| at_rest(steps, &still));
    (layers, still, known)
}

/// Known moves of one tile, in order, with the place of each step.
fn known(steps: &[Step], at: usize) -> Vec<(f64, f64)> {
    let one = |s: &Step| s.tiles.get(at).copied().filter(|t| t.0.is_finite() && t.1.is_finite());
    steps.iter().filter_map(one).collect()
}

fn tile(steps: &[Step], at: usize) -> Option<Tile> {
    let moves = known(steps, at);
    if moves.len() < FEWEST.max(steps.len() / 2) {
        return None;
    }
    let blocks: Vec<(f64, f64)> = moves
        .chunks(BLOCK)
        .filter(|c| c.len() == BLOCK || moves.len() < 2 * BLOCK)
        .map(|c| {
            // The mean: errors of the places within a block cancel, which they do not in a median.
            let (x, y) = c.iter().fold((0.0, 0.0), |sum, m| (sum.0 + m.0, sum.1 + m.1));
            (x / c.len() as f64, y / c.len() as f64)
        })
        .collect();
    let noise = noise(&moves);
    let (by_blocks, blocks) = pace(&blocks, CERTAIN * 1.5 * noise / BLOCK as f64)?;
    // Single fast steps are sure by themselves, and a wrong match in every other block must not slow the tile
    // down.
    let fast = by_blocks.0.hypot(by_blocks.1) >= FAST;
    let pace = if fast { pace(&moves, 0.0)?.0 } else { by_blocks };
    let error = 1.5 * noise / (BLOCK as f64 * (blocks as f64).sqrt());
    Some(Tile { at, pace, noise, error })
}

/// Standard error of one step, px. The error of a picture's place comes into the step to it and, turned
/// round, into the step from it: neighbouring steps differ by up to √3 times the error of one.
fn noise(moves: &[(f64, f64)]) -> f64 {
    let differences = |of: &dyn Fn(&(f64, f64)) -> f64| -> Vec<f64> {
        moves.windows(2).map(|w| of(&w[1]) - of(&w[0])).collect()
    };
    let (x, y) = (spread(&differences(&|m| m.0)), spread(&differences(&|m| m.1)));
    (x.max(y) / 2.5_f64.sqrt()).max(0.01)
}

/// The pace of a tile from those of its blocks, or from its single steps: the median of those that move,
/// where any does by more than `plain`, else of all. Also how many it rests on.
fn pace(blocks: &[(f64, f64)], plain: f64) -> Option<((f64, f64), usize)> {
    let length = |b: &(f64, f64)| b.0.hypot(b.1);
    let mut lengths: Vec<f64> = blocks.iter().map(length).collect();
    lengths.sort_by(f64::total_cmp);
    let fast = *lengths.get(lengths.len() * 4 / 5).or(lengths.last())?;
    let middle = |of: &[(f64, f64)]| Some((median(of.iter().map(|b| b.0))?, median(of.iter().map(|b| b.1))?));
    if fast < plain {
        return Some((middle(blocks)?, blocks.len()));
    }
    let moving: Vec<(f64, f64)> = blocks.iter().filter(|b| length(b) >= 0.5 * fast).copied().collect();
    // Forward is the way of the first that move: a carriage that comes back comes back later.
    let first = *moving.first()?;
    let turned: Vec<_> =
        moving.iter().map(|b| if b.0 * first.0 + b.1 * first.1 < 0.0 { (-b.0, -b.1) } else { *b }).collect();
    Some((middle(&turned)?, turned.len()))
}

fn layer(steps: &[Step], tiles: &[Tile]) -> Layer {
    let (mut moved, mut torn) = (Vec::with_capacity(steps.len()), Vec::with_capacity(steps.len()));
    let (mut headings, mut aside) = (Vec::with_capacity(steps.len()), Vec::with_capacity(steps.len()));
    for step in steps {
        let share = |t: &Tile| {
            let (x, y) = step.tiles.get(t.at).copied()?;
            let share = (x * t.pace.0 + y * t.pace.1) / t.speed().powi(2);
            share.is_finite().then_some(share)
        };
        let shares: Vec<f64> = tiles.iter().filter_map(share).collect();
        let enough = 2 * shares.len() >= tiles.len();
        moved.push(median(shares.iter().copied()).filter(|_| enough).unwrap_or(f64::NAN));
        torn.push(if enough { apart(&shares) } else { f64::NAN });
        headings.push(heading(&shares));
        let across = |t: &Tile| {
            let (x, y) = step.tiles.get(t.at).copied()?;
            let across = (y * t.pace.0 - x * t.pace.1) / t.speed();
            across.is_finite().then_some(across)
        };
        aside.push(median(tiles.iter().filter_map(across)).unwrap_or(f64::NAN));
    }
    let usual = median(torn.iter().copied().filter(|v| v.is_finite())).unwrap_or(0.0);
    // Tiles that see sharply and yet differ see different things; where all see badly, some difference says
    // nothing.
    let most = |least: f64| (10.0 * usual).clamp(least, TORN.1).max(4.0 * usual);
    forget(&mut moved, &torn, most(TORN.0), f64::NAN);
    // What is out of the usual, there or back, must be borne out more sharply: a tile that looks past near
    // things at far ones moves less.
    let odd = |moved: f64| (moved.abs() - 1.0).abs() > USUAL;
    for (moved, torn) in moved.iter_mut().zip(&torn).filter(|m| odd(*m.0)) {
        if *torn > most(TORN_ODD) {
            *moved = f64::NAN;
        }
    }
    for (aside, moved) in aside.iter_mut().zip(&moved).filter(|a| a.1.is_nan()) {
        *aside = *moved;
    }
    let left_open = |at: &usize| moved[*at].is_nan() && torn[*at].is_finite() && headings[*at] != 1;
    let open = (0..steps.len()).filter(left_open).collect();
    let mut at: Vec<usize> = tiles.iter().map(|t| t.at).collect();
    at.sort_unstable();
    let middle = |of: &dyn Fn(&Tile) -> f64| median(tiles.iter().map(of)).unwrap_or(0.0);
    Layer {
        tiles: at,
        pace: (middle(&|t| t.pace.0), middle(&|t| t.pace.1)),
        drifts: false,
        moved,
        open,
        heading: headings,
        aside,
    }
}

/// The way on which at least three tiles agree, and more than twice as many as on the other; 0 for none.
fn heading(shares: &[f64]) -> i8 {
    let near = |of: f64| shares.iter().filter(|s| (**s - of).abs() <= USUAL).count();
    let (on, back) = (near(1.0), near(-1.0));
    match (on >= TILES_ALIKE && on > 2 * back, back >= TILES_ALIKE && back > 2 * on) {
        (true, _) => 1,
        (_, true) => -1,
        _ => 0,
    }
}

fn at_rest(steps: &[Step], tiles: &[Tile]) -> Still {
    let (mut moved, mut torn) = (Vec::with_capacity(steps.len()), Vec::with_capacity(steps.len()));
    for step in steps {
        let known: Vec<(f64, f64)> = tiles
            .iter()
            .filter_map(|t| step.tiles.get(t.at).copied())
            .filter(|m| m.0.is_finite() && m.1.is_finite())
            .collect();
        let (x, y): (Vec<f64>, Vec<f64>) = known.iter().copied().unzip();
        let enough = 2 * known.len() >= tiles.len();
        let middle = |v: &[f64]| median(v.iter().copied()).filter(|_| enough).unwrap_or(f64::NAN);
        moved.push((middle(&x), middle(&y)));
        torn.push(if enough { spread(&x).max(spread(&y)) } else { f64::NAN });
    }
    let usual = median(torn.iter().copied().filter(|v| v.is_finite())).unwrap_or(0.0);
    let noise = median(tiles.iter().map(|t| t.noise)).unwrap_or(0.0);
    // What shakes the camera moves all that stands by the same: a middle between tiles that do not agree on
    // it is nobody's move.
    for (torn, by) in torn.iter_mut().zip(&moved) {
        let by = by.0.hypot(by.1);
        if by > 4.0 * usual && *torn > SHARED * by {
            *torn = f64::INFINITY;
        }
    }
    forget(&mut moved, &torn, (4.0 * usual).max(8.0 * noise), (f64::NAN, f64::NAN));
    let ways: (Vec<f64>, Vec<f64>) = tiles.iter().map(|t| way(steps, t.at)).unzip();
    Still { tiles: tiles.iter().map(|t| t.at).collect(), moved, apart: apart(&ways.0).max(apart(&ways.1)) }
}

/// The way of a tile over the whole run, px, its unknown steps taken as the known ones.
fn way(steps: &[Step], at: usize) -> (f64, f64) {
    let moves = known(steps, at);
    let whole = steps.len() as f64 / moves.len().max(1) as f64;
    let (x, y) = moves.iter().fold((0.0, 0.0), |sum, m| (sum.0 + m.0, sum.1 + m.1));
    (x * whole, y * whole)
}

/// Forgets the steps at which the tiles do not agree, and the ones beside them: what passes in front leaves
/// as it came. A step on which the tiles agree sharply is forgotten only between two such steps.
fn forget<T: Copy>(moved: &mut [T], torn: &[f64], most: f64, unknown: T) {
    let bad = |at: usize| torn.get(at).is_some_and(|t| t.is_nan() || *t > most);
    let sharp = most * SHARPLY;
    for (at, place) in moved.iter_mut().enumerate() {
        let beside = [at.checked_sub(1).is_some_and(bad), bad(at + 1)];
        let most_beside = if torn[at] <= sharp { 1 } else { 0 };
        if bad(at) || beside.into_iter().filter(|b| *b).count() > most_beside {
            *place = unknown;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ninety-six steps of four tiles that pass by 20 px, but for the tenth, given in shares of that.
    fn of_four(tenth: [f64; 4]) -> Layer {
        let share = |s: usize, tile: usize| match (s, tile) {
            (10, 18..22) => tenth[tile - 18],
            _ => 1.0 + 0.002 * ((7 * s + 3 * tile) % 5) as f64,
        };
        let step = |s: usize| Step {
            before: s,
            after: s + 1,
            tiles: (0..TILES).map(|tile| (-20.0 * share(s, tile), 0.0)).collect(),
        };
        let steps: Vec<Step> = (0..96).map(step).collect();
        let tiles: Vec<Tile> = (18..22).filter_map(|at| tile(&steps, at)).collect();
        assert_eq!(tiles.len(), 4);
        layer(&steps, &tiles)
    }

    fn moves(tenth: [f64; 4]) -> Vec<f64> {
        of_four(tenth).moved
    }

    /// A slip could hide in a step that most tiles do not show as usual.
    #[test]
    fn a_step_is_open_where_most_tiles_say_something_else() {
        let open = |of: [f64; 4]| of_four(of).open;
        assert_eq!(open([1.0, 1.0, 1.01, 0.2]), [] as [usize; 0], "as usual");
        assert_eq!(open([0.4, 0.4, 0.41, 0.4]), [] as [usize; 0], "known, and odd");
        assert_eq!(open([1.0, 1.0, 0.17, 0.48]), [10]);
        assert_eq!(open([0.17, 0.22, 1.01, 0.43]), [10]);
        assert_eq!(open([f64::NAN; 4]), [] as [usize; 0], "nobody saw it");
    }

    /// A slip beside a step that something hid is told; what fills the picture between coming and leaving is
    /// not.
    #[test]
    fn a_sharp_step_is_forgotten_between_two_that_are_torn_alone() {
        let left = |torn: [f64; 5]| {
            let mut moved = [1.0, 1.0, 0.4, 1.0, 1.0];
            forget(&mut moved, &torn, 0.2, f64::NAN);
            moved.map(f64::is_finite)
        };
        assert_eq!(left([0.01, 0.3, 0.04, 0.01, 0.01]), [true, false, true, true, true]);
        assert_eq!(left([0.01, 0.3, 0.1, 0.01, 0.01]), [true, false, false, true, true]);
        assert_eq!(left([0.01, 0.3, 0.04, f64::NAN, 0.01]), [true, false, false, false, true]);
    }

    /// Tiles that a lorry covers, or that look past near things at far ones, do not speak for the layer;
    /// tiles that agree do.
    #[test]
    fn a_step_is_known_where_the_tiles_agree() {
        let tenth = |of: [f64; 4]| moves(of)[10];
        assert!((tenth([0.5, 0.5, 0.51, 0.5]) - 0.5).abs() < 0.01, "a slip");
        assert!((tenth([-1.0, -1.0, -1.0, 0.2]) + 1.0).abs() < 0.01, "one of four may see something else");
        assert!(tenth([-3.74, -3.69, -1.58, f64::NAN]).is_nan(), "two of three do not agree for the third");
        assert!(tenth([0.17, 0.22, 1.01, 0.43]).is_nan(), "too far apart for a step of a third");
        let around = moves([1.0, 1.0, 0.17, 0.48]);
        assert!(around[10].is_nan() && around[9].is_finite() && around[11].is_finite(), "beside, they agree");
    }

    /// Tiles too far apart to measure a step by may agree on its way all the same.
    #[test]
    fn most_tiles_tell_the_way() {
        assert_eq!(heading(&[-1.0, -1.02, -0.55, 0.33, -0.96, -0.98]), -1);
        assert_eq!(heading(&[0.57, 1.0, 0.99, 0.13, 0.99, 0.98]), 1);
        assert_eq!(heading(&[1.0, 1.0, 1.0, -1.0, -1.0]), 0, "no majority");
        assert_eq!(heading(&[-1.0, -1.0, 0.1]), 0, "two are not enough");
        assert_eq!(heading(&[0.0; 6]), 0, "a halt has no way");
    }

    /// Wrong matches in every other block do not slow a fast tile down.
    #[test]
    fn a_fast_tile_keeps_its_pace_among_wrong_matches() {
        let step = |s: usize| Step {
            before: s,
            after: s + 1,
            tiles: vec![(if s % 6 == 3 { -4.5 } else { -20.0 + 0.01 * (s % 3) as f64 }, 0.0); TILES],
        };
        let steps: Vec<Step> = (0..96).map(step).collect();
        let tile = tile(&steps, 20).expect("a tile");
        assert!((tile.pace.0 + 20.0).abs() < 0.05, "{:?}", tile.pace);
    }
}
