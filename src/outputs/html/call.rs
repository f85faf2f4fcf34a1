//! The call, what happened in one sentence, what to do; what was asked beside what was shot.

use super::view::View;
use super::weight::severity;
use super::{incidents, strip};
use crate::evidence::Trouble;
use crate::outputs::report::call::meaning;
use crate::outputs::report::usable;
use crate::units::counted;
use crate::verdict::Call;
use maud::{Markup, PreEscaped, html};

/// The class of a call, and the word and sentence that stand for it.
pub(crate) fn class(call: Call) -> &'static str {
    call.word()
}

/// The sign of the call: a ring with a tick, a triangle, an octagon.
pub(crate) fn sign(call: Call) -> Markup {
    let shape = match call {
        Call::Clear => r#"<circle cx="16" cy="16" r="13.5"/><path class="in" d="M9.5 16.5l4.5 4.5 8.5-10"/>"#,
        Call::Look => r#"<path d="M16 3.5 30 28.5H2Z"/><path class="in" d="M16 12v8.5M16 24v.6"/>"#,
        Call::Hold => {
            r#"<path d="M10.5 2.5h11l8 8v11l-8 8h-11l-8-8v-11Z"/><path class="in" d="M8.5 16h15"/>"#
        }
    };
    // A constant of this file.
    html! {
        svg class="sign" viewBox="0 0 32 32" width="56" height="56" aria-hidden="true" { (PreEscaped(shape)) }
    }
}

/// The call, why, and what can be used.
pub(crate) fn call(view: &View<'_>) -> Markup {
    let audit = view.audit;
    let call = audit.verdict.call;
    html! {
        section id=(view.id("call")) class={ "call " (class(call)) } aria-labelledby=(view.call_label()) {
            div class="word" {
                (sign(call))
                div {
                    h2 id=(view.id("call-word")) { (call.word().to_uppercase()) }
                    p class="meaning" {
                        (meaning(call))
                        @if let Some(limit) = view.report.limited_to {
                            " " span class="limit" { "(" (limit) ")" }
                        }
                        @if let Some(accepted) = &view.report.kept_out {
                            " " span class="limit" { "(" (accepted) ")" }
                        }
                        @if audit.verdict.call == Call::Clear && !view.report.end_known {
                            " " span class="limit" { "(end not known)" }
                        }
                    }
                }
            }
            p class="story" { (view.words(&view.report.story.sentence)) }
            @if let Some(to_do) = &view.report.story.to_do {
                p class="now" { strong { "Now: " } (view.words(to_do)) }
            }
            (strip::glance(view))
            @if !audit.complete() { (incomplete(view)) }
            (others(view))
            p { strong { "Usable: " } (usable(view)) }
            @if audit.verdict.reasons.is_empty() {
                p { "No fault and no caution stands, and every check that has to answer could." }
            }
        }
    }
}

/// The incidents behind the worst, a line each.
fn others(view: &View<'_>) -> Markup {
    let all = &view.audit.verdict.incidents;
    html! {
        @if all.len() > 1 {
            ul class="reasons" {
                @for (nth, incident) in all.iter().enumerate().skip(1).take(OTHERS) {
                    li {
                        (severity(incident.severity)) " "
                        a href={ "#" (incidents::id(view, nth)) } { (view.words(&incident.sentence)) }
                    }
                }
            }
            @if all.len() > OTHERS + 1 { p { (all.len() - OTHERS - 1) " more below." } }
        }
    }
}

/// Incidents that the call tells behind the worst.
const OTHERS: usize = 8;

/// Places that are listed one by one.
const LISTED: usize = 12;

fn incomplete(view: &View<'_>) -> Markup {
    unread(&view.audit.evidence.frames.trouble, |text| view.words(text))
}

/// Places that could not be read or walked.
pub(crate) fn unread(all: &[Trouble], words: impl Fn(&str) -> String) -> Markup {
    html! {
        div class="incomplete" role="note" {
            p { strong { "Incomplete." } " " (counted(all.len() as u64, "place")) " could not be read. Put \
                the card back, or allow the files to be read, and run the audit again." }
            ul {
                @for t in all.iter().take(LISTED) { li { (words(&t.path)) ": " (words(&t.what)) } }
                @if all.len() > LISTED { li { (all.len() - LISTED) " more; each in audit.json." } }
            }
        }
    }
}

/// Which part can be used, and what clip it makes against the one asked.
pub(crate) fn usable(view: &View<'_>) -> String {
    usable::words(view.audit, |first, last| view.span(first, last))
}

/// What was asked beside what was shot.
pub(crate) fn asked_and_shot(view: &View<'_>) -> Markup {
    html! {
        section id=(view.id("asked")) {
            h2 { "Planned and shot" }
            table class="asked" {
                thead {
                    tr {
                        th scope="col" { "quantity" } th scope="col" { "planned" } th scope="col" { "shot" }
                    }
                }
                tbody {
                    @for row in &view.report.asked {
                        tr {
                            th scope="row" { (row.label) }
                            td data-label="planned" { (dash(view, &row.asked)) }
                            td data-label="shot" { (dash(view, &row.shot)) }
                        }
                    }
                }
            }
        }
    }
}

fn dash(view: &View<'_>, cell: &str) -> Markup {
    html! { @if cell == "-" { span class="none" { "not said" } } @else { (view.words(cell)) } }
}
