//! File numbers that skip although no slot is empty.

use crate::checks::common::{
    PRACTICE, clock_of, count, drawn_together, note_or_more, opinion, order_in_doubt,
};
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::timing::numbers::between;
use crate::finding::{Direction, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits};
use crate::units::{Figure, counted};

const TEXT: Text = Text {
    id: "number-gap",
    finds: "a gap in the file numbers",
    asks: "Are the file numbers continuous?",
    why: "A number that is not there was once a picture. Where every slot has its frame, it was a test shot, \
          or a frame deleted in the camera. Where the order of the frames is in doubt, it may be a frame of \
          the run.",
    how: "From each frame to the next the number is compared with the camera's usual step. That is 1, or 2 \
          and 3 for a camera that writes pairs and triplets. 9999 is followed by 0001, and a new folder may \
          begin at 0001. Skips at a hole are left to missing-slot.",
    blind: "A whole lap of 9999 numbers, and frames renamed after the shoot.",
    remedy: "Look for the missing numbers on the other card and among the deleted files. If the clip is \
             even, nothing is lost.",
    source: "Numbering: DCF (CIPA DC-009). Levels: common practice, no source.",
    traits: Traits::PLAIN,
};

const NUMBERS: LimitKey = LimitKey::new("numbers");

const LIMITS: &[Limit] = &[Limit {
    key: NUMBERS,
    unit: "file numbers skipped",
    direction: Direction::AtLeast,
    caution: None,
    fault: None,
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Numbers], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let usual = usual(case);
    let in_doubt = order_in_doubt(evidence);
    let gaps: Vec<_> = (1..evidence.len()).filter_map(|after| gap(evidence, after, usual)).collect();
    let skipped: i64 = gaps.iter().map(|(_, ahead)| (ahead - usual).max(0)).sum();
    let weighed = case.limits.weigh(NUMBERS, skipped as f64);
    let findings = gaps
        .iter()
        .map(|&(after, ahead)| told(evidence, after, ahead, usual, note_or_more(weighed, in_doubt)));
    let findings = drawn_together(findings, |many| {
        format!(
            "The file numbers skip in {many} places, {} in all, where no slot is empty.",
            counted(skipped.unsigned_abs(), "number"),
        )
    });
    opinion(findings, evidence, |at| {
        if evidence.frame(at).is_outside() {
            Some("not part of the run")
        } else {
            let (shot, row) = (&evidence.frames.card.shots[at], evidence.frame(at).row());
            let edited = row.edited.then_some("written by another program");
            edited.or_else(|| shot.number.is_none().then_some("no file number"))
        }
    })
}

/// The usual advance of the numbers from one frame to the next.
fn usual(case: &Case<'_>) -> i64 {
    let bracket = i64::try_from(case.schedule.members()).unwrap_or(i64::MAX);
    (case.evidence.timing.number_advance.unwrap_or(1) / bracket).max(1)
}

/// The advance to the frame `after` from the one before it, where it is not the usual one and no hole lies
/// between.
fn gap(evidence: &Sequence, after: usize, usual: i64) -> Option<(usize, i64)> {
    let before = after - 1;
    let outside = |at: usize| evidence.frame(at).is_outside();
    if outside(before) || outside(after) || at_a_hole(evidence, before, after) {
        return None;
    }
    let ahead = between(&evidence.frames, before, after)?;
    let shots = &evidence.frames.card.shots;
    let new_folder = shots[before].file.folder != shots[after].file.folder;
    let anew = new_folder && shots[after].number.is_some_and(|n| n.value <= 1);
    // Pairs and triplets may end a folder half-way; a new folder may begin its numbers anew.
    let ordinary = ahead == usual || (ahead > 0 && ahead < usual) || anew;
    (!ordinary).then_some((after, ahead))
}

/// True where empty slots lie between two neighbours; the frames of a hole stand in slots, surplus ones
/// between them do not.
fn at_a_hole(evidence: &Sequence, before: usize, after: usize) -> bool {
    let holes = &evidence.timing.holes;
    let next = holes.partition_point(|h| h.after < after);
    holes.get(next).is_some_and(|h| h.before <= before)
}

