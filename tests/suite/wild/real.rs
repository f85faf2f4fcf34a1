//! Real runs as tables: file, stamp, subsec, exposure_s, f_number, iso, width, height; an empty cell is a tag
//! that is absent.

use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::{Card, CardFile, FileKind, Folder, Shot, file_number};
use lapseproof::frames::{Cell, Frames, Row, Stamp, StampSource};
use lapseproof::units::{CivilTime, Micros};
use std::ffi::OsString;

/// A cell of the table as a number.
fn cell<T: std::str::FromStr>(text: &str) -> Cell<T> {
    if text.is_empty() { Cell::Absent } else { text.parse().map_or(Cell::Unreadable, Cell::Known) }
}

/// The stamp as the file has it.
fn stamp(text: &str, subsec: &str) -> Option<Stamp> {
    let part = |range: std::ops::Range<usize>| text.get(range)?.parse::<i16>().ok();
    let small = |range: std::ops::Range<usize>| part(range).and_then(|n| i8::try_from(n).ok());
    let digits = subsec.len().min(6);
    let micros = format!("{:0<6}", &subsec[..digits]).parse().ok()?;
    let at = CivilTime::from_calendar(
        (part(0..4)?, small(5..7)?, small(8..10)?),
        (small(11..13)?, small(14..16)?, small(17..19)?),
        micros,
    )?;
    let digits = digits as u8;
    Some(Stamp {
        at,
        resolution: Micros::step_of(digits),
        digits,
        offset_min: None,
        source: StampSource::Original,
    })
}

/// The audit of a table's rows, without a plan.
pub fn audited(table: &str) -> Audit {
    let card = Card {
        roots: vec!["card".into()],
        folders: vec![Folder { root: 0, path: "".into(), number: None }],
        ..Card::default()
    };
    let mut frames = Frames { card, ..Frames::default() };
    for (at, line) in table.lines().skip(1).enumerate() {
        let cells: Vec<&str> = line.split('\t').collect();
        frames.card.shots.push(Shot {
            file: CardFile {
                folder: 0,
                name: OsString::from(cells[0]).into_boxed_os_str(),
                bytes: cells[9].parse().unwrap_or(0),
                kind: FileKind::Jpeg,
            },
            companions: Vec::new(),
            number: file_number(cells[0].split('.').next().unwrap_or_default()),
        });
        let size = cells[6].parse().ok().zip(cells[7].parse().ok());
        frames.rows.push(Row {
            stamp: stamp(cells[1], cells[2]).map_or(Cell::Absent, Cell::Known),
            exposure_s: cell(cells[3]),
            f_number: cell(cells[4]),
            iso: cell(cells[5]),
            size: size.map_or(Cell::Absent, Cell::Known),
            print: at as u64 + 1,
            ..Row::default()
        });
    }
    frames.in_card_order();
    carry_out(Setting { name: "real".into(), ..Setting::default() }, frames)
}
