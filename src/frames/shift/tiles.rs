//! Shifts tile by tile: near things pass faster than far ones, and what moves by itself must not drag the
//! rest along.
//!
//! Phase correlation of the whole picture names the whole shifts in question; each tile takes the one that
//! fits it best and finds the rest of the way by least squares on the brightness gradient (Lucas and Kanade,
//! Proc. IJCAI 1981, 674–679), with the gradients of both pictures averaged and outlying pixels held down.

use super::correlate::{Correlator, Shift, Spectrum};
use super::grid::Grid;

/// Tiles across a picture.
pub const TILES_ACROSS: usize = 6;
/// Tiles down a picture.
pub const TILES_DOWN: usize = 4;
/// All tiles of a picture, row by row from the top left.
pub const TILES: usize = TILES_ACROSS * TILES_DOWN;

/// Pictures smaller than this each way are not measured, px: a tile would hold too little.
const LEAST: (usize, usize) = (48, 32);
/// Pixels at the edges that have no full gradient.
const EDGE: usize = 2;
/// Whole shifts taken from the correlation of the whole picture.
const PEAKS: usize = 5;
/// Whole shifts taken from each strip of the picture, where those of the whole leave tiles unexplained.
const STRIP_PEAKS: usize = 4;
/// Share of a tile's contrast that a right shift may leave unexplained.
const WELL: f32 = 0.05;
/// A tile that leaves this share of its contrast over holds noise alone.
const NOTHING: f32 = 0.9;
/// Tiles that must be left unexplained before the strips are looked at.
const SEVERAL: usize = 3;
/// Share of a tile that must still lie in the other picture.
const SHARE_INSIDE: f32 = 0.5;
/// Farthest step of one round, px: a slope says nothing about what lies beyond.
const FARTHEST: f32 = 1.5;
/// Rounds of the way from a whole shift to the best one.
const ROUNDS: usize = 4;

/// How far one tile's content moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TileShift {
    /// Across and down, px, from the first picture to the second; not finite where it could not be measured.
    pub by: Shift,
    /// Share of the tile's contrast that the shift does not explain, 0 to 1.
    pub unlike: f32,
}

impl TileShift {
    /// A tile that could not be measured.
    pub const NONE: Self = Self { by: Shift { x: f32::NAN, y: f32::NAN }, unlike: 1.0 };

    /// True where it was measured.
    pub fn is_known(&self) -> bool {
        self.by.x.is_finite() && self.by.y.is_finite()
    }
}

/// A picture made ready for comparison.
#[derive(Clone, Debug)]
pub struct Drawn {
    smooth: Grid,
    /// Change from pixel to pixel, across and down.
    slope: (Vec<f32>, Vec<f32>),
    spectrum: Spectrum,
}

/// Compares pictures of one size.
#[derive(Clone)]
pub struct Tiler {
    size: (usize, usize),
    correlator: Correlator,
    /// For strips of half the height.
    strip: Correlator,
}

/// A tile, or the part of it that lies in both pictures: first and end pixel across and down.
#[derive(Clone, Copy)]
struct Part {
    x: (usize, usize),
    y: (usize, usize),
}

impl Part {
    fn pixels(self) -> usize {
        (self.x.1 - self.x.0) * (self.y.1 - self.y.0)
    }
}

/// Mean and spread of a tile in both pictures.
struct Contrast {
    mean: (f32, f32),
    /// Sums of squares about the mean, and of products.
    square: (f32, f32),
    product: f32,
}

impl Contrast {
    /// Correlation, −1 to 1; `None` where either is flat.
    fn likeness(&self) -> Option<f32> {
        let both = (self.square.0 * self.square.1).sqrt();
        (both > f32::MIN_POSITIVE * 1e6).then(|| self.product / both)
    }
}

impl Tiler {
    /// For pictures of that many pixels each way; `None` where they are too small to tell anything.
    pub fn new(width: usize, height: usize) -> Option<Self> {
        let fits = width >= LEAST.0 && height >= LEAST.1;
        fits.then(|| Self {
            size: (width, height),
            correlator: Correlator::faded(width, height),
            strip: Correlator::faded(width, height / 2),
        })
    }

