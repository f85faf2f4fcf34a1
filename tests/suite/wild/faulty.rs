//! Cards with a fault: each family one kind, the last ones any number of any.

use super::base::{Base, Mode, Said, clock, dial};
use super::card::{Card, Class};
use super::chance::Chance;
use super::take::{Break, Take};
use lapseproof::plan::Moment;
use lapseproof::units::Micros;

fn said(chance: &mut Chance, take: Take) -> Card {
    let said = Said::any(chance);
    take.card(chance, said)
}

fn whole(chance: &mut Chance, low: usize, high: usize) -> usize {
    chance.whole(low as u64, high as u64) as usize
}

/// One slot is missing.
pub fn lone(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let at = whole(chance, 1, base.slots - 2);
    if chance.percent(50.0) {
        take.miss(at, 1)
    } else {
        take.lose(at, 1)
    }
    said(chance, take)
}

/// One to six holes of missed triggers.
pub fn missed(chance: &mut Chance) -> Card {
    holes(chance, 100.0)
}

/// One to six holes of lost files.
pub fn lost(chance: &mut Chance) -> Card {
    holes(chance, 0.0)
}

fn holes(chance: &mut Chance, missed: f64) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    for _ in 0..chance.whole(1, 6) {
        let count = if chance.percent(60.0) { whole(chance, 1, 3) } else { whole(chance, 4, 40) };
        let at = whole(chance, 1, base.slots - 2);
        let count = count.min(base.slots - 1 - at);
        if chance.percent(missed) { take.miss(at, count) } else { take.lose(at, count) }
    }
    said(chance, take)
}

/// The interval hardly longer than the clock's step, a hole, with and without a plan.
pub fn coarse_hole(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let dial_s = (clock.step_s() * chance.between(1.04, 1.5)).max(0.5);
    let slots = whole(chance, 80, 400);
    let base = Base::with(chance, clock, (dial_s * 1000.0).round() / 1000.0, slots);
    let mut take = Take::new(chance, base, &[]);
    let (at, count) = (whole(chance, 10, slots - 20), whole(chance, 1, 4));
    if chance.percent(50.0) {
        take.miss(at, count)
    } else {
        take.lose(at, count)
    }
    said(chance, take)
}

/// Somebody picked frames: 5 to 80 % of the files are gone.
pub fn culled(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let share = chance.between(0.05, 0.8);
    take.cull(chance, share);
    said(chance, take)
}

/// Triggers missed (or files lost) just before the last one to five frames, or just behind the first ones.
pub fn ends(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let lost = chance.percent(30.0);
    for head in chance.pick(&[&[true][..], &[false], &[true, false]]) {
        let (left, count) = (whole(chance, 1, 5), whole(chance, 2, 40).min(base.slots / 3));
        let at = if *head { left } else { base.slots - left - count };
        if lost { take.lose(at, count) } else { take.miss(at, count) }
    }
    said(chance, take)
}

/// How the timer goes on behind a stop.
#[derive(Clone, Copy, PartialEq)]
enum After {
    Same,
    Slightly,
    Otherwise,
}

fn stop(chance: &mut Chance, after: After) -> Card {
    let mut base = Base::draw(chance, 1.5);
    base.slots = base.slots.max(60);
    let at = whole(chance, 10, base.slots - 10);
    let pause_s = pause(chance, &base);
    let interval_s = interval_after(chance, &base, after);
    let take = Take::new(chance, base, &[Break { at, pause_s, interval_s }]);
    said(chance, take)
}

fn pause(chance: &mut Chance, base: &Base) -> f64 {
    let least = base.least_pause_s();
    let round = chance.pick(&[30.0, 60.0, 272.0, 300.0, 600.0]);
    if round > least && chance.percent(20.0) {
        round
    } else {
        chance.spread(least, (20.0 * least).max(9000.0))
    }
}

fn interval_after(chance: &mut Chance, base: &Base, after: After) -> f64 {
    let now = base.interval_s;
    match after {
        After::Same => now,
        After::Slightly => now * (1.0 + chance.pick(&[-1.0, 1.0]) * chance.between(0.005, 0.04)),
        After::Otherwise => {
            let other = now * chance.pick(&[0.5, 0.7, 1.1, 1.5, 2.0, 3.0]);
            other.max(1.5 * base.clock.step_s()).max(0.5)
        }
    }
}

/// The timer stood and went on at the same interval.
pub fn stop_same(chance: &mut Chance) -> Card {
    stop(chance, After::Same)
}

/// The timer stood and went on at a slightly other interval: 6 and 6.1 s.
pub fn stop_slightly(chance: &mut Chance) -> Card {
    stop(chance, After::Slightly)
}

