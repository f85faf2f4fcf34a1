//! `frames.csv`: a row a frame and a row a missing slot, in slot order (RFC 4180, UTF-8).
//!
//! Written row by row: nothing grows with the frames but the file.

use super::report::lines::{self, Line, Marks};
use super::report::several::camera_name;
use super::{cells, columns};
use crate::audit::{Audit, AuditSet};
use crate::evidence::timing::Hole;
use crate::evidence::{Cell, FrameView, StampSource};
use csv::{ByteRecord, Terminator, Writer, WriterBuilder};
use std::io::{self, Write};

/// The columns. Those of the published contract come first and keep their order; later ones are added at the
/// end.
pub const COLUMNS: [&str; 26] = [
    "slot",
    "state",
    "file",
    "companions",
    "number",
    "camera",
    "stamp",
    "stamp_resolution_s",
    "utc_offset",
    "interval_s",
    "slot_offset_s",
    "exposure_s",
    "f_number",
    "iso",
    "ev100",
    "ev_step",
    "findings",
    // How many slots the row stands for: 1, more for the one row of a hole of more than 10,000 (of any, where
    // more than 100,000 are empty in all), 0 for a further exposure of a bracket; empty in no slot. They add
    // up to the slots of the run.
    "slots",
    // When the slot was due on the camera's clock, by its stretch.
    "due",
    // Index of the FRAMES argument that the path is below.
    "root",
    "serial",
    "stamp_source",
    // What is wrong with the file, or why it lies outside the run.
    "note",
    // How the picture moved since the frame before, as the camera stores it; empty without --movement.
    "shift_x_percent",
    "shift_y_percent",
    "move_steps",
];

/// A hole of more slots than this is one row.
const MOST_ROWS: u64 = 10_000;
/// Where more slots than this are empty in all, every hole is one row: the table stays as long as the card.
const MOST_ROWS_IN_ALL: u64 = 100_000;

/// The header of a CSV output, and its writer: CRLF, quoted only where RFC 4180 asks for it.
pub(super) fn writer<W: Write>(out: W) -> Writer<W> {
    WriterBuilder::new().terminator(Terminator::CRLF).from_writer(out)
}

/// Writes the table.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(audit: &Audit, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS)?;
    each_row(Rows::new(audit), |record| csv.write_byte_record(record))?;
    csv.flush()
}

/// Writes the table of several cameras: the rows of each in slot order, one camera after the other, and
/// behind them which camera it is. A missing slot names its camera, too.
///
/// # Errors
/// Where `out` does not take it.
pub fn write_set(set: &AuditSet, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS.into_iter().chain([columns::CAMERA_INDEX.name]))?;
    for (n, own) in set.cameras.iter().enumerate() {
        let index = n.to_string();
        let mut rows = Rows::new(&own.audit);
        rows.lacking = own.camera.as_ref().map(camera_name).unwrap_or_default();
        each_row(rows, |record| {
            record.push_field(index.as_bytes());
            csv.write_byte_record(record)
        })?;
    }
    csv.flush()
}

/// Lends every row of an audit, in slot order.
fn each_row(
    mut rows: Rows<'_>,
    mut write: impl FnMut(&mut ByteRecord) -> csv::Result<()>,
) -> csv::Result<()> {
    let mut record = ByteRecord::with_capacity(256, COLUMNS.len() + 1);
    let empty: u64 = rows.audit.evidence.timing.holes.iter().fold(0, |n, h| n.saturating_add(h.slots));
    let most = if empty > MOST_ROWS_IN_ALL { 1 } else { MOST_ROWS };
    for line in lines::lines(rows.audit) {
        match line {
            Line::Frame(at) => {
                rows.frame(at, &mut record);
                write(&mut record)?;
            }
            Line::Hole(hole) if hole.slots > most => {
                rows.missing(hole.slot, hole.slots, &mut record);
                write(&mut record)?;
            }
            Line::Hole(hole) => each_slot(hole, |slot| {
                rows.missing(slot, 1, &mut record);
                write(&mut record)
            })?,
        }
    }
    Ok(())
}

fn each_slot(hole: &Hole, mut row: impl FnMut(i64) -> csv::Result<()>) -> csv::Result<()> {
    (0..hole.slots).try_for_each(|i| row(hole.slot.saturating_add_unsigned(i)))
}

