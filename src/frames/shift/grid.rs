//! A small grey picture, as plain numbers.

/// A grey picture: rows from the top, each from the left. Any unit: only differences within the picture
/// count.
#[derive(Clone, Debug, PartialEq)]
pub struct Grid {
    width: usize,
    height: usize,
    values: Vec<f32>,
}

impl Grid {
    /// A picture of that many pixels each way; `None` where the values are not as many, or one of them is no
    /// number.
    pub fn new(width: usize, height: usize, values: Vec<f32>) -> Option<Self> {
        let whole = width.checked_mul(height) == Some(values.len()) && !values.is_empty();
        (whole && values.iter().all(|v| v.is_finite())).then_some(Self { width, height, values })
    }

    /// From linear light, 0 to 1, row by row. The square root of the light takes about the place of codes:
    /// dark parts keep their texture, bright ones do not outweigh them.
    pub fn of_light(width: usize, height: usize, light: &[f32]) -> Option<Self> {
        Self::new(width, height, light.iter().map(|v| v.max(0.0).sqrt() * 255.0).collect())
    }

    /// Pixels each way.
    pub fn size(&self) -> (usize, usize) {
        (self.width, self.height)
    }

    /// All values, row by row.
    pub fn values(&self) -> &[f32] {
        &self.values
    }

    /// One row, `y` below the height.
    pub(super) fn row(&self, y: usize) -> &[f32] {
        &self.values[y * self.width..(y + 1) * self.width]
    }

    /// The rows from `from` to before `end`; `None` where there are not so many.
    pub(super) fn rows(&self, from: usize, end: usize) -> Option<Self> {
        let values = self.values.get(from * self.width..end * self.width)?.to_vec();
        Self::new(self.width, end.checked_sub(from)?, values)
    }

    /// Mean over the picture.
    pub(super) fn mean(&self) -> f32 {
        let sum: f64 = self.values.iter().map(|v| f64::from(*v)).sum();
        (sum / self.values.len() as f64) as f32
    }

    /// Smoothed by the binomial (1 4 6 4 1)/16 each way: about a Gaussian of one pixel. Straight lines then
    /// go well from pixel to pixel, and the noise of a single one counts little.
    pub(super) fn smoothed(&self) -> Self {
        const HALF: [f32; 3] = [6.0 / 16.0, 4.0 / 16.0, 1.0 / 16.0];
        let (w, h) = (self.width, self.height);
        let mut across = vec![0.0; w * h];
        for y in 0..h {
            let row = self.row(y);
            let at = |x: isize| row[x.clamp(0, w as isize - 1) as usize];
            for (x, out) in across[y * w..(y + 1) * w].iter_mut().enumerate() {
                let x = x as isize;
                *out = if x >= 2 && x + 2 < w as isize {
                    let near = &row[x as usize - 2..x as usize + 3];
                    HALF[0] * near[2] + HALF[1] * (near[1] + near[3]) + HALF[2] * (near[0] + near[4])
                } else {
                    HALF[0] * at(x) + HALF[1] * (at(x - 1) + at(x + 1)) + HALF[2] * (at(x - 2) + at(x + 2))
                };
            }
        }
        let mut values = vec![0.0; w * h];
        for (y, out) in values.chunks_mut(w).enumerate() {
            let line = |d: isize| {
                let y = (y as isize + d).clamp(0, h as isize - 1) as usize;
                &across[y * w..(y + 1) * w]
            };
            let (a, b, c, d, e) = (line(-2), line(-1), line(0), line(1), line(2));
            for (x, out) in out.iter_mut().enumerate() {
                *out = HALF[0] * c[x] + HALF[1] * (b[x] + d[x]) + HALF[2] * (a[x] + e[x]);
            }
        }
        Self { width: w, height: h, values }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_no_picture() {
        assert!(Grid::new(2, 2, vec![0.0; 3]).is_none());
        assert!(Grid::new(0, 0, Vec::new()).is_none());
        assert!(Grid::new(1, 1, vec![f32::NAN]).is_none());
        assert!(Grid::new(usize::MAX, 2, vec![0.0; 4]).is_none());
    }

    #[test]
    fn from_light() {
        let grid = Grid::of_light(4, 1, &[0.0, 0.25, 1.0, -1.0]).expect("a picture");
        assert_eq!(grid.values(), [0.0, 127.5, 255.0, 0.0]);
        assert!(Grid::of_light(3, 2, &[0.0; 5]).is_none());
    }

    #[test]
    fn smoothing_keeps_a_flat_picture_and_the_sum_of_a_point() {
        let flat = Grid::new(7, 5, vec![3.0; 35]).expect("a picture").smoothed();
        assert!(flat.values().iter().all(|v| (v - 3.0).abs() < 1e-6));
        let mut point = vec![0.0; 81];
        point[40] = 256.0;
        let smooth = Grid::new(9, 9, point).expect("a picture").smoothed();
        assert_eq!(smooth.values()[40], 36.0);
        assert!((smooth.values().iter().sum::<f32>() - 256.0).abs() < 1e-3);
    }
}
