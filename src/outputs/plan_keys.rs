//! The keys of a plan as a table for people, by their rows.

use crate::plan::schema::{Keyed, Kind, PlanKey};
use crate::plan::{CardPlan, DeliveryPlan, DocumentPlan, ExposurePlan, Part, Plan, RigPlan};
use std::fmt::Write as _;

/// Every key that stands in a row, with its flag, as a table of Markdown.
pub fn table() -> String {
    let mut out = String::from("| in the plan | as a flag | what it says |\n| --- | --- | --- |\n");
    rows::<Plan>(&mut out, "");
    rows::<ExposurePlan>(&mut out, "[exposure] ");
    rows::<RigPlan>(&mut out, "[rig] ");
    rows::<CardPlan>(&mut out, "[card] ");
    rows::<DeliveryPlan>(&mut out, "[delivery] ");
    rows::<DocumentPlan>(&mut out, "[delivery] ");
    rows::<Part>(&mut out, "[[part]] ");
    out
}

fn rows<S: Keyed>(out: &mut String, heading: &str) {
    for key in S::KEYS {
        let (flag, what) = (flag(key), what(key));
        let _ = writeln!(out, "| `{heading}{}` | {flag} | {what} |", key.name);
    }
}

/// The flag with what stands for its value; the words of a choice in its place.
fn flag<S>(key: &PlanKey<S>) -> String {
    let (Some(flag), Some(long)) = (key.flag, key.long()) else { return String::new() };
    match &key.kind {
        Kind::Word(_) => format!("`--{long} WORD`"),
        Kind::YesNo(_) => format!("`--{long}`"),
        _ => format!("`--{long} {}`", flag.value),
    }
}

/// What the help says, or else the record; with the words of a choice, and where a part may say it anew.
fn what<S>(key: &PlanKey<S>) -> String {
    let mut told = match (&key.flag, &key.kind) {
        (Some(flag), Kind::Word(place)) => format!("{} ({})", flag.help, (place.words)().join(", ")),
        (Some(flag), _) => flag.help.to_owned(),
        (None, _) => key.told().trim_end_matches('.').replace('`', ""),
    };
    if key.in_part {
        told.push_str("; also in a `[[part]]`");
    }
    told
}
