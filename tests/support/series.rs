//! Builders shared by the tests: frames from stamps, without files.

use lapseproof::card::{Card, CardFile, FileKind, FileNumber, Folder, Shot};
use lapseproof::frames::{Cell, Frames, Row, Stamp, StampSource};
use lapseproof::units::{CivilTime, Micros};
use std::ffi::OsString;

/// One frame to be: its stamp from the first moment of the run (`None`: no stamp), its file number (from 1),
/// its exposure time in s and the offset of its clock in minutes.
#[derive(Clone, Copy, Debug)]
pub struct Tick {
    pub stamp: Option<Micros>,
    pub number: u32,
    pub exposure_s: f64,
    pub offset_min: Option<i16>,
}

impl Default for Tick {
    fn default() -> Self {
        Self { stamp: None, number: 1, exposure_s: 1.0 / 60.0, offset_min: None }
    }
}

/// Frames with whole-second or finer stamps, numbered as given, in one folder.
pub fn frames(ticks: &[Tick], resolution: Micros) -> Frames {
    let card = Card {
        roots: vec!["card".into()],
        folders: vec![Folder { root: 0, path: "".into(), number: None }],
        ..Card::default()
    };
    let mut frames = Frames { card, ..Frames::default() };
    let digits = match resolution.get() {
        1_000_000 => 0,
        100_000 => 1,
        10_000 => 2,
        1_000 => 3,
        _ => 6,
    };
    // 2026-05-09T04:10:00 on the camera's clock.
    let start = CivilTime::from_calendar((2026, 5, 9), (4, 10, 0), 0).expect("a real moment").micros();
    for (i, tick) in ticks.iter().enumerate() {
        let value = (tick.number - 1) % 9999 + 1;
        frames.card.shots.push(Shot {
            file: CardFile {
                folder: 0,
                name: OsString::from(format!("TIDE{value:04}.JPG")).into_boxed_os_str(),
                bytes: 1_000_000 + i as u64,
                kind: FileKind::Jpeg,
            },
            companions: Vec::new(),
            number: Some(FileNumber { value, digits: 4 }),
        });
        let stamp = tick.stamp.map_or(Cell::Absent, |at| {
            Cell::Known(Stamp {
                at: CivilTime::from_micros(start + at),
                resolution,
                digits,
                offset_min: tick.offset_min,
                source: StampSource::Original,
            })
        });
        frames.rows.push(Row {
            stamp,
            exposure_s: Cell::Known(tick.exposure_s),
            f_number: Cell::Known(8.0),
            iso: Cell::Known(200),
            size: Cell::Known((6000, 4000)),
            print: i as u64 + 1,
            ..Row::default()
        });
    }
    frames
}

/// The stamp of a moment `t` seconds into the run on a clock that shows steps of `resolution`.
pub fn floored(t: f64, resolution: Micros) -> Micros {
    Micros::nearest(t).floored(resolution)
}
