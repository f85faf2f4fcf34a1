//! The acceptance table: each requirement of the plan, what was shot, and whether it is met.

use super::asked::Asked;
use crate::audit::Audit;
use crate::finding::{Answer, Judgement, Quality, Severity};

/// Whether a requirement is met.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Met {
    /// Every check of it is clear, or told notes alone.
    Yes,
    /// Cautions stand: look at them.
    Remarks,
    /// Faults or cautions stand that were agreed to, and no other.
    Agreed,
    /// A fault stands.
    No,
    /// A check of it could not judge, and why.
    NotJudged(String),
}

impl Met {
    /// In a word or two.
    pub(crate) fn word(&self) -> &'static str {
        match self {
            Self::Yes => "met",
            Self::Remarks => "met, with remarks",
            Self::Agreed => "agreed exception",
            Self::No => "not met",
            Self::NotJudged(_) => "not judged",
        }
    }
}

/// One requirement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Requirement {
    /// What is asked.
    pub what: &'static str,
    /// As the plan asks for it.
    pub asked: String,
    /// As it was shot.
    pub shot: String,
    /// Whether it is met.
    pub met: Met,
    /// The checks that speak of it, as far as they found something that weighs.
    pub by: Vec<&'static str>,
}

/// What stands in a line of what was asked beside what was shot, and the quality that it is.
const ASKED: [(&str, Quality); 5] = [
    ("interval", Quality::Interval),
    ("frames", Quality::Frames),
    ("run", Quality::Run),
    ("exposure", Quality::Exposure),
    ("clip", Quality::Clip),
];

/// Requirements that stand in no such line: the name, what is asked, the quality.
const PICTURES: [(&str, &str, Quality); 4] = [
    ("brightness", "even from frame to frame", Quality::Brightness),
    ("view", "every picture shows the scene", Quality::View),
    ("sharpness", "held through the run", Quality::Sharpness),
    ("movement", "even, without a stop", Quality::Movement),
];

/// The table: a row for each requirement that the plan names, and for each quality of the pictures that was
/// judged.
pub(crate) fn table(audit: &Audit, asked: &[Asked]) -> Vec<Requirement> {
    let mut rows = Vec::new();
    for told in asked {
        let quality = ASKED.iter().find(|c| c.0 == told.label).map(|c| c.1);
        if let Some(quality) = quality.filter(|_| told.asked != "-") {
            rows.extend(requirement(audit, told.label, told.asked.clone(), told.shot.clone(), quality));
        }
    }
    for (what, asked, quality) in PICTURES {
        let judged = judgements(audit, quality).any(|j| matches!(j.answer, Answer::Clear | Answer::Found(_)));
        if judged {
            rows.extend(requirement(audit, what, asked.into(), String::new(), quality));
        }
    }
    rows
}

fn judgements(audit: &Audit, quality: Quality) -> impl Iterator<Item = &Judgement> {
    audit.judgements.iter().filter(move |j| j.text.traits.quality == Some(quality))
}

fn requirement(
    audit: &Audit,
    what: &'static str,
    asked: String,
    shot: String,
    quality: Quality,
) -> Option<Requirement> {
    let judgements: Vec<_> = judgements(audit, quality).collect();
    if judgements.is_empty() {
        return None;
    }
    let findings = || judgements.iter().flat_map(|j| j.findings()).filter(|f| f.severity > Severity::Note);
    let open = || findings().filter(|f| f.accepted.is_none());
    let blind = judgements.iter().find_map(|j| match &j.answer {
        Answer::CannotJudge(why) => Some(why.clone()),
        Answer::Broke(_) => Some(format!("the check {} itself failed", j.text.id)),
        _ => None,
    });
    let met = match open().map(|f| f.severity).max() {
        Some(Severity::Fault) => Met::No,
        worst => match blind {
            Some(why) => Met::NotJudged(why),
            None if worst.is_some() => Met::Remarks,
            None if findings().next().is_some() => Met::Agreed,
            None => Met::Yes,
        },
    };
    let mut by: Vec<_> = findings().map(|f| f.check).collect();
    by.dedup();
    // What was found says more of the pictures than a figure of the folder could.
    let found = || match open().next() {
        Some(finding) => finding.message.clone(),
        None => "as ordered".into(),
    };
    let shot = if shot.is_empty() { found() } else { shot };
    Some(Requirement { what, asked, shot, met, by })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::report::Report;
    use crate::outputs::sample;

    fn told(audit: &Audit) -> Vec<Requirement> {
        Report::of(audit).requirements
    }

    fn met(audit: &Audit, what: &str) -> Met {
        told(audit).into_iter().find(|r| r.what == what).expect(what).met
    }

    #[test]
    fn a_fault_is_not_met_and_an_accepted_one_is_agreed() {
        let mut audit = sample::audit();
        assert_eq!(met(&audit, "frames"), Met::No);
        let change = |audit: &mut Audit, f: fn(&mut crate::finding::Finding)| {
            if let Answer::Found(all) = &mut audit.judgements[0].answer {
                all.iter_mut().for_each(f);
            }
        };
        change(&mut audit, |f| f.accepted = Some("agreed".into()));
        assert_eq!(met(&audit, "frames"), Met::Agreed);
        change(&mut audit, |f| (f.accepted, f.severity) = (None, Severity::Caution));
        assert_eq!(met(&audit, "frames"), Met::Remarks);
        change(&mut audit, |f| f.severity = Severity::Note);
        assert_eq!(met(&audit, "frames"), Met::Yes);
        audit.judgements[0].answer = Answer::CannotJudge("no stamps".into());
        assert_eq!(met(&audit, "frames"), Met::NotJudged("no stamps".into()));
    }

    #[test]
    fn only_what_is_asked_is_a_requirement() {
        let mut audit = sample::audit();
        assert!(!told(&audit).is_empty());
        audit.plan = crate::plan::Plan::default();
        assert!(told(&audit).iter().all(|r| r.asked != "-"));
        assert!(told(&audit).iter().all(|r| r.what != "frames"));
    }

    #[test]
    fn a_requirement_names_the_checks_that_found_something() {
        let audit = sample::audit();
        let frames = told(&audit).into_iter().find(|r| r.what == "frames").expect("asked");
        assert_eq!(frames.by, ["missing-slot"]);
    }
}
