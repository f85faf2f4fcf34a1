//! `progress`: a run that still goes on, as text and as JSON. Both lay out what `told` says.

mod json;
mod told;

pub use json::write;
pub use told::Underway;

use super::text::{Page, Tone};
use told::Told;

/// The answer in one line, without a line end.
pub fn line(run: Underway<'_>) -> String {
    Told::of(run).answer
}

/// The whole answer, a line end after its last line: the answer, what to do, and the figures behind it.
pub fn text(runs: &[Underway<'_>], colour: bool, width: usize) -> String {
    let mut page = Page::of_width(colour, width);
    for (n, run) in runs.iter().enumerate() {
        if n > 0 {
            page.line(Tone::Plain, "");
        }
        if runs.len() > 1 {
            page.line(Tone::Strong, &crate::units::shown(&run.audit.name));
        }
        let told = Told::of(*run);
        let tone = if run.forecast.on_course() { Tone::Good } else { Tone::Bad };
        page.wrap(0, tone, &told.answer);
        if let Some(to_do) = &told.to_do {
            page.wrap(0, Tone::Plain, &format!("Now: {to_do}"));
        }
        page.line(Tone::Plain, "");
        for (label, words) in &told.lines {
            page.hang(0, (Tone::Faint, label), LABEL, words);
        }
    }
    page.finish()
}

/// Columns of the labels.
const LABEL: usize = 10;
