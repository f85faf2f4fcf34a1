//! The run-through: every slot around what went wrong, so that it is seen as the clip would play it, and the
//! rest of the run thinned.

use super::lines::{self, Line};
use super::story::places;
use crate::audit::Audit;
use crate::finding::Finding;
use crate::units::CivilTime;
use crate::verdict::Which;
use std::collections::{BTreeMap, BTreeSet};

/// Slots that are shown at most.
pub(crate) const MOST: usize = 240;
/// Of these at most so many stand around problems.
const CLOSE: u64 = 144;
/// Slots that are shown before and behind a problem: half a second of a clip at 25 fps (common practice, no
/// source).
pub(crate) const BESIDE: u64 = 12;

/// One picture of the run-through: a frame, or a slot that holds none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tick {
    /// The frame; `None` for a missing slot.
    pub at: Option<usize>,
    /// The slot, where it is known.
    pub slot: Option<i64>,
    /// It stands for one of so many slots; 1 where every slot is shown.
    pub step: u64,
    /// The incident that it belongs to, as an index; `None` between them.
    pub problem: Option<usize>,
    /// True where this very frame or slot is what is wrong.
    pub wrong: bool,
}

impl Tick {
    /// When it was shot, or was due.
    pub fn moment(&self, audit: &Audit) -> Option<CivilTime> {
        match self.at {
            Some(at) => audit.evidence.frame(at).moment(),
            None => self.slot.and_then(|slot| audit.schedule.due(&audit.evidence, slot)),
        }
    }
}

/// What is shown of a run, in its order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reel {
    /// The pictures.
    pub ticks: Vec<Tick>,
    /// Slots of the run.
    pub slots: u64,
}

/// Slots from the first one on, up to the one behind the last: counted along the run, frames and missing
/// ones alike.
type Slots = (u64, u64);

/// The run-through of an audit.
pub(crate) fn reel(audit: &Audit) -> Reel {
    let (starts, slots) = counted(audit);
    let near = places_of(audit, &starts);
    let mut ticks = resolved(audit, &chosen(&windows(&near, slots), slots));
    for (tick, own) in &mut ticks {
        tick.problem = near.iter().find(|(_, place)| place.0 <= *own && *own < place.1).map(|n| n.0);
        tick.wrong = tick.at.is_none() && tick.problem.is_some();
    }
    let mut ticks: Vec<Tick> = ticks.into_iter().map(|(tick, _)| tick).collect();
    mark(audit, &mut ticks);
    Reel { ticks, slots }
}

/// Slots of the run before each frame, and in all.
fn counted(audit: &Audit) -> (Vec<u64>, u64) {
    let mut starts = Vec::with_capacity(audit.evidence.frames.len());
    let mut slots = 0_u64;
    for line in lines::lines(audit) {
        if matches!(line, Line::Frame(_)) {
            starts.push(slots);
        }
        slots = slots.saturating_add(width(audit, &line));
    }
    (starts, slots)
}

fn width(audit: &Audit, line: &Line<'_>) -> u64 {
    match line {
        Line::Frame(at) => u64::from(audit.evidence.frame(*at).stands()),
        Line::Hole(hole) => hole.slots,
    }
}

/// Where each incident shows: the first place of each, then the second of each, and so on.
fn places_of(audit: &Audit, starts: &[u64]) -> Vec<(usize, Slots)> {
    let mut all = Vec::new();
    for (n, incident) in audit.verdict.incidents.iter().enumerate() {
        for (nth, span) in places(audit, incident).into_iter().enumerate() {
            if let (Some(first), Some(last)) = (starts.get(span.first), starts.get(span.last)) {
                all.push((nth, n, (*first, last.saturating_add(1))));
            }
        }
    }
    all.sort_by_key(|(nth, n, _)| (*nth, *n));
    all.into_iter().map(|(_, n, place)| (n, place)).collect()
}

