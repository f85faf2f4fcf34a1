//! The index of a survey: a line a sequence, as a page, as text, as a table and as a record.

mod csv;
mod html;
mod json;
mod text;

pub use json::{schema, write};
pub use text::told;

use super::html::Glimpse;
use super::place::{Place, PlaceError};
use crate::store::Staged;
use crate::survey::Survey;

/// The files of an index.
pub const NAMES: [&str; 4] = ["index.txt", "index.csv", "index.json", "index.html"];

/// Writes the four files of the index to the survey's place, and puts them there with the `reports` of its
/// sequences. `glimpses` holds what the page shows of each sequence, in their order.
///
/// # Errors
/// Where one cannot be written or put there; an earlier survey then stands as it was.
pub fn write_all(
    survey: &Survey,
    glimpses: &[Glimpse],
    reports: Vec<Staged>,
    place: &Place,
) -> Result<Vec<String>, PlaceError> {
    let mut staged = reports;
    staged.extend([
        place.stage("index.txt", |out| out.write_all(text::told(survey, false).as_bytes()))?,
        place.stage("index.csv", |out| csv::write(survey, out))?,
        place.stage("index.json", |out| json::write(survey, out))?,
        place.stage("index.html", |out| html::write(survey, glimpses, out))?,
    ]);
    place.commit(staged)
}
