//! The events of a card, read off what was truly shot: never off what an audit says.

use crate::base::{Mode, Said, lasting};
use crate::card::{Card, Event, Role};
use crate::take::Take;

/// The true exposure of a shot, EV (more is brighter).
fn ev(card: &Card, at: usize) -> f64 {
    let shot = &card.shots[at];
    shot.exposure_s.log2() + (f64::from(shot.iso) / 100.0).log2() - 2.0 * f64::from(shot.f_number).log2()
}

/// Everything that happened within the run, in order.
pub fn events(card: &Card, take: &Take, said: Said) -> Vec<Event> {
    let mut out = Vec::new();
    let run: Vec<usize> =
        (0..card.shots.len()).filter(|at| matches!(card.shots[*at].role, Role::Run { .. })).collect();
    for pair in run.windows(2) {
        between(card, take, pair[0], pair[1], &mut out);
    }
    for (at, shot) in card.shots.iter().enumerate() {
        if shot.role == Role::Extra {
            out.push(Event::Surplus { at });
        }
        if shot.damage.is_some() && !matches!(shot.role, Role::Beside) {
            out.push(Event::Damaged { at });
        }
        if let Role::Run { timer, slot } = shot.role {
            let due = take.due.iter().find(|d| (d.timer, d.slot) == (timer, slot));
            let late_s = due.map_or(0.0, |d| d.late_s);
            if late_s > 0.0 {
                out.push(Event::Late { at, by_s: late_s });
            }
        }
    }
    if said.counts() {
        let here = |d: &&crate::take::Due| d.fired && d.kept;
        let head = take.due.iter().position(|d| here(&d)).unwrap_or(take.due.len());
        let tail = take.due.iter().rev().position(|d| here(&d)).unwrap_or(0);
        if head + tail > 1 {
            out.push(Event::Short { lacking: (head + tail) as u64 });
        }
    }
    out
}

fn between(card: &Card, take: &Take, before: usize, after: usize, out: &mut Vec<Event>) {
    let (a, b) = (&card.shots[before], &card.shots[after]);
    let (Role::Run { timer: from, slot: left }, Role::Run { timer: to, slot: right }) = (a.role, b.role)
    else {
        return;
    };
    if from == to {
        if right - left > 1 {
            out.push(Event::Hole { before, after, slots: (right - left - 1) as u64 });
        }
    } else {
        let (from_s, to_s) = (card.timers[from], card.timers[to]);
        let gap_s = b.open_s - a.open_s;
        let own_s = if take.base.from_close { lasting(a.exposure_s) } else { 0.0 };
        if gap_s - own_s > from_s.max(to_s) + card.clock.doubt_s() {
            out.push(Event::Stop { before, after, gap_s, from_s, to_s });
        } else if (from_s - to_s).abs() > 1e-9 {
            out.push(Event::Rate { before, after, from_s, to_s });
        }
    }
    if a.clock_s != b.clock_s && a.offset_min == b.offset_min {
        out.push(Event::Clock { before, after, step_s: b.clock_s - a.clock_s });
    }
    let step = ev(card, after) - ev(card, before);
    if take.base.mode == Mode::Locked && step.abs() > 0.1 {
        out.push(Event::Jump { before, after, ev: step });
    }
}