/// The parts that are shown whole, in order and apart. Of a long place its beginning and its end are.
fn windows(near: &[(usize, Slots)], slots: u64) -> Vec<Slots> {
    if slots <= MOST as u64 {
        return vec![(0, slots)];
    }
    let beside = |from: u64, to: u64| (from.saturating_sub(BESIDE), to.saturating_add(BESIDE).min(slots));
    let mut kept: Vec<Slots> = Vec::new();
    for (_, (from, to)) in near {
        let ends = match to - from > 2 * BESIDE {
            true => vec![beside(*from, *from + 1), beside(to - 1, *to)],
            false => vec![beside(*from, *to)],
        };
        for window in ends {
            let more = joined(&kept, window);
            if more.iter().map(|(from, to)| to - from).sum::<u64>() > CLOSE {
                return kept;
            }
            kept = more;
        }
    }
    kept
}

/// The windows with one more; those that touch are one.
fn joined(windows: &[Slots], more: Slots) -> Vec<Slots> {
    let mut all = [windows, &[more]].concat();
    all.sort_unstable();
    let mut apart: Vec<Slots> = Vec::new();
    for window in all {
        match apart.last_mut().filter(|before| window.0 <= before.1) {
            Some(before) => before.1 = before.1.max(window.1),
            None => apart.push(window),
        }
    }
    apart
}

/// The slots that are shown, and of how many each is one. Which of the rest stands for its neighbours changes
/// from one to the next: every other slot missing is not all of them or none.
fn chosen(windows: &[Slots], slots: u64) -> Vec<(u64, u64)> {
    let close: u64 = windows.iter().map(|(from, to)| to - from).sum();
    let every = (slots - close).div_ceil((MOST as u64).saturating_sub(close).max(1)).max(1);
    let mut all = Vec::new();
    let (mut n, mut before, mut behind) = (0_u64, 0_u64, 0_u64);
    for (from, to) in windows.iter().copied().chain([(slots, slots)]) {
        // `before` counts the rest alone.
        let until = before + (from - behind);
        while let Some(due) = n.checked_mul(every).and_then(|d| d.checked_add(n % every)) {
            if due >= until {
                break;
            }
            all.push((behind + (due - before), every));
            n += 1;
        }
        all.extend((from..to).map(|slot| (slot, 1)));
        (before, behind) = (until, to);
    }
    all
}

/// What stands in the slots chosen, each with its place along the run.
fn resolved(audit: &Audit, chosen: &[(u64, u64)]) -> Vec<(Tick, u64)> {
    let mut ticks = Vec::with_capacity(chosen.len());
    let mut due = chosen.iter().copied().peekable();
    let mut own = 0_u64;
    for line in lines::lines(audit) {
        let after = own.saturating_add(width(audit, &line));
        while let Some((place, step)) = due.next_if(|(place, _)| *place < after) {
            let (at, slot) = match line {
                Line::Frame(at) => (Some(at), audit.evidence.frame(at).slot()),
                Line::Hole(hole) => (None, hole.slot.checked_add_unsigned(place - own)),
            };
            ticks.push((Tick { at, slot, step, problem: None, wrong: false }, place));
        }
        own = after;
    }
    ticks
}

/// Marks what the findings of the incidents mark. Of what goes on for long the two ends are marked, so that
/// what lies within it shows too; what covers the whole run begins nowhere, and its end is marked.
fn mark(audit: &Audit, ticks: &mut [Tick]) {
    let shown: BTreeMap<usize, usize> =
        ticks.iter().enumerate().filter_map(|(n, tick)| Some((tick.at?, n))).collect();
    let begins = audit.evidence.in_run().next();
    for (n, incident) in audit.verdict.incidents.iter().enumerate() {
        for span in incident.findings.iter().filter_map(|w| found(audit, w)).flat_map(|f| &f.marks) {
            let own = shown.range(span.first..=span.last.max(span.first)).map(|(_, place)| *place);
            let long = (span.last - span.first) as u64 > 2 * BESIDE;
            let marked = if long {
                ends(own, begins.is_some_and(|begins| span.first > begins))
            } else {
                own.collect()
            };
            for place in marked {
                let tick = &mut ticks[place];
                // Where something long ends is told of that, whatever goes on around it.
                tick.problem = tick.problem.filter(|_| !long).or(Some(n));
                tick.wrong = true;
            }
        }
    }
}

/// The first of the pictures, where that is one of the ends, and the last.
fn ends(mut own: impl DoubleEndedIterator<Item = usize>, first_too: bool) -> Vec<usize> {
    let first = own.next();
    let last = own.next_back();
    let first = if first_too || last.is_none() { first } else { None };
    first.into_iter().chain(last).collect()
}

