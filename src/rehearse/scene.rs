//! A drawn scene: sky, hills, a bay with boats and lamps, rocks in front. It changes with the time of day,
//! its layers pass one another as the carriage travels, and its brightness is set in linear light, so that
//! exposure and light add up as in a camera.

use super::chance::mix;
use image::{Rgb, RgbImage};

/// Linear light: red, green, blue; 1 is the brightest that a picture holds.
type Light = [f32; 3];

/// Mean luminance of a well exposed picture: middle grey.
pub const MIDDLE_GREY: f64 = 0.18;
/// Side of the texture tile; a power of two.
const TILE: usize = 256;
/// How far each layer passes for a millimetre of travel, in widths of the picture: far hills, bay,
/// foreground.
const PASSES: [f64; 3] = [0.000_02, 0.000_15, 0.001];
/// Places in the curve table from linear light to codes.
const CURVE: usize = 4096;

/// What one picture shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Time of day, hours, 0 to 24.
    pub hour: f64,
    /// Time since the run began, s: clouds and boats go by it.
    pub elapsed_s: f64,
    /// Where the carriage stands, mm.
    pub carriage_mm: f64,
    /// Brightness over a well exposed picture, EV.
    pub brightness_ev: f64,
    /// Sensitivity, for the noise.
    pub iso: f64,
    /// Radius of the blur, pixels.
    pub blur_px: f64,
    /// By how much everything lies further down and to the right, pixels: a camera that was knocked.
    pub askew_px: f64,
    /// How far a lorry has come on its way past, 0 to 1, where there is one.
    pub lorry: Option<f64>,
    /// Number of the shot: its noise is its own.
    pub shot: u64,
}

/// A scene, made from a seed.
#[derive(Clone, Debug)]
pub struct Scene {
    size: (u32, u32),
    seed: u64,
    /// Cloud and ground texture, 0 to 1, that repeats at its edges.
    tile: Vec<f32>,
    /// sRGB code at each square root of linear light.
    curve: Vec<u8>,
    /// Places of the lamps along the shore, in widths, and how high they stand, in heights.
    lamps: Vec<(f64, f64)>,
}

/// Uniform in [0, 1) from whole numbers.
fn hash(seed: u64, a: u64, b: u64) -> f64 {
    (mix(seed ^ mix(a.wrapping_mul(0x9E37_79B9).wrapping_add(b << 32))) >> 40) as f64 / (1_u64 << 24) as f64
}

fn blend(a: Light, b: Light, share: f32) -> Light {
    [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share, a[2] + (b[2] - a[2]) * share]
}

fn smooth(low: f64, high: f64, x: f64) -> f64 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Relative luminance, BT.709 weights.
fn luminance(light: Light) -> f64 {
    0.2126 * f64::from(light[0]) + 0.7152 * f64::from(light[1]) + 0.0722 * f64::from(light[2])
}

/// sRGB code of linear light (IEC 61966-2-1).
fn code(light: f64) -> u8 {
    let light = light.clamp(0.0, 1.0);
    let v = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (v * 255.0).round() as u8
}

/// The point of the repeating tile at or before a place, and how far behind it the place lies. Whole numbers
/// do that in less time than `floor` and `rem_euclid`, where processors of any age are built for.
fn placed(at: f64) -> (usize, f32) {
    let cut = at as i64;
    let floor = if cut as f64 > at { cut - 1 } else { cut };
    (floor.rem_euclid(TILE as i64) as usize, (at - floor as f64) as f32)
}

/// Day, dusk and night, as shares that add up to 1.
fn shares(hour: f64) -> (f32, f32) {
    let height = (std::f64::consts::PI * (hour - 6.0) / 12.0).sin();
    let day = smooth(0.0, 0.35, height);
    let night = smooth(0.02, -0.28, height);
    (day as f32, night as f32)
}

fn of_the_hour(hour: f64, day: Light, dusk: Light, night: Light) -> Light {
    let (d, n) = shares(hour);
    blend(blend(dusk, day, d), night, n)
}

