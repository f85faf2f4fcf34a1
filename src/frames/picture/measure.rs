//! From decoded codes to a [`Look`] and a [`Grey`].

use super::bars::Inside;
use super::between::Thin;
use super::cells::Cells;
use super::grey::Grey;
use super::look::{ACROSS, AREAS, Areas, DOWN, Look, PictureSource};
use super::rgb::Rgb;
use super::sharp::laplacian_variance;
use super::smaller::Smaller;
use crate::units::light::{decoded, linear};
use std::sync::LazyLock;
use std::sync::atomic::{AtomicBool, Ordering};

/// A pixel whose luma code is at or above this is cut off: what JPEG leaves of 255 (common practice, no
/// source).
pub const CLIPPED_CODE: u8 = 250;
/// A pixel whose luma code is at or below this is lost in the black.
pub const BLOCKED_CODE: u8 = 5;

/// Contrast below this, codes, is none: what is sharp cannot be told.
const FLAT_CODES: f64 = 2.0;

/// What `measure` keeps.
pub struct Measured {
    /// What is kept for good.
    pub look: Look,
    /// For the neighbour in the card's order.
    pub thin: Thin,
    /// The picture in grey, where it was asked for.
    pub grey: Option<Grey>,
}

/// What each code of a channel adds: its linear light in 2^-32 in the lower 48 bits, and in the upper 16 its
/// share of the luma code in 256ths (BT.709 weights; what the eye takes for sharp lies in codes and not in
/// linear light). One look-up for both, and sums of integers, which do not depend on their order.
static SHARES: LazyLock<[[u64; 256]; 3]> = LazyLock::new(|| {
    [LUMA_WEIGHTS.0, LUMA_WEIGHTS.1, LUMA_WEIGHTS.2].map(|weight| {
        let mut table = [0; 256];
        for (code, share) in (0_u64..).zip(&mut table) {
            let light = decoded(code as f64 / 255.0);
            // Red brings the half with it by which the sum is rounded.
            let half = if weight == LUMA_WEIGHTS.0 { 128 } else { 0 };
            *share = ((weight * code + half) << LUMA_AT) | (light * ONE).round() as u64;
        }
        table
    })
});

const LUMA_WEIGHTS: (u64, u64, u64) = (54, 183, 19);
const LUMA_AT: u32 = 48;
/// The bits of the light.
const LIGHT: u64 = (1 << LUMA_AT) - 1;
/// Full light.
const ONE: f64 = (1_u64 << 32) as f64;

/// Measures the part of `picture` inside its bars: its light is decoded (IEC 61966-2-1) before anything is
/// added up, and its luminance weighed by BT.709. The grey picture is made where `grey` asks for it. `None`
/// for a picture too small to have areas.
pub fn measure(picture: &Rgb, inside: Inside, source: PictureSource, grey: bool) -> Option<Measured> {
    measure_until(picture, inside, source, grey, None)
}

/// As [`measure`]; `None`, too, where `stop` is raised on the way.
pub(crate) fn measure_until(
    picture: &Rgb,
    inside: Inside,
    source: PictureSource,
    grey: bool,
    stop: Option<&AtomicBool>,
) -> Option<Measured> {
    let (w, h) = (inside.width, inside.height);
    if w < 2 * ACROSS || h < 2 * DOWN {
        return None;
    }
    let mut tally = Tally::new(w, h);
    let mut smaller = Smaller::new(w, h, grey);
    for y in 0..h {
        if stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
            return None;
        }
        let at = ((inside.top + y) * picture.width + inside.left) * 3;
        let row = picture.codes.get(at..at + 3 * w)?.as_chunks::<3>().0;
        tally.row(y, row)?;
        smaller.row(y, row);
    }
    let (thin, grey) = smaller.done();
    Some(Measured { look: tally.look(source, Cells::of(&thin)), thin, grey })
}

