//! Which frames are the run. A card holds test shots, a slate, an older job and a hand-fired tail: what lies outside the run is
//! told as such and is never counted missing or surplus.

use super::assemble::no_grid;
use super::bounds;
use super::placement::{Begins, How, Piece, Place};
use super::readings::Asked;
use crate::units::Micros;
use crate::units::time::SECOND;

/// A gap this long, s, and this many intervals long, parts two jobs.
pub const APART_S: f64 = 45.0 * 60.0;
const APART_INTERVALS: f64 = 100.0;
/// A piece at either end is part of the run where it holds this many frames on the run's own interval.
const OWN_FRAMES: usize = 6;
/// Or on one that is this near the run's, as a share, with no slot missing.
const NEAR_PACE: f64 = 0.05;
/// A handful of frames at either end, parted from the rest by a hole longer than this many slots, is not the run.
const HANDFUL: usize = 5;
const LONG_HOLE: i64 = 10;
/// Frames at an end that are looked at for standing on the run's line after all.
const MOST_BACK: usize = 12;

/// What the run is chosen from and by.
pub struct Choice<'a> {
    /// Stamps, µs, in capture order.
    pub stamps: &'a [Micros],
    /// Their places.
    pub places: &'a [Place],
    /// The pieces they form.
    pub pieces: &'a [Piece],
    /// Resolution and planned interval.
    pub asked: Asked,
    /// Frames asked for by the plan.
    pub frames: Option<u64>,
    /// How far the windows were widened, s.
    pub widening_s: f64,
    /// True where the file numbers say that two stamps belong to one run, however far apart they are.
    pub together: &'a dyn Fn(usize, usize) -> bool,
    /// True where two stamps' frames were exposed differently.
    pub differs: &'a dyn Fn(usize, usize) -> bool,
}

/// One interval on one piece, or on a part of it.
#[derive(Clone, Copy, Debug)]
struct Part {
    first: usize,
    last: usize,
    on: usize,
    /// Shortest and longest interval that its stamps allow, s; `None` with fewer than two slots.
    interval: Option<(f64, f64)>,
}

