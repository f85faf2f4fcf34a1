//! The brightness of a picture in a coarse grid of cells: enough to see that something stands before the
//! lens.

use super::Thin;

/// Cells across a picture.
pub const CELLS_ACROSS: usize = 16;
/// Cells down a picture.
pub const CELLS_DOWN: usize = 12;
/// Cells of a picture.
pub const CELLS: usize = CELLS_ACROSS * CELLS_DOWN;

/// Mean luminance of each cell of a picture, row by row, packed: the root of the light in 255ths.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Cells([u8; CELLS]);

impl std::fmt::Debug for Cells {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self.0.iter()).finish()
    }
}

impl Cells {
    /// Packs the luminance, 0 to 1, that `of` gives for each cell (column, row).
    pub fn pack(of: impl Fn(usize, usize) -> f32) -> Self {
        let code = |light: f32| (light.clamp(0.0, 1.0).sqrt() * 255.0).round() as u8;
        Self(std::array::from_fn(|i| code(of(i % CELLS_ACROSS, i / CELLS_ACROSS))))
    }

    /// Of a picture that was thinned.
    pub(super) fn of(thin: &Thin) -> Self {
        let ((width, height), roots) = thin.roots();
        let span = |i: usize, of: usize, cells: usize| {
            let from = (i * of / cells).min(of.saturating_sub(1));
            from..((i + 1) * of / cells).max(from + 1).min(of)
        };
        Self::pack(|x, y| {
            let (columns, rows) = (span(x, width, CELLS_ACROSS), span(y, height, CELLS_DOWN));
            let n = (columns.len() * rows.len()).max(1) as f32;
            let row = |y: usize| roots.get(y * width + columns.start..y * width + columns.end);
            rows.filter_map(row).flatten().map(|root| root * root).sum::<f32>() / n
        })
    }

    /// Luminance of every cell, 0 to 1, row by row.
    pub fn luminances(&self) -> [f32; CELLS] {
        self.0.map(|code| {
            let root = f32::from(code) / 255.0;
            root * root
        })
    }

    /// Luminance of the brightest cell, 0 to 1.
    pub fn brightest(&self) -> f32 {
        let root = f32::from(self.0.iter().copied().max().unwrap_or_default()) / 255.0;
        root * root
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::picture::Grey;

    #[test]
    fn light_stands_in_its_cell() {
        let light = |x: usize, y: usize| if x >= 150 && y < 10 { 0.5 } else { 0.02 };
        let light = (0..160 * 120).map(|i| light(i % 160, i / 160)).collect();
        let cells = Cells::of(&Thin::of(&Grey { width: 160, height: 120, light, reduced: 1 }));
        let all = cells.luminances();
        let bright: Vec<_> = (0..CELLS).filter(|i| all[*i] > 0.1).collect();
        assert_eq!(bright, [CELLS_ACROSS - 1]);
        assert!((cells.brightest() - 0.5).abs() < 0.01, "{}", cells.brightest());
        assert!(all.iter().skip(CELLS_ACROSS).all(|l| (l - 0.02).abs() < 0.002), "{all:?}");
    }

    /// The smallest picture that is looked at has fewer pixels left than there are cells.
    #[test]
    fn a_tiny_picture_fills_every_cell() {
        let grey = Grey { width: 18, height: 12, light: vec![0.25; 18 * 12], reduced: 1 };
        let cells = Cells::of(&Thin::of(&grey));
        assert!(cells.luminances().iter().all(|l| (l - 0.25).abs() < 0.01));
    }
}
