//! Which frames are the run. A card holds test shots, a slate, an older job and a hand-fired tail: what lies
//! outside the run is told as such and is never counted missing or surplus.

use super::bounds;
use super::ends::{self, HANDFUL, Weighed};
use super::neighbours::{ExposureParameter, Neighbours, OTHER_DAY_S};
use super::placement::{How, Piece, Place};
use super::readings::Asked;
use super::steady::Laid;
use crate::units::Micros;
use crate::units::micros::in_seconds;

/// A gap this long, s, and this many intervals long, parts two jobs.
pub(crate) const APART_S: f64 = 45.0 * 60.0;
const APART_INTERVALS: f64 = 100.0;
/// A piece at either end is part of the run where it holds this many frames on the run's own interval.
pub(super) const OWN_FRAMES: usize = 6;
/// Settings this far apart, EV, were set by hand; light alone changes them in smaller steps.
pub(super) const SET_UP_EV: f64 = 0.6;
/// One setting that changes by more than this from frame to frame, EV, is another set-up's (common practice,
/// no source).
const OTHER_SET_UP_EV: f64 = 3.0;
/// Intervals this many times apart were set for two purposes.
const OTHER_INTERVAL: f64 = 1.5;
/// Intervals no farther apart than this many times are the same timer's, set a little otherwise.
const SAME_INTERVAL: f64 = 1.1;
/// An outermost frame that misses its slot by less than this share of the interval is late, and no shot of
/// its own.
const LATE: f64 = 0.35;
/// A camera that did not fire for more slots than this may as well have been left standing by its timer.
const STANDS: i64 = 12;
/// Frames at an end that are looked at for standing on the run's line after all.
const MOST_BACK: usize = 12;

/// What the run is chosen from and by.
pub(crate) struct Choice<'a> {
    /// Stamps in capture order.
    pub stamps: &'a [Micros],
    /// Their places.
    pub places: &'a [Place],
    /// The pieces they form.
    pub pieces: &'a [Piece],
    /// Resolution and planned interval.
    pub asked: Asked,
    /// Frames planned by the plan.
    pub frames: Option<u64>,
    /// The same; where it gives the run's length alone, at the pace of the longest piece.
    pub frames_or_length: Option<u64>,
    /// How far the windows were widened, s.
    pub widening_s: f64,
    /// What any two of the stamps have to do with each other.
    pub neighbours: &'a Neighbours<'a>,
    /// Slots from the stamp before, by the file numbers; 0 where they are no evidence.
    pub by_number: &'a [i64],
    /// The frames beyond a hole at either end.
    pub ends: Weighed,
}

/// The run, as stamps.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Chosen {
    /// Its first stamp.
    pub first: usize,
    /// Its last stamp.
    pub last: usize,
    /// Frames at its ends that may be none of it.
    pub ends: Weighed,
}

/// One interval on one piece, or on a part of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Part {
    /// Its first stamp.
    pub first: usize,
    /// Its last stamp.
    pub last: usize,
    /// Stamps on its grid.
    pub on: usize,
    /// Shortest and longest interval that its stamps allow, s; `None` with fewer than two slots.
    pub interval: Option<(f64, f64)>,
    /// Where its frames, each read as a piece of its own, follow one another at equal distances: the width of
    /// the window within which these are equal, s.
    pub chained_within_s: Option<f64>,
}