/// Texture that repeats: four octaves of smoothed lattice values.
fn texture(seed: u64) -> Vec<f32> {
    let mut tile = vec![0.0_f32; TILE * TILE];
    for (i, value) in tile.iter_mut().enumerate() {
        let (x, y) = (i % TILE, i / TILE);
        for (octave, weight) in [(8_usize, 0.5), (16, 0.25), (32, 0.15), (64, 0.1)] {
            let cell = TILE / octave;
            let at =
                |x: usize, y: usize| hash(seed ^ octave as u64, (x % octave) as u64, (y % octave) as u64);
            let (fx, fy) = ((x % cell) as f64 / cell as f64, (y % cell) as f64 / cell as f64);
            let (sx, sy) = (smooth(0.0, 1.0, fx), smooth(0.0, 1.0, fy));
            let (cx, cy) = (x / cell, y / cell);
            let top = at(cx, cy) + (at(cx + 1, cy) - at(cx, cy)) * sx;
            let low = at(cx, cy + 1) + (at(cx + 1, cy + 1) - at(cx, cy + 1)) * sx;
            *value += (weight * (top + (low - top) * sy)) as f32;
        }
    }
    tile
}

impl Scene {
    /// The scene of that seed, drawn at `size` pixels.
    pub fn new(seed: u64, size: (u32, u32)) -> Self {
        let curve = (0..CURVE)
            .map(|i| {
                let root = i as f64 / (CURVE - 1) as f64;
                code(root * root)
            })
            .collect();
        let lamps = (0..9).map(|i| (hash(seed, 77, i) * 1.6 - 0.3, hash(seed, 78, i) * 0.05)).collect();
        Self { size, seed, tile: texture(seed), curve, lamps }
    }

    /// The texture at a place of the tile, between its points.
    fn at(&self, u: f64, v: f64) -> f32 {
        let ((x, du), (y, dv)) = (placed(u), placed(v));
        let get =
            |x: usize, y: usize| self.tile.get((y % TILE) * TILE + x % TILE).copied().unwrap_or_default();
        let top = get(x, y) + (get(x + 1, y) - get(x, y)) * du;
        let low = get(x, y + 1) + (get(x + 1, y + 1) - get(x, y + 1)) * du;
        top + (low - top) * dv
    }

    /// Height of a layer's upper edge, in heights of the picture from the top, `x` in widths.
    fn ridge(&self, layer: usize, x: f64) -> f64 {
        let (base, rise, scale) = match layer {
            0 => (0.56, 0.30, 90.0),
            1 => (0.66, 0.015, 150.0),
            _ => (0.99, 0.42, 220.0),
        };
        base - rise * (f64::from(self.at(x * scale, 40.0 + 71.0 * layer as f64)) - 0.35)
    }

    /// One flat grey of the right brightness, for rehearsals that need no drawing.
    pub fn flat(&self, brightness_ev: f64) -> RgbImage {
        let grey = code(MIDDLE_GREY * brightness_ev.exp2());
        RgbImage::from_pixel(self.size.0, self.size.1, Rgb([grey; 3]))
    }

    /// Draws a view.
    pub fn draw(&self, view: &View) -> RgbImage {
        let mut light = self.paint(view);
        self.lamps_and_boats(view, &mut light);
        if let Some(way) = view.lorry {
            self.lorry(view, way, &mut light);
        }
        let radius = view.blur_px.round() as usize;
        if radius > 0 {
            blur(&mut light, self.size.0 as usize, radius);
        }
        let gain = gain(&light, MIDDLE_GREY * view.brightness_ev.exp2());
        let grain = (0.004 * (view.iso / 100.0).sqrt().min(4.0)) as f32;
        let mut picture = RgbImage::new(self.size.0, self.size.1);
        for (i, (pixel, light)) in picture.pixels_mut().zip(&light).enumerate() {
            let mut bits = mix(self.seed ^ mix(view.shot.wrapping_mul(0x1_0000_0001).wrapping_add(i as u64)));
            let mut next = || {
                let value = (bits & 0xFFFF) as f32 / 65_536.0 - 0.5;
                bits >>= 16;
                value
            };
            let common = next();
            pixel.0 = light.map(|l| {
                let l = l * gain;
                // Photon noise goes with the root of the light; most of it is common to the three colours
                // after a camera's own smoothing.
                self.encode(l + grain * l.max(0.0).sqrt() * (2.5 * common + next()))
            });
        }
        picture
    }

    fn encode(&self, light: f32) -> u8 {
        let at = (light.clamp(0.0, 1.0).sqrt() * (CURVE - 1) as f32 + 0.5) as usize;
        self.curve.get(at).copied().unwrap_or(255)
    }

