//! The client's page: the verdict in one sentence, pictures of the delivered frames, a line for each
//! requirement, and a line for name and date. It prints on one sheet where it fits. No folder, no serial
//! number, nothing of the machine.

mod rows;

use super::gallery::shape;
use super::view::View;
use super::{page, plots, strip};
use crate::audit::Audit;
use crate::finding::{Answer, Finding, Quality};
use crate::outputs::deliver::manifest::{self, Sums, hex};
use crate::outputs::report::acceptance::Met;
use crate::outputs::report::shown;
use crate::units::counted;
use maud::{Markup, html};
use sha2::{Digest as _, Sha256};

/// Places to patch that are listed; `patch.csv` has them all.
const LISTED: usize = 60;

/// The page. `beside` are the bytes of the manifest and of `patch.csv` as they are written with it.
pub(crate) fn page(view: &View<'_>, sums: &Sums, beside: &[&[u8]; 2]) -> Markup {
    let audit = view.audit;
    let document = &audit.plan.document;
    // What the folder is called is the business of whoever shot it.
    let own = document.title.as_deref().or(audit.plan.name.as_deref());
    let title = view.words(own.unwrap_or("Frames of a time-lapse sequence"));
    let when = plots::interval::when(audit);
    page::document(
        &title,
        &html! {
            header class="mast" {
                p class="kind" { "Time-lapse delivery" }
                h1 { (title) }
                @if !when.is_empty() { p class="facts" { (when) } }
                @if let Some(kept_out) = &view.report.kept_out {
                    p { strong { (view.words(kept_out)) } (see_kept_out(audit)) }
                }
                @if let Some(scenario) = &document.scenario {
                    div class="scenario" {
                        @for paragraph in scenario.lines().map(str::trim).filter(|p| !p.is_empty()) {
                            p { (view.words(paragraph)) }
                        }
                    }
                }
                @if !document.contact.is_empty() {
                    address { @for line in &document.contact { span { (view.words(line)) } br; } }
                }
            }
            main class="client" {
                p class="story" { (rows::verdict(view)) }
                (strip::glance(view))
                (sheet(view))
                (acceptance(view))
                (agreed(view))
                (patches(view))
                section id="grounds" {
                    h2 { "What this rests on" }
                    p { (grounds(view)) }
                    p class="fine" {
                        "The files were judged, not the place they were shot in. A screening for flashes is \
                         no certificate: have clips for broadcast tested. Written \
                         by " (env!("CARGO_PKG_NAME")) " " (env!("CARGO_PKG_VERSION")) "."
                    }
                }
                (run(view))
                (checksums(sums, beside))
                (signed())
            }
            (plots::budget::patterns())
        },
    )
}

/// The delivered frames, evenly over the run.
fn sheet(view: &View<'_>) -> Markup {
    let shown: Vec<_> = shown::sheet(view.audit)
        .into_iter()
        .filter_map(|at| Some((at, view.gallery.small.get(&at)?)))
        .collect();
    html! {
        @if !shown.is_empty() {
            section id="sheet" {
                h2 { "The frames" }
                div class={ "sheet " (shape(view.audit)) } {
                    @for (at, picture) in shown {
                        @let (name, clock) = (view.name(at), view.clock(at));
                        figure {
                            img src=(picture.data()) width=(picture.width) height=(picture.height)
                                alt={ "Frame " (name) };
                            figcaption { @if clock.is_empty() { (name) } @else { (clock) } }
                        }
                    }
                }
            }
        }
    }
}

fn acceptance(view: &View<'_>) -> Markup {
    let unseen = rows::unseen(view);
    html! {
        section id="acceptance" {
            h2 { "Ordered and delivered" }
            @if view.report.requirements.is_empty() {
                p { "No plan was given: there is nothing to hold the frames against." }
            } @else {
                table class="terms" {
                    thead { tr {
                        th scope="col" { "what was ordered" } th scope="col" { "what was delivered" }
                    } }
                    tbody {
                        @for row in &view.report.requirements {
                            @let (class, sign) = mark(&row.met);
                            tr {
                                th scope="row" { (view.words(&rows::asked(view.audit, row))) }
                                td {
                                    span class={ "answer " (class) } {
                                        span aria-hidden="true" { (sign) } " " (row.met.word())
                                    }
                                    @if let Some(more) = rows::delivered(view, row) { ": " (more) }
                                }
                            }
                        }
                    }
                }
            }
            @if let Some(unseen) = unseen { p { (unseen) } }
        }
    }
}

fn mark(met: &Met) -> (&'static str, &'static str) {
    match met {
        Met::Yes => ("clear", "✓"),
        Met::Agreed => ("found", "≈"),
        Met::Remarks => ("cannot", "▲"),
        Met::No => ("broke", "■"),
        Met::NotJudged(_) => ("cannot", "?"),
    }
}

