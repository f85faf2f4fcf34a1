//! `index.json`, and what `survey --format json` prints: the record of a survey. A value that is not known is
//! null and never left out; paths are below their root, exact, with bytes that are not UTF-8 as `\xNN`.

use crate::outputs::text::passed_over_words;
use crate::survey::{Ends, SequenceLine, Survey};
use schemars::JsonSchema;
use serde::Serialize;
use std::io::{self, Write};

/// The number of the schema that is written. Keys may be added under it; none is renamed, removed or given
/// another meaning.
const SCHEMA: u32 = 1;

/// The record of one survey.
#[derive(Debug, Serialize, JsonSchema)]
struct Record<'a> {
    /// Number of this schema: 1.
    schema: u32,
    /// What wrote the record: its name and version.
    tool: String,
    /// False where a file could not be read or a folder not be walked (see `trouble`).
    complete: bool,
    /// Names of the folders that were surveyed; a `root` elsewhere is an index into these.
    roots: &'a [String],
    /// The sequences, by the time they begin; those without a stamp last.
    sequences: Vec<Line<'a>>,
    /// Frames that are in no sequence, folder by folder.
    loose: Vec<Loose<'a>>,
    /// Files that are no frames, by reason.
    passed_over: Vec<PassedOver>,
    /// What could not be walked or read.
    trouble: Vec<Trouble<'a>>,
}

/// One sequence.
#[derive(Debug, Serialize, JsonSchema)]
struct Line<'a> {
    /// `clear`, `look` or `hold`, as in the sequence's own audit.
    call: &'static str,
    /// "timing and settings only" where the pictures were not read; else null.
    limited_to: Option<&'static str>,
    /// Ids of the checks that hold the call where it is; empty where it is clear.
    why: &'a [&'static str],
    /// The weightiest reason for it; null where it is clear.
    reason: Option<&'a str>,
    /// What happened in one sentence: its worst incident; null where it is clear.
    story: Option<&'a str>,
    /// False where a file of the sequence was not read, or a check broke.
    complete: bool,
    /// Title: the plan's name, else where the sequence lies.
    name: &'a str,
    /// What it was compared with, in words.
    plan_source: &'a str,
    /// What its plan keeps out of the call by accepting or tolerating it, in words; null where that is
    /// nothing.
    accepted: Option<&'a str>,
    /// Index into `roots`.
    root: u16,
    /// The deepest folder that holds the whole sequence, below its root.
    folder: &'a str,
    /// Its first frame.
    first_file: &'a str,
    /// Its last frame.
    last_file: &'a str,
    /// Maker of the camera, as the files have it.
    camera_maker: Option<&'a str>,
    /// Model of the camera.
    camera_model: Option<&'a str>,
    /// Serial number of the camera's body.
    camera_serial: Option<&'a str>,
    /// Stamp of the first frame, on the camera's clock.
    start: Option<String>,
    /// Stamp of the last frame.
    end: Option<String>,
    /// Frames of the run, damaged ones included.
    frames: u64,
    /// Frames that lie with them and are not of the run.
    others: u64,
    /// Sets of several exposures, incomplete ones included; null with one exposure a slot.
    sets: Option<u64>,
    /// Exposures of a whole set; null with one exposure a slot.
    set_size: Option<u64>,
    /// Slots without a frame; null without a cadence.
    missing: Option<u64>,
    /// Interval, s; null without a cadence.
    interval_s: Option<f64>,
    /// Shortest and longest exposure time as written, s.
    exposure_s: Option<Range>,
    /// Smallest and largest f-number as written.
    f_number: Option<Range>,
    /// Lowest and highest sensitivity as written.
    iso: Option<Range>,
    /// Width of the pictures, px.
    width: Option<u32>,
    /// Height of the pictures, px.
    height: Option<u32>,
    /// Folder of the sequence's own report beside the index; null where none was written.
    report: Option<&'a str>,
}

/// From the smallest to the largest.
#[derive(Debug, Serialize, JsonSchema)]
struct Range {
    low: f64,
    high: f64,
}

