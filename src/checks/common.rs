//! What several checks share: counting what was looked at, and a few turns of phrase.

use crate::evidence::timing::JoinKind;
use crate::evidence::{FrameState, FrameView, Sequence};
use crate::finding::{Finding, Opinion, Severity};
use crate::units::{Figure, FrameSpan, Measured, duration};

/// The source of a level that working photographers agree on and nobody has published.
pub(crate) const PRACTICE: &str = "common practice, no source";

/// Frames that a stretch needs before its interval is one that a timer kept, and not the distance of a few
/// shots.
pub(crate) const STRETCH_LEAST: u64 = 4;

/// Shots by hand beside a run are no more than this in a row. Common practice, no source.
pub(crate) const HANDFUL: usize = 5;

/// Findings past this many of one check are drawn together.
pub(crate) const MANY: usize = 12;

/// An opinion whose counts add up to the folder: `why` gives the reason for which a frame is set aside,
/// `None` where it was looked at. Reasons come in order of first mention.
pub(crate) fn opinion(
    findings: Vec<Finding>,
    evidence: &Sequence,
    mut why: impl FnMut(usize) -> Option<&'static str>,
) -> Opinion {
    let mut looked_at = 0;
    let mut aside: Vec<(u64, &'static str)> = Vec::new();
    for at in 0..evidence.len() {
        match why(at) {
            None => looked_at += 1,
            Some(reason) => match aside.iter_mut().find(|(_, r)| *r == reason) {
                Some((count, _)) => *count += 1,
                None => aside.push((1, reason)),
            },
        }
    }
    let set_aside = aside.into_iter().map(|(count, reason)| (count, reason.to_owned())).collect();
    Opinion { findings, cannot_judge: None, looked_at, set_aside }
}

/// Why a frame is not one that stands in a slot of the run.
pub(crate) fn not_of_the_run(evidence: &Sequence, at: usize) -> Option<&'static str> {
    match evidence.frame(at).state() {
        FrameState::Frame | FrameState::Damaged => None,
        FrameState::Surplus => Some("surplus: its slot has a frame already"),
        FrameState::Outside => Some("not part of the run"),
    }
}

/// Why a frame of the run has no place on the grid.
pub(crate) fn off_the_grid(evidence: &Sequence, at: usize) -> Option<&'static str> {
    not_of_the_run(evidence, at).or_else(|| {
        let frame = evidence.frame(at);
        match (frame.slot(), frame.stamp()) {
            (Some(_), _) => None,
            (None, None) => Some("no stamp"),
            (None, Some(_)) => Some("no slot"),
        }
    })
}

/// An interval, s, with as many digits as tell it from another one.
pub(crate) fn told_apart(value: f64, other: f64) -> String {
    // From a minute on people say minutes, where those tell the two apart.
    let said = duration(value);
    if value >= 60.0 && said != duration(other) {
        return said;
    }
    let digits = (1.0 - (value - other).abs().max(1e-6).log10()).ceil().clamp(2.0, 6.0) as usize;
    format!("{value:.digits$} s")
}

/// True where the order of the frames is in doubt: names are all there is to go by, or stamps run backwards
/// where no change of the clock explains it.
pub(crate) fn order_in_doubt(evidence: &Sequence) -> bool {
    use crate::evidence::timing::OrderBasis;
    evidence.timing.basis == OrderBasis::Names || unexplained_backwards(evidence).next().is_some()
}

/// Neighbours of the run whose stamps run backwards where no change of the clock was found between them.
pub(crate) fn unexplained_backwards(evidence: &Sequence) -> impl Iterator<Item = (usize, usize)> + '_ {
    let timing = &evidence.timing;
    let outside = |at: usize| evidence.frame_if_any(at).is_none_or(FrameView::is_outside);
    timing.backwards.iter().copied().filter(move |&(before, after)| {
        let from = timing.joins.partition_point(|j| j.before < before);
        let mut between = timing.joins[from..].iter().take_while(|j| j.after <= after);
        let explained = between.any(|j| matches!(j.kind, JoinKind::ClockStep { .. }));
        !explained && !outside(before) && !outside(after)
    })
}

/// What a check says whose findings are notes, unless the plan sets a level or the order is in doubt.
pub(crate) fn note_or_more(weighed: Option<(Severity, f64)>, in_doubt: bool) -> Severity {
    let floor = if in_doubt { Severity::Caution } else { Severity::Note };
    weighed.map_or(floor, |(severity, _)| severity.max(floor))
}

