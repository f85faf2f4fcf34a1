//! Frames that are extra.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, drawn_together, groups, named, note_or_more, off_the_grid, opinion,
    order_in_doubt,
};
use crate::checks::slots::incomplete;
use crate::checks::{Case, Check, Need};
use crate::evidence::FrameState;
use crate::finding::{Direction, Doubt, Finding, Limit, LimitKey, Opinion, Text, Traits};
use crate::units::{Figure, counted, duration};

const TEXT: Text = Text {
    id: "surplus-frame",
    finds: "frames too many",
    asks: "Are there frames too many?",
    why: "A frame too many is a moment's standstill in the clip. It also shifts every later frame where \
          files are counted instead of timed.",
    how: "A frame of the run is surplus where its slot already has its frame (or its bracket), or where its \
          stamp falls between two slots. Copies of a file are left to duplicate-frame. Frames before and \
          after the run do not count.",
    blind: "A double trigger too fast for the stamps to tell from a bracket, where the plan names no \
            bracket.",
    remedy: "Leave the frame out when you assemble the clip. If there are many, look for a release that \
             fires twice, or a second timer.",
    source: "The sequence's own grid. Levels: common practice, no source.",
    traits: Traits { own_lane: true, ..Traits::PLAIN },
};

const FRAMES: LimitKey = LimitKey::new("frames");

const LIMITS: &[Limit] = &[Limit {
    key: FRAMES,
    unit: "surplus frames",
    direction: Direction::AtLeast,
    caution: None,
    fault: None,
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps, Need::Grid], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let is_copy = |at: usize| evidence.copies.binary_search_by_key(&at, |c| c.0).is_ok();
    let surplus = |at: usize| evidence.frame(at).state() == FrameState::Surplus && !is_copy(at);
    let all: Vec<_> = (0..evidence.len()).filter(|at| surplus(*at)).collect();
    let severity = note_or_more(case.limits.weigh(FRAMES, all.len() as f64), order_in_doubt(evidence));
    let findings = groups(all.iter().copied()).into_iter().map(|span| {
        let frames = span.len() as u64;
        let after = span.first.checked_sub(1).and_then(|before| {
            Some((
                before,
                evidence.frame(span.first).stamp()?.at.seconds_since(evidence.frame(before).stamp()?.at),
            ))
        });
        let since = after.map_or_else(String::new, |(before, s)| {
            format!(", {} after {}", duration(s), evidence.frame(before).name())
        });
        let is = if frames == 1 { "is 1 frame" } else { "are frames" };
        let message = format!(
            "{}{} {is} extra{since}: a double trigger, or a frame fired by hand.",
            named(evidence, span),
            clocks_of(evidence, span),
        );
        Finding::new(TEXT.id, severity, message)
            .count(frames)
            .on(span)
            .at(evidence.frame(span.first).moment())
            .figure("surplus_frames_of_run", count(all.len() as u64))
            .figure("after_s", after.map_or(Figure::Unknown, |(_, s)| Figure::Number(s)))
    });
    let findings = findings.map(|finding| match evidence.timing.surplus_doubt {
        Some((low, high)) => {
            let words = format!(
                "The clock is too coarse to be sure: {low} to {high} frames too many would fit its stamps \
                 about as well."
            );
            Finding { doubt: Some(Doubt { words, count_low: low, count_high: high }), ..finding }
        }
        None => finding,
    });
    let mut findings = drawn_together(findings, |many| {
        format!(
            "{} are extra, in {many} places: double triggers, or frames fired by hand.",
            counted(all.len() as u64, "frame"),
        )
    });
    let fat = incomplete(evidence).filter(|(size, span)| span.len() > *size).map(|(size, span)| {
        let message = format!(
            "The bracket of {}{} has {} exposures where {size} make a set.",
            named(evidence, span),
            clocks_of(evidence, span),
            span.len(),
        );
        Finding::new(TEXT.id, severity, message)
            .count((span.len() - size) as u64)
            .on(span)
            .at(evidence.frame(span.first).moment())
            .figure("exposures", beside(span.len() as f64, Some(size as f64)))
    });
    findings
        .extend(drawn_together(fat, |many| format!("{many} brackets have an exposure or more too many.")));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| match evidence.frame(at).state() {
        FrameState::Surplus if is_copy(at) => Some("a copy of another frame"),
        FrameState::Surplus => None,
        _ => off_the_grid(evidence, at),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::testing::NO_SLOT;
    use crate::finding::Severity::{Caution, Fault, Note};

    fn with_surplus(at: std::ops::Range<usize>) -> Sketch {
        let mut sketch = Sketch::steady(60, 10.0).state(at.clone(), FrameState::Surplus);
        sketch.slots[at].fill(NO_SLOT);
        sketch
    }

    #[test]
    fn a_reading_with_fewer_is_named() {
        let mut evidence = with_surplus(20..22).evidence();
        evidence.timing.surplus_doubt = Some((0, 2));
        let findings = found(&CHECK, &every(10.0), &evidence);
        let doubt = findings[0].doubt.as_ref().expect("doubt");
        assert_eq!((doubt.count_low, doubt.count_high), (0, 2));
    }

    #[test]
    fn fires_and_stays_quiet() {
        assert!(found(&CHECK, &every(10.0), &Sketch::steady(60, 10.0).evidence()).is_empty());
        let findings = found(&CHECK, &every(10.0), &with_surplus(20..22).evidence());
        assert_eq!(findings.len(), 1);
        assert_eq!((findings[0].count, findings[0].first, findings[0].severity), (2, Some(20), Note));
    }

    #[test]
    fn a_bracket_with_one_too_many() {
        let mut sketch = Sketch::steady(30, 4.0);
        sketch.bracket = Some(3);
        let mut evidence = sketch.evidence();
        evidence.timing.bracket.as_mut().expect("brackets").incomplete =
            vec![crate::units::FrameSpan { first: 12, last: 15 }];
        let findings = found(&CHECK, &every(4.0), &evidence);
        assert_eq!((findings.len(), findings[0].severity, findings[0].count), (1, Note, 1));
    }

    #[test]
    fn copies_are_left_to_their_own_check() {
        let mut evidence = with_surplus(20..21).evidence();
        evidence.copies = vec![(20, 19)];
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    #[test]
    fn doubtful_order_makes_it_a_caution() {
        let mut sketch = with_surplus(20..21);
        sketch.backwards = vec![(30, 31)];
        assert_eq!(severities(&CHECK, &every(10.0), &sketch.evidence()), [Caution]);
    }

    #[test]
    fn a_tolerance_sets_a_level() {
        for (level, severity) in [(1.0, Fault), (2.0, Fault), (3.0, Note)] {
            let plan = tolerating(every(10.0), TEXT.id, "fault", level);
            assert_eq!(severities(&CHECK, &plan, &with_surplus(20..22).evidence()), [severity]);
        }
    }

    #[test]
    fn cannot_judge_without_a_grid() {
        assert_eq!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).loose("loose").evidence()), "loose");
    }
}
