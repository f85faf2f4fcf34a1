//! What the pictures of a card show: a drawn scene under changing light, and what stands before the lens.
//! Linear light throughout, sRGB at the end (IEC 61966-2-1).

use super::chance::Chance;

/// Width and height of every picture, px.
pub const SIZE: (usize, usize) = (160, 120);

/// What keeps the scene from the lens in one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cover {
    /// No light at all: the cap is on.
    Black,
    /// Far too much light.
    Blown,
    /// A side of something large: from which column to which, as shares of the width (may lie beyond), and
    /// how bright, linear.
    Box { left: f64, right: f64, top: f64, bright: f64 },
    /// A round thing near the lens: middle and radius as shares of the width, how bright.
    Blob { x: f64, y: f64, radius: f64, bright: f64 },
    /// A sheet over the lens from one side up to this share of the width.
    Sheet { to: f64, bright: f64 },
}

/// The pictures of a card, one a shot.
#[derive(Clone, Debug)]
pub struct Film {
    ground: Vec<f64>,
    clouds: Vec<f64>,
    /// Light of the scene beside the usual one, EV, by shot.
    pub light_ev: Vec<f64>,
    /// What the exposure lets in beside the usual one, EV, by shot.
    pub exposed_ev: Vec<f64>,
    /// Pixels by which clouds travel from frame to frame; 0 for a clear sky.
    pub wind: f64,
    /// How much clouds darken the ground, 0 to 1.
    pub shade: f64,
    pub cover: Vec<Option<Cover>>,
    /// How much water in the lower third glitters, another way in each frame: 0 for none.
    pub waves: f64,
    /// Small figures that pass: how many.
    pub people: u64,
    /// The frame from which on another scene is shown.
    pub turned_at: Option<usize>,
    seed: u64,
}

impl Film {
    /// A still scene in steady light for so many shots.
    pub fn new(chance: &mut Chance, shots: usize) -> Self {
        let seed = chance.next();
        let (width, height) = SIZE;
        let horizon = chance.between(0.25, 0.5) * height as f64;
        let rough = noise(seed, width, height, 7.0);
        let wide = noise(seed ^ 1, width, height, 31.0);
        let fine = noise(seed ^ 2, width, height, 2.6);
        let houses: Vec<(f64, f64, f64, f64)> = (0..chance.whole(2, 6))
            .map(|_| {
                let left = chance.between(-0.1, 0.95) * width as f64;
                let wide = chance.between(0.06, 0.25) * width as f64;
                (left, left + wide, horizon - chance.between(4.0, 30.0), chance.spread(0.03, 0.5))
            })
            .collect();
        let ground = (0..width * height)
            .map(|at| {
                let (x, y) = ((at % width) as f64, (at / width) as f64);
                let texture = 0.5 * wide[at] + 0.3 * rough[at] + 0.2 * fine[at];
                let house = houses.iter().find(|h| x >= h.0 && x < h.1 && y >= h.2 && y < horizon + 14.0);
                if let Some(house) = house {
                    let window = ((x - house.0) as i64 % 5 < 2) && (y as i64 % 6 < 3);
                    return house.3 * if window { 0.3 } else { 1.0 } * (0.8 + 0.4 * fine[at]);
                }
                if y < horizon { 0.35 + 0.25 * y / horizon } else { 0.02 + 0.3 * texture * texture }
            })
            .collect();
        Self {
            ground,
            clouds: noise(seed ^ 3, 4 * width, height, 40.0),
            light_ev: vec![0.0; shots],
            exposed_ev: vec![0.0; shots],
            wind: 0.0,
            shade: 0.0,
            cover: vec![None; shots],
            waves: 0.0,
            people: 0,
            turned_at: None,
            seed,
        }
    }