    /// Sky and land.
    fn paint(&self, view: &View) -> Vec<Light> {
        let (w, h) = (self.size.0 as usize, self.size.1 as usize);
        let hour = view.hour;
        let top = of_the_hour(hour, [0.12, 0.24, 0.52], [0.12, 0.13, 0.30], [0.020, 0.026, 0.060]);
        let low = of_the_hour(hour, [0.50, 0.58, 0.66], [0.62, 0.36, 0.20], [0.060, 0.065, 0.090]);
        let cloud = of_the_hour(hour, [0.72, 0.73, 0.75], [0.55, 0.34, 0.30], [0.075, 0.075, 0.090]);
        let far = of_the_hour(hour, [0.17, 0.21, 0.25], [0.16, 0.12, 0.15], [0.022, 0.025, 0.040]);
        let water = of_the_hour(hour, [0.17, 0.23, 0.27], [0.20, 0.14, 0.14], [0.022, 0.026, 0.042]);
        let near = of_the_hour(hour, [0.09, 0.08, 0.05], [0.04, 0.035, 0.03], [0.009, 0.010, 0.012]);
        let land = [far, water, near];
        let mut light = vec![[0.0; 3]; w * h];
        for x in 0..w {
            let across = (x as f64 - view.askew_px) / w as f64;
            let world = PASSES.map(|p| across + p * view.carriage_mm);
            let edges = [0, 1, 2].map(|layer: usize| {
                self.ridge(layer, world.get(layer).copied().unwrap_or(across)) * h as f64 + view.askew_px
            });
            for y in 0..h {
                let down = (y as f64 - view.askew_px) / h as f64;
                let layer = (0..3).rev().find(|l| edges.get(*l).is_some_and(|e| y as f64 >= *e));
                let colour = match layer {
                    None => {
                        let sky = blend(top, low, (down / 0.6).min(1.0) as f32);
                        let drift = view.elapsed_s * 0.02;
                        let puff = self.at(across * 110.0 + drift, down * 240.0 + drift * 0.07);
                        blend(sky, cloud, (smooth(0.5, 0.72, f64::from(puff)) * 0.75) as f32)
                    }
                    Some(l) => {
                        let edge = edges.get(l).copied().unwrap_or_default();
                        let scale = 160.0 + 60.0 * l as f64;
                        let u = world.get(l).copied().unwrap_or(across) * scale;
                        let depth = (y as f64 - edge) / h as f64 * scale;
                        // Water lies in long flat ripples that run with the time.
                        let grain = if l == 1 {
                            self.at(u * 0.5 + view.elapsed_s * 0.05, depth * 4.0 - view.elapsed_s * 0.03)
                        } else {
                            self.at(u, depth * 1.7 + 90.0 * l as f64)
                        };
                        land.get(l).copied().unwrap_or_default().map(|c| c * (0.45 + 1.1 * grain))
                    }
                };
                if let Some(place) = light.get_mut(y * w + x) {
                    *place = colour;
                }
            }
        }
        light
    }

    /// A lorry on the road in front, on its way from left to right: a box with a lighter load, a dark cab and
    /// wheels.
    fn lorry(&self, view: &View, way: f64, light: &mut [Light]) {
        let (w, h) = (self.size.0 as usize, self.size.1 as usize);
        let body = of_the_hour(view.hour, [0.42, 0.10, 0.08], [0.20, 0.06, 0.05], [0.03, 0.012, 0.010]);
        let load = of_the_hour(view.hour, [0.55, 0.54, 0.50], [0.30, 0.24, 0.20], [0.04, 0.04, 0.04]);
        let dark = body.map(|c| 0.15 * c);
        let front = 1.4 * way;
        for y in 0..h {
            for x in 0..w {
                let from_front = front - x as f64 / w as f64;
                let down = y as f64 / h as f64;
                let colour = match (from_front, down) {
                    (0.0..0.40, 0.88..0.94) if (from_front * 8.0).fract() < 0.4 => dark,
                    (0.02..0.07, 0.58..0.72) => dark,
                    (0.0..0.10, 0.55..0.90) => body,
                    (0.11..0.40, 0.45..0.90) if (from_front * 24.0).fract() < 0.85 => load,
                    (0.0..0.40, 0.84..0.90) => dark,
                    _ => continue,
                };
                if let Some(place) = light.get_mut(y * w + x) {
                    *place = colour;
                }
            }
        }
    }

