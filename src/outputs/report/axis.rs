//! Where along the run each frame stands. The run is laid out slot by slot, frames and empty slots alike, in
//! columns; surplus frames take no room. Lanes, plots and the strip of the summary share the rule.

use super::lines::{self, Line};
use crate::audit::Audit;
use crate::evidence::FrameState;

/// The columns of an audit.
pub struct Axis {
    columns: usize,
    /// True where nothing takes room.
    empty: bool,
    frames: Vec<u16>,
    holes: Vec<(u16, u16)>,
    /// The first frame that stands in each column.
    first: Vec<Option<u32>>,
}

fn width(audit: &Audit, line: &Line<'_>) -> u64 {
    match line {
        Line::Frame(at) => u64::from(audit.evidence.frame(*at).state() != FrameState::Surplus),
        Line::Hole(hole) => hole.slots,
    }
}

impl Axis {
    /// Lays out the audit in at most `most` columns.
    pub fn new(audit: &Audit, most: usize) -> Self {
        let total = lines::lines(audit).fold(0_u64, |sum, line| sum.saturating_add(width(audit, &line)));
        let columns = most.min(usize::try_from(total).unwrap_or(most)).max(1);
        let last = total.max(1) - 1;
        // At most `most` columns, which fit.
        let column =
            |unit: u64| (u128::from(unit.min(last)) * columns as u128 / u128::from(total.max(1))) as u16;
        let mut axis = Self {
            columns,
            empty: total == 0,
            frames: Vec::with_capacity(audit.evidence.frames.len()),
            holes: Vec::with_capacity(audit.evidence.timing.holes.len()),
            first: vec![None; columns],
        };
        let mut unit = 0_u64;
        for line in lines::lines(audit) {
            let wide = width(audit, &line);
            let (from, to) = (column(unit), column(unit.saturating_add(wide.max(1) - 1)));
            match line {
                Line::Frame(at) => {
                    axis.frames.push(from);
                    if let Some(first @ None) = axis.first.get_mut(usize::from(from)) {
                        *first = u32::try_from(at).ok();
                    }
                }
                Line::Hole(_) => axis.holes.push((from, to)),
            }
            unit = unit.saturating_add(wide);
        }
        axis
    }

    /// How many columns there are, at least one.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// True where nothing takes room.
    pub fn is_empty(&self) -> bool {
        self.empty
    }

    /// The column of a frame.
    pub fn of(&self, at: usize) -> usize {
        self.frames.get(at).map_or(0, |c| usize::from(*c))
    }

    /// First and last column of a hole, by its place among the holes.
    pub fn of_hole(&self, hole: usize) -> Option<(usize, usize)> {
        self.holes.get(hole).map(|(a, b)| (usize::from(*a), usize::from(*b)))
    }

    /// The first frame in a column; `None` where only empty slots stand in it.
    pub fn first(&self, column: usize) -> Option<usize> {
        self.first.get(column).copied().flatten().map(|at| at as usize)
    }

    /// The frame that stands in the column, or the nearest one before it.
    pub fn frame_at(&self, column: usize) -> Option<usize> {
        (0..=column.min(self.columns - 1)).rev().find_map(|c| self.first(c))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn frames_and_empty_slots_stand_in_a_row() {
        // One outside, three held, two missing, one held, a surplus one that takes no room, one damaged.
        let axis = Axis::new(&sample::audit(), 1600);
        assert_eq!(axis.columns(), 8);
        assert_eq!((0..7).map(|at| axis.of(at)).collect::<Vec<_>>(), [0, 1, 2, 3, 6, 7, 7]);
        assert_eq!(axis.of_hole(0), Some((4, 5)));
        assert_eq!((axis.first(3), axis.first(4), axis.frame_at(5)), (Some(3), None, Some(3)));
    }

    #[test]
    fn a_hole_of_any_size_keeps_the_columns() {
        let mut audit = sample::audit();
        audit.evidence.timing.holes[0].slots = u64::MAX / 4;
        let axis = Axis::new(&audit, 1600);
        assert_eq!(axis.columns(), 1600);
        assert_eq!(axis.of(6), 1600 - 1);
    }
}
