//! The sections of the summary that are told in sentences.

use super::page::{Page, Tone};
use crate::audit::Audit;
use crate::evidence::Trouble;
use crate::finding::{Answer, Judgement, Quality};
use crate::frames::{PassedOver, PictureSource};
use crate::outputs::report::outside::passed_over_words;
use crate::outputs::report::{Report, usable};
use crate::units::{counted, counted_as, shown};
use crate::verdict::Call;

/// Places that are listed one by one; the rest is counted.
const LISTED: usize = 8;

/// Label of the lines that tell how many frames a check looked at.
const LOOKED_AT: &str = "checked";

/// What could not be read: the audit is then incomplete.
pub(crate) fn trouble(page: &mut Page, audit: &Audit) {
    unread(page, &audit.evidence.frames.trouble);
}

/// Places that could not be read or walked; nothing where there are none.
pub(crate) fn unread(page: &mut Page, all: &[Trouble]) {
    if all.is_empty() {
        return;
    }
    page.heading("Incomplete: not everything could be read");
    // A card that is pulled out leaves thousands: neighbours with one reason are told together.
    let groups: Vec<_> = all.chunk_by(|a, b| a.what == b.what).collect();
    for group in groups.iter().take(LISTED) {
        let (Some(first), Some(last)) = (group.first(), group.last()) else { continue };
        let which = match group.len() {
            1 => shown(&first.path),
            n => format!("{} to {}: {n} files", shown(&first.path), shown(&last.path)),
        };
        page.hang(2, (Tone::Bad, "unread"), 11, &format!("{which}: {}", shown(&first.what)));
    }
    if groups.len() > LISTED {
        let told: usize = groups.iter().take(LISTED).map(|g| g.len()).sum();
        let words = format!("{} more; each in audit.json.", all.len() - told);
        page.hang(2, (Tone::Bad, "unread"), 11, &words);
    }
    page.wrap(2, Tone::Plain, "Put the card back, or allow the files to be read, and run the audit again.");
}

/// What happened, and what to do now: the first lines below the call.
pub(crate) fn story(page: &mut Page, report: &Report<'_>) {
    page.wrap(0, Tone::Strong, &shown(&report.story.sentence));
    if let Some(to_do) = &report.story.to_do {
        page.wrap(0, Tone::Plain, &format!("Now: {}", shown(to_do)));
    }
}

/// What was audited, and what it was compared with.
pub(crate) fn subject(page: &mut Page, audit: &Audit) {
    let frames = counted(audit.evidence.frames.len() as u64, "frame");
    page.wrap(0, Tone::Plain, &format!("{}: {frames}; {}.", shown(&audit.name), shown(&audit.plan_source)));
}

/// What a call without a reason rests on.
pub(crate) fn nothing_weighs(report: &Report<'_>) -> &'static str {
    match report.end_known {
        true => "No fault, no caution; every important check ran.",
        false => "No fault, no caution; every important check ran. End not known: none planned.",
    }
}

/// What of focus a clear call was reached with, and what not; `None` for other calls, and where no picture
/// was looked at.
pub(crate) fn focus(audit: &Audit) -> Option<String> {
    let judgement = audit.judgements.iter().find(|j| j.text.traits.quality == Some(Quality::Sharpness))?;
    let look = audit.evidence.frames.looks.iter().flatten().next()?;
    if audit.verdict.call != Call::Clear {
        return None;
    }
    let by = match look.source {
        PictureSource::Thumbnail => "by its thumbnail",
        PictureSource::Preview => "by its preview",
        PictureSource::Reduced => "by the picture at an eighth",
        PictureSource::Whole => "by the whole picture",
    };
    Some(match &judgement.answer {
        Answer::CannotJudge(_) | Answer::Broke(_) => {
            "Focus was not judged: look at the first and the last frame at full size.".into()
        }
        Answer::Clear | Answer::Found(_) => format!(
            "Focus: each frame was judged against its neighbours, {by}. Whether the run is sharp at all, and \
             stays so under drops or slow dew, was not: look at its first and last frame at full size."
        ),
    })
}

/// The same in short, with what to do.
pub(crate) fn focus_in_short(audit: &Audit) -> Option<&'static str> {
    focus(audit)?;
    let judgement = audit.judgements.iter().find(|j| j.text.traits.quality == Some(Quality::Sharpness))?;
    Some(match judgement.answer {
        Answer::CannotJudge(_) | Answer::Broke(_) => {
            "Look at the first and the last frame at full size: focus was not judged."
        }
        Answer::Clear | Answer::Found(_) => {
            "Look at the first and the last frame at full size: focus was only compared with neighbours."
        }
    })
}

