//! What `progress --format json` prints. A value that is not known is null and never left out.

use super::told::{Told, Underway};
use crate::forecast::{Expected, RunsOut, Stage};
use crate::outputs::json::visible;
use crate::units::CivilTime;
use serde::Serialize;
use std::io::{self, Write};

/// The number of the schema that is written. Keys may be added under it; none is renamed, removed or given
/// another meaning.
const SCHEMA: u32 = 1;

#[derive(Debug, Serialize)]
struct Record<'a> {
    /// Number of this schema: 1.
    schema: u32,
    /// What wrote the record: its name and version.
    tool: String,
    /// True where every run is on course or over.
    on_course: bool,
    /// One a camera.
    runs: Vec<Run<'a>>,
}

#[derive(Debug, Serialize)]
struct Run<'a> {
    /// Title: the plan's name, else that of the folder.
    name: &'a str,
    /// `running`, `stopped` or `complete`.
    stage: &'static str,
    on_course: bool,
    /// The answer in words.
    sentence: String,
    /// What to do now; null where nothing is.
    to_do: Option<String>,
    /// The present moment on the camera's clock, ISO 8601 without an offset, as all moments are.
    now: String,
    /// Slots so far, empty ones included.
    slots: u64,
    /// Slots that the plan asks for.
    slots_asked: Option<u64>,
    first: Option<String>,
    last: Option<String>,
    next_due: Option<String>,
    /// When the last slot is due.
    end: Option<Moment>,
    /// What runs out, the first one first.
    supplies: Vec<Spent>,
    clip: Clip,
    /// `clear`, `look` or `hold`: what the frames so far come to.
    call: &'static str,
    /// What happened so far, the worst first.
    incidents: Vec<Incident<'a>>,
}

#[derive(Debug, Serialize)]
struct Moment {
    at: String,
    earliest: String,
    latest: String,
}

#[derive(Debug, Serialize)]
struct Spent {
    /// `card`, `battery`, `interval`, `ramp` or `light`.
    what: &'static str,
    at: String,
    /// Slots of the run that it still serves.
    slot: u64,
    /// Bytes that are free, hours that the battery has, seconds of the longest exposure, or stops.
    amount: f64,
    before_end: bool,
}

#[derive(Debug, Serialize)]
struct Clip {
    /// Frames, patches included.
    longest: u64,
    growing: u64,
    ordered: Option<u64>,
    best: Option<u64>,
    enough: Option<bool>,
    shoot_on: u64,
}

#[derive(Debug, Serialize)]
struct Incident<'a> {
    cause: &'a str,
    severity: &'static str,
    sentence: &'a str,
    to_do: &'a str,
}

/// Writes the record of these runs, with a line end after it.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(runs: &[Underway<'_>], mut out: impl Write) -> io::Result<()> {
    let record = Record {
        schema: SCHEMA,
        tool: format!("lapseproof {}", env!("CARGO_PKG_VERSION")),
        on_course: runs.iter().all(|run| run.forecast.on_course()),
        runs: runs.iter().map(|run| record(*run)).collect(),
    };
    visible::write(&mut out, &record)?;
    out.write_all(b"\n")
}

fn record(run: Underway<'_>) -> Run<'_> {
    let (audit, forecast) = (run.audit, run.forecast);
    let Told { answer, to_do, .. } = Told::of(run);
    let clip = &forecast.clip;
    Run {
        name: &audit.name,
        stage: match forecast.stage {
            Stage::Running => "running",
            Stage::Stopped(_) => "stopped",
            Stage::Whole => "complete",
        },
        on_course: forecast.on_course(),
        sentence: answer,
        to_do,
        now: iso(forecast.now),
        slots: forecast.slots,
        slots_asked: forecast.asked,
        first: forecast.ends.map(|e| iso(e.0)),
        last: forecast.ends.map(|e| iso(e.1)),
        next_due: forecast.next.map(iso),
        end: forecast.end.map(moment),
        supplies: forecast.supplies.iter().map(spent).collect(),
        clip: Clip {
            longest: clip.longest,
            growing: clip.growing,
            ordered: clip.ordered,
            best: clip.best,
            enough: clip.enough,
            shoot_on: clip.shoot_on,
        },
        call: forecast.call.word(),
        incidents: audit.verdict.incidents.iter().map(incident).collect(),
    }
}

fn iso(at: CivilTime) -> String {
    at.iso(0)
}

fn moment(expected: Expected) -> Moment {
    Moment { at: iso(expected.at), earliest: iso(expected.earliest), latest: iso(expected.latest) }
}

fn spent(runs_out: &RunsOut) -> Spent {
    let RunsOut { supply, at, slot, amount, before_end } = *runs_out;
    Spent { what: supply.word(), at: iso(at), slot, amount, before_end }
}

fn incident(incident: &crate::verdict::Incident) -> Incident<'_> {
    Incident {
        cause: incident.code,
        severity: incident.severity.word(),
        sentence: &incident.sentence,
        to_do: &incident.to_do,
    }
}
