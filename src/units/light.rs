//! Light and the codes that pictures write for it.
//!
//! Sources: IEC 61966-2-1:1999 (sRGB transfer function); ITU-R BT.709 (luminance weights); CIE 15
//! (lightness).

use std::sync::LazyLock;

/// Weights of red, green and blue linear light in luminance (ITU-R BT.709).
pub const WEIGHTS: [f64; 3] = [0.2126, 0.7152, 0.0722];

static LINEAR: LazyLock<[f32; 256]> = LazyLock::new(|| {
    let mut table = [0.0; 256];
    for (code, light) in table.iter_mut().enumerate() {
        *light = decoded(code as f64 / 255.0) as f32;
    }
    table
});

/// Linear light of every 8-bit code, 0 to 1.
pub fn linear() -> &'static [f32; 256] {
    &LINEAR
}

/// Linear light, 0 to 1, of a coded value, 0 to 1.
pub fn decoded(value: f64) -> f64 {
    if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// The coded value, 0 to 1, of linear light, 0 to 1: the inverse of [`decoded`].
pub fn encoded(light: f64) -> f64 {
    if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

/// Luminance of linear red, green and blue, 0 to 1.
pub fn luminance(light: [f64; 3]) -> f64 {
    WEIGHTS.iter().zip(light).map(|(w, l)| w * l).sum()
}

/// Lightness L*, 0 to 100, of a luminance relative to white, 0 to 1 (CIE 15).
pub fn lightness(y: f64) -> f64 {
    let f = if y > 216.0 / 24_389.0 { y.cbrt() } else { (24_389.0 / 27.0 * y + 16.0) / 116.0 };
    116.0 * f - 16.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values by colour-science 0.4.7 from IEC 61966-2-1 and CIE 15.
    #[test]
    fn codes_light_and_lightness() {
        for (code, y, l) in [
            (1, 0.000303526984, 0.274175),
            (10, 0.003035269835, 2.741748),
            (11, 0.003346535764, 3.022913),
            (64, 0.051269458374, 27.093414),
            (100, 0.127437680436, 42.374603),
            (118, 0.181164244250, 49.637014),
            (119, 0.184474994500, 50.034439),
            (128, 0.215860500114, 53.585013),
            (188, 0.502886458033, 76.246091),
            (200, 0.577580440430, 80.604083),
            (254, 0.991102097114, 99.654922),
        ] {
            let light = decoded(f64::from(code) / 255.0);
            assert!((light - y).abs() < 1e-9, "{code}: {light}");
            assert!((f64::from(linear()[code as usize]) - y).abs() < 1e-7, "{code}");
            assert!((lightness(y) - l).abs() < 1e-5, "{code}: {}", lightness(y));
        }
        for (y, code) in
            [(0.18, 117.645813), (0.5, 187.516031), (0.2, 123.554947), (0.05, 63.189135), (0.9, 243.445229)]
        {
            assert!((encoded(y) * 255.0 - code).abs() < 1e-5, "{y}: {}", encoded(y) * 255.0);
        }
        assert!((lightness(0.01) - 8.991442).abs() < 1e-5);
    }

    /// Luminance of colours by colour-science 0.4.7; the BT.601 luma of JFIF is another thing.
    #[test]
    fn luminance_of_colours() {
        let of = |rgb: [u8; 3]| luminance(rgb.map(|c| decoded(f64::from(c) / 255.0)));
        for (rgb, y) in [
            ([255, 0, 0], 0.2126),
            ([0, 255, 0], 0.7152),
            ([0, 0, 255], 0.0722),
            ([128, 64, 32], 0.0836027045),
            ([12, 200, 90], 0.4212490096),
        ] {
            assert!((of(rgb) - y).abs() < 1e-9, "{rgb:?}: {}", of(rgb));
        }
    }

    /// One code step in EV, and codes some EV away, from the transfer function.
    #[test]
    fn steps_of_a_code_in_ev() {
        for (code, ev) in [(10.0, 0.14084), (40.0, 0.06350), (118.0, 0.02613), (200.0, 0.01614)] {
            let step = (decoded((code + 1.0) / 255.0) / decoded(code / 255.0)).log2();
            assert!((step - ev).abs() < 1e-5, "{code}: {step}");
        }
        for (code, ev, there) in [
            (118.0, -1.0, 84.882),
            (118.0, 1.0 / 3.0, 131.342),
            (118.0, 0.05, 119.920),
            (200.0, -1.0, 146.313),
        ] {
            let got = 255.0 * encoded(decoded(code / 255.0) * f64::exp2(ev));
            assert!((got - there).abs() < 1e-3, "{code}: {got}");
        }
    }
}
