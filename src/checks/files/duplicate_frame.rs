//! Files that repeat another file.

use crate::checks::common::{PRACTICE, count, drawn_together, note_or_more, opinion, order_in_doubt};
use crate::checks::{Case, Check};
use crate::evidence::Sequence;
use crate::finding::{Direction, Finding, Limit, LimitKey, Opinion, Text, Traits};
use crate::units::{Figure, FrameSpan, counted};

const TEXT: Text = Text {
    id: "duplicate-frame",
    finds: "copies of frames",
    asks: "Is every file a picture of its own?",
    why: "A copy among the frames stands still for a moment in the clip. It can also hide that another frame \
          is missing.",
    how: "A file is a copy where its length, its first bytes and its last bytes are those of another file. \
          The original is the one that lies with more of the frames, else the earlier one. Copies do not \
          count as frames of the run.",
    blind: "Copies that another program saved anew, and pictures that merely look alike.",
    remedy: "Leave the copy out. If copies stand where frames are missing, look at how the files were moved \
             from the card.",
    source: "A comparison of bytes. Levels: common practice, no source.",
    traits: Traits::PLAIN,
};

const FRAMES: LimitKey = LimitKey::new("frames");

const LIMITS: &[Limit] = &[Limit {
    key: FRAMES,
    unit: "copies",
    direction: Direction::AtLeast,
    caution: None,
    fault: None,
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let all = evidence.copies.len() as u64;
    let severity = note_or_more(case.limits.weigh(FRAMES, all as f64), order_in_doubt(evidence));
    let findings = runs(&evidence.copies).map(|copies| {
        let (Some(&(first, of_first)), Some(&(last, of_last))) = (copies.first(), copies.last()) else {
            return Finding::new(TEXT.id, severity, "No file is a copy.");
        };
        let message = if copies.len() == 1 {
            format!(
                "{} is a copy of {}: the same length and the same bytes.",
                evidence.frame(first).name(),
                evidence.frame(of_first).name()
            )
        } else {
            format!(
                "{} to {} are copies of {} to {}: {} with the same lengths and the same bytes.",
                evidence.frame(first).name(),
                evidence.frame(last).name(),
                evidence.frame(of_first).name(),
                evidence.frame(of_last).name(),
                counted(copies.len() as u64, "file"),
            )
        };
        Finding::new(TEXT.id, severity, message)
            .count(copies.len() as u64)
            .on(FrameSpan { first, last })
            .at(evidence.frame(first).moment())
            .figure("copy_of", Figure::Text(evidence.frame(of_first).name()))
            .figure("copies_in_all", count(all))
    });
    let findings = drawn_together(findings, |many| {
        format!(
            "{} are copies of others, in {many} places: the same lengths and the same bytes.",
            counted(all, "file")
        )
    });
    opinion(findings, evidence, |at| unread(evidence, at).then_some("could not be read"))
}

/// True where nothing was read that could be compared.
fn unread(evidence: &Sequence, at: usize) -> bool {
    use crate::evidence::Damage;
    matches!(evidence.frame(at).row().damage, Damage::NotRead(_) | Damage::NotTried)
}

/// Copies that follow one another and repeat frames that follow one another.
fn runs(copies: &[(usize, usize)]) -> impl Iterator<Item = &[(usize, usize)]> {
    copies.chunk_by(|a, b| a.0 + 1 == b.0 && (a.1 + 1 == b.1 || a.1 == b.1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, every, found, judged, severities, tolerating};
    use crate::evidence::{Damage, FrameState};
    use crate::finding::Severity::{Caution, Fault, Note};

    fn with_copies(copies: &[(usize, usize)]) -> Sequence {
        let mut sketch = Sketch::steady(30, 10.0);
        for (copy, _) in copies {
            sketch = sketch.state(*copy..copy + 1, FrameState::Surplus);
        }
        let mut evidence = sketch.evidence();
        evidence.copies = copies.to_vec();
        evidence
    }

    #[test]
    fn fires_and_stays_quiet() {
        assert!(found(&CHECK, &every(10.0), &with_copies(&[])).is_empty());
        let findings = found(&CHECK, &every(10.0), &with_copies(&[(7, 6)]));
        assert_eq!(
            findings[0].message,
            "TIDE0008.JPG is a copy of TIDE0007.JPG: the same length and the same bytes."
        );
        assert_eq!(findings[0].severity, Note);
    }

    #[test]
    fn neighbours_are_one_finding() {
        let findings = found(&CHECK, &every(10.0), &with_copies(&[(20, 0), (21, 1), (22, 2), (25, 7)]));
        assert_eq!(findings.iter().map(|f| f.count).collect::<Vec<_>>(), [3, 1]);
    }

    #[test]
    fn doubtful_order_makes_it_a_caution() {
        let mut evidence = with_copies(&[(7, 6)]);
        evidence.timing.backwards = vec![(3, 4)];
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Caution]);
    }

    #[test]
    fn below_at_and_above_a_level() {
        for (copies, severity) in
            [(vec![(7, 6)], Note), (vec![(7, 6), (8, 6)], Fault), (vec![(7, 6), (8, 6), (9, 6)], Fault)]
        {
            let plan = tolerating(every(10.0), TEXT.id, "fault", 2.0);
            assert_eq!(severities(&CHECK, &plan, &with_copies(&copies)), [severity]);
        }
    }

    #[test]
    fn files_that_were_not_read_are_set_aside() {
        let evidence = Sketch::steady(9, 10.0)
            .change(2..3, |row| row.damage = Damage::NotRead("permission denied".into()))
            .evidence();
        assert_eq!(judged(&CHECK, &every(10.0), &evidence).looked_at, 8);
    }
}
