//! The incidents as they are told: what was found of each is folded below it, so that nothing is told twice.

use super::findings::order;
use crate::audit::Audit;
use crate::finding::{Finding, Judgement};
use crate::verdict::{Incident, LikelyCause, Which, remedy};
use std::collections::BTreeSet;

/// One incident, and what is told of it.
pub(crate) struct Told<'a> {
    /// The incident.
    pub incident: &'a Incident,
    /// What was found of it, check by check; what merely follows from it comes last.
    pub found: Vec<OfCheck<'a>>,
    /// What to do beside what is to be done now, in sentences.
    pub advice: String,
}

/// The findings of one check that belong together, in the order of telling.
pub(crate) struct OfCheck<'a> {
    /// The check and its answer.
    pub judgement: &'a Judgement,
    /// The findings.
    pub findings: Vec<&'a Finding>,
}

/// All that was found, each finding once.
pub(crate) struct Folded<'a> {
    /// The incidents, the worst first.
    pub incidents: Vec<Told<'a>>,
    /// What weighs nothing: notes, and what the plan accepts.
    pub noted: Vec<OfCheck<'a>>,
    /// Causes that account for nothing that weighs.
    pub loose: Vec<&'a LikelyCause>,
}

impl<'a> Folded<'a> {
    /// Of an audit.
    pub(crate) fn of(audit: &'a Audit) -> Self {
        let verdict = &audit.verdict;
        let incidents: Vec<Told<'a>> = verdict.incidents.iter().map(|i| Told::of(audit, i)).collect();
        let noted = by_check(audit, |finding, _| !finding.weighs());
        let told = |cause: &LikelyCause| {
            let owned = |i: &Incident| i.cause.as_ref() == Some(cause) || i.rivals.contains(cause);
            verdict.incidents.iter().any(owned)
        };
        let loose = verdict.causes.iter().filter(|cause| !told(cause)).collect();
        Self { incidents, noted, loose }
    }
}

impl<'a> Told<'a> {
    fn of(audit: &'a Audit, incident: &'a Incident) -> Self {
        // A card may have very many findings of one kind.
        let own: BTreeSet<Which> = incident.findings.iter().copied().collect();
        let mut found = by_check(audit, |_, which| own.contains(&which));
        found.sort_by_key(|of| of.judgement.text.traits.follows());
        let mut advice: Vec<String> = incident.cause.iter().map(|c| c.remedy.to_string()).collect();
        for of in &found {
            let text = of.judgement.text;
            // A known cause says what to do about all but what follows from it.
            if incident.cause.is_some() && !text.traits.follows() {
                continue;
            }
            let codes: Vec<_> = of.findings.iter().map(|f| f.cause.as_ref().map(|c| c.code)).collect();
            advice.push(match codes.first() {
                Some(Some(code)) if codes.iter().all(|c| *c == Some(*code)) => text.remedy_for(*code),
                _ => remedy(of.judgement),
            });
        }
        Self { incident, found, advice: beside(&advice, &incident.to_do) }
    }
}

/// The findings that are picked, check by check in the checks' order, those of a check in theirs.
fn by_check<'a>(audit: &'a Audit, pick: impl Fn(&Finding, Which) -> bool) -> Vec<OfCheck<'a>> {
    let of = |judgement: &'a Judgement| {
        let which = |nth: usize| Which { check: judgement.text.id, nth };
        let all = judgement.findings().iter().enumerate().filter(|(nth, f)| pick(f, which(*nth)));
        let mut findings: Vec<&Finding> = all.map(|(_, f)| f).collect();
        findings.sort_by(|a, b| order(a, b));
        (!findings.is_empty()).then_some(OfCheck { judgement, findings })
    };
    audit.judgements.iter().filter_map(of).collect()
}

/// The sentences of those texts, each once, without those that `told` holds.
fn beside(texts: &[String], told: &str) -> String {
    let mut out: Vec<&str> = Vec::new();
    for text in texts {
        // Each keeps its full stop.
        let sentences = text.split_inclusive(". ").map(str::trim).filter(|s| !s.is_empty());
        for sentence in sentences {
            if !told.contains(sentence) && !out.contains(&sentence) {
                out.push(sentence);
            }
        }
    }
    out.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn every_finding_stands_in_one_place() {
        let audit = sample::audit();
        let folded = Folded::of(&audit);
        let incidents = folded.incidents.iter().flat_map(|t| &t.found);
        let all: usize = incidents.chain(&folded.noted).map(|of| of.findings.len()).sum();
        assert_eq!(all, audit.findings().len());
    }

    #[test]
    fn what_is_said_is_not_advised_again() {
        let texts = ["Look here. Feed it. ".to_owned(), "Feed it. Shoot on.".to_owned()];
        assert_eq!(beside(&texts, "Look here. Go."), "Feed it. Shoot on.");
        assert_eq!(beside(&[], ""), "");
    }
}