/// Neighbouring positions drawn together.
pub(crate) fn groups(positions: impl IntoIterator<Item = usize>) -> Vec<FrameSpan> {
    let mut spans: Vec<FrameSpan> = Vec::new();
    for at in positions {
        match spans.last_mut() {
            Some(span) if span.last + 1 == at => span.last = at,
            _ => spans.push(FrameSpan::one(at)),
        }
    }
    spans
}

/// So many frames in a row nobody fires as a test.
const A_SHOOT: u64 = 12;

/// Of frames between a stop or a hole and an end of the run that may be none of it.
pub(crate) fn shots_beside(frames: u64) -> String {
    match frames {
        1 => "Or the frame beyond it is a test shot beside the run.".into(),
        n if n < A_SHOOT => format!("Or the {n} frames beyond it are test shots beside the run."),
        n => format!("Or the {n} frames beyond it are a shoot of their own."),
    }
}

/// A name, or `A to B` for a span.
pub(crate) fn named(evidence: &Sequence, span: FrameSpan) -> String {
    if span.first == span.last {
        evidence.frame(span.first).name()
    } else {
        format!("{} to {}", evidence.frame(span.first).name(), evidence.frame(span.last).name())
    }
}

/// ` (hh:mm:ss)` of a frame's stamp, empty where it has none.
pub(crate) fn clock_of(evidence: &Sequence, at: usize) -> String {
    evidence.frame(at).clock().map_or_else(String::new, |clock| format!(" ({clock})"))
}

/// ` (hh:mm:ss to hh:mm:ss)` of the first and the last frame of a span, after its names; one of them where
/// they are one.
pub(crate) fn clocks_of(evidence: &Sequence, span: FrameSpan) -> String {
    let clock = |at: usize| evidence.frame(at).clock();
    match (clock(span.first), clock(span.last)) {
        (Some(first), Some(last)) if first != last => format!(" ({first} to {last})"),
        _ => clock_of(evidence, span.first),
    }
}

/// The finding said of a whole span, whose frames it does not mark one by one.
pub(crate) fn over(mut finding: Finding, first: usize, last: usize) -> Finding {
    finding.first = Some(first);
    finding.last = Some(last);
    finding
}

/// Findings as they are, or, where there are many, the one that `words` says of all of them: it spans them,
/// marks all that they mark, and weighs as much as the weightiest. Only a few are held at a time.
pub(crate) fn drawn_together(
    findings: impl IntoIterator<Item = Finding>,
    words: impl FnOnce(usize) -> String,
) -> Vec<Finding> {
    let mut rest = findings.into_iter();
    let kept: Vec<_> = rest.by_ref().take(MANY + 1).collect();
    if kept.len() <= MANY {
        return kept;
    }
    let mut all: Option<Finding> = None;
    let mut places = 0;
    for finding in kept.into_iter().chain(rest) {
        places += 1;
        match &mut all {
            None => all = Some(finding),
            Some(all) => {
                all.severity = all.severity.max(finding.severity);
                all.count = all.count.saturating_add(finding.count);
                all.last = finding.last;
                all.marks.extend(finding.marks);
            }
        }
    }
    let summed = all.map(|mut all| {
        all.message = words(places);
        all.evidence = vec![("places", count(places as u64))];
        (all.cause, all.doubt) = (None, None);
        all
    });
    summed.into_iter().collect()
}

/// `percent` less the dust of binary fractions: a share that is a level is at it, not above it.
pub(crate) fn not_above(percent: f64) -> f64 {
    percent * (1.0 - 1e-9)
}

/// A number beside the level it is compared with.
pub(crate) fn beside(value: f64, limit: Option<f64>) -> Figure {
    Figure::Limited(Measured { value, limit })
}

/// A number, or *unknown* where it is none.
pub(crate) fn number(value: f64) -> Figure {
    if value.is_finite() { Figure::Number(value) } else { Figure::Unknown }
}

/// A number where it is known.
pub(crate) fn known(value: Option<f64>) -> Figure {
    value.map_or(Figure::Unknown, number)
}

/// A count as a figure.
pub(crate) fn count(value: u64) -> Figure {
    Figure::Count(i64::try_from(value).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_drawn_together() {
        let spans = groups([1, 2, 3, 7, 9, 10]);
        let ends: Vec<_> = spans.iter().map(|s| (s.first, s.last)).collect();
        assert_eq!(ends, [(1, 3), (7, 7), (9, 10)]);
    }
}
