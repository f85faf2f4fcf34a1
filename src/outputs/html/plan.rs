//! The plan as it was read, and what wrote the page.

use super::quantity;
use super::view::View;
use crate::frames::Pictures;
use crate::outputs::json;
use crate::units::{counted, duration, plain};
use maud::{Markup, html};
use serde_json::Value;

/// The plan: every key that was said, with its unit.
pub(crate) fn plan(view: &View<'_>) -> Markup {
    let mut rows = Vec::new();
    flatten("", &json::plan_value(&view.audit.plan), &mut rows);
    html! {
        details id=(view.id("plan")) {
            summary { "The plan" }
            p { (sentence(&view.words(&view.audit.plan_source))) }
            @if rows.is_empty() {
                p { "No plan was given: the frames are compared with their own interval." }
            }
            @else {
                table class="pairs" {
                    thead { tr { th scope="col" { "key" } th scope="col" { "planned" } } }
                    tbody { @for (key, value) in &rows {
                        tr {
                            th scope="row" { (view.words(key)) }
                            td data-label="planned" { (view.words(value)) }
                        }
                    } }
                }
            }
        }
    }
}

fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    match letters.next() {
        Some(first) => format!("{}{}.", first.to_uppercase(), letters.as_str().trim_end_matches('.')),
        None => String::new(),
    }
}

/// Every value that was said, by its key with a path of words; a key's ending is its unit.
fn flatten(path: &str, value: &Value, out: &mut Vec<(String, String)>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}, {key}") };
    let mut say = |words: String| {
        let (name, unit) = quantity::label(path);
        out.push((name, if unit.is_empty() { words } else { format!("{words} {unit}") }));
    };
    match value {
        Value::Null => {}
        Value::Object(keys) => match (keys.len(), keys.get("from"), keys.get("to")) {
            (2, Some(from), Some(to)) if from == to => say(said(from)),
            (2, Some(from), Some(to)) => say(format!("{} to {}", said(from), said(to))),
            _ => keys.iter().for_each(|(key, inner)| flatten(&below(key), inner, out)),
        },
        Value::Array(all) if all.iter().any(Value::is_object) => {
            for (n, inner) in all.iter().enumerate() {
                flatten(&format!("{path} {}", n + 1), inner, out);
            }
        }
        Value::Array(all) if all.is_empty() => {}
        Value::Array(all) => say(all.iter().map(said).collect::<Vec<_>>().join("; ")),
        one => say(said(one)),
    }
}

fn said(value: &Value) -> String {
    match value {
        Value::Number(n) => n.as_f64().map_or_else(|| n.to_string(), |v| plain(v, 9)),
        Value::String(words) => words.clone(),
        Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Null => "-".to_owned(),
        other => other.to_string(),
    }
}

/// What wrote the page, and what it rests on.
pub(crate) fn versions(view: &View<'_>) -> Markup {
    let audit = view.audit;
    let timing = &audit.evidence.timing;
    let pictures = match audit.pictures {
        Pictures::None => "not looked at: timing and settings only",
        Pictures::Thumb => "embedded thumbnails",
        Pictures::Full => "whole pictures",
    };
    html! {
        details id=(view.id("versions")) {
            summary { "Versions and grounds" }
            table class="pairs" {
                tbody {
                    tr {
                        th scope="row" { "written by" } td {
                            (env!("CARGO_PKG_NAME")) " " (env!("CARGO_PKG_VERSION"))
                        }
                    }
                    tr { th scope="row" { "schema of audit.json" } td { (json::SCHEMA) } }
                    tr {
                        th scope="row" { "frames" } td {
                            (counted(audit.evidence.frames.len() as u64, "frame"))
                        }
                    }
                    tr { th scope="row" { "pictures" } td { (pictures) } }
                    tr { th scope="row" { "order of capture" } td { "by " (timing.basis.words()) } }
                    @if let Some(c) = &timing.cadence {
                        tr { th scope="row" { "stamps resolve" } td { (duration(c.resolution_s)) } }
                        tr { th scope="row" { "timing error granted" } td { (duration(c.timing_error_s)) } }
                    }
                }
            }
        }
    }
}

/// What no call sees.
pub(crate) fn care() -> Markup {
    html! {
        p class="fine" {
            "A call is made from the files alone. It does not see the rig, the weather or the road, and a \
             screening for flashes is no certificate: have clips for broadcast tested. Keep the card until \
             the copies are verified."
        }
    }
}