/// The timer stood and went on at quite another interval.
pub fn stop_otherwise(chance: &mut Chance) -> Card {
    stop(chance, After::Otherwise)
}

/// Other interval, no stop.
pub fn rate(chance: &mut Chance) -> Card {
    let mut base = Base::draw(chance, 1.5);
    base.slots = base.slots.max(100);
    let at = whole(chance, 30, base.slots - 30);
    let change = chance.pick(&[0.7, 0.8, 0.9, 0.94, 1.06, 1.1, 1.25, 1.5]);
    // The two lines must part by more than the stamps' doubt within thirty frames.
    let tells = 30.0 * base.interval_s * (change - 1.0_f64).abs() > 6.0 * base.clock.doubt_s();
    let change = if tells { change } else { 1.6 };
    let take = Take::new(chance, base, &[Break { at, pause_s: 0.0, interval_s: base.interval_s * change }]);
    said(chance, take)
}

/// Up to 199 stops of whole hours at a short interval: no clock is set so often.
pub fn many_hours(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let least = 1.5 * clock.step_s();
    let dial_s = chance.pick(&[1.0, 1.5, 2.0, 5.0, 10.0_f64]).max(least);
    let stops = chance.pick(&[3, 10, 30, 60, 200]);
    let slots = whole(chance, 250, 400).max(6 * stops);
    let base = Base::with(chance, clock, dial_s, slots);
    let pause_s = chance.pick(&[1800.0, 3600.0, 5400.0, 7200.0, 9000.0, 18_000.0]);
    let breaks: Vec<_> =
        (1..stops).map(|n| Break { at: n * slots / stops, pause_s, interval_s: base.interval_s }).collect();
    let take = Take::new(chance, base, &breaks);
    said(chance, take)
}

/// Nothing was shot for 45 to 90 minutes and the numbers run on: on the timer's own times or off them.
pub fn long_hole(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let at = whole(chance, 15, base.slots - 15);
    let seconds = chance.between(2700.0, 5400.0);
    let on_time = chance.percent(60.0);
    let slots = (seconds / base.interval_s).round().max(1.0);
    let pause_s = if on_time { slots * base.interval_s } else { seconds };
    let take = Take::new(chance, base, &[Break { at, pause_s, interval_s: base.interval_s }]);
    said(chance, take)
}

/// One frame late by more than half of the interval.
pub fn late(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let least = 4.0 * clock.doubt_s();
    let dial_s = dial(chance, least);
    let slots = whole(chance, 60, 300);
    let base = Base::with(chance, clock, dial_s, slots);
    let mut take = Take::new(chance, base, &[]);
    let at = whole(chance, 1, slots - 2);
    let by_s = base.interval_s * chance.between(0.3, 0.7);
    take.late(at, by_s);
    said(chance, take)
}

/// Second frames in a slot.
pub fn double(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let dial_s = dial(chance, 3.0);
    let slots = whole(chance, 60, 300);
    let base = Base::with(chance, clock, dial_s, slots);
    let mut take = Take::new(chance, base, &[]);
    for _ in 0..chance.whole(1, 3) {
        let at = whole(chance, 1, slots - 2);
        let after_s = chance.pick(&[0.15, 0.4]) * base.interval_s;
        take.double(at, after_s);
    }
    said(chance, take)
}

/// The plan gives the count, and the first or the last frames are not there.
pub fn cut_ends(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let count = whole(chance, 1, base.slots / 2);
    let at = if chance.percent(60.0) { base.slots - count } else { 0 };
    if chance.percent(60.0) {
        take.miss(at, count)
    } else {
        take.lose(at, count)
    }
    let said = Said::counted(chance);
    take.card(chance, said)
}

/// The plan says when the run begins, and how many frames it has; it began late and ended on time.
pub fn late_start(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let count = whole(chance, 2, base.slots / 3);
    take.miss(0, count);
    let due_s = take.begins_s();
    let mut card = take.card(chance, Said::Run);
    let start = card.clock.stamp(due_s).floored(Micros::SECOND);
    card.plan.start = Some(Moment { civil: start, offset_min: base.offset_min });
    card
}

/// The clock is set back by whole hours while the run goes on; no tag follows. Nothing is missing.
pub fn clock_back(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let at = whole(chance, 10, base.slots - 10);
    let step_s = -chance.pick(&[3600.0, 7200.0, 180.0, 86_400.0]);
    take.set_clock(at, step_s, false);
    said(chance, take)
}

/// A file that cannot be used.
pub fn damaged(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    for _ in 0..chance.whole(1, 3) {
        let (at, headless) = (whole(chance, 0, base.slots - 1), chance.percent(50.0));
        take.damage(at, headless);
    }
    said(chance, take)
}

