//! The run-through: an honest preview from small pictures, and larger ones to look at for dew, focus and
//! framing. The pictures wait in a template, which a browser without scripts does not show; it never plays by
//! itself.

use super::gallery::{Picture, shape};
use super::view::View;
use crate::finding::{Answer, Judgement, Quality};
use crate::outputs::report::lines::from_to;
use crate::outputs::report::reel::{self, Reel, Tick};
use crate::outputs::report::shown;
use crate::units::counted_as;
use maud::{Markup, html};

/// The section; nothing without pictures.
pub(crate) fn section(view: &View<'_>) -> Markup {
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
    let reel = view.gallery.reel(view.audit, view.share);
    let placed = shown::around(view.audit);
    let fps = view.audit.plan.delivery.played_fps();
    let flashes = flashes(&view.audit.judgements);
    let stops: Vec<String> = reel.stops().iter().map(ToString::to_string).collect();
    html! {
        p { (what_is_shown(view, &reel)) }
        p class="fine" {
            "Small pictures: good for pace and events, not for focus. Missing slots are black. Fast changes \
             of light can harm viewers with photosensitive epilepsy; nothing plays by itself."
        }
        @if let Some(why) = flashes {
            p class="flashes" role="note" {
                strong { (why) " " }
                "Do not play the run to others before that is looked at."
            }
        }
        div class={ "player " (shape(view.audit)) } data-fps=(fps)
            data-flashes=(if flashes.is_some() { "yes" } else { "no" })
            data-stops=(stops.join(" ")) data-beside=(reel::BESIDE) {}
        template {
            @for tick in &reel.ticks { (frame(view, tick, &placed)) }
            @for incident in &view.audit.verdict.incidents { b { (view.words(&incident.sentence)) } }
        }
    }
}

/// Parts left out that are told one by one.
const TOLD: usize = 3;

/// What of the run is shown, and what is skipped.
fn what_is_shown(view: &View<'_>, reel: &Reel) -> String {
    let skips = reel.skips();
    if skips.is_empty() {
        return "Every frame of the run is shown.".into();
    }
    let left_out = reel.slots.saturating_sub(reel.ticks.len() as u64);
    let whole = match reel.ticks.iter().any(|tick| tick.step == 1) {
        true => "Every frame around the problems is shown",
        false => "A part of the frames is shown",
    };
    let moment = |tick: &Tick| tick.moment(view.audit);
    let step = skips.iter().map(|skip| skip.2).max().unwrap_or(1);
    let between: Option<Vec<String>> = skips
        .iter()
        .map(|(first, last, _)| {
            let (from, to) = from_to(moment(first)?, moment(last)?);
            Some(format!("between {from} and {to}"))
        })
        .collect();
    let place = match between.filter(|parts| parts.len() <= TOLD) {
        Some(parts) => parts.join(" and "),
        None if reel.ticks.iter().any(|tick| tick.step == 1) => "elsewhere".into(),
        None => "throughout".into(),
    };
    format!(
        "{whole}, and {} {place}. {} skipped.",
        every(step),
        counted_as(left_out, "frame is", "frames are")
    )
}

/// "every other frame", "every 6th frame".
fn every(step: u64) -> String {
    let ending = match (step % 100, step % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    if step == 2 { "every other frame".into() } else { format!("every {step}{ending} frame") }
}

fn frame(view: &View<'_>, tick: &Tick, placed: &std::collections::BTreeSet<usize>) -> Markup {
    let slot = tick.slot.map(|s| s.to_string()).unwrap_or_default();
    let clock = tick.moment(view.audit).map(|moment| moment.clock()).unwrap_or_default();
    let step = (tick.step > 1).then_some(tick.step);
    let name = tick.at.map(|at| view.name(at)).unwrap_or_default();
    // A picture that stands beside a finding is taken from there.
    let own = tick.at.filter(|at| !placed.contains(at)).and_then(|at| view.gallery.small.get(&at));
    html! {
        i data-at=[tick.at] data-name=(name) data-clock=(clock) data-slot=(slot) data-step=[step]
            data-problem=[tick.problem] {
            @if let Some(picture) = own { img src=(picture.data()) alt=""; }
        }
    }
}

/// The larger pictures.
fn stills(view: &View<'_>) -> Markup {
    html! {
        @if !view.gallery.large.is_empty() {
            h3 { "Start to finish" }
            p class="fine" { "Larger pictures, to look at for dew, focus and framing." }
            div class={ "stills " (shape(view.audit)) } {
                @for (at, picture) in &view.gallery.large { (still(view, *at, picture)) }
            }
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
pub(crate) fn filmstrip(view: &View<'_>, first: usize, last: usize) -> Markup {
    let beside = shown::beside(view.audit, first, last);
    let placed = shown::around(view.audit);
    let shown: Vec<(usize, &Picture)> = beside
        .into_iter()
        .filter(|at| placed.contains(at))
        .filter_map(|at| Some((at, view.gallery.small.get(&at)?)))
        .collect();
    html! {
        @if !shown.is_empty() {
            div class={ "filmstrip " (shape(view.audit)) } {
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
    use super::super::gallery::NO_PICTURES;
    use super::super::view::Edition;
    use super::*;
    use crate::finding::{Finding, InForce, Severity, Text, Tolerated, Traits};
    use crate::outputs::report::Report;
    use crate::outputs::sample;

    const TEXT: Text = Text {
        id: "flash-risk",
        finds: "flashes",
        asks: "",
        why: "",
        how: "",
        blind: "",
        remedy: "",
        source: "",
        traits: Traits { quality: Some(Quality::Flashes), ..Traits::PLAIN },
    };

    #[test]
    fn steps_are_counted_as_people_do() {
        let told = [2, 3, 6, 11, 12, 21, 22, 112].map(every);
        let numbers = ["other", "3rd", "6th", "11th", "12th", "21st", "22nd", "112th"];
        assert_eq!(told, numbers.map(|n| format!("every {n} frame")));
    }

    /// The sample with a hole of 10,000 slots: what is left out is told with its place.
    #[test]
    fn what_is_skipped_is_told() {
        let told = |slots| {
            let mut audit = sample::audit();
            audit.evidence.timing.holes[0].slots = slots;
            let report = Report::of(&audit);
            let view = View::new(&report, &NO_PICTURES, Edition::Full);
            what_is_shown(&view, &reel::reel(&audit))
        };
        assert_eq!(told(2), "Every frame of the run is shown.");
        let long = told(10_000);
        assert!(long.starts_with("Every frame around the problems is shown, and every "), "{long}");
        assert!(long.contains("th frame between ") && long.ends_with(" frames are skipped."), "{long}");
    }

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
