//! The tables of a plan file, one function each.

use super::super::forms;
use super::super::near;
use super::super::{
    Accepted, CardPlan, CountedFrom, DeliveryPlan, DocumentPlan, ExposureMode, ExposurePlan, FileSystem,
    Light, Part, PartStart, Plan, RigKind, RigPlan, Unnamed, Way,
};
use super::error::quoted;
use super::keys;
use super::reader::{Reader, Section, kind, listed_or};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// Most exposures in a slot.
const MOST_IN_A_BRACKET: u64 = 99;

pub(super) fn plan(reader: &mut Reader<'_>, entries: &DeTable<'_>) -> Plan {
    let top = Section { heading: "", entries, keys: keys::TOP };
    reader.unknown_keys(&top);
    let (clip, document) = delivery(reader, &top);
    Plan {
        name: reader.text(&top, "name"),
        interval_s: reader.quantity(&top, "interval", forms::interval),
        frames: reader.quantity(&top, "frames", forms::count),
        run_s: reader.quantity(&top, "run", forms::interval),
        start: reader.moment(&top, "start", forms::moment),
        counted_from: reader.choice(
            &top,
            "counted_from",
            &[("open", CountedFrom::Open), ("close", CountedFrom::Close)],
        ),
        bracket: reader.quantity(&top, "bracket", bracket),
        first: reader.text(&top, "first"),
        last: reader.text(&top, "last"),
        active: reader.list(&top, "active", forms::daily_hours),
        light: reader.choice(&top, "light", &[("daylight", Light::Daylight), ("mains", Light::Mains)]),
        mains_hz: reader.quantity(&top, "mains_hz", forms::frequency),
        exposure: exposure(reader, &top),
        rig: rig(reader, &top),
        card: card(reader, &top),
        delivery: clip,
        document,
        parts: parts(reader, &top),
        file: None,
        accepted: accepted(reader, &top),
        tolerances: tolerances(reader, &top),
        unnamed: Unnamed::default(),
    }
}

fn bracket(text: &str) -> Result<u32, String> {
    forms::count(text)
        .ok()
        .filter(|n| *n <= MOST_IN_A_BRACKET)
        .and_then(|n| u32::try_from(n).ok())
        .ok_or_else(|| {
            format!("expected a whole number of exposures from 1 to {MOST_IN_A_BRACKET}, such as 3")
        })
}

fn exposure(reader: &mut Reader<'_>, top: &Section<'_>) -> ExposurePlan {
    let Some(table) = reader.table(top, "exposure", keys::EXPOSURE) else { return ExposurePlan::default() };
    reader.unknown_keys(&table);
    ExposurePlan {
        busy_s: reader.quantity(&table, "busy", forms::duration),
        dark_frame: reader.yes_no(&table, "dark_frame"),
        ..settings(reader, &table)
    }
}

/// The keys that `[exposure]` and `[[part]]` share.
fn settings(reader: &mut Reader<'_>, table: &Section<'_>) -> ExposurePlan {
    let modes = [
        ("locked", ExposureMode::Locked),
        ("ramped", ExposureMode::Ramped),
        ("automatic", ExposureMode::Automatic),
    ];
    ExposurePlan {
        mode: reader.choice(table, "mode", &modes),
        shutter_s: reader.planned(table, "shutter", forms::shutter),
        aperture: reader.planned(table, "aperture", forms::f_number),
        iso: reader.planned(table, "iso", forms::iso),
        max_step_ev: reader.quantity(table, "max_step", forms::ev),
        busy_s: None,
        dark_frame: None,
    }
}

