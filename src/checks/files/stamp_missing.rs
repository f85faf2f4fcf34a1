//! Frames of the run that do not say when they were shot.

use crate::checks::common::{PRACTICE, count, groups, named, not_of_the_run, opinion, over};
use crate::checks::{Case, Check};
use crate::evidence::{FrameState, Sequence, StampSource};
use crate::finding::{Direction, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits};
use crate::units::{FrameSpan, counted};

const TEXT: Text = Text {
    id: "stamp-missing",
    finds: "frames without a stamp",
    asks: "Does every frame say when it was shot?",
    why: "A frame without a capture time has no place in the run: it cannot count as missing or as there.",
    how: "The capture time is read from DateTimeOriginal, else DateTimeDigitized, else DateTime. Blank \
          fields, absent fields and fields that cannot be understood are counted apart. The file's own date \
          is never used instead.",
    blind: "A stamp that is there and wrong: clock-step and uneven-interval find some of those. Damaged \
            files are left to damaged-frame.",
    remedy: "Set the camera's clock. Where an editor or a transfer has dropped the stamps, audit the files \
             as they came from the card.",
    source: "Exif (CIPA DC-008): tags 9003, 9004 and 0132; blanks mean unknown. Levels: common practice, no \
             source.",
    traits: Traits::PLAIN,
};

const FRAMES: LimitKey = LimitKey::new("frames");

const LIMITS: &[Limit] = &[Limit {
    key: FRAMES,
    unit: "frames without a stamp",
    direction: Direction::AtLeast,
    caution: Some(1.0),
    fault: None,
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let whole = |at: &usize| evidence.frame(*at).state() == FrameState::Frame;
    let without: Vec<_> =
        evidence.in_run().filter(whole).filter(|at| evidence.frame(*at).stamp().is_none()).collect();
    let mut findings = Vec::new();
    if let (Some(&first), Some(&last)) = (without.first(), without.last()) {
        let severity = case.limits.weigh(FRAMES, without.len() as f64).map_or(Severity::Note, |w| w.0);
        let of = |word| {
            without.iter().filter(|at| evidence.frame(**at).row().stamp.why_not() == Some(word)).count()
                as u64
        };
        let (blank, absent, unreadable) = (of("blank"), of("absent"), of("unreadable"));
        let (says, span) = (if without.len() == 1 { "does" } else { "do" }, FrameSpan { first, last });
        let ways = [
            (blank, "with a blank stamp"),
            (absent, "without a stamp"),
            (unreadable, "with a stamp that cannot be understood"),
        ];
        let ways: Vec<_> = ways.iter().filter(|w| w.0 > 0).collect();
        let ways: Vec<_> = match ways.as_slice() {
            [(_, how)] => vec![(*how).to_owned()],
            several => several.iter().map(|(n, how)| format!("{n} {how}")).collect(),
        };
        let message = format!(
            "{} of the run {says} not say when {} shot, {}{}: {}.",
            counted(without.len() as u64, "frame"),
            if without.len() == 1 { "it was" } else { "they were" },
            if span.len() > without.len() { "among " } else { "" },
            named(evidence, span),
            ways.join(", "),
        );
        let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
            .count(without.len() as u64)
            .figure("blank_frames", count(blank))
            .figure("absent_frames", count(absent))
            .figure("unreadable_frames", count(unreadable));
        finding.marks = groups(without.iter().copied());
        findings.push(finding);
    }
    findings.extend(lesser(evidence));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| match evidence.frame(at).state() {
        FrameState::Damaged => Some("damaged: see damaged-frame"),
        _ => not_of_the_run(evidence, at),
    })
}

/// A note where stamps come from a tag that is not the moment of capture.
fn lesser(evidence: &Sequence) -> Option<Finding> {
    let from = |source| move |at: &usize| evidence.frame(*at).stamp().is_some_and(|s| s.source == source);
    let plain = evidence.in_run().filter(from(StampSource::Plain)).count() as u64;
    let digitized = evidence.in_run().filter(from(StampSource::Digitized)).count() as u64;
    let is_lesser =
        |at: &usize| evidence.frame(*at).stamp().is_some_and(|s| s.source != StampSource::Original);
    let first = evidence.in_run().find(is_lesser)?;
    let last = evidence.in_run().rfind(is_lesser)?;
    let by = match (digitized, plain) {
        (_, 0) => "they are dated by DateTimeDigitized".to_owned(),
        (0, _) => "they are dated by DateTime, which other programs change".to_owned(),
        _ => format!(
            "{digitized} are dated by DateTimeDigitized and {plain} by DateTime, which other programs change"
        ),
    };
    let message =
        format!("{} of the run without DateTimeOriginal: {by}.", counted(plain + digitized, "frame"));
    let finding = Finding::new(TEXT.id, Severity::Note, message)
        .count(plain + digitized)
        .figure("digitized_frames", count(digitized))
        .figure("plain_frames", count(plain));
    Some(over(finding, first, last))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, every, found, judged, severities, tolerating};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Note};

    #[test]
    fn stays_quiet_where_every_frame_is_stamped() {
        assert!(found(&CHECK, &every(10.0), &Sketch::steady(20, 10.0).evidence()).is_empty());
    }

    #[test]
    fn counts_blank_absent_and_unreadable_apart() {
        let evidence = Sketch::steady(20, 10.0)
            .change(3..5, |row| row.stamp = Cell::Blank)
            .change(9..10, |row| row.stamp = Cell::Unreadable)
            .evidence();
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings[0].count, findings[0].severity), (3, Caution));
        assert!(
            findings[0]
                .message
                .ends_with(": 2 with a blank stamp, 1 with a stamp that cannot be understood."),
            "{}",
            findings[0].message
        );
        assert_eq!(findings[0].marks.len(), 2);
    }

    #[test]
    fn below_at_and_above_a_level() {
        for (frames, severity) in [(1, Note), (2, Caution), (3, Caution)] {
            let evidence =
                Sketch::steady(20, 10.0).change(3..3 + frames, |row| row.stamp = Cell::Absent).evidence();
            let plan = tolerating(every(10.0), TEXT.id, "caution", 2.0);
            assert_eq!(severities(&CHECK, &plan, &evidence), [severity], "{frames}");
        }
    }

    #[test]
    fn damaged_and_foreign_frames_are_set_aside() {
        let evidence = Sketch::steady(20, 10.0)
            .change(0..2, |row| row.stamp = Cell::Absent)
            .state(0..1, FrameState::Outside)
            .state(1..2, FrameState::Damaged)
            .evidence();
        let judgement = judged(&CHECK, &every(10.0), &evidence);
        assert!(judgement.findings().is_empty());
        assert_eq!((judgement.looked_at, judgement.set_aside.len()), (18, 2));
    }

    #[test]
    fn lesser_tags_are_a_note() {
        let evidence = Sketch::steady(20, 10.0)
            .change(0..20, |row| {
                row.stamp = row.stamp.map(|s| crate::evidence::Stamp { source: StampSource::Plain, ..s });
            })
            .evidence();
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Note]);
    }
}