    /// Makes a picture ready; `None` where its size is another.
    pub fn draw(&self, picture: &Grid) -> Option<Drawn> {
        let smooth = picture.smoothed();
        let spectrum = self.correlator.spectrum(&smooth)?;
        let slope = slopes(&smooth);
        Some(Drawn { smooth, slope, spectrum })
    }

    /// The shift of every tile from the first picture to the second, each near the best of those that are
    /// expected of it; a tile of which none is expected is not measured. Much quicker than looking for all of
    /// them.
    pub fn shifts_near(&self, first: &Drawn, second: &Drawn, expected: &[Vec<Shift>; 2]) -> Vec<TileShift> {
        let one = |tile: usize| {
            let whole = |of: &Vec<Shift>| {
                let near = of.get(tile).copied().filter(|s| s.length().is_finite())?;
                Some((near.x.round() as i32, near.y.round() as i32))
            };
            let mut near = expected.iter().filter_map(whole);
            match (near.next(), near.next()) {
                (Some(a), Some(b)) if a != b => self.tile(tile, first, second, [a, b].into_iter()),
                (Some(a), _) => self.tile(tile, first, second, std::iter::once(a)),
                _ => TileShift::NONE,
            }
        };
        (0..TILES).map(one).collect()
    }

    /// The shift of every tile from the first picture to the second.
    pub fn shifts(&self, first: &Drawn, second: &Drawn) -> Vec<TileShift> {
        let mut whole = self.correlator.candidates(&first.spectrum, &second.spectrum, PEAKS);
        whole.push((0, 0));
        let one = |tile: usize, whole: &[(i32, i32)]| self.tile(tile, first, second, whole.iter().copied());
        let mut tiles: Vec<_> = (0..TILES).map(|tile| one(tile, &whole)).collect();
        if tiles.iter().filter(|t| t.unlike > WELL && t.unlike < NOTHING).count() >= SEVERAL {
            // A near layer that passes fast is a small part of the whole picture, and a large part of a
            // strip.
            let height = self.size.1;
            for from in [0, height / 4, height - height / 2] {
                whole.extend(self.strip_candidates(first, second, from).unwrap_or_default());
            }
            for (tile, found) in tiles.iter_mut().enumerate().filter(|t| t.1.unlike > WELL) {
                let again = one(tile, &whole);
                if again.unlike < found.unlike {
                    *found = again;
                }
            }
        }
        tiles
    }

    /// The whole shifts that a strip of both pictures has most in common, from that row on.
    fn strip_candidates(&self, first: &Drawn, second: &Drawn, from: usize) -> Option<Vec<(i32, i32)>> {
        let spectrum = |d: &Drawn| self.strip.spectrum(&d.smooth.rows(from, from + self.size.1 / 2)?);
        Some(self.strip.candidates(&spectrum(first)?, &spectrum(second)?, STRIP_PEAKS))
    }

    fn tile(
        &self,
        tile: usize,
        first: &Drawn,
        second: &Drawn,
        whole: impl Iterator<Item = (i32, i32)>,
    ) -> TileShift {
        let full = self.part(tile);
        let mut best: Option<(f32, (i32, i32))> = None;
        for by in whole {
            let Some(part) = self.inside(full, by) else { continue };
            let Some(like) = contrast(first, second, part, by, 2).likeness() else { continue };
            if best.is_none_or(|b| like > b.0) {
                best = Some((like, by));
            }
        }
        let Some((_, mut by)) = best else { return TileShift::NONE };
        let mut found = TileShift::NONE;
        for _ in 0..ROUNDS {
            let Some(part) = self.inside(full, by) else { break };
            let Some(next) = refined(first, second, part, by) else { break };
            found = next;
            let whole = (found.by.x.round() as i32, found.by.y.round() as i32);
            if whole == by {
                break;
            }
            by = whole;
        }
        found
    }

    fn part(&self, tile: usize) -> Part {
        let (w, h) = self.size;
        let cut = |length: usize, parts: usize, at: usize| EDGE + (length - 2 * EDGE) * at / parts;
        let (i, j) = (tile % TILES_ACROSS, tile / TILES_ACROSS);
        Part {
            x: (cut(w, TILES_ACROSS, i), cut(w, TILES_ACROSS, i + 1)),
            y: (cut(h, TILES_DOWN, j), cut(h, TILES_DOWN, j + 1)),
        }
    }

