//! Asked and shot, side by side.

use super::page::{Page, Tone, WIDTH, padded, wrapped};
use crate::outputs::report::Report;

const LABEL: usize = 10;
const ASKED: usize = 29;

/// Writes the table.
pub(crate) fn asked_and_shot(page: &mut Page, report: &Report<'_>) {
    page.heading("Planned and shot");
    row(page, Tone::Faint, "", "planned", "shot");
    for told in &report.asked {
        row(page, Tone::Plain, told.label, &told.asked, &told.shot);
    }
}

fn row(page: &mut Page, tone: Tone, label: &str, asked: &str, shot: &str) {
    let left = wrapped(asked, ASKED);
    let right = wrapped(shot, WIDTH - 2 - LABEL - ASKED - 2);
    for n in 0..left.len().max(right.len()) {
        let part = |lines: &[String]| lines.get(n).cloned().unwrap_or_default();
        let label = if n == 0 { label } else { "" };
        let line = format!("  {label:<LABEL$}{}  {}", padded(&part(&left), ASKED), part(&right));
        page.line(tone, line.trim_end());
    }
}
