//! Two pictures compared with each other, cell by cell.

use crate::evidence::picture::{CELLS, CELLS_ACROSS, CELLS_DOWN, Look};
use crate::frames::picture::{ACROSS, DOWN};
use crate::stats::median;

/// Light that is added to every cell, so that the noise of the dark does not count.
const FLOOR: f32 = 0.003;
/// Neighbouring cells that differ by this much, EV, are structure.
const STRUCTURE_EV: f32 = 0.15;
/// A difference of neighbours is the same where it changes by at most this share of the larger one: light
/// flattens or hardens it.
const SAME: f32 = 0.55;
/// It is the very same where it changes by less than this: what chance hardly makes of another scene.
const VERY_SAME: f32 = 0.25;
/// Fewest differences that judge a cell.
const FEWEST: u32 = 3;
/// A cell without structure is another where its light strays from that of the picture by more than this, EV.
const FLAT_EV: f32 = 1.0;
/// The same where no part of the picture tells what the light did.
const FLAT_ALONE_EV: f32 = 1.5;
/// A cell without structure is another where its colour (red or blue against green) strays from what the
/// light did to it by more than this, EV; and where no part of the picture tells what it did.
const TINT_EV: f32 = 0.35;
const TINT_ALONE_EV: f32 = 0.5;
/// A cell of less light than this has no colour.
const COLOURED: f32 = 0.015;
/// Cells that tell what the light did.
const FEWEST_TELLING: usize = 12;
/// A cell of less light than this tells nothing: what is seen there in another picture may be a light that
/// came on.
const DARK: f32 = 0.006;
/// What stands before the lens is a sheet where its cells differ from their neighbours by less than this, EV,
/// by the middle one; and so far, EV, cells of one sheet lie from one another.
const SHEET_EV: f32 = 0.08;
const ONE_SHEET_EV: f32 = 0.5;
/// A step of the search for a shift, cells.
const SHIFT_STEP: f32 = 0.25;

/// A place between cells, in cells: how far a picture lies to the right and down of another.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub(crate) struct Shift {
    /// To the right.
    pub across: f32,
    /// Down.
    pub down: f32,
}

impl Shift {
    /// So many times as far.
    pub(crate) fn times(self, by: f32) -> Self {
        Self { across: self.across * by, down: self.down * by }
    }

    /// True for none.
    pub(crate) fn is_none(self) -> bool {
        self.across.abs() < 0.05 && self.down.abs() < 0.05
    }
}

/// A picture in cells.
#[derive(Clone, Debug)]
pub(crate) struct Plane {
    /// Brightness of each cell, EV, the settings taken out where they are known.
    light: [f32; CELLS],
    /// Red and blue of each cell against its green, EV; NaN in the dark.
    tint: [[f32; 2]; CELLS],
    /// What the settings let in, EV.
    let_in: f32,
}

/// What may be said of each cell.
pub(crate) type Marks = [bool; CELLS];

/// How many cells are marked.
pub(crate) fn count(marks: &Marks) -> usize {
    marks.iter().filter(|m| **m).count()
}

impl Plane {
    /// Of a picture; `let_in` is what the settings let in, EV.
    pub(crate) fn of(look: &Look, let_in: f32) -> Self {
        let light = look.cells.luminances().map(|l| (l + FLOOR).log2() - let_in);
        let tint = std::array::from_fn(|i| {
            let (x, y) = (i % CELLS_ACROSS * ACROSS / CELLS_ACROSS, i / CELLS_ACROSS * DOWN / CELLS_DOWN);
            let at = y * ACROSS + x;
            let [red, green, blue] = look.areas.light(at);
            let dark = look.areas.luminance(at) < COLOURED;
            let against = |l: f32| if dark { f32::NAN } else { ((l + FLOOR) / (green + FLOOR)).log2() };
            [against(red), against(blue)]
        });
        Self { light, tint, let_in }
    }

