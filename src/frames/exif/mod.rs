//! An Exif block into the cells of a row.
//!
//! Source of tags, types and signs for "not known": Exif (CIPA DC-008).

mod fields;
mod joined;
mod satellite;
mod software;
mod stamp;
mod values;

pub(crate) use fields::{Block, Fields, Gather, Part, is_wanted};

use super::Cell;
use super::row::{Camera, Row};
use values::{Value, apex_av, apex_tv, code, f_number, positive};

impl Fields {
    /// Text of a field without blanks and NULs at its end; `None` where there is no such field.
    fn text(&self, number: u16) -> Option<&[u8]> {
        self.get(number).map(values::text)
    }

    fn words(&self, number: u16) -> String {
        String::from_utf8_lossy(self.text(number).unwrap_or_default()).trim().to_owned()
    }

    fn cell<T>(&self, number: u16, read: impl FnOnce(Value<'_>) -> Cell<T>) -> Cell<T> {
        self.get(number).map_or(Cell::Absent, read)
    }
}

/// Puts what the block says into `row`, and gives the camera that it names.
pub(crate) fn fill(row: &mut Row, block: &Block) -> Cell<Camera> {
    let fields = match block {
        Block::Absent => return Cell::Absent,
        Block::Unreadable => {
            row.stamp = Cell::Unreadable;
            row.exposure_s = Cell::Unreadable;
            row.f_number = Cell::Unreadable;
            row.iso = Cell::Unreadable;
            return Cell::Unreadable;
        }
        Block::Read(fields) => fields,
    };
    row.stamp = stamp::stamp(fields);
    row.utc_s = satellite::utc_s(fields);
    row.exposure_s = fields.cell(0x829A, positive);
    row.time_apex = fields.cell(0x9201, apex_tv);
    row.f_number = fields.cell(0x829D, f_number);
    row.aperture_apex = fields.cell(0x9202, apex_av);
    row.iso = joined::iso(fields);
    row.focal_mm = fields.cell(0x920A, positive).map(|mm| mm as f32);
    row.pitch_um = joined::pitch_um(fields);
    row.orientation = fields.cell(0x0112, |v| code(v, 1, 8));
    row.white_balance = fields.cell(0xA403, |v| code(v, 0, 1));
    row.exposure_mode = fields.cell(0xA402, |v| code(v, 0, 2));
    row.program = fields.cell(0x8822, |v| code(v, 0, 9));
    if fields.partial {
        lost(&mut row.stamp);
        lost(&mut row.exposure_s);
        lost(&mut row.f_number);
        lost(&mut row.iso);
    }
    // C62F is DNG's place for the body's serial number.
    let serial = [0xA431, 0xC62F].map(|tag| fields.words(tag)).into_iter().find(|s| !s.is_empty());
    let camera = Camera {
        maker: fields.words(0x010F),
        model: fields.words(0x0110),
        serial: serial.unwrap_or_default(),
    };
    // 000B is the standard's tag for a program that has processed the picture.
    row.edited = !fields.words(0x000B).is_empty() || software::is_editor(&fields.words(0x0131), &camera);
    if camera == Camera::default() { Cell::Absent } else { Cell::Known(camera) }
}

/// In a damaged block a value that was not found was perhaps lost.
fn lost<T>(cell: &mut Cell<T>) {
    if matches!(cell, Cell::Absent) {
        *cell = Cell::Unreadable;
    }
}
