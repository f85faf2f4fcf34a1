//! Near misses: which word was meant.

/// Longest word that is compared; nobody mistypes a longer one of ours.
const LONGEST: usize = 40;

/// The candidate that `word` most likely stood for, or `None` where none is close. Of two that are equally
/// close the earlier one wins.
pub(super) fn meant<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = plain(word)?;
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let Some(name) = plain(candidate) else { continue };
        let (long, short) = (letters(&word).max(letters(&name)), letters(&word).min(letters(&name)));
        let distance = if short >= 3 && (name.starts_with(&word) || word.starts_with(&name)) {
            1.min(long - short)
        } else {
            // Letters to add, take away, change or swap with their neighbour.
            strsim::osa_distance(&word, &name)
        };
        let allowed = match long {
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
fn plain(word: &str) -> Option<String> {
    let small: String = word.chars().take(LONGEST + 1).flat_map(char::to_lowercase).collect();
    let fit = !small.is_empty() && letters(&small) <= LONGEST;
    fit.then(|| small.replace(['-', ' '], "_"))
}

fn letters(word: &str) -> usize {
    word.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

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
            ("itnerval", "interval"),
            ("intrvl", "interval"),
            ("maxx_stepp", "max_step"),
        ] {
            assert_eq!(meant(word, keys), Some(key), "{word}");
        }
        for word in ["colour", "x", "", "in", &"interval".repeat(1000)] {
            assert_eq!(meant(word, keys), None, "{word}");
        }
    }
}
