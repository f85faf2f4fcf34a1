//! The frames of the run by name, in the ways in which programs sort, beside the order in which they were
//! shot.

use crate::checks::common::not_of_the_run;
use crate::evidence::timing::OrderBasis;
use crate::evidence::{CardFile, FrameState, Sequence, natural_names};
use crate::units::Micros;
use std::cmp::Ordering;

/// How a program sorts names.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) struct Sort {
    /// Numbers count as numbers; else letter by letter.
    natural: bool,
    /// All files in one row; else folder by folder.
    flat: bool,
}

/// The ways that are tried: folder by folder and in one row, each with numbers as numbers and letter by
/// letter.
pub(crate) const SORTS: [Sort; 4] = [
    Sort { natural: true, flat: false },
    Sort { natural: false, flat: false },
    Sort { natural: true, flat: true },
    Sort { natural: false, flat: true },
];

/// The frames of the run whose place in capture order is known.
pub(crate) struct Run<'a> {
    evidence: &'a Sequence,
    /// Position of each frame, and what capture order goes by: the position itself, or the stamp, µs. In that
    /// order.
    shot: Vec<(usize, i64)>,
    /// For each root of the card, the position of its first frame: cards are imported in the order in which
    /// they were shot.
    roots: Vec<usize>,
}

impl<'a> Run<'a> {
    /// Those frames.
    pub(crate) fn of(evidence: &'a Sequence) -> Self {
        let stamp = |at: usize| evidence.frame(at).stamp().map(|s| s.at.micros().get());
        let by_stamp = evidence.timing.basis == OrderBasis::Stamps || !displaced(evidence).is_empty();
        let asked = asked(evidence);
        let all = (0..evidence.len()).filter(|at| asked(*at).is_none());
        let mut shot: Vec<(usize, i64)> = match by_stamp {
            true => all.filter_map(|at| Some((at, stamp(at)?))).collect(),
            false => all.map(|at| (at, at as i64)).collect(),
        };
        shot.sort_by_key(|s| s.1);
        let mut roots = vec![usize::MAX; evidence.frames.card.roots.len()];
        for (at, _) in &shot {
            if let Some(first) = roots.get_mut(root(evidence, *at)) {
                *first = (*first).min(*at);
            }
        }
        Self { evidence, shot, roots }
    }

    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.shot.len()
    }

    /// True where two frames lie in different folders.
    pub(crate) fn parted(&self, a: usize, b: usize) -> bool {
        file(self.evidence, a).folder != file(self.evidence, b).folder
    }

    fn compare(&self, sort: Sort, a: usize, b: usize) -> Ordering {
        let (first, second) = (file(self.evidence, a), file(self.evidence, b));
        let names = || match sort.natural {
            true => natural_names(&first.name, &second.name),
            false => first.name.as_encoded_bytes().cmp(second.name.as_encoded_bytes()),
        };
        if sort.flat || first.folder == second.folder {
            return names();
        }
        let card = |at: usize| self.roots.get(root(self.evidence, at));
        let folders = &self.evidence.frames.card.folders;
        let path = |file: &CardFile| folders.get(file.folder as usize).map(|f| f.path.as_os_str());
        card(a)
            .cmp(&card(b))
            .then_with(|| match sort.natural {
                // The card's folders stand in natural order.
                true => first.folder.cmp(&second.folder),
                false => path(first).cmp(&path(second)),
            })
            .then_with(names)
    }

    /// The frames in the order of their names.
    fn sorted(&self, sort: Sort) -> Vec<(usize, i64)> {
        let mut all = self.shot.clone();
        all.sort_by(|a, b| self.compare(sort, a.0, b.0));
        all
    }

    /// Neighbours by name of which the second was shot earlier; `None` where two names are one, and one
    /// folder cannot hold both.
    pub(crate) fn places(&self, sort: Sort) -> Option<Vec<(usize, usize)>> {
        // Nearly every card is in order as it stands, and needs no sorting.
        if !sort.flat && self.shot.is_sorted_by(|a, b| self.compare(sort, a.0, b.0).is_le()) {
            return Some(Vec::new());
        }
        let sorted = self.sorted(sort);
        let name = |at: usize| file(self.evidence, at).name.as_encoded_bytes();
        let clash = |w: &[(usize, i64)]| name(w[0].0).eq_ignore_ascii_case(name(w[1].0));
        if sort.flat && sorted.windows(2).any(clash) {
            return None;
        }
        Some(sorted.windows(2).filter(|w| w[1].1 < w[0].1).map(|w| (w[0].0, w[1].0)).collect())
    }

    /// The order of capture in pieces in which the names of this order run on: `A`, or `A to B`.
    pub(crate) fn pieces(&self, sort: Sort) -> Vec<String> {
        let mut by_name = vec![0_usize; self.evidence.len()];
        for (rank, (at, _)) in self.sorted(sort).iter().enumerate() {
            by_name[*at] = rank;
        }
        let mut shot = self.shot.clone();
        // Of frames with one stamp the names may tell the order.
        shot.sort_by_key(|(at, when)| (*when, by_name[*at]));
        let runs_on = |a: &(usize, i64), b: &(usize, i64)| by_name[a.0] + 1 == by_name[b.0];
        let name = |at: usize| self.evidence.frame(at).name();
        shot.chunk_by(runs_on)
            .filter_map(|piece| match piece {
                [] => None,
                [one] => Some(name(one.0)),
                [first, .., last] => Some(format!("{} to {}", name(first.0), name(last.0))),
            })
            .collect()
    }
}