/// The exposure jumps in a run that was planned locked.
pub fn jump(chance: &mut Chance) -> Card {
    let base = Base { mode: Mode::Locked, ..Base::draw(chance, 1.5) };
    let mut take = Take::new(chance, base, &[]);
    let at = whole(chance, 1, base.slots - 1);
    let ev = chance.pick(&[-4.0, -2.0, -1.34, 1.34]);
    take.jump(at, ev);
    take.card(chance, Said::All)
}

/// The plan is of another interval than the one that was shot, beautifully or with a hole.
pub fn wrong_interval(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    if chance.percent(50.0) {
        let at = whole(chance, 10, base.slots - 20);
        take.miss(at, 3);
    }
    let mut card = take.card(chance, Said::Interval);
    card.plan.interval_s = Some(base.dial_s * chance.pick(&[0.5, 0.8, 0.9, 1.1, 1.25, 2.0]));
    if card.events.is_empty() {
        // A good run under a wrong plan: the call must not be clear, whatever is told.
        card.class = Class::NotClear;
    }
    card
}

/// The plan asks for bracket sets, and single frames were shot.
pub fn wrong_bracket(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 2.0);
    let take = Take::new(chance, base, &[]);
    let mut card = take.card(chance, Said::Interval);
    card.plan.bracket = Some(chance.pick(&[2, 3, 5]));
    Card { class: Class::NotClear, ..card }
}

/// The interval counts from the shutter's close, the exposures grow, and files are lost.
pub fn close_lost(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let (dial_s, slots) = (dial(chance, 10.0), whole(chance, 100, 400));
    let base = Base::with(chance, clock, dial_s, slots);
    let base =
        Base { from_close: true, mode: Mode::Ramped, shutter_s: chance.pick(&[0.05, 0.25, 0.5]), ..base };
    let mut take = Take::new(chance, base, &[]);
    for _ in 0..chance.whole(1, 3) {
        let (at, count) = (whole(chance, 2, slots - 8), whole(chance, 1, 5));
        take.lose(at, count);
    }
    said(chance, take)
}

/// One to six events of any kind, anywhere.
pub fn mixed(chance: &mut Chance) -> Card {
    let count = whole(chance, 1, 6);
    compose(chance, count, None)
}

/// Two events in neighbouring frames.
pub fn neighbours(chance: &mut Chance) -> Card {
    let near = chance.unit();
    compose(chance, 2, Some(near))
}

/// Two or three events in the first or the last six frames.
pub fn mixed_ends(chance: &mut Chance) -> Card {
    let near = chance.pick(&[0.0, 1.0]);
    let count = whole(chance, 2, 3);
    compose(chance, count, Some(near))
}

/// Events of any kind: anywhere, or around a share of the run.
fn compose(chance: &mut Chance, count: usize, near: Option<f64>) -> Card {
    let base = Base::draw(chance, 2.0);
    let place = |chance: &mut Chance| {
        let last = base.slots - 2;
        let Some(share) = near else { return whole(chance, 1, last) };
        let middle = 1 + (share * (last - 1) as f64) as usize;
        let low = middle.saturating_sub(2).max(1);
        whole(chance, low, (low + 4).min(last))
    };
    let kinds: Vec<u64> = (0..count).map(|_| chance.whole(0, 9)).collect();
    let mut breaks: Vec<Break> = Vec::new();
    for kind in &kinds {
        let after = match kind {
            0 | 1 => After::Same,
            2 => After::Slightly,
            3 => After::Otherwise,
            _ => continue,
        };
        let at = place(chance);
        let pause_s = pause(chance, &base);
        if breaks.iter().all(|b| b.at != at) {
            breaks.push(Break { at, pause_s, interval_s: interval_after(chance, &base, after) });
        }
    }
    breaks.sort_by_key(|b| b.at);
    let mut take = Take::new(chance, base, &breaks);
    for kind in &kinds {
        let at = place(chance);
        let room = base.slots - 1 - at;
        match kind {
            4 | 5 => {
                let count = whole(chance, 1, 12).min(room);
                take.miss(at, count);
            }
            6 | 7 => {
                let count = whole(chance, 1, 12).min(room);
                take.lose(at, count);
            }
            8 => take.damage(at, false),
            9 if base.mode == Mode::Locked => take.jump(at, chance.pick(&[-2.0, 2.0])),
            9 => take.lose(at, 1),
            _ => {}
        }
    }
    if chance.percent(15.0) {
        let share = chance.between(0.05, 0.4);
        take.cull(chance, share);
    }
    said(chance, take)
}
