//! What is marked along the run: lanes below one another in which every hole, slip and doubtful frame stands
//! at its place.

use super::axis::Axis;
use crate::audit::Audit;
use crate::evidence::timing::{Join, JoinKind};
use crate::evidence::{FrameState, FrameView};
use crate::finding::{Answer, Severity};
use crate::units::counted;

/// One lane: what is marked in it, and in words how much.
pub(crate) struct Lane {
    /// How it is drawn.
    pub class: &'static str,
    /// What it marks.
    pub label: String,
    /// How much of it.
    pub words: String,
    /// First and last columns marked, in order; touching ones joined.
    pub spans: Vec<(usize, usize)>,
    /// Columns that were planned and not shot: of the run's own lane.
    pub not_shot: Vec<(usize, usize)>,
}

fn joined(columns: impl Iterator<Item = (usize, usize)>) -> Vec<(usize, usize)> {
    let mut all: Vec<_> = columns.collect();
    all.sort_unstable();
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for (from, to) in all {
        match spans.last_mut() {
            Some(last) if from <= last.1 + 1 => last.1 = last.1.max(to),
            _ => spans.push((from, to)),
        }
    }
    spans
}

/// Every lane that has something to show, the run first.
pub(crate) fn lanes(audit: &Audit, axis: &Axis) -> Vec<Lane> {
    let evidence = &audit.evidence;
    let timing = &evidence.timing;
    let frames = |pick: fn(FrameState) -> bool| {
        let at = evidence.all().filter(|frame| pick(frame.state())).map(FrameView::at);
        let (mut count, mut columns) = (0_u64, Vec::new());
        for at in at {
            count += 1;
            let covered = axis.covered(at);
            if axis.holds(at) && columns.last() != Some(&covered) {
                columns.push(covered);
            }
        }
        (count, joined(columns.into_iter()))
    };
    let mut all = Vec::new();
    let mut lane = |class, label: &str, words: String, spans: Vec<_>| {
        if !spans.is_empty() {
            all.push(Lane { class, label: label.to_owned(), words, spans, not_shot: Vec::new() });
        }
    };
    let (count, spans) = frames(|s| s == FrameState::Frame || s == FrameState::Damaged);
    lane("held", "the run", counted(count, "frame"), spans);
    let slots: u64 = timing.holes.iter().map(|h| h.slots).fold(0, u64::saturating_add);
    let places = counted(timing.holes.len() as u64, "place");
    let spans = joined((0..timing.holes.len()).filter_map(|h| axis.of_hole(h)));
    lane("missing", "missing", format!("{} in {places}", counted(slots, "slot")), spans);
    let (count, spans) = frames(|s| s == FrameState::Damaged);
    lane("damaged", "damaged", counted(count, "frame"), spans);
    let joins = |pick: fn(&JoinKind) -> bool| {
        let picked: Vec<_> = timing.joins.iter().filter(|j| pick(&j.kind)).collect();
        // What the timer stood or rested for shows how long that was.
        let span = |join: &Join| {
            let (from, to) = (axis.covered(join.before).1 + 1, axis.of(join.after));
            match join.kind {
                JoinKind::Night if from < to => (from, to - 1),
                _ if join.stood_s().is_some() => (from.min(to), to),
                _ => (to, to),
            }
        };
        (picked.len() as u64, joined(picked.into_iter().map(span)))
    };
    let (count, spans) = joins(JoinKind::leaves_grid);
    lane("slip", "grid left", counted(count, "time"), spans);
    let (count, spans) = joins(|k| matches!(k, JoinKind::ClockStep { .. }));
    lane("clockset", "clock set", counted(count, "time"), spans);
    // A rest that is cut out of the axis is marked there.
    let (count, spans) = joins(|k| *k == JoinKind::Night);
    let spans = if axis.cuts().next().is_some() { Vec::new() } else { spans };
    lane("rest", "planned rest", counted(count, "time"), spans);
    let findings = || audit.judgements.iter().flat_map(|j| j.findings());
    let doubtful: Vec<_> = findings()
        .filter(|f| f.doubt.is_some())
        .filter_map(|f| Some((axis.covered(f.first?).0, axis.covered(f.last?).1)))
        .collect();
    lane("doubt", "in doubt", counted(doubtful.len() as u64, "finding"), joined(doubtful.into_iter()));
    for judgement in audit.judgements.iter().filter(|j| !j.text.traits.own_lane) {
        let Answer::Found(found) = &judgement.answer else { continue };
        let weighing = || found.iter().filter(|f| f.severity > Severity::Note);
        let Some(worst) = weighing().map(|f| f.severity).max() else { continue };
        let spans = joined(
            weighing().flat_map(|f| &f.marks).map(|m| (axis.covered(m.first).0, axis.covered(m.last).1)),
        );
        let frames: u64 = weighing().flat_map(|f| &f.marks).map(|m| m.len() as u64).sum();
        let class = if worst == Severity::Fault { "fault" } else { "caution" };
        lane(class, judgement.text.id, format!("{}, {}", worst.word(), counted(frames, "frame")), spans);
    }
    let (count, spans) = frames(|s| s == FrameState::Surplus);
    lane("surplus", "surplus", counted(count, "frame"), spans);
    let (count, spans) = frames(|s| s == FrameState::Outside);
    let far = evidence.all().filter(|f| f.is_outside() && !axis.holds(f.at())).count();
    let far = if far > 0 { format!(", {far} of them beyond both ends") } else { String::new() };
    lane("outside", "not of the run", counted(count, "frame") + &far, spans);
    if let Some(run) = all.first_mut().filter(|lane| lane.class == "held") {
        run.not_shot.clone_from(&axis.not_shot);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn each_kind_stands_at_its_place() {
        let audit = sample::audit();
        let told: Vec<_> = lanes(&audit, &Axis::new(&audit, 1600))
            .into_iter()
            .map(|l| (l.label, l.words, l.spans))
            .collect();
        let lane = |label: &str, words: &str, spans: &[(usize, usize)]| {
            (label.to_owned(), words.to_owned(), spans.to_vec())
        };
        assert_eq!(
            told,
            [
                lane("the run", "5 frames", &[(0, 2), (5, 6)]),
                lane("missing", "2 slots in 1 place", &[(3, 4)]),
                lane("damaged", "1 frame", &[(6, 6)]),
                lane("in doubt", "1 finding", &[(2, 5)]),
                lane("surplus", "1 frame", &[(5, 5)]),
            ]
        );
    }
}
