//! The sequence as lines: frames in capture order with the holes at their place. Tables and the strip are
//! drawn from these.

use crate::audit::Audit;
use crate::evidence::timing::Hole;
use crate::units::{CivilTime, FrameSpan};

/// One line of the sequence.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Line<'a> {
    /// The frame at that position in capture order.
    Frame(usize),
    /// Empty slots.
    Hole(&'a Hole),
}

/// The lines of the whole folder, in slot order; frames in no slot stand at their place in capture order.
pub(crate) fn lines(audit: &Audit) -> impl Iterator<Item = Line<'_>> {
    let mut holes = audit.evidence.timing.holes.iter().peekable();
    let mut frames = (0..audit.evidence.frames.len()).peekable();
    std::iter::from_fn(move || {
        let due = holes.peek().is_some_and(|h| frames.peek().is_none_or(|&at| h.after <= at));
        if due { holes.next().map(Line::Hole) } else { frames.next().map(Line::Frame) }
    })
}

/// Two moments for people: the time of day, with the date where they do not share it.
pub(crate) fn from_to(first: CivilTime, last: CivilTime) -> (String, String) {
    if first.to_jiff().date() == last.to_jiff().date() {
        (first.clock(), last.clock())
    } else {
        (first.spoken(), last.spoken())
    }
}

/// Which findings mark each frame, told frame by frame in capture order: one pass, whatever their number.
pub(crate) struct Marks {
    spans: Vec<(FrameSpan, usize)>,
    next: usize,
    open: Vec<(&'static str, Option<usize>)>,
}

impl Marks {
    /// The marks of an audit. Ids are told in the checks' order.
    pub(crate) fn new(audit: &Audit) -> Self {
        let mut spans = Vec::new();
        let mut open = Vec::new();
        for (check, judgement) in audit.judgements.iter().enumerate() {
            open.push((judgement.text.id, None));
            spans.extend(judgement.findings().iter().flat_map(|f| f.marks.iter().map(move |m| (*m, check))));
        }
        spans.sort_unstable();
        Self { spans, next: 0, open }
    }

    /// Writes the ids that mark frame `at` into `out`, with a space between. Positions must not run
    /// backwards.
    pub(crate) fn tell(&mut self, at: usize, out: &mut String) {
        out.clear();
        while let Some((span, check)) = self.spans.get(self.next).filter(|(s, _)| s.first <= at) {
            if let Some((_, until)) = self.open.get_mut(*check) {
                *until = Some(until.map_or(span.last, |u| u.max(span.last)));
            }
            self.next += 1;
        }
        for (id, until) in &self.open {
            if until.is_some_and(|u| u >= at) {
                if !out.is_empty() {
                    out.push(' ');
                }
                out.push_str(id);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_date_is_told_where_it_changes() {
        let at = |day, hour| CivilTime::from_calendar((2026, 5, day), (hour, 0, 0), 0).unwrap();
        assert_eq!(from_to(at(9, 4), at(9, 6)), ("04:00:00".into(), "06:00:00".into()));
        assert_eq!(
            from_to(at(9, 22), at(10, 3)),
            ("2026-05-09 22:00:00".into(), "2026-05-10 03:00:00".into())
        );
    }
}
