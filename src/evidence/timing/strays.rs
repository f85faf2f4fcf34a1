//! Frames between two stretches of the run. A reading that begins a new grid leaves what stood just before it
//! off the old one. Where such a frame lies in a gap that has room for more, it is no frame that came late:
//! it belongs to the grid that it fits, or stood between two stops.

use super::line::drawn_on;
use super::placement::{Begins, How, Piece, Place};
use super::readings::Asked;
use crate::stats;
use crate::units::Micros;

/// A gap has room for more where it lasts so many intervals longer than its frames ask for.
const ROOM: f64 = 0.5;
/// Frames from which a grid is drawn on.
const LEAST: usize = 6;
/// Frames before the longest stretch that are compared with its line, and how many it takes in a row.
const MOST_BACK: usize = 32;
const CLAIMED: usize = 3;
/// The timing error that a frame is granted, s.
const ERROR_S: f64 = 0.02;
/// Evidence, nats, from which a frame is of the grid that it fits.
const FITS: f64 = 1.0;

/// A series as it was read.
pub(crate) struct Strays<'a> {
    /// Stamps with the timing law taken out.
    pub stamps: &'a [Micros],
    /// Places of all stamps.
    pub places: &'a mut [Place],
    /// The pieces they form.
    pub pieces: &'a mut Vec<Piece>,
    /// Resolution and plan.
    pub asked: Asked,
    /// How far the windows were widened, s.
    pub widening_s: f64,
}

