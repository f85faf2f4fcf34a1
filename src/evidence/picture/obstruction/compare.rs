//! Two pictures held against each other, cell by cell.

use crate::evidence::picture::{CELLS, CELLS_ACROSS, CELLS_DOWN, Cells};
use crate::stats::median;

/// Light that is added to every cell, so that the noise of the dark does not count.
const FLOOR: f32 = 0.003;
/// Neighbouring cells that differ by this much, EV, are structure.
const STRUCTURE_EV: f32 = 0.15;
/// A difference of neighbours is the same where it changes by at most this share of the larger one: light
/// flattens or hardens it.
const SAME: f32 = 0.55;
/// Fewest differences that judge a cell.
const FEWEST: u32 = 3;
/// A cell without structure is another where its light strays from that of the picture by more than this, EV.
const FLAT_EV: f32 = 1.0;
/// The same where no part of the picture tells what the light did.
const FLAT_ALONE_EV: f32 = 1.5;
/// Cells that tell what the light did.
const FEWEST_TELLING: usize = 12;
/// A cell of less light than this tells nothing: what is seen there in another picture may be a light that
/// came on.
const DARK: f32 = 0.006;
/// A step of the search for a shift, cells.
const SHIFT_STEP: f32 = 0.25;

/// A place between cells, in cells: how far a picture lies to the right and down of another.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Shift {
    /// To the right.
    pub across: f32,
    /// Down.
    pub down: f32,
}

impl Shift {
    /// So many times as far.
    pub fn times(self, by: f32) -> Self {
        Self { across: self.across * by, down: self.down * by }
    }

    /// True for none.
    pub fn is_none(self) -> bool {
        self.across.abs() < 0.05 && self.down.abs() < 0.05
    }
}

/// Brightness of each cell of a picture, EV, the settings taken out where they are known; and what those let
/// in, EV.
#[derive(Clone, Debug)]
pub struct Plane([f32; CELLS], f32);

/// What may be said of each cell.
pub type Marks = [bool; CELLS];

/// The share of cells that are marked.
pub fn share(marks: &Marks) -> f32 {
    marks.iter().filter(|m| **m).count() as f32 / CELLS as f32
}

impl Plane {
    /// Of a picture; `let_in` is what the settings let in, EV.
    pub fn of(cells: &Cells, let_in: f32) -> Self {
        Self(cells.luminances().map(|l| (l + FLOOR).log2() - let_in), let_in)
    }

    /// The picture as it would lie `by` further to the right and down; NaN where it shows nothing of that.
    pub fn shifted(&self, by: Shift) -> Self {
        if by.is_none() {
            return self.clone();
        }
        let at = |x: f32, y: f32| {
            let (right, low) = ((CELLS_ACROSS - 1) as f32, (CELLS_DOWN - 1) as f32);
            if !(-0.5..=right + 0.5).contains(&x) || !(-0.5..=low + 0.5).contains(&y) {
                return f32::NAN;
            }
            let (x, y) = (x.clamp(0.0, right), y.clamp(0.0, low));
            let (x0, y0) = (x.floor(), y.floor());
            let (fx, fy) = (x - x0, y - y0);
            let get = |x: f32, y: f32| {
                let (x, y) = (x.min(right) as usize, y.min(low) as usize);
                self.0.get(y * CELLS_ACROSS + x).copied().unwrap_or(f32::NAN)
            };
            let top = get(x0, y0) * (1.0 - fx) + get(x0 + 1.0, y0) * fx;
            let bottom = get(x0, y0 + 1.0) * (1.0 - fx) + get(x0 + 1.0, y0 + 1.0) * fx;
            top * (1.0 - fy) + bottom * fy
        };
        let place = |i: usize| ((i % CELLS_ACROSS) as f32 - by.across, (i / CELLS_ACROSS) as f32 - by.down);
        let moved = std::array::from_fn(|i| {
            let (x, y) = place(i);
            at(x, y)
        });
        Self(moved, self.1)
    }

