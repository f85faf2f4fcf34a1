//! The index of a survey: a line a sequence, as a page, as text, as a table and as a record.

mod csv;
mod html;
mod json;
mod text;

pub use json::{schema, write};
pub use text::told;

use super::place::{Place, PlaceError};
use crate::survey::Survey;
use std::path::PathBuf;

/// Writes the four files of the index to the survey's place.
///
/// # Errors
/// Where one cannot be written or renamed; an earlier index then stands as it was.
pub fn write_all(survey: &Survey, place: &Place) -> Result<Vec<PathBuf>, PlaceError> {
    let staged = vec![
        place.stage("index.txt", |out| out.write_all(text::told(survey, false).as_bytes()))?,
        place.stage("index.csv", |out| csv::write(survey, out))?,
        place.stage("index.json", |out| json::write(survey, out))?,
        place.stage("index.html", |out| html::write(survey, out))?,
    ];
    place.commit(staged)
}
