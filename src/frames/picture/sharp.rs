//! Sharpness of a grey picture of codes.
//!
//! Source: Pertuz, Puig & Garcia, Pattern Recognition 46(5) 2013: variance of the Laplacian (LAP4,
//! Pech-Pacheco 2000) and Tenengrad (TENG, Krotkov). Both grow with the square of the contrast: compare them
//! over the variance of the picture.

/// Population variance of the 4-neighbour Laplacian, the border mirrored without repeating the outermost
/// pixel. 0 for a picture under two pixels wide or high. `codes` holds whole rows of `width` pixels.
pub fn laplacian_variance<'a>(codes: &'a [u8], width: usize) -> f64 {
    let height = codes.len() / width.max(1);
    if width < 2 || height < 2 {
        return 0.0;
    }
    let row = |y: usize| -> &'a [u8] { codes.get(y * width..(y + 1) * width).unwrap_or_default() };
    let (mut sum, mut squares) = (0_i64, 0_u64);
    for y in 0..height {
        let here = row(y);
        let above = row(if y == 0 { 1 } else { y - 1 });
        let below = row(if y + 1 == height { height - 2 } else { y + 1 });
        let at = |line: &[u8], x: usize| i32::from(line.get(x).copied().unwrap_or_default());
        let laplacian = |left: usize, x: usize, right: usize| {
            at(here, left) + at(here, right) + at(above, x) + at(below, x) - 4 * at(here, x)
        };
        let inner = |line: &'a [u8], from: usize| line.get(from..from + width - 2).unwrap_or_default();
        let parts = |line: &'a [u8], from: usize| inner(line, from).chunks(PART);
        let (mut s, mut q) = (0_i64, 0_u64);
        for ((((l, m), r), a), b) in
            parts(here, 0).zip(parts(here, 1)).zip(parts(here, 2)).zip(parts(above, 1)).zip(parts(below, 1))
        {
            let (sum, squares) = part_sums([l, m, r, a, b]);
            s += i64::from(sum);
            q += u64::from(squares);
        }
        let ends = [laplacian(1, 0, 1), laplacian(width - 2, width - 1, width - 2)];
        sum += s + ends.iter().map(|v| i64::from(*v)).sum::<i64>();
        squares += q + ends.iter().map(|v| (v * v) as u64).sum::<u64>();
    }
    let n = (width * height) as f64;
    squares as f64 / n - (sum as f64 / n).powi(2)
}

/// So many values have sums that fit 32 bits, of which a processor adds several at once: 4 · 255 squared,
/// 4096 times.
const PART: usize = 4096;

/// Sum and sum of the squares of the Laplacian at `middle`, from the rows around it: left, middle, right,
/// above, below.
fn part_sums([left, middle, right, above, below]: [&[u8]; 5]) -> (i32, u32) {
    let (mut sum, mut squares) = (0_i32, 0_u32);
    for ((((l, m), r), a), b) in left.iter().zip(middle).zip(right).zip(above).zip(below) {
        let [l, m, r, a, b] = [l, m, r, a, b].map(|c| i16::from(*c));
        let value = i32::from(l + r + a + b - 4 * m);
        sum += value;
        squares += (value * value) as u32;
    }
    (sum, squares)
}

/// Mean of the squared Sobel gradient (Tenengrad), the border mirrored as in [`laplacian_variance`].
pub fn tenengrad(codes: &[u8], width: usize) -> f64 {
    let height = codes.len() / width.max(1);
    if width < 2 || height < 2 {
        return 0.0;
    }
    let mirror = |i: isize, n: usize| -> usize {
        let last = n as isize - 1;
        (if i < 0 {
            -i
        } else if i > last {
            2 * last - i
        } else {
            i
        }) as usize
    };
    let at = |x: isize, y: isize| {
        f64::from(codes.get(mirror(y, height) * width + mirror(x, width)).copied().unwrap_or_default())
    };
    let mut sum = 0.0;
    for y in 0..height as isize {
        for x in 0..width as isize {
            let gx = at(x + 1, y - 1) + 2.0 * at(x + 1, y) + at(x + 1, y + 1)
                - at(x - 1, y - 1)
                - 2.0 * at(x - 1, y)
                - at(x - 1, y + 1);
            let gy = at(x - 1, y + 1) + 2.0 * at(x, y + 1) + at(x + 1, y + 1)
                - at(x - 1, y - 1)
                - 2.0 * at(x, y - 1)
                - at(x + 1, y - 1);
            sum += gx * gx + gy * gy;
        }
    }
    sum / (width * height) as f64
}

/// Population variance of codes.
pub fn variance(codes: &[u8]) -> f64 {
    let n = codes.len().max(1) as f64;
    let (sum, squares) =
        codes.iter().fold((0_u64, 0_u64), |(s, q), c| (s + u64::from(*c), q + u64::from(*c) * u64::from(*c)));
    squares as f64 / n - (sum as f64 / n).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 64 × 64 bytes of the generator of Numerical Recipes (x ← 1664525x + 1013904223 mod 2³², from 12345,
    /// highest byte).
    fn noise() -> Vec<u8> {
        let mut x = 12_345_u32;
        (0..64 * 64)
            .map(|_| {
                x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (x >> 24) as u8
            })
            .collect()
    }

    /// Values by OpenCV 5.0 and numpy of the same picture.
    #[test]
    fn values_by_a_reference_library() {
        let noise = noise();
        assert_eq!(noise.iter().map(|c| u32::from(*c)).sum::<u32>(), 520_374);
        assert!((variance(&noise) - 5_403.950_174_093_2).abs() < 1e-6);
        assert!((laplacian_variance(&noise, 64) - 109_870.308_010).abs() < 1e-4);
        assert!((tenengrad(&noise, 64) - 124_226.420_410).abs() < 1e-4);
    }

    /// A box along the rows, its result rounded to codes: values of the unrounded picture by scipy.
    #[test]
    fn a_blur_lowers_both_by_as_much_as_a_reference_library_says() {
        let noise = noise();
        for (wide, lap) in [(3_usize, 17_694.469_505), (5, 9_053.121_989), (9, 4_303.907_787)] {
            let half = (wide / 2) as isize;
            let blurred: Vec<u8> = (0..64 * 64_isize)
                .map(|i| {
                    let (x, y) = (i % 64, i / 64);
                    let sum: u32 = (x - half..=x + half)
                        .map(|x| {
                            if x < 0 {
                                -x
                            } else if x > 63 {
                                126 - x
                            } else {
                                x
                            }
                        })
                        .map(|x| u32::from(noise[(y * 64 + x) as usize]))
                        .sum();
                    (f64::from(sum) / wide as f64).round() as u8
                })
                .collect();
            let got = laplacian_variance(&blurred, 64);
            assert!((got / lap - 1.0).abs() < 0.03, "{wide}: {got} against {lap}");
        }
    }

    #[test]
    fn flat_and_tiny_pictures_have_none() {
        assert_eq!(laplacian_variance(&[7; 64], 8), 0.0);
        assert_eq!(laplacian_variance(&[7], 1), 0.0);
        assert_eq!((laplacian_variance(&[], 0), tenengrad(&[], 0), variance(&[])), (0.0, 0.0, 0.0));
    }
}
