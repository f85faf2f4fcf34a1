//! The run on one line: each cell shows the worst of its part of the sequence.

use super::page::{Page, Tone};
use crate::audit::Audit;
use crate::evidence::{FrameState, FrameView};
use crate::outputs::report::axis::Axis;
use crate::outputs::report::lines;

/// Columns of a page beside the strip.
const BESIDE: usize = 8;

/// What a cell shows, in rising order of weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Mark {
    /// No frame was due.
    Blank,
    /// Planned, and not shot.
    Open,
    /// Frames in their slots.
    Held,
    /// Hours cut out of the axis.
    Cut,
    /// Not part of the run.
    Outside,
    /// Two stretches meet: the grid was left and taken up again.
    Slip,
    /// A frame that a fault would spoil in the clip.
    Fault,
    /// Empty slots.
    Hole,
    /// A damaged frame.
    Damaged,
}

impl Mark {
    /// Those that have a sign to explain, in the order of telling.
    const ALL: [Self; 8] = [
        Self::Held,
        Self::Open,
        Self::Cut,
        Self::Outside,
        Self::Slip,
        Self::Fault,
        Self::Hole,
        Self::Damaged,
    ];

    const fn sign(self) -> char {
        match self {
            Self::Blank => ' ',
            Self::Cut => '/',
            Self::Open => '-',
            Self::Held => '=',
            Self::Outside => '~',
            Self::Slip => '|',
            Self::Fault => '!',
            Self::Hole => '.',
            Self::Damaged => 'x',
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Blank => "no frame due",
            Self::Cut => "hours cut out",
            Self::Open => "planned, not shot",
            Self::Held => "shot",
            Self::Outside => "not of the run",
            Self::Slip => "timer slipped",
            Self::Fault => "under a fault",
            Self::Hole => "missing",
            Self::Damaged => "damaged",
        }
    }
}

/// The marks of the sequence in at most `cells` cells of the report's axis.
fn marks(audit: &Audit, axis: &Axis) -> Vec<Mark> {
    if axis.is_empty() {
        return Vec::new();
    }
    let mut strip = vec![Mark::Blank; axis.columns()];
    let mut mark = |(from, to): (usize, usize), mark: Mark| {
        if let Some(part) = strip.get_mut(from..=to) {
            part.iter_mut().for_each(|cell| *cell = mark.max(*cell));
        }
    };
    axis.not_shot.iter().for_each(|span| mark(*span, Mark::Open));
    axis.cuts().filter_map(|(from, to)| axis.within(from, to)).for_each(|span| mark(span, Mark::Cut));
    let timing = &audit.evidence.timing;
    (0..timing.holes.len()).filter_map(|hole| axis.of_hole(hole)).for_each(|span| mark(span, Mark::Hole));
    let mut joins = timing.joins.iter().filter(|j| j.kind.leaves_grid()).map(|j| j.after).peekable();
    let faulty = faulty(audit);
    for frame in audit.evidence.all() {
        let at = frame.at();
        let mut joined = false;
        while joins.next_if(|&after| after <= at).is_some() {
            joined = true;
        }
        let kind = match frame.state() {
            FrameState::Surplus => continue,
            FrameState::Damaged => Mark::Damaged,
            FrameState::Outside => Mark::Outside,
            FrameState::Frame if faulty.get(at) == Some(&true) => Mark::Fault,
            FrameState::Frame if joined => Mark::Slip,
            FrameState::Frame => Mark::Held,
        };
        if axis.holds(at) {
            mark(axis.covered(at), Mark::Held.min(kind));
            mark((axis.of(at), axis.of(at)), kind);
        }
    }
    strip
}

/// The frames that a fault would spoil in the clip, by position.
fn faulty(audit: &Audit) -> Vec<bool> {
    let mut faulty = vec![false; audit.evidence.frames.len()];
    let shown = audit.judgements.iter().flat_map(|judgement| {
        let open = judgement.findings().iter().filter(|f| f.accepted.is_none());
        open.flat_map(|f| f.shown_at(judgement.text.traits.in_the_clip))
    });
    for at in shown {
        if let Some(place) = faulty.get_mut(at) {
            *place = true;
        }
    }
    faulty
}

