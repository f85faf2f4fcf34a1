//! What a client keeps: `delivery.html`, the frames to patch, and the manifest that the files are held against.

pub mod acceptance;
pub mod manifest;
pub mod patch;

use super::columns;
use super::html;
use super::place::{Place, PlaceError};
use crate::audit::Audit;
use manifest::Entry;
use std::path::PathBuf;

/// The checksums of the files audited.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sums {
    /// One a file, in order of path.
    pub entries: Vec<Entry>,
    /// Bytes of all of them.
    pub bytes: u64,
    /// Files that could not be read to their end: they are not in the manifest.
    pub unread: u64,
}

/// Writes what the client keeps, as [`super::write_all`] does the rest. Returns the paths.
///
/// # Errors
/// Where a file cannot be written or renamed.
pub fn write_all(audit: &Audit, sums: &Sums, place: &Place) -> Result<Vec<PathBuf>, PlaceError> {
    let mut lines = Vec::new();
    let staged = vec![
        place.stage(manifest::NAME, |out| {
            manifest::write(&sums.entries, &mut lines)?;
            out.write_all(&lines)
        })?,
        place.stage("patch.csv", |out| {
            html::with_client_names(audit, |name, words| patch::write(audit, name, words, out))
        })?,
        place.stage("patch.csv-metadata.json", |out| columns::write("patch.csv", patch::COLUMNS, out))?,
        place.stage("delivery.html", |out| html::delivery(audit, sums, &lines, out))?,
    ];
    place.commit(staged)
}
