//! What happened, one incident after another, each with what was found of it.

use super::page::{Page, Tone};
use crate::finding::{Finding, Severity};
use crate::outputs::report::Report;
use crate::outputs::report::findings::{cause, more_words};
use crate::outputs::report::incidents::{OfCheck, Told};
use crate::units::{Figure, plain, shown};
use crate::verdict::{LikelyCause, Strength};

/// Findings of one check that are told one by one below their incident; the rest is counted. The files hold
/// every one.
const EACH: usize = 3;
/// Incidents that are told; the rest is counted.
const MOST: usize = 12;
/// Column of what is told of an incident.
const AT: usize = 11;

/// The tone of a severity.
pub(crate) fn tone(severity: Severity) -> Tone {
    match severity {
        Severity::Fault => Tone::Bad,
        Severity::Caution => Tone::Warn,
        Severity::Note => Tone::Faint,
    }
}

/// Writes both sections: what happened, and what was noted beside it. With `figures` each finding has those
/// that carry it.
pub(crate) fn write(page: &mut Page, report: &Report<'_>, figures: bool) {
    let folded = &report.folded;
    let mut to = To { page, figures, at: AT };
    if !folded.incidents.is_empty() {
        to.page.heading("What happened");
    }
    for (nth, told) in folded.incidents.iter().enumerate().take(MOST) {
        to.incident(told, nth == 0);
    }
    if folded.incidents.len() > MOST {
        let more = format!("{} more; each in audit.json.", folded.incidents.len() - MOST);
        to.page.hang(2, (Tone::Faint, "and"), AT, &more);
    }
    if !folded.noted.is_empty() || !folded.loose.is_empty() {
        to.page.heading("Noted");
    }
    to.at = 2;
    for of in &folded.noted {
        to.found(of, "");
    }
    for cause in &folded.loose {
        to.page.hang(2, (Tone::Plain, cause.strength.word()), AT, &words_of(cause));
    }
}

/// Where it is written to.
struct To<'p> {
    page: &'p mut Page,
    figures: bool,
    /// Column of what was found.
    at: usize,
}

impl To<'_> {
    /// The first stands below the call already, with what to do.
    fn incident(&mut self, told: &Told<'_>, first: bool) {
        let incident = told.incident;
        let words = if first { "As told above." } else { incident.sentence.as_str() };
        self.page.hang(2, (tone(incident.severity), incident.severity.word()), AT, &shown(words));
        if !first {
            self.line(&format!("Now: {}", incident.to_do));
        }
        for of in &told.found {
            self.found(of, &incident.sentence);
        }
        if let Some(cause) = incident.cause.as_ref().filter(|c| c.strength < Strength::Sure) {
            let apart = cause.apart.map(|a| format!(" How to check: {a}")).unwrap_or_default();
            self.line(&format!("This cause is {}.{apart}", cause.strength.word()));
        }
        for rival in &incident.rivals {
            self.line(&format!("Or ({}): {}", rival.strength.word(), words_of(rival)));
        }
        if !told.advice.is_empty() {
            self.line(&format!("Then: {}", told.advice));
        }
    }

    fn line(&mut self, words: &str) {
        self.page.wrap(AT, Tone::Plain, &shown(words));
    }

    /// What one check found; a sentence that is told already is not told again.
    fn found(&mut self, of: &OfCheck<'_>, told: &str) {
        for finding in of.findings.iter().take(EACH) {
            self.finding(finding, told.contains(finding.message.as_str()));
        }
        let more = of.findings.get(EACH..).unwrap_or_default();
        if !more.is_empty() {
            let frames: u64 = more.iter().map(|f| f.count).fold(0, u64::saturating_add);
            let words = format!("{}: {}", of.judgement.text.id, more_words(more.len(), frames));
            self.page.hang(self.at, (Tone::Plain, "-"), self.at + 2, &words);
        }
    }

    fn finding(&mut self, finding: &Finding, told: bool) {
        let mut words = if told { String::new() } else { format!(" {}", finding.message) };
        if let Some(cause) = cause(finding) {
            words.push_str(&format!(" Cause: {cause}"));
        }
        if let Some(doubt) = &finding.doubt {
            let range = format!("{} to {}", doubt.count_low, doubt.count_high);
            words.push_str(&format!(" In doubt: {}", doubt.words));
            if doubt.count_low != doubt.count_high && !doubt.words.contains(&range) {
                words.push_str(&format!(" ({range})"));
            }
        }
        if let Some(reason) = &finding.accepted {
            words.push_str(&format!(" Accepted in the plan: {reason}"));
        }
        let figures = if self.figures { figures(finding) } else { None };
        if words.is_empty() && figures.is_none() {
            return;
        }
        let words = shown(&format!("{}:{words}", finding.check));
        self.page.hang(self.at, (Tone::Plain, "-"), self.at + 2, &words);
        if let Some(figures) = figures {
            self.page.wrap(self.at + 2, Tone::Faint, &figures);
        }
    }
}

/// A cause with what to do and how to check it.
fn words_of(cause: &LikelyCause) -> String {
    let apart = cause.apart.map(|a| format!(" How to check: {a}")).unwrap_or_default();
    shown(&format!("{} {}{apart}", cause.words, cause.remedy))
}

/// The figures behind the sentence, by their names with units; `None` where there are none.
fn figures(finding: &Finding) -> Option<String> {
    let number = |v: f64| plain(v, 4);
    let one = |figure: &Figure| match figure {
        Figure::Count(n) => Some(n.to_string()),
        Figure::Number(v) => v.is_finite().then(|| number(*v)),
        Figure::Limited(m) => m.value.is_finite().then(|| match m.limit.filter(|l| l.is_finite()) {
            Some(limit) => format!("{} (limit {})", number(m.value), number(limit)),
            None => number(m.value),
        }),
        Figure::Text(words) => Some(shown(words)),
        Figure::Flag(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        Figure::Unknown => None,
    };
    let told: Vec<_> =
        finding.evidence.iter().filter_map(|(key, figure)| Some(format!("{key} {}", one(figure)?))).collect();
    (!told.is_empty()).then(|| told.join("; "))
}