    /// The picture as it would lie `by` further to the right and down; NaN where it shows nothing of that.
    pub(crate) fn shifted(&self, by: Shift) -> Self {
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
                self.light.get(y * CELLS_ACROSS + x).copied().unwrap_or(f32::NAN)
            };
            let top = get(x0, y0) * (1.0 - fx) + get(x0 + 1.0, y0) * fx;
            let bottom = get(x0, y0 + 1.0) * (1.0 - fx) + get(x0 + 1.0, y0 + 1.0) * fx;
            top * (1.0 - fy) + bottom * fy
        };
        let place = |i: usize| ((i % CELLS_ACROSS) as f32 - by.across, (i / CELLS_ACROSS) as f32 - by.down);
        let light = std::array::from_fn(|i| {
            let (x, y) = place(i);
            at(x, y)
        });
        let tint = std::array::from_fn(|i| {
            let (x, y) = place(i);
            let inside = x > -0.5 && y > -0.5;
            let (x, y) = (x.round() as usize, y.round() as usize);
            let near = inside && x < CELLS_ACROSS && y < CELLS_DOWN;
            let cell = self.tint.get(y * CELLS_ACROSS + x).filter(|_| near);
            cell.copied().unwrap_or([f32::NAN; 2])
        });
        Self { light, tint, let_in: self.let_in }
    }

    /// How far this picture lies from `other`, looked for within `reach` cells around `near`: where their
    /// structure agrees best.
    pub(crate) fn shift_from(&self, other: &Self, near: Shift, reach: f32) -> Shift {
        let steps = (reach / SHIFT_STEP).round() as i32;
        let cost = |by: Shift| {
            let moved = other.shifted(by);
            let (mut sum, mut n) = (0.0_f32, 0_u32);
            for (i, j) in pairs() {
                let (a, b) = (self.light[i] - self.light[j], moved.light[i] - moved.light[j]);
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
    pub(crate) fn unlike(&self, other: &Self) -> Marks {
        let mut all = [false; CELLS];
        let ratio = |i: usize| self.light[i] - other.light[i];
        let Some(middle) = median((0..CELLS).map(|i| f64::from(ratio(i)))) else { return all };
        // A picture whose cells hardly changed is the same.
        let even = |i: usize| ratio(i).is_nan() || (f64::from(ratio(i)) - middle).abs() < 0.1;
        if (0..CELLS).all(|i| even(i) && !self.tinted(other, i, [0.0; 2], TINT_ALONE_EV)) {
            return all;
        }
        let (told, other_ones) = self.structure_beside(other, |a, b, larger| (a - b).abs() > SAME * larger);
        let same = |i: usize| told[i] >= FEWEST && 2 * other_ones[i] <= told[i];
        let tells: Vec<usize> = (0..CELLS).filter(|i| same(*i)).collect();
        let of = |value: &dyn Fn(usize) -> f32| {
            median(tells.iter().map(|i| f64::from(value(*i)))).filter(|_| tells.len() >= FEWEST_TELLING)
        };
        let (by, level) = of(&ratio).map_or((0.0, FLAT_ALONE_EV), |l| (l as f32, FLAT_EV));
        let shift = |channel: usize| of(&|i| self.tint[i][channel] - other.tint[i][channel]);
        let (tint, tint_level) = match (shift(0), shift(1)) {
            (Some(red), Some(blue)) => ([red as f32, blue as f32], TINT_EV),
            _ => ([0.0; 2], TINT_ALONE_EV),
        };
        let dark = FLOOR.log2() + (1.0 + DARK / FLOOR).log2();
        for (i, mark) in all.iter_mut().enumerate() {
            let lit = other.light[i] + other.let_in < dark;
            *mark = match () {
                () if lit => false,
                () if told[i] >= FEWEST => 2 * other_ones[i] > told[i],
                () => (ratio(i) - by).abs() > level || self.tinted(other, i, tint, tint_level),
            };
        }
        eased(&all)
    }

    /// True where the colour of cell `i` strays from `other`'s by more than `level` beyond what the light
    /// did.
    fn tinted(&self, other: &Self, i: usize, light: [f32; 2], level: f32) -> bool {
        (0..2).any(|c| (self.tint[i][c] - other.tint[i][c] - light[c]).abs() > level)
    }

    /// Of each cell: how many differences to its neighbours are structure in either picture, and how many of
    /// those `are` so, by the difference here, the one there and the larger size of both.
    fn structure_beside(
        &self,
        other: &Self,
        are: impl Fn(f32, f32, f32) -> bool,
    ) -> ([u32; CELLS], [u32; CELLS]) {
        let (mut told, mut so) = ([0_u32; CELLS], [0_u32; CELLS]);
        for (i, j) in pairs() {
            let (a, b) = (self.light[i] - self.light[j], other.light[i] - other.light[j]);
            let larger = a.abs().max(b.abs());
            if larger.is_nan() || larger < STRUCTURE_EV {
                continue;
            }
            let is = u32::from(are(a, b, larger));
            for cell in [i, j] {
                told[cell] += 1;
                so[cell] += is;
            }
        }
        (told, so)
    }

    /// The cells that show the very structure which `other` shows there: the camera stands as it stood, and
    /// nothing is before it.
    pub(crate) fn kept(&self, other: &Self) -> Marks {
        let (told, same) = self.structure_beside(other, |a, b, larger| (a - b).abs() <= VERY_SAME * larger);
        std::array::from_fn(|i| told[i] >= FEWEST && 3 * same[i] >= 2 * told[i])
    }

    /// The covered cells with those that a sheet seen there may cover as well: flat, as bright, and joined to
    /// it. A sky of the sheet's own brightness cannot be told from it.
    pub(crate) fn with_rest_of_sheet(&self, covered: &Marks) -> Marks {
        let mut all = *covered;
        let middle = median((0..CELLS).filter(|i| covered[*i]).map(|i| f64::from(self.light[i])));
        let sheet = self.steps(covered).next().is_some() && self.usual_structure(covered) < SHEET_EV;
        let Some(middle) = middle.filter(|_| sheet) else { return all };
        let mut may = self.light.map(|l| (f64::from(l) - middle).abs() <= f64::from(ONE_SHEET_EV));
        for (i, j) in pairs().filter(|(i, j)| (self.light[*i] - self.light[*j]).abs() >= STRUCTURE_EV) {
            (may[i], may[j]) = (false, false);
        }
        loop {
            let before = count(&all);
            for (i, j) in pairs().filter(|(i, j)| may[*i] && may[*j]) {
                (all[i], all[j]) = (all[i] || all[j], all[i] || all[j]);
            }
            if count(&all) == before {
                return all;
            }
        }
    }

    /// How much structure the marked cells hold: the mean difference of neighbours, EV, one stop at most.
    pub(crate) fn structure(&self, marks: &Marks) -> f32 {
        let (mut sum, mut n) = (0.0_f32, 0_u32);
        for step in self.steps(marks) {
            sum += step.min(1.0);
            n += 1;
        }
        if n == 0 { 0.0 } else { sum / n as f32 }
    }

    /// The middle difference of neighbours among the marked cells, EV: an edge that runs through them does
    /// not move it.
    pub(crate) fn usual_structure(&self, marks: &Marks) -> f32 {
        median(self.steps(marks).map(f64::from)).unwrap_or(0.0) as f32
    }

    /// The differences of neighbours among the marked cells, EV.
    fn steps(&self, marks: &Marks) -> impl Iterator<Item = f32> {
        let inside = pairs().filter(|(i, j)| marks[*i] && marks[*j]);
        inside.map(|(i, j)| (self.light[i] - self.light[j]).abs()).filter(|step| !step.is_nan())
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Smooth sheets before a smooth sky: their edges make the mean difference of neighbours as large as a
    /// scene's, and leave the middle one at nothing.
    #[test]
    fn an_edge_makes_no_scene_of_what_is_smooth() {
        let plane = |of: &dyn Fn(f32, f32) -> f32| Plane {
            light: std::array::from_fn(|i| of((i % CELLS_ACROSS) as f32, (i / CELLS_ACROSS) as f32)),
            tint: [[f32::NAN; 2]; CELLS],
            let_in: 0.0,
        };
        let sheet = |x: f32, _: f32| if x % 8.0 < 4.0 { -6.0 } else { 0.0 };
        let scene = |x: f32, y: f32| ((x * 12.9 + y * 78.2).sin() * 43_758.5).fract() * 0.3;
        let all = [true; CELLS];
        assert!(plane(&sheet).structure(&all) > 0.5 * plane(&scene).structure(&all));
        assert_eq!(plane(&sheet).usual_structure(&all), 0.0);
        assert!(plane(&scene).usual_structure(&all) > SHEET_EV);
    }
}
