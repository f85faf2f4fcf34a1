//! Follows a series of pictures: each against the one before, and now and then against ones further back.

use rayon::prelude::*;

use super::correlate::Shift;
use super::grid::Grid;
use super::tiles::{Drawn, TILES, TileShift, Tiler};

/// Pictures between the two of a longer comparison. Steps of a twentieth of a pixel add up to something over
/// them.
pub const LAGS: [usize; 2] = [4, 16];
/// Pixels of pictures that are made ready at once: bounds the memory that wide ones take.
const PIXELS_AT_ONCE: usize = 6_000_000;
/// Fewest pictures of them, so that all threads have something to do.
const AT_ONCE: usize = 8;
/// Moves that are added up to expect the next longer one.
const FARTHEST_EXPECTED: f32 = 1e4;

/// How the tiles of one picture lie from those of another.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// The earlier picture: a position in the table of frames.
    pub before: u32,
    /// The later one.
    pub after: u32,
    /// Pictures from the one to the other: 1 for neighbours, else one of [`LAGS`].
    pub lag: usize,
    /// Width of the pictures, px: what the shifts are counted in.
    pub width: u32,
    /// One a tile, row by row from the top left.
    pub tiles: Vec<TileShift>,
}

/// Compares pictures as they come, in order. What it keeps of them does not grow with their number.
#[derive(Default)]
pub struct Follower {
    tiler: Option<((usize, usize), Tiler)>,
    /// The last pictures, with their positions.
    kept: Vec<(u32, Drawn)>,
    /// Moves to each of the kept pictures from the one before it.
    steps: Vec<Vec<TileShift>>,
    /// Moves to each of them from the one [`LAGS`]`[0]` before it.
    short: Vec<Vec<TileShift>>,
    moves: Vec<Moved>,
}

impl Follower {
    /// Takes the next pictures with their positions; a frame without one is left out. How they come in
    /// batches makes no difference.
    pub fn take(&mut self, pictures: Vec<(u32, Grid)>) {
        for alike in pictures.chunk_by(|a, b| a.1.size() == b.1.size()) {
            let Some(size) = alike.first().map(|p| p.1.size()) else { continue };
            if self.tiler.as_ref().is_none_or(|t| t.0 != size) {
                (self.kept, self.steps, self.short) = (Vec::new(), Vec::new(), Vec::new());
                self.tiler = Tiler::new(size.0, size.1).map(|t| (size, t));
            }
            let Some((_, tiler)) = self.tiler.clone() else { continue };
            for some in alike.chunks((PIXELS_AT_ONCE / (size.0 * size.1)).max(AT_ONCE)) {
                let draw = |(at, grid): &(u32, Grid)| tiler.draw(grid).map(|drawn| (*at, drawn));
                self.follow(&tiler, size.0, some.par_iter().filter_map(draw).collect());
            }
        }
    }

    fn follow(&mut self, tiler: &Tiler, width: usize, drawn: Vec<(u32, Drawn)>) {
        let first = self.kept.len();
        self.kept.extend(drawn);
        let kept = &self.kept;
        let steps: Vec<_> = (first.max(1)..kept.len())
            .into_par_iter()
            .map(|at| tiler.shifts(&kept[at - 1].1, &kept[at].1))
            .collect();
        if first == 0 && !kept.is_empty() {
            // The first picture has none before it; the places stay in step.
            self.steps.push(vec![TileShift::NONE; TILES]);
        }
        self.steps.extend(steps);
        let steps = &self.steps;
        let over =
            |lag: usize, expected: &(dyn Fn(usize) -> [Vec<Shift>; 2] + Sync)| -> Vec<Vec<TileShift>> {
                let one = |at: usize| match at.checked_sub(lag) {
                    Some(from) => tiler.shifts_near(&kept[from].1, &kept[at].1, &expected(at)),
                    None => vec![TileShift::NONE; TILES],
                };
                (first..kept.len()).into_par_iter().map(one).collect()
            };
        let [few, many] = LAGS;
        let short = over(few, &|at| {
            let by = &steps[at + 1 - few..=at];
            [added_up(by, 1), usual(by, few)]
        });
        self.short.extend(short);
        // What moves by itself in a tile drags a comparison of neighbours along, one over several pictures
        // less: the longest is expected from those.
        let short = &self.short;
        let long = over(many, &|at| {
            let by = &short[at + 1 + few - many..=at];
            [added_up(by, few), usual(by, many / few)]
        });
        let moved = |at: usize, lag: usize, tiles: Vec<TileShift>| Moved {
            before: kept[at - lag].0,
            after: kept[at].0,
            lag,
            width: width as u32,
            tiles,
        };
        for (at, step) in steps.iter().enumerate().skip(first) {
            if at > 0 {
                self.moves.push(moved(at, 1, step.clone()));
            }
            if at >= few {
                self.moves.push(moved(at, few, short[at].clone()));
            }
            if at >= many {
                self.moves.push(moved(at, many, long[at - first].clone()));
            }
        }
        let spare = kept.len().saturating_sub(LAGS[1]);
        self.kept.drain(..spare);
        self.steps.drain(..spare);
        self.short.drain(..spare);
    }