/// What can be used as it is, and what clip it makes against the one asked.
pub(crate) fn usable(page: &mut Page, audit: &Audit) {
    let evidence = &audit.evidence;
    let span = |first: usize, last: usize| match (evidence.frame(first).name(), evidence.frame(last).name()) {
        (first, last) if first == last => first,
        (first, last) => format!("{first} to {last}"),
    };
    page.wrap(0, Tone::Plain, &format!("Usable: {}", usable::words(audit, span)));
}

/// What lies outside of the run and why, neighbours with one reason together.
pub(crate) fn outside(page: &mut Page, report: &Report<'_>) {
    let (groups, evidence) = (&report.outside, &report.audit.evidence);
    if groups.is_empty() {
        return;
    }
    page.heading("Not of the run");
    for beside in groups.iter().take(LISTED) {
        let (first, last) = (beside.span.first, beside.span.last);
        let name = |at: usize| evidence.frame(at).name();
        let which = if first == last { name(first) } else { format!("{} to {}", name(first), name(last)) };
        let frames = counted(beside.frames, "frame");
        page.wrap(2, Tone::Plain, &format!("{which}: {frames}, {}.", shown(beside.why)));
    }
    if groups.len() > LISTED {
        page.wrap(2, Tone::Plain, &format!("{} more; each in audit.json.", groups.len() - LISTED));
    }
}

/// What was looked at, what was skipped, what could not be judged.
pub(crate) fn checks(page: &mut Page, audit: &Audit) {
    page.heading("Checks");
    let clear = audit.judgements.iter().filter(|j| j.answer == Answer::Clear).count();
    page.wrap(2, Tone::Good, &format!("{} clear.", counted(clear as u64, "check")));
    // Checks that cannot judge for one reason are told together.
    grouped(page, audit, (Tone::Warn, "cannot judge"), |j| match &j.answer {
        Answer::CannotJudge(why) => Some(why.clone()),
        _ => None,
    });
    grouped(page, audit, (Tone::Bad, "broke"), |j| match &j.answer {
        Answer::Broke(what) => Some(format!("the check itself failed: {what}")),
        _ => None,
    });
    grouped(page, audit, (Tone::Faint, LOOKED_AT), looked_at);
    passed_over(page, &audit.evidence.frames.card.passed_over);
}

/// Files that are no frames, by reason.
pub(crate) fn passed_over(page: &mut Page, all: &[(PassedOver, u64)]) {
    let sum = all.iter().fold(0, |sum: u64, p| sum.saturating_add(p.1));
    if sum > 0 {
        let what = counted_as(sum, "file that is no frame", "files that are no frames");
        let why: Vec<_> = all.iter().map(|(why, n)| format!("{n} {}", passed_over_words(*why))).collect();
        page.hang(2, (Tone::Faint, "not pictures"), 16, &format!("{what}: {}", why.join(", ")));
    }
}

fn looked_at(j: &Judgement) -> Option<String> {
    if !matches!(j.answer, Answer::Clear | Answer::Found(_)) {
        return None;
    }
    let mut words = counted(j.looked_at, "frame");
    for (frames, why) in j.set_aside.iter().filter(|a| a.0 > 0) {
        words.push_str(&format!(", {frames} skipped ({why})"));
    }
    Some(words)
}

/// Tells `words` once, with every check that says the same, in the checks' order.
fn grouped(page: &mut Page, audit: &Audit, label: (Tone, &str), words: fn(&Judgement) -> Option<String>) {
    let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
    for judgement in &audit.judgements {
        let Some(words) = words(judgement) else { continue };
        match groups.iter_mut().find(|g| g.0 == words) {
            Some(group) => group.1.push(judgement.text.id),
            None => groups.push((words, vec![judgement.text.id])),
        }
    }
    // The largest group comes last and needs no list of its checks.
    let largest = (0..groups.len()).rev().max_by_key(|&n| groups.get(n).map_or(0, |g| g.1.len()));
    if label.1 == LOOKED_AT
        && let Some(last) = largest
    {
        let whose = if groups.len() == 1 { "every check" } else { "the others" };
        let mut group = groups.remove(last);
        group.1 = vec![whose];
        groups.push(group);
    }
    for (words, ids) in &groups {
        page.hang(2, label, 16, &format!("{}: {}", ids.join(", "), shown(words)));
    }
}
