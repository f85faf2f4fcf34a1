//! The page of several cameras: the worst call, the cameras with links, what they say together, and a part a
//! camera.

use super::gallery::{Gallery, NO_PICTURES};
use super::view::{Edition, View};
use super::{call, page, plots, weight};
use crate::audit::{AuditSet, CameraAudit};
use crate::outputs::report::call::meaning;
use crate::outputs::report::{Report, several};
use crate::units::{counted, shown};
use crate::verdict::Call;
use maud::{Markup, html};

/// What stands before the ids of a camera's part.
fn ids(own: &CameraAudit) -> String {
    format!("{}-", own.letter.to_lowercase())
}

/// The report.
pub(crate) fn report(set: &AuditSet, reports: &[Report<'_>], galleries: &[Gallery]) -> Markup {
    let share = set.cameras.len();
    let views: Vec<(&CameraAudit, View<'_>)> = set
        .cameras
        .iter()
        .zip(reports)
        .enumerate()
        .map(|(n, (own, report))| {
            let gallery = galleries.get(n).unwrap_or(&NO_PICTURES);
            (own, View::new(report, gallery, Edition::Full).part(ids(own), share))
        })
        .collect();
    let name = shown(set.name());
    let title = format!("{}: {name}", set.call().word().to_uppercase());
    let facts =
        [counted(set.frames() as u64, "frame"), counted(share as u64, "camera"), shown(set.plan_source())];
    page::document_of_set(
        &title,
        &html! {
            a class="skip" href="#call" { "To the call" }
            header class="mast" {
                p class="kind" { "Time-lapse audit" }
                h1 { (name) }
                p class="facts" { (facts.join(" · ")) }
                nav aria-label="On this page" {
                    ul {
                        li { a href="#call" { "Call" } }
                        li { a href="#between" { "Between the cameras" } }
                        @for own in &set.cameras {
                            li {
                                a href={ "#camera-" (own.letter.to_lowercase()) } { "Camera " (own.letter) }
                            }
                        }
                    }
                }
            }
            main {
                (the_call(set))
                (between(set))
                @for (n, (own, view)) in views.iter().enumerate() { (camera(set, n, own, view)) }
            }
            (plots::budget::patterns())
        },
    )
}

fn verdict(call: Call) -> Markup {
    html! { span class={ "verdict " (call.word()) } { (call.word().to_uppercase()) } }
}

fn the_call(set: &AuditSet) -> Markup {
    let worst = set.call();
    html! {
        section id="call" class={ "call " (call::class(worst)) } aria-labelledby="call-word" {
            div class="word" {
                (call::sign(worst))
                div {
                    h2 id="call-word" { (worst.word().to_uppercase()) }
                    p class="meaning" {
                        (meaning(worst))
                        @if let Some(limit) = several::limited_to(set) {
                            " " span class="limit" { "(" (limit) ")" }
                        }
                        @if let Some(accepted) = several::kept_out(set) {
                            " " span class="limit" { "(" (accepted) ")" }
                        }
                    }
                }
            }
            @if !set.complete() { (call::unread(&set.trouble, shown)) }
            p { (several::whose_call(set)) }
            table class="cameras" {
                thead {
                    tr {
                        th scope="col" { "camera" } th scope="col" { "call" }
                        th scope="col" { "shot" } th scope="col" {
                            "what happened"
                        }
                    }
                }
                tbody {
                    @for (n, own) in set.worst_first() {
                        tr {
                            th scope="row" {
                                a href={ "#camera-" (own.letter.to_lowercase()) }
                                    { "Camera " (own.letter) } " "
                                span class="asks" { (shown(&several::model(set, n))) }
                            }
                            td data-label="call" { (verdict(own.audit.verdict.call)) }
                            td data-label="shot" { (several::figures(own)) }
                            td data-label="what happened" {
                                @match own.audit.verdict.incidents.first() {
                                    Some(worst) => { (shown(&worst.sentence)) }
                                    None => { span class="none" { "nothing" } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn between(set: &AuditSet) -> Markup {
    let together = &set.together;
    html! {
        section id="between" {
            h2 { "Between the cameras" }
            @if !together.reasons.is_empty() {
                ul class="reasons" {
                    @for reason in &together.reasons {
                        li { (weight::severity(reason.severity)) " " span { (shown(&reason.words)) } }
                    }
                }
            }
            @if !together.causes.is_empty() {
                h3 { "Who missed what, and who stood" }
                dl class="causes" {
                    @for cause in &together.causes {
                        dt { (cause.strength.word()) }
                        dd {
                            p { (shown(&cause.words)) }
                            p { strong { "What to do: " } (cause.remedy) }
                            @if let Some(apart) = cause.apart { p { strong { "How to check: " } (apart) } }
                        }
                    }
                }
            }
            h3 { "Clocks" }
            ul { @for clock in &together.clocks { li { (shown(&clock.words)) } } }
        }
    }
}

fn camera(set: &AuditSet, at: usize, own: &CameraAudit, view: &View<'_>) -> Markup {
    html! {
        section class="camera" id={ "camera-" (own.letter.to_lowercase()) } data-ids=(ids(own)) {
            h2 id=(view.id("name")) { "Camera " (own.letter) ": " (shown(&several::model(set, at))) }
            p class="facts" { (page::facts(view)) }
            (page::parts(view, &format!("Of camera {}", own.letter)))
        }
    }
}
