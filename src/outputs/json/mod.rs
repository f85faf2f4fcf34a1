//! `audit.json`: everything, with a schema number in the outer object. The structs are the output's own, so
//! that the inner types may change without the file changing.

mod each;
mod fill;
mod number;
mod plan;
mod record;
mod set;
mod several;
pub mod v1;
pub(super) mod visible;

pub(super) use number::number;
pub(super) use plan::{PlanV1, told as plan_as_told};

use super::report::Report;
use crate::audit::{Audit, AuditSet};
use std::io::{self, Write};
pub use v1::SCHEMA;

/// Writes the record, with a line end after it.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(audit: &Audit, out: impl Write) -> io::Result<()> {
    write_of(&Report::of(audit), out)
}

/// The same of a report that is worked out.
pub(super) fn write_of(report: &Report<'_>, mut out: impl Write) -> io::Result<()> {
    visible::write(&mut out, &fill::record(report))?;
    out.write_all(b"\n")
}

/// Writes the record of all cameras, with a line end after it; where there is one, that of [`write()`].
///
/// # Errors
/// Where `out` does not take it.
pub fn write_set(set: &AuditSet, out: impl Write) -> io::Result<()> {
    match set.single() {
        Some(audit) => write(audit, out),
        None => write_set_of(set, &Report::of_each(set), out),
    }
}

/// The record of several cameras, of reports that are worked out.
pub(super) fn write_set_of(set: &AuditSet, reports: &[Report<'_>], mut out: impl Write) -> io::Result<()> {
    visible::write(&mut out, &set::record(set, reports))?;
    out.write_all(b"\n")
}

/// The plan as it stands in the record.
pub(super) fn plan_value(asked: &crate::plan::Plan) -> serde_json::Value {
    serde_json::to_value(plan::told(asked)).unwrap_or_default()
}

/// The JSON Schema (draft 2020-12) of `audit.json`, with a line end after it.
pub fn schema() -> String {
    let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    let schema = settings.into_generator().into_root_schema_for::<v1::Record<'_>>();
    // A schema is a plain tree of maps and strings: writing it cannot fail, and an empty answer would be seen
    // at once.
    serde_json::to_string_pretty(schema.as_value()).map(|s| s + "\n").unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;
    use serde_json::Value;

    fn told(audit: &Audit) -> Value {
        let mut bytes = Vec::new();
        write(audit, &mut bytes).unwrap();
        serde_json::from_slice(&bytes).unwrap()
    }

    #[test]
    fn the_contract_keys_are_there() {
        let json = told(&sample::audit());
        assert_eq!(json["schema"], 1);
        assert_eq!(json["verdict"]["call"], "hold");
        for (key, value) in
            [("frames", 5), ("slots", 7), ("missing", 2), ("surplus", 1), ("damaged", 1), ("outside", 1)]
        {
            assert_eq!(json["counts"][key], value, "{key}");
        }
        assert_eq!(json["cadence"]["interval_s"], 12.0);
        assert_eq!(json["cadence"]["counted_from"], "open");
        assert_eq!(json["stretches"][0]["first_file"], "100WEIR/WEIR0012.JPG");
        let finding = &json["findings"][0];
        assert_eq!(finding["check"], "missing-slot");
        assert_eq!(finding["count"], 2);
        assert_eq!(finding["first_file"], "100WEIR/WEIR0014.JPG");
        assert_eq!(finding["last_file"], "100WEIR/WEIR0015.JPG");
        assert_eq!(finding["cause"], "trigger-missed");
        assert_eq!(finding["evidence"]["gap_s"], 36.0);
        assert_eq!(finding["doubt"], "One slot may be enough.");
        assert_eq!((&finding["count_low"], &finding["count_high"]), (&1.into(), &2.into()));
        assert_eq!(json["pictures"], "none");
        assert_eq!(json["complete"], true);
    }

    /// Each key stands in the file whether its value is known or not.
    #[test]
    fn what_is_not_known_is_null_and_never_left_out() {
        let mut audit = sample::audit();
        let full = told(&audit);
        sample::forget(&mut audit);
        let empty = told(&audit);
        fn keys(of: &Value) -> Vec<&str> {
            of.as_object().unwrap().keys().map(String::as_str).collect()
        }
        assert_eq!(keys(&full), keys(&empty));
        for object in ["counts", "cadence", "verdict", "plan"] {
            assert_eq!(keys(&full[object]), keys(&empty[object]), "{object}");
        }
        for (object, key) in [
            ("counts", "slots"),
            ("counts", "missing"),
            ("cadence", "interval_s"),
            ("cadence", "counted_from"),
            ("verdict", "usable"),
        ] {
            assert!(empty[object][key].is_null(), "{object}.{key}");
        }
        assert_eq!(keys(&full["findings"][0]), keys(&full["findings"][1]));
        assert!(full["findings"][1]["doubt"].is_null());
    }

    #[test]
    fn what_is_no_number_is_null() {
        let mut audit = sample::audit();
        audit.evidence.timing.cadence.as_mut().unwrap().interval_s = f64::NAN;
        assert!(told(&audit)["cadence"]["interval_s"].is_null());
    }

    #[test]
    fn the_schema_asks_for_every_key_that_is_written() {
        let schema: Value = serde_json::from_str(&schema()).unwrap();
        let required: Vec<_> =
            schema["required"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
        let json = told(&sample::audit());
        let mut written: Vec<_> = json.as_object().unwrap().keys().map(String::as_str).collect();
        written.sort_unstable();
        let mut required = required;
        required.sort_unstable();
        assert_eq!(required, written);
        assert!(schema["$defs"]["Counts"]["properties"]["frames"]["description"].is_string());
    }
}
