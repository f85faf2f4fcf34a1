//! Frames at the ends of a series, beyond a hole. A reading finds it cheaper to leave them off the grid than
//! to see many slots missing, or sees slots missing before a shot that only happens to fit. Here both are
//! weighed: how rare it is that so many frames fall on the grid by chance, against how rare a hole so near an
//! end is.

use super::line::{Reached, drawn_on};
use super::placement::{Begins, How, Piece, Place, usual_step_s};
use super::readings::Asked;
use crate::units::Micros;

/// Frames at an end that are weighed together.
pub(crate) const HANDFUL: usize = 5;
/// Odds, nats, at which such frames are surely of the run; below their negative they are surely not.
pub(crate) const SURE: f64 = 5.0;
/// How much rarer a hole within a handful of frames from an end is than shots fired beside a run, nats: once
/// in some 200 runs.
pub(crate) const RARE: f64 = 5.3;
/// What a further hole or stop costs beyond the first, nats: what troubled the timer once troubles it again.
pub(crate) const AGAIN: f64 = 1.6;
/// Shots by hand follow one another after a second as well as after minutes, evenly in the logarithm. So much
/// rarer than anywhere within an interval, nats, is the very next slot: the logarithm of that of 300 s over 1
/// s (common practice, no source).
const AT_ONCE: f64 = 1.74;
/// How much likelier shots by hand become where they are exposed otherwise than the run, nats.
pub(crate) const SET_ANEW: f64 = 4.0;
/// The timing error that a frame at an end is granted, s.
const ERROR_S: f64 = 0.02;
/// A single frame at an end may miss the line by so many times what the others do.
pub(crate) const JITTERS: f64 = 2.5;
/// How near the run's interval a pace is the same timer's, as a share.
const NEAR_PACE: f64 = 0.05;
/// Frames from which a grid is drawn on, at least.
const LEAST: usize = 4;

/// Frames at one end, beyond a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct End {
    /// The stamp after the hole: for the first frames the first of the rest, for the last frames the first of
    /// them.
    pub after: usize,
    /// Odds, nats, that they are of the run.
    pub odds: f64,
}

/// The frames beyond a hole at each end, weighed; `None` where there are none, or they do not fit the grid.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Weighed {
    /// Before the run.
    pub head: Option<End>,
    /// Behind it.
    pub tail: Option<End>,
}

impl Weighed {
    /// The frames at an end that may be none of the run, where stamp `after` and the one before it are parted
    /// by a stop among them.
    pub(crate) fn in_doubt(&self, after: usize) -> Option<End> {
        let head = self.head.filter(|e| after <= e.after);
        head.or(self.tail.filter(|e| after >= e.after)).filter(|e| e.odds < SURE)
    }

    /// Both weighings: of the same frames the likelier one, on the run's grid or at a pace of their own.
    pub(crate) fn with(&self, others: Weighed) -> Weighed {
        let likelier = |own: Option<End>, other: Option<End>| match (own, other) {
            (Some(a), Some(b)) if a.after == b.after && b.odds > a.odds => other,
            _ => own.or(other),
        };
        Weighed { head: likelier(self.head, others.head), tail: likelier(self.tail, others.tail) }
    }

    /// The frames beyond the hole that ends at stamp `after`.
    pub(crate) fn beyond(&self, after: usize) -> Option<End> {
        [self.head, self.tail].into_iter().flatten().find(|e| e.after == after)
    }
}

/// A series as it was read, open to changes at its ends.
pub(crate) struct Ends<'a> {
    /// Stamps with the timing law taken out.
    pub stamps: &'a [Micros],
    /// Places of all stamps.
    pub places: &'a mut [Place],
    /// The pieces they form.
    pub pieces: &'a mut Vec<Piece>,
    /// Slots from the stamp before, by the file numbers; 0 where they are no evidence.
    pub by_number: &'a [i64],
    /// Resolution and plan.
    pub asked: Asked,
    /// How far the windows were widened, s.
    pub widening_s: f64,
}

