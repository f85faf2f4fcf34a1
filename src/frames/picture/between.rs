//! One picture held against the one before it in the card's order, while both are at hand.

use super::Grey;

/// What two neighbouring pictures show beside each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    /// How much they are the same picture in the same place: the correlation of their light, −1 to 1, whatever their brightness.
    /// NaN where one of them is flat.
    pub likeness: f32,
}

impl Between {
    /// Holds `after` against `before`; `None` where their sizes differ. Called once a pair of neighbours, on the reading
    /// threads: keep it cheap.
    pub fn of(before: &Grey, after: &Grey) -> Option<Self> {
        let same = (before.width, before.height) == (after.width, after.height);
        (same && !before.light.is_empty()).then(|| Self { likeness: likeness(before, after) })
    }
}

/// Pearson's correlation of the roots of the light, over every second pixel of every second row.
fn likeness(before: &Grey, after: &Grey) -> f32 {
    let (mut n, mut sa, mut sb, mut saa, mut sbb, mut sab) =
        (0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64);
    let rows = before.light.chunks_exact(before.width).zip(after.light.chunks_exact(after.width));
    for (a, b) in rows.step_by(2) {
        // Sums of a row stay short, so that single precision is enough for them.
        let mut row = [0.0_f32; 5];
        for (a, b) in a.iter().zip(b).step_by(2) {
            let (a, b) = (a.sqrt(), b.sqrt());
            row[0] += a;
            row[1] += b;
            row[2] += a * a;
            row[3] += b * b;
            row[4] += a * b;
        }
        n += before.width.div_ceil(2) as f64;
        let row = row.map(f64::from);
        (sa, sb, saa, sbb, sab) = (sa + row[0], sb + row[1], saa + row[2], sbb + row[3], sab + row[4]);
    }
    let spread = |s: f64, ss: f64| (ss / n - (s / n) * (s / n)).max(0.0);
    let (va, vb) = (spread(sa, saa), spread(sb, sbb));
    if va < 1e-6 || vb < 1e-6 {
        return f32::NAN;
    }
    ((sab / n - sa * sb / (n * n)) / (va * vb).sqrt()) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grey(light: impl Fn(usize, usize) -> f32) -> Grey {
        let (width, height) = (40, 30);
        let light = (0..width * height).map(|i| light(i % width, i / width)).collect();
        Grey { width, height, light, reduced: 1 }
    }

    #[test]
    fn the_same_picture_is_alike_at_any_brightness_and_a_turned_one_is_not() {
        let scene = |x: usize, y: usize| 0.02 + 0.01 * x as f32 + 0.004 * (y as f32).powi(2) / 10.0;
        let (a, b) = (grey(scene), grey(|x, y| 0.4 * scene(x, y)));
        let turned = grey(|x, y| scene(39 - x, 29 - y));
        assert!(Between::of(&a, &b).expect("sizes agree").likeness > 0.999);
        assert!(Between::of(&a, &turned).expect("sizes agree").likeness < -0.5);
        let flat = grey(|_, _| 0.3);
        assert!(Between::of(&a, &flat).expect("sizes agree").likeness.is_nan());
        let small = Grey { width: 20, height: 30, light: vec![0.1; 600], reduced: 1 };
        assert_eq!(Between::of(&a, &small), None);
    }
}