/// Frames in no sequence.
#[derive(Debug, Serialize, JsonSchema)]
struct Loose<'a> {
    /// Index into `roots`.
    root: u16,
    /// Their folder below its root.
    folder: &'a str,
    /// Name of the first one in order of names.
    first: &'a str,
    /// Name of the last one.
    last: &'a str,
    /// How many.
    frames: u64,
}

/// Files that are no frames.
#[derive(Debug, Serialize, JsonSchema)]
struct PassedOver {
    /// Why.
    why: String,
    /// How many.
    files: u64,
}

/// What could not be walked or read.
#[derive(Debug, Serialize, JsonSchema)]
struct Trouble<'a> {
    /// Where.
    path: &'a str,
    /// What went wrong.
    what: &'a str,
}

/// Writes the record, with a line end after it.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(survey: &Survey, mut out: impl Write) -> io::Result<()> {
    crate::outputs::json::visible::write(&mut out, &record(survey))?;
    out.write_all(b"\n")
}

/// The JSON Schema (draft 2020-12) of `index.json`, with a line end after it.
pub fn schema() -> String {
    let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    let schema = settings.into_generator().into_root_schema_for::<Record<'_>>();
    // A schema is a plain tree of maps and strings: writing it cannot fail, and an empty answer would be seen
    // at once.
    serde_json::to_string_pretty(schema.as_value()).map(|s| s + "\n").unwrap_or_default()
}

fn record(survey: &Survey) -> Record<'_> {
    Record {
        schema: SCHEMA,
        tool: concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION")).to_owned(),
        complete: survey.complete(),
        roots: &survey.roots,
        sequences: survey.sequences.iter().map(line).collect(),
        loose: survey
            .loose
            .iter()
            .map(|l| Loose {
                root: l.root,
                folder: &l.folder,
                first: &l.first,
                last: &l.last,
                frames: l.frames,
            })
            .collect(),
        passed_over: survey
            .passed_over
            .iter()
            .map(|(why, files)| PassedOver { why: passed_over_words(*why).replace(' ', "-"), files: *files })
            .collect(),
        trouble: survey.trouble.iter().map(|t| Trouble { path: &t.path, what: &t.what }).collect(),
    }
}

fn line(s: &SequenceLine) -> Line<'_> {
    let camera = s.camera.as_ref();
    fn told(text: &str) -> Option<&str> {
        (!text.is_empty()).then_some(text)
    }
    Line {
        call: s.call.word(),
        limited_to: s.limited_to,
        why: &s.why,
        reason: s.reason.as_deref(),
        story: s.story.as_deref(),
        complete: s.complete,
        name: &s.name,
        plan_source: &s.plan_source,
        accepted: s.accepted.as_deref(),
        root: s.root,
        folder: &s.folder,
        first_file: &s.first_file,
        last_file: &s.last_file,
        camera_maker: camera.and_then(|c| told(&c.maker)),
        camera_model: camera.and_then(|c| told(&c.model)),
        camera_serial: camera.and_then(|c| told(&c.serial)),
        start: s.start.map(|at| at.iso(0)),
        end: s.end.map(|at| at.iso(0)),
        frames: s.frames,
        others: s.others,
        sets: s.sets.map(|sets| sets.count),
        set_size: s.sets.map(|sets| sets.size),
        missing: s.missing,
        interval_s: s.interval_s.filter(|v| v.is_finite()).map(|v| (v * 1e9).round() / 1e9),
        exposure_s: range(s.exposure_s),
        f_number: range(s.f_number),
        iso: range(s.iso),
        width: s.size.map(|z| z.0),
        height: s.size.map(|z| z.1),
        report: s.report.as_deref(),
    }
}

/// Cut to nine decimals, so that the noise of the arithmetic is not told.
fn range(ends: Ends) -> Option<Range> {
    let cut = |v: f64| (v * 1e9).round() / 1e9;
    ends.map(|(low, high)| Range { low: cut(low), high: cut(high) })
}