    /// The part of a tile that lies in the other picture after moving `by`; `None` where too little of it
    /// does.
    fn inside(&self, full: Part, by: (i32, i32)) -> Option<Part> {
        let within = |(from, end): (usize, usize), by: i32, length: usize| {
            let low = (EDGE as i32 - by).max(from as i32);
            let high = ((length - EDGE) as i32 - by).min(end as i32);
            (high > low).then_some((low as usize, high as usize))
        };
        let part = Part { x: within(full.x, by.0, self.size.0)?, y: within(full.y, by.1, self.size.1)? };
        (part.pixels() as f32 >= SHARE_INSIDE * full.pixels() as f32).then_some(part)
    }
}

/// Change from pixel to pixel across and down, right to the fourth order; zero at the edges.
fn slopes(picture: &Grid) -> (Vec<f32>, Vec<f32>) {
    let (w, h) = picture.size();
    let values = picture.values();
    let mut slopes = (vec![0.0; w * h], vec![0.0; w * h]);
    for y in EDGE..h - EDGE {
        for x in EDGE..w - EDGE {
            let at = y * w + x;
            let along = |step: usize| {
                (8.0 * (values[at + step] - values[at - step])
                    - (values[at + 2 * step] - values[at - 2 * step]))
                    / 12.0
            };
            slopes.0[at] = along(1);
            slopes.1[at] = along(w);
        }
    }
    slopes
}

/// The place of a row's part in the first and in the second picture.
fn rows(width: usize, part: Part, by: (i32, i32), y: usize) -> (usize, usize, usize) {
    let first = y * width + part.x.0;
    let second = (y as i32 + by.1) as usize * width + (part.x.0 as i32 + by.0) as usize;
    (first, second, part.x.1 - part.x.0)
}

fn contrast(first: &Drawn, second: &Drawn, part: Part, by: (i32, i32), every: usize) -> Contrast {
    let width = first.smooth.size().0;
    let (a, b) = (first.smooth.values(), second.smooth.values());
    let (mut n, mut sum, mut square, mut product) =
        (0.0_f32, (0.0_f32, 0.0_f32), (0.0_f32, 0.0_f32), 0.0_f32);
    // Sums about a value of the tile itself lose no digits.
    let about = (a[part.y.0 * width + part.x.0], b[rows(width, part, by, part.y.0).1]);
    for y in (part.y.0..part.y.1).step_by(every) {
        let (i, j, length) = rows(width, part, by, y);
        for (p, q) in a[i..i + length].iter().zip(&b[j..j + length]) {
            let (p, q) = (p - about.0, q - about.1);
            sum.0 += p;
            sum.1 += q;
            square.0 += p * p;
            square.1 += q * q;
            product += p * q;
        }
        n += length as f32;
    }
    Contrast {
        mean: (about.0 + sum.0 / n, about.1 + sum.1 / n),
        square: ((square.0 - sum.0 * sum.0 / n).max(0.0), (square.1 - sum.1 * sum.1 / n).max(0.0)),
        product: product - sum.0 * sum.1 / n,
    }
}

/// One pixel of a tile: change across and down, brightness about its mean, and how much brighter the second
/// picture is there.
#[derive(Clone, Copy)]
struct Point {
    across: f32,
    down: f32,
    bright: f32,
    over: f32,
}

/// What turns the first picture's tile into the second's: a shift, and a little more contrast and brightness.
#[derive(Clone, Copy, Default)]
struct Change {
    by: Shift,
    contrast: f32,
    bright: f32,
}

impl Point {
    /// What is left over after that change.
    fn left(&self, change: Change) -> f32 {
        self.over + change.by.x * self.across + change.by.y * self.down
            - change.contrast * self.bright
            - change.bright
    }
}

