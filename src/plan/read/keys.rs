//! The keys of a plan file, table by table, and which of them a wrong key stood for.

use super::super::near;

/// Keys that stand above the first table, the tables among them.
pub(super) const TOP: &[&str] = &[
    "name",
    "interval",
    "frames",
    "run",
    "start",
    "counted_from",
    "bracket",
    "first",
    "last",
    "active",
    "light",
    "mains_hz",
    "exposure",
    "rig",
    "card",
    "delivery",
    "part",
    "accepted",
    "tolerance",
];

/// Keys of `[exposure]`.
pub(super) const EXPOSURE: &[&str] =
    &["mode", "shutter", "aperture", "iso", "max_step", "busy", "dark_frame"];

/// Keys of `[rig]`.
pub(super) const RIG: &[&str] = &[
    "kind",
    "direction",
    "travel",
    "step",
    "speed",
    "acceleration",
    "settle",
    "trigger_lag",
    "waits",
    "battery_hours",
    "hours_range",
    "temperature",
    "interval_range",
    "interval_step",
    "step_range",
    "speed_range",
    "distance",
    "focal_length",
    "pixel_pitch",
];

/// Keys of `[card]`.
pub(super) const CARD: &[&str] = &["size", "frame_size", "file_system"];

/// Keys of `[delivery]`.
pub(super) const DELIVERY: &[&str] = &["fps", "length", "patch_up_to", "title", "scenario", "contact"];

/// Keys of `[[part]]`.
pub(super) const PART: &[&str] =
    &["from", "interval", "mode", "shutter", "aperture", "iso", "max_step", "direction", "note"];

/// Keys of `[[accepted]]`.
pub(super) const ACCEPTED: &[&str] = &["check", "at", "file", "count", "reason"];

/// How each table is written; the empty name stands for the keys above the first table.
const TABLES: &[(&str, &[&str])] = &[
    ("", TOP),
    ("[exposure]", EXPOSURE),
    ("[rig]", RIG),
    ("[card]", CARD),
    ("[delivery]", DELIVERY),
    ("[[part]]", PART),
    ("[[accepted]]", ACCEPTED),
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

/// How the key of a table is written where it heads one: `[exposure]`, `[[part]]`.
pub(super) fn heading(key: &str) -> Option<&'static str> {
    match key {
        "exposure" => Some("[exposure]"),
        "rig" => Some("[rig]"),
        "card" => Some("[card]"),
        "delivery" => Some("[delivery]"),
        "part" => Some("[[part]]"),
        "accepted" => Some("[[accepted]]"),
        "tolerance" => Some("[tolerance.CHECK]"),
        _ => None,
    }
}

/// The key that `word` stood for in the table written `here`: first the same key of another table, then a
/// near miss in this one, then another word of the trade, then a near miss elsewhere.
pub(super) fn meant(here: &str, word: &str) -> Option<String> {
    let small = word.to_lowercase();
    let exact = |table: &(&str, &'static [&'static str])| table.1.iter().find(|k| **k == small).copied();
    if let Some((table, key)) = TABLES.iter().filter(|t| t.0 != here).find_map(|t| Some((t.0, exact(t)?))) {
        // A key in capitals may belong right here.
        let mine = TABLES.iter().filter(|t| t.0 == here).find_map(exact);
        return Some(mine.map_or_else(|| said(here, table, key), |key| said(here, here, key)));
    }
    let own = TABLES.iter().find(|t| t.0 == here).and_then(|t| near::meant(word, t.1.iter().copied()));
    if let Some(key) = own {
        return Some(said(here, here, key));
    }
    let other = OTHER_WORDS.iter().find(|(other, _)| *other == small.replace('-', "_")).map(|(_, key)| *key);
    if let Some(key) = other {
        let table = TABLES.iter().filter(|t| t.1.contains(&key)).min_by_key(|t| t.0 != here)?;
        return Some(said(here, table.0, key));
    }
    let elsewhere = TABLES.iter().filter(|t| t.0 != here);
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
