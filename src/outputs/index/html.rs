//! `index.html`: the survey as a page, with the way to each report.

use super::text::{facts, loose_words, place, whereabouts};
use crate::outputs::html::{Glimpse, document};
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
pub(crate) fn write(survey: &Survey, glimpses: &[Glimpse], mut out: impl Write) -> io::Result<()> {
    out.write_all(page(survey, glimpses).into_string().as_bytes())?;
    out.write_all(b"\n")
}

fn page(survey: &Survey, glimpses: &[Glimpse]) -> Markup {
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
                    @else { (cards(survey, glimpses)) }
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
                        h2 { "Not pictures" }
                        ul {
                            @for (why, n) in &survey.passed_over { li { (n) " " (passed_over_words(*why)) } }
                        }
                    }
                }
            }
        },
    )
}

/// A sequence after the other: its call, where it lies, what happened, and what it looks like.
fn cards(survey: &Survey, glimpses: &[Glimpse]) -> Markup {
    html! {
        @for (n, s) in survey.sequences.iter().enumerate() { (card(survey, s, glimpses.get(n))) }
    }
}

fn card(survey: &Survey, s: &SequenceLine, glimpse: Option<&Glimpse>) -> Markup {
    let word = s.call.word();
    let picture = glimpse.and_then(|g| g.picture.as_ref());
    let title = html! {
        span class="call-word" { (word.to_uppercase()) } " " (whereabouts(survey, s))
    };
    html! {
        article class={ "card " (word) @if picture.is_none() { " bare" } } {
            @if let Some(picture) = picture { (picture) }
            div {
                h3 {
                    @match &s.report {
                        // Its folder's name holds letters, digits and hyphens alone.
                        Some(report) => a href={ (report) "/report.html" } { (title) },
                        None => (title),
                    }
                    @if !s.complete { " " span class="asks" { "incomplete" } }
                }
                p class="facts" { (facts(s).join(" · ")) }
                @if let Some(glimpse) = glimpse { p { (glimpse.sentence) } }
                @if let Some(accepted) = &s.accepted { p class="asks" { (shown(accepted)) } }
                @if let Some(glimpse) = glimpse { div class="glance" { (glimpse.strip) } }
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