/// What the rows of a picture add up to.
struct Tally {
    width: usize,
    height: usize,
    /// Where each column of areas begins, and the end of the last.
    edges: [usize; ACROSS + 1],
    /// Rows of each row of areas.
    rows_of: [usize; DOWN],
    /// Light of each area.
    sums: [[u64; 3]; AREAS],
    /// How often each luma code stands, in four parts.
    counts: [[u32; 256]; 4],
    luma: Vec<u8>,
}

impl Tally {
    fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            edges: std::array::from_fn(|i| i * width / ACROSS),
            rows_of: [0; DOWN],
            sums: [[0; 3]; AREAS],
            counts: [[0; 256]; 4],
            luma: vec![0; width * height],
        }
    }

    /// Adds row `y`.
    fn row(&mut self, y: usize, row: &[[u8; 3]]) -> Option<()> {
        let luma = self.luma.get_mut(y * self.width..(y + 1) * self.width)?;
        let down = y * DOWN / self.height;
        *self.rows_of.get_mut(down)? += 1;
        for across in 0..ACROSS {
            let span = self.edges[across]..self.edges[across + 1];
            let sum = light_and_luma(row.get(span.clone())?, luma.get_mut(span)?);
            let area = self.sums.get_mut(down * ACROSS + across)?;
            for (area, sum) in area.iter_mut().zip(sum) {
                *area += sum;
            }
        }
        count(&mut self.counts, luma);
        Some(())
    }

    /// What the picture looks like.
    fn look(&self, source: PictureSource, cells: Cells) -> Look {
        let channels = self.channels();
        let spread = Spread::of(&self.codes());
        let sharpness = if spread.deviation < FLAT_CODES {
            f64::NAN
        } else {
            laplacian_variance(&self.luma, self.width) / spread.deviation.powi(2)
        };
        Look {
            source,
            size: (self.width as u32, self.height as u32),
            mean: (0.2126 * channels[0] + 0.7152 * channels[1] + 0.0722 * channels[2]) as f32,
            centre: spread.centre as f32,
            channels: channels.map(|c| c as f32),
            clipped: spread.clipped as f32,
            blocked: spread.blocked as f32,
            live: spread.live as f32,
            sharpness: sharpness as f32,
            contrast: spread.deviation as f32,
            areas: Areas::pack(&self.areas()),
            cells,
            card_at: 0,
            between: None,
        }
    }

    /// Mean light of each channel.
    fn channels(&self) -> [f64; 3] {
        let pixels = (self.width * self.height) as f64;
        let all = self.sums.iter().fold([0_u64; 3], |s, a| [s[0] + a[0], s[1] + a[1], s[2] + a[2]]);
        all.map(|s| s as f64 / ONE / pixels)
    }

    /// Mean light of each channel in each area.
    fn areas(&self) -> [[f32; 3]; AREAS] {
        let mut areas = [[0.0_f32; 3]; AREAS];
        for (i, (area, sum)) in areas.iter_mut().zip(self.sums).enumerate() {
            let columns = self.edges[i % ACROSS + 1] - self.edges[i % ACROSS];
            let n = (self.rows_of[i / ACROSS] * columns).max(1) as f64;
            *area = sum.map(|s| (s as f64 / ONE / n) as f32);
        }
        areas
    }

    /// How often each luma code stands.
    fn codes(&self) -> [u32; 256] {
        let [mut codes, b, c, d] = self.counts;
        for (((sum, b), c), d) in codes.iter_mut().zip(b).zip(c).zip(d) {
            *sum += b + c + d;
        }
        codes
    }
}

/// The light of each channel in a row of pixels; their luma codes go into `luma`.
fn light_and_luma(row: &[[u8; 3]], luma: &mut [u8]) -> [u64; 3] {
    let [red, green, blue] = &*SHARES;
    // Of red, green and all three; what runs over lies above the light.
    let (mut of_red, mut of_green, mut of_all) = (0_u64, 0_u64, 0_u64);
    for ([r, g, b], out) in row.iter().zip(luma) {
        let (r, g, b) = (red[usize::from(*r)], green[usize::from(*g)], blue[usize::from(*b)]);
        let all = r.wrapping_add(g).wrapping_add(b);
        of_red = of_red.wrapping_add(r);
        of_green = of_green.wrapping_add(g);
        of_all = of_all.wrapping_add(all);
        *out = (all >> (LUMA_AT + 8)) as u8;
    }
    let of_blue = of_all.wrapping_sub(of_red).wrapping_sub(of_green);
    [of_red, of_green, of_blue].map(|sum| sum & LIGHT)
}

