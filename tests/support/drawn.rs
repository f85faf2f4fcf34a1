//! Cards of pictures drawn for the tests: a place, its light, and what passes before the lens. They share
//! nothing with the rehearsals' scene but the Exif blocks of a locked run.

use image::{Rgb, RgbImage};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::walk;
use lapseproof::frames::Pictures;
use lapseproof::frames::read_until;
use lapseproof::plan::{ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::{Options, jpeg, rehearse};
use std::sync::atomic::AtomicBool;

/// Width and height of the pictures, px.
pub const SIZE: (usize, usize) = (160, 108);
/// The place is drawn so much wider: a camera may travel along it.
const WIDE: usize = 400;

/// Uniform in [0, 1) from whole numbers.
pub fn chance(seed: u64, a: u64, b: u64) -> f32 {
    let mut x = seed ^ a.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ b.wrapping_mul(0xC2B2_AE3D_27D4_EB4F);
    for _ in 0..2 {
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^= x >> 31;
    }
    (x >> 40) as f32 / (1_u64 << 24) as f32
}

fn smooth(seed: u64, x: f32, y: f32) -> f32 {
    let (x0, y0) = (x.floor(), y.floor());
    let ease = |t: f32| t * t * (3.0 - 2.0 * t);
    let (fx, fy) = (ease(x - x0), ease(y - y0));
    let at = |dx: i64, dy: i64| chance(seed, (x0 as i64 + dx) as u64, (y0 as i64 + dy) as u64);
    let top = at(0, 0) * (1.0 - fx) + at(1, 0) * fx;
    let low = at(0, 1) * (1.0 - fx) + at(1, 1) * fx;
    top * (1.0 - fy) + low * fy
}

/// Texture of three octaves around 0.5.
fn texture(seed: u64, x: f32, y: f32) -> f32 {
    0.5 * smooth(seed, x / 16.0, y / 16.0)
        + 0.3 * smooth(seed + 1, x / 7.0, y / 7.0)
        + 0.2 * smooth(seed + 2, x / 3.0, y / 3.0)
}

type Light = [f32; 3];

/// A place, in linear light.
pub struct Place {
    light: Vec<Light>,
    sky: Vec<bool>,
}

impl Place {
    /// A town, open land or a shore, by the seed.
    pub fn new(seed: u64) -> Self {
        let (w, h) = (WIDE, SIZE.1);
        let style = seed % 3;
        let horizon = match style {
            0 => 0.2 + 0.15 * chance(seed, 1, 0),
            _ => 0.35 + 0.2 * chance(seed, 1, 0),
        } * h as f32;
        let mut light = vec![[0.0; 3]; w * h];
        let mut sky = vec![false; w * h];
        for (i, out) in light.iter_mut().enumerate() {
            let (x, y) = ((i % w) as f32, (i / w) as f32);
            let ridge = horizon - 14.0 * (smooth(seed + 9, x / 40.0, 0.0) - 0.3);
            if y < ridge {
                let t = (y / horizon).clamp(0.0, 1.0);
                *out = [0.16 + 0.25 * t, 0.26 + 0.25 * t, 0.50 + 0.15 * t];
                sky[i] = true;
                continue;
            }
            let t = texture(seed + 20, x, y);
            let deep = (y - ridge) / h as f32;
            *out = match style {
                // Water: long flat ripples, and rocks in front.
                2 if deep < 0.3 => {
                    let ripple = 0.85 + 0.3 * smooth(seed + 30, x / 30.0, y / 2.0);
                    [0.08 * ripple, 0.13 * ripple, 0.17 * ripple]
                }
                _ => {
                    let v = 0.02 + 0.35 * t * t;
                    [v * 0.9, v, v * 0.5]
                }
            };
        }
        if style == 0 {
            for house in 0..34_u64 {
                let of = |k: u64| chance(seed, 100 + house, k);
                let (left, wide) = (of(0) * w as f32, 14.0 + 24.0 * of(1));
                let (top, high) = (horizon * (0.6 + 0.9 * of(2)) + 30.0 * of(6), 18.0 + 40.0 * of(3));
                let wall = 0.04 + 0.45 * of(4) * of(4);
                for y in top as usize..((top + high) as usize).min(h) {
                    for x in left as usize..((left + wide) as usize).min(w) {
                        let window = (x / 3) % 2 == 1 && (y / 4) % 2 == 1;
                        let v = if window { wall * 0.35 } else { wall };
                        light[y * w + x] = [v, v * (0.8 + 0.2 * of(5)), v * 0.8];
                        sky[y * w + x] = false;
                    }
                }
            }
        }
        Self { light, sky }
    }
}

/// What the air and the light do in one picture.
#[derive(Clone, Copy, Default)]
pub struct Air {
    /// Light over that of the place, EV.
    pub ev: f32,
    /// How warm it is: red gains and blue loses, EV.
    pub warm_ev: f32,
    /// How far the clouds have come, px; `None` for a clear sky.
    pub clouds: Option<f32>,
    /// Left edge and width of a cloud's shadow on the ground, px.
    pub shadow: Option<(f32, f32)>,
    /// Share of mist in everything.
    pub mist: f32,
}

/// What stands before the lens, and from which side it reaches how far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Thing {
    /// A painted side with panels, a stripe and wheels.
    Lorry,
    /// Skin out of focus, with a soft uneven edge.
    Hand,
    /// White and flat.
    Paper,
    /// Nearly black.
    Cloth,
}

