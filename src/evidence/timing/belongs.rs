//! Parts at the ends of a job: whether they are the run's own. How they keep its pace, what the plan still
//! lacks and how they were exposed are weighed against how rarely a run stands so near an end.

use super::ends::{self, End, Weighed};
use super::neighbours::ExposureParameter;
use super::own::{Beside, NEAR_PACE, SETTLED};
use super::placement::Begins;
use super::run::{APART_S, Choice, OWN_FRAMES, Part, SET_UP_EV};

/// Frames no farther apart than this many intervals are parted by no stop.
const NO_STOP: f64 = 1.5;
/// A whole number of intervals tells something where it is hit by chance no oftener than this.
const TELLING: f64 = 0.15;
/// A few frames of another pace lie no farther apart than this many of its intervals.
const MISSED_AMONG: f64 = 3.0;
/// Odds, nats, from which nothing farther out can bring the parts before it back.
const HOPELESS: f64 = 100.0;

impl Choice<'_> {
    /// The parts before (or behind) the main one, nearest first, with single frames that follow one another
    /// at a pace as one.
    fn outwards(&self, job: &[Part], main: &Part, before: bool) -> Vec<Part> {
        let mut parts: Vec<Part> = if before {
            job.iter().rev().filter(|p| p.last < main.first).copied().collect()
        } else {
            job.iter().filter(|p| p.first > main.last).copied().collect()
        };
        // Frames that a reading left off every grid may still keep a pace among themselves.
        // So may two whose gap a reading took for an interval of its own: it may be whole ones of the run.
        let pair = |p: &Part| {
            let longer = |(own, run): ((f64, f64), (f64, f64))| own.0 > run.1 * (1.0 + NEAR_PACE);
            p.last == p.first + 1 && p.interval.zip(main.interval).is_some_and(longer)
        };
        parts = parts.into_iter().flat_map(|p| singles(p, pair(&p), before)).collect();
        let mut from = 0;
        while from + 1 < parts.len() {
            if let Some((links, interval, within_s)) = self.chain(&parts[from..], main) {
                let all = &parts[from..=from + links];
                let first = all.iter().map(|p| p.first).min().unwrap_or_default();
                let last = all.iter().map(|p| p.last).max().unwrap_or_default();
                let chain = Part {
                    first,
                    last,
                    on: links + 1,
                    interval: Some(interval),
                    chained_within_s: Some(within_s),
                };
                parts.splice(from..=from + links, [chain]);
            }
            from += 1;
        }
        self.near_ones(parts, main)
    }

    /// The parts with single frames that no gap parts drawn together: between them the timer did not stand.
    fn near_ones(&self, parts: Vec<Part>, main: &Part) -> Vec<Part> {
        let longest_s = main.interval.map_or(0.0, |i| NO_STOP * i.1);
        let mut out: Vec<Part> = Vec::with_capacity(parts.len());
        for part in parts {
            let near = |p: &&mut Part| {
                let (a, b) = (p.first.min(part.first), p.last.max(part.last));
                let gap = (self.stamps[b] - self.stamps[a]).seconds();
                p.interval.is_none() && part.first == part.last && b - a == p.on && gap <= longest_s
            };
            match out.last_mut().filter(near) {
                Some(p) => {
                    *p = Part {
                        first: p.first.min(part.first),
                        last: p.last.max(part.last),
                        on: p.on + 1,
                        ..*p
                    };
                }
                None => out.push(part),
            }
        }
        out
    }

    /// How many steps from the first of these parts, single frames all, are alike or whole intervals of the
    /// run, with the interval and the width of the window that such a step may end in, s.
    fn chain(&self, parts: &[Part], main: &Part) -> Option<(usize, (f64, f64), f64)> {
        let single = |p: &Part| p.first == p.last;
        let slack = self.asked.resolution_s() + 2.0 * self.widening_s + 0.02;
        let gap = |p: &Part, q: &Part| {
            (self.stamps[p.first.max(q.first)] - self.stamps[p.first.min(q.first)]).seconds()
        };
        // Two shots by hand are always at some distance, but seldom at the run's, or at a whole number of it.
        if let Some((low, high)) = main.interval {
            let due = |w: &[Part]| {
                let gap = gap(&w[0], &w[1]);
                let slots = (gap / (0.5 * (low + high))).round();
                let near = if slots == 1.0 { NEAR_PACE * low } else { 0.0 };
                let miss = slack + 0.5 * slots * (high - low) + near;
                let tells = slots == 1.0 || miss < TELLING * low;
                (slots >= 1.0 && tells && (gap - slots * 0.5 * (low + high)).abs() <= miss)
                    .then_some(2.0 * miss)
            };
            let links: Vec<f64> =
                parts.windows(2).map_while(|w| due(w).filter(|_| w.iter().all(single))).collect();
            if let Some(widest) = links.iter().copied().max_by(f64::total_cmp) {
                return Some((links.len(), (low, high), widest));
            }
        }
        let gaps = parts.windows(2).take_while(|w| w.iter().all(single)).map(|w| gap(&w[0], &w[1]));
        let gaps: Vec<f64> = gaps.collect();
        let mut usual = gap(&parts[0], &parts[1]);
        let mut links = gaps.iter().take_while(|g| (**g - usual).abs() <= slack).count();
        if links < 2 {
            // A timer that fires so seldom may have missed a slot among so few frames. Where a file is lost
            // `echo` knows it by its number.
            usual = gaps.iter().take(2).copied().fold(f64::INFINITY, f64::min);
            let rare = (usual / (2.0 * slack * MISSED_AMONG)).ln() >= ends::SURE;
            let slots = |g: f64| (g / usual).round();
            let due = |g: &&f64| slots(**g) <= MISSED_AMONG && (**g - slots(**g) * usual).abs() <= slack;
            links = gaps.iter().take_while(due).count();
            let (from, to) = (parts[0].first.min(parts[links].first), parts[0].first.max(parts[links].first));
            if !rare || !(from..to).all(|i| self.neighbours.run_on(i, i + 1)) {
                return None;
            }
        }
        (links >= 2).then_some((links, (usual - slack, usual + slack), 2.0 * slack))
    }

    /// True where the frames of a part are just those that the plan still lacks. Shots that were exposed
    /// otherwise than a locked run, and do not keep its pace, are as many by chance.
    fn completes(&self, part: &Part, (main, locked): (&Part, bool), frames_without: u64) -> bool {
        let frames = (part.last - part.first + 1) as u64;
        let at = if part.first > main.last { part.first - 1 } else { part.last };
        let same_pace = |own: (f64, f64)| main.interval.is_some_and(|i| own.0 <= i.1 && own.1 >= i.0);
        let trial = locked && self.neighbours.differ(at, at + 1) && !part.interval.is_some_and(same_pace);
        self.frames.is_some_and(|asked| frames_without + frames == asked)
            && !trial
            && (part.first..part.last).all(|i| self.neighbours.run_on(i, i + 1))
    }

    /// True for the single frame of a first or last working day, which has no pace of its own: it is asked
    /// for, nothing was due between it and the frames of the day beside it, and it was exposed as these were.
    fn only_of_day(&self, part: &Part, frames_without: u64) -> bool {
        let beside = |after: usize| {
            let night = self.pieces.iter().find(|p| p.first == after).map(|p| p.begins);
            after > 0 && night == Some(Begins::Night { due: 0 }) && !self.neighbours.differ(after - 1, after)
        };
        part.first == part.last
            && self.frames.is_some_and(|asked| frames_without < asked)
            && (beside(part.first) || beside(part.last + 1))
    }

    /// The first frame of the run: the parts before the main one are taken from it outwards, while the odds
    /// that all of them are the run's do not fall below what would settle that they are not.
    pub(super) fn head(&self, job: &[Part], main: &Part) -> (usize, Option<End>) {
        let behind = (job[job.len() - 1].last - main.first + 1) as u64;
        let (mut first, mut sure, mut odds, mut kept) = (main.first, main.first, 0.0, 0.0);
        let locked = self.locked(main.first, main.last);
        let (mut nearer, mut rare) = (None, ends::RARE);
        for part in &self.outwards(job, main, true) {
            let without = (job[job.len() - 1].last - part.last) as u64;
            let asked = self.only_of_day(part, behind) || self.completes(part, (main, locked), without);
            let nearer_one = nearer.as_ref();
            let beside = Beside { choice: self, part, main, locked, nearer: nearer_one, without: behind };
            odds +=
                if asked { SETTLED } else { beside.evidence() - std::mem::replace(&mut rare, ends::AGAIN) };
            nearer = Some(*part);
            if odds >= -ends::SURE {
                (first, kept) = (part.first, odds);
                sure = if odds >= ends::SURE { first } else { sure };
            }
            if odds < -HOPELESS {
                break;
            }
        }
        (first, (first < sure).then_some(End { after: sure, odds: kept }))
    }

    /// The last frame of the run, likewise.
    pub(super) fn tail(&self, job: &[Part], main: &Part) -> (usize, Option<End>) {
        let before = (main.last - job[0].first + 1) as u64;
        let (mut last, mut sure, mut odds, mut kept) = (main.last, main.last, 0.0, 0.0);
        let locked = self.locked(main.first, main.last);
        let (mut nearer, mut rare) = (None, ends::RARE);
        for part in &self.outwards(job, main, false) {
            let without = (part.first - job[0].first) as u64;
            let asked = self.only_of_day(part, before) || self.completes(part, (main, locked), without);
            let nearer_one = nearer.as_ref();
            let beside = Beside { choice: self, part, main, locked, nearer: nearer_one, without: before };
            odds +=
                if asked { SETTLED } else { beside.evidence() - std::mem::replace(&mut rare, ends::AGAIN) };
            nearer = Some(*part);
            if odds >= -ends::SURE {
                (last, kept) = (part.last, odds);
                sure = if odds >= ends::SURE { last } else { sure };
            }
            if odds < -HOPELESS {
                break;
            }
        }
        (last, (last > sure).then_some(End { after: sure + 1, odds: kept }))
    }

    /// A long rest, the same interval behind it, and a setting that each side keeps and the two do not share:
    /// it may as well part two shoots, and the smaller side is in doubt. Nights that a plan asks for part
    /// none, and a setting that follows the light is no other one.
    pub(super) fn two_shoots(&self, (first, last): (usize, usize), ends: &mut Weighed) {
        for at in first..last {
            let gap_s = (self.stamps[at + 1] - self.stamps[at]).seconds();
            if gap_s <= APART_S || self.neighbours.together(at, at + 1) {
                continue;
            }
            let far = |a: usize, b: usize, what| self.neighbours.change(a, b, what) > SET_UP_EV;
            let anew = |what| far(at, at + 1, what) && !far(first, at, what) && !far(at + 1, last, what);
            if !ExposureParameter::ALL.into_iter().any(anew) {
                continue;
            }
            let end = End { after: at + 1, odds: 0.0 };
            if at - first < last - at {
                ends.head = ends.head.filter(|h| h.after > end.after).or(Some(end));
            } else {
                ends.tail = ends.tail.filter(|t| t.after < end.after).or(Some(end));
            }
        }
    }
}

/// A part as it is, or frame by frame where that is asked for, or its frames are few and not all on its grid.
fn singles(part: Part, asked: bool, backwards: bool) -> Vec<Part> {
    let frames = part.last - part.first + 1;
    if !asked && (part.on >= frames || frames >= 2 * OWN_FRAMES) {
        return vec![part];
    }
    let one = |at: usize| Part { first: at, last: at, on: 1, interval: None, chained_within_s: None };
    let mut all: Vec<Part> = (part.first..=part.last).map(one).collect();
    if backwards {
        all.reverse();
    }
    all
}