/// What is carried from row to row.
struct Rows<'a> {
    audit: &'a Audit,
    marks: Marks,
    marked: String,
    outside: usize,
    /// The frame of the run before this one.
    before: Option<usize>,
    /// The last slot that a frame of the run was told in.
    slot: Option<i64>,
    /// The cameras as they are named, by their number.
    cameras: Vec<String>,
    /// The camera that a missing slot names: none where there is only one.
    lacking: String,
    /// Numbers as they were last written, a place a column: neighbours mostly share them, and writing them is
    /// dear.
    written: [Written; 8],
}

/// A number, and how it was written.
#[derive(Default)]
struct Written(Option<(Option<u64>, String)>);

impl Written {
    /// Text of the number with its column's decimals.
    fn tell(&mut self, value: Option<f64>, decimals: usize) -> &str {
        let bits = value.map(f64::to_bits);
        if self.0.as_ref().is_none_or(|(of, _)| *of != bits) {
            self.0 = Some((bits, cells::number(value, decimals)));
        }
        self.0.as_ref().map_or("", |(_, text)| text)
    }
}

impl<'a> Rows<'a> {
    fn new(audit: &'a Audit) -> Self {
        Self {
            audit,
            marks: Marks::new(audit),
            marked: String::new(),
            outside: 0,
            before: None,
            slot: None,
            cameras: audit.evidence.frames.cameras.iter().map(camera_name).collect(),
            lacking: String::new(),
            written: Default::default(),
        }
    }

    fn missing(&self, slot: i64, slots: u64, record: &mut ByteRecord) {
        record.clear();
        let due = self.audit.schedule.due(&self.audit.evidence, slot);
        for column in COLUMNS {
            let cell = match column {
                "slot" => slot.to_string(),
                "state" => "missing".into(),
                "camera" => cells::text(&self.lacking).into_owned(),
                "findings" => "missing-slot".into(),
                "slots" => slots.to_string(),
                "due" => due.map(|d| d.iso(3)).unwrap_or_default(),
                _ => String::new(),
            };
            record.push_field(cell.as_bytes());
        }
    }

    fn frame(&mut self, at: usize, record: &mut ByteRecord) {
        record.clear();
        let evidence = &self.audit.evidence;
        let frames = &evidence.frames;
        let frame = evidence.frame(at);
        let (row, shot) = (frame.row(), frame.shot());
        let in_run = frame.stands();
        let slot = frame.slot().filter(|_| !frame.is_outside());
        let stamp = frame.stamp();
        let number = row.camera.known().map(usize::from);
        let camera = number.and_then(|c| frames.cameras.get(c));
        let before = self.before.filter(|_| in_run).map(|before| evidence.frame(before));
        let interval = before
            .and_then(FrameView::moment)
            .zip(frame.moment())
            .map(|(earlier, now)| now.seconds_since(earlier));
        // Without contacts on the lens only the steps are known, not where they stand.
        let step = before.and_then(FrameView::ev100).zip(frame.ev100()).map(|(earlier, now)| now - earlier);
        let offset = frame.offset_s().filter(|_| slot.is_some());
        let companions: Vec<_> = shot.companions.iter().map(|c| frames.file_text(c)).collect();
        self.marks.tell(at, &mut self.marked);
        let note = self.note(frame);
        let [resolutions, intervals, offsets, times, apertures, isos, evs, steps] = &mut self.written;

        let mut push = |cell: &str| record.push_field(cell.as_bytes());
        push(&cells::count(slot));
        push(frame.state().word());
        push(&cells::text(&frames.path_text(at)));
        push(&cells::text(&companions.join("; ")));
        push(&cells::count(shot.number.map(|n| n.value)));
        push(&cells::text(number.and_then(|c| self.cameras.get(c)).map_or("", String::as_str)));
        push(&cells::stamp(stamp));
        push(resolutions.tell(stamp.map(|s| s.resolution.seconds()), 6));
        push(&cells::utc_offset(stamp.and_then(|s| s.offset_min)));
        push(intervals.tell(interval, 3));
        push(offsets.tell(offset, 3));
        push(times.tell(row.exposure_s.known().or(frame.exposure_s()), 9));
        push(apertures.tell(frame.marked_f_number().or(frame.f_number()), 2));
        let iso = row.iso.known().map(f64::from);
        push(isos.tell(iso.or(frame.iso()), 0));
        push(evs.tell(frame.ev100_shown(), 3));
        push(steps.tell(step, 3));
        push(&self.marked);
        let again = in_run && slot == self.slot;
        push(match slot {
            Some(_) if again => "0",
            Some(_) => "1",
            None => "",
        });
        push(&self.audit.schedule.due_of(evidence, at).map(|d| d.iso(3)).unwrap_or_default());
        push(&cells::count(frames.card.folders.get(shot.file.folder as usize).map(|f| f.root)));
        push(&cells::text(camera.map(|c| c.serial.as_str()).unwrap_or_default()));
        push(source(stamp.map(|s| s.source), &row.stamp));
        push(&cells::text(&note));
        let movement = evidence.movement.as_ref();
        let moved = movement.and_then(|m| m.to(at)).filter(|_| in_run);
        let percent = |px: f64| movement.map(|m| 100.0 * px / f64::from(m.width));
        push(&cells::number(moved.and_then(|m| percent(m.0.0)), 3));
        push(&cells::number(moved.and_then(|m| percent(m.0.1)), 3));
        push(&cells::number(moved.and_then(|m| m.1), 2));
        if in_run {
            self.before = Some(at);
            self.slot = slot.or(self.slot);
        }
    }

