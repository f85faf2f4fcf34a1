//! What to do about the findings of a check: its remedy, less what their causes rule out.

use crate::finding::Judgement;

/// The remedy of a check for what it found. Where all that weighs has one cause, what that one asks for is
/// told.
pub fn remedy(judgement: &Judgement) -> String {
    let weighing = judgement.findings().iter().filter(|f| f.weighs());
    let mut causes: Vec<_> = weighing.map(|f| f.cause.as_ref().map(|c| c.code)).collect();
    causes.dedup();
    match causes.as_slice() {
        [Some(cause)] => judgement.text.remedy_for(*cause),
        _ => judgement.text.remedies(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Answer, ByCause, CauseCode, Finding, InForce, Severity, Text, Tolerated, Traits};

    const LOST: CauseCode = CauseCode::new("file-lost");
    const MISSED: CauseCode = CauseCode::new("trigger-missed");
    const TEXT: Text = Text {
        id: "missing-slot",
        finds: "missing frames",
        asks: "",
        why: "",
        how: "",
        blind: "",
        remedy: "Patch it.",
        source: "",
        traits: Traits {
            by_cause: &[
                ByCause { cause: LOST, name: "File lost", remedy: "look for it." },
                ByCause { cause: MISSED, name: "Trigger missed", remedy: "check the cable." },
            ],
            ..Traits::PLAIN
        },
    };

    #[test]
    fn the_branch_of_the_named_cause_alone_is_told() {
        let told = |causes: &[CauseCode]| {
            let of =
                |cause: &CauseCode| Finding::new(TEXT.id, Severity::Fault, "Missing.").because(*cause, "");
            remedy(&Judgement {
                text: &TEXT,
                limits: InForce::new(&[], None),
                answer: Answer::Found(causes.iter().map(of).collect()),
                looked_at: 0,
                set_aside: Vec::new(),
                tolerated: Tolerated::default(),
            })
        };
        let all = "File lost: look for it. Trigger missed: check the cable. Patch it.";
        assert_eq!(told(&[LOST, LOST]), "Look for it. Patch it.");
        assert_eq!(told(&[MISSED]), "Check the cable. Patch it.");
        assert_eq!(told(&[LOST, MISSED]), all);
        assert_eq!(told(&[CauseCode::new("unknown")]), all);
    }
}
