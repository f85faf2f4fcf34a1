//! `index.csv`: a row a sequence (RFC 4180, UTF-8).

use crate::outputs::cells;
use crate::outputs::frames_csv::writer;
use crate::survey::{Ends, SequenceLine, Survey};
use std::io::{self, Write};

const COLUMNS: [&str; 29] = [
    "call",
    "complete",
    "name",
    "root",
    "folder",
    "first_file",
    "last_file",
    "camera",
    "serial",
    "start",
    "end",
    "frames",
    "others",
    "missing",
    "interval_s",
    "exposure_low_s",
    "exposure_high_s",
    "f_number_low",
    "f_number_high",
    "iso_low",
    "iso_high",
    "width",
    "height",
    "why",
    "reason",
    "report",
    "sets",
    "set_size",
    "story",
];

pub(crate) fn write(survey: &Survey, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS)?;
    for sequence in &survey.sequences {
        csv.write_record(row(sequence))?;
    }
    csv.flush()
}

fn row(s: &SequenceLine) -> [String; COLUMNS.len()] {
    let text = |words: &str| cells::text(words).into_owned();
    let moment = |at: Option<crate::units::CivilTime>| at.map(|at| at.iso(0)).unwrap_or_default();
    let end = |ends: Ends, high: bool, decimals| {
        cells::number(ends.map(|(low, top)| if high { top } else { low }), decimals)
    };
    let camera = s.camera.as_ref();
    [
        s.call.word().to_owned(),
        s.complete.to_string(),
        text(&s.name),
        s.root.to_string(),
        text(&s.folder),
        text(&s.first_file),
        text(&s.last_file),
        text(&camera.map(|c| format!("{} {}", c.maker, c.model).trim().to_owned()).unwrap_or_default()),
        text(camera.map_or("", |c| c.serial.as_str())),
        moment(s.start),
        moment(s.end),
        s.frames.to_string(),
        s.others.to_string(),
        cells::count(s.missing),
        cells::number(s.interval_s, 4),
        end(s.exposure_s, false, 9),
        end(s.exposure_s, true, 9),
        end(s.f_number, false, 2),
        end(s.f_number, true, 2),
        end(s.iso, false, 0),
        end(s.iso, true, 0),
        cells::count(s.size.map(|z| z.0)),
        cells::count(s.size.map(|z| z.1)),
        s.why.join(" "),
        text(s.reason.as_deref().unwrap_or_default()),
        text(s.report.as_deref().unwrap_or_default()),
        cells::count(s.sets.map(|sets| sets.count)),
        cells::count(s.sets.map(|sets| sets.size)),
        text(s.story.as_deref().unwrap_or_default()),
    ]
}