impl Strays<'_> {
    /// Gives every frame between two stretches its place.
    pub(crate) fn settle(&mut self) {
        self.claim();
        self.dissolve();
        let mut at = 1;
        while at < self.pieces.len() {
            at += self.between(at);
        }
        self.part_first();
    }

    /// The same for the first two frames: nothing before them says that their gap is an interval, and the
    /// next stretch says that it is none.
    fn part_first(&mut self) {
        let next = self.pieces.get(1..).unwrap_or_default().iter().find_map(|p| self.interval(*p));
        let (Some(interval_s), Some(&piece)) = (next, self.pieces.first()) else { return };
        if piece.last - piece.first != 1 || matches!(self.pieces[1].begins, Begins::Night { .. }) {
            return;
        }
        if self.seconds(piece.first, piece.last) > (1.0 + ROOM) * interval_s {
            let (first, last) = (piece.first, piece.last);
            let moved = self.places[first].slot + 1 - self.places[last].slot;
            self.places[last..].iter_mut().for_each(|p| p.slot += moved);
            self.places[first].how = How::On;
            self.places[last].how = How::On;
            let alone = [(first, piece.begins), (last, Begins::Slip)];
            self.pieces.splice(..1, alone.map(|(at, begins)| Piece { first: at, last: at, begins }));
        }
    }

    /// The longest stretch takes the frames before it that stand slot by slot on its line: shots before a run
    /// may have led the reading astray, and it comes to the timer's grid some frames late.
    fn claim(&mut self) {
        let frames = |at: &usize| (self.on(self.pieces[*at]).count(), std::cmp::Reverse(*at));
        let Some(main) = (0..self.pieces.len()).max_by_key(frames) else { return };
        let piece = self.pieces[main];
        if main == 0 || matches!(piece.begins, Begins::Night { .. }) || self.on(piece).count() < 4 * LEAST {
            return;
        }
        // What kept a pace of its own for so long was shot by a timer, and not at random.
        let timers = |p: &&Piece| self.on(**p).count() > 2 * LEAST;
        let kept = self.pieces[..main].iter().rfind(timers).map_or(0, |p| p.last + 1);
        let low = piece.first.saturating_sub(MOST_BACK).max(kept);
        let points: Vec<(i64, Micros)> =
            self.on(piece).rev().map(|i| (-self.places[i].slot, -self.stamps[i])).collect();
        let beyond: Vec<Micros> = (low..piece.first).rev().map(|i| -self.stamps[i]).collect();
        let widening_s = self.widening_s.max(ERROR_S);
        let window = (-widening_s, self.asked.resolution_s() + widening_s);
        let reached = drawn_on(&points, &beyond, self.asked.resolution, window);
        let many = reached.iter().take_while(|r| r.held && r.steps == 1).count();
        let first = piece.first - many;
        let night = |p: &Piece| matches!(p.begins, Begins::Night { .. }) && p.first > first;
        if many < CLAIMED || self.pieces[..=main].iter().any(night) {
            return;
        }
        // The slots before go on to the new beginning as they went on to the old one.
        let begins_at = self.places[piece.first].slot - many as i64;
        let moved = first.checked_sub(1).map_or(0, |before| begins_at - 1 - self.places[before].slot);
        self.places[..first].iter_mut().for_each(|p| p.slot += moved);
        for (n, place) in self.places[first..piece.first].iter_mut().enumerate() {
            *place = Place { slot: begins_at + n as i64, how: How::On };
        }
        self.pieces[main].first = first;
        self.pieces.retain(|p| p.last >= piece.first || p.first < first);
        for before in self.pieces.iter_mut().filter(|p| p.first < first) {
            before.last = before.last.min(first - 1);
        }
        if let Some(begins) = self.pieces.first_mut() {
            begins.begins = Begins::First;
        }
    }

    /// Two frames with a gap between them that is longer than the intervals on either side are no stretch
    /// with an interval of its own: the gap is a stop. They are taken for strays.
    fn dissolve(&mut self) {
        for at in (1..self.pieces.len()).rev() {
            let piece = self.pieces[at];
            if piece.last - piece.first != 1 || piece.begins != Begins::Fresh {
                continue;
            }
            let beside = [at.checked_sub(1), Some(at + 1)].into_iter().flatten();
            let beside = beside.filter_map(|n| self.interval(*self.pieces.get(n)?)).fold(0.0, f64::max);
            if beside <= 0.0 || self.seconds(piece.first, piece.last) < (1.0 + ROOM) * beside {
                continue;
            }
            self.places[piece.first].how = How::Off;
            self.places[piece.last].how = How::Off;
            self.pieces[at - 1].last = piece.last;
            self.pieces.remove(at);
        }
    }

    /// Settles the frames just before a piece; how many pieces further the next one lies.
    fn between(&mut self, at: usize) -> usize {
        let (old, new) = (self.pieces[at - 1], self.pieces[at]);
        let off = |i: &usize| self.places[*i].how == How::Off;
        let first = new.first - (old.first..new.first).rev().take_while(off).count();
        if first == new.first || first <= old.first || matches!(new.begins, Begins::Night { .. }) {
            return 1;
        }
        let frames = new.first - first;
        let Some(interval_s) = self.interval(old).or_else(|| self.interval(new)) else { return 1 };
        if self.seconds(first - 1, new.first) < (frames as f64 + 1.0 + ROOM) * interval_s {
            return 1;
        }
        let ahead = self.reached_back(new, first);
        let behind = self.reached_on(old, first..new.first - ahead.len());
        let (left, right) = (first + behind.len(), new.first - ahead.len());
        // Slots anew: on the old grid, one for each frame that stood alone, on the new grid.
        let mut slot = self.places[first - 1].slot;
        for (i, to) in (first..).zip(behind) {
            slot = to;
            self.places[i] = Place { slot, how: How::On };
        }
        for i in left..right {
            slot += 1;
            self.places[i] = Place { slot, how: How::On };
        }
        let mut back = 0;
        slot += 1;
        for (i, steps) in (right..).zip(ahead) {
            self.places[i] = Place { slot: slot + back, how: How::On };
            back += steps;
        }
        let moved = slot + back - self.places[new.first].slot;
        self.places[new.first..].iter_mut().for_each(|p| p.slot += moved);
        let alone = (left..right).map(|i| Piece { first: i, last: i, begins: Begins::Slip });
        let alone: Vec<Piece> = alone.collect();
        let further = alone.len() + 1;
        self.pieces[at - 1].last = left - 1;
        self.pieces[at].first = right;
        self.pieces.splice(at..at, alone);
        further
    }

    /// Frames before a piece that stand on its grid, as the steps from each to the next, in order.
    fn reached_back(&self, piece: Piece, from: usize) -> Vec<i64> {
        // Backwards slots and time change sign.
        let points: Vec<(i64, Micros)> =
            self.on(piece).rev().map(|i| (-self.places[i].slot, -self.stamps[i])).collect();
        let beyond: Vec<Micros> = (from..piece.first).rev().map(|i| -self.stamps[i]).collect();
        let mut steps = self.fits(&points, &beyond, |r| r.steps);
        steps.reverse();
        steps
    }

    /// Frames behind a piece that stand on its grid, as their slots.
    fn reached_on(&self, piece: Piece, range: std::ops::Range<usize>) -> Vec<i64> {
        let points: Vec<(i64, Micros)> =
            self.on(piece).map(|i| (self.places[i].slot, self.stamps[i])).collect();
        self.fits(&points, &self.stamps[range], |r| r.slot)
    }

    fn fits<T>(
        &self,
        points: &[(i64, Micros)],
        beyond: &[Micros],
        of: impl Fn(&super::line::Reached) -> T,
    ) -> Vec<T> {
        if points.len() < LEAST {
            return Vec::new();
        }
        let widening_s = self.widening_s.max(ERROR_S);
        let window = (-widening_s, self.asked.resolution_s() + widening_s);
        let reached = drawn_on(points, beyond, self.asked.resolution, window);
        reached.iter().take_while(|r| r.nats >= FITS).map(of).collect()
    }

    fn on(&self, piece: Piece) -> impl DoubleEndedIterator<Item = usize> + '_ {
        (piece.first..=piece.last).filter(|&i| self.places[i].how == How::On)
    }

    fn seconds(&self, from: usize, to: usize) -> f64 {
        (self.stamps[to] - self.stamps[from]).seconds()
    }

    fn interval(&self, piece: Piece) -> Option<f64> {
        let plain = (piece.first + 1..=piece.last).filter(|&i| {
            let on = self.places[i].how == How::On && self.places[i - 1].how == How::On;
            on && self.places[i].slot - self.places[i - 1].slot == 1
        });
        stats::median(plain.map(|i| self.seconds(i - 1, i)))
    }
}