/// Why a frame is not asked; `None` where it is. The frames of the run are, surplus ones with them: after a
/// clock that was set back, half of the frames that share its stretch pass for surplus. Where most frames lie
/// outside of the run, all of its camera are: fired by hand or by motion they are one clip, of which only a
/// part keeps a pace.
pub(crate) fn asked(evidence: &Sequence) -> impl Fn(usize) -> Option<&'static str> + '_ {
    let outside = evidence.count(FrameState::Outside);
    let mostly_outside = outside > evidence.len() as u64 - outside;
    let camera = |at: usize| evidence.frame(at).row().camera.known();
    let own = evidence.in_run().find_map(camera);
    move |at| match evidence.frame(at).state() {
        FrameState::Outside
            if mostly_outside && camera(at).is_none_or(|c| own.is_none_or(|own| c == own)) =>
        {
            None
        }
        FrameState::Surplus if evidence.copies.binary_search_by_key(&at, |copy| copy.0).is_err() => None,
        FrameState::Surplus => Some("a copy of another frame"),
        _ => not_of_the_run(evidence, at),
    }
}

fn file(evidence: &Sequence, at: usize) -> &CardFile {
    &evidence.frames.card.shots[at].file
}

fn root(evidence: &Sequence, at: usize) -> usize {
    let folder = file(evidence, at).folder as usize;
    evidence.frames.card.folders.get(folder).map_or(0, |f| usize::from(f.root))
}

/// Neighbours by a camera's number whose stamps run backwards because a file bears another one's name.
///
/// A clock that was set back makes stamps run backwards too. Then frames before and after it share stretches
/// of the clock, or none: more frames stand between the two stamps than the interval has room for, or no
/// frame before or after lies beyond them. Where a file was renamed each slot of the clock still has one
/// frame.
fn displaced(evidence: &Sequence) -> Vec<(usize, usize)> {
    let timing = &evidence.timing;
    let Some(interval_s) = timing.cadence.as_ref().map(|c| c.interval_s) else { return Vec::new() };
    if timing.basis != OrderBasis::Numbers || timing.backwards.is_empty() {
        return Vec::new();
    }
    let interval = Micros::truncated(interval_s);
    let stamp = |at: usize| evidence.frame(at).stamp().map(|s| s.at.micros());
    let run: Vec<(usize, Micros)> = evidence.in_run().filter_map(|at| Some((at, stamp(at)?))).collect();
    let mut stamps: Vec<Micros> = run.iter().map(|r| r.1).collect();
    stamps.sort_unstable();
    let in_run = |at: usize| run.binary_search_by_key(&at, |r| r.0).is_ok();
    let is_displaced = |&(before, after): &(usize, usize)| {
        let (Some(late), Some(early)) = (stamp(before), stamp(after)) else { return false };
        let (from, to) = (early - interval / 2, late + interval / 2);
        let between = stamps.partition_point(|s| *s <= to) - stamps.partition_point(|s| *s < from);
        let room = (late - early).ratio(interval.max(Micros::ONE)) + 1.5;
        let split = run.partition_point(|r| r.0 <= before);
        let goes_on = run[split..].iter().any(|r| r.1 > late) || run[..split].iter().any(|r| r.1 < early);
        in_run(before) && in_run(after) && goes_on && between as f64 <= room
    };
    timing.backwards.iter().filter(|pair| is_displaced(pair)).copied().collect()
}
