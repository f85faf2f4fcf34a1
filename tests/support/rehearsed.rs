//! Rehearsed shots as frames, without files.

use lapseproof::card::{Card, CardFile, FileKind, FileNumber, Folder, Shot};
use lapseproof::frames::{Cell, Frames, Row, Stamp, StampSource};
use lapseproof::rehearse::Script;
use lapseproof::units::Micros;
use std::ffi::OsString;

/// The frames that a card with this rehearsal would yield, in the order in which they were shot.
pub fn frames(script: &Script, digits: u8) -> Frames {
    let resolution = Micros::step_of(digits);
    let card = Card {
        roots: vec!["card".into()],
        folders: vec![Folder { root: 0, path: "".into(), number: None }],
        ..Card::default()
    };
    let mut out = Frames { card, ..Frames::default() };
    for (i, shot) in script.shots.iter().filter(|s| s.on_card()).enumerate() {
        out.card.shots.push(Shot {
            file: CardFile {
                folder: 0,
                name: OsString::from(format!("RUN_{:04}.JPG", shot.number)).into_boxed_os_str(),
                bytes: 1_000_000 + i as u64,
                kind: FileKind::Jpeg,
            },
            companions: Vec::new(),
            number: Some(FileNumber { value: u32::from(shot.number), digits: 4 }),
        });
        out.rows.push(Row {
            stamp: Cell::Known(Stamp {
                at: shot.stamp,
                resolution,
                digits,
                offset_min: shot.offset_min,
                source: StampSource::Original,
            }),
            exposure_s: Cell::Known(shot.settings.marked_s),
            f_number: Cell::Known(shot.settings.f_number as f32),
            iso: Cell::Known(shot.settings.iso as u32),
            size: Cell::Known((6000, 4000)),
            print: i as u64 + 1,
            ..Row::default()
        });
    }
    out
}
