//! Near misses: which word was meant.

/// Longest word that is compared; nobody mistypes a longer one of ours.
const LONGEST: usize = 40;

/// The candidate that `word` most likely stood for, or `None` where none is close. Of two that are equally close the earlier
/// one wins.
pub(super) fn meant<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = plain(word)?;
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let Some(name) = plain(candidate) else { continue };
        let shorter = word.len().min(name.len());
        let distance = if shorter >= 3 && (name.starts_with(&word) || word.starts_with(&name)) {
            1.min(name.len().abs_diff(word.len()))
        } else {
            distance(&word, &name)
        };
        let allowed = match name.len().max(word.len()) {
            0..=2 => 0,
            3..=5 => 1,
            6..=8 => 2,
            _ => 3,
        };
        if distance <= allowed && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Small letters with `-` and spaces as `_`, so that `Max-Step` is `max_step`.
fn plain(word: &str) -> Option<Vec<char>> {
    let chars: Vec<char> = word.chars().take(LONGEST + 1).flat_map(char::to_lowercase).collect();
    let fit = !chars.is_empty() && chars.len() <= LONGEST;
    fit.then(|| chars.into_iter().map(|c| if matches!(c, '-' | ' ') { '_' } else { c }).collect())
}

/// Letters to add, take away, change or swap with their neighbour (optimal string alignment).
fn distance(a: &[char], b: &[char]) -> usize {
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, cb) in b.iter().enumerate() {
            let mut least = (last[j] + usize::from(ca != cb)).min(last[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *ca == b[j - 1] && a[i - 1] == *cb {
                least = least.min(before_last[j - 1] + 1);
            }
            row.push(least);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letters(word: &str) -> Vec<char> {
        word.chars().collect()
    }

    /// Distances counted by hand; kitten and sitting is the textbook pair (Levenshtein distance 3).
    #[test]
    fn distances() {
        for (a, b, d) in [
            ("kitten", "sitting", 3),
            ("frames", "framse", 1),
            ("frames", "frames", 0),
            ("", "iso", 3),
            ("iso", "", 3),
            ("travel", "travle", 1),
            ("settle", "setle", 1),
            ("aperture", "apperture", 1),
        ] {
            assert_eq!(distance(&letters(a), &letters(b)), d, "{a} {b}");
        }
    }

    #[test]
    fn what_was_meant() {
        let keys = ["name", "interval", "frames", "run", "iso", "max_step", "mains_hz"];
        for (word, key) in [
            ("intervall", "interval"),
            ("Interval", "interval"),
            ("framse", "frames"),
            ("frame", "frames"),
            ("ISO", "iso"),
            ("max-step", "max_step"),
            ("maxstep", "max_step"),
            ("mains", "mains_hz"),
            ("rum", "run"),
        ] {
            assert_eq!(meant(word, keys), Some(key), "{word}");
        }
        for word in ["colour", "x", "", "in", &"interval".repeat(1000)] {
            assert_eq!(meant(word, keys), None, "{word}");
        }
    }
}
