//! One file an output. They see the audit and its data types, never the checks.

mod asked;
mod cells;
pub mod columns;
pub mod deliver;
pub mod explain;
pub mod findings_csv;
pub mod frames_csv;
pub mod html;
pub mod index;
pub mod json;
pub mod levels_csv;
mod lines;
pub mod place;
pub mod shoot;
pub mod text;
mod usable;

#[cfg(test)]
pub(crate) mod sample;

use crate::audit::Audit;
use place::{Place, PlaceError};
use std::path::PathBuf;

/// Writes every output of an audit to its place: each beside its final name first, and renamed only once all are whole.
///
/// Returns the paths in the order in which they were written.
///
/// # Errors
/// Where a file cannot be written or renamed; an earlier report then stands as it was.
pub fn write_all(audit: &Audit, place: &Place) -> Result<Vec<PathBuf>, PlaceError> {
    write_all_with(audit, &html::Gallery::default(), place)
}

/// The same, with pictures for the report.
///
/// # Errors
/// As for [`write_all`].
pub fn write_all_with(
    audit: &Audit,
    gallery: &html::Gallery,
    place: &Place,
) -> Result<Vec<PathBuf>, PlaceError> {
    let staged = vec![
        place.stage("frames.csv", |out| frames_csv::write(audit, out))?,
        place.stage("findings.csv", |out| findings_csv::write(audit, out))?,
        place.stage("frames.csv-metadata.json", |out| columns::write("frames.csv", columns::FRAMES, out))?,
        place.stage("findings.csv-metadata.json", |out| {
            columns::write("findings.csv", columns::FINDINGS, out)
        })?,
        place.stage("levels.csv", |out| levels_csv::write(audit, out))?,
        place.stage("levels.csv-metadata.json", |out| columns::write("levels.csv", columns::LEVELS, out))?,
        place.stage("summary.txt", |out| out.write_all(text::summary(audit, false).as_bytes()))?,
        place.stage("audit.json", |out| json::write(audit, out))?,
        place.stage("report.html", |out| html::write_with(audit, gallery, out))?,
    ];
    place.commit(staged)
}