impl Choice<'_> {
    /// The run; `None` where there are no stamps.
    pub(crate) fn run(&self) -> Option<Chosen> {
        let parts = self.parts();
        let weightiest = |jobs: Vec<&[Part]>| -> Option<Vec<Part>> {
            let best = jobs
                .into_iter()
                .max_by(|a, b| self.weight(a).cmp(&self.weight(b)).then(b[0].first.cmp(&a[0].first)))?;
            Some(best.to_vec())
        };
        // Where the plan's count is met without what lies far away, that is another job. Else nothing but
        // time parts the two.
        let shot = |job: &[Part]| self.shot_slots(job[0].first, job[job.len() - 1].last);
        let alone = weightiest(self.jobs(&parts, false))?;
        let met = self.frames.is_some_and(|asked| shot(&alone) >= asked);
        let best = if met { alone } else { weightiest(self.jobs(&parts, true))? };
        let best = &best;
        let main = best.iter().max_by(|a, b| a.on.cmp(&b.on).then(b.first.cmp(&a.first)))?;
        let (mut first, before) = self.head(best, main);
        let (mut last, behind) = self.tail(best, main);
        let interval_s = main.interval.map_or(0.0, |i| 0.5 * (i.0 + i.1));
        self.trim(&mut first, &mut last, main, interval_s);
        self.reach_out(best, &mut first, &mut last);
        self.trim_surplus(&mut first, &mut last);
        self.trim_other(&mut first, &mut last);
        let pieces: Vec<Piece> =
            self.pieces.iter().filter(|p| p.first <= last && p.last >= first).copied().collect();
        let laid = Laid {
            stamps: &self.stamps[first..=last],
            places: &self.places[first..=last],
            from: first,
            pieces: &pieces,
            by_number: &self.by_number[first..=last],
            asked: self.asked,
            widening_s: self.widening_s,
        };
        if laid.no_grid().is_some() || self.strays(best, first, last) > last - first + 1 {
            // Without a grid nothing can be off it: the whole job is the run.
            return Some(Chosen {
                first: best[0].first,
                last: best[best.len() - 1].last,
                ends: Weighed::default(),
            });
        }
        let mut ends = self.ends.with(Weighed { head: before, tail: behind });
        self.two_shoots((first, last), &mut ends);
        Some(Chosen { first, last, ends })
    }

    /// Frames of the job outside of a run that keep no pace of their own either.
    fn strays(&self, job: &[Part], first: usize, last: usize) -> usize {
        let planned = |p: &Part| {
            let (Some(planned), Some(own)) = (self.asked.planned_s, p.interval) else { return false };
            own.0 <= planned && planned <= own.1
        };
        if job.iter().any(|p| p.first <= last && p.last >= first && planned(p)) {
            return 0;
        }
        let outside = |p: &&Part| p.last < first || p.first > last;
        let frames = |p: &Part| p.last - p.first + 1;
        let stray: usize = job.iter().filter(outside).filter(|p| p.on < 2 * OWN_FRAMES).map(frames).sum();
        let cut = |p: &Part| frames(p) - (p.last.min(last) + 1).saturating_sub(p.first.max(first));
        stray + job.iter().filter(|p| !outside(p)).map(cut).sum::<usize>()
    }

    /// Where no plan gives the length and the exposure is locked: drops shots at the ends that were exposed
    /// otherwise.
    fn trim_other(&self, first: &mut usize, last: &mut usize) {
        // What keeps the very pace was shot by the timer: there another exposure is a finding.
        let next = |i: usize| {
            self.places[i + 1].how == How::On && self.places[i + 1].slot - self.places[i].slot == 1
        };
        let other = |i: &usize| {
            let plain = next(*i) || self.on_time(*i + 1) || self.neighbours.together(*i, *i + 1);
            self.neighbours.differ(*i, *i + 1) && !plain
        };
        if self.frames.is_some() || *last < *first + 4 * HANDFUL {
            return;
        }
        if !self.locked(*first, *last) {
            return;
        }
        let head = (*first..*first + HANDFUL).rev();
        if let Some(at) = head.filter(|&at| self.spared(at + 1, *last) || self.other_set_up(at)).find(other) {
            *first = at + 1;
        }
        let tail = *last - HANDFUL..*last;
        if let Some(at) = tail.filter(|&at| self.spared(*first, at) || self.other_set_up(at)).find(other) {
            *last = at;
        }
    }

    /// True where the frames beyond a hole before stamp `after` were exposed otherwise and stand on the grid
    /// all the same, which test shots would hardly do by chance.
    fn on_time(&self, after: usize) -> bool {
        self.ends.beyond(after).is_some_and(|e| e.odds - ends::SET_ANEW >= -ends::SURE)
    }

    /// True where the exposure stays as it is within a run, its ends left alone.
    pub(super) fn locked(&self, first: usize, last: usize) -> bool {
        !(first + HANDFUL..last.saturating_sub(HANDFUL)).any(|i| self.neighbours.differ(i, i + 1))
    }

    /// True where a setting changes by more from one stamp to the next than one set-up would.
    pub(super) fn other_set_up(&self, i: usize) -> bool {
        ExposureParameter::ALL
            .into_iter()
            .any(|what| self.neighbours.change(i, i + 1, what) > OTHER_SET_UP_EV)
    }

    /// True where the plan lacks nothing without the frames before and after these. What it does lack, frames
    /// that were exposed otherwise may make up.
    fn spared(&self, first: usize, last: usize) -> bool {
        self.frames_or_length.is_none_or(|asked| self.shot_slots(first, last) >= asked)
    }

    /// Slots from one stamp to another, less those that meet no count: the file numbers run on over them, and
    /// the clock was put forward or the timer may have stood.
    fn shot_slots(&self, first: usize, last: usize) -> u64 {
        let steps = |i: usize| {
            let slots = self.places[i].slot - self.places[i - 1].slot;
            let rests = self.by_number[i] == 1 && (slots > STANDS || self.neighbours.together(i - 1, i));
            if rests { 1 } else { slots }
        };
        (1 + (first + 1..=last).map(steps).sum::<i64>()).max(0).unsigned_abs()
    }

    /// Where the run is longer than the plan's: drops shots at the ends that keep its pace by chance and were
    /// exposed otherwise.
    fn trim_surplus(&self, first: &mut usize, last: &mut usize) {
        let Some(asked) = self.frames else { return };
        let slots = |from: usize, to: usize| self.shot_slots(from, to);
        let most = HANDFUL.min(*last - *first);
        let head = (1..=most).rev().find(|&n| {
            slots(*first + n, *last) >= asked && self.neighbours.differ(*first + n - 1, *first + n)
        });
        *first += head.unwrap_or(0);
        let most = HANDFUL.min(*last - *first);
        let tail = (1..=most)
            .rev()
            .find(|&n| slots(*first, *last - n) >= asked && self.neighbours.differ(*last - n, *last - n + 1));
        *last -= tail.unwrap_or(0);
    }

    /// Pieces with their intervals.
    fn parts(&self) -> Vec<Part> {
        let mut parts = Vec::with_capacity(self.pieces.len());
        for piece in self.pieces {
            let mut first = piece.first;
            for at in piece.first + 1..=piece.last {
                let slots = (self.places[at].slot - self.places[at - 1].slot).max(1) as f64;
                let gap = (self.stamps[at] - self.stamps[at - 1]).seconds();
                let far = slots > APART_INTERVALS || self.places[at].how == How::Off;
                if gap > APART_S && far && !self.neighbours.together(at - 1, at) {
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
        let interval = region.map(|r| r.intervals()).or_else(|| self.usual(first, last));
        Part { first, last, on, interval, chained_within_s: None }
    }

    /// The shortest and the longest step from slot to slot, s, where no one line holds them: the interval
    /// grows with the exposure.
    fn usual(&self, first: usize, last: usize) -> Option<(f64, f64)> {
        let plain = |i: &usize| {
            let on = self.places[*i].how == How::On && self.places[*i - 1].how == How::On;
            on && self.places[*i].slot - self.places[*i - 1].slot == 1
        };
        let steps = (first + 1..=last).filter(plain);
        let steps = steps.map(|i| (self.stamps[i] - self.stamps[i - 1]).seconds());
        steps.fold(None, |ends: Option<(f64, f64)>, s| {
            Some(ends.map_or((s, s), |(a, b)| (a.min(s), b.max(s))))
        })
    }

    /// True where nothing but a long gap parts two neighbours: the names run on, and the exposure is the
    /// same.
    fn goes_on(&self, a: &Part, b: &Part, gap_s: f64) -> bool {
        gap_s < OTHER_DAY_S && self.neighbours.run_on(a.last, b.first) && !self.set_up_anew(a, b)
    }

    /// True where each part keeps a setting and an interval, and the two do not have the same; with quite
    /// another interval any change of the settings will do.
    fn set_up_anew(&self, a: &Part, b: &Part) -> bool {
        let kept = |part: &Part, what: ExposureParameter| {
            part.last - part.first >= HANDFUL
                && (part.first + 1..=part.last).all(|i| self.neighbours.change(i - 1, i, what) < SET_UP_EV)
        };
        let other_interval = match (a.interval, b.interval) {
            (Some(a), Some(b)) => a.0 > b.1 * OTHER_INTERVAL || b.0 > a.1 * OTHER_INTERVAL,
            _ => false,
        };
        // A run may have been read on the grid of an older job: what tells the two apart is the usual gap.
        let usual = [a, b].map(|p| self.usual_gap_s(p));
        let other_gap = usual[0] > usual[1] * SAME_INTERVAL || usual[1] > usual[0] * SAME_INTERVAL;
        ExposureParameter::ALL.into_iter().any(|what| {
            self.neighbours.change(a.last, b.first, what) > SET_UP_EV
                && (other_interval || other_gap && kept(a, what) && kept(b, what))
        })
    }

    /// The middle of the gaps from frame to frame of a part, s.
    fn usual_gap_s(&self, part: &Part) -> f64 {
        let gaps = self.stamps[part.first..=part.last].windows(2).map(|w| (w[1] - w[0]).get() as f64);
        in_seconds(crate::stats::median(gaps).unwrap_or_default())
    }

    /// Parts that belong to one job: parted by long gaps; with `loosely`, by those alone that something else
    /// speaks for.
    fn jobs<'p>(&self, parts: &'p [Part], loosely: bool) -> Vec<&'p [Part]> {
        let gap =
            |at: usize| (self.stamps[parts[at].first] - self.stamps[parts[at - 1].last]).abs().seconds();
        // What was shot on either side of a gap is compared with one another as a whole: the part beside it
        // may be a single frame.
        let far: Vec<usize> = (1..parts.len()).filter(|&at| gap(at) > APART_S).collect();
        let mut jobs = Vec::new();
        let mut from = 0;
        for (n, &at) in far.iter().enumerate() {
            let before = n.checked_sub(1).map_or(0, |n| far[n]);
            let after = far.get(n + 1).copied().unwrap_or(parts.len());
            let (Some(a), Some(b)) = (whole(&parts[before..at]), whole(&parts[at..after])) else { continue };
            let interval = parts[at - 1].interval.or(parts[at].interval).map_or(0.0, |i| i.1);
            let together = self.neighbours.together(parts[at - 1].last, parts[at].first);
            let one = together || loosely && self.goes_on(&a, &b, gap(at));
            let long = gap(at) > APART_INTERVALS * interval || self.set_up_anew(&a, &b);
            if long && !one {
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

    /// Takes back frames at the ends that a reading gave to what came before or after: shots around the run
    /// may hide where it begins. A frame is taken while it stands one slot from the run's end, on the line of
    /// the part that ends there.
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
            while *first > job[0].first
                && beyond.len() < MOST_BACK
                && !self.neighbours.differ(*first - 1, *first)
            {
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
                && !self.neighbours.differ(*last, *last + 1)
            {
                beyond.push((self.places[ends].slot + beyond.len() as i64 + 1, self.stamps[*last + 1]));
                if !on_line(own.first.max(begins), ends, &beyond) {
                    break;
                }
                *last += 1;
            }
        }
    }

    /// True where two neighbours at an end are so near one another that the outer one is late or early, and
    /// no shot of its own.
    fn late(&self, i: usize, interval_s: f64) -> bool {
        let gap = (self.stamps[i + 1] - self.stamps[i]).seconds();
        (gap - interval_s).abs() < LATE * interval_s
            && self.neighbours.run_on(i, i + 1)
            && !self.neighbours.differ(i, i + 1)
    }

    /// Drops what stands off the grid at the ends, and frames before a hole that were exposed otherwise, or
    /// that the plan does not count on.
    fn trim(&self, first: &mut usize, last: &mut usize, main: &Part, interval_s: f64) {
        let on = |i: usize| self.places[i].how == How::On;
        let locked = self.locked(*first, *last);
        loop {
            let before = (*first, *last);
            while *first < *last && !on(*first) && !(on(*first + 1) && self.late(*first, interval_s)) {
                *first += 1;
            }
            while *last > *first && !on(*last) && !(on(*last - 1) && self.late(*last - 1, interval_s)) {
                *last -= 1;
            }
            let handful = HANDFUL.min((*last - *first) / 8);
            let slots =
                |from: usize, to: usize| (self.places[to].slot - self.places[from].slot + 1).unsigned_abs();
            let counted = self.frames.is_some_and(|f| slots(*first, *last) <= f);
            // On the run's grid and exposed like it, frames beyond a hole are the run's, however long the
            // hole is, unless chance put them there.
            let hole = |i: usize, whole_without: bool, spared: bool| {
                let across = self.places[i + 1].slot - self.places[i].slot;
                let beyond = self.ends.beyond(i + 1);
                let spared = spared || self.other_set_up(i);
                let other =
                    !counted && spared && locked && self.neighbours.differ(i, i + 1) && !self.on_time(i + 1);
                // What lies beyond the main part was weighed as a part, with its own pace.
                let within = main.first <= i && i < main.last;
                let chance = !counted && within && beyond.is_some_and(|e| e.odds < -ends::SURE);
                across > 1 && (other || whole_without || chance) && !self.neighbours.together(i, i + 1)
            };
            let whole = |from: usize, to: usize| self.frames.is_some_and(|f| self.shot_slots(from, to) >= f);
            // A trial before the run may be longer where the rest is the planned count to the frame.
            let exact = |from: usize, to: usize| self.frames.is_some_and(|f| slots(from, to) == f);
            let trial = (*last - *first) / 8;
            if let Some(at) = (*first..(*first + handful).min(*last))
                .rev()
                .find(|&i| hole(i, whole(i + 1, *last), self.spared(i + 1, *last)))
            {
                *first = at + 1;
            }
            let mut longer = (*first..*first + trial).filter(|&i| exact(i + 1, *last));
            if let Some(at) = longer.find(|&i| hole(i, true, true)) {
                *first = at + 1;
            }
            let from = last.saturating_sub(handful).max(*first);
            if let Some(at) = (from..*last).find(|&i| hole(i, whole(*first, i), self.spared(*first, i))) {
                *last = at;
            }
            let mut longer = (last.saturating_sub(trial).max(*first)..*last).filter(|&i| exact(*first, i));
            if let Some(at) = longer.find(|&i| hole(i, true, true)) {
                *last = at;
            }
            if before == (*first, *last) {
                return;
            }
        }
    }
}

/// Neighbouring parts as one, with the interval of the largest.
fn whole(parts: &[Part]) -> Option<Part> {
    let (first, last) = (parts.first()?, parts.last()?);
    let largest = parts.iter().filter(|p| p.interval.is_some()).max_by_key(|p| p.on).unwrap_or(first);
    Some(Part {
        first: first.first,
        last: last.last,
        on: parts.iter().map(|p| p.on).sum(),
        interval: largest.interval,
        chained_within_s: None,
    })
}
