//! Changes of the camera's clock, and stamps that run backwards.

use crate::checks::common::{
    PRACTICE, clock_of, drawn_together, not_of_the_run, note_or_more, number, opinion, order_in_doubt,
    unexplained_backwards,
};
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::timing::{ClockRival, Join, JoinKind, OrderBasis};
use crate::finding::{
    CauseCode, Direction, Doubt, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits,
};
use crate::units::{Figure, counted, duration};

const TEXT: Text = Text {
    id: "clock-step",
    finds: "a change of the clock",
    asks: "Did the camera's clock keep time without a change?",
    why: "A clock may be set, fall back to its factory date or change to winter time. Its stamps are then \
          wrong: frames sort wrongly, and a gap appears where nothing is missing.",
    how: "Stamps may jump while numbering continues and the same interval goes on. Then there are two \
          explanations: the clock was changed, or the camera stood for just as long. Satellite time, offsets \
          written by the camera, the plan's count and end, and the light before and after decide between the \
          two. Where they do not, both are reported. A frame that comes early, on an interval that goes on, \
          may also be a timer that was stopped and started again. Stamps that run backwards in capture order \
          are reported even where no grid shows the size of the change.",
    blind: "A clock that is wrong from the first frame to the last, and a change of less than the stamps' \
            resolution.",
    remedy: "Sort by file number, not by time. Set the camera's clock and its zone before the run. A clock \
             that forgets needs a new buffer battery.",
    source: "Exif (CIPA DC-008) DateTimeOriginal is civil time without a zone. Levels: common practice, no \
             source.",
    traits: Traits { own_lane: true, in_the_course: true, ..Traits::PLAIN },
};

const STEPS: LimitKey = LimitKey::new("steps");

const CLOCK_CHANGED: CauseCode = CauseCode::new("clock-changed");
const CLOCK_OR_RESTART: CauseCode = CauseCode::new("clock-or-restart");
const CLOCK_OR_HOLE: CauseCode = CauseCode::new("clock-or-hole");

const LIMITS: &[Limit] = &[Limit {
    key: STEPS,
    unit: "changes of the clock",
    direction: Direction::AtLeast,
    caution: None,
    fault: None,
    source: PRACTICE,
}];

/// So far back, s, no clock is set on purpose.
const A_DAY_S: f64 = 86_400.0;

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let steps: Vec<_> = evidence
        .timing
        .joins
        .iter()
        .filter_map(|join| match &join.kind {
            JoinKind::ClockStep { step_s, looks_like, rival, .. } => Some((join, *step_s, looks_like, rival)),
            _ => None,
        })
        .collect();
    let backwards: Vec<_> = unexplained_backwards(evidence).collect();
    let weighed = case.limits.weigh(STEPS, (steps.len() + backwards.len()) as f64);
    // Order by stamps is wrong on one side of a change of the clock; order by number is not.
    let in_doubt = order_in_doubt(evidence) || evidence.timing.basis != OrderBasis::Numbers;
    let severity = note_or_more(weighed, in_doubt);
    // Where the camera may have stood instead, both are told and somebody has to look.
    let either = note_or_more(weighed, true);

    let mut findings: Vec<Finding> = Vec::new();
    for (join, step_s, looks_like, rival) in steps {
        let level = if rival.is_some() || lost_power(step_s) { either } else { severity };
        findings.push(changed(evidence, join, step_s, looks_like, *rival, level));
    }
    findings.extend(backwards.into_iter().filter_map(|at| ran_back(evidence, at, severity)));
    findings.sort_by_key(|f| f.first);
    let order = evidence.timing.basis.words();
    let findings = drawn_together(findings, |many| {
        format!(
            "The stamps disagree with the order of {order} in {many} places: the clock was changed, or files \
             were renamed."
        )
    });
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at).or_else(|| evidence.frame(at).stamp().is_none().then_some("no stamp"))
    })
}

/// A clock that lost its power says nothing of how long it was without.
fn lost_power(step_s: f64) -> bool {
    step_s < -A_DAY_S
}