/// One picture: place, where the camera looks, air, and things.
pub struct Shown<'a> {
    /// The place.
    pub place: &'a Place,
    /// How far the camera has come, px.
    pub at: f32,
    /// The air.
    pub air: Air,
    /// What stands before the lens: share of the picture, side (0 left, 1 right, 2 top, 3 below).
    pub before: Option<(Thing, f32, u8)>,
    /// Small things that pass: left, top, width, height, px, and their light.
    pub passing: Vec<(f32, f32, f32, f32, f32)>,
    /// Seed of what is by chance.
    pub seed: u64,
    /// Number of the picture: its noise is its own.
    pub shot: u64,
}

impl Shown<'_> {
    /// Draws it.
    pub fn draw(&self) -> RgbImage {
        let (w, h) = SIZE;
        let (whole, part) = (self.at.floor() as usize, self.at.fract());
        let gain = self.air.ev.exp2();
        let gains = [gain * self.air.warm_ev.exp2(), gain, gain * (-self.air.warm_ev).exp2()];
        let mut picture = RgbImage::new(w as u32, h as u32);
        for (i, pixel) in picture.pixels_mut().enumerate() {
            let (x, y) = (i % w, i / w);
            let at = y * WIDE + (x + whole).min(WIDE - 2);
            let (a, b) = (self.place.light[at], self.place.light[at + 1]);
            let mut light: Light = std::array::from_fn(|c| a[c] + (b[c] - a[c]) * part);
            let sky = self.place.sky[at];
            if let (true, Some(moved)) = (sky, self.air.clouds) {
                let t = texture(self.seed + 50, (x as f32 + self.at - moved) / 2.0, y as f32);
                let cloud = ((t - 0.48) * 8.0).clamp(0.0, 1.0);
                light = light.map(|l| l + (0.75 - l) * cloud);
            }
            if let (false, Some((left, wide))) = (sky, self.air.shadow) {
                let far = (x as f32 - left).min(left + wide - x as f32);
                light = light.map(|l| l * (-1.6 * (far / 6.0).clamp(0.0, 1.0)).exp2());
            }
            light = light.map(|l| l + (0.3 - l) * self.air.mist);
            for (left, top, wide, high, bright) in &self.passing {
                let inside = (*left..*left + *wide).contains(&(x as f32))
                    && (*top..*top + *high).contains(&(y as f32));
                if inside {
                    light = [*bright, *bright * 0.9, *bright * 0.8];
                }
            }
            if let Some((thing, share, side)) = self.before {
                light = before(thing, share, side, self.seed, (x, y), light);
            }
            let noise = 1.6 * (chance(self.seed ^ self.shot.wrapping_mul(7919), i as u64, 5) - 0.5);
            *pixel = Rgb(std::array::from_fn(|c| {
                let l = (light[c] * gains[c]).clamp(0.0, 1.0);
                let v = if l <= 0.003_130_8 { 12.92 * l } else { 1.055 * l.powf(1.0 / 2.4) - 0.055 };
                (v * 255.0 + noise).round().clamp(0.0, 255.0) as u8
            }));
        }
        picture
    }
}

