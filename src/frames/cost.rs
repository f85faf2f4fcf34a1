//! What the reading of the frames has cost: bytes asked of the system and calls, as medians over the shots.

use crate::units::counted;

/// The cost of all shots together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Cost {
    /// Bytes that the system gave for a shot's files, median.
    pub bytes: u64,
    /// How often it was asked for them, median.
    pub reads: u32,
    /// Bytes for all shots together.
    pub all: u64,
    /// Shots.
    pub shots: u64,
}

impl Cost {
    /// The cost of shots of which each took so many bytes and reads.
    pub fn of(each: &[(u32, u32)]) -> Self {
        let median = |of: fn(&(u32, u32)) -> u32| {
            let mut all: Vec<u32> = each.iter().map(of).collect();
            let middle = all.len() / 2;
            if all.is_empty() { 0 } else { *all.select_nth_unstable(middle).1 }
        };
        Self {
            bytes: u64::from(median(|c| c.0)),
            reads: median(|c| c.1),
            all: each.iter().map(|c| u64::from(c.0)).sum(),
            shots: each.len() as u64,
        }
    }

    /// In one sentence.
    pub fn words(&self) -> String {
        let kib = |bytes: u64| format!("{:.1} KiB", bytes as f64 / 1024.0);
        format!(
            "Read for a frame, as a median: {} in {}; {} for all {} frames.",
            kib(self.bytes),
            counted(u64::from(self.reads), "read"),
            kib(self.all),
            self.shots
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_and_sums() {
        assert_eq!(Cost::of(&[]), Cost::default());
        let cost = Cost::of(&[(1024, 1), (12_288, 2), (900_000, 9)]);
        assert_eq!((cost.bytes, cost.reads, cost.all, cost.shots), (12_288, 2, 913_312, 3));
        assert_eq!(
            cost.words(),
            "Read for a frame, as a median: 12.0 KiB in 2 reads; 891.9 KiB for all 3 frames."
        );
    }
}
