//! From a reading's events to places: the slot of every stamp, and the stretches they form.

use super::reading::{Event, Reading};
use crate::units::Micros;

/// Where one stamp stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place {
    /// Its slot, counted through from the first stamp's.
    pub slot: i64,
    /// How it stands there.
    pub how: How,
}

/// How a stamp stands in its slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum How {
    /// Its window holds the slot's moment.
    On,
    /// It fills the slot, but early or late.
    Off,
    /// The slot is another frame's.
    Surplus,
}

/// How a stretch begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Begins {
    /// The series begins with it.
    First,
    /// On another phase of the interval before.
    Slip,
    /// With another interval.
    Fresh,
    /// After hours of rest that the plan asks for.
    Night {
        /// Slots that were due in working hours and not shot.
        due: u64,
    },
}

/// A run of stamps on one line, `first..=last` as indices of stamps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Piece {
    /// First stamp of it.
    pub first: usize,
    /// Last stamp of it.
    pub last: usize,
    /// How it begins.
    pub begins: Begins,
}

/// Places of all stamps and the pieces they form, as a reading tells them.
pub(crate) fn places(stamps: &[Micros], reading: &Reading) -> (Vec<Place>, Vec<Piece>) {
    let mut places: Vec<Place> = Vec::with_capacity(stamps.len());
    let mut pieces = vec![Piece { first: 0, last: 0, begins: Begins::First }];
    let mut events = reading.events.iter().peekable();
    let mut slot = 0_i64;
    let mut off: Vec<usize> = Vec::new();
    let mut last_on = 0_usize;
    for at in 0..stamps.len() {
        let event = events.next_if(|e| e.0 == at).map(|e| e.1);
        if at == 0 {
            places.push(Place { slot, how: How::On });
            continue;
        }
        match event {
            Some(Event::Off) => {
                off.push(at);
                places.push(Place { slot, how: How::Surplus });
                continue;
            }
            None | Some(Event::Slots(_)) => {
                let slots = match event {
                    Some(Event::Slots(n)) => n,
                    _ => 1,
                };
                fill(stamps, &mut places, &off, (last_on, slot), (at, slot + slots));
                slot += slots;
                let how = if slots == 0 { How::Surplus } else { How::On };
                places.push(Place { slot, how });
            }
            Some(begins @ (Event::Slip | Event::Fresh)) => {
                // Frames off the grid before a new one begins stand in slots of their own: they were shot.
                for (n, &o) in off.iter().enumerate() {
                    places[o] = Place { slot: slot + 1 + n as i64, how: How::Off };
                }
                slot += 1 + off.len() as i64;
                let begins = if begins == Event::Slip { Begins::Slip } else { Begins::Fresh };
                pieces.push(Piece { first: at, last: at, begins });
                places.push(Place { slot, how: How::On });
            }
        }
        off.clear();
        last_on = at;
    }
    // A tail off the grid: one slot each, as they were shot.
    for (n, &o) in off.iter().enumerate() {
        places[o] = Place { slot: slot + 1 + n as i64, how: How::Off };
    }
    close(&mut pieces, stamps.len());
    (places, pieces)
}

/// Gives frames off the grid the empty slots between two frames on it, each the nearest one; what finds none
/// is surplus.
fn fill(stamps: &[Micros], places: &mut [Place], off: &[usize], from: (usize, i64), to: (usize, i64)) {
    let (t0, t1) = (stamps[from.0], stamps[to.0]);
    let slots = to.1 - from.1;
    let mut next = from.1 + 1;
    for (n, &o) in off.iter().enumerate() {
        let share = if t1 > t0 { (stamps[o] - t0).ratio(t1 - t0) } else { 0.5 };
        let nearest = from.1 + (share * slots as f64).round() as i64;
        let left = (off.len() - 1 - n) as i64;
        // Enough empty slots for all that follow: take the nearest; otherwise the next one free.
        let highest = (to.1 - 1 - left).max(next);
        let slot = nearest.clamp(next, highest);
        if slot < to.1 {
            places[o] = Place { slot, how: How::Off };
            next = slot + 1;
        } else {
            places[o] = Place { slot: from.1, how: How::Surplus };
        }
    }
}

fn close(pieces: &mut [Piece], stamps: usize) {
    let firsts: Vec<usize> = pieces.iter().skip(1).map(|p| p.first).chain([stamps]).collect();
    for (piece, next) in pieces.iter_mut().zip(firsts) {
        piece.last = next.saturating_sub(1).max(piece.first);
    }
}

/// The middle of the steps from one slot to the next, s; `None` where there is none.
pub(crate) fn usual_step_s(stamps: &[Micros], places: &[Place]) -> Option<f64> {
    let plain = (1..places.len()).filter(|&at| places[at].slot - places[at - 1].slot == 1);
    crate::stats::median(plain.map(|at| (stamps[at] - stamps[at - 1]).seconds()))
}
