//! The tables of a plan file.

use super::super::forms;
use super::super::near;
use super::super::schema::{Keyed, exposure_of_part};
use super::super::{Accepted, ExposurePlan, Part, PartStart, Plan};
use super::error::quoted;
use super::reader::{Reader, Section, kind, listed_or};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

pub(super) fn plan(reader: &mut Reader<'_>, entries: &DeTable<'_>) -> Plan {
    let top = Section { heading: "", entries };
    reader.unknown_keys(&top);
    let mut plan = Plan::default();
    if let Some(table) = reader.table(&top, "delivery") {
        reader.unknown_keys(&table);
        reader.fill(&table, Keyed::KEYS, &mut plan.delivery);
        reader.fill(&table, Keyed::KEYS, &mut plan.document);
    }
    reader.fill(&top, Keyed::KEYS, &mut plan);
    whole(reader, &top, "exposure", &mut plan.exposure);
    whole(reader, &top, "rig", &mut plan.rig);
    whole(reader, &top, "card", &mut plan.card);
    plan.parts = parts(reader, &top);
    plan.accepted = accepted(reader, &top);
    plan.tolerances = tolerances(reader, &top);
    plan
}

/// Reads a table whose keys all stand in rows.
fn whole<S: Keyed>(reader: &mut Reader<'_>, top: &Section<'_>, name: &str, into: &mut S) {
    if let Some(table) = reader.table(top, name) {
        reader.unknown_keys(&table);
        reader.fill(&table, S::KEYS, into);
    }
}

fn parts(reader: &mut Reader<'_>, top: &Section<'_>) -> Vec<Part> {
    let mut all = Vec::new();
    for (heading, table) in reader.tables(top, "part") {
        reader.unknown_keys(&table);
        let from = part_start(reader, &table, heading);
        // Read to its end where it has no beginning: every mistake is told.
        let mut part = Part::from(from.clone().unwrap_or(PartStart::Frame(0)));
        reader.fill(&table, Part::KEYS, &mut part);
        reader.fill::<ExposurePlan>(&table, exposure_of_part(), &mut part.exposure);
        all.extend(from.map(|_| part));
    }
    all
}

/// Where a part begins: at a frame (a whole number, from 0), a moment, or a file.
fn part_start(reader: &mut Reader<'_>, table: &Section<'_>, heading: Range<usize>) -> Option<PartStart> {
    let expected = "from = a frame's number in the run (from 0), a file such as \"TIDE0300.JPG\", or a date \
                    and time such as \"2026-05-09T05:00:00\"";
    let Some(value) = table.get("from") else {
        reader.lacks(heading, &table.label("from"), expected);
        return None;
    };
    if let DeValue::Integer(n) = value.get_ref() {
        let number = u64::from_str_radix(n.as_str(), n.radix()).ok().filter(|n| *n <= 100_000_000);
        if number.is_none() {
            let message = format!("{} cannot be {}", table.label("from"), quoted(&n.to_string()));
            reader.wrong(value.span(), message, expected, None);
        }
        return number.map(PartStart::Frame);
    }
    // A name with an ending and without the colons of a time of day is a file's.
    if let DeValue::String(text) = value.get_ref() {
        let ending = text.rsplit_once('.').map_or("", |(_, ending)| ending);
        if ending.starts_with(|c: char| c.is_ascii_alphabetic()) && !text.contains(':') {
            return reader.text(table, "from").map(PartStart::File);
        }
    }
    reader.moment(table, "from", forms::moment).map(PartStart::Moment)
}

fn accepted(reader: &mut Reader<'_>, top: &Section<'_>) -> Vec<Accepted> {
    let mut all = Vec::new();
    for (heading, table) in reader.tables(top, "accepted") {
        reader.unknown_keys(&table);
        for (key, expected) in [
            ("check", "the id of the check whose finding is accepted, such as \"missing-slot\""),
            ("reason", "why the finding is accepted, in your words"),
        ] {
            if table.get(key).is_none() {
                reader.lacks(heading.clone(), &table.label(key), expected);
            }
        }
        let check = reader.text(&table, "check").filter(|id| {
            let span = table.get("check").map(toml::Spanned::span).unwrap_or_default();
            check_is_known(reader, id, span)
        });
        let (at, file) = (reader.moment(&table, "at", forms::moment), reader.text(&table, "file"));
        let count = reader.quantity(&table, "count", forms::count);
        let reason = reader.text(&table, "reason");
        all.extend(check.zip(reason).map(|(check, reason)| Accepted { check, at, file, count, reason }));
    }
    all
}

/// Whether `id` names a check; notes it where it does not.
fn check_is_known(reader: &mut Reader<'_>, id: &str, span: Range<usize>) -> bool {
    let known = reader.known;
    if known.iter().any(|k| k.id == id) {
        return true;
    }
    let meant = near::meant(id, known.iter().map(|k| k.id)).map(str::to_owned);
    let expected = "the id of a check; `lapseproof explain` lists them";
    reader.wrong(span, format!("there is no check `{}`", quoted(id)), expected, meant);
    false
}

fn tolerances(reader: &mut Reader<'_>, top: &Section<'_>) -> BTreeMap<String, BTreeMap<String, f64>> {
    let mut all = BTreeMap::new();
    let Some(table) = reader.table(top, "tolerance") else { return all };
    for (id, value) in table.entries.iter() {
        let (name, known) = (id.get_ref().as_ref(), reader.known);
        if !check_is_known(reader, name, id.span()) {
            continue;
        }
        let DeValue::Table(limits) = value.get_ref() else {
            let message = format!("`[tolerance] {name}` is {}", kind(value.get_ref()));
            let heading = format!("[tolerance.{name}]");
            let expected = format!("a table, headed by {heading}");
            reader.wrong(value.span(), message, &expected, Some(heading));
            continue;
        };
        let keys: Vec<&str> =
            known.iter().filter(|k| k.id == name).flat_map(|k| k.keys.iter().map(String::as_str)).collect();
        let mut levels = BTreeMap::new();
        for (key, value) in limits.iter() {
            let word = key.get_ref().as_ref();
            if !keys.contains(&word) {
                let message = format!("the check `{name}` has no limit `{}`", quoted(word));
                let meant = near::meant(word, keys.iter().copied()).map(str::to_owned);
                reader.wrong(key.span(), message, &listed_or(&keys), meant);
                continue;
            }
            let number = match value.get_ref() {
                DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok().map(|n| n as f64),
                DeValue::Float(x) => x.as_str().parse().ok().filter(|x: &f64| x.is_finite()),
                _ => None,
            };
            match number {
                Some(number) => {
                    levels.insert(word.to_owned(), number);
                }
                None => {
                    let text = reader.lines.text.get(value.span()).unwrap_or_default();
                    let message = format!("`[tolerance.{name}] {word}` cannot be {}", quoted(text));
                    reader.wrong(value.span(), message, "a plain number, in the unit of the limit", None);
                }
            }
        }
        all.insert(name.to_owned(), levels);
    }
    all
}