fn patches(view: &View<'_>) -> Markup {
    let all = &view.report.patches;
    html! {
        section id="patch" {
            @if all.is_empty() {
                p { "Nothing is to be patched: no frame is missing, none is damaged and none stands out." }
            } @else {
                p { (counted(all.len() as u64, "place")) " to patch; each is a row of patch.csv." }
                details {
                    summary { "Frames to patch" }
                    table class="wide" {
                        thead { tr {
                            th scope="col" { "slot" } th scope="col" { "what" }
                            th scope="col" { "between or from" }
                            th scope="col" { "due or shot" } th scope="col" { "note" }
                        } }
                        tbody {
                            @for p in all.iter().take(LISTED) {
                                tr {
                                    th scope="row" { (p.slot.map(|s| s.to_string()).unwrap_or_default()) }
                                    td data-label="what" { (p.count) " " (p.kind) }
                                    td data-label="frames" { (view.span(p.first, p.last)) }
                                    td data-label="due or \
                                                   shot" { (p.at.map(|at| at.spoken()).unwrap_or_default()) }
                                    td data-label="note" { (view.words(&p.words)) }
                                }
                            }
                        }
                    }
                    @if all.len() > LISTED { p { (all.len() - LISTED) " more places in patch.csv." } }
                }
            }
        }
    }
}

/// The run with its plots, for who asks.
fn run(view: &View<'_>) -> Markup {
    html! {
        details {
            summary { "The run in detail" }
            section id="run" data-names=(page::names(view))
                data-clocks=(page::clocks(view)) data-slots=(page::slots(view))
                data-axis=(page::pieces(view)) {
                p class="fine" { (view.report.axis.words) }
                div class="cursor" {}
                (strip::strip(view))
                @for plot in plots::all(view) { (plots::figure(view, &plot)) }
            }
        }
    }
}

/// Where whoever takes the frames over puts name and date.
fn signed() -> Markup {
    html! {
        section class="signed" id="signed" aria-label="Accepted by" {
            p { "Accepted by (name)" }
            p { "Date" }
        }
    }
}

/// Where the client finds what the plan keeps out of the call.
fn see_kept_out(audit: &Audit) -> &'static str {
    let agreed = audit.findings().into_iter().any(Finding::is_silenced);
    let tolerated = audit.judgements.iter().any(|j| j.tolerated.is_widened());
    match (agreed, tolerated) {
        (true, false) => ": see the agreed departures.",
        (true, true) => ": see the agreed departures. Some of its tolerances are wider than usual.",
        (false, true) => ": its tolerances are wider than usual.",
        (false, false) => ": the run ends where it says.",
    }
}

fn agreed(view: &View<'_>) -> Markup {
    let findings = view.audit.judgements.iter().flat_map(|j| j.findings());
    let agreed: Vec<_> = findings.filter_map(|f| Some((f, f.accepted.as_ref()?))).collect();
    html! {
        @if !agreed.is_empty() {
            section id="agreed" {
                h2 { "Agreed departures" }
                ul { @for (finding, reason) in agreed.iter().take(LISTED) {
                    li { (view.words(&finding.message)) " " strong { "Agreed: " } (view.words(reason)) "." }
                } }
            }
        }
    }
}

fn checksums(sums: &Sums, [lines, patches]: &[&[u8]; 2]) -> Markup {
    let files = counted(sums.entries.len() as u64, "file");
    let odd = manifest::unlike_a_bag(&sums.entries) as u64;
    html! {
        @if sums.unread > 0 {
            p { strong { "Not whole: " } (counted(sums.unread, "file")) " could not be read and stands in no \
                line of the manifest." }
        }
        details id="checksums" {
            summary { "Checksums of " (files) }
            p {
                (manifest::NAME) " holds the SHA-256 of " (files) ", " (sums.bytes) " bytes. Its own SHA-256 \
                    is"
            }
            p class="digest" { code { (hex(&Sha256::digest(lines).into())) } }
            p { "This page belongs to that manifest and to the patch.csv of this SHA-256, and to no other:" }
            p class="digest" { code { (hex(&Sha256::digest(patches).into())) } }
            p { "To check the files, in the folder of the frames:" }
            pre { code { "sha256sum -c " (manifest::NAME) "\nlapseproof verify " (manifest::NAME) } }
            p class="fine" {
                "The second tells files that were added, too. "
                @if odd == 0 { "The manifest has the form that a BagIt bag (RFC 8493) uses." }
                @else {
                    "It cannot serve as the manifest of a BagIt bag (RFC 8493) as it \
                     is: " (counted(odd, "name"))
                    " with a line end, a backslash, a percent sign or a blank at an end would be written \
                     otherwise there."
                }
            }
        }
    }
}

fn grounds(view: &View<'_>) -> String {
    let audit = view.audit;
    let frames = counted(audit.evidence.frames.len() as u64, "frame");
    let by = audit.evidence.timing.basis.words();
    let pictures = match view.report.limited_to {
        Some(limit) => format!(", {limit}"),
        None => String::new(),
    };
    format!("{frames}, in order of {by}{pictures}. {}", screened(audit))
}

/// What the screening for flashes says.
fn screened(audit: &Audit) -> &'static str {
    let flashes = audit.judgements.iter().find(|j| j.text.traits.quality == Some(Quality::Flashes));
    match flashes.map(|j| &j.answer) {
        Some(Answer::Clear) => "A screening for flashes found none.",
        Some(Answer::Found(found)) if found.iter().all(|f| f.count == 0) => {
            "A screening for flashes found none."
        }
        Some(Answer::Found(_)) => {
            "A screening for flashes found some: have the clip tested before it is shown."
        }
        Some(Answer::CannotJudge(_) | Answer::Broke(_)) | None => "It was not screened for flashes.",
    }
}
