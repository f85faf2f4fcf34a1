//! The findings, weightiest first, with their figures.

use super::page::{Page, Tone};
use crate::audit::{Audit, Finding, Severity};
use crate::units::shown;

/// Findings of one check and severity that are told one by one; the rest is counted. The files hold every one.
const EACH: usize = 3;

/// The tone of a severity.
pub fn tone(severity: Severity) -> Tone {
    match severity {
        Severity::Fault => Tone::Bad,
        Severity::Caution => Tone::Warn,
        Severity::Note => Tone::Faint,
    }
}

/// Writes the section.
pub fn write(page: &mut Page, audit: &Audit) {
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
        // The largest of a check are told; among equals the order of capture stands.
        group.sort_by_key(|f| (f.accepted.is_some(), std::cmp::Reverse(f.count)));
        for finding in group.iter().take(EACH) {
            one(page, finding);
        }
        let more = group.get(EACH..).unwrap_or_default();
        if !more.is_empty() {
            let frames: u64 = more.iter().map(|f| f.count).fold(0, u64::saturating_add);
            let words = format!(
                "{}: {} more like these, {frames} in all; each in findings.csv.",
                first.check,
                more.len()
            );
            page.hang(2, (tone(first.severity), first.severity.word()), 11, &words);
        }
        rest = others;
    }
}

fn one(page: &mut Page, finding: &Finding) {
    let label = (tone(finding.severity), finding.severity.word());
    page.hang(2, label, 11, &format!("{}: {}", finding.check, shown(&finding.message)));
    if let Some(cause) = &finding.cause {
        page.wrap(11, Tone::Plain, &format!("Cause: {}", shown(&cause.words)));
    }
    if let Some(doubt) = &finding.doubt {
        let range = if doubt.count_low == doubt.count_high {
            String::new()
        } else {
            format!(" ({} to {})", doubt.count_low, doubt.count_high)
        };
        page.wrap(11, Tone::Plain, &format!("In doubt: {}{range}", shown(&doubt.words)));
    }
    if let Some(reason) = &finding.accepted {
        page.wrap(11, Tone::Plain, &format!("Accepted in the plan: {}", shown(reason)));
    }
}
