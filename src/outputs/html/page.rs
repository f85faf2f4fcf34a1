//! The page: its head, its order, its foot.

use super::view::View;
use super::{call, checks, incidents, plan, plots, reel, strip};
use crate::units::counted;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest as _, Sha256};

const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("script.js");
/// What the page of several cameras adds: a style, and the script that runs the other once for each camera,
/// at [`HERE`].
const SET_STYLE: &str = include_str!("set.css");
const EACH_PART: &str = include_str!("set.js");
const HERE: &str = "/* the script of one camera */\n";

/// The source expression of a text in a content policy (W3C Content Security Policy Level 3).
fn hash(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text)))
}

/// What the page allows itself: its own style and script, by their hashes, and pictures inside it. No
/// network.
fn policy(style: &str, script: &str) -> String {
    format!(
        "default-src 'none'; style-src {}; script-src {}; img-src data:; base-uri 'none'; form-action 'none'",
        hash(style),
        hash(script)
    )
}

/// A whole document around `body`.
pub(crate) fn document(title: &str, body: &Markup) -> Markup {
    document_with(title, body, STYLE, SCRIPT)
}

/// The document of several cameras: its script looks at one camera's part of the page after the other.
pub(crate) fn document_of_set(title: &str, body: &Markup) -> Markup {
    let (open, close) = EACH_PART.split_once(HERE).unwrap_or((EACH_PART, ""));
    document_with(title, body, &format!("{STYLE}{SET_STYLE}"), &format!("{open}{SCRIPT}{close}"))
}

fn document_with(title: &str, body: &Markup, style: &str, script: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(style, script));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                title { (title) }
                // The project's own files, word for word: what they are hashed by.
                style { (PreEscaped(style)) }
            }
            body {
                (body)
                script { (PreEscaped(script)) }
            }
        }
    }
}

/// Places of the page behind the call, in its order.
const PLACES: [(&str, &str); 5] = [
    ("run", "The run"),
    ("run-through", "Run-through"),
    ("findings", "What happened"),
    ("asked", "Planned and shot"),
    ("reference", "Reference"),
];

/// The report.
pub(crate) fn report(view: &View<'_>) -> Markup {
    let audit = view.audit;
    let name = view.words(&audit.name);
    let title = format!("{}: {name}", audit.verdict.call.word().to_uppercase());
    document(
        &title,
        &html! {
            a class="skip" href="#call" { "To the call" }
            header class="mast" {
                p class="kind" { "Time-lapse audit" }
                h1 { (name) }
                p class="facts" { (facts(view)) }
            }
            main {
                (parts(view, "On this page"))
            }
            (plots::budget::patterns())
        },
    )
}

/// Links to the places of one camera's part.
fn places(view: &View<'_>, label: &str) -> Markup {
    let has = |id: &str| match id {
        "run-through" => !view.gallery.is_empty(),
        "findings" => !view.report.folded.incidents.is_empty(),
        _ => true,
    };
    html! {
        nav aria-label=(label) {
            ul {
                @for (id, words) in PLACES.iter().filter(|p| has(p.0)) {
                    li { a href={ "#" (view.id(id)) } { (words) } }
                }
            }
        }
    }
}

/// All that is told of one camera, in the page's order. `label` names the links.
pub(crate) fn parts(view: &View<'_>, label: &str) -> Markup {
    html! {
        (call::call(view))
        (places(view, label))
        (run(view))
        (reel::section(view))
        (incidents::what_happened(view))
        (call::asked_and_shot(view))
        (reference(view))
    }
}

/// What is looked up once in a while: folded, and printed only where it is opened.
fn reference(view: &View<'_>) -> Markup {
    html! {
        section id=(view.id("reference")) {
            h2 class="of-reference" { "Reference" }
            p class="fine no-paper" { "Folded parts are printed where they are open." }
            (incidents::noted(view))
            (checks::looked_at(view))
            (checks::tolerances(view))
            (plan::plan(view))
            (plan::versions(view))
            (plan::care())
        }
    }
}

pub(crate) fn facts(view: &View<'_>) -> String {
    let audit = view.audit;
    let when = plots::interval::when(audit);
    let frames = counted(audit.evidence.frames.len() as u64, "frame");
    let mut facts = vec![frames];
    facts.extend((!when.is_empty()).then_some(when));
    facts.push(view.words(&audit.plan_source));
    facts.join(" · ")
}

/// The run: its lanes and plots.
fn run(view: &View<'_>) -> Markup {
    html! {
        section id=(view.id("run")) data-names=(names(view))
            data-clocks=(clocks(view)) data-slots=(slots(view)) data-axis=(pieces(view)) {
            h2 { "The run" }
            p class="fine" { (view.report.axis.words) }
            div class="cursor" {}
            (strip::strip(view))
            (plots::pictures::thumbs(view))
            @for (n, plot) in plots::all(view).iter().enumerate() {
                // The time in one slot stands below the interval that it has to fit into.
                @if n == 1 { (plots::budget::budget(view)) }
                (plots::figure(view, plot))
            }
            (plots::pictures::first_and_last(view))
        }
    }
}

/// One text a column, joined by line ends: names and times hold none.
fn each_column(view: &View<'_>, told: impl Fn(usize) -> String) -> String {
    let columns =
        (0..view.report.axis.columns()).map(|c| view.report.axis.first(c).map(&told).unwrap_or_default());
    columns.collect::<Vec<_>>().join("\n")
}

/// The parts of the axis on which time runs evenly: columns from and to, and the clock at both, s since the
/// civil epoch.
pub(crate) fn pieces(view: &View<'_>) -> String {
    let told =
        view.report.axis.pieces.iter().map(|p| {
            format!("{:.3} {:.3} {:.3} {:.3}", p.from, p.to, p.begins.seconds(), p.ends().seconds())
        });
    told.collect::<Vec<_>>().join(";")
}

/// The name of the first frame in each column.
pub(crate) fn names(view: &View<'_>) -> String {
    each_column(view, |at| view.name(at))
}

/// Its time of day.
pub(crate) fn clocks(view: &View<'_>) -> String {
    each_column(view, |at| view.clock(at))
}

/// Its slot.
pub(crate) fn slots(view: &View<'_>) -> String {
    each_column(view, |at| view.audit.evidence.frame(at).slot().map(|s| s.to_string()).unwrap_or_default())
}