impl Choice<'_> {
    /// First and last stamp of the run; `None` where there are no stamps.
    pub fn run(&self) -> Option<(usize, usize)> {
        let parts = self.parts();
        let jobs = self.jobs(&parts);
        let best = jobs
            .iter()
            .max_by(|a, b| self.weight(a).cmp(&self.weight(b)).then(b[0].first.cmp(&a[0].first)))?;
        let main = best.iter().max_by(|a, b| a.on.cmp(&b.on).then(b.first.cmp(&a.first)))?;
        let mut first = self.head(best, main);
        let mut last = self.tail(best, main);
        self.trim(&mut first, &mut last);
        self.reach_out(best, &mut first, &mut last);
        self.trim_surplus(&mut first, &mut last);
        self.trim_other(&mut first, &mut last);
        let pieces: Vec<Piece> =
            self.pieces.iter().filter(|p| p.first <= last && p.last >= first).copied().collect();
        if no_grid(&self.places[first..=last], &pieces, self.widening_s).is_some() {
            // Without a grid nothing can be off it: the whole job is the run.
            return Some((best[0].first, best[best.len() - 1].last));
        }
        Some((first, last))
    }

    /// Where no plan gives the length and the exposure is locked: drops shots at the ends that were exposed otherwise.
    fn trim_other(&self, first: &mut usize, last: &mut usize) {
        let other = |i: &usize| (self.differs)(*i, *i + 1);
        if self.frames.is_some() || *last < *first + 4 * HANDFUL {
            return;
        }
        let locked = !(*first + HANDFUL..*last - HANDFUL).any(|i| other(&i));
        if !locked {
            return;
        }
        if let Some(at) = (*first..*first + HANDFUL).rev().find(other) {
            *first = at + 1;
        }
        if let Some(at) = (*last - HANDFUL..*last).find(other) {
            *last = at;
        }
    }

    /// Where the run is longer than the plan's: drops shots at the ends that keep its pace by chance and were exposed
    /// otherwise.
    fn trim_surplus(&self, first: &mut usize, last: &mut usize) {
        let Some(asked) = self.frames else { return };
        let slots =
            |from: usize, to: usize| (self.places[to].slot - self.places[from].slot + 1).unsigned_abs();
        let most = HANDFUL.min(*last - *first);
        let head = (1..=most)
            .rev()
            .find(|&n| slots(*first + n, *last) >= asked && (self.differs)(*first + n - 1, *first + n));
        *first += head.unwrap_or(0);
        let most = HANDFUL.min(*last - *first);
        let tail = (1..=most)
            .rev()
            .find(|&n| slots(*first, *last - n) >= asked && (self.differs)(*last - n, *last - n + 1));
        *last -= tail.unwrap_or(0);
    }

    /// Pieces with their intervals.
    fn parts(&self) -> Vec<Part> {
        let mut parts = Vec::with_capacity(self.pieces.len());
        for piece in self.pieces {
            let mut first = piece.first;
            for at in piece.first + 1..=piece.last {
                let slots = (self.places[at].slot - self.places[at - 1].slot).max(1) as f64;
                let gap = (self.stamps[at] - self.stamps[at - 1]) as f64 / SECOND as f64;
                if gap > APART_S && slots > APART_INTERVALS && !(self.together)(at - 1, at) {
                    parts.push(self.part(first, at - 1));
                    first = at;
                }
            }
            parts.push(self.part(first, piece.last));
        }
        parts
    }

    fn part(&self, first: usize, last: usize) -> Part {
        let points = (first..=last).filter(|&i| self.places[i].how == How::On);
        let on = points.clone().count();
        let region = bounds::lines(
            points.map(|i| (self.places[i].slot, self.stamps[i])),
            self.asked.resolution,
            self.widening_s + 0.02,
        );
        Part { first, last, on, interval: region.map(|r| r.intervals()) }
    }

    /// Parts that belong to one job: parted by long gaps.
    fn jobs<'p>(&self, parts: &'p [Part]) -> Vec<&'p [Part]> {
        let mut jobs = Vec::new();
        let mut from = 0;
        for at in 1..parts.len() {
            let gap =
                (self.stamps[parts[at].first] - self.stamps[parts[at - 1].last]).abs() as f64 / SECOND as f64;
            let interval = parts[at - 1].interval.or(parts[at].interval).map_or(0.0, |i| i.1);
            let together = (self.together)(parts[at - 1].last, parts[at].first);
            if gap > APART_S && gap > APART_INTERVALS * interval && !together {
                jobs.push(&parts[from..at]);
                from = at;
            }
        }
        if !parts.is_empty() {
            jobs.push(&parts[from..]);
        }
        jobs
    }

    /// Frames on a grid that fits the plan; without a plan, or where nothing fits it, frames on any grid.
    fn weight(&self, job: &[Part]) -> (usize, usize) {
        let fits = |p: &Part| match (self.asked.planned_s, p.interval) {
            (Some(planned), Some((low, high))) => low <= planned * 1.2 && high >= planned * 0.8,
            _ => false,
        };
        let fitting = job.iter().filter(|p| fits(p)).map(|p| p.on).sum();
        (fitting, job.iter().map(|p| p.on).sum())
    }

    /// True where a part at the end of a job is the run's own: long enough, or on the run's pace and asked for.
    fn own(&self, part: &Part, main: &Part, frames_without: u64) -> bool {
        let (Some(own), Some(of_run)) = (part.interval, main.interval) else { return false };
        let same_pace = own.0 <= of_run.1 && own.1 >= of_run.0;
        let every_slot =
            (part.first + 1..=part.last).all(|i| self.places[i].slot - self.places[i - 1].slot == 1);
        let asked_for = self.frames.is_none_or(|f| frames_without + (part.last - part.first + 1) as u64 <= f);
        let enough = OWN_FRAMES.min(main.on.div_ceil(4)).max(2);
        // Nobody fires by hand at the timer's pace: a timer whose interval changed a little is still the run's.
        let near_pace = own.0 <= of_run.1 * (1.0 + NEAR_PACE) && own.1 >= of_run.0 * (1.0 - NEAR_PACE);
        part.on >= 2 * OWN_FRAMES
            || (same_pace && part.on >= enough)
            || (near_pace && every_slot && part.on >= enough)
            || (same_pace && every_slot && part.on >= 2 && asked_for)
    }

    /// True for the single frame of a first or last working day, which has no pace of its own: it is asked for, nothing was due between it
    /// and the frames of the day beside it, and it was exposed as these were.
    fn only_of_day(&self, part: &Part, frames_without: u64) -> bool {
        let beside = |after: usize| {
            let night = self.pieces.iter().find(|p| p.first == after).map(|p| p.begins);
            after > 0 && night == Some(Begins::Night { due: 0 }) && !(self.differs)(after - 1, after)
        };
        part.first == part.last
            && self.frames.is_some_and(|asked| frames_without < asked)
            && (beside(part.first) || beside(part.last + 1))
    }

    fn head(&self, job: &[Part], main: &Part) -> usize {
        let behind = (job[job.len() - 1].last - main.first + 1) as u64;
        let own = job
            .iter()
            .find(|p| p.first >= main.first || self.own(p, main, behind) || self.only_of_day(p, behind));
        own.map_or(main.first, |p| p.first)
    }

    fn tail(&self, job: &[Part], main: &Part) -> usize {
        let before = (main.last - job[0].first + 1) as u64;
        let own = job
            .iter()
            .rev()
            .find(|p| p.last <= main.last || self.own(p, main, before) || self.only_of_day(p, before));
        own.map_or(main.last, |p| p.last)
    }

    /// Takes back frames at the ends that a reading gave to what came before or after: shots around the run may hide where it
    /// begins. A frame is taken while it stands one slot from the run's end, on the line of the part that ends there.
    fn reach_out(&self, job: &[Part], first: &mut usize, last: &mut usize) {
        let on_line = |from: usize, to: usize, beyond: &[(i64, Micros)]| {
            let points = (from..=to).filter(|&i| self.places[i].how == How::On);
            let mut points: Vec<(i64, Micros)> =
                points.map(|i| (self.places[i].slot, self.stamps[i])).collect();
            if points.len() < OWN_FRAMES {
                return false;
            }
            points.extend(beyond);
            points.sort_unstable();
            bounds::lines(points, self.asked.resolution, self.widening_s + 0.02).is_some()
        };
        let (begins, ends) = (*first, *last);
        let part = |at: usize| job.iter().find(|p| p.first <= at && at <= p.last);
        if let Some(own) = part(begins) {
            let mut beyond = Vec::new();
            while *first > job[0].first && beyond.len() < MOST_BACK && !(self.differs)(*first - 1, *first) {
                beyond.push((self.places[begins].slot - beyond.len() as i64 - 1, self.stamps[*first - 1]));
                if !on_line(begins, own.last.min(ends), &beyond) {
                    break;
                }
                *first -= 1;
            }
        }
        if let Some(own) = part(ends) {
            let mut beyond = Vec::new();
            while *last < job[job.len() - 1].last
                && beyond.len() < MOST_BACK
                && !(self.differs)(*last, *last + 1)
            {
                beyond.push((self.places[ends].slot + beyond.len() as i64 + 1, self.stamps[*last + 1]));
                if !on_line(own.first.max(begins), ends, &beyond) {
                    break;
                }
                *last += 1;
            }
        }
    }

    /// Drops what stands off the grid at the ends, and a handful parted from the rest by a long hole.
    fn trim(&self, first: &mut usize, last: &mut usize) {
        let on = |i: usize| self.places[i].how == How::On;
        loop {
            let before = (*first, *last);
            while *first < *last && !on(*first) {
                *first += 1;
            }
            while *last > *first && !on(*last) {
                *last -= 1;
            }
            let handful = HANDFUL.min((*last - *first) / 8);
            // Few frames before a long hole are no part of the run, unless a plan counts on them.
            let counted = self.frames.is_some_and(|f| {
                (self.places[*last].slot - self.places[*first].slot + 1).unsigned_abs() <= f
            });
            let hole = |i: usize, frames: usize| {
                let slots = self.places[i + 1].slot - self.places[i].slot;
                let long = if counted { LONG_HOLE } else { LONG_HOLE.min(2 * frames as i64 + 1) };
                let other = !counted && slots > 1 && (self.differs)(i, i + 1);
                (slots > long || other) && !(self.together)(i, i + 1)
            };
            if let Some(at) = (*first..(*first + handful).min(*last)).rev().find(|&i| hole(i, i + 1 - *first))
            {
                *first = at + 1;
            }
            let from = last.saturating_sub(handful).max(*first);
            if let Some(at) = (from..*last).find(|&i| hole(i, *last - i)) {
                *last = at;
            }
            if before == (*first, *last) {
                return;
            }
        }
    }
}
