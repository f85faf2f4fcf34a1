//! Tables of real stamps: rows of frames without their files.

use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::{Card, CardFile, FileKind, Folder, Shot, file_number};
use lapseproof::frames::{Cell, Frames, Row, Stamp, StampSource};
use lapseproof::plan::Plan;
use lapseproof::units::{CivilTime, Micros};
use std::ffi::OsString;
use std::path::Path;

/// The audit of a table below `stamps/`; `None` where it is not there.
pub fn audited(name: &str, plan: Plan) -> Option<Audit> {
    let table = super::real()?.join("stamps").join(format!("{name}.tsv"));
    let table = super::there(&table)?;
    Some(carry_out(Setting { name: name.into(), plan, ..Setting::default() }, frames(table)))
}

/// The frames of a table: a row a file, as a reference reader read them.
pub fn frames(table: &Path) -> Frames {
    let mut reader = csv::ReaderBuilder::new().delimiter(b'\t').from_path(table).expect("a table");
    let columns = reader.headers().expect("names of columns").clone();
    let card = Card {
        roots: vec!["card".into()],
        folders: vec![Folder { root: 0, path: "".into(), number: None }],
        ..Card::default()
    };
    let mut frames = Frames { card, ..Frames::default() };
    for record in reader.records() {
        let record = record.expect("a row");
        let cell = |name: &str| {
            let at = columns.iter().position(|c| c == name).unwrap_or_else(|| panic!("no column {name}"));
            record.get(at).unwrap_or_default().trim()
        };
        let number = |name: &str| cell(name).parse::<f64>().ok();
        let file = cell("file");
        let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
        frames.card.shots.push(Shot {
            file: CardFile {
                folder: 0,
                name: OsString::from(file).into_boxed_os_str(),
                bytes: number("bytes").map_or(0, |n| n as u64),
                kind: FileKind::Jpeg,
            },
            companions: Vec::new(),
            number: file_number(stem),
        });
        let known = |v: Option<f64>| v.map_or(Cell::Absent, Cell::Known);
        frames.rows.push(Row {
            stamp: stamp(cell("stamp"), cell("subsec")).map_or(Cell::Absent, Cell::Known),
            exposure_s: known(number("exposure_s")),
            f_number: number("f_number").map_or(Cell::Absent, |n| Cell::Known(n as f32)),
            iso: number("iso").map_or(Cell::Absent, |n| Cell::Known(n as u32)),
            size: number("width")
                .zip(number("height"))
                .map_or(Cell::Absent, |(w, h)| Cell::Known((w as u32, h as u32))),
            exposure_mode: number("exposure_mode").map_or(Cell::Absent, |n| Cell::Known(n as u8)),
            print: frames.rows.len() as u64 + 1,
            ..Row::default()
        });
    }
    frames.in_card_order();
    frames
}

fn stamp(text: &str, fraction: &str) -> Option<Stamp> {
    let fields: Vec<i64> = text.split([':', ' ']).map(|f| f.parse().ok()).collect::<Option<_>>()?;
    let [year, month, day, hour, minute, second] = fields[..] else { return None };
    let digits = fraction.len() as u8;
    let part: i64 = if digits == 0 { 0 } else { fraction.parse().ok()? };
    let date = (i16::try_from(year).ok()?, month as i8, day as i8);
    let resolution = Micros::step_of(digits);
    let micros = u32::try_from(part * resolution.get()).ok()?;
    let at = CivilTime::from_calendar(date, (hour as i8, minute as i8, second as i8), micros)?;
    Some(Stamp { at, resolution, digits, offset_min: None, source: StampSource::Original })
}