/// A change of the clock, with what else may have happened.
fn changed(
    evidence: &Sequence,
    join: &Join,
    step_s: f64,
    looks_like: &str,
    rival: Option<ClockRival>,
    level: Severity,
) -> Finding {
    let mut message = match rival {
        Some(rival) => both_ways(evidence, join, step_s, rival),
        None => {
            let way = if step_s < 0.0 { "back" } else { "forward" };
            let why =
                if looks_like.is_empty() { String::new() } else { format!(": it looks like {looks_like}") };
            format!(
                "The camera's clock jumps {way} by {} between {} and {}{why}.",
                duration(step_s.abs()),
                evidence.frame(join.before).name(),
                evidence.frame(join.after).name(),
            )
        }
    };
    if lost_power(step_s) {
        message
            .push_str(" How long the camera stood there is not known: compare the light in the two frames.");
    }
    let finding = Finding::new(TEXT.id, level, message)
        .between(join.before, join.after)
        .at(evidence.frame(join.before).moment())
        .figure("step_s", number(step_s))
        .figure("gap_s", number(join.gap_s));
    match rival {
        None if looks_like.is_empty() => finding,
        None => finding.because(CLOCK_CHANGED, looks_like.to_owned()),
        Some(rival) => or_else(finding, rival, join.or_missing.unwrap_or(0)),
    }
}

/// Stamps that run backwards in an order that something else than stamps gives.
fn ran_back(evidence: &Sequence, (before, after): (usize, usize), severity: Severity) -> Option<Finding> {
    let (earlier, later) = (evidence.frame(before), evidence.frame(after));
    let back_s = earlier.moment()?.seconds_since(later.moment()?);
    let message = format!(
        "The stamps run backwards by {} from {} to {}, in the order of {}: the clock was changed, or the \
         files were renamed.",
        duration(back_s),
        earlier.name(),
        later.name(),
        evidence.timing.basis.words(),
    );
    let finding = Finding::new(TEXT.id, severity, message).between(before, after);
    Some(finding.at(earlier.moment()).figure("step_s", number(-back_s)))
}

/// A change of the clock beside what may have happened instead.
fn both_ways(evidence: &Sequence, join: &Join, step_s: f64, rival: ClockRival) -> String {
    let (length, before, after) =
        (duration(step_s.abs()), evidence.frame(join.before).name(), evidence.frame(join.after).name());
    let clock = clock_of(evidence, join.before);
    let missing = counted(join.or_missing.unwrap_or(0), "frame");
    match rival {
        ClockRival::BeganAnew => format!(
            "Between {before}{clock} and {after} the clock was put back by {length}, or the timer was \
             stopped and began anew: the stamps fit both. The clip jumps there if the timer began anew. How \
             to check: compare clouds and shadows in the two frames.",
        ),
        ClockRival::Stood => format!(
            "Between {before}{clock} and {after} the clock was put forward by {length}, or the camera stood \
             and {missing} are missing: the stamps fit both. How to check: compare light and shadows in the \
             two frames.",
        ),
        ClockRival::PutBackFurther { step_s, stood_s } => format!(
            "Between {before}{clock} and {after} the clock was put back by {length}, or by {} while the \
             camera stood for {}: the stamps fit both. How to check: compare light and shadows in the two \
             frames.",
            duration(step_s.abs()),
            duration(stood_s),
        ),
        ClockRival::StoodBehindOffset { stood_s } => format!(
            "Between {before}{clock} and {after} somebody put the offset from UTC back by {} and nothing \
             else, or the clock went back with it and {missing} are missing: the stamps fit both. How to \
             check: compare light and shadows in the two frames.",
            duration(stood_s),
        ),
    }
}

