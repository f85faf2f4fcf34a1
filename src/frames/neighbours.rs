//! Raws that are far smaller than the raws beside them, though their own structure shows no damage: a writer
//! that stopped early and tells of it nowhere.

use super::row::{Damage, Frames};
use crate::card::FileKind;

/// Raws on either side that are looked at.
const EACH_SIDE: usize = 4;
/// Fewer neighbours tell nothing.
const FEWEST: usize = 4;
/// A raw of less than one part in so many of its neighbours' median is damaged. Lossless raws of black frames
/// stay above a half, lossy ones above a quarter of those in light (common practice, no source).
const PART: u64 = 5;

/// Marks such raws as cut short. Compared are raws of one folder, one extension and one size in pixels, in
/// the card's order.
pub(crate) fn judge(frames: &mut Frames) {
    let extension = |at: usize| {
        let name = frames.card.shots[at].file.name.as_encoded_bytes();
        let dot = name.iter().rposition(|byte| *byte == b'.')?;
        std::str::from_utf8(&name[dot + 1..]).ok().filter(|e| FileKind::is_raw_name(e))
    };
    let alike = |a: usize, b: usize| {
        frames.card.shots[a].file.folder == frames.card.shots[b].file.folder
            && frames.rows[a].size == frames.rows[b].size
            && extension(a).zip(extension(b)).is_some_and(|(a, b)| a.eq_ignore_ascii_case(b))
    };
    let bytes = |at: usize| frames.card.shots[at].file.bytes;
    let mut small = Vec::new();
    for at in 0..frames.rows.len() {
        if frames.rows[at].damage.is_some() || extension(at).is_none() {
            continue;
        }
        let near = at.saturating_sub(EACH_SIDE)..(at + EACH_SIDE + 1).min(frames.rows.len());
        let mut others: Vec<u64> = near.filter(|b| *b != at && alike(at, *b)).map(bytes).collect();
        others.sort_unstable();
        if others.len() >= FEWEST && bytes(at).saturating_mul(PART) < others[others.len() / 2] {
            small.push((at, others[others.len() / 2]));
        }
    }
    for (at, median) in small {
        let own = frames.card.shots[at].file.bytes;
        let why = format!("{own} bytes, where the raws beside it have {median} as a median");
        frames.rows[at].damage = Damage::CutShort(why.into_boxed_str());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::{CardFile, Shot};
    use crate::frames::row::Row;

    fn damaged(name: &str, sizes: &[u64]) -> Vec<usize> {
        let mut frames = Frames::default();
        for (i, bytes) in sizes.iter().enumerate() {
            let name = std::ffi::OsString::from(format!("WEIR{i:04}.{name}")).into_boxed_os_str();
            let file = CardFile { folder: 0, name, bytes: *bytes, kind: FileKind::Other };
            frames.card.shots.push(Shot { file, companions: Vec::new(), number: None });
            frames.rows.push(Row::default());
        }
        judge(&mut frames);
        (0..sizes.len()).filter(|at| frames.rows[*at].damage.is_some()).collect()
    }

    #[test]
    fn a_raw_far_smaller_than_its_neighbours() {
        let steady = [25_000_000; 9];
        assert_eq!(damaged("X3F", &steady), [] as [usize; 0]);
        let mut one = steady;
        one[4] = 4_999_999;
        assert_eq!(damaged("X3F", &one), [4]);
        one[5] = 100_000;
        assert_eq!(damaged("NEF", &one), [4, 5]);
        one[4] = 5_000_000;
        assert_eq!(damaged("NEF", &one), [5], "a fifth is not less than a fifth");
        assert_eq!(damaged("JPG", &one), [] as [usize; 0], "what is no raw may be as small as it likes");
        assert_eq!(damaged("NEF", &[9_000_000, 9_000_000, 1, 9_000_000]), [] as [usize; 0], "too few");
    }
}
