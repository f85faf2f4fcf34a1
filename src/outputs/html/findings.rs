//! The findings, check by check, weightiest first: each with its evidence and cause; then what to do, and
//! what the check cannot see.

use super::call::severity;
use super::view::View;
use super::{quantity, reel};
use crate::finding::{Answer, Finding, Judgement, Severity};
use crate::outputs::report::findings::{When, cause, more_words, order, when};
use crate::verdict::remedy;
use maud::{Markup, html};

/// Findings of one check that are told one by one; the rest is counted. The files hold every one.
const EACH: usize = 8;

/// The section.
pub fn findings(view: &View<'_>) -> Markup {
    let mut found: Vec<(&Judgement, Severity)> = view
        .audit
        .judgements
        .iter()
        .filter(|j| matches!(j.answer, Answer::Found(_)))
        .filter_map(|j| Some((j, j.findings().iter().map(|f| f.severity).max()?)))
        .collect();
    found.sort_by_key(|(_, worst)| std::cmp::Reverse(*worst));
    html! {
        section id=(view.id("findings")) {
            h2 { "Findings" }
            @if found.is_empty() { p { "No check found anything." } }
            @for (judgement, worst) in found { (check(view, judgement, worst)) }
        }
    }
}

fn check(view: &View<'_>, judgement: &Judgement, worst: Severity) -> Markup {
    let text = judgement.text;
    let mut all: Vec<&Finding> = judgement.findings().iter().collect();
    all.sort_by(|a, b| order(a, b));
    let rest = all.get(EACH..).unwrap_or_default();
    let frames = rest.iter().map(|f| f.count).fold(0, u64::saturating_add);
    html! {
        article class={ "check " (worst.word()) } id={ (view.id("check-")) (text.id) } {
            h3 { (severity(worst)) " " span class="id" { (text.id) } }
            p class="asks" { (text.asks) }
            @for finding in all.iter().take(EACH) { (one(view, finding, finding.severity != worst)) }
            @if !rest.is_empty() {
                p class="more" { (more_words(rest.len(), frames)) }
            }
            dl class="advice" {
                dt { "What to do" } dd { (remedy(judgement)) }
                dt { "What this check cannot see" } dd { (text.blind) }
            }
        }
    }
}

fn one(view: &View<'_>, finding: &Finding, weighs_less: bool) -> Markup {
    let figures: Vec<(String, String)> = finding
        .evidence
        .iter()
        .filter_map(|(key, figure)| {
            let (name, unit) = quantity::label(key);
            Some((name, quantity::figure(figure, unit)?))
        })
        .collect();
    html! {
        div class={ "finding " (finding.severity.word()) } {
            p class="message" {
                @if weighs_less { (severity(finding.severity)) " " }
                (view.words(&finding.message))
            }
            p class="place" { (place(view, finding)) }
            @if let (Some(first), Some(last), true)
                = (finding.first, finding.last, finding.severity > Severity::Note) {
                (reel::filmstrip(view, first, last))
            }
            @if let Some(cause) = cause(finding) { p { strong { "Cause: " } (view.words(cause)) } }
            @if let Some(doubt) = &finding.doubt {
                p class="indoubt" {
                    strong { "In doubt: " } (view.words(&doubt.words))
                    @if doubt.count_low != doubt.count_high {
                        " The stamps allow " (doubt.count_low) " to " (doubt.count_high) "."
                    }
                }
            }
            @if let Some(reason) = &finding.accepted {
                p class="agreed" { strong { "Accepted in the plan: " } (view.words(reason)) }
            }
            @if !figures.is_empty() {
                dl class="figures" {
                    @for (name, value) in &figures { div { dt { (name) } dd { (view.words(value)) } } }
                }
            }
        }
    }
}

/// Where a finding stands and how many slots or frames it speaks of.
fn place(view: &View<'_>, finding: &Finding) -> String {
    let mut words = match (finding.first, finding.last) {
        (Some(first), Some(last)) => view.span(first, last),
        (Some(one), None) | (None, Some(one)) => view.name(one),
        (None, None) => String::new(),
    };
    let mut add = |more: String| {
        if !words.is_empty() {
            words.push_str(" · ");
        }
        words.push_str(&more);
    };
    match when(view.audit, finding) {
        When::Span(first, last) => {
            let (from, to) = (first.spoken(), last.spoken());
            // The day is told once where both are of it.
            let same_day = from.get(..10) == to.get(..10);
            add(format!("{from} to {}", if same_day { last.clock() } else { to }));
        }
        When::At(at) => add(at.spoken()),
        When::Untold => {}
    }
    if finding.count > 1 {
        add(format!("{} in all", finding.count));
    }
    words
}
