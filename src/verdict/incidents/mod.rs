//! What happened, one incident at a time: findings that one cause accounts for, with what follows from them,
//! in one sentence and what to do now.

mod loose;

use super::Reason;
use super::causes::{Explanation, LikelyCause, Strength, Which};
use crate::finding::{CauseCode, ClipEffect, Finding, Judgement, PLAN_DOUBTED, Severity};
use loose::{Loose, gathered};
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// One accident, and all that was found of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Incident {
    /// Code of its cause; the id of the check where no rule knows the cause.
    pub code: &'static str,
    /// The cause that a rule knows; `None` where none does.
    pub cause: Option<LikelyCause>,
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
    pub rivals: Vec<LikelyCause>,
}

impl Incident {
    /// How sure the cause is; `None` where none is known.
    pub fn strength(&self) -> Option<Strength> {
        self.cause.as_ref().map(|c| c.strength)
    }
}

/// A reason for the call that is no finding, and what to do about it.
pub(super) struct Unanswered {
    pub reason: Reason,
    pub to_do: String,
}

/// The incidents, the worst first. Every finding that weighs belongs to one. `unanswered` are the reasons for
/// the call that are no findings.
pub(crate) fn told(
    judgements: &[Judgement],
    explanations: &[Explanation],
    unanswered: Vec<Unanswered>,
) -> Vec<Incident> {
    let all = Findings(judgements);
    let mut incidents: Vec<Incident> = Vec::new();
    let mut claimed: BTreeMap<Which, usize> = BTreeMap::new();
    for explanation in explanations {
        let own: Vec<Which> = explanation.of.iter().copied().filter(|w| !claimed.contains_key(w)).collect();
        let rival = explanation.of.first().and_then(|w| claimed.get(w)).copied();
        claimed.extend(own.iter().map(|w| (*w, incidents.len())));
        match rival {
            Some(at) if own.is_empty() => incidents[at].rivals.push(explanation.cause.clone()),
            _ if own.is_empty() => {}
            _ => incidents.push(Incident {
                code: explanation.cause.code.name(),
                cause: Some(explanation.cause.clone()),
                severity: all.weight(&own),
                sentence: explanation.sentence.clone(),
                to_do: explanation.to_do.clone(),
                findings: own,
                rivals: Vec::new(),
            }),
        }
    }
    let (mut follow, mut loose) = (Vec::new(), Vec::new());
    for judgement in judgements {
        let rest = judgement.findings().iter().enumerate().filter(|(_, f)| f.weighs());
        let rest = rest.map(|(nth, finding)| {
            let which = Which { check: judgement.text.id, nth };
            Loose { which, judgement, finding }
        });
        let to = if judgement.text.traits.follows() { &mut follow } else { &mut loose };
        to.extend(rest.filter(|l| !claimed.contains_key(&l.which)));
    }
    incidents.extend(gathered(&loose).iter().filter_map(|of| unruled(of)));
    incidents.sort_by_key(|i| all.rank(i));
    // A clip or a run that is too short follows from the worst that happened.
    if let Some(worst) = incidents.first_mut() {
        let follow: Vec<Which> = follow.iter().map(|l| l.which).collect();
        worst.severity = worst.severity.max(all.weight(&follow));
        worst.findings.extend(follow);
    } else {
        incidents.extend(follow.iter().filter_map(|l| unruled(&[*l])));
    }
    incidents.extend(unanswered.into_iter().map(unanswered_one));
    incidents.sort_by_key(|i| all.rank(i));
    incidents
}

