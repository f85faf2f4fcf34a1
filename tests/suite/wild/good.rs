//! Cards on which nothing is wrong.

use super::base::{Base, Mode, Said, clock, dial, marked};
use super::card::{Card, Class};
use super::chance::Chance;
use super::take::Take;

/// A right plan or none.
fn good(chance: &mut Chance, take: Take) -> Card {
    let said = Said::any(chance);
    Card { class: Class::Good, ..take.card(chance, said) }
}

/// A whole run.
pub fn plain(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let take = Take::new(chance, base, &[]);
    good(chance, take)
}

/// A whole run of few frames.
pub fn short(chance: &mut Chance) -> Card {
    let slots = chance.whole(12, 59) as usize;
    let base = Base { slots, ..Base::draw(chance, 1.5) };
    let take = Take::new(chance, base, &[]);
    good(chance, take)
}

/// A long whole run.
pub fn long(chance: &mut Chance) -> Card {
    let slots = chance.whole(800, 2500) as usize;
    let base = Base { slots, ..Base::draw(chance, 1.5) };
    let take = Take::new(chance, base, &[]);
    good(chance, take)
}

/// The interval hardly longer than the clock's step, and planned.
pub fn coarse(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let dial_s = (clock.step_s() * chance.between(1.0, 1.5)).max(0.5);
    let slots = chance.whole(60, 420) as usize;
    let base = Base::with(chance, clock, (dial_s * 1000.0).round() / 1000.0, slots);
    let said = chance.pick(&[Said::Interval, Said::Run, Said::All]);
    let take = Take::new(chance, base, &[]);
    Card { class: Class::Good, ..take.card(chance, said) }
}

/// A timer that runs a little off its dial, as many do: 6.06 s for 6 s. Without a plan of the interval.
pub fn off_dial(chance: &mut Chance) -> Card {
    let mut base = Base::draw(chance, 1.5);
    base.interval_s *= 1.0 + chance.between(-0.012, 0.02);
    let said = chance.pick(&[Said::Nothing, Said::Frames]);
    let take = Take::new(chance, base, &[]);
    Card { class: Class::Good, ..take.card(chance, said) }
}

/// The interval counts from the shutter's close while the exposure grows.
pub fn from_close(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let dial_s = dial(chance, 10.0);
    let slots = chance.whole(100, 400) as usize;
    let base = Base::with(chance, clock, dial_s, slots);
    let base =
        Base { from_close: true, mode: Mode::Ramped, shutter_s: chance.pick(&[0.05, 0.25, 0.5]), ..base };
    let take = Take::new(chance, base, &[]);
    good(chance, take)
}

/// Long exposures: 30 s of stars every 33 s and their like.
pub fn stars(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let (dial_s, shutter_s) =
        chance.pick(&[(33.0, 30.0), (35.0, 30.0), (28.0, 25.0), (24.0, 20.0), (18.0, 15.0)]);
    let slots = chance.whole(100, 400) as usize;
    let base = Base { mode: Mode::Locked, shutter_s, ..Base::with(chance, clock, dial_s, slots) };
    let take = Take::new(chance, base, &[]);
    good(chance, take)
}

/// Test shots before and after, at no pace of their own, with another exposure.
pub fn tests_exposed_otherwise(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    beside(chance, &mut take, 1, |chance| chance.pick(&[-3.0, -2.0, -1.0, 1.0, 2.0]));
    good(chance, take)
}

/// Two to five test shots with the run's own exposure; their times are none of the timer's and keep no pace.
/// (A single one is the same files as a run whose timer stood behind its first frame.)
pub fn tests_off_time(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let least = (5.0 * clock.step_s()).max(4.0);
    let dial_s = dial(chance, least);
    let slots = chance.whole(60, 420) as usize;
    let base = Base { mode: Mode::Locked, ..Base::with(chance, clock, dial_s, slots) };
    let mut take = Take::new(chance, base, &[]);
    beside(chance, &mut take, 2, |_| 0.0);
    good(chance, take)
}

/// So many to five frames at one or both ends, off the timer's own times, and off each other's, by a fifth of
/// the interval at least.
fn beside(chance: &mut Chance, take: &mut Take, least: u64, ev: impl Fn(&mut Chance) -> f64) {
    let interval_s = take.base.interval_s;
    let sides = chance.pick(&[(true, false), (true, true), (false, true)]);
    for (wanted, after) in [(sides.0, false), (sides.1, true)] {
        if !wanted {
            continue;
        }
        let ev = ev(chance);
        // Slots away from the run's end, a whole number and a part that no clock takes for none: in turns, so
        // that no two of them are whole intervals apart.
        let mut away = (chance.spread(2.0, 4000.0) / interval_s).floor() + 1.0;
        for n in 0..chance.whole(least, 5) {
            let part = if n % 2 == 0 { 0.3 } else { 0.6 } + chance.between(-0.05, 0.05);
            let off_s = (away + part) * interval_s;
            let open_s = if after { take.ends_s() + off_s } else { take.begins_s() - off_s };
            take.beside(open_s, marked(take.base.shutter_s, (3.0 * ev).round() as i64), 200);
            away += (chance.spread(2.0, 60.0) / interval_s).floor() + 1.0;
        }
        take.story.push(format!("test shots, after the run: {after}, {ev:+.1} EV"));
    }
}

/// An older job on the same card: another timer, other settings, hours before. (With the same settings it is
/// the same files as a run whose timer stood for hours and went on otherwise.)
pub fn older_job(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let count = chance.whole(10, 1 + take.base.slots as u64 / 2);
    let least = 1.5 * base.clock.step_s();
    let mut other_s = dial(chance, least).min(150_000.0 / count as f64);
    if (other_s / base.interval_s - 1.0).abs() < 0.1 {
        other_s *= 1.37;
    }
    let ahead_s = chance.spread(3600.0, 30_000.0);
    let last_s = take.begins_s() - ahead_s;
    let (ev, iso) = (chance.pick(&[-2.0, -1.0, 1.0, 2.0_f64]), chance.pick(&[100, 400, 800]));
    for n in 0..count {
        take.beside(last_s - n as f64 * other_s, marked(base.shutter_s, (3.0 * ev) as i64), iso);
    }
    take.story.push(format!("an older job of {count} frames every {other_s:.3} s, {ahead_s:.0} s before"));
    good(chance, take)
}

/// The clock goes to or from daylight saving, and the offset tag says so.
pub fn daylight_saving(chance: &mut Chance) -> Card {
    let mut base = Base::draw(chance, 1.5);
    base.offset_min = Some(chance.pick(&[0, 60, 120, -300]));
    let mut take = Take::new(chance, base, &[]);
    let at = chance.whole(3, base.slots as u64 - 4) as usize;
    let step_s = chance.pick(&[3600.0, -3600.0]);
    take.set_clock(at, step_s, true);
    good(chance, take)
}