/// The finding with its doubt, by what may have happened instead: so many slots are then missing.
fn or_else(finding: Finding, rival: ClockRival, missing: u64) -> Finding {
    let (code, because, words, high) = match rival {
        ClockRival::BeganAnew => (
            CLOCK_OR_RESTART,
            "a clock that was put back and a timer that began anew leave the same stamps",
            "The stamps alone cannot tell a clock that was put back from a timer that began anew.",
            1,
        ),
        ClockRival::Stood | ClockRival::PutBackFurther { .. } | ClockRival::StoodBehindOffset { .. } => (
            CLOCK_OR_HOLE,
            "a changed clock and a camera that stood leave the same stamps",
            "The stamps alone cannot tell a changed clock from missing frames.",
            missing,
        ),
    };
    let mut finding = finding.because(code, because);
    if rival != ClockRival::BeganAnew {
        finding = finding.figure("missing_slots_if_it_stood", Figure::Count(missing as i64));
    }
    finding.doubt = Some(Doubt { words: words.into(), count_low: 0, count_high: high });
    finding
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Fault, Note};

    fn stepped(step_s: f64) -> Sequence {
        let mut sketch = Sketch::steady(100, 10.0);
        let looks_like = "the end of daylight saving".into();
        let kind = JoinKind::ClockStep { step_s, looks_like, stood_s: None, rival: None };
        sketch.joins = vec![Join {
            before: 49,
            after: 50,
            gap_s: 10.0 + step_s,
            kind,
            or_missing: None,
            shots_beyond: None,
        }];
        sketch.backwards = if step_s < -10.0 { vec![(49, 50)] } else { Vec::new() };
        sketch.evidence()
    }

    #[test]
    fn a_change_of_the_clock_is_a_note_where_numbers_give_the_order() {
        assert!(found(&CHECK, &every(10.0), &Sketch::steady(100, 10.0).evidence()).is_empty());
        let findings = found(&CHECK, &every(10.0), &stepped(-3600.0));
        assert_eq!((findings.len(), findings[0].severity), (1, Note));
        assert!(
            findings[0].message.contains("back by 1 h between TIDE0050.JPG and"),
            "{}",
            findings[0].message
        );
    }

    /// Back by less than an interval: the stamps run on, and a timer that began anew would leave the same.
    #[test]
    fn a_step_back_within_the_interval_is_told_both_ways() {
        let mut evidence = stepped(-3.0);
        let join = &mut evidence.timing.joins[0];
        join.or_missing = Some(0);
        if let JoinKind::ClockStep { rival, .. } = &mut join.kind {
            *rival = Some(ClockRival::BeganAnew);
        }
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings.len(), findings[0].severity), (1, Caution));
        let said = &findings[0].message;
        assert!(said.contains("put back by 3 s, or the timer was stopped"), "{said}");
        assert!(findings[0].doubt.is_some());
    }

    #[test]
    fn it_is_a_caution_where_stamps_give_the_order() {
        let mut evidence = stepped(3600.0);
        evidence.timing.basis = OrderBasis::Stamps;
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Caution]);
    }

    #[test]
    fn a_clock_that_runs_backwards_is_told_without_a_grid() {
        let mut sketch = Sketch::steady(20, 10.0).loose("loose");
        sketch.backwards = vec![(9, 10)];
        assert_eq!(severities(&CHECK, &every(10.0), &sketch.evidence()), [Caution]);
    }

    #[test]
    fn many_are_drawn_together() {
        let mut sketch = Sketch::steady(60, 10.0);
        sketch.backwards = (0..20).map(|k| (2 * k, 2 * k + 1)).collect();
        let findings = found(&CHECK, &every(10.0), &sketch.evidence());
        assert_eq!((findings.len(), findings[0].count), (1, 20));
    }

    #[test]
    fn a_tolerance_sets_a_level() {
        for (level, severity) in [(1.0, Fault), (2.0, Note)] {
            let plan = tolerating(every(10.0), TEXT.id, "fault", level);
            assert_eq!(severities(&CHECK, &plan, &stepped(3600.0)), [severity]);
        }
    }

    #[test]
    fn cannot_judge_without_stamps() {
        let evidence = Sketch::steady(5, 10.0).change(0..5, |row| row.stamp = Cell::Blank).evidence();
        assert!(cannot(&CHECK, &every(10.0), &evidence).contains("no frame of the run has a stamp"));
    }
}