/// An accident that no rule accounts for.
fn unruled(of: &[Loose<'_>]) -> Option<Incident> {
    let named = of.first()?;
    let alike = || of.iter().filter(|l| l.name() == named.name());
    // Of findings that weigh the same, the largest speaks for all.
    let largest = alike().rev().max_by_key(|l| (l.finding.severity, l.finding.count))?.finding;
    let more = match alike().count() - 1 {
        0 => String::new(),
        n => format!(" ({n} more like it.)"),
    };
    let (text, (check, cause)) = (named.judgement.text, named.name());
    let remedy = cause.map_or_else(|| text.remedy.to_owned(), |cause| text.remedy_for(cause));
    Some(Incident {
        code: cause.map_or(check, CauseCode::name),
        cause: None,
        severity: of.iter().map(|l| l.finding.severity).max()?,
        sentence: format!("{}{more}", headline(&largest.message)),
        to_do: match largest.doubt.is_some() && largest.first.map(|at| at + 1) == largest.last {
            true => "Look at the frames on both sides of it: they tell which of the two it was.",
            false => first_sentence(&remedy),
        }
        .to_owned(),
        findings: of.iter().map(|l| l.which).collect(),
        rivals: Vec::new(),
    })
}

/// A check that is needed and could not answer, or what a plan keeps out of the call.
fn unanswered_one(of: Unanswered) -> Incident {
    let Unanswered { reason, to_do } = of;
    Incident {
        code: reason.check,
        cause: None,
        severity: reason.severity,
        sentence: reason.words,
        to_do,
        findings: Vec::new(),
        rivals: Vec::new(),
    }
}

/// Words of a sentence that can be said aloud.
const SAID_ALOUD: usize = 25;
/// Words that a headline has at least: fewer tell too little.
const HEADLINE: usize = 5;

/// A finding's sentence up to its figures, where it is too long to be said aloud. All of it stands below the
/// incident.
fn headline(message: &str) -> String {
    let words = |text: &str| text.split_whitespace().count();
    if words(message) <= SAID_ALOUD {
        return message.to_owned();
    }
    let mut depth = 0_i32;
    let mut letters = message.char_indices().peekable();
    while let Some((at, letter)) = letters.next() {
        depth += i32::from(letter == '(') - i32::from(letter == ')');
        let ends = matches!(letter, ':' | ';' | '.') && letters.peek().is_some_and(|(_, next)| *next == ' ');
        if ends && depth == 0 && words(&message[..at]) >= HEADLINE {
            return format!("{}.", &message[..at]);
        }
    }
    message.to_owned()
}

fn first_sentence(text: &str) -> &str {
    text.find(". ").map_or(text, |end| &text[..=end])
}

/// How much an incident weighs, whether it cuts the clip, whether its cause is known, and how far it reaches.
type Weight = (Severity, bool, bool, u64);

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

    /// A plan that may be wrong comes first, then what weighs most. Of that what cuts the clip goes first:
    /// frames of another pace can be shown. A cause that is known speaks before one that is guessed, and much
    /// before little; last goes what happened first.
    fn rank(&self, incident: &Incident) -> (bool, Reverse<Weight>, usize) {
        let doubted = incident.code == PLAN_DOUBTED.name();
        let known = incident.strength() >= Some(Strength::Likely);
        let first = incident.findings.iter().filter_map(|w| self.begins(w)).min();
        let cuts = incident.findings.iter().any(|w| !self.follows(w) && !self.of_pace(w));
        let much = Reverse((incident.severity, cuts, known, self.extent(incident)));
        (!doubted, much, first.unwrap_or(usize::MAX))
    }

    /// Whether it is of the pace of the whole run.
    fn of_pace(&self, which: &Which) -> bool {
        let judgement = self.0.iter().find(|j| j.text.id == which.check);
        judgement.is_some_and(|j| j.text.traits.in_the_clip == ClipEffect::Rates)
    }

    /// How many frames or slots it speaks of; what merely follows counts only where there is nothing else.
    fn extent(&self, incident: &Incident) -> u64 {
        let counts = |of_following: bool| -> u64 {
            let all = incident.findings.iter().filter(|w| self.follows(w) == of_following);
            let most = |f: &Finding| f.doubt.as_ref().map_or(f.count, |d| d.count_high.max(f.count));
            all.filter_map(|w| self.get(w)).map(most).fold(0, u64::saturating_add)
        };
        Some(counts(false)).filter(|n| *n > 0).unwrap_or_else(|| counts(true))
    }

    fn follows(&self, which: &Which) -> bool {
        self.0.iter().any(|j| j.text.id == which.check && j.text.traits.follows())
    }

    /// The frame at which it happened: a run that is too short was so at its end.
    fn begins(&self, which: &Which) -> Option<usize> {
        let finding = self.get(which)?;
        if self.follows(which) { finding.last } else { finding.first }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_headline_is_short_enough_to_be_said() {
        let told = "4 frames, A.JPG to B.JPG (19:23:40 to 19:24:40), are exposed while the carriage moves";
        let long = format!("{told}: exposure of 16 s and move of 5 s end 21 s after the slot begins.");
        assert_eq!(headline(&long), format!("{told}."));
        assert_eq!(headline("Short: it stays."), "Short: it stays.");
        let no_place = "word ".repeat(30);
        assert_eq!(headline(&no_place), no_place);
        let (early, in_brackets) = (format!("One: {no_place}"), format!("a b c d e (f: g) {no_place}"));
        assert_eq!(headline(&early), early);
        assert_eq!(headline(&in_brackets), in_brackets);
    }
}