    /// Lamps that are lit by night along the far shore, and two boats in the bay.
    fn lamps_and_boats(&self, view: &View, light: &mut [Light]) {
        let (w, h) = (f64::from(self.size.0), f64::from(self.size.1));
        let night = shares(view.hour).1;
        let shift = PASSES[1] * view.carriage_mm;
        // An ellipse with soft edges; place in widths and heights, half axes in heights.
        let mut spot = |x: f64, y: f64, (rx, ry): (f64, f64), colour: Light, share: f32| {
            let (x, y) = (x * w + view.askew_px, y * h + view.askew_px);
            let (rx, ry) = ((rx * h).max(0.6), (ry * h).max(0.6));
            let (reach_x, reach_y) = (rx.ceil() as i64 + 1, ry.ceil() as i64 + 1);
            for py in y as i64 - reach_y..=y as i64 + reach_y {
                for px in x as i64 - reach_x..=x as i64 + reach_x {
                    let (dx, dy) = ((px as f64 + 0.5 - x) / rx, (py as f64 + 0.5 - y) / ry);
                    let soft = 0.6 / rx.min(ry);
                    let near = smooth(1.0 + soft, 1.0 - soft, (dx * dx + dy * dy).sqrt()) as f32 * share;
                    if near <= 0.0 || px < 0 || py < 0 || px >= w as i64 || py >= h as i64 {
                        continue;
                    }
                    if let Some(place) = light.get_mut(py as usize * w as usize + px as usize) {
                        *place = blend(*place, colour, near);
                    }
                }
            }
        };
        for (x, up) in &self.lamps {
            let shore = self.ridge(1, *x) - 0.01;
            spot(x - shift, shore - up, (0.006, 0.006), [0.50, 0.36, 0.16], night);
            spot(x - shift, shore + 0.03 + up, (0.004, 0.02), [0.20, 0.14, 0.07], night * 0.6);
        }
        let hull = of_the_hour(view.hour, [0.10, 0.04, 0.03], [0.05, 0.03, 0.03], [0.012, 0.010, 0.010]);
        let sail = of_the_hour(view.hour, [0.60, 0.58, 0.52], [0.40, 0.25, 0.18], [0.05, 0.05, 0.06]);
        for (pace, from, y) in [(0.000_31, 0.1, 0.73), (-0.000_22, 0.8, 0.76)] {
            let x = (from + pace * view.elapsed_s - shift).rem_euclid(1.3) - 0.15;
            spot(x, y, (0.032, 0.008), hull, 1.0);
            spot(x - 0.003, y - 0.035, (0.011, 0.027), sail, 1.0);
            spot(x, y - 0.065, (0.004, 0.004), [0.45, 0.42, 0.30], night);
        }
    }
}

/// Factor that brings the mean luminance to `target` once the highlights are cut off at 1.
fn gain(light: &[Light], target: f64) -> f32 {
    let n = light.len().max(1) as f64;
    let mean = light.iter().map(|l| luminance(*l)).sum::<f64>() / n;
    let target = target.min(0.97);
    let mut gain = target / mean.max(1e-9);
    for _ in 0..4 {
        let cut = |l: &Light| luminance(l.map(|c| (c * gain as f32).min(1.0)));
        let got = light.iter().map(cut).sum::<f64>() / n;
        gain *= target / got.max(1e-9);
    }
    gain as f32
}

/// Two passes of a box of that radius along each direction.
fn blur(light: &mut [Light], width: usize, radius: usize) {
    let height = light.len() / width.max(1);
    for _ in 0..2 {
        for (lines, length, step, stride) in [(height, width, 1, width), (width, height, width, 1)] {
            for line in 0..lines {
                let at = |i: usize| line * stride + i * step;
                let before: Vec<Light> =
                    (0..length).map(|i| light.get(at(i)).copied().unwrap_or_default()).collect();
                for i in 0..length {
                    let window = before.get(i.saturating_sub(radius)..(i + radius + 1).min(length));
                    let window = window.unwrap_or_default();
                    let sum = window.iter().fold([0.0; 3], |s, l| [s[0] + l[0], s[1] + l[1], s[2] + l[2]]);
                    if let Some(place) = light.get_mut(at(i)) {
                        *place = sum.map(|c| c / window.len().max(1) as f32);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
#[path = "scene_tests.rs"]
mod tests;
