//! The findings, weightiest first, with their figures.

use super::page::{Page, Tone};
use crate::audit::Audit;
use crate::finding::{Finding, Severity};
use crate::outputs::report::findings::{When, cause, more_words, order, when};
use crate::units::{Figure, plain, shown};

/// Findings of one check and severity that are told one by one; the rest is counted. The files hold every
/// one.
const EACH: usize = 3;

/// The tone of a severity.
pub fn tone(severity: Severity) -> Tone {
    match severity {
        Severity::Fault => Tone::Bad,
        Severity::Caution => Tone::Warn,
        Severity::Note => Tone::Faint,
    }
}

/// Writes the section. A sentence that stands among the reasons already is not told again: place and figures
/// are.
pub fn write(page: &mut Page, audit: &Audit, told: &[&str]) {
    let all = audit.findings();
    if all.is_empty() {
        return;
    }
    page.heading("Findings");
    let mut rest = all.as_slice();
    while let Some(first) = rest.first() {
        let same = rest.iter().take_while(|f| f.check == first.check && f.severity == first.severity).count();
        let (group, others) = rest.split_at(same);
        let mut group = group.to_vec();
        group.sort_by(|a, b| order(a, b));
        for finding in group.iter().take(EACH) {
            one(page, audit, finding, told.contains(&finding.message.as_str()));
        }
        let more = group.get(EACH..).unwrap_or_default();
        if !more.is_empty() {
            let frames: u64 = more.iter().map(|f| f.count).fold(0, u64::saturating_add);
            let words = format!("{}: {}", first.check, more_words(more.len(), frames));
            page.hang(2, (tone(first.severity), first.severity.word()), 11, &words);
        }
        rest = others;
    }
}

fn one(page: &mut Page, audit: &Audit, finding: &Finding, told: bool) {
    let label = (tone(finding.severity), finding.severity.word());
    let words = if told { place(audit, finding) } else { shown(&finding.message) };
    page.hang(2, label, 11, &format!("{}: {words}", finding.check));
    if let Some(figures) = figures(finding) {
        page.wrap(11, Tone::Faint, &figures);
    }
    if let Some(cause) = cause(finding) {
        page.wrap(11, Tone::Plain, &format!("Cause: {}", shown(cause)));
    }
    if let Some(doubt) = &finding.doubt {
        let range = format!("{} to {}", doubt.count_low, doubt.count_high);
        let range = if doubt.count_low == doubt.count_high || doubt.words.contains(&range) {
            String::new()
        } else {
            format!(" ({range})")
        };
        page.wrap(11, Tone::Plain, &format!("In doubt: {}{range}", shown(&doubt.words)));
    }
    if let Some(reason) = &finding.accepted {
        page.wrap(11, Tone::Plain, &format!("Accepted in the plan: {}", shown(reason)));
    }
}

/// How many, from which frame to which, and when.
fn place(audit: &Audit, finding: &Finding) -> String {
    let evidence = &audit.evidence;
    let name =
        |at: Option<usize>| at.filter(|&at| at < evidence.frames.len()).map(|at| evidence.frame(at).name());
    let mut words = format!("as above; count {}", finding.count);
    match (name(finding.first), name(finding.last)) {
        (Some(first), Some(last)) if first != last => words.push_str(&format!(", {first} to {last}")),
        (Some(one), _) | (None, Some(one)) => words.push_str(&format!(", {one}")),
        (None, None) => {}
    }
    match when(audit, finding) {
        When::Span(first, last) => words.push_str(&format!(" ({} to {})", first.clock(), last.clock())),
        When::At(at) => words.push_str(&format!(" ({})", at.clock())),
        When::Untold => {}
    }
    words + "."
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