    /// All moves found, by the later picture and then by lag.
    pub fn finish(self) -> Vec<Moved> {
        self.moves
    }
}

/// The sum of every `each`-th of each tile's moves, from the first; not finite where one is not known.
fn added_up(steps: &[Vec<TileShift>], each: usize) -> Vec<Shift> {
    let sum = |tile: usize| {
        let add = |sum: Shift, step: &Vec<TileShift>| {
            let by = step.get(tile).map_or(TileShift::NONE.by, |t| t.by);
            Shift { x: sum.x + by.x, y: sum.y + by.y }
        };
        let all = steps.iter().step_by(each).fold(Shift::default(), add);
        if all.length() < FARTHEST_EXPECTED { all } else { TileShift::NONE.by }
    };
    (0..TILES).map(sum).collect()
}

/// So many times the usual one of each tile's moves: what passes in front of a tile for a while spoils their
/// sum and not their middle.
fn usual(steps: &[Vec<TileShift>], times: usize) -> Vec<Shift> {
    let middle = |tile: usize, of: &dyn Fn(&TileShift) -> f32| {
        let mut all: Vec<f32> =
            steps.iter().filter_map(|s| s.get(tile)).filter(|t| t.is_known()).map(of).collect();
        all.sort_by(f32::total_cmp);
        all.get(all.len() / 2).map_or(f32::NAN, |v| v * times as f32)
    };
    (0..TILES).map(|t| Shift { x: middle(t, &|t| t.by.x), y: middle(t, &|t| t.by.y) }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A textured picture, moved right by `dx` between its pixels.
    fn picture(dx: f32) -> Grid {
        let one = |i: usize| {
            let (x, y) = ((i % 96) as f32 - dx, (i / 96) as f32);
            100.0
                + 30.0 * (x * 0.31 + y * 0.17).sin()
                + 25.0 * (x * 0.113 - y * 0.41 + 1.0).sin()
                + 20.0 * ((x * 0.05).sin() * 9.0 + y * 0.23).cos()
        };
        Grid::new(96, 64, (0..96 * 64).map(one).collect()).expect("a picture")
    }

    fn moves(batch: usize) -> Vec<Moved> {
        let mut follower = Follower::default();
        let all: Vec<_> = (0..40_u32).filter(|k| *k != 7).map(|k| (k, picture(0.05 * k as f32))).collect();
        for part in all.chunks(batch) {
            follower.take(part.to_vec());
        }
        follower.finish()
    }

    #[test]
    fn batches_make_no_difference_and_lags_carry_small_steps() {
        let all = moves(1000);
        assert_eq!(all, moves(1));
        assert_eq!(all, moves(9));
        assert_eq!(all.iter().filter(|m| m.lag == 1).count(), 38);
        assert_eq!(all.iter().filter(|m| m.lag == 4).count(), 35);
        let sixteen: Vec<_> = all.iter().filter(|m| m.lag == 16).collect();
        assert_eq!(sixteen.len(), 23);
        // A frame without a picture lies between.
        assert_eq!((sixteen[0].before, sixteen[0].after), (0, 17));
        for moved in &all {
            let meant = 0.05 * (moved.after - moved.before) as f32;
            let mut x: Vec<f32> = moved.tiles.iter().map(|t| t.by.x).collect();
            x.sort_by(f32::total_cmp);
            assert!((x[TILES / 2] - meant).abs() < 0.01, "{} to {}: {x:?}", moved.before, moved.after);
        }
    }

    #[test]
    fn another_size_begins_anew_and_a_tiny_picture_is_passed_over() {
        let mut follower = Follower::default();
        let small = Grid::new(8, 8, (0..64).map(|v| v as f32).collect()).expect("a picture");
        let flat = Grid::new(96, 64, vec![1.0; 96 * 64]).expect("a picture");
        follower.take(vec![(0, small.clone()), (1, small), (2, picture(0.0)), (3, picture(1.0)), (4, flat)]);
        let moves = follower.finish();
        assert_eq!(moves.iter().map(|m| (m.before, m.after)).collect::<Vec<_>>(), [(2, 3), (3, 4)]);
        assert!(moves[1].tiles.iter().all(|t| !t.is_known()));
    }
}
