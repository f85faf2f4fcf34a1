//! What to do about the findings of a check: its remedy, less the branches that their causes rule out.

use crate::finding::{Judgement, Severity};

/// Branches of a remedy: how the sentence of one begins, and the code of the cause that it is for.
const BRANCHES: [(&str, &str); 2] = [("File lost: ", "file-lost"), ("Trigger missed: ", "trigger-missed")];

/// The remedy of a check for what it found. Where all that weighs has one cause, the branch of that cause alone is told.
pub fn remedy(judgement: &Judgement) -> String {
    let weighing =
        judgement.findings().iter().filter(|f| f.severity > Severity::Note && f.accepted.is_none());
    let mut codes: Vec<&str> = weighing.map(|f| f.cause.as_ref().map_or("", |c| c.code)).collect();
    codes.dedup();
    let text = judgement.text.remedy;
    let [code] = codes.as_slice() else { return text.to_owned() };
    if !BRANCHES.iter().any(|(_, known)| known == code) {
        return text.to_owned();
    }
    let mut kept = Vec::new();
    for sentence in text.split_inclusive(". ") {
        match BRANCHES.iter().find(|(begins, _)| sentence.starts_with(begins)) {
            None => kept.push(sentence.to_owned()),
            Some((begins, known)) if known == code => {
                let mut letters = sentence[begins.len()..].chars();
                let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
                kept.push(first + letters.as_str());
            }
            Some(_) => {}
        }
    }
    kept.concat().trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Answer, Finding, InForce, Text, Tolerated, Traits};

    const TEXT: Text = Text {
        id: "missing-slot",
        asks: "",
        why: "",
        how: "",
        blind: "",
        remedy: "File lost: look for it. Trigger missed: check the cable. Patch it.",
        source: "",
        traits: Traits::PLAIN,
    };

    #[test]
    fn the_branch_of_the_named_cause_alone_is_told() {
        let told = |codes: &[&'static str]| {
            let of =
                |code: &&'static str| Finding::new(TEXT.id, Severity::Fault, "Missing.").because(code, "");
            remedy(&Judgement {
                text: &TEXT,
                limits: InForce::new(&[], None),
                answer: Answer::Found(codes.iter().map(of).collect()),
                looked_at: 0,
                set_aside: Vec::new(),
                tolerated: Tolerated::default(),
            })
        };
        assert_eq!(told(&["file-lost", "file-lost"]), "Look for it. Patch it.");
        assert_eq!(told(&["trigger-missed"]), "Check the cable. Patch it.");
        assert_eq!(told(&["file-lost", "trigger-missed"]), TEXT.remedy);
        assert_eq!(told(&["unknown"]), TEXT.remedy);
    }
}
