//! One picture compared with the one before it in the card's order, while both are at hand.

use super::Grey;

/// What two neighbouring pictures show beside each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    /// How much they are the same picture in the same place: the correlation of their light, −1 to 1,
    /// whatever their brightness. NaN where one of them is flat.
    pub likeness: f32,
    /// How much the fine structure of the later one, turned by half (on its head), is that of the other: −1
    /// to 1. Gradients do not count, since any sky is another one turned. NaN where it was not tried, or
    /// where there is no structure: only pictures that are not alike are turned.
    pub turned: f32,
    /// log2 of the finest structure that both show, against their contrast: sharpness without the noise, of
    /// which no two pictures have the same. NaN where they have none in common.
    pub fine: f32,
}

/// Pictures that are less alike than this are tried turned by half.
const TRIED_TURNED: f32 = 0.3;

/// What of a picture its neighbour is compared with: the roots of the light (even steps to the eye) of every
/// second pixel of every second row.
#[derive(Clone, Debug, PartialEq)]
pub struct Thin {
    /// Size of the picture that it was taken from, px.
    size: (usize, usize),
    roots: Vec<f32>,
    /// What stands out of its surroundings within [`FINEST`] pixels.
    fine: Vec<f32>,
    sum: f64,
    squares: f64,
}

impl Thin {
    /// Of a grey picture.
    pub fn of(grey: &Grey) -> Self {
        let rows = grey.light.chunks_exact(grey.width.max(1)).step_by(2);
        Self::new((grey.width, grey.height), rows.flat_map(|row| row.iter().step_by(2).copied()).collect())
    }

    /// Size of what is kept and the roots of its light, row by row.
    pub(super) fn roots(&self) -> ((usize, usize), &[f32]) {
        ((self.size.0.div_ceil(2), self.size.1.div_ceil(2)), &self.roots)
    }

    /// Of a picture of that size, from the light of every second pixel of every second row.
    pub(super) fn new(size: (usize, usize), mut light: Vec<f32>) -> Self {
        light.iter_mut().for_each(|l| *l = l.max(0.0).sqrt());
        let squares = products(&light, &light);
        let sum = light.chunks(PART).map(|part| f64::from(lanes(part.iter().copied()))).sum();
        let mut thin = Self { size, roots: light, fine: Vec::new(), sum, squares };
        thin.fine = structure(&thin, 0, FINEST);
        thin
    }
}

/// Sums of so many values stay short, so that single precision is enough for them.
const PART: usize = 160;

/// The sum over eight lanes side by side.
fn lanes(values: impl Iterator<Item = f32>) -> f32 {
    let mut lanes = [0.0_f32; 8];
    for (i, v) in values.enumerate() {
        lanes[i % 8] += v;
    }
    lanes.iter().sum()
}

fn products(a: &[f32], b: &[f32]) -> f64 {
    let part = |(a, b): (&[f32], &[f32])| {
        let (a8, a_rest) = a.as_chunks::<8>();
        let (b8, b_rest) = b.as_chunks::<8>();
        let mut lanes = [0.0_f32; 8];
        for (a, b) in a8.iter().zip(b8) {
            for (lane, (a, b)) in lanes.iter_mut().zip(a.iter().zip(b)) {
                *lane += a * b;
            }
        }
        let rest: f32 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
        f64::from(lanes.iter().sum::<f32>() + rest)
    };
    a.chunks(PART).zip(b.chunks(PART)).map(part).sum()
}

impl Between {
    /// Holds `after` against `before`; `None` where their sizes differ. Called once a pair of neighbours, on
    /// the reading threads: keep it cheap.
    pub fn of(before: &Thin, after: &Thin) -> Option<Self> {
        if before.size != after.size || before.roots.is_empty() {
            return None;
        }
        let likeness = correlation(before, after, &after.roots);
        let turned = if likeness < TRIED_TURNED { turned(before, after) } else { f32::NAN };
        Some(Self { likeness, turned, fine: fine(before, after) })
    }
}

fn fine(before: &Thin, after: &Thin) -> f32 {
    let variance = |t: &Thin| t.squares / t.roots.len() as f64 - (t.sum / t.roots.len() as f64).powi(2);
    let all = variance(before).min(variance(after));
    let common = products(&before.fine, &after.fine) / before.fine.len().max(1) as f64;
    if common > 0.0 && all > 0.0 { (common / all).log2() as f32 } else { f32::NAN }
}

/// Structure is what stands out of its surroundings within so many pixels of a [`Thin`], and is wider than so
/// many.
const COARSE: usize = 5;
/// The finest structure stands out of its surroundings within so many.
const FINEST: usize = 2;
const FINE: usize = 1;
/// Structure below this standard deviation, in roots of full light, is none: two and a half codes.
const LEAST_STRUCTURE: f64 = 0.01;

