//! The run-through: an honest preview from small pictures, and larger ones to look at for dew, focus and
//! framing. The pictures wait in a template, which a browser without scripts does not show; it never plays by
//! itself.

use super::gallery::Picture;
use super::view::View;
use crate::finding::{Answer, Judgement, Quality};
use crate::outputs::report::shown;
use maud::{Markup, html};

/// The section; nothing without pictures.
pub fn section(view: &View<'_>) -> Markup {
    if view.gallery.is_empty() {
        return html! {};
    }
    html! {
        section id=(view.id("run-through")) {
            h2 { "Run-through" }
            (player(view))
            (stills(view))
        }
    }
}

/// Why the run is not to be played to others, after what the screening for flashes answered; `None` where it
/// looked and found nothing. That it found nothing is a finding too, and counts no frames.
fn flashes(judgements: &[Judgement]) -> Option<&'static str> {
    match &judgements.iter().find(|j| j.text.traits.quality == Some(Quality::Flashes))?.answer {
        Answer::Found(found) if found.iter().any(|f| f.count > 0) => {
            Some("The screening for flashes found something.")
        }
        Answer::Found(_) | Answer::Clear => None,
        Answer::CannotJudge(_) | Answer::Broke(_) => Some("The run could not be screened for flashes."),
    }
}

fn player(view: &View<'_>) -> Markup {
    let (mut ticks, each) = shown::reel(view.audit);
    let thinned = view.gallery.thinned(view.audit, view.share);
    let kept = |n: usize| n % thinned == (n / thinned) % thinned;
    ticks = ticks.into_iter().enumerate().filter(|(n, _)| kept(*n)).map(|(_, tick)| tick).collect();
    let each = each.saturating_mul(thinned as u64);
    let placed = shown::around(view.audit);
    let fps = view.audit.plan.delivery.played_fps();
    let flashes = flashes(&view.audit.judgements);
    let marks: Vec<String> = view
        .audit
        .findings()
        .into_iter()
        .filter(|f| f.severity > crate::finding::Severity::Note)
        .filter_map(|f| f.first)
        .filter_map(|first| ticks.iter().rposition(|t| t.at.is_some_and(|at| at <= first)))
        .map(|n| n.to_string())
        .take(200)
        .collect();
    html! {
        p class="fine" {
            "A preview from small pictures: good for pace and events, not for focus. "
            @if each > 1 { "One slot of every " (each) " is shown. " }
            "Missing slots are black. Fast changes of light can harm viewers with photosensitive epilepsy; \
             nothing plays by itself."
        }
        @if let Some(why) = flashes {
            p class="flashes" role="note" {
                strong { (why) " " }
                "Do not play the run to others before that is looked at."
            }
        }
        div class="player" data-fps=(fps) data-each=(each)
            data-flashes=(if flashes.is_some() { "yes" } else { "no" })
            data-marks=(marks.join(" ")) {}
        template {
            @for tick in &ticks { (frame(view, tick, &placed)) }
        }
    }
}

fn frame(view: &View<'_>, tick: &shown::Tick, placed: &std::collections::BTreeSet<usize>) -> Markup {
    let slot = tick.slot.map(|s| s.to_string()).unwrap_or_default();
    match tick.at {
        Some(at) => {
            let picture = view.gallery.small.get(&at);
            // A picture that stands beside a finding is taken from there.
            let own = picture.filter(|_| !placed.contains(&at));
            html! {
                i data-at=(at) data-name=(view.name(at)) data-clock=(view.clock(at)) data-slot=(slot) {
                    @if let Some(picture) = own { img src=(picture.data()) alt=""; }
                }
            }
        }
        None => html! { i data-name="" data-clock="" data-slot=(slot) {} },
    }
}

/// The larger pictures.
fn stills(view: &View<'_>) -> Markup {
    html! {
        @if !view.gallery.large.is_empty() {
            h3 { "From head to tail" }
            p class="fine" { "Larger pictures, to look at for dew, focus and framing." }
            div class="stills" { @for (at, picture) in &view.gallery.large { (still(view, *at, picture)) } }
        }
    }
}

fn still(view: &View<'_>, at: usize, picture: &Picture) -> Markup {
    let (name, clock) = (view.name(at), view.clock(at));
    html! {
        figure class="still" {
            img src=(picture.data()) width=(picture.width) height=(picture.height)
                decoding="async" alt={ "Frame " (name) };
            figcaption { (name) " " span { (clock) } }
        }
    }
}

/// The frames around a finding.
pub fn filmstrip(view: &View<'_>, first: usize, last: usize) -> Markup {
    let beside = shown::beside(view.audit, first, last);
    let placed = shown::around(view.audit);
    let shown: Vec<(usize, &Picture)> = beside
        .into_iter()
        .filter(|at| placed.contains(at))
        .filter_map(|at| Some((at, view.gallery.small.get(&at)?)))
        .collect();
    html! {
        @if !shown.is_empty() {
            div class="filmstrip" {
                @for (at, picture) in shown {
                    figure class=(if at == first || at == last { "named" } else { "" }) {
                        img data-at=(at) src=(picture.data()) width=(picture.width) height=(picture.height)
                            decoding="async"
                            alt={ "Frame " (view.name(at)) };
                        figcaption { (view.name(at)) " " span { (view.clock(at)) } }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Finding, InForce, Severity, Text, Tolerated, Traits};

    const TEXT: Text = Text {
        id: "flash-risk",
        asks: "",
        why: "",
        how: "",
        blind: "",
        remedy: "",
        source: "",
        traits: Traits { quality: Some(Quality::Flashes), ..Traits::PLAIN },
    };

    #[test]
    fn what_found_nothing_is_not_told_as_found() {
        let told = |answer| {
            let limits = InForce::new(&[], None);
            let (set_aside, tolerated) = (Vec::new(), Tolerated::default());
            flashes(&[Judgement { text: &TEXT, limits, answer, looked_at: 0, set_aside, tolerated }])
        };
        let finding =
            |count| Answer::Found(vec![Finding::new(TEXT.id, Severity::Note, "Looked.").count(count)]);
        assert_eq!(told(finding(0)), None);
        assert!(told(finding(3)).is_some_and(|why| why.contains("found something")));
        let why = told(Answer::CannotJudge("no pictures".into()));
        assert!(why.is_some_and(|why| why.contains("could not be screened")));
        assert_eq!(flashes(&[]), None);
    }
}