fn found<'a>(audit: &'a Audit, which: &Which) -> Option<&'a Finding> {
    audit.judgements.iter().find(|j| j.text.id == which.check)?.findings().get(which.nth)
}

impl Reel {
    /// Thinned until it `fits`: the rest first, and what stands around problems only where that is not
    /// enough.
    #[must_use]
    pub fn thinned(self, fits: impl Fn(&[Tick]) -> bool) -> Self {
        let doubled = || (0..=MOST.ilog2()).map(|n| 1_usize << n);
        let alone = doubled().map(|rest| (rest, 1));
        let both = doubled().map(|close| (MOST, close));
        for (rest, close) in alone.chain(both) {
            let ticks = self.kept(rest, close);
            if fits(&ticks) {
                return Self { ticks, ..self };
            }
        }
        Self { ticks: Vec::new(), ..self }
    }

    fn kept(&self, rest: usize, close: usize) -> Vec<Tick> {
        let mut seen = [0_usize; 2];
        let mut kept = Vec::new();
        for tick in &self.ticks {
            let thin = tick.step > 1;
            let every = if thin { rest } else { close };
            let n = &mut seen[usize::from(thin)];
            if *n % every == (*n / every) % every {
                kept.push(Tick { step: tick.step.saturating_mul(every as u64), ..*tick });
            }
            *n += 1;
        }
        kept
    }

    /// Where problems are gone to, as indices of pictures: each beginning of what is wrong, the end of what
    /// goes on for long, and incidents that no picture shows at the first one that belongs to them.
    pub fn stops(&self) -> Vec<usize> {
        let mut stops = BTreeSet::new();
        let mut begun: Option<usize> = None;
        for (n, tick) in self.ticks.iter().enumerate() {
            let goes_on = begun.is_some_and(|b| tick.wrong && self.ticks[b].problem == tick.problem);
            if goes_on {
                continue;
            }
            stops.extend(begun.filter(|b| (n - b) as u64 > BESIDE).map(|_| n - 1));
            begun = tick.wrong.then_some(n);
            stops.extend(begun);
        }
        stops.extend(begun.filter(|b| (self.ticks.len() - b) as u64 > BESIDE).map(|_| self.ticks.len() - 1));
        let told: BTreeSet<usize> =
            self.ticks.iter().filter(|t| t.wrong).filter_map(|tick| tick.problem).collect();
        let mut silent = BTreeSet::new();
        for (n, tick) in self.ticks.iter().enumerate() {
            if let Some(problem) = tick.problem.filter(|p| !told.contains(p))
                && silent.insert(problem)
            {
                stops.insert(n);
            }
        }
        stops.into_iter().collect()
    }