fn turned(before: &Thin, after: &Thin) -> f32 {
    let (a, b) = (structure(before, FINE, COARSE), structure(after, FINE, COARSE));
    let n = a.len() as f64;
    let of = |x: &[f32], y: &mut dyn Iterator<Item = &f32>| {
        x.iter().zip(y).map(|(x, y)| f64::from(*x) * f64::from(*y)).sum::<f64>() / n
    };
    let (va, vb) = (of(&a, &mut a.iter()), of(&b, &mut b.iter()));
    if n < 1.0 || va.min(vb) < LEAST_STRUCTURE * LEAST_STRUCTURE {
        return f32::NAN;
    }
    (of(&a, &mut b.iter().rev()) / (va * vb).sqrt()) as f32
}

/// What stands out of its surroundings within `coarse` pixels and is wider than `fine`, but for the border;
/// empty where nothing is left.
fn structure(thin: &Thin, fine: usize, coarse: usize) -> Vec<f32> {
    let ((width, height), roots) = thin.roots();
    // Sums over everything above and to the left.
    let mut sums = vec![0.0_f64; (width + 1) * (height + 1)];
    for (y, row) in roots.chunks_exact(width.max(1)).enumerate().take(height) {
        let mut line = 0.0;
        for (x, root) in row.iter().enumerate() {
            line += f64::from(*root);
            sums[(y + 1) * (width + 1) + x + 1] = sums[y * (width + 1) + x + 1] + line;
        }
    }
    let mean = |x: usize, y: usize, half: usize| {
        let (left, right, top, low) = (x - half, x + half + 1, y - half, y + half + 1);
        let at = |x: usize, y: usize| sums[y * (width + 1) + x];
        (at(right, low) - at(left, low) - at(right, top) + at(left, top)) / ((2 * half + 1) as f64).powi(2)
    };
    (coarse..height.saturating_sub(coarse))
        .flat_map(|y| (coarse..width.saturating_sub(coarse)).map(move |x| (x, y)))
        .map(|(x, y)| (mean(x, y, fine) - mean(x, y, coarse)) as f32)
        .collect()
}

/// Pearson's correlation of the roots of the light, those of `after` in the order of `roots`.
fn correlation(before: &Thin, after: &Thin, roots: &[f32]) -> f32 {
    let n = before.roots.len() as f64;
    let product = products(&before.roots, roots);
    let spread = |t: &Thin| (t.squares / n - (t.sum / n) * (t.sum / n)).max(0.0);
    let (va, vb) = (spread(before), spread(after));
    if va < 1e-6 || vb < 1e-6 {
        return f32::NAN;
    }
    ((product / n - before.sum * after.sum / (n * n)) / (va * vb).sqrt()) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(light: impl Fn(usize, usize) -> f32) -> Thin {
        let (width, height) = (80, 60);
        let light = (0..width * height).map(|i| light(i % width, i / width)).collect();
        Thin::of(&Grey { width, height, light, reduced: 1 })
    }

    #[test]
    fn the_same_picture_is_alike_at_any_brightness_and_a_turned_one_is_not() {
        let gradient = |x: usize, y: usize| 0.02 + 0.005 * x as f32 + 0.001 * (y as f32).powi(2) / 10.0;
        let scene =
            |x: usize, y: usize| gradient(x, y) + if x / 7 * 5 % 3 + y / 6 % 2 == 1 { 0.2 } else { 0.0 };
        let (a, b) = (grey(scene), grey(|x, y| 0.4 * scene(x, y)));
        let turned = grey(|x, y| scene(79 - x, 59 - y));
        assert!(Between::of(&a, &b).expect("sizes agree").likeness > 0.999);
        let held = Between::of(&a, &turned).expect("sizes agree");
        assert!(held.likeness < 0.3 && held.turned > 0.9, "{held:?}");
        // Gradients that run the other way are no picture on its head.
        let smooth =
            Between::of(&grey(gradient), &grey(|x, y| gradient(79 - x, 59 - y))).expect("sizes agree");
        assert!(smooth.likeness < -0.5 && smooth.turned.is_nan(), "{smooth:?}");
        assert!(Between::of(&a, &b).expect("sizes agree").turned.is_nan(), "alike as they are");
        let flat = grey(|_, _| 0.3);
        assert!(Between::of(&a, &flat).expect("sizes agree").likeness.is_nan());
        let small = Thin::of(&Grey { width: 40, height: 60, light: vec![0.1; 2400], reduced: 1 });
        assert_eq!(Between::of(&a, &small), None);
    }
}
