//! File numbers as evidence. Source: DCF (CIPA DC-009): numbers run from 0001 to 9999, 0000 is none, 9999 is followed by 0001.

use super::HoleCause;
use crate::frames::{Frames, advance};

/// By how much the number advances from frame `from` to frame `to`; `None` where a name is not a camera's, or a program
/// other than the camera wrote the file.
pub fn between(frames: &Frames, from: usize, to: usize) -> Option<i64> {
    if frames.rows[from].edited || frames.rows[to].edited {
        return None;
    }
    Some(advance(frames.card.shots[from].number?, frames.card.shots[to].number?))
}

/// Why `slots` empty slots are empty, by how far the numbers advance across them and by their usual advance per slot.
pub fn cause(advance: Option<i64>, usual: Option<i64>, slots: u64) -> HoleCause {
    match (advance, usual) {
        (Some(n), Some(r)) if n == r => HoleCause::TriggerMissed,
        (Some(n), Some(r)) if Some(n) == r.checked_mul(slots as i64 + 1) => HoleCause::FileLost,
        _ => HoleCause::Unknown,
    }
}

/// The usual advance: the commonest of `steps`, where most agree on it and it leads forward.
pub fn usual(steps: impl Iterator<Item = i64>) -> Option<i64> {
    let mut sorted: Vec<i64> = steps.collect();
    sorted.sort_unstable();
    let (mut best, mut best_count) = (0, 0);
    for group in sorted.chunk_by(|a, b| a == b) {
        if group.len() > best_count {
            (best, best_count) = (group[0], group.len());
        }
    }
    (best > 0 && best_count * 5 >= sorted.len() * 3).then_some(best)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::FileNumber;

    fn dcf(value: u32) -> FileNumber {
        FileNumber { value, digits: 4 }
    }

    /// Roll-over of DCF numbers (CIPA DC-009: 0001 follows 9999).
    #[test]
    fn numbers_wrap() {
        for (from, to, step) in [
            (9999, 0, 1),
            (0, 1, 1),
            (9998, 2, 3),
            (9999, 1, 1),
            (120, 124, 4),
            (1, 1, 0),
            (124, 120, -4),
            (1, 9999, -1),
        ] {
            assert_eq!(advance(dcf(from), dcf(to)), step, "{from} to {to}");
        }
    }

    #[test]
    fn the_usual_advance_is_what_most_steps_agree_on() {
        assert_eq!(usual([1, 1, 1, 4, 1].into_iter()), Some(1));
        assert_eq!(usual([2, 2, 2].into_iter()), Some(2));
        assert_eq!(usual([1, 2, 3, 4].into_iter()), None);
        assert_eq!(usual([0, 0, 0].into_iter()), None);
        assert_eq!(usual(std::iter::empty()), None);
    }
}
