//! What was looked at, what was set aside and why, what could not be judged; and the tolerances in force.

use super::view::View;
use crate::finding::{Answer, Judgement, Limit};
use crate::outputs::report::outside::passed_over_words;
use crate::units::{counted, plain};
use maud::{Markup, html};

/// What was looked at.
pub(crate) fn looked_at(view: &View<'_>) -> Markup {
    html! {
        details id=(view.id("looked-at")) {
            summary { "Checks: " (counts(view)) }
            table class="wide" {
                thead { tr {
                    th scope="col" { "check" } th scope="col" { "answer" } th scope="col" { "checked" }
                    th scope="col" { "skipped" }
                } }
                tbody { @for judgement in &view.audit.judgements { (row(view, judgement)) } }
            }
            (outside(view))
            (passed_over(view))
        }
    }
}

/// How many checks are clear, found something, and could not judge.
fn counts(view: &View<'_>) -> String {
    let many = |pick: fn(&Answer) -> bool| view.audit.judgements.iter().filter(|j| pick(&j.answer)).count();
    let clear = many(|a| *a == Answer::Clear);
    let found = many(|a| matches!(a, Answer::Found(_)));
    let blind = view.audit.judgements.len() - clear - found;
    format!("{clear} clear, {found} found something, {blind} could not judge")
}

fn row(view: &View<'_>, judgement: &Judgement) -> Markup {
    let (class, sign, word, why) = match &judgement.answer {
        Answer::Clear => ("clear", "✓", "clear", None),
        Answer::Found(_) => ("found", "●", "found", None),
        Answer::CannotJudge(why) => ("cannot", "?", "cannot judge", Some(why)),
        Answer::Broke(what) => ("broke", "✕", "the check itself failed", Some(what)),
    };
    html! {
        tr {
            th scope="row" { (judgement.text.id) span class="asks" { (judgement.text.asks) } }
            td data-label="answer" {
                span class={ "answer " (class) } { span aria-hidden="true" { (sign) } " " (word) }
                @if let Some(why) = why { ": " (view.words(why)) }
            }
            td class="level" data-label="checked" { (counted(judgement.looked_at, "frame")) }
            td data-label="skipped" {
                @let aside: Vec<_> = judgement.set_aside.iter().filter(|a| a.0 > 0).collect();
                @if aside.is_empty() { span class="none" { "none" } }
                @for (n, (frames, why)) in aside.into_iter().enumerate() {
                    @if n > 0 { "; " }
                    (frames) " (" (view.words(why)) ")"
                }
            }
        }
    }
}

/// Lines of a list that are told; the rest is counted.
const LISTED: usize = 20;

fn outside(view: &View<'_>) -> Markup {
    let groups = &view.report.outside;
    html! {
        @if !groups.is_empty() {
            h3 { "Not of the run" }
            ul {
                @for beside in groups.iter().take(LISTED) {
                    li {
                        (view.span(beside.span.first, beside.span.last))
                        ": " (counted(beside.frames, "frame")) ", "
                        (view.words(beside.why)) "."
                    }
                }
                @if groups.len() > LISTED { li { (groups.len() - LISTED) " more; each in audit.json." } }
            }
        }
    }
}

fn passed_over(view: &View<'_>) -> Markup {
    let all = &view.audit.evidence.frames.card.passed_over;
    html! {
        @if !all.is_empty() {
            h3 { "Not pictures" }
            p {
                "Files that are no frames: "
                @for (n, (why, files)) in all.iter().enumerate() {
                    @if n > 0 { ", " }
                    (files) " " (passed_over_words(*why))
                }
                "."
            }
        }
    }
}

/// A level of a limit in words: `over 2`, `from 1`.
pub(crate) fn level(limit: &Limit, level: Option<f64>) -> String {
    let Some(level) = level else { return String::new() };
    format!("{} {}", limit.direction.word(), plain(level, 6))
}

/// The tolerances in force.
pub(crate) fn tolerances(view: &View<'_>) -> Markup {
    html! {
        details id=(view.id("tolerances")) {
            summary { "Tolerances in force" }
            p { "Each can be changed in the plan, under " code { "[tolerance.CHECK]" } "." }
            table class="wide" {
                thead { tr {
                    th scope="col" { "check" } th scope="col" { "of what" } th scope="col" { "caution" }
                    th scope="col" { "fault" } th scope="col" { "from" }
                } }
                tbody {
                    @for judgement in &view.audit.judgements {
                        @for (limit, from_plan) in judgement.limits.all() {
                            tr {
                                th scope="row" { (judgement.text.id) }
                                td data-label="of what" { (limit.unit) }
                                td class="level" data-label="caution" { (never(level(limit, limit.caution))) }
                                td class="level" data-label="fault" { (never(level(limit, limit.fault))) }
                                td data-label="from" {
                                    @if from_plan { strong { "the plan" } } @else { (limit.source) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn never(words: String) -> Markup {
    html! { @if words.is_empty() { span class="none" { "never" } } @else { (words) } }
}
