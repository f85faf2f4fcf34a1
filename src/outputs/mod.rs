//! One file an output. They see the audit and the types that it is made of, never the checks.
//!
//! README.md beside this file tells how it works.

mod cells;
pub mod columns;
pub mod comparison;
pub mod deliver;
pub mod explain;
pub mod findings_csv;
pub mod frames_csv;
pub mod html;
pub mod index;
pub mod json;
pub mod levels_csv;
pub mod place;
pub mod plan_keys;
pub mod progress;
mod report;
pub mod shoot;
pub mod text;

#[cfg(test)]
pub(crate) mod sample;

use crate::audit::{Audit, AuditSet};
use crate::store::Staged;
use place::{Place, PlaceError};
use report::Report;

/// The page of the report.
pub const PAGE: &str = "report.html";

/// The files of an audit's report.
pub const NAMES: [&str; 9] = [
    "frames.csv",
    "findings.csv",
    "frames.csv-metadata.json",
    "findings.csv-metadata.json",
    "levels.csv",
    "levels.csv-metadata.json",
    "summary.txt",
    "audit.json",
    PAGE,
];

/// Writes every output of an audit to its place: each beside its final name first, and renamed only once all
/// are whole.
///
/// Returns the paths below the place, in the order in which they were written.
///
/// # Errors
/// Where a file cannot be written or renamed; an earlier report then stands as it was.
pub fn write_all(audit: &Audit, place: &Place) -> Result<Vec<String>, PlaceError> {
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
) -> Result<Vec<String>, PlaceError> {
    place.commit(stage_all(audit, gallery, place)?)
}

/// The same, written beside the final names alone: a survey puts the reports of all its sequences in place
/// together.
///
/// # Errors
/// Where a file cannot be written.
pub fn stage_all(audit: &Audit, gallery: &html::Gallery, place: &Place) -> Result<Vec<Staged>, PlaceError> {
    let report = Report::of(audit);
    Ok(vec![
        place.stage("frames.csv", |out| frames_csv::write(audit, out))?,
        place.stage("findings.csv", |out| findings_csv::write(audit, out))?,
        place.stage("frames.csv-metadata.json", |out| columns::write("frames.csv", columns::FRAMES, out))?,
        place.stage("findings.csv-metadata.json", |out| {
            columns::write("findings.csv", columns::FINDINGS, out)
        })?,
        place.stage("levels.csv", |out| levels_csv::write(audit, out))?,
        place.stage("levels.csv-metadata.json", |out| columns::write("levels.csv", columns::LEVELS, out))?,
        place.stage("summary.txt", |out| out.write_all(text::summary_of(&report, false).as_bytes()))?,
        place.stage("audit.json", |out| json::write_of(&report, out))?,
        place.stage(PAGE, |out| html::write_of(&report, gallery, out))?,
    ])
}

/// Writes every output of the audits of all cameras; `galleries` holds the pictures for the report, one of
/// each camera. Where there is one camera, what is written is its audit's alone.
///
/// # Errors
/// As for [`write_all`].
pub fn write_set(
    set: &AuditSet,
    galleries: &[html::Gallery],
    place: &Place,
) -> Result<Vec<String>, PlaceError> {
    if let Some(audit) = set.single() {
        let none = html::Gallery::default();
        return write_all_with(audit, galleries.first().unwrap_or(&none), place);
    }
    let with = |own: &[columns::Column], more: &[columns::Column]| [own, more].concat();
    let frames = with(columns::FRAMES, &[columns::CAMERA_INDEX]);
    let findings = with(columns::FINDINGS, &[columns::CAMERA_INDEX, columns::CAMERA]);
    let levels = with(columns::LEVELS, &[columns::CAMERA_INDEX]);
    let reports = Report::of_each(set);
    let staged = vec![
        place.stage("frames.csv", |out| frames_csv::write_set(set, out))?,
        place.stage("findings.csv", |out| findings_csv::write_set(set, out))?,
        place.stage("frames.csv-metadata.json", |out| columns::write("frames.csv", &frames, out))?,
        place.stage("findings.csv-metadata.json", |out| columns::write("findings.csv", &findings, out))?,
        place.stage("levels.csv", |out| levels_csv::write_set(set, out))?,
        place.stage("levels.csv-metadata.json", |out| columns::write("levels.csv", &levels, out))?,
        place.stage("summary.txt", |out| {
            out.write_all(text::summary_of_reports(set, &reports, false).as_bytes())
        })?,
        place.stage("audit.json", |out| json::write_set_of(set, &reports, out))?,
        place.stage(PAGE, |out| html::write_set_of(set, &reports, galleries, out))?,
    ];
    place.commit(staged)
}
