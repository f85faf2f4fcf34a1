//! From the judgements to the call.

use super::incidents::Unanswered;
use super::{Call, Reason, Verdict, causes, incidents, remedy, timeline, usable};
use crate::checks::files::damaged_frame;
use crate::evidence::Sequence;
use crate::finding::{Answer, Finding, Judgement, Needed, PLAN_DOUBTED, Severity, Tolerated};
use crate::plan::{Plan, Widened};
use crate::schedule::Schedule;
use crate::units::counted;

const LOOK_AT_IT: &str = "Look at what is named before you strike.";

/// Reaches the verdict. Accepted findings are told and do not weigh.
pub fn reach(plan: &Plan, evidence: &Sequence, schedule: &Schedule, judgements: &[Judgement]) -> Verdict {
    let stamped = evidence.in_run().any(|at| evidence.frame(at).stamp().is_some());
    let mut reasons = Vec::new();
    // Reasons that are no findings.
    let mut unanswered = Vec::new();
    for judgement in judgements {
        match &judgement.answer {
            Answer::Found(findings) => {
                // Of findings that weigh the same, the largest speaks first.
                let mut weighing: Vec<&Finding> = findings.iter().filter(|f| f.weighs()).collect();
                weighing.sort_by_key(|f| std::cmp::Reverse(f.count));
                reasons.extend(weighing.into_iter().map(|f| Reason {
                    check: f.check,
                    severity: f.severity,
                    words: f.message.clone(),
                }));
            }
            Answer::CannotJudge(why) | Answer::Broke(why)
                if judgement.text.traits.needed != Needed::No
                    || matches!(judgement.answer, Answer::Broke(_)) =>
            {
                let reason = Reason {
                    check: judgement.text.id,
                    severity: Severity::Caution,
                    words: format!("{} could not be judged: {why}.", judgement.text.id),
                };
                reasons.push(reason.clone());
                let way = way_to_an_answer(judgement, stamped).trim();
                let to_do = if way.is_empty() { LOOK_AT_IT } else { way };
                unanswered.push(Unanswered { reason, to_do: to_do.to_owned() });
            }
            _ => {}
        }
    }
    let answered = unanswered.len();
    for judgement in judgements {
        let to_do = || with_capital(&way_to_be_clear(judgement));
        let silenced = silenced_unseen(plan, judgement).into_iter();
        unanswered.extend(silenced.map(|reason| Unanswered { reason, to_do: to_do() }));
    }
    let trouble = &evidence.frames.trouble;
    if let Some(first) = trouble.first() {
        let reason = Reason {
            check: damaged_frame::CHECK.text.id,
            severity: Severity::Caution,
            words: format!(
                "{} could not be read, so the audit is not complete: {}.",
                counted(trouble.len() as u64, "place"),
                first.what
            ),
        };
        let to_do = "Put the card back, or allow the files to be read, and run the audit again.".to_owned();
        unanswered.push(Unanswered { reason, to_do });
    }
    reasons.extend(unanswered[answered..].iter().map(|u| u.reason.clone()));
    reasons.sort_by_key(|r| std::cmp::Reverse(r.severity));
    let call = match reasons.first().map(|r| r.severity) {
        Some(Severity::Fault) => Call::Hold,
        Some(_) => Call::Look,
        None => Call::Clear,
    };
    // A plan that may be wrong is said first, whatever it weighs: all that follows is measured by it.
    let doubts = |f: &Finding| f.cause.as_ref().is_some_and(|c| c.code == PLAN_DOUBTED);
    let doubted = judgements.iter().flat_map(Judgement::findings).find(|f| doubts(f));
    if let Some(at) = doubted.and_then(|f| reasons.iter().position(|r| r.words == f.message)) {
        reasons[..=at].rotate_right(1);
    }
    let explanations = causes::likely(plan, evidence, schedule, judgements);
    Verdict {
        call,
        would_change: would_change(call, &reasons, judgements, stamped),
        incidents: incidents::told(judgements, &explanations, unanswered),
        causes: explanations.into_iter().map(|e| e.cause).collect(),
        usable: usable::longest(evidence, schedule, judgements),
        timeline: timeline::told(evidence, judgements),
        reasons,
    }
}

