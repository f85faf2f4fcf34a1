//! What a client keeps: `delivery.html`, the frames to patch, and the manifest that the files are held
//! against.

pub mod manifest;
pub mod patch;

use super::columns;
use super::html::{self, Gallery};
use super::place::{Place, PlaceError};
use super::report::Report;
use crate::audit::Audit;
use crate::store::Staged;
pub use manifest::Sums;

/// The files that a client keeps.
pub const NAMES: [&str; 4] = [manifest::NAME, "patch.csv", "patch.csv-metadata.json", "delivery.html"];

/// Writes what the client keeps, with the pictures found for its page, beside the final names;
/// [`Place::commit`] puts it there.
///
/// # Errors
/// Where a file cannot be written.
pub fn stage_all(
    audit: &Audit,
    gallery: &Gallery,
    sums: &Sums,
    place: &Place,
) -> Result<Vec<Staged>, PlaceError> {
    let mut lines = Vec::new();
    // Writing to memory cannot fail; the page names the checksums of both.
    let _ = manifest::write(&sums.entries, &mut lines);
    let mut patches = Vec::new();
    let report = Report::of(audit);
    let listed = html::with_client_names(&report, |name, words| {
        patch::write(&report.patches, name, words, &mut patches)
    });
    Ok(vec![
        place.stage(manifest::NAME, |out| out.write_all(&lines))?,
        place.stage("patch.csv", |out| listed.and_then(|()| out.write_all(&patches)))?,
        place.stage("patch.csv-metadata.json", |out| columns::write("patch.csv", columns::PATCH, out))?,
        place
            .stage("delivery.html", |out| html::delivery(&report, gallery, sums, &[&lines, &patches], out))?,
    ])
}
