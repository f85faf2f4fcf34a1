//! `index.html`: the survey as a page, with the way to each report.

use super::text::{loose_words, place, row_cells};
use crate::outputs::html::document;
use crate::outputs::text::passed_over_words;
use crate::survey::{SequenceLine, Survey};
use crate::units::{counted, shown};
use maud::{Markup, html};
use std::io::{self, Write};

/// Lines of a list that are told; the rest is counted.
const LISTED: usize = 40;

/// Writes the page.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(survey: &Survey, mut out: impl Write) -> io::Result<()> {
    out.write_all(page(survey).into_string().as_bytes())?;
    out.write_all(b"\n")
}

fn page(survey: &Survey) -> Markup {
    let name = survey.roots.iter().map(|r| shown(r)).collect::<Vec<_>>().join(", ");
    let (inside, loose) = survey.frames();
    let loose = loose + survey.sequences.iter().map(|s| s.others).sum::<u64>();
    let n = survey.sequences.len() as u64;
    let limits = survey.sequences.iter().find_map(|s| s.limited_to);
    document(
        &format!("{} in {name}", counted(n, "sequence")),
        &html! {
            a class="skip" href="#sequences" { "To the sequences" }
            header class="mast" {
                p class="kind" { "Time-lapse survey" }
                h1 { (name) }
                p class="facts" {
                    (counted(n, "sequence")) " · " (counted(inside, "frame"))
                    @if loose > 0 { " · " (loose) " more in none" }
                    @if let Some(limits) = limits { " · " (limits) }
                }
            }
            main {
                @if !survey.complete() { (trouble(survey)) }
                section id="sequences" {
                    h2 { "Sequences" }
                    @if survey.sequences.is_empty() { p { "None: too few frames hang together." } }
                    @else { (table(survey)) }
                }
                @if !survey.loose.is_empty() {
                    section id="loose" {
                        h2 { "In no sequence" }
                        ul {
                            @for l in survey.loose.iter().take(LISTED) {
                                li { (place(survey, l.root, &l.folder)) ": " (loose_words(l)) "." }
                            }
                            @if survey.loose.len() > LISTED {
                                li { (survey.loose.len() - LISTED) " more folders; each in index.json." }
                            }
                        }
                    }
                }
                @if !survey.passed_over.is_empty() {
                    section id="passed-over" {
                        h2 { "Passed over" }
                        ul {
                            @for (why, n) in &survey.passed_over { li { (n) " " (passed_over_words(*why)) } }
                        }
                    }
                }
            }
        },
    )
}

/// What stands in the columns beside the call.
const HEAD: [&str; 7] = ["where", "when", "frames", "missing", "interval", "exposure", "why"];

fn table(survey: &Survey) -> Markup {
    html! {
        table class="wide" {
            thead { tr { th scope="col" { "call" } @for head in HEAD { th scope="col" { (head) } } } }
            tbody { @for s in &survey.sequences { (row(survey, s)) } }
        }
    }
}

fn row(survey: &Survey, s: &SequenceLine) -> Markup {
    let word = s.call.word();
    html! {
        tr class={ "call-row " (word) } {
            th scope="row" {
                span class="call-word" {
                    @match &s.report {
                        // Its folder's name holds letters, digits and hyphens alone.
                        Some(report) => a href={ (report) "/report.html" } { (word.to_uppercase()) },
                        None => (word.to_uppercase()),
                    }
                }
                @if !s.complete { " " span class="asks" { "incomplete" } }
            }
            @for (head, cell) in HEAD.iter().zip(row_cells(survey, s)) {
                td class=[matches!(*head, "when" | "interval").then_some("level")] data-label=(head) {
                    @if cell.is_empty() { span class="none" { "nothing" } } @else { (cell) }
                    @if let Some(story) = s.story.as_ref().filter(|_| *head == "why") {
                        div class="asks" { (shown(story)) }
                    }
                }
            }
        }
    }
}

fn trouble(survey: &Survey) -> Markup {
    html! {
        section class="incomplete" id="incomplete" {
            h2 { "Incomplete" }
            p { (counted(survey.trouble.len() as u64, "place")) " could not be read." }
            ul {
                @for t in survey.trouble.iter().take(LISTED) { li { (t.path) ": " (t.what) } }
                @if survey.trouble.len() > LISTED {
                    li { (survey.trouble.len() - LISTED) " more; each in index.json." }
                }
            }
        }
    }
}
