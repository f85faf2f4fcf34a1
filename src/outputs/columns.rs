//! What the columns of the CSV files hold: one description a column, from which the metadata beside each file
//! (W3C "Metadata Vocabulary for Tabular Data", 2015) and the README's table are written.

use serde_json::{Value, json};
use std::io::{self, Write};

/// What the cells of a column are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// Several texts in one cell, with this between them.
    List(&'static str),
    /// A whole number.
    Whole,
    /// A number with decimals.
    Real,
    /// A moment on the camera's clock, `YYYY-MM-DDThh:mm:ss` with the fraction that is known and no offset.
    Moment,
    /// An offset from UTC, `+02:00`.
    Offset,
}

/// One column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name; an ending such as `_s` is its unit.
    pub name: &'static str,
    /// What its cells are. Every cell may be empty: not known.
    pub kind: Kind,
    /// What it holds.
    pub words: &'static str,
}

impl Column {
    /// A column.
    pub const fn new(name: &'static str, kind: Kind, words: &'static str) -> Self {
        Self { name, kind, words }
    }
}

/// The columns of `frames.csv`.
pub const FRAMES: &[Column] = &[
    Column::new("slot", Kind::Whole, "the slot of the run, from 0; empty for a frame in none"),
    Column::new(
        "state",
        Kind::Text,
        "`frame`, `missing`, `surplus`, `damaged` or `outside` (not part of the run)",
    ),
    Column::new("file", Kind::Text, "path below FRAMES; empty for a missing slot"),
    Column::new("companions", Kind::List("; "), "the other files of the same shot"),
    Column::new("number", Kind::Whole, "the number in a camera's file name"),
    Column::new("camera", Kind::Text, "maker and model as the file names them"),
    Column::new("stamp", Kind::Moment, "capture time as the camera wrote it"),
    Column::new("stamp_resolution_s", Kind::Real, "the step of the stamp's digits"),
    Column::new("utc_offset", Kind::Offset, "the camera's offset from UTC"),
    Column::new("interval_s", Kind::Real, "time since the frame of the run before"),
    Column::new(
        "slot_offset_s",
        Kind::Real,
        "by how much the stamp misses its slot; 0 where the stamp's window holds it",
    ),
    Column::new("exposure_s", Kind::Real, "exposure time as marked"),
    Column::new("f_number", Kind::Real, "f-number as marked"),
    Column::new("iso", Kind::Whole, "ISO sensitivity"),
    Column::new("ev100", Kind::Real, "exposure value at ISO 100, from the exact settings"),
    Column::new("ev_step", Kind::Real, "change of the exposure value since the frame of the run before"),
    Column::new("findings", Kind::List(" "), "ids of the checks that mark the frame"),
    Column::new(
        "slots",
        Kind::Whole,
        "how many slots the row stands for: 1; more for a hole of more than 10,000, and for any hole where \
         more than 100,000 are empty in all; 0 for a further exposure of a bracket",
    ),
    Column::new("due", Kind::Moment, "when the slot was due"),
    Column::new("root", Kind::Whole, "which of the FRAMES arguments the path is below, from 0"),
    Column::new("serial", Kind::Text, "the camera's serial number"),
    Column::new("stamp_source", Kind::Text, "`original`, `digitized` or `plain`; else why there is no stamp"),
    Column::new("note", Kind::Text, "what is wrong with the file, or why it lies outside the run"),
    Column::new(
        "shift_x_percent",
        Kind::Real,
        "how far the picture moved to the right since the frame before, in % of its width (with \
         `--movement`)",
    ),
    Column::new("shift_y_percent", Kind::Real, "how far it moved down, in % of its width"),
    Column::new(
        "move_steps",
        Kind::Real,
        "the same in usual steps of the carriage: 0 where it stood, -1 where it went back",
    ),
];

/// The columns of `findings.csv`.
pub const FINDINGS: &[Column] = &[
    Column::new("check", Kind::Text, "id of the check"),
    Column::new("severity", Kind::Text, "`fault`, `caution` or `note`"),
    Column::new("message", Kind::Text, "the finding in one sentence"),
    Column::new("count", Kind::Whole, "slots or frames that it speaks of"),
    Column::new(
        "first_file",
        Kind::Text,
        "where it begins; the frame before, where it lies between two frames",
    ),
    Column::new("last_file", Kind::Text, "where it ends; the frame after, where it lies between two frames"),
    Column::new("at", Kind::Moment, "when, on the camera's clock"),
    Column::new("cause", Kind::Text, "why, as a code"),
    Column::new("cause_words", Kind::Text, "why, in words"),
    Column::new("accepted", Kind::Text, "the plan's reason for accepting it"),
    Column::new("doubt", Kind::Text, "what else the stamps allow"),
    Column::new("count_low", Kind::Whole, "the smallest count that the stamps allow"),
    Column::new("count_high", Kind::Whole, "the largest count that the stamps allow"),
    Column::new("evidence", Kind::List("; "), "the figures, as `key=value`"),
];

