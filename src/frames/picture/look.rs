//! What is kept of a picture.

use super::{Between, Cells};

/// Areas across a picture.
pub const ACROSS: usize = 9;
/// Areas down a picture.
pub const DOWN: usize = 6;
/// Areas of a picture: a third of it each way holds 3 by 2 of them.
pub const AREAS: usize = ACROSS * DOWN;

/// Where a look was taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PictureSource {
    /// The thumbnail in the file.
    Thumbnail,
    /// A larger preview in the file.
    Preview,
    /// The picture itself, decoded at an eighth of its size.
    Reduced,
    /// The picture itself, whole.
    Whole,
}

impl PictureSource {
    /// Every source, the smallest first.
    pub const ALL: [Self; 4] = [Self::Thumbnail, Self::Preview, Self::Reduced, Self::Whole];

    /// The word in outputs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Thumbnail => "thumbnail",
            Self::Preview => "preview",
            Self::Reduced => "reduced",
            Self::Whole => "whole",
        }
    }
}

/// Mean linear light of each area of a picture, row by row, packed: 11 bits of its root for red and green, 10
/// for blue. A step is 0.001 of full light at the top and less below.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Areas([u32; AREAS]);

impl std::fmt::Debug for Areas {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries((0..AREAS).map(|i| self.light(i))).finish()
    }
}

const SHIFTS: [(u32, u32); 3] = [(0, 11), (11, 11), (22, 10)];

impl Areas {
    /// Packs linear red, green and blue, 0 to 1, of each area.
    pub fn pack(light: &[[f32; 3]; AREAS]) -> Self {
        Self(light.map(|rgb| {
            SHIFTS.iter().zip(rgb).fold(0, |word, ((shift, bits), l)| {
                let most = ((1_u32 << bits) - 1) as f32;
                word | (((l.clamp(0.0, 1.0).sqrt() * most + 0.5) as u32) << shift)
            })
        }))
    }

    /// Linear red, green and blue, 0 to 1, of area `at` (below [`AREAS`]; black beyond).
    pub fn light(&self, at: usize) -> [f32; 3] {
        let word = self.0.get(at).copied().unwrap_or_default();
        SHIFTS.map(|(shift, bits)| {
            let most = (1_u32 << bits) - 1;
            let root = ((word >> shift) & most) as f32 / most as f32;
            root * root
        })
    }

    /// Luminance of area `at`, 0 to 1.
    pub fn luminance(&self, at: usize) -> f32 {
        let [r, g, b] = self.light(at);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }
}

/// What one picture looks like. Light is linear, 1 the brightest that a picture holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// Where it was taken from.
    pub source: PictureSource,
    /// Width and height of what was measured, px, bars off.
    pub size: (u32, u32),
    /// Mean luminance.
    pub mean: f32,
    /// Robust centre: the mean luminance of the middle half of the pixels. Lamps and shadows do not move it.
    pub centre: f32,
    /// Mean red, green and blue.
    pub channels: [f32; 3],
    /// Share of pixels that are cut off at the top.
    pub clipped: f32,
    /// Share of pixels that are lost at the bottom.
    pub blocked: f32,
    /// Share of all light that comes from pixels between the two: what is left of it to show a change.
    pub live: f32,
    /// Variance of the Laplacian over the variance of the picture: sharpness, free of contrast. NaN where the
    /// picture is flat.
    pub sharpness: f32,
    /// Standard deviation of the codes, 0 to 128: contrast.
    pub contrast: f32,
    /// Mean light by area.
    pub areas: Areas,
    /// Brightness in a finer grid.
    pub cells: Cells,
    /// Its place in the card's order, from 0. [`Look::between`] speaks of the picture before it in that
    /// order.
    pub card_at: u32,
    /// This picture compared with the one before it in the card's order; `None` where there is none to be
    /// held against, or of another size.
    pub between: Option<Between>,
}

impl Look {
    /// log2 of the mean luminance, EV; `None` for a picture without light.
    pub fn mean_ev(&self) -> Option<f64> {
        (self.mean > 0.0).then(|| f64::from(self.mean).log2())
    }

    /// log2 of the robust centre, EV; `None` where that is without light.
    pub fn centre_ev(&self) -> Option<f64> {
        (self.centre > 0.0).then(|| f64::from(self.centre).log2())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn areas_keep_their_light() {
        let mut light = [[0.0; 3]; AREAS];
        for (i, rgb) in light.iter_mut().enumerate() {
            let l = i as f32 / (AREAS - 1) as f32;
            *rgb = [l, l * l, 1.0 - l];
        }
        let packed = Areas::pack(&light);
        for (i, rgb) in light.iter().enumerate() {
            for (got, was) in packed.light(i).iter().zip(rgb) {
                assert!((got - was).abs() < 0.001, "{i}: {got} against {was}");
            }
        }
        assert_eq!(packed.light(AREAS), [0.0; 3]);
    }
}