    /// What is wrong with the file, what of it was not looked at, or why it lies outside the run.
    fn note(&mut self, frame: FrameView<'_>) -> String {
        let (at, row) = (frame.at(), frame.row());
        let mut words = row.damage.words();
        let mut also = |more: &str| {
            words.push_str(if words.is_empty() { "" } else { "; " });
            words.push_str(more);
        };
        if let Some(not_seen) = row.not_seen() {
            also(&format!("not checked: {}", not_seen.why));
        }
        let outside = &self.audit.evidence.outside;
        while outside.get(self.outside).is_some_and(|o| o.span.last < at) {
            self.outside += 1;
        }
        if let Some(why) = outside
            .get(self.outside)
            .filter(|o| frame.is_outside() && o.span.first <= at)
            .map(|o| o.why.as_str())
        {
            also(why);
        }
        words
    }
}

fn source<T>(source: Option<StampSource>, cell: &Cell<T>) -> &'static str {
    match source {
        Some(StampSource::Original) => "original",
        Some(StampSource::Digitized) => "digitized",
        Some(StampSource::Plain) => "plain",
        None => cell.why_not().unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    fn told(audit: &Audit) -> String {
        let mut bytes = Vec::new();
        write(audit, &mut bytes).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    fn table(audit: &Audit) -> Vec<Vec<String>> {
        let text = told(audit);
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
    }

    fn column(table: &[Vec<String>], name: &str) -> Vec<String> {
        let at = COLUMNS.iter().position(|c| *c == name).unwrap();
        table[1..].iter().map(|row| row[at].clone()).collect()
    }

    #[test]
    fn the_contract_columns_come_first_in_their_order() {
        let header = told(&sample::audit());
        assert!(header.starts_with(
            "slot,state,file,companions,number,camera,stamp,stamp_resolution_s,utc_offset,interval_s,\
             slot_offset_s,\
             exposure_s,f_number,iso,ev100,ev_step,findings,"
        ));
    }

    #[test]
    fn a_row_a_frame_and_a_row_a_missing_slot_in_slot_order() {
        let table = table(&sample::audit());
        let states =
            ["outside", "frame", "frame", "frame", "missing", "missing", "frame", "surplus", "damaged"];
        assert_eq!(column(&table, "state"), states);
        assert_eq!(column(&table, "slot"), ["", "0", "1", "2", "3", "4", "5", "", "6"]);
        assert_eq!(column(&table, "interval_s"), ["", "", "12.000", "12.000", "", "", "36.000", "", ""]);
        assert_eq!(column(&table, "ev_step"), ["", "", "0.000", "-1.000", "", "", "0.000", "", "0.000"]);
        assert_eq!(
            column(&table, "findings"),
            ["", "", "settings-change", "settings-change", "missing-slot", "missing-slot", "", "", ""]
        );
        assert_eq!(column(&table, "due")[4], "2026-05-09T04:10:36.000");
        assert_eq!(column(&table, "note")[8], "cut short (no end of image)");
        assert_eq!(column(&table, "note")[0], "shot before the run");
    }

    #[test]
    fn cells_of_a_frame() {
        let table = table(&sample::audit());
        let cell = |name: &str| column(&table, name)[1].clone();
        assert_eq!(cell("file"), "100WEIR/WEIR0012.JPG");
        assert_eq!(cell("companions"), "100WEIR/WEIR0012.WAV");
        assert_eq!(cell("number"), "12");
        assert_eq!(cell("camera"), "'=Maker One");
        assert_eq!(cell("stamp"), "2026-05-09T04:10:00.00");
        assert_eq!(cell("stamp_resolution_s"), "0.010000");
        assert_eq!(cell("utc_offset"), "+02:00");
        assert_eq!(cell("exposure_s"), "0.016666667");
        assert_eq!(cell("f_number"), "8.00");
        assert_eq!(cell("iso"), "200");
        // log2(64 · 64) − log2(200 / 100), from the exact 1/64 s that is marked 1/60.
        assert_eq!(cell("ev100"), "11.000");
        assert_eq!(column(&table, "slot_offset_s")[3], "-0.250");
        assert_eq!(column(&table, "stamp_source")[8], "absent");
    }

    /// A lens without contacts is taken as constant for the steps; its f-number is unknown, and so is where
    /// the steps stand.
    #[test]
    fn a_lens_without_contacts_has_no_f_number() {
        let mut audit = sample::audit();
        audit.evidence.exposure.aperture_assumed = true;
        for row in &mut audit.evidence.frames.rows {
            row.f_number = Cell::Known(0.0);
        }
        let table = table(&audit);
        for (name, blank) in [("f_number", true), ("ev100", true), ("ev_step", false), ("iso", false)] {
            assert_eq!(column(&table, name)[2].is_empty(), blank, "{name}");
        }
    }

    /// RFC 4180: CRLF after every record, quotes round a cell that holds a comma, a quote or a line end, and
    /// quotes doubled.
    #[test]
    fn rows_are_those_of_rfc_4180() {
        let mut audit = sample::audit();
        audit.evidence.frames.card.shots[1].file.name = std::ffi::OsString::from("a, \"b\"\n.JPG").into();
        let text = told(&audit);
        assert!(text.ends_with("\r\n"));
        assert!(text.contains(",\"100WEIR/a, \"\"b\"\"\n.JPG\","));
        assert_eq!(text.matches("\r\n").count(), 10);
        assert_eq!(column(&table(&audit), "file")[1], "100WEIR/a, \"b\"\n.JPG");
    }

    #[test]
    fn a_hole_beyond_ten_thousand_slots_is_one_row() {
        let mut audit = sample::audit();
        audit.evidence.timing.holes[0].slots = 10_000;
        assert_eq!(table(&audit).len(), 1 + 7 + 10_000);
        audit.evidence.timing.holes[0].slots = 10_001;
        let table = table(&audit);
        assert_eq!(table.len(), 1 + 7 + 1);
        assert_eq!(column(&table, "slots")[4], "10001");
    }

    #[test]
    fn more_than_a_hundred_thousand_empty_slots_are_a_row_a_hole() {
        let mut audit = sample::audit();
        let hole = audit.evidence.timing.holes[0].clone();
        audit.evidence.timing.holes = (0..11).map(|_| Hole { slots: 9_999, ..hole.clone() }).collect();
        let rows = table(&audit);
        assert!(rows.len() < 30, "{} rows", rows.len());
        assert_eq!(column(&rows, "slots")[4], "9999");
    }

    #[test]
    fn the_slots_add_up_to_the_run() {
        let mut audit = sample::audit();
        let sum = |audit: &Audit| {
            column(&table(audit), "slots").iter().filter_map(|s| s.parse::<u64>().ok()).sum::<u64>()
        };
        assert_eq!(sum(&audit), 7);
        // The second frame as a further exposure of the first slot: one slot fewer.
        audit.evidence.slots_mut()[2] = 0;
        assert_eq!(sum(&audit), 6);
        assert_eq!(column(&table(&audit), "slots")[..3], ["", "1", "0"]);
    }

    #[test]
    fn the_maker_is_told_once() {
        let camera = |maker: &str, model: &str| {
            camera_name(&crate::evidence::Camera {
                maker: maker.into(),
                model: model.into(),
                serial: String::new(),
            })
        };
        assert_eq!(camera("ACME CORP", "ACME X1"), "ACME X1");
        assert_eq!(camera("Acme", "X1"), "Acme X1");
        assert_eq!(camera("", "X1"), "X1");
        assert_eq!(camera("Acme", ""), "Acme");
    }
}