impl Ends<'_> {
    /// Lays the last and the first frames on the grid of the longest piece where they fit it and that is no
    /// chance.
    pub(crate) fn settle(&mut self) -> Weighed {
        Weighed { tail: self.tail(), head: self.head() }
    }

    /// The piece with the most frames on its grid.
    fn main(&self) -> Option<usize> {
        let on = |p: &Piece| (p.first..=p.last).filter(|&i| self.places[i].how == How::On).count();
        (0..self.pieces.len()).max_by_key(|&at| (on(&self.pieces[at]), std::cmp::Reverse(at)))
    }

    /// The piece that the frames at an end are laid on: the nearest one that is long enough to draw a line
    /// on. A timer that was set anew goes on as it was set last.
    fn nearest(&self, mut from_the_end: impl Iterator<Item = usize>) -> Option<usize> {
        let on = |at: &usize| {
            let piece = self.pieces[*at];
            (piece.first..=piece.last).filter(|&i| self.places[i].how == How::On).count()
        };
        from_the_end.find(|at| on(at) > LEAST).or_else(|| self.main())
    }

    /// True where stamp `at` follows the one before it in the next slot of the same piece, or the file
    /// numbers confirm its place. A frame too many is passed over.
    fn plain(&self, at: usize) -> bool {
        let stands = |i: &usize| self.places[*i].how != How::Surplus;
        let (true, Some(before)) = (stands(&at), (0..at).rev().find(stands)) else { return true };
        let slots = self.places[at].slot - self.places[before].slot;
        let own = self.pieces.binary_search_by_key(&at, |p| p.first).is_err();
        let on = self.places[at].how == How::On && self.places[before].how == How::On;
        own && on && (slots == 1 || slots > 1 && before + 1 == at && self.by_number[at] == slots)
    }

    fn tail(&mut self) -> Option<End> {
        let n = self.stamps.len();
        let main = self.nearest((0..self.pieces.len()).rev())?;
        let piece = self.pieces[main];
        let from = (n.saturating_sub(HANDFUL).max(piece.first + LEAST)..n).find(|&at| !self.plain(at))?;
        let night = |p: &Piece| p.first >= from && matches!(p.begins, Begins::Night { .. });
        if from <= piece.first
            || from > piece.last + 1 && from > piece.first + LEAST && self.pieces[main + 1].first < from
        {
            return None;
        }
        if self.pieces.iter().any(night) {
            return None;
        }
        let on = (piece.first..from).filter(|&i| self.places[i].how == How::On);
        let points: Vec<(i64, Micros)> = on.map(|i| (self.places[i].slot, self.stamps[i])).collect();
        let beyond: Vec<Micros> = self.stamps[from..].to_vec();
        let laid = self.lay(&points, &beyond);
        let Some((slots, odds)) = laid.clone().filter(|l| l.1 >= -SURE) else {
            let strayed =
                self.strayed(from..n, points.len()) || !(from - LEAST + 1..from).all(|at| self.plain(at));
            self.chain_tail(from, points.len());
            // What the reading itself saw on the grid, beyond the only hole far and wide, may be there by
            // chance.
            return laid.filter(|_| !strayed).map(|(_, odds)| End { after: from, odds });
        };
        let to = from + slots.len();
        let was = self.places[to - 1].slot;
        for (at, (slot, how)) in (from..n).zip(slots) {
            self.places[at] = Place { slot, how };
        }
        // What the line does not reach stays as it was, behind a border.
        let moved = self.places[to - 1].slot - was;
        self.places[to..].iter_mut().for_each(|p| p.slot += moved);
        let border = self.pieces.iter().any(|p| p.first == to);
        self.pieces.retain(|p| p.first < from || p.first >= to);
        if let Some(last) = self.pieces.iter_mut().rfind(|p| p.first < from) {
            last.last = to - 1;
        }
        if to < n && !border {
            let at = self.pieces.partition_point(|p| p.first < to);
            let last = self.pieces.get(at).map_or(n, |p| p.first) - 1;
            self.pieces.insert(at, Piece { first: to, last, begins: Begins::Slip });
        }
        Some(End { after: from, odds })
    }

    fn head(&mut self) -> Option<End> {
        let n = self.stamps.len();
        let main = self.nearest(0..self.pieces.len())?;
        let piece = self.pieces[main];
        let highest = HANDFUL.min(piece.last.saturating_sub(LEAST));
        let from = (1..=highest.min(n - 1)).rev().find(|&at| !self.plain(at))?;
        if from > piece.last || from < piece.first && self.pieces[..main].iter().any(|p| p.last >= from) {
            return None;
        }
        if self.pieces.iter().any(|p| p.first <= from && matches!(p.begins, Begins::Night { .. })) {
            return None;
        }
        let on = (from..=piece.last).filter(|&i| self.places[i].how == How::On);
        // The same backwards: slots and time both change sign, and the window opens the other way.
        let points: Vec<(i64, Micros)> = on.rev().map(|i| (-self.places[i].slot, -self.stamps[i])).collect();
        let beyond: Vec<Micros> = self.stamps[..from].iter().rev().map(|s| -*s).collect();
        let laid = self.lay(&points, &beyond);
        let Some((slots, odds)) = laid.clone().filter(|l| l.1 >= -SURE) else {
            let strayed =
                self.strayed(0..from, points.len()) || !(from + 1..from + LEAST).all(|at| self.plain(at));
            self.chain_head(from, points.len());
            // What the reading itself saw on the grid, beyond the only hole far and wide, may be there by
            // chance.
            return laid.filter(|_| !strayed).map(|(_, odds)| End { after: from, odds });
        };
        let to = from - slots.len();
        let was = self.places[to].slot;
        for (at, (slot, how)) in (0..from).rev().zip(slots) {
            self.places[at] = Place { slot: -slot, how };
        }
        let moved = self.places[to].slot - was;
        self.places[..to].iter_mut().for_each(|p| p.slot += moved);
        // What the line does not reach stays as it was, before a border.
        self.pieces.retain(|p| p.last >= from || p.first < to);
        for piece in self.pieces.iter_mut().filter(|p| p.first < to) {
            piece.last = piece.last.min(to - 1);
        }
        let at = self.pieces.partition_point(|p| p.first < to);
        let begins = if to == 0 { Begins::First } else { Begins::Slip };
        match self.pieces.get_mut(at) {
            Some(main) if piece.first >= to => *main = Piece { first: to, begins, ..*main },
            // The piece laid on reached over the border itself.
            _ => self.pieces.insert(at, Piece { first: to, last: piece.last.max(from), begins }),
        }
        Some(End { after: from, odds })
    }

    /// Frames that the reading left off the grid behind the run: those that keep the run's pace among
    /// themselves are a piece of their own.
    fn chain_tail(&mut self, from: usize, on: usize) {
        let n = self.stamps.len();
        let Some(interval) = self.interval(0, from).filter(|_| self.strayed(from..n, on)) else { return };
        self.pieces.retain(|p| p.first < from);
        if let Some(last) = self.pieces.last_mut() {
            last.last = from - 1;
        }
        let mut slot = self.places[from - 1].slot;
        for at in from..n {
            let goes_on = at > from && self.keeps_pace(at, interval);
            slot += if goes_on { self.across(at) } else { 1 };
            self.places[at] = Place { slot, how: How::On };
            match self.pieces.last_mut() {
                Some(last) if goes_on => last.last = at,
                _ => self.pieces.push(Piece { first: at, last: at, begins: Begins::Slip }),
            }
        }
    }

    /// The same before the run.
    fn chain_head(&mut self, from: usize, on: usize) {
        let Some(interval) = self.interval(from, self.stamps.len()).filter(|_| self.strayed(0..from, on))
        else {
            return;
        };
        let mut pieces: Vec<Piece> = Vec::new();
        let goes_on: Vec<bool> = (0..from).map(|at| at > 0 && self.keeps_pace(at, interval)).collect();
        let mut slot = self.places[from].slot - 1;
        for at in (0..from).rev() {
            self.places[at] = Place { slot, how: How::On };
            slot -= if goes_on[at] { self.across(at) } else { 1 };
        }
        for (at, goes_on) in goes_on.into_iter().enumerate() {
            match pieces.last_mut() {
                Some(last) if goes_on => last.last = at,
                last => {
                    let begins = if last.is_none() { Begins::First } else { Begins::Slip };
                    pieces.push(Piece { first: at, last: at, begins });
                }
            }
        }
        self.pieces.retain(|p| p.last >= from);
        if let Some(main) = self.pieces.first_mut() {
            *main = Piece { first: from, begins: Begins::Slip, ..*main };
        }
        pieces.append(self.pieces);
        *self.pieces = pieces;
    }

    /// True where a reading left one of these frames off the grid of a run that is long enough to tell.
    fn strayed(&self, range: std::ops::Range<usize>, on: usize) -> bool {
        on >= LEAST && range.into_iter().any(|i| self.places[i].how == How::Off)
    }

    /// Slots from the stamp before, within a chain: those that the file numbers tell, else one.
    fn across(&self, at: usize) -> i64 {
        self.by_number[at].max(1)
    }

    fn interval(&self, from: usize, to: usize) -> Option<f64> {
        usual_step_s(&self.stamps[from..to], &self.places[from..to])
    }

    fn keeps_pace(&self, at: usize, interval: f64) -> bool {
        let gap = (self.stamps[at] - self.stamps[at - 1]).seconds();
        let due = interval * self.across(at) as f64;
        (gap - due).abs() < self.asked.resolution_s() + NEAR_PACE * due
    }

    /// Lays stamps beyond those of `points` on their line, each in a slot of its own: the slots, and the odds
    /// that they are of the same timer. Those that lie nearest, where the line misses one farther out; `None`
    /// where it reaches none, or only by what may be chance.
    fn lay(&self, points: &[(i64, Micros)], beyond: &[Micros]) -> Option<(Vec<(i64, How)>, f64)> {
        if points.len() < LEAST {
            return None;
        }
        let own = self.widening_s.max(ERROR_S);
        // Frames that keep the line as closely as the run itself does are the rarer by chance.
        let laid = [self.widening_s, own, JITTERS * own].into_iter().map(|widening_s| {
            let window = (-widening_s, self.asked.resolution_s() + widening_s);
            let reached = drawn_on(points, beyond, self.asked.resolution, window);
            let odds = odds(&reached);
            let how = |held| if held { How::On } else { How::Off };
            (reached.iter().map(|r| (r.slot, how(r.held))).collect::<Vec<_>>(), odds)
        });
        let all: Vec<_> = laid.collect();
        let whole = all.iter().find(|l| l.0.len() == beyond.len());
        let nearest = || all.get(1).filter(|l| !l.0.is_empty() && l.1 >= -SURE);
        whole.or_else(nearest).cloned()
    }
}

/// Odds, nats, that the timer shot what its line reaches, against shots by hand.
fn odds(reached: &[Reached]) -> f64 {
    let (mut odds, mut holes) = (0.0, 0);
    for (n, frame) in reached.iter().enumerate() {
        odds += frame.nats;
        if frame.steps > 1 {
            odds -= if holes == 0 { RARE } else { AGAIN };
            holes += 1;
        } else if n > 0 {
            odds += AT_ONCE;
        }
    }
    odds
}
