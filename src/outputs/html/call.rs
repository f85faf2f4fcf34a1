//! The call and its reasons in words; what can be used; what was asked beside what was shot.

use super::view::View;
use crate::evidence::Trouble;
use crate::finding::Severity;
use crate::outputs::report::usable;
use crate::units::counted;
use crate::verdict::Call;
use maud::{Markup, PreEscaped, html};

/// The class of a call, and the word and sentence that stand for it.
pub fn class(call: Call) -> &'static str {
    call.word()
}

/// The sign of a severity: a shape, so that colour never stands alone. Its word stands beside it.
pub fn severity(severity: Severity) -> Markup {
    let (class, sign) = match severity {
        Severity::Fault => ("fault", "■"),
        Severity::Caution => ("caution", "▲"),
        Severity::Note => ("note", "○"),
    };
    html! { span class={ "weight " (class) } { span aria-hidden="true" { (sign) } " " (severity.word()) } }
}

/// The sign of the call: a ring with a tick, a triangle, an octagon.
pub fn sign(call: Call) -> Markup {
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

/// What the call means for the rig.
pub fn meaning(call: Call) -> &'static str {
    match call {
        Call::Clear => "Strike the rig.",
        Call::Look => "Cautions only: look before you strike.",
        Call::Hold => "A fault stands: leave rig and card as they are.",
    }
}

/// The call, why, and what can be used.
pub fn call(view: &View<'_>) -> Markup {
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
            @if let Some(to_do) = &view.report.story.to_do { p { strong { "Now: " } (view.words(to_do)) } }
            @if !audit.complete() { (incomplete(view)) }
            h3 { "Why" }
            (reasons(view))
            h3 { "What can be used" }
            p { (usable(view)) }
            @if !audit.verdict.would_change.is_empty() {
                h3 { "What would change the call" }
                ul { @for line in &audit.verdict.would_change { li { (view.words(line)) } } }
            }
        }
    }
}

/// Places that are listed one by one.
const LISTED: usize = 12;

fn incomplete(view: &View<'_>) -> Markup {
    unread(&view.audit.evidence.frames.trouble, |text| view.words(text))
}

/// Places that could not be read or walked.
pub fn unread(all: &[Trouble], words: impl Fn(&str) -> String) -> Markup {
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

fn reasons(view: &View<'_>) -> Markup {
    let told = &view.report.reasons;
    html! {
        @if told.is_empty() {
            p { "No fault and no caution stands, and every check that has to answer could." }
        } @else {
            ul class="reasons" {
                @for why in told {
                    li {
                        (severity(why.severity)) " "
                        span {
                            a href={ "#" (view.id("check-")) (why.check) } { (why.check) }
                            ": " (view.words(why.words))
                            @if why.more > 0 { " (" (why.more) " more like it below)" }
                        }
                    }
                }
            }
        }
    }
}

/// Which part can be used, and what clip it makes against the one asked.
pub fn usable(view: &View<'_>) -> String {
    usable::words(view.audit, |first, last| view.span(first, last))
}

/// What was asked beside what was shot.
pub fn asked_and_shot(view: &View<'_>) -> Markup {
    html! {
        section id=(view.id("asked")) {
            h2 { "Asked and shot" }
            table class="asked" {
                thead {
                    tr { th scope="col" { "quantity" } th scope="col" { "asked" } th scope="col" { "shot" } }
                }
                tbody {
                    @for row in &view.report.asked {
                        tr {
                            th scope="row" { (row.label) }
                            td data-label="asked" { (dash(view, &row.asked)) }
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

/// A quantity as it begins a row.
pub fn asked_label(label: &str) -> String {
    let mut letters = label.chars();
    letters.next().map(|first| format!("{}{}", first.to_uppercase(), letters.as_str())).unwrap_or_default()
}

/// The run told in order of time, and its likely causes.
pub fn story(view: &View<'_>) -> Markup {
    let verdict = &view.audit.verdict;
    html! {
        @if !verdict.timeline.is_empty() {
            section id=(view.id("story")) {
                h2 { "What happened" }
                ol class="timeline" { @for line in &verdict.timeline { li { (moment(view, line)) } } }
                @if !verdict.causes.is_empty() {
                    h3 { "Likely causes" }
                    dl class="causes" {
                        @for cause in &verdict.causes {
                            dt { (cause.strength.word()) }
                            dd {
                                p { (view.words(&cause.words)) }
                                p { strong { "What to do: " } (view.words(cause.remedy)) }
                                @if let Some(apart) = cause.apart {
                                    p { strong { "To tell: " } (view.words(apart)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A line of the story: its time of day apart from its words.
fn moment(view: &View<'_>, line: &str) -> Markup {
    let line = view.words(line);
    match line.split_once("  ") {
        Some((clock, words)) => html! { span class="clock" { (clock) } " " span { (words.trim_start()) } },
        None => html! { span class="clock" {} " " span { (line) } },
    }
}
