//! Which frames are the run. A card holds test shots, a slate, an older job and a hand-fired tail: what lies outside the run is
//! told as such and is never counted missing or surplus.

use super::assemble::no_grid;
use super::bounds;
use super::placement::{How, Piece, Place};
use super::readings::Asked;
use crate::units::Micros;
use crate::units::time::SECOND;
use std::collections::VecDeque;

/// A gap this long, and this many intervals long, parts two jobs.
const APART_S: f64 = 45.0 * 60.0;
const APART_INTERVALS: f64 = 100.0;
/// A piece at either end is part of the run where it holds this many frames on the run's own interval.
const OWN_FRAMES: usize = 6;
/// A handful of frames at either end, parted from the rest by a hole longer than this many slots, is not the run.
const HANDFUL: usize = 5;
const LONG_HOLE: i64 = 10;

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
        let head = self.head(best, main);
        let mut first = self.claimed(head, best[0].first);
        let mut last = self.tail(best, main);
        let claimed = (first < head.first).then_some(first);
        self.trim(&mut first, &mut last, claimed);
        self.trim_surplus(&mut first, &mut last);
        let pieces: Vec<Piece> =
            self.pieces.iter().filter(|p| p.first <= last && p.last >= first).copied().collect();
        if no_grid(&self.places[first..=last], &pieces).is_some() {
            // Without a grid nothing can be off it: the whole job is the run.
            return Some((best[0].first, best[best.len() - 1].last));
        }
        Some((first, last))
    }

    /// Where the run is longer than the plan's: drops shots at the ends that keep its pace by chance and were exposed
    /// otherwise.
    fn trim_surplus(&self, first: &mut usize, last: &mut usize) {
        let Some(asked) = self.frames else { return };
        let excess =
            (self.places[*last].slot - self.places[*first].slot + 1).saturating_sub_unsigned(asked).max(0);
        let most = (excess as usize).min(HANDFUL).min(*last - *first);
        if let Some(n) = (1..=most).rev().find(|&n| (self.differs)(*first + n - 1, *first + n)) {
            *first += n;
        }
        let excess =
            (self.places[*last].slot - self.places[*first].slot + 1).saturating_sub_unsigned(asked).max(0);
        let most = (excess as usize).min(HANDFUL).min(*last - *first);
        if let Some(n) = (1..=most).rev().find(|&n| (self.differs)(*last - n, *last - n + 1)) {
            *last -= n;
        }
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
        part.on >= 2 * OWN_FRAMES
            || (same_pace && part.on >= enough)
            || (same_pace && every_slot && part.on >= 2 && asked_for)
    }

    fn head<'p>(&self, job: &'p [Part], main: &'p Part) -> &'p Part {
        let behind = (job[job.len() - 1].last - main.first + 1) as u64;
        let own = job.iter().find(|p| p.first >= main.first || self.own(p, main, behind));
        own.unwrap_or(main)
    }

    /// The first frame of a part, and those before it that stand on its line: a reading that begins with a handful of test
    /// shots carries their line on into the run for as long as it fits.
    fn claimed(&self, part: &Part, from: usize) -> usize {
        let mut first = part.first;
        let Some((low, high)) = part.interval else { return first };
        let on = (part.first..=part.last).filter(|&i| self.places[i].how == How::On);
        let mut points: VecDeque<_> = on.map(|i| (self.places[i].slot, self.stamps[i])).collect();
        while first > from && part.first - first < 2 * OWN_FRAMES {
            let gap = (self.stamps[first] - self.stamps[first - 1]) as f64 / SECOND as f64;
            let slots = (gap * 2.0 / (low + high)).round() as i64;
            let Some(&(slot, _)) = points.front() else { break };
            if !(1..=LONG_HOLE).contains(&slots) || (self.differs)(first - 1, first) {
                break;
            }
            points.push_front((slot - slots, self.stamps[first - 1]));
            let line = bounds::lines(points.iter().copied(), self.asked.resolution, self.widening_s + 0.02);
            if line.is_none() {
                break;
            }
            first -= 1;
        }
        first
    }

    fn tail(&self, job: &[Part], main: &Part) -> usize {
        let before = (main.last - job[0].first + 1) as u64;
        let own = job.iter().rev().find(|p| p.last <= main.last || self.own(p, main, before));
        own.map_or(main.last, |p| p.last)
    }

    /// Drops what stands off the grid at the ends, and a handful parted from the rest by a long hole. The frame `claimed` stands
    /// on the run's line, whatever its place in the reading.
    fn trim(&self, first: &mut usize, last: &mut usize, claimed: Option<usize>) {
        let on = |i: usize| claimed == Some(i) || self.places[i].how == How::On;
        loop {
            let before = (*first, *last);
            while *first < *last && !on(*first) {
                *first += 1;
            }
            while *last > *first && !on(*last) {
                *last -= 1;
            }
            let handful = HANDFUL.min((*last - *first) / 8);
            let hole = |i: usize| {
                let slots = self.places[i + 1].slot - self.places[i].slot;
                // Where no plan counts the frames, shots parted by a hole and exposed otherwise kept the pace by chance.
                let tried = self.frames.is_none() && slots > 1 && (self.differs)(i, i + 1);
                (slots > LONG_HOLE || tried) && !(self.together)(i, i + 1)
            };
            if let Some(at) = (*first..(*first + handful).min(*last)).rev().find(|&i| hole(i)) {
                *first = at + 1;
            }
            let from = last.saturating_sub(handful).max(*first);
            if let Some(at) = (from..*last).find(|&i| hole(i)) {
                *last = at;
            }
            if before == (*first, *last) {
                return;
            }
        }
    }
}