/// The shift near `by` that leaves least over; `None` where the tile is flat.
fn refined(first: &Drawn, second: &Drawn, part: Part, by: (i32, i32)) -> Option<TileShift> {
    let contrast = contrast(first, second, part, by, 1);
    contrast.likeness()?;
    let points = points(first, second, part, by, &contrast);
    let pixels = points.len() as f32;
    let start = least_squares(&points, Change::default(), f32::INFINITY)?.0;
    // What the plain solution leaves far over is held down in the second.
    let left: f32 = points.iter().map(|p| p.left(start).abs()).sum();
    let scale = (2.0 * left / pixels).max(1e-6 * (contrast.square.0 / pixels).sqrt());
    let (change, variance) = least_squares(&points, start, scale)?;
    let far = |v: f32| v.clamp(-FARTHEST, FARTHEST);
    Some(TileShift {
        by: Shift { x: by.0 as f32 + far(change.by.x), y: by.1 as f32 + far(change.by.y) },
        unlike: (variance * pixels / contrast.square.0).min(1.0),
    })
}

fn points(first: &Drawn, second: &Drawn, part: Part, by: (i32, i32), contrast: &Contrast) -> Vec<Point> {
    let width = first.smooth.size().0;
    let gain = (contrast.square.0 / contrast.square.1).sqrt();
    let (a, b) = (first.smooth.values(), second.smooth.values());
    let mut points = Vec::with_capacity(part.pixels());
    for y in part.y.0..part.y.1 {
        let (i, j, length) = rows(width, part, by, y);
        points.extend((0..length).map(|at| {
            let (i, j) = (i + at, j + at);
            let bright = a[i] - contrast.mean.0;
            Point {
                across: 0.5 * (first.slope.0[i] + gain * second.slope.0[j]),
                down: 0.5 * (first.slope.1[i] + gain * second.slope.1[j]),
                bright,
                over: gain * (b[j] - contrast.mean.1) - bright,
            }
        }));
    }
    points
}

/// The change that explains the points best and the mean square of what it leaves, where points that
/// `about` leaves over by more than `scale` count less and less (Cauchy's weights).
fn least_squares(points: &[Point], about: Change, scale: f32) -> Option<(Change, f32)> {
    // Normal equations in across, down, contrast and brightness; the last column is the right-hand side.
    let mut sums = [[0.0_f32; 5]; 4];
    let mut squares = 0.0_f32;
    for point in points {
        let left = point.left(about);
        let weight = 1.0 / (1.0 + (left / scale) * (left / scale));
        let terms = [-point.across, -point.down, point.bright, 1.0, point.over];
        for (i, row) in sums.iter_mut().enumerate() {
            let weighted = weight * terms[i];
            for (sum, term) in row[i..].iter_mut().zip(&terms[i..]) {
                *sum += weighted * term;
            }
        }
        squares += weight * left * left;
    }
    let weights = sums[3][3];
    // Contrast and brightness are taken out of the other two first; pivots are positive or the tile is flat.
    for out in [3, 2] {
        let row = sums[out];
        let column = sums.map(|r| r[out]);
        let pivot = row[out];
        if pivot.is_nan() || pivot <= 0.0 {
            return None;
        }
        for (i, to) in sums.iter_mut().enumerate().take(out) {
            let share = column[i] / pivot;
            for (value, own) in to[i..out].iter_mut().zip(&column[i..out]) {
                *value -= share * own;
            }
            to[4] -= share * row[4];
        }
    }
    // A little is added so that an edge along one direction leaves that direction at rest, not undefined.
    let ridge = 1e-3 * (sums[0][0] + sums[1][1]) + f32::MIN_POSITIVE;
    let (xx, yy, xy) = (sums[0][0] + ridge, sums[1][1] + ridge, sums[0][1]);
    let determinant = xx * yy - xy * xy;
    if determinant.is_nan() || determinant <= 0.0 {
        return None;
    }
    let by = Shift {
        x: (yy * sums[0][4] - xy * sums[1][4]) / determinant,
        y: (xx * sums[1][4] - xy * sums[0][4]) / determinant,
    };
    let contrast = (sums[2][4] - by.x * sums[0][2] - by.y * sums[1][2]) / sums[2][2];
    let bright = (sums[3][4] - by.x * sums[0][3] - by.y * sums[1][3] - contrast * sums[2][3]) / weights;
    Some((Change { by, contrast, bright }, squares / weights))
}
