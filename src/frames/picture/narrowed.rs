//! Whatever a decoder gave, as three codes of 8 bits a pixel.

use image::{ColorType, DynamicImage};

/// Red, green and blue of 8 bits from whatever a decoder gave, in native byte order: numbers of 16 bits
/// rounded to 8, grey written three times, transparency left out. What is no narrower than three codes a
/// pixel stays where it is.
pub(crate) fn narrowed(
    mut native: Vec<u8>,
    color: ColorType,
    (width, height): (u32, u32),
) -> Option<Vec<u8>> {
    let eight = |pair: &[u8]| {
        let code = u16::from_ne_bytes([pair[0], pair[1]]);
        ((u32::from(code) + 128) / 257) as u8
    };
    let pixels = width as usize * height as usize;
    let grey = |of: &dyn Fn(&[u8]) -> u8, step: usize| {
        let mut out = Vec::with_capacity(3 * pixels);
        native.chunks_exact(step).for_each(|p| out.extend_from_slice(&[of(p); 3]));
        out
    };
    match color {
        ColorType::Rgb8 => Some(native),
        ColorType::L8 => Some(grey(&|p| p[0], 1)),
        ColorType::La8 => Some(grey(&|p| p[0], 2)),
        ColorType::L16 => Some(grey(&eight, 2)),
        ColorType::La16 => Some(grey(&eight, 4)),
        ColorType::Rgba8 => {
            for i in 0..pixels {
                native.copy_within(4 * i..4 * i + 3, 3 * i);
            }
            native.truncate(3 * pixels);
            Some(native)
        }
        ColorType::Rgb16 | ColorType::Rgba16 => {
            let step = usize::from(color.bytes_per_pixel());
            for i in 0..pixels {
                for channel in 0..3 {
                    let at = step * i + 2 * channel;
                    let code = eight(native.get(at..at + 2)?);
                    *native.get_mut(3 * i + channel)? = code;
                }
            }
            native.truncate(3 * pixels);
            Some(native)
        }
        ColorType::Rgb32F | ColorType::Rgba32F => {
            let floats =
                native.as_chunks::<4>().0.iter().map(|f| f32::from_ne_bytes(*f)).collect::<Vec<f32>>();
            drop(native);
            let picture = match color {
                ColorType::Rgb32F => DynamicImage::from(image::Rgb32FImage::from_raw(width, height, floats)?),
                _ => DynamicImage::from(image::Rgba32FImage::from_raw(width, height, floats)?),
            };
            Some(picture.into_rgb8().into_raw())
        }
        _ => None,
    }
}
