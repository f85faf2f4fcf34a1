//! How much reading a series of stamps may take: widths, laws and rounds multiply, and stamps that no timer
//! wrote keep every hypothesis alive in each of them.

use std::cell::Cell;

/// Lines that may be tried whatever the stamps, for each stamp more, and for each of those past many. A line
/// is tried in a third of a microsecond. Runs with holes in a twentieth of their slots take some 40 lines a
/// stamp where they are long, and up to 450 where they are short and a fifth of the slots is empty.
const LEAST: u64 = 600_000;
const A_STAMP: u64 = 300;
const MANY: u64 = 20_000;
const A_STAMP_MORE: u64 = 100;

/// The lines that may be tried for one series, and those that were.
#[derive(Debug)]
pub struct Effort {
    most: u64,
    spent: Cell<u64>,
}

impl Effort {
    /// What so many stamps may take.
    pub fn of(stamps: usize) -> Self {
        Self { most: Self::most(stamps), spent: Cell::new(0) }
    }

    /// Lines that so many stamps may take.
    pub fn most(stamps: usize) -> u64 {
        let (few, more) = ((stamps as u64).min(MANY), (stamps as u64).saturating_sub(MANY));
        LEAST + A_STAMP * few + A_STAMP_MORE.saturating_mul(more)
    }

    /// Counts lines that were tried: true where no more may be.
    pub fn spend(&self, lines: usize) -> bool {
        self.spent.set(self.spent.get().saturating_add(lines as u64));
        self.is_spent()
    }

    /// Lines tried so far.
    pub fn spent(&self) -> u64 {
        self.spent.get()
    }

    /// True where no more may be tried.
    pub fn is_spent(&self) -> bool {
        self.spent.get() > self.most
    }
}