/// What the plan accepts without naming a place or a count may be more than anybody saw, and so may what a
/// plan that nobody named tolerates or leaves out.
fn silenced_unseen(plan: &Plan, judgement: &Judgement) -> Vec<Reason> {
    let check = judgement.text.id;
    let caution = |words: String| Reason { check, severity: Severity::Caution, words };
    let unbounded = accepted(judgement.findings().iter().filter(|f| f.unbounded));
    let accepted = unbounded.words("accepted").map(|words| {
        let by = by(plan);
        caution(format!("{check}: {words} by {by} without a place or a count, whatever they are."))
    });
    let unnamed = |words: String| {
        let by = by(plan);
        caution(format!("{check}: {words} by {by}, which lay with the frames and was not named."))
    };
    let tolerated = Weights::of(judgement.tolerated).words("tolerated").map(unnamed);
    let left_out = left_out(judgement.tolerated.left_out).map(unnamed);
    accepted.into_iter().chain(tolerated).chain(left_out).collect()
}

/// Faults and cautions.
#[derive(Clone, Copy, Default)]
struct Weights {
    faults: usize,
    cautions: usize,
}

impl Weights {
    fn of(tolerated: Tolerated) -> Self {
        Self { faults: tolerated.faults, cautions: tolerated.cautions }
    }

    fn and(self, other: Self) -> Self {
        Self { faults: self.faults + other.faults, cautions: self.cautions + other.cautions }
    }

    /// "2 faults and 1 caution accepted"; `None` where there are none.
    fn words(self, what: &str) -> Option<String> {
        let many = |n: usize, what: &str| (n > 0).then(|| counted(n as u64, what));
        let both = [many(self.faults, "fault"), many(self.cautions, "caution")];
        let both: Vec<String> = both.into_iter().flatten().collect();
        (!both.is_empty()).then(|| format!("{} {what}", both.join(" and ")))
    }
}

/// "31 frames left out"; `None` where there are none.
fn left_out(frames: usize) -> Option<String> {
    (frames > 0).then(|| format!("{} left out", counted(frames as u64, "frame")))
}

/// What would weigh, had the plan not accepted it.
fn accepted<'a>(findings: impl Iterator<Item = &'a Finding>) -> Weights {
    let mut all = Weights::default();
    for finding in findings.filter(|f| f.is_silenced()) {
        *(if finding.severity == Severity::Fault { &mut all.faults } else { &mut all.cautions }) += 1;
    }
    all
}

fn by(plan: &Plan) -> &str {
    plan.file.as_deref().unwrap_or("the plan")
}

/// What the plan keeps out of the call ("2 faults accepted by plan.toml", "1 fault tolerated, 31 frames left
/// out by plan.toml"); `None` where that is nothing.
pub fn kept_out<'a>(plan: &Plan, judgements: impl IntoIterator<Item = &'a Judgement>) -> Option<String> {
    let (mut agreed, mut tolerated, mut beyond) = (Weights::default(), Weights::default(), 0);
    for judgement in judgements {
        agreed = agreed.and(accepted(judgement.findings().iter()));
        tolerated = tolerated.and(Weights::of(judgement.tolerated));
        beyond += judgement.tolerated.left_out;
    }
    let all = [agreed.words("accepted"), tolerated.words("tolerated"), left_out(beyond)];
    let all: Vec<String> = all.into_iter().flatten().collect();
    (!all.is_empty()).then(|| format!("{} by {}", all.join(", "), by(plan)))
}