fn told(evidence: &Sequence, after: usize, ahead: i64, usual: i64, severity: Severity) -> Finding {
    let before = after - 1;
    let (a, b) = (evidence.frame(before).name(), evidence.frame(after).name());
    let clock = clock_of(evidence, before);
    let skipped = (ahead - usual).max(0).unsigned_abs();
    let (message, severity) = if ahead > 0 {
        let grid = if evidence.timing.cadence.is_some() { " although no slot is empty" } else { "" };
        let message = format!(
            "The file numbers skip {} between {a}{clock} and {b}{grid}: a frame deleted in the camera, or \
             one shot in between and kept elsewhere.",
            counted(skipped, "number"),
        );
        (message, severity)
    } else if ahead == 0 {
        (format!("{a}{clock} and {b} carry the same file number."), severity)
    } else {
        let words = evidence.timing.basis.words();
        let message = format!(
            "The file numbers run back by {} from {a}{clock} to {b}, in the order of {words}.",
            ahead.unsigned_abs()
        );
        (message, severity.max(Severity::Caution))
    };
    Finding::new(TEXT.id, severity, message)
        .count(skipped.max(1))
        .between(before, after)
        .at(evidence.frame(before).moment())
        .figure("number_advance", Figure::Count(ahead))
        .figure("usual_advance", Figure::Count(usual))
        .figure("numbers_skipped", count(skipped))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::finding::Severity::{Caution, Fault, Note};

    fn numbered(numbers: &[(u32, u32)]) -> Sketch {
        let mut sketch = Sketch::steady(numbers.len(), 10.0);
        sketch.numbers = numbers.to_vec();
        sketch
    }

    /// Roll-over after DCF (CIPA DC-009): 9999 is followed by 0001 in a new folder.
    #[test]
    fn quiet_where_numbers_run_on_wrap_or_begin_anew() {
        for numbers in [
            [(1, 0), (2, 0), (3, 0), (4, 0)],
            [(9998, 0), (9999, 0), (1, 1), (2, 1)],
            [(899, 0), (900, 0), (1, 1), (2, 1)],
            [(998, 0), (999, 0), (1000, 1), (1001, 1)],
        ] {
            assert!(found(&CHECK, &every(10.0), &numbered(&numbers).evidence()).is_empty(), "{numbers:?}");
        }
    }

    #[test]
    fn a_skip_without_a_hole_is_a_note_and_a_caution_in_doubtful_order() {
        let numbers = [(1, 0), (2, 0), (6, 0), (7, 0)];
        let findings = found(&CHECK, &every(10.0), &numbered(&numbers).evidence());
        assert_eq!((findings[0].count, findings[0].first, findings[0].last), (3, Some(1), Some(2)));
        assert_eq!(findings[0].severity, Note);
        let mut sketch = numbered(&numbers);
        sketch.backwards = vec![(2, 3)];
        assert_eq!(severities(&CHECK, &every(10.0), &sketch.evidence()), [Caution]);
    }

    #[test]
    fn a_skip_at_a_hole_is_left_to_it() {
        let evidence = Sketch::steady(50, 10.0).without(&[20, 21], true).evidence();
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    #[test]
    fn numbers_that_advance_by_two_are_usual_where_they_always_do() {
        let mut sketch = numbered(&[(1, 0), (3, 0), (5, 0), (9, 0)]);
        sketch.advance = Some(2);
        let findings = found(&CHECK, &every(10.0), &sketch.evidence());
        assert_eq!((findings.len(), findings[0].count), (1, 2));
    }

    #[test]
    fn numbers_that_run_back_are_a_caution() {
        let evidence = numbered(&[(5, 0), (6, 0), (3, 0), (4, 0)]).evidence();
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Caution]);
    }

    #[test]
    fn below_at_and_above_a_level() {
        for (to, severity) in [(4, Note), (5, Fault), (6, Fault)] {
            let evidence = numbered(&[(1, 0), (2, 0), (to, 0)]).evidence();
            let plan = tolerating(every(10.0), TEXT.id, "fault", 2.0);
            assert_eq!(severities(&CHECK, &plan, &evidence), [severity], "{to}");
        }
    }

    #[test]
    fn many_are_drawn_together() {
        let numbers: Vec<_> = (0..40).map(|k| (1 + 3 * k, 0)).collect();
        let findings = found(&CHECK, &every(10.0), &numbered(&numbers).evidence());
        assert_eq!((findings.len(), findings[0].count), (1, 78));
    }

    #[test]
    fn cannot_judge_names_that_are_not_a_cameras() {
        let mut sketch = Sketch::steady(9, 10.0);
        sketch.advance = None;
        assert!(cannot(&CHECK, &every(10.0), &sketch.evidence()).contains("no evidence"));
    }
}
