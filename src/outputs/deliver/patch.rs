//! `patch.csv`: a row for each place that is to be patched, in the order of the run (RFC 4180, UTF-8).

use crate::outputs::frames_csv::writer;
use crate::outputs::report::patch::Place;
use crate::outputs::{cells, columns};
use std::io::{self, Write};

/// Writes `patch.csv`. File names stand without their folders, as the client has them.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(
    places: &[Place],
    name: &dyn Fn(usize) -> String,
    words: &dyn Fn(&str) -> String,
    out: impl Write,
) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(columns::PATCH.iter().map(|c| c.name))?;
    for patch in places {
        csv.write_record([
            patch.kind.to_owned(),
            cells::count(patch.slot),
            patch.count.to_string(),
            cells::text(&name(patch.first)).into_owned(),
            cells::text(&name(patch.last)).into_owned(),
            patch.at.map(|at| at.iso(3)).unwrap_or_default(),
            cells::count(patch.slot.filter(|s| *s >= 0)),
            cells::text(&words(&patch.words)).into_owned(),
        ])?;
    }
    csv.flush()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::report::patch::list;
    use crate::outputs::sample;

    #[test]
    fn names_are_the_clients_and_no_formula() {
        let mut bytes = Vec::new();
        let name = |at: usize| format!("={at}");
        write(&list(&sample::audit()), &name, &|w| w.to_owned(), &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.starts_with("kind,slot,count,first_file,last_file,at,clip_frame,note\r\n"), "{text}");
        assert!(
            text.contains("missing,3,2,'=3,'=4,2026-05-09T04:10:36.000,3,the stamps allow 1 to 2\r\n"),
            "{text}"
        );
    }
}
