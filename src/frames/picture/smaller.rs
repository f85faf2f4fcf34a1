//! The smaller pictures that are made of one while its rows go by.

use super::between::Thin;
use super::grey::{Grey, WIDEST, WIDEST_FOLLOWED};
use crate::units::light::linear;

/// The smaller pictures that are made of one, row by row.
pub(crate) struct Smaller {
    /// A wide picture is shrunk first, all of it, and so is one that is kept.
    whole: Option<(Shrink, Vec<f32>)>,
    /// The one that is followed, where that is wider.
    followed: Option<Shrink>,
    /// Of a small picture every second row is enough for its neighbour.
    thin: Thinned,
    grey: bool,
}

impl Smaller {
    /// For a picture of that size, of which `grey` asks to keep the grey one.
    pub(crate) fn new(width: usize, height: usize, grey: bool) -> Self {
        let wide = width > WIDEST;
        let shrunk = || (Shrink::new(width, height, WIDEST), vec![0.0; width]);
        Self {
            whole: (wide || grey).then(shrunk),
            followed: (grey && wide).then(|| Shrink::new(width, height, WIDEST_FOLLOWED)),
            thin: Thinned::new(width, height),
            grey,
        }
    }

    /// Takes row `y`.
    pub(crate) fn row(&mut self, y: usize, row: &[[u8; 3]]) {
        if let Some((shrink, light)) = &mut self.whole {
            luminances(row, light);
            shrink.row(light);
            if let Some(followed) = &mut self.followed {
                followed.row(light);
            }
        } else if y.is_multiple_of(2) {
            self.thin.row(row);
        }
    }

    /// The picture for its neighbour, and the grey one where it is kept.
    pub(crate) fn done(self) -> (Thin, Option<Grey>) {
        let whole = self.whole.map(|(shrink, _)| shrink.done());
        let thin = whole.as_ref().map_or_else(|| self.thin.done(), Thin::of);
        (thin, self.followed.map(Shrink::done).or(whole.filter(|_| self.grey)))
    }
}

fn luminance(light: &[f32; 256], [r, g, b]: [u8; 3]) -> f32 {
    0.2126 * light[usize::from(r)] + 0.7152 * light[usize::from(g)] + 0.0722 * light[usize::from(b)]
}

fn luminances(row: &[[u8; 3]], out: &mut [f32]) {
    let light = linear();
    for (out, rgb) in out.iter_mut().zip(row) {
        *out = luminance(light, *rgb);
    }
}

/// Collects every second pixel of the rows that it is given.
struct Thinned {
    width: usize,
    height: usize,
    roots: Vec<f32>,
}

impl Thinned {
    fn new(width: usize, height: usize) -> Self {
        let roots = Vec::with_capacity(width.div_ceil(2) * height.div_ceil(2));
        Self { width, height, roots }
    }

    fn row(&mut self, row: &[[u8; 3]]) {
        let light = linear();
        self.roots.extend(row.iter().step_by(2).map(|rgb| luminance(light, *rgb)));
    }

    fn done(self) -> Thin {
        Thin::new((self.width, self.height), self.roots)
    }
}

/// Adds rows up to a grey picture no wider than is asked.
struct Shrink {
    by: usize,
    width: usize,
    height: usize,
    waiting: Vec<f32>,
    waiting_rows: usize,
    light: Vec<f32>,
}

impl Shrink {
    fn new(width: usize, height: usize, widest: usize) -> Self {
        let by = width.div_ceil(widest).max(1);
        let (width, height) = (width / by, height / by);
        Self {
            by,
            width,
            height,
            waiting: vec![0.0; width],
            waiting_rows: 0,
            light: Vec::with_capacity(width * height),
        }
    }

    fn row(&mut self, light: &[f32]) {
        if self.light.len() >= self.width * self.height {
            return;
        }
        if self.by == 1 {
            self.light.extend_from_slice(light);
            return;
        }
        for (sum, block) in self.waiting.iter_mut().zip(light.chunks_exact(self.by)) {
            *sum += block.iter().sum::<f32>();
        }
        self.waiting_rows += 1;
        if self.waiting_rows == self.by {
            let n = (self.by * self.by) as f32;
            self.light.extend(self.waiting.iter().map(|s| s / n));
            self.waiting.fill(0.0);
            self.waiting_rows = 0;
        }
    }

    fn done(self) -> Grey {
        Grey { width: self.width, height: self.height, light: self.light, reduced: self.by }
    }
}
