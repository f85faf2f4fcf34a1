//! The keys of a plan file, table by table, and which of them a wrong key stood for.

use super::super::near;
use super::super::schema::{Keyed, exposure_of_part};
use super::super::{CardPlan, DeliveryPlan, DocumentPlan, ExposurePlan, Part, Plan, RigPlan};

/// How each table is written, and the key that it is above the first table.
const TABLES: [(&str, &str); 8] = [
    ("", ""),
    ("exposure", "[exposure]"),
    ("rig", "[rig]"),
    ("card", "[card]"),
    ("delivery", "[delivery]"),
    ("part", "[[part]]"),
    ("accepted", "[[accepted]]"),
    ("tolerance", "[tolerance.CHECK]"),
];

/// Other words of the trade for our keys.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("title", "name"),
    ("every", "interval"),
    ("count", "frames"),
    ("shots", "frames"),
    ("duration", "run"),
    ("hours", "active"),
    ("exposure_time", "shutter"),
    ("f_number", "aperture"),
    ("f_stop", "aperture"),
    ("fnumber", "aperture"),
    ("sensitivity", "iso"),
    ("frame_rate", "fps"),
    ("framerate", "fps"),
    ("clip", "length"),
    ("velocity", "speed"),
];

fn names<S: Keyed>() -> impl Iterator<Item = &'static str> {
    S::KEYS.iter().map(|key| key.name)
}

/// The keys of the table that is written so; the empty name stands for those above the first table.
pub(super) fn of(heading: &str) -> Vec<&'static str> {
    match heading {
        "" => names::<Plan>().chain(TABLES.iter().map(|t| t.0).filter(|key| !key.is_empty())).collect(),
        "[exposure]" => names::<ExposurePlan>().collect(),
        "[rig]" => names::<RigPlan>().collect(),
        "[card]" => names::<CardPlan>().collect(),
        "[delivery]" => names::<DeliveryPlan>().chain(names::<DocumentPlan>()).collect(),
        "[[part]]" => {
            let mut own = names::<Part>();
            let first = ["from"].into_iter().chain(own.next());
            first.chain(exposure_of_part().map(|key| key.name)).chain(own).collect()
        }
        "[[accepted]]" => vec!["check", "at", "file", "count", "reason"],
        _ => Vec::new(),
    }
}

/// How the key of a table is written where it heads one: `[exposure]`, `[[part]]`.
pub(super) fn heading(key: &str) -> Option<&'static str> {
    TABLES.iter().find(|t| t.0 == key && !key.is_empty()).map(|t| t.1)
}

/// The key that `word` stood for in the table written `here`: first the same key of another table, then a
/// near miss in this one, then another word of the trade, then a near miss elsewhere.
pub(super) fn meant(here: &str, word: &str) -> Option<String> {
    let small = word.to_lowercase();
    let tables: Vec<(&str, Vec<&str>)> = TABLES.iter().map(|t| (t.1, of(t.1))).collect();
    let exact = |table: &(&str, Vec<&'static str>)| table.1.iter().find(|k| **k == small).copied();
    if let Some((table, key)) = tables.iter().filter(|t| t.0 != here).find_map(|t| Some((t.0, exact(t)?))) {
        // A key in capitals may belong right here.
        let mine = tables.iter().filter(|t| t.0 == here).find_map(exact);
        return Some(mine.map_or_else(|| said(here, table, key), |key| said(here, here, key)));
    }
    let own = tables.iter().find(|t| t.0 == here).and_then(|t| near::meant(word, t.1.iter().copied()));
    if let Some(key) = own {
        return Some(said(here, here, key));
    }
    let other = OTHER_WORDS.iter().find(|(other, _)| *other == small.replace('-', "_")).map(|(_, key)| *key);
    if let Some(key) = other {
        let table = tables.iter().filter(|t| t.1.contains(&key)).min_by_key(|t| t.0 != here)?;
        return Some(said(here, table.0, key));
    }
    let elsewhere = tables.iter().filter(|t| t.0 != here);
    elsewhere
        .filter_map(|t| Some((t.0, near::meant(word, t.1.iter().copied())?)))
        .next()
        .map(|(t, k)| said(here, t, k))
}

/// `key` of `table` as it is told to somebody who wrote it in `here`.
fn said(here: &str, table: &str, key: &str) -> String {
    match (heading(key), table) {
        (Some(heading), "") => heading.to_owned(),
        (_, table) if table == here => key.to_owned(),
        (_, "") => format!("{key}, above the first [table]"),
        (_, table) => format!("{table} {key}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_key_that_was_meant() {
        for (here, word, want) in [
            ("", "intervall", Some("interval")),
            ("", "shutter", Some("[exposure] shutter")),
            ("", "shuter", Some("[exposure] shutter")),
            ("", "ISO", Some("[exposure] iso")),
            ("", "exposur", Some("[exposure]")),
            ("", "parts", Some("[[part]]")),
            ("", "duration", Some("run")),
            ("", "fps", Some("[delivery] fps")),
            ("[rig]", "frames", Some("frames, above the first [table]")),
            ("[rig]", "travle", Some("travel")),
            ("[exposure]", "ISO", Some("iso")),
            ("[exposure]", "f_number", Some("aperture")),
            ("[exposure]", "max-step", Some("max_step")),
            ("[[part]]", "busy", Some("[exposure] busy")),
            ("[[part]]", "Shutter", Some("shutter")),
            ("[[accepted]]", "resaon", Some("reason")),
            ("", "colour", None),
        ] {
            assert_eq!(meant(here, word).as_deref(), want, "{here} {word}");
        }
    }
}