/// For each check that holds the call where it is: what to do about it. One sentence a check, in the order of
/// the reasons.
fn would_change(call: Call, reasons: &[Reason], judgements: &[Judgement], stamped: bool) -> Vec<String> {
    let holds = match call {
        Call::Clear => return Vec::new(),
        Call::Look => Severity::Caution,
        Call::Hold => Severity::Fault,
    };
    let mut told: Vec<&str> = Vec::new();
    let mut out = Vec::new();
    for reason in reasons.iter().filter(|r| r.severity == holds) {
        if told.contains(&reason.check) {
            continue;
        }
        told.push(reason.check);
        if let Some(judgement) = judgements.iter().find(|j| j.text.id == reason.check) {
            out.push(match &judgement.answer {
                Answer::CannotJudge(why) if judgement.tolerated.left_out == 0 => {
                    let way = way_to_an_answer(judgement, stamped);
                    format!("{}: an answer. It could not judge, because {why}.{way}", reason.check)
                }
                _ if !judgement.findings().iter().any(Finding::weighs)
                    && !matches!(judgement.answer, Answer::Broke(_)) =>
                {
                    format!("{}: {}", reason.check, way_to_be_clear(judgement))
                }
                _ => format!("{}: {}", reason.check, remedy(judgement)),
            });
        }
    }
    out
}

/// What would let a check answer, after a blank; empty where nothing would.
fn way_to_an_answer(judgement: &Judgement, stamped: bool) -> &'static str {
    match judgement.text.traits.needed {
        Needed::Yes { to_answer, of_stamped } if stamped || !of_stamped => to_answer,
        _ => "",
    }
}

fn with_capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| format!("{}{}", c.to_uppercase(), letters.as_str()))
}

/// What to do where a plan alone keeps findings of a check out of the call.
fn way_to_be_clear(judgement: &Judgement) -> String {
    let check = judgement.text.id;
    if judgement.findings().iter().any(Finding::is_silenced) {
        return String::from(
            "look at what was accepted, and say in each [[accepted]] of the plan where it stands (at, file), \
             or how many were agreed to (count).",
        );
    }
    let tolerated = judgement.tolerated;
    let mut keys: Vec<String> = Widened::ALL
        .into_iter()
        .zip(tolerated.by)
        .filter(|(_, by)| *by)
        .map(|(kind, _)| match kind {
            Widened::Tolerance => format!("[tolerance.{check}]"),
            Widened::MaxStep => "max_step".to_owned(),
            Widened::PatchUpTo => "patch_up_to".to_owned(),
        })
        .collect();
    let what = if tolerated.is_widened() { "limits" } else { "ends" };
    if tolerated.left_out > 0 {
        keys.push("first and last".to_owned());
    }
    format!(
        "look at {} in the plan. If these {what} are yours, name the plan with --plan. If not, take them \
         out.",
        keys.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{Frames, gather};
    use crate::finding::{InForce, Text, Traits};

    /// A check that broke saw nothing, whatever it is about.
    #[test]
    fn a_broken_check_is_no_clear_call() {
        const TEXT: Text = Text {
            id: "soft-frame",
            finds: "soft frames",
            asks: "",
            why: "",
            how: "",
            blind: "",
            remedy: "",
            source: "",
            traits: Traits::PLAIN,
        };
        let judged = |answer: Answer| Judgement {
            text: &TEXT,
            limits: InForce::new(&[], None),
            answer,
            looked_at: 0,
            set_aside: Vec::new(),
            tolerated: Tolerated::default(),
        };
        let plan = Plan::default();
        let evidence = gather(&plan, Frames::default());
        let call =
            |answer: Answer| reach(&plan, &evidence, &Schedule::of(&plan, &evidence), &[judged(answer)]).call;
        assert_eq!(call(Answer::CannotJudge("the pictures were not read".into())), Call::Clear);
        assert_eq!(call(Answer::Broke("index out of bounds".into())), Call::Look);
    }
}