/// The columns of `levels.csv`.
pub const LEVELS: &[Column] = &[
    Column::new("slot", Kind::Whole, "the slot of the run, from 0"),
    Column::new("file", Kind::Text, "path below FRAMES"),
    Column::new("stamp", Kind::Moment, "capture time as the camera wrote it"),
    Column::new("ev100", Kind::Real, "exposure value at ISO 100, from the exact settings"),
    Column::new(
        "level_settings_ev",
        Kind::Real,
        "EV to add so that the steps of the settings vanish; empty where the pictures show that the settings \
         followed the light and this would make the clip worse; not compared with the pictures where none \
         were read",
    ),
    Column::new("brightness_ev", Kind::Real, "brightness of the picture, EV below white"),
    Column::new(
        "level_brightness_ev",
        Kind::Real,
        "EV to add so that the flicker of the pictures vanishes; one or the other, not both",
    ),
    Column::new("brightness_from", Kind::Text, "which picture it was read from, or why it is blind"),
];

/// Which camera a row is of: the last column of `frames.csv` and `levels.csv` where frames are by several
/// cameras.
pub const CAMERA_INDEX: Column =
    Column::new("camera_index", Kind::Whole, "which camera of `audit.json` the row is of, from 0");

/// The same in words, behind [`CAMERA_INDEX`] in `findings.csv`.
pub const CAMERA: Column = Column::new("camera", Kind::Text, "maker and model of that camera");

/// The columns of `patch.csv`.
pub const PATCH: &[Column] = &[
    Column::new("kind", Kind::Text, "`missing`, `damaged`, or the id of the check that found the frames"),
    Column::new("slot", Kind::Whole, "the first slot concerned, from 0"),
    Column::new("count", Kind::Whole, "slots to fill, or frames to look at"),
    Column::new("first_file", Kind::Text, "the frame before a hole, or the first frame concerned"),
    Column::new("last_file", Kind::Text, "the frame after a hole, or the last frame concerned"),
    Column::new("at", Kind::Moment, "when the first was due or shot, on the camera's clock"),
    Column::new("clip_frame", Kind::Whole, "the frame of the clip, from 0, where every slot makes one"),
    Column::new("note", Kind::Text, "what is wrong, in words"),
];

/// Every CSV file, and its columns.
pub const FILES: [(&str, &[Column]); 4] =
    [("frames.csv", FRAMES), ("findings.csv", FINDINGS), ("levels.csv", LEVELS), ("patch.csv", PATCH)];

/// The metadata of a CSV file.
fn metadata(file: &str, columns: &[Column]) -> Value {
    let column = |c: &Column| {
        let mut told =
            json!({ "name": c.name, "titles": c.name, "dc:description": c.words.replace('`', "") });
        let datatype = match c.kind {
            Kind::Text | Kind::List(_) => json!("string"),
            Kind::Whole => json!("integer"),
            Kind::Real => json!("decimal"),
            Kind::Moment => json!("dateTime"),
            Kind::Offset => json!({ "base": "string", "format": "[+-][0-9]{2}:[0-9]{2}" }),
        };
        if let Value::Object(told) = &mut told {
            told.insert("datatype".into(), datatype);
            if let Kind::List(between) = c.kind {
                told.insert("separator".into(), between.into());
            }
        }
        told
    };
    json!({
        "@context": "http://www.w3.org/ns/csvw",
        "url": file,
        "dialect": { "encoding": "utf-8", "lineTerminators": ["\r\n"], "header": true },
        "tableSchema": { "columns": columns.iter().map(column).collect::<Vec<_>>() },
    })
}

/// Writes the metadata of a CSV file.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(file: &str, columns: &[Column], mut out: impl Write) -> io::Result<()> {
    crate::outputs::json::visible::write(&mut out, &metadata(file, columns))?;
    out.write_all(b"\n")
}

/// The README's table of all columns, in Markdown, with a line end after it.
pub fn table() -> String {
    let mut text = String::from("| file | column | cells | what it holds |\n| --- | --- | --- | --- |\n");
    for (file, columns) in FILES {
        for c in columns {
            let kind = match c.kind {
                Kind::Text => "text",
                Kind::List(_) => "texts",
                Kind::Whole => "whole number",
                Kind::Real => "number",
                Kind::Moment => "moment",
                Kind::Offset => "offset",
            };
            text.push_str(&format!("| `{file}` | `{}` | {kind} | {} |\n", c.name, c.words));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::{findings_csv, frames_csv, levels_csv};

    #[test]
    fn every_column_is_described() {
        let names = |columns: &[Column]| columns.iter().map(|c| c.name).collect::<Vec<_>>();
        assert_eq!(names(FRAMES), frames_csv::COLUMNS);
        assert_eq!(names(FINDINGS), findings_csv::COLUMNS);
        assert_eq!(names(LEVELS), levels_csv::COLUMNS);
    }

    #[test]
    fn the_metadata_names_file_and_columns() {
        let told = metadata("frames.csv", FRAMES);
        assert_eq!(told["url"], "frames.csv");
        assert_eq!(told["tableSchema"]["columns"].as_array().map(Vec::len), Some(FRAMES.len()));
        assert_eq!(told["tableSchema"]["columns"][16]["separator"], " ");
    }
}
