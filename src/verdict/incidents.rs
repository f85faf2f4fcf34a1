//! What happened, one incident at a time: findings that one cause accounts for, with what follows from them,
//! in one sentence and what to do now.

use super::Reason;
use super::causes::{Explanation, Strength, Which};
use crate::finding::{CauseCode, Finding, Judgement, Needed, PLAN_DOUBTED, Severity};

/// One accident, and all that was found of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incident {
    /// Code of its cause; the id of the check where no cause is known.
    pub code: &'static str,
    /// How sure the cause is; `None` where none is known.
    pub strength: Option<Strength>,
    /// How much the weightiest of its findings weighs.
    pub severity: Severity,
    /// What happened, in one sentence.
    pub sentence: String,
    /// What to do now.
    pub to_do: String,
    /// What was found of it and what follows from that, each finding once. Empty where a check that is needed
    /// could not answer.
    pub findings: Vec<Which>,
    /// Other causes that would account for the same.
    pub rivals: Vec<CauseCode>,
}

/// The incidents, the worst first. Every finding that weighs belongs to one. `unanswered` are the reasons for
/// the call that are no findings.
pub fn told(judgements: &[Judgement], explanations: &[Explanation], unanswered: &[Reason]) -> Vec<Incident> {
    let all = Findings(judgements);
    let mut incidents: Vec<Incident> = Vec::new();
    for explanation in explanations {
        let claimed = |which: &Which| incidents.iter().position(|i| i.findings.contains(which));
        let own: Vec<Which> = explanation.of.iter().copied().filter(|w| claimed(w).is_none()).collect();
        match explanation.of.first().and_then(claimed) {
            Some(at) if own.is_empty() => incidents[at].rivals.push(explanation.cause.code),
            _ if own.is_empty() => {}
            _ => incidents.push(Incident {
                code: explanation.cause.code.name(),
                strength: Some(explanation.cause.strength),
                severity: all.weight(&own),
                sentence: explanation.sentence.clone(),
                to_do: explanation.to_do.clone(),
                findings: own,
                rivals: Vec::new(),
            }),
        }
    }
    let mut follow = Vec::new();
    for judgement in judgements {
        let rest = judgement.findings().iter().enumerate().filter(|(_, f)| f.weighs());
        let rest = rest.map(|(nth, f)| (Which { check: judgement.text.id, nth }, f));
        let rest: Vec<(Which, &Finding)> =
            rest.filter(|(w, _)| !incidents.iter().any(|i| i.findings.contains(w))).collect();
        if judgement.text.traits.follows() {
            follow.extend(rest.iter().map(|r| r.0));
        } else {
            incidents.extend(by_cause(judgement, &rest));
        }
    }
    incidents.sort_by_key(|i| all.rank(i));
    // A clip or a run that is too short follows from the worst that happened.
    if let Some(worst) = incidents.first_mut() {
        worst.severity = worst.severity.max(all.weight(&follow));
        worst.findings.extend(follow);
    } else {
        for which in follow {
            let found = judgements.iter().find(|j| j.text.id == which.check);
            let alone = found.and_then(|j| Some((j, j.findings().get(which.nth)?)));
            incidents.extend(alone.into_iter().flat_map(|(j, f)| by_cause(j, &[(which, f)])));
        }
    }
    incidents.extend(unanswered.iter().map(|reason| unanswered_one(judgements, reason)));
    incidents.sort_by_key(|i| all.rank(i));
    incidents
}

/// Findings of one check that no rule accounts for: those of one cause together.
fn by_cause(judgement: &Judgement, rest: &[(Which, &Finding)]) -> Vec<Incident> {
    let code = |f: &Finding| f.cause.as_ref().map(|c| c.code);
    let mut incidents: Vec<Incident> = Vec::new();
    let mut done: Vec<Option<CauseCode>> = Vec::new();
    for (_, finding) in rest {
        if done.contains(&code(finding)) {
            continue;
        }
        done.push(code(finding));
        let same: Vec<&(Which, &Finding)> = rest.iter().filter(|(_, f)| code(f) == code(finding)).collect();
        // Of findings that weigh the same, the largest speaks for all.
        let largest = same.iter().rev().max_by_key(|(_, f)| (f.severity, f.count)).map_or(*finding, |l| l.1);
        let more = match same.len() - 1 {
            0 => String::new(),
            n => format!(" ({n} more like it.)"),
        };
        let remedy = match code(finding) {
            Some(cause) => judgement.text.remedy_for(cause),
            None => judgement.text.remedy.to_owned(),
        };
        incidents.push(Incident {
            code: code(finding).map_or(judgement.text.id, CauseCode::name),
            strength: None,
            severity: largest.severity,
            sentence: format!("{}{more}", largest.message),
            to_do: first_sentence(&remedy).to_owned(),
            findings: same.iter().map(|s| s.0).collect(),
            rivals: Vec::new(),
        });
    }
    incidents
}

/// A check that is needed and could not answer, or what a plan keeps out of the call.
fn unanswered_one(judgements: &[Judgement], reason: &Reason) -> Incident {
    let needed = judgements.iter().find(|j| j.text.id == reason.check).map(|j| j.text.traits.needed);
    let to_do = match needed {
        Some(Needed::Yes { to_answer, .. }) if !to_answer.is_empty() => to_answer.trim(),
        _ => "Look at what is named before you strike.",
    };
    Incident {
        code: reason.check,
        strength: None,
        severity: reason.severity,
        sentence: reason.words.clone(),
        to_do: to_do.to_owned(),
        findings: Vec::new(),
        rivals: Vec::new(),
    }
}

fn first_sentence(text: &str) -> &str {
    text.find(". ").map_or(text, |end| &text[..=end])
}

/// All findings, by check and place.
struct Findings<'a>(&'a [Judgement]);

impl Findings<'_> {
    fn get(&self, which: &Which) -> Option<&Finding> {
        self.0.iter().find(|j| j.text.id == which.check)?.findings().get(which.nth)
    }

    /// The weightiest of those.
    fn weight(&self, of: &[Which]) -> Severity {
        of.iter().filter_map(|w| self.get(w)).map(|f| f.severity).max().unwrap_or(Severity::Note)
    }

    /// A plan that may be wrong comes first, then what weighs most, then what happened first.
    fn rank(&self, incident: &Incident) -> (bool, std::cmp::Reverse<Severity>, usize) {
        let doubted = incident.code == PLAN_DOUBTED.name();
        let first = incident.findings.iter().filter_map(|w| self.begins(w)).min();
        (!doubted, std::cmp::Reverse(incident.severity), first.unwrap_or(usize::MAX))
    }

    /// The frame at which it happened: a run that is too short was so at its end.
    fn begins(&self, which: &Which) -> Option<usize> {
        let judgement = self.0.iter().find(|j| j.text.id == which.check)?;
        let finding = judgement.findings().get(which.nth)?;
        if judgement.text.traits.follows() { finding.last } else { finding.first }
    }
}