    /// The parts of which not every slot is shown: first and last picture, and of how many slots each is one.
    pub fn skips(&self) -> Vec<(&Tick, &Tick, u64)> {
        let parts = self.ticks.chunk_by(|a, b| a.step == b.step).filter(|part| part[0].step > 1);
        parts.filter_map(|part| Some((part.first()?, part.last()?, part[0].step))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    /// The sample with one hole of so many slots, which makes the run five slots longer than that.
    fn with_hole(slots: u64) -> Audit {
        let mut audit = sample::audit();
        audit.evidence.timing.holes[0].slots = slots;
        audit
    }

    #[test]
    fn a_short_run_is_shown_whole_in_its_order() {
        let reel = reel(&sample::audit());
        let at: Vec<_> = reel.ticks.iter().map(|t| t.at).collect();
        assert_eq!(at, [Some(1), Some(2), Some(3), None, None, Some(4), Some(6)]);
        assert!(reel.ticks.iter().all(|t| t.step == 1) && reel.skips().is_empty());
        assert_eq!((reel.ticks[3].slot, reel.slots), (Some(3), 7));
    }

    #[test]
    fn a_long_run_is_thinned_and_ends() {
        let reel_of = |slots| reel(&with_hole(slots));
        let long = reel_of(10_000);
        assert!(long.ticks.len() <= MOST && long.slots == 10_005, "{}", long.ticks.len());
        assert!(reel_of(u64::MAX - 2).ticks.len() <= MOST + 1);
    }

    /// The hole of 10,000 slots is one incident: its beginning and its end are shown slot by slot, what lies
    /// between is thinned, and both ends are gone to.
    #[test]
    fn around_a_problem_every_slot_is_shown() {
        let audit = with_hole(10_000);
        assert!(!audit.verdict.incidents.is_empty(), "the sample holds an incident");
        let reel = reel(&audit);
        let steps: Vec<u64> = reel.ticks.iter().map(|t| t.step).collect();
        let close = steps.iter().take_while(|s| **s == 1).count() as u64;
        assert!(close > BESIDE, "{steps:?}");
        assert_eq!(steps.last(), Some(&1));
        let skips = reel.skips();
        assert_eq!(skips.len(), 1);
        let every = skips[0].2;
        assert!(every > 1 && every * MOST as u64 > 10_000, "{every}");
        let stops = reel.stops();
        assert!(stops.len() >= 2, "{stops:?}");
        assert!(reel.ticks[stops[0]].at.is_none() && reel.ticks[stops[0] - 1].at == Some(3), "{stops:?}");
    }

    #[test]
    fn every_other_slot_missing_is_seen_as_that() {
        let all = chosen(&[], 2000);
        assert!(all.len() <= MOST && all[0].1 == 2000_u64.div_ceil(MOST as u64));
        assert!(all.windows(2).any(|w| (w[1].0 - w[0].0) % 2 != 0), "both parities are met: {all:?}");
        assert!(all.windows(2).all(|w| w[0].0 < w[1].0));
    }

    /// What is between windows is counted on from one to the next, and nothing is shown twice.
    #[test]
    fn windows_are_whole_and_the_rest_is_even() {
        let windows = [(0, 20), (500, 550), (4990, 5000)];
        let all = chosen(&windows, 5000);
        assert!(all.len() <= MOST + 1 && all.windows(2).all(|w| w[0].0 < w[1].0), "{}", all.len());
        for (from, to) in windows {
            assert!((from..to).all(|slot| all.contains(&(slot, 1))));
        }
        let rest: Vec<u64> = all.iter().filter(|a| a.1 > 1).map(|a| a.0).collect();
        let every = all.iter().map(|a| a.1).max().expect("some");
        assert!(rest.windows(2).all(|w| w[1] - w[0] <= every + 1 + 50), "{rest:?}");
    }

    #[test]
    fn what_stands_around_problems_is_thinned_last() {
        let tick = |step| Tick { at: Some(0), slot: None, step, problem: None, wrong: false };
        let ticks = [vec![tick(1); 40], vec![tick(6); 100]].concat();
        let reel = Reel { ticks, slots: 640 };
        let fits = |most: usize| {
            let ticks = reel.clone().thinned(move |ticks| ticks.len() <= most).ticks;
            let close = ticks.iter().filter(|t| t.step < 6).count();
            (close, ticks.len() - close, ticks.first().map(|t| t.step), ticks.last().map(|t| t.step))
        };
        assert_eq!(fits(140), (40, 100, Some(1), Some(6)));
        assert_eq!(fits(90), (40, 50, Some(1), Some(12)));
        assert!(fits(21).0 == 20 && fits(0) == (0, 0, None, None));
    }

    #[test]
    fn what_covers_the_whole_run_is_marked_at_its_end() {
        assert_eq!(ends([4, 5, 6].into_iter(), true), [4, 6]);
        assert_eq!(ends([4, 5, 6].into_iter(), false), [6]);
        assert_eq!(ends([4].into_iter(), false), [4]);
        assert!(ends(std::iter::empty(), true).is_empty());
    }

    #[test]
    fn a_long_problem_has_two_ends() {
        let tick = |problem: Option<usize>, wrong| Tick { at: Some(0), slot: None, step: 1, problem, wrong };
        let ticks = [
            vec![tick(None, false); 3],
            vec![tick(Some(0), true); 20],
            vec![tick(None, false); 2],
            vec![tick(Some(1), false); 4],
            vec![tick(Some(0), true); 1],
        ]
        .concat();
        assert_eq!(Reel { ticks, slots: 30 }.stops(), [3, 22, 25, 29]);
    }
}
