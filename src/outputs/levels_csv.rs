//! `levels.csv`: for each frame of the run the exposure correction that levels it, in capture order (RFC
//! 4180, UTF-8). Any developer of raw files that takes a correction in EV a frame can use it.

use super::frames_csv::writer;
use super::{cells, columns};
use crate::audit::{Audit, AuditSet};
use crate::evidence::FrameView;
use crate::evidence::picture::{Sight, levels};
use crate::frames::PictureSource;
use std::io::{self, Write};

/// The columns. `level_settings_ev` and `level_brightness_ev` are EV to add; use one or the other, not both.
pub const COLUMNS: [&str; 8] = [
    "slot",
    "file",
    "stamp",
    "ev100",
    "level_settings_ev",
    "brightness_ev",
    "level_brightness_ev",
    "brightness_from",
];

/// Writes the table.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(audit: &Audit, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS)?;
    each_row(audit, |row| csv.write_record(row))?;
    csv.flush()
}

/// Writes the table of several cameras, one after the other, and behind each row which camera it is of.
///
/// # Errors
/// Where `out` does not take it.
pub fn write_set(set: &AuditSet, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS.into_iter().chain([columns::CAMERA_INDEX.name]))?;
    for (n, own) in set.cameras.iter().enumerate() {
        each_row(&own.audit, |row| csv.write_record(row.into_iter().chain([n.to_string()])))?;
    }
    csv.flush()
}

/// Lends every row of an audit, in capture order.
fn each_row(
    audit: &Audit,
    mut write: impl FnMut([String; COLUMNS.len()]) -> csv::Result<()>,
) -> csv::Result<()> {
    let evidence = &audit.evidence;
    let levels = levels(&audit.plan, evidence);
    let known = |values: &[f32], at: usize| values.get(at).map(|v| f64::from(*v));
    for frame in evidence.run() {
        let at = frame.at();
        write([
            cells::count(frame.slot()),
            cells::text(&evidence.frames.path_text(at)).into_owned(),
            cells::stamp(frame.stamp()),
            cells::number(frame.ev100_shown(), 3),
            cells::number(known(&levels.settings_ev, at), 3),
            cells::number(frame.brightness_ev(), 3),
            cells::number(known(&levels.brightness_ev, at), 3),
            told_by(frame).to_owned(),
        ])?;
    }
    Ok(())
}

/// Where the brightness comes from, or why there is none; empty where pictures were not read.
fn told_by(frame: FrameView<'_>) -> &'static str {
    match (frame.sight(), frame.look()) {
        (Sight::TooBright, _) => "cut-off",
        (Sight::TooDark, _) => "lost",
        (Sight::Clear, Some(look)) => PictureSource::word(look.source),
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn a_row_a_frame_of_the_run_and_no_sheet_formula() {
        let mut out = Vec::new();
        write(&sample::audit(), &mut out).expect("memory takes it");
        let text = String::from_utf8(out).expect("UTF-8");
        let lines: Vec<_> = text.split("\r\n").filter(|l| !l.is_empty()).collect();
        assert_eq!(lines[0], COLUMNS.join(","));
        assert_eq!(lines.len(), 6, "the frame outside and the surplus one are left out: {text}");
        assert!(lines[1..].iter().all(|l| l.split(',').count() == COLUMNS.len()), "{text}");
    }
}
