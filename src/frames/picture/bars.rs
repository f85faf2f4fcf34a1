//! The black bars with which cameras fit a picture into a thumbnail of another shape.

use super::rgb::Rgb;

/// A row or column whose mean code is at or below this is dark enough to be a bar (common practice, no
/// source).
const DARK: u32 = 20;
/// Pixels taken off beside a bar: the block that straddles its edge rings.
const GUARD: usize = 2;

/// The part of a picture inside its bars: left, top, width, height.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Inside {
    /// First column.
    pub left: usize,
    /// First row.
    pub top: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

/// What lies inside the bars. Where they are follows from the shape of the picture itself, so that it is the
/// same in every frame of a run, night frames included; they are taken off only where they are dark. `whole`
/// is the size of the picture that the thumbnail stands for, where that is known.
pub(crate) fn inside(picture: &Rgb, whole: Option<(u32, u32)>) -> Inside {
    let (w, h) = (picture.width, picture.height);
    let all = Inside { left: 0, top: 0, width: w, height: h };
    let Some((ww, wh)) = whole.filter(|(a, b)| *a > 0 && *b > 0) else { return all };
    let (ww, wh) = (ww as usize, wh as usize);
    // Rows that the picture takes at the thumbnail's full width, and columns at its full height.
    let rows = (w * wh + ww / 2) / ww;
    let columns = (h * ww + wh / 2) / wh;
    let cut = |full: usize, taken: usize| {
        let bar = (full - taken) / 2;
        (bar > 0).then(|| (bar, (bar + GUARD).min(full / 2)))
    };
    if rows < h
        && let Some((bar, off)) = cut(h, rows)
    {
        let dark = |y: usize| mean(picture, (0, w), (y, y + 1)) <= DARK;
        if (0..bar).all(dark) && (h - bar..h).all(dark) {
            return Inside { top: off, height: h - 2 * off, ..all };
        }
    }
    if columns < w
        && let Some((bar, off)) = cut(w, columns)
    {
        let dark = |x: usize| mean(picture, (x, x + 1), (0, h)) <= DARK;
        if (0..bar).all(dark) && (w - bar..w).all(dark) {
            return Inside { left: off, width: w - 2 * off, ..all };
        }
    }
    all
}

fn mean(picture: &Rgb, columns: (usize, usize), rows: (usize, usize)) -> u32 {
    let (mut sum, mut n) = (0_u64, 0_u64);
    for y in rows.0..rows.1 {
        let at = (y * picture.width + columns.0) * 3..(y * picture.width + columns.1) * 3;
        let codes = picture.codes.get(at).unwrap_or_default();
        sum += codes.iter().map(|c| u64::from(*c)).sum::<u64>();
        n += codes.len() as u64;
    }
    (sum / n.max(1)) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A thumbnail of 160 × 120 that is black outside of a frame of `bars` columns and rows.
    fn thumbnail(bars: (usize, usize), inner: u8) -> Rgb {
        let mut codes = vec![3; 160 * 120 * 3];
        for y in bars.1..120 - bars.1 {
            codes[(y * 160 + bars.0) * 3..(y * 160 + 160 - bars.0) * 3].fill(inner);
        }
        Rgb { width: 160, height: 120, codes }
    }

    #[test]
    fn bars_above_and_below_go_and_a_picture_of_the_same_shape_stays() {
        // 3:2 in 4:3: 160 × 107, bars of 6 rows.
        let got = inside(&thumbnail((0, 6), 120), Some((6000, 4000)));
        assert_eq!(got, Inside { left: 0, top: 8, width: 160, height: 104 });
        let got = inside(&thumbnail((0, 0), 120), Some((4000, 3000)));
        assert_eq!(got, Inside { left: 0, top: 0, width: 160, height: 120 });
        // Upright 3:4 in 4:3: 90 × 120, bars of 35 columns.
        let got = inside(&thumbnail((35, 0), 120), Some((3000, 4000)));
        assert_eq!(got, Inside { left: 37, top: 0, width: 86, height: 120 });
    }

    #[test]
    fn where_no_bars_are_dark_nothing_goes() {
        // A thumbnail that was cut to its shape instead.
        let got = inside(&thumbnail((0, 0), 120), Some((6000, 4000)));
        assert_eq!((got.top, got.height), (0, 120));
        assert_eq!(inside(&thumbnail((0, 6), 120), None).height, 120);
        // A night frame: black everywhere; the bars are where the shape puts them.
        assert_eq!(inside(&thumbnail((0, 6), 2), Some((6000, 4000))).top, 8);
    }
}