/// Writes the strip, the hours at its ends and the signs in words.
pub(crate) fn write(page: &mut Page, audit: &Audit) {
    let axis = Axis::new(audit, page.width() - BESIDE);
    if !axis.is_empty() {
        page.heading("The run");
        draw(page, audit, &axis);
    }
}

/// The same without its heading.
pub(crate) fn line(page: &mut Page, audit: &Audit) {
    let axis = Axis::new(audit, page.width() - BESIDE);
    if !axis.is_empty() {
        draw(page, audit, &axis);
    }
}

fn draw(page: &mut Page, audit: &Audit, axis: &Axis) {
    let strip = marks(audit, axis);
    let signs: String = strip.iter().map(|m| m.sign()).collect();
    let tone = match strip.iter().max() {
        Some(Mark::Damaged | Mark::Hole | Mark::Fault) => Tone::Bad,
        Some(Mark::Slip) => Tone::Warn,
        _ => Tone::Good,
    };
    page.line(tone, &format!("  {signs}"));
    let evidence = &audit.evidence;
    let of_frames = || {
        let mut moments = evidence.all().filter_map(FrameView::moment);
        let first = moments.next()?;
        Some((first, moments.next_back().unwrap_or(first)))
    };
    if let Some((first, last)) = axis.ends.or_else(of_frames) {
        let (first, last) = lines::from_to(first, last);
        let room = strip.len().saturating_sub(first.len());
        if room > last.len() {
            page.line(Tone::Faint, &format!("  {first}{last:>room$}"));
        } else {
            page.line(Tone::Faint, &format!("  {first} to {last}"));
        }
    }
    let legend: Vec<_> = Mark::ALL
        .iter()
        .filter(|m| strip.contains(m))
        .map(|m| match m {
            // Without a grid there is nothing that could be held.
            Mark::Held if evidence.timing.cadence.is_none() => format!("{} frames", m.sign()),
            _ => format!("{} {}", m.sign(), m.words()),
        })
        .collect();
    // Closer together where there are many of them.
    let one_line = legend.join("   ");
    match one_line.len() + 4 > page.width() {
        true => page.wrap(2, Tone::Faint, &legend.join(", ")),
        false => page.line(Tone::Faint, &format!("  {one_line}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    fn signs(audit: &Audit, cells: usize) -> String {
        marks(audit, &Axis::new(audit, cells)).iter().map(|m| m.sign()).collect()
    }

    #[test]
    fn a_cell_shows_its_worst() {
        // Three held, two empty slots, one held, one damaged; the surplus frame takes no room, and the one
        // outside lies five minutes before.
        let audit = sample::audit();
        assert_eq!(signs(&audit, 72), "===..=x");
        assert_eq!(signs(&audit, 4), "==.x");
        assert_eq!(signs(&audit, 1), "x");
    }

    #[test]
    fn a_run_that_died_stops_short() {
        let mut audit = sample::audit();
        audit.plan.frames = Some(10);
        audit.schedule = crate::schedule::Schedule::of(&audit.plan, &audit.evidence);
        assert_eq!(signs(&audit, 72), "===..=x---");
    }

    #[test]
    fn a_hole_of_any_size_keeps_its_room() {
        let mut audit = sample::audit();
        audit.evidence.timing.holes[0].slots = u64::MAX / 4;
        audit.evidence.timing.cadence = None;
        let strip = signs(&audit, 72);
        assert_eq!(strip.len(), 72);
        assert!(strip.matches('.').count() >= 70, "{strip}");
    }

    #[test]
    fn joins_are_seen() {
        let mut audit = sample::audit();
        audit.evidence.timing.joins.push(crate::evidence::timing::Join {
            before: 2,
            after: 3,
            gap_s: 17.0,
            kind: crate::evidence::timing::JoinKind::Slip { pause_s: 5.0, slots: 0.4 },
            or_missing: None,
            shots_beyond: None,
        });
        assert_eq!(signs(&audit, 72), "==|..=x");
        audit.evidence.timing.joins[0].kind = crate::evidence::timing::JoinKind::Night;
        assert_eq!(signs(&audit, 72), "===..=x", "a planned rest is no slip");
    }
}