fn before(thing: Thing, share: f32, side: u8, seed: u64, (x, y): (usize, usize), light: Light) -> Light {
    let (w, h) = (SIZE.0 as f32, SIZE.1 as f32);
    let (x, y) = (x as f32 + 0.5, y as f32 + 0.5);
    // How deep into the thing this pixel lies, px, and where along its edge.
    let (mut deep, along) = match side {
        0 => (share * w - x, y),
        1 => (x - (1.0 - share) * w, y),
        2 => (share * h - y, x),
        _ => (y - (1.0 - share) * h, x),
    };
    if thing == Thing::Hand && share < 1.0 {
        deep += 3.0 * (along / 9.0).sin();
    }
    let soft = if thing == Thing::Hand { 3.0 } else { 0.5 };
    let cover = (deep / soft + 0.5).clamp(0.0, 1.0);
    if cover <= 0.0 {
        return light;
    }
    let of = match thing {
        Thing::Lorry => {
            let paint = 0.05 + 0.5 * chance(seed, 300, 0);
            let panel = if (x as usize).is_multiple_of(23) { 0.6 } else { 1.0 };
            let stripe = if (0.3..0.38).contains(&(y / h)) { 0.3 } else { 1.0 };
            let v = paint * panel * stripe * (1.1 - 0.3 * y / h);
            [v, v * (0.3 + 0.7 * chance(seed, 300, 1)), v * (0.3 + 0.7 * chance(seed, 300, 2))]
        }
        Thing::Hand => {
            let v = 0.7 + 0.5 * smooth(seed + 70, x / 50.0, y / 50.0);
            [0.42 * v, 0.25 * v, 0.17 * v]
        }
        Thing::Paper => {
            let v = 0.78 + 0.1 * (x + y) / (w + h);
            [v, v, v * 0.97]
        }
        Thing::Cloth => {
            let v = 0.012 + 0.01 * smooth(seed + 80, x / 6.0, y / 6.0);
            [v, v, v * 1.1]
        }
    };
    std::array::from_fn(|c| light[c] + (of[c] - light[c]) * cover)
}

/// A locked run in daylight: 1/125 s, f/8, ISO 100 is EV 13.
pub fn daylight(frames: u64) -> Plan {
    Plan {
        interval_s: Some(5.0),
        frames: Some(frames),
        exposure: ExposurePlan {
            mode: Some(ExposureMode::Locked),
            shutter_s: Some(Planned::Fixed(1.0 / 125.0)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(100.0)),
            ..ExposurePlan::default()
        },
        ..Plan::default()
    }
}

/// Audits a run of which each picture is drawn by `draw`, through real JPEG files.
pub fn shot(plan: &Plan, draw: impl Fn(usize) -> RgbImage) -> Audit {
    let dir = tempfile::tempdir().expect("a folder");
    let into = dir.path().join("run");
    let options = Options { picture: (160, 108), thumbnail: (16, 16), draw: false, ..Options::default() };
    rehearse(plan, &[], &options, &into).expect("rehearsed");
    let folder = std::fs::read_dir(into.join("frames")).expect("a folder");
    let mut paths: Vec<_> = folder.flatten().map(|e| e.path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "JPG"));
    paths.sort();
    for (k, path) in paths.iter().enumerate() {
        let bytes = std::fs::read(path).expect("read");
        let encoded = jpeg::encode(&draw(k), 88).expect("encoded");
        // The Exif segment is the first one; its block begins behind marker, length and name.
        let end = 4 + usize::from(u16::from_be_bytes([bytes[4], bytes[5]]));
        std::fs::write(path, jpeg::with_exif(&encoded, &bytes[12..end]).expect("joined")).expect("written");
    }
    let card = walk(&[into.join("frames")]);
    let frames = read_until(card, Some(1), Pictures::Full, &|_| (), &AtomicBool::new(false));
    let setting =
        Setting { name: "run".into(), plan: plan.clone(), pictures: Pictures::Full, ..Setting::default() };
    carry_out(setting, frames)
}