fn rig(reader: &mut Reader<'_>, top: &Section<'_>) -> RigPlan {
    let Some(table) = reader.table(top, "rig", keys::RIG) else { return RigPlan::default() };
    reader.unknown_keys(&table);
    let kinds = [("stepped", RigKind::Stepped), ("continuous", RigKind::Continuous)];
    RigPlan {
        kind: reader.choice(&table, "kind", &kinds),
        direction: reader.choice(&table, "direction", &Way::ALL),
        travel_m: reader.quantity(&table, "travel", forms::length),
        step_m: reader.quantity(&table, "step", forms::length),
        speed_m_s: reader.quantity(&table, "speed", forms::speed),
        acceleration_m_s2: reader.quantity(&table, "acceleration", forms::acceleration),
        settle_s: reader.quantity(&table, "settle", forms::duration),
        trigger_lag_s: reader.quantity(&table, "trigger_lag", forms::duration),
        waits: reader.yes_no(&table, "waits"),
        battery_hours: reader.quantity(&table, "battery_hours", forms::hours),
        hours_range: reader.planned(&table, "hours_range", forms::hours),
        temperature_c: reader.quantity(&table, "temperature", forms::temperature),
        interval_range_s: reader.planned(&table, "interval_range", forms::interval),
        interval_step_s: reader.quantity(&table, "interval_step", forms::interval),
        step_range_m: reader.planned(&table, "step_range", forms::length),
        speed_range_m_s: reader.planned(&table, "speed_range", forms::speed),
        distance_m: reader.quantity(&table, "distance", forms::length),
        focal_length_m: reader.quantity(&table, "focal_length", forms::length),
        pixel_pitch_m: reader.quantity(&table, "pixel_pitch", forms::length),
    }
}

fn card(reader: &mut Reader<'_>, top: &Section<'_>) -> CardPlan {
    let Some(table) = reader.table(top, "card", keys::CARD) else { return CardPlan::default() };
    reader.unknown_keys(&table);
    let systems = [("fat16", FileSystem::Fat16), ("fat32", FileSystem::Fat32), ("exfat", FileSystem::Exfat)];
    CardPlan {
        size_bytes: reader.quantity(&table, "size", forms::bytes),
        frame_bytes: reader.quantity(&table, "frame_size", forms::bytes),
        file_system: reader.choice(&table, "file_system", &systems),
    }
}

fn delivery(reader: &mut Reader<'_>, top: &Section<'_>) -> (DeliveryPlan, DocumentPlan) {
    let Some(table) = reader.table(top, "delivery", keys::DELIVERY) else { return Default::default() };
    reader.unknown_keys(&table);
    let clip = DeliveryPlan {
        fps: reader.quantity(&table, "fps", forms::fps),
        length_s: reader.quantity(&table, "length", forms::interval),
        patch_up_to: reader.quantity(&table, "patch_up_to", forms::slots),
    };
    let document = DocumentPlan {
        title: reader.text(&table, "title"),
        scenario: reader.text(&table, "scenario"),
        contact: reader.list(&table, "contact", line),
    };
    (clip, document)
}

/// A line in the photographer's own words.
fn line(text: &str) -> Result<String, String> {
    if text.trim().is_empty() { Err("a line of text in quotes".into()) } else { Ok(text.to_owned()) }
}

fn parts(reader: &mut Reader<'_>, top: &Section<'_>) -> Vec<Part> {
    let mut all = Vec::new();
    for (heading, table) in reader.tables(top, "part", keys::PART) {
        reader.unknown_keys(&table);
        let from = part_start(reader, &table, heading);
        let interval_s = reader.quantity(&table, "interval", forms::interval);
        let exposure = settings(reader, &table);
        let direction = reader.choice(&table, "direction", &Way::ALL);
        let note = reader.text(&table, "note");
        all.extend(from.map(|from| Part { from, interval_s, exposure, direction, note }));
    }
    all
}

/// Where a part begins: at a frame (a whole number, from 0), a moment, or a file.
fn part_start(reader: &mut Reader<'_>, table: &Section<'_>, heading: Range<usize>) -> Option<PartStart> {
    let expected = "from = a frame's number in the run (from 0), a file such as \"TIDE0300.JPG\", or a date and time such as \
         \"2026-05-09T05:00:00\"";
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
    for (heading, table) in reader.tables(top, "accepted", keys::ACCEPTED) {
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
    let Some(table) = reader.table(top, "tolerance", &[]) else { return all };
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
                let message = format!("`{}` is no limit of the check `{name}`", quoted(word));
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
