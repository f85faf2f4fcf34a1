//! What happened: the incidents, worst first, each with what was found of it folded below; then what weighs
//! nothing.

use super::view::View;
use super::weight::severity;
use super::{quantity, reel};
use crate::finding::{Finding, Judgement, Severity};
use crate::outputs::report::findings::{When, cause, more_words, when};
use crate::outputs::report::incidents::{OfCheck, Told};
use crate::verdict::{LikelyCause, Strength};
use maud::{Markup, html};
use std::collections::BTreeSet;

/// Findings of one check that are told one by one below their incident; the rest is counted. The files hold
/// every one.
const EACH: usize = 5;
/// Incidents that are told; the rest is counted.
const MOST: usize = 24;

/// The id of an incident's part of the page, by its rank from 0.
pub(crate) fn id(view: &View<'_>, nth: usize) -> String {
    view.id(&format!("incident-{}", nth + 1))
}

/// The section; nothing where nothing weighs.
pub(crate) fn what_happened(view: &View<'_>) -> Markup {
    let folded = &view.report.folded;
    let more = folded.incidents.len().saturating_sub(MOST);
    html! {
        @if !folded.incidents.is_empty() {
            section id=(view.id("findings")) {
                h2 { "What happened" }
                @for (nth, told) in folded.incidents.iter().enumerate().take(MOST) {
                    (incident(view, nth, told))
                }
                @if more > 0 { p class="more" { (more) " more; each in audit.json." } }
            }
        }
    }
}

/// What was found and weighs nothing, folded; nothing where there is none.
pub(crate) fn noted(view: &View<'_>) -> Markup {
    let folded = &view.report.folded;
    html! {
        @if !folded.noted.is_empty() || !folded.loose.is_empty() {
            details id=(view.id("noted")) {
                summary { "Noted, without weight" }
                @let mut pictured = BTreeSet::new();
                @for of in &folded.noted { (found(view, of, "", &mut pictured)) }
                @for cause in &folded.loose {
                    p { (cause.strength.word()) ": " (words_of(view, cause)) }
                }
            }
        }
    }
}

fn incident(view: &View<'_>, nth: usize, told: &Told<'_>) -> Markup {
    let incident = told.incident;
    // Pictures of one place stand once.
    let mut pictured = BTreeSet::new();
    html! {
        article class={ "incident " (incident.severity.word()) } id=(id(view, nth)) {
            h3 { (severity(incident.severity)) " " (view.words(&incident.sentence)) }
            p { strong { "Now: " } (view.words(&incident.to_do)) }
            @for of in &told.found { (found(view, of, &incident.sentence, &mut pictured)) }
            @if let Some(cause) = incident.cause.as_ref().filter(|c| c.strength < Strength::Sure) {
                p {
                    "This cause is " (cause.strength.word()) "."
                    @if let Some(apart) = cause.apart { " How to check: " (view.words(apart)) }
                }
            }
            @for rival in &incident.rivals {
                p { "Or (" (rival.strength.word()) "): " (words_of(view, rival)) }
            }
            @if !told.advice.is_empty() { p { strong { "Then: " } (view.words(&told.advice)) } }
        }
    }
}

/// A cause with what to do and how to check it.
fn words_of(view: &View<'_>, cause: &LikelyCause) -> Markup {
    html! {
        (view.words(&cause.words)) " " (view.words(&cause.remedy))
        @if let Some(apart) = cause.apart { " How to check: " (view.words(apart)) }
    }
}

/// What one check found. A sentence that is `told` already is not told again.
fn found(view: &View<'_>, of: &OfCheck<'_>, told: &str, pictured: &mut BTreeSet<(usize, usize)>) -> Markup {
    let rest = of.findings.get(EACH..).unwrap_or_default();
    let frames = rest.iter().map(|f| f.count).fold(0, u64::saturating_add);
    html! {
        @for finding in of.findings.iter().take(EACH) {
            (one(view, of.judgement, finding, told, pictured))
        }
        @if !rest.is_empty() {
            p class="more" { (of.judgement.text.id) ": " (more_words(rest.len(), frames)) }
        }
    }
}

fn one(
    view: &View<'_>,
    judgement: &Judgement,
    finding: &Finding,
    told: &str,
    pictured: &mut BTreeSet<(usize, usize)>,
) -> Markup {
    let place = finding.first.zip(finding.last).filter(|_| finding.severity > Severity::Note);
    let place = place.filter(|place| pictured.insert(*place));
    html! {
        div class={ "finding " (finding.severity.word()) } {
            p class="message" {
                (severity(finding.severity)) " " span class="id" { (finding.check) } " "
                @if !told.contains(finding.message.as_str()) { (view.words(&finding.message)) }
                @if let Some(cause) = cause(finding) { " Cause: " (view.words(cause)) }
                @if let Some(doubt) = &finding.doubt {
                    " " strong { "In doubt: " } (view.words(&doubt.words))
                    @if doubt.count_low != doubt.count_high {
                        " The stamps allow " (doubt.count_low) " to " (doubt.count_high) "."
                    }
                }
                @if let Some(reason) = &finding.accepted {
                    " " strong { "Accepted in the plan: " } (view.words(reason))
                }
            }
            @if let Some((first, last)) = place { (reel::filmstrip(view, first, last)) }
            (figures(view, judgement, finding))
        }
    }
}

/// Place, figures, and what the check cannot see: for who asks.
fn figures(view: &View<'_>, judgement: &Judgement, finding: &Finding) -> Markup {
    let figures = finding.evidence.iter().filter_map(|(key, figure)| {
        let (name, unit) = quantity::label(key);
        Some((name, quantity::figure(figure, unit)?))
    });
    let figures: Vec<(String, String)> = figures.collect();
    html! {
        details class="figures" {
            summary { "Figures" }
            p class="place" { (place(view, finding)) }
            @if !figures.is_empty() {
                dl { @for (name, value) in &figures { div { dt { (name) } dd { (view.words(value)) } } } }
            }
            p { (judgement.text.asks) " It cannot see: " (judgement.text.blind) }
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
