//! The audit in one sentence, and what to do now: what stands right below the call.

use super::usable::asked_clip_s;
use crate::audit::Audit;
use crate::finding::{Answer, ClipEffect, Severity};
use crate::schedule::clip::patch_words;
use crate::units::{FrameSpan, counted, duration};
use crate::verdict::{Incident, Which};

/// What happened, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Story {
    /// The worst incident in one sentence, and a second one with the part that is good; where nothing
    /// happened, what there is.
    pub sentence: String,
    /// What to do now; `None` where the call says it.
    pub to_do: Option<String>,
}

impl Story {
    /// Of an audit.
    pub(crate) fn of(audit: &Audit) -> Self {
        let Some(worst) = audit.verdict.incidents.first() else {
            return Self { sentence: whole(audit), to_do: None };
        };
        let mut sentence = worst.sentence.clone();
        if let Some(others) = others(audit) {
            sentence.push_str(&format!(" Also: {others}."));
        }
        if let Some(good) = good(audit) {
            sentence.push_str(&format!(" Good in one piece: {good}."));
        }
        Self { sentence, to_do: Some(worst.to_do.clone()) }
    }
}

/// Other incidents that the sentence names.
const ALSO: usize = 2;

/// The incidents behind the worst, each kind once and with its first place; `None` where there are none.
fn others(audit: &Audit) -> Option<String> {
    let mut kinds: Vec<(&str, &Incident)> = Vec::new();
    for incident in audit.verdict.incidents.iter().skip(1) {
        let check = incident.findings.first().map_or(incident.code, |w| w.check);
        if kinds.iter().all(|kind| kind.0 != check) {
            kinds.push((check, incident));
        }
    }
    let more = kinds.len().saturating_sub(ALSO);
    let text = |id: &str| audit.judgements.iter().find(|j| j.text.id == id).map(|j| j.text);
    let named = kinds.iter().take(ALSO).map(|(check, incident)| {
        let found = text(check).map_or(*check, |text| text.finds);
        if incident.findings.is_empty() {
            return format!("{found} not judged");
        }
        // A run that is too short is so as a whole.
        let placed = text(check).is_some_and(|text| !text.traits.follows());
        let first = places(audit, incident).into_iter().next().filter(|_| placed);
        format!("{found}{}", first.and_then(|at| since(audit, at)).unwrap_or_default())
    });
    let names = named.collect::<Vec<_>>().join(", ");
    (!kinds.is_empty()).then(|| if more > 0 { format!("{names} and {more} more") } else { names })
}

/// When a place is: " at 22:29:27" for a frame or the step between two, " from 22:29:27 to 22:40:00" for more
/// of them; " after 22:29:17", the frame before, where its own tells no time.
fn since(audit: &Audit, place: FrameSpan) -> Option<String> {
    let clock = |at: usize| audit.evidence.frame(at).clock();
    match (clock(place.first), clock(place.last)) {
        (Some(first), Some(last)) if place.last > place.first + 1 => Some(format!(" from {first} to {last}")),
        (Some(clock), _) => Some(format!(" at {clock}")),
        (None, _) => (0..place.first).rev().find_map(clock).map(|clock| format!(" after {clock}")),
    }
}

/// A run in which nothing happened.
fn whole(audit: &Audit) -> String {
    let evidence = &audit.evidence;
    let clock = |at: usize| evidence.frame(at).clock();
    let frames = counted(evidence.in_run().count() as u64, "frame");
    let mut words = frames;
    if let Some(cadence) = &evidence.timing.cadence {
        words.push_str(&format!(", one every {}", duration(cadence.interval_s)));
    }
    let ends = (evidence.in_run().find_map(clock), evidence.in_run().rev().find_map(clock));
    if let (Some(first), Some(last)) = ends {
        words.push_str(&format!(", {first} to {last}"));
    }
    let holes = audit.judgements.iter().find(|j| j.text.traits.in_the_clip == ClipEffect::Holes);
    if holes.is_some_and(|j| j.answer == Answer::Clear) {
        words.push_str("; none is missing");
    }
    match (audit.verdict.usable.as_ref().and_then(|u| u.clip_s), asked_clip_s(audit)) {
        (Some(clip), Some(asked)) => {
            words.push_str(&format!("; {} of clip, {} ordered", duration(clip), duration(asked)));
        }
        (Some(clip), None) => words.push_str(&format!("; {} of clip", duration(clip))),
        _ => {}
    }
    words + "."
}

/// The longest usable part, by where it lies in the run, and the clip it makes; `None` where there
/// is none.
fn good(audit: &Audit) -> Option<String> {
    let (evidence, usable) = (&audit.evidence, audit.verdict.usable.as_ref()?);
    let mut frames = counted(usable.frames, "frame");
    if !usable.patches.is_empty() {
        frames.push_str(&format!(" and {}", patch_words(&usable.patches)));
    }
    let begins = evidence.in_run().next() == Some(usable.span.first);
    let ends = evidence.in_run().next_back() == Some(usable.span.last);
    let clock = |at: usize| evidence.frame(at).clock().unwrap_or_else(|| evidence.frame(at).name());
    let (from, to) = (clock(usable.span.first), clock(usable.span.last));
    let mut words = match (begins, ends) {
        (true, true) => format!("all of it, {frames}"),
        (true, false) => format!("the first {frames}, to {to}"),
        (false, true) => format!("the last {frames}, from {from}"),
        (false, false) => format!("{frames}, {from} to {to}"),
    };
    match (usable.clip_s, asked_clip_s(audit)) {
        (Some(clip), Some(asked)) => {
            words.push_str(&format!(" ({} of the {} ordered)", duration(clip), duration(asked)));
        }
        (Some(clip), None) => words.push_str(&format!(" ({} of clip)", duration(clip))),
        _ => {}
    }
    match doubtful(audit, usable.span) {
        0 => {}
        n => words.push_str(&format!(", with {} to look at", counted(n as u64, "place"))),
    }
    Some(words)
}

/// Places in a part that is good that are in doubt all the same. What is so all over it is none.
fn doubtful(audit: &Audit, good: FrameSpan) -> usize {
    let cautions = audit.verdict.incidents.iter().filter(|i| i.severity == Severity::Caution);
    let meets = |at: &FrameSpan| at.first <= good.last && good.first <= at.last;
    let within = |at: &FrameSpan| good.first < at.first || at.last < good.last;
    cautions.flat_map(|i| places(audit, i)).filter(|at| meets(at) && within(at)).count()
}

/// Where an incident shows, in capture order, overlapping places as one. What merely follows from it (a clip
/// that is too short) has no place of its own beside the others.
pub(crate) fn places(audit: &Audit, incident: &Incident) -> Vec<FrameSpan> {
    let found = |which: &Which| {
        let judgement = audit.judgements.iter().find(|j| j.text.id == which.check)?;
        let finding = judgement.findings().get(which.nth)?;
        let (first, last) = finding.first.zip(finding.last)?;
        Some((judgement.text.traits.follows(), FrameSpan { first, last }))
    };
    let all: Vec<(bool, FrameSpan)> = incident.findings.iter().filter_map(found).collect();
    let alone = all.iter().all(|(follows, _)| *follows);
    let mut spans: Vec<FrameSpan> = all.iter().filter(|a| alone || !a.0).map(|a| a.1).collect();
    spans.sort_by_key(|s| (s.first, s.last));
    let mut apart: Vec<FrameSpan> = Vec::new();
    for span in spans {
        match apart.last_mut().filter(|before| span.first <= before.last) {
            Some(before) => before.last = before.last.max(span.last),
            None => apart.push(span),
        }
    }
    apart
}