/// Counts codes, in four tables, so that equal neighbours do not wait for each other.
fn count(counts: &mut [[u32; 256]; 4], codes: &[u8]) {
    let (fours, rest) = codes.as_chunks::<4>();
    let [first, second, third, fourth] = counts;
    for [a, b, c, d] in fours {
        first[usize::from(*a)] += 1;
        second[usize::from(*b)] += 1;
        third[usize::from(*c)] += 1;
        fourth[usize::from(*d)] += 1;
    }
    for a in rest {
        first[usize::from(*a)] += 1;
    }
}

/// What the count of each luma code tells.
struct Spread {
    centre: f64,
    clipped: f64,
    blocked: f64,
    live: f64,
    deviation: f64,
}

impl Spread {
    fn of(counts: &[u32; 256]) -> Self {
        let light = linear();
        let n: f64 = counts.iter().map(|c| f64::from(*c)).sum::<f64>().max(1.0);
        let codes = || counts.iter().zip(0_u8..=255).map(|(n, code)| (f64::from(*n), code));
        let share =
            |of: &dyn Fn(u8) -> bool| codes().filter(|(_, c)| of(*c)).map(|(n, _)| n).sum::<f64>() / n;
        let glow = |of: &dyn Fn(u8) -> bool| {
            codes().filter(|(_, c)| of(*c)).map(|(n, c)| n * f64::from(light[usize::from(c)])).sum::<f64>()
        };
        let all = glow(&|_| true);
        let live = glow(&|c| c > BLOCKED_CODE && c < CLIPPED_CODE);
        // The middle half of the pixels, the outermost codes with the share of them that lies within it.
        let (from, to) = (0.25 * n, 0.75 * n);
        let (mut below, mut middle) = (0.0, 0.0);
        for (count, code) in codes() {
            let within = ((below + count).min(to) - f64::max(below, from)).max(0.0);
            middle += within * f64::from(light[usize::from(code)]);
            below += count;
        }
        let mean = codes().map(|(n, c)| n * f64::from(c)).sum::<f64>() / n;
        let square = codes().map(|(n, c)| n * f64::from(c) * f64::from(c)).sum::<f64>() / n;
        Self {
            centre: middle / (to - from),
            clipped: share(&|c| c >= CLIPPED_CODE),
            blocked: share(&|c| c <= BLOCKED_CODE),
            live: if all > 0.0 { live / all } else { 0.0 },
            deviation: (square - mean * mean).max(0.0).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(width: usize, height: usize, of: impl Fn(usize, usize) -> [u8; 3]) -> (Look, Grey) {
        let codes = (0..width * height).flat_map(|i| of(i % width, i / width)).collect();
        let rgb = Rgb { width, height, codes };
        let inside = Inside { left: 0, top: 0, width, height };
        let seen = measure(&rgb, inside, PictureSource::Thumbnail, true).expect("large enough");
        let grey = seen.grey.expect("asked for");
        let plain = measure(&rgb, inside, PictureSource::Thumbnail, false).expect("large enough");
        assert_eq!(format!("{:?}", plain.look), format!("{:?}", seen.look));
        assert_eq!((plain.thin, plain.grey), (seen.thin, None), "the same whether or not it is kept");
        (seen.look, grey)
    }

    /// Light is averaged, not codes: half black and half white is 0.5 of the light, where the mean code 127.5
    /// is 0.214 (IEC 61966-2-1).
    #[test]
    fn light_is_averaged_and_not_codes() {
        let (look, grey) = picture(160, 120, |x, _| if x < 80 { [0; 3] } else { [255; 3] });
        assert!((look.mean - 0.5).abs() < 1e-5, "{}", look.mean);
        assert_eq!((look.clipped, look.blocked, look.live), (0.5, 0.5, 0.0));
        assert_eq!((grey.width, grey.height, grey.reduced), (160, 120, 1));
    }

    /// Luminance of primaries (ITU-R BT.709), where JFIF's luma would say 76/255 for red.
    #[test]
    fn luminance_is_weighed() {
        for (rgb, y) in [
            ([255, 0, 0], 0.2126),
            ([0, 255, 0], 0.7152),
            ([0, 0, 255], 0.0722),
            ([128, 64, 32], 0.083_602_704),
        ] {
            let (look, _) = picture(160, 120, |_, _| rgb);
            assert!((f64::from(look.mean) - y).abs() < 1e-5, "{rgb:?}: {}", look.mean);
            assert!(look.sharpness.is_nan(), "flat");
        }
    }

    #[test]
    fn the_centre_does_not_follow_a_lamp() {
        let scene = |x: usize| [100 + (x % 40) as u8; 3];
        let (plain, _) = picture(160, 120, |x, _| scene(x));
        let (lamp, _) = picture(160, 120, |x, y| if x < 30 && y < 30 { [255; 3] } else { scene(x) });
        let step = |a: f32, b: f32| (b / a).log2().abs();
        assert!(step(plain.mean, lamp.mean) > 0.2, "{} {}", plain.mean, lamp.mean);
        assert!(step(plain.centre, lamp.centre) < 0.05, "{} {}", plain.centre, lamp.centre);
    }

    #[test]
    fn areas_stand_where_their_light_is() {
        let (look, _) = picture(163, 121, |x, y| if x >= 145 && y < 20 { [200; 3] } else { [20; 3] });
        let bright: Vec<_> = (0..AREAS).filter(|i| look.areas.luminance(*i) > 0.1).collect();
        assert_eq!(bright, [ACROSS - 1]);
        let mean = (0..AREAS).map(|i| look.areas.luminance(i)).sum::<f32>() / AREAS as f32;
        assert!((mean - look.mean).abs() < 0.002, "{mean} {}", look.mean);
    }

    #[test]
    fn a_wide_picture_is_shrunk_by_a_whole_number() {
        let (_, grey) = picture(750, 500, |_, _| [0; 3]);
        assert_eq!((grey.width, grey.height, grey.reduced), (750, 500, 1));
        let (_, grey) = picture(1802, 1200, |x, _| if x / 3 % 2 == 0 { [0; 3] } else { [255; 3] });
        assert_eq!((grey.width, grey.height, grey.reduced), (600, 400, 3));
        assert_eq!(grey.light.len(), 600 * 400);
        assert_eq!(grey.light[..3], [0.0, 1.0, 0.0]);
    }

    #[test]
    fn sharpness_is_free_of_contrast_and_falls_with_blur() {
        let wave = |x: usize, y: usize, height: f64, long: f64| {
            let v = 120.0 + height * ((x as f64 / long).sin() + (y as f64 / long).cos());
            [v.round() as u8; 3]
        };
        let sharp = picture(160, 120, |x, y| wave(x, y, 50.0, 1.5)).0.sharpness;
        let pale = picture(160, 120, |x, y| wave(x, y, 25.0, 1.5)).0.sharpness;
        let soft = picture(160, 120, |x, y| wave(x, y, 50.0, 6.0)).0.sharpness;
        assert!((sharp / pale - 1.0).abs() < 0.02, "{sharp} {pale}");
        assert!(soft < sharp / 20.0, "{sharp} {soft}");
    }

    #[test]
    fn too_small_a_picture_has_no_look() {
        let rgb = Rgb { width: 10, height: 10, codes: vec![0; 300] };
        let inside = Inside { left: 0, top: 0, width: 10, height: 10 };
        assert!(measure(&rgb, inside, PictureSource::Whole, true).is_none());
    }
}
