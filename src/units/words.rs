//! Numbers and counted nouns as people write them.

/// `1 frame`, `3 frames`, `2 stretches`: a count with its noun.
pub fn counted(count: u64, noun: &str) -> String {
    let hisses = ["ch", "sh", "s", "x"].iter().any(|end| noun.ends_with(end));
    let many = if hisses { "es" } else { "s" };
    counted_as(count, noun, &format!("{noun}{many}"))
}

/// A count with words that say one of it, or several: `1 slot is`, `3 slots are`.
pub fn counted_as(count: u64, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// A quantity with its unit in words, of which one is one: `3 brackets that lack an exposure`, `1 bracket
/// that lacks an exposure`. A measure (`% of`, `EV between`, `s of`, `times`) stays as it is.
pub fn quantity(value: f64, decimals: usize, unit: &str) -> String {
    let measure = ["%", "EV", "s", "times"].contains(&unit.split(' ').next().unwrap_or_default());
    let told = if value == 1.0 && !measure { singular(unit) } else { unit.to_owned() };
    format!("{} {told}", plain(value, decimals))
}

/// A plural as one of it: its first noun, and a verb that goes with it.
fn singular(unit: &str) -> String {
    let (mut noun, mut verb) = (false, false);
    let one = |word: &str| match word.strip_suffix("ies") {
        Some(stem) => format!("{stem}y"),
        None => word.strip_suffix('s').unwrap_or(word).to_owned(),
    };
    let words = unit.split(' ').map(|word| {
        let verb_here = std::mem::replace(&mut verb, noun && word == "that");
        match word {
            _ if !noun && word.ends_with('s') && !word.ends_with("us") => {
                noun = true;
                one(word)
            }
            // "that the others have": the verb is the others'.
            _ if verb_here && word != "the" => format!("{word}s"),
            _ => word.to_owned(),
        }
    });
    words.collect::<Vec<_>>().join(" ")
}

/// A number with that many decimals. One that rounds to nothing has no sign; nothing where it is not finite.
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// A number with at most that many decimals, and none that are zero; nothing where it is not finite.
pub fn plain(value: f64, most: usize) -> String {
    let text = fixed(value, most);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_and_several() {
        assert_eq!([counted(1, "frame"), counted(0, "slot")], ["1 frame", "0 slots"]);
        assert_eq!([counted(2, "stretch"), counted(1, "patch")], ["2 stretches", "1 patch"]);
        assert_eq!(counted_as(1, "slot is", "slots are"), "1 slot is");
        assert_eq!(counted_as(3, "slot is", "slots are"), "3 slots are");
    }

    #[test]
    fn quantities_of_one() {
        for (unit, one) in [
            ("missing slots of the run", "1 missing slot of the run"),
            ("brackets that lack an exposure", "1 bracket that lacks an exposure"),
            ("frames without the raw that the others have", "1 frame without the raw that the others have"),
            ("surplus frames", "1 surplus frame"),
            ("copies", "1 copy"),
            ("% of the picture", "1 % of the picture"),
            ("times what the eye just sees", "1 times what the eye just sees"),
        ] {
            assert_eq!(quantity(1.0, 3, unit), one);
            assert_eq!(quantity(2.5, 3, unit), format!("2.5 {unit}"));
        }
    }

    #[test]
    fn numbers_without_idle_decimals() {
        assert_eq!([plain(12.0, 3), plain(12.340, 3), plain(100.0, 0)], ["12", "12.34", "100"]);
        assert_eq!([plain(-0.0001, 3), plain(f64::NAN, 3)], ["0", ""]);
        assert_eq!([fixed(-0.0001, 3), fixed(-0.5, 3), fixed(f64::INFINITY, 3)], ["0.000", "-0.500", ""]);
    }
}
