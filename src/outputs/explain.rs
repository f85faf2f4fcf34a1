//! The checks in words, from each check's own text and limits: for `explain`, and for the README's table.

use super::cells::DECIMALS;
use super::text::{Page, Tone};
use crate::finding::{Direction, Limit, Text};
use crate::units::{plain, quantity};
use std::fmt::Write as _;

/// A check as it is explained: its text and its limits.
pub type Explained = (&'static Text, &'static [Limit]);

/// Every check, one line each and what it asks. Ends in a line end.
pub fn list(checks: &[Explained], colour: bool) -> String {
    let mut page = Page::new(colour);
    let at = checks.iter().map(|(text, _)| text.id.len()).max().unwrap_or(0) + 2;
    for (text, _) in checks {
        page.hang(0, (Tone::Strong, text.id), at, text.asks);
    }
    page.heading("lapseproof explain ID explains one of them.");
    page.finish()
}

/// One check whole. Ends in a line end.
pub fn one((text, limits): Explained, colour: bool) -> String {
    let mut page = Page::new(colour);
    page.line(Tone::Strong, text.id);
    page.wrap(0, Tone::Plain, text.asks);
    for (head, words) in [
        ("Why it matters", text.why),
        ("How it is worked out", text.how),
        ("What it cannot see", text.blind),
        ("What to do", text.remedies().as_str()),
        ("Source", text.source),
    ] {
        page.heading(head);
        page.wrap(2, Tone::Plain, words);
    }
    if !limits.is_empty() {
        page.heading("Limits");
        for limit in limits {
            page.wrap(2, Tone::Strong, limit.key.name());
            page.wrap(
                4,
                Tone::Plain,
                &format!("caution {}; fault {}.", level(limit, limit.caution), level(limit, limit.fault)),
            );
            page.wrap(4, Tone::Faint, &format!("Source: {}", limit.source));
        }
        page.heading("In a plan");
        page.line(Tone::Plain, &format!("  [tolerance.{}]", text.id));
        for limit in limits {
            for (name, value) in [("caution", limit.caution), ("fault", limit.fault)] {
                if let Some(value) = value {
                    page.line(
                        Tone::Plain,
                        &format!("  {}_{name} = {}", limit.key.name(), plain(value, DECIMALS)),
                    );
                }
            }
        }
    }
    page.finish()
}

/// Beginnings of units that are no things to count.
const SHARES: [&str; 4] = ["%", "EV", "times", "stops"];

/// A level in words: "over 2 % of slots", "any missing slot", "never". Nobody says "over 0" or "from 1".
fn level(limit: &Limit, level: Option<f64>) -> String {
    let Some(level) = level else { return "never".into() };
    let counted = !SHARES.iter().any(|share| limit.unit.starts_with(share));
    let any = match limit.direction {
        Direction::AtLeast => level == 1.0,
        Direction::Above => level == 0.0,
        Direction::Below => false,
    };
    let shorter = limit.unit.strip_prefix("% longer").filter(|_| level == 0.0);
    if let Some(than) = shorter {
        return format!("shorter{than}");
    }
    if any && counted {
        let one = quantity(1.0, DECIMALS, limit.unit);
        let thing = ["1 s of ", "1 slot of ", "1 "].iter().find_map(|n| one.strip_prefix(n));
        return format!("any {}", thing.unwrap_or(&one));
    }
    format!("{} {}", limit.direction.word(), quantity(level, DECIMALS, limit.unit))
}

/// The README's table of checks, in Markdown. Ends in a line end.
pub fn checks_table(checks: &[Explained]) -> String {
    let mut out = String::from("| check | asks | caution | fault |\n| --- | --- | --- | --- |\n");
    for (text, limits) in checks {
        let levels = |pick: fn(&Limit) -> Option<f64>| {
            let told: Vec<_> =
                limits.iter().filter(|l| pick(l).is_some()).map(|l| level(l, pick(l))).collect();
            if told.is_empty() { "–".to_owned() } else { told.join("; ") }
        };
        let cell = |words: &str| words.replace('|', "\\|").replace('\n', " ");
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "| `{}` | {} | {} | {} |",
            text.id,
            cell(text.asks),
            cell(&levels(|l| l.caution)),
            cell(&levels(|l| l.fault))
        );
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::LimitKey;
    use crate::finding::Traits;

    const TEXT: Text = Text {
        id: "missing-slot",
        finds: "missing frames",
        asks: "Is there a frame in every slot?",
        why: "A hole is a jump.",
        how: "By the grid.",
        blind: "The end.",
        remedy: "Shoot again.",
        traits: Traits::PLAIN,
        source: "common practice, no source",
    };
    const LIMITS: [Limit; 2] = [
        Limit {
            key: LimitKey::new("slots"),
            unit: "missing slots",
            direction: Direction::AtLeast,
            caution: Some(1.0),
            fault: Some(3.0),
            source: "common practice, no source",
        },
        Limit {
            key: LimitKey::new("share"),
            unit: "% of slots",
            direction: Direction::Above,
            caution: None,
            fault: Some(2.0),
            source: "common practice, no source",
        },
    ];

    #[test]
    fn the_whole_text_of_a_check_is_told() {
        let told = one((&TEXT, &LIMITS), false);
        for part in [
            TEXT.asks,
            TEXT.why,
            TEXT.how,
            TEXT.blind,
            TEXT.remedy,
            "caution never; fault over 2 % of slots.",
        ] {
            assert!(told.contains(part), "{part} in {told}");
        }
        assert!(told.contains("  [tolerance.missing-slot]\n  slots_caution = 1\n"));
    }

    #[test]
    fn the_table_is_markdown() {
        assert_eq!(
            checks_table(&[(&TEXT, &LIMITS)]).lines().last(),
            Some(
                "| `missing-slot` | Is there a frame in every slot? | any missing slot | \
                 from 3 missing slots; over 2 % of slots |"
            )
        );
    }

    #[test]
    fn the_list_names_every_check() {
        assert!(list(&[(&TEXT, &LIMITS)], false).starts_with("missing-slot  Is there"));
    }
}