    /// The picture of shot `at`: red, green and blue codes, row by row.
    pub fn picture(&self, at: usize) -> Vec<u8> {
        let (width, height) = SIZE;
        let mut grain = Chance::of("grain", self.seed ^ at as u64);
        let gain = (self.light_ev[at] + self.exposed_ev[at]).exp2();
        let exposed = self.exposed_ev[at].exp2();
        let turned = self.turned_at.is_some_and(|from| at >= from);
        let walkers: Vec<(f64, f64)> = (0..self.people)
            .map(|n| {
                let pace = 1.5 + n as f64;
                ((23.0 * n as f64 + pace * at as f64) % (width as f64 + 20.0) - 10.0, 0.6 + 0.05 * n as f64)
            })
            .collect();
        let water = 2 * height / 3;
        let waves = noise(self.seed ^ (at as u64 + 1000), width, height - water, 6.0);
        let mut out = Vec::with_capacity(width * height * 3);
        for y in 0..height {
            for x in 0..width {
                let from =
                    if turned { (height - 1 - y) / 2 * width + (x * 7 + 31) % width } else { y * width + x };
                let drift = (x as f64 + self.wind * at as f64) as usize % (4 * width);
                let cloud = self.clouds[y * 4 * width + drift];
                let mut light = self.ground[from];
                if self.wind > 0.0 {
                    light *= 1.0 - self.shade * cloud;
                }
                if self.waves > 0.0 && y >= water {
                    let crest = waves[(y - water) * width + x];
                    light = 0.04 + 0.2 * self.waves * crest * crest;
                }
                let walker = walkers
                    .iter()
                    .any(|w| (x as f64 - w.0).abs() < 3.0 && (y as f64 / height as f64 - w.1).abs() < 0.07);
                if walker {
                    light = 0.03;
                }
                let seen = self.covered(at, x, y, light * gain, exposed);
                let noisy = seen * (1.0 + 0.02 * (grain.unit() - 0.5)) + 0.0006 * grain.unit();
                for tint in [1.02, 1.0, 0.95] {
                    out.push(code(noisy * tint));
                }
            }
        }
        out
    }

    /// The light of a pixel with what stands before it.
    fn covered(&self, at: usize, x: usize, y: usize, scene: f64, exposed: f64) -> f64 {
        let (u, v) = (x as f64 / SIZE.0 as f64, y as f64 / SIZE.0 as f64);
        match self.cover[at] {
            None => scene,
            Some(Cover::Black) => 0.0004,
            Some(Cover::Blown) => 3.0,
            Some(Cover::Box { left, right, top, bright }) => {
                if u < left || u > right || v < top {
                    return scene;
                }
                let stripe = if ((u - left) * 40.0) as i64 % 9 == 0 { 0.6 } else { 1.0 };
                bright * stripe * exposed
            }
            Some(Cover::Blob { x, y, radius, bright }) => {
                let far = ((u - x).powi(2) + (v - y).powi(2)).sqrt();
                // Out of focus: the edge is soft.
                let hides = ((radius - far) / (0.15 * radius) + 0.5).clamp(0.0, 1.0);
                scene * (1.0 - hides) + bright * exposed * hides
            }
            Some(Cover::Sheet { to, bright }) => {
                let hides = ((to - u) / 0.06 + 0.5).clamp(0.0, 1.0);
                scene * (1.0 - hides) + bright * exposed * (1.0 - 0.2 * v) * hides
            }
        }
    }
}

/// The sRGB code of a linear value.
fn code(linear: f64) -> u8 {
    let l = linear.clamp(0.0, 1.0);
    let coded = if l <= 0.003_130_8 { 12.92 * l } else { 1.055 * l.powf(1.0 / 2.4) - 0.055 };
    (255.0 * coded).round() as u8
}

/// Smooth noise from 0 to 1 with bumps of `scale` px.
fn noise(seed: u64, width: usize, height: usize, scale: f64) -> Vec<f64> {
    let mut chance = Chance::of("noise", seed);
    let (columns, rows) = ((width as f64 / scale) as usize + 2, (height as f64 / scale) as usize + 2);
    let knots: Vec<f64> = (0..columns * rows).map(|_| chance.unit()).collect();
    let smooth = |t: f64| t * t * (3.0 - 2.0 * t);
    (0..width * height)
        .map(|at| {
            let (x, y) = ((at % width) as f64 / scale, (at / width) as f64 / scale);
            let (i, j) = (x as usize, y as usize);
            let (s, t) = (smooth(x - i as f64), smooth(y - j as f64));
            // The last column is the first again, so that clouds can go round.
            let knot = |i: usize, j: usize| knots[j * columns + i % (columns - 1)];
            let upper = knot(i, j) * (1.0 - s) + knot(i + 1, j) * s;
            let lower = knot(i, j + 1) * (1.0 - s) + knot(i + 1, j + 1) * s;
            upper * (1.0 - t) + lower * t
        })
        .collect()
}
