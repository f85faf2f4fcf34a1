//! What the terminal shows where nobody asks for more: one screen. `summary.txt` and `--verbose` have all.

use super::incidents::tone;
use super::page::{Page, Tone, WIDTH, wrapped};
use super::{call_line, strip, told, tone_of};
use crate::audit::Audit;
use crate::finding::Answer;
use crate::outputs::report::Report;
use crate::outputs::report::story::places;
use crate::units::{counted, shown};
use crate::verdict::{Call, Incident};

/// Lines of a screen, less the prompt.
const SCREEN: usize = 23;
/// Lines that the strip and the last lines take.
const BELOW: usize = 7;
/// Places of one incident that are told one by one.
const PLACES: usize = 3;

/// One camera, on one screen: the call, what happened, what to do now, and where.
pub(crate) fn write(page: &mut Page, report: &Report<'_>) {
    let audit = report.audit;
    let above = page.lines();
    page.wrap(0, tone_of(audit.verdict.call), &call_line(audit));
    told::story(page, report);
    if !report.end_known && audit.verdict.call == Call::Clear {
        page.wrap(0, Tone::Plain, "The end is not known: no plan says how long the run was to be.");
    }
    if let Some(words) = told::focus_in_short(audit) {
        page.wrap(0, Tone::Plain, words);
    }
    told::trouble(page, audit);
    if let Some(words) = outside(report) {
        page.wrap(0, Tone::Plain, &words);
    }
    if audit.verdict.call != Call::Clear {
        page.line(Tone::Plain, "");
        // A narrow page is as much higher.
        let screen = SCREEN * WIDTH / page.width();
        let room = screen.saturating_sub(page.lines() - above + BELOW);
        incidents(page, audit, room);
        strip::line(page, audit);
    }
    told::subject(page, audit);
    page.wrap(0, Tone::Faint, &checks(audit));
}

/// The frames beside the run, in one sentence; `None` where there are none.
fn outside(report: &Report<'_>) -> Option<String> {
    let groups = &report.outside;
    let frames: u64 = groups.iter().map(|g| g.frames).sum();
    let mut why: Vec<&str> = groups.iter().map(|g| g.why).collect();
    why.dedup();
    let told = match why.as_slice() {
        [one] => format!("{}, {}", counted(frames, "frame"), shown(one)),
        _ => counted(frames, "frame"),
    };
    (frames > 0).then(|| format!("Not of the run: {told}."))
}

/// Each incident with its checks and places, the worst first, in so many lines.
fn incidents(page: &mut Page, audit: &Audit, room: usize) {
    let all = &audit.verdict.incidents;
    let mut left = room;
    for (n, incident) in all.iter().enumerate() {
        let words = line(audit, incident);
        let lines = wrapped(&words, page.width().saturating_sub(9)).len();
        let last = n + 1 == all.len();
        if lines + usize::from(!last) > left {
            let more = counted((all.len() - n) as u64, "more incident");
            page.hang(0, (Tone::Faint, "and"), 9, &format!("{more}: --verbose tells them."));
            return;
        }
        left -= lines;
        page.hang(0, (tone(incident.severity), incident.severity.word()), 9, &words);
    }
}

/// The checks that an incident shows in, and where.
fn line(audit: &Audit, incident: &Incident) -> String {
    let evidence = &audit.evidence;
    let mut checks: Vec<&str> = incident.findings.iter().map(|w| w.check).collect();
    checks.dedup();
    if checks.is_empty() {
        return shown(&incident.sentence);
    }
    let name = |at: usize| evidence.frame(at).name();
    let clock = |at: usize| evidence.frame(at).clock();
    let all = places(audit, incident);
    let mut told: Vec<String> = Vec::new();
    for span in all.iter().take(PLACES) {
        let files = match span.first == span.last {
            true => name(span.first),
            false => format!("{} to {}", name(span.first), name(span.last)),
        };
        told.push(match clock(span.first) {
            Some(clock) => format!("{files} ({clock})"),
            None => files,
        });
    }
    let mut words = checks.join(", ");
    if !told.is_empty() {
        words.push_str(&format!(": {}", told.join("; ")));
    }
    if all.len() > PLACES {
        words.push_str(&format!("; {}", counted((all.len() - PLACES) as u64, "more place")));
    }
    words
}

/// How many checks are clear, and how many could not judge.
fn checks(audit: &Audit) -> String {
    let many = |pick: fn(&Answer) -> bool| audit.judgements.iter().filter(|j| pick(&j.answer)).count() as u64;
    let clear = many(|a| *a == Answer::Clear);
    let blind = many(|a| matches!(a, Answer::CannotJudge(_) | Answer::Broke(_)));
    let mut words = format!("{} clear", counted(clear, "check"));
    if blind > 0 {
        words.push_str(&format!(", {blind} could not judge"));
    }
    format!("{words}. All of it: --verbose, or summary.txt.")
}