    /// How far this picture lies from `other`, looked for within `reach` cells around `near`: where their
    /// structure agrees best.
    pub fn shift_from(&self, other: &Self, near: Shift, reach: f32) -> Shift {
        let steps = (reach / SHIFT_STEP).round() as i32;
        let cost = |by: Shift| {
            let moved = other.shifted(by);
            let (mut sum, mut n) = (0.0_f32, 0_u32);
            for (i, j) in pairs() {
                let (a, b) = (self.0[i] - self.0[j], moved.0[i] - moved.0[j]);
                if a.is_nan() || b.is_nan() {
                    continue;
                }
                sum += (a - b).abs().min(0.5);
                n += 1;
            }
            if n < CELLS as u32 { f32::INFINITY } else { sum / n as f32 }
        };
        // Equal costs go to the smallest shift.
        let mut best = (cost(near) * 0.97, near);
        for across in -steps..=steps {
            for down in -steps..=steps {
                let by = Shift {
                    across: near.across + across as f32 * SHIFT_STEP,
                    down: near.down + down as f32 * SHIFT_STEP,
                };
                let now = cost(by);
                if now < best.0 {
                    best = (now, by);
                }
            }
        }
        best.1
    }

    /// The cells in which this picture shows something else than `other` does.
    pub fn unlike(&self, other: &Self) -> Marks {
        let mut all = [false; CELLS];
        // A picture whose cells hardly changed is the same.
        let ratio = |i: usize| self.0[i] - other.0[i];
        let Some(middle) = median((0..CELLS).map(|i| f64::from(ratio(i)))) else { return all };
        if (0..CELLS).all(|i| ratio(i).is_nan() || (f64::from(ratio(i)) - middle).abs() < 0.1) {
            return all;
        }
        let (mut told, mut other_ones) = ([0_u32; CELLS], [0_u32; CELLS]);
        for (i, j) in pairs() {
            let (a, b) = (self.0[i] - self.0[j], other.0[i] - other.0[j]);
            let larger = a.abs().max(b.abs());
            if larger.is_nan() || larger < STRUCTURE_EV {
                continue;
            }
            let differs = u32::from((a - b).abs() > SAME * larger);
            for cell in [i, j] {
                told[cell] += 1;
                other_ones[cell] += differs;
            }
        }
        let same = |i: usize| told[i] >= FEWEST && 2 * other_ones[i] <= told[i];
        let tells: Vec<f64> = (0..CELLS).filter(|i| same(*i)).map(|i| f64::from(ratio(i))).collect();
        let light = median(tells.iter().copied()).filter(|_| tells.len() >= FEWEST_TELLING);
        let (by, level) = light.map_or((0.0, FLAT_ALONE_EV), |l| (l as f32, FLAT_EV));
        let dark = FLOOR.log2() + (1.0 + DARK / FLOOR).log2();
        for (i, mark) in all.iter_mut().enumerate() {
            let lit = other.0[i] + other.1 < dark;
            *mark = match () {
                () if lit => false,
                () if told[i] >= FEWEST => 2 * other_ones[i] > told[i],
                () => (ratio(i) - by).abs() > level,
            };
        }
        eased(&all)
    }
}

/// Pairs of neighbouring cells: beside, below and across the corner.
fn pairs() -> impl Iterator<Item = (usize, usize)> {
    let inside =
        |x: i32, y: i32| (0..CELLS_ACROSS as i32).contains(&x) && (0..CELLS_DOWN as i32).contains(&y);
    (0..CELLS).flat_map(move |i| {
        let (x, y) = ((i % CELLS_ACROSS) as i32, (i / CELLS_ACROSS) as i32);
        [(1, 0), (0, 1), (1, 1), (-1, 1)]
            .into_iter()
            .filter(move |(dx, dy)| inside(x + dx, y + dy))
            .map(move |(dx, dy)| (i, ((y + dy) * CELLS_ACROSS as i32 + x + dx) as usize))
    })
}

/// Each cell as most of those around it and itself: single ones are chance.
fn eased(marks: &Marks) -> Marks {
    std::array::from_fn(|i| {
        let (x, y) = (i % CELLS_ACROSS, i / CELLS_ACROSS);
        let (mut n, mut marked) = (0, 0);
        for y in y.saturating_sub(1)..(y + 2).min(CELLS_DOWN) {
            for x in x.saturating_sub(1)..(x + 2).min(CELLS_ACROSS) {
                n += 1;
                marked += u32::from(marks[y * CELLS_ACROSS + x]);
            }
        }
        2 * marked > n
    })
}
