//! Twins: two truths with the same files, one of them with a fault. No call may be clear, and nobody is asked
//! to tell which. Two shoots on one card are the exception: a card that holds two is ordinary, so they are
//! counted apart, and all that is asked is that they are parted or the rest is told.

use super::base::{Base, Mode, Said, clock, dial};
use super::card::{Card, Class, Event, Role};
use super::chance::Chance;
use super::take::{Break, Take};
use super::truth::{PASSED_OVER, RARER};
use lapseproof::units::Micros;

fn twin(mut card: Card, why: &str) -> Card {
    card.story.push(format!("twin: {why}"));
    let places: Vec<Event> = card
        .events
        .iter()
        .filter_map(|event| match *event {
            Event::Stop { before, after, .. } | Event::Clock { before, after, .. } => {
                Some(Event::Undecided { before, after })
            }
            _ => None,
        })
        .take(1)
        .collect();
    Card { class: Class::NotClear, events: places, ..card }
}

/// The camera stood for exactly half an hour or hours; or its clock was put forward by that. The tags do not
/// say.
pub fn hours(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let at = chance.whole(10, base.slots as u64 - 10) as usize;
    let hours_s = chance.pick(&[1800.0, 3600.0, 5400.0, 7200.0, 9000.0, 18_000.0]);
    let said = Said::any(chance);
    if chance.percent(50.0) {
        let take = Take::new(chance, base, &[Break { at, pause_s: hours_s, interval_s: base.interval_s }]);
        twin(take.card(chance, said), "a stop, or the clock was put forward")
    } else {
        let mut take = Take::new(chance, base, &[]);
        take.set_clock(at, hours_s, false);
        twin(take.card(chance, said), "the clock was put forward, or a stop")
    }
}

/// The clock put forward by three minutes, or a stop of three minutes.
pub fn odd_clock(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let mut take = Take::new(chance, base, &[]);
    let at = chance.whole(10, base.slots as u64 - 10) as usize;
    let step_s = chance.between(120.0, 600.0).round();
    take.set_clock(at, step_s, false);
    let said = Said::any(chance);
    twin(take.card(chance, said), "the clock was put forward, or a stop")
}

/// The clock fell back to the factory's date: how long the camera was without power nobody knows.
pub fn factory_date(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let at = chance.whole(10, base.slots as u64 - 10) as usize;
    let pause_s = chance.spread(base.least_pause_s(), 7200.0_f64.max(2.0 * base.least_pause_s()));
    let mut take = Take::new(chance, base, &[Break { at, pause_s, interval_s: base.interval_s }]);
    // 2018-01-01T00:00:00 at the first frame behind the stop.
    let fallen_s = 1_514_764_800.0 - base.clock.start.seconds() - take.due[at].at_s;
    take.set_clock(at, fallen_s, false);
    let said = Said::any(chance);
    twin(take.card(chance, said), "the stop's length is on no file")
}

/// Whole seconds at an interval of the clock's own step: a missed trigger, or a slower timer. No plan.
pub fn slower(chance: &mut Chance) -> Card {
    let mut clock = clock(chance);
    (clock.step, clock.digits, clock.jitter_s) = (Micros::SECOND, 0, 0.0);
    let slots = chance.whole(60, 300) as usize;
    let missed = chance.percent(50.0);
    let mut base = Base { slots, ..Base::with(chance, clock, 1.0, slots) };
    base.interval_s = if missed { 1.0 } else { 1.0 + 0.99 / slots as f64 };
    let mut take = Take::new(chance, base, &[]);
    if missed {
        let at = chance.whole(5, slots as u64 - 6) as usize;
        take.miss(at, 1);
    }
    twin(
        take.card(chance, Said::Nothing),
        "one missed trigger, or a timer slower by one part in as many frames",
    )
}

/// Frames exactly on the timer's own times before or behind a gap: test shots, or the run with a hole. Same
/// exposure.
pub fn tests_on_time(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let dial_s = dial(chance, (1.5 * clock.step_s()).max(2.0));
    let slots = chance.whole(60, 300) as usize;
    let base = Base { mode: Mode::Locked, ..Base::with(chance, clock, dial_s, slots) };
    let mut take = Take::new(chance, base, &[]);
    let (away, count) = (chance.whole(2, 40), chance.whole(1, 4));
    let after = chance.percent(50.0);
    for n in 0..count {
        let off_s = (away + n) as f64 * base.interval_s;
        let open_s = if after { take.ends_s() + off_s } else { take.begins_s() - off_s };
        take.beside(open_s, base.shutter_s, 200);
    }
    let said = chance.pick(&[Said::Nothing, Said::Interval]);
    let mut card = twin(take.card(chance, said), "test shots on the timer's times, or a hole");
    let beside = |at: usize| card.shots[at].role == Role::Beside;
    let border = (1..card.shots.len()).find(|at| beside(at - 1) != beside(*at));
    // On a clock as coarse as the timer every shot is on time, and that says nothing.
    let window_s = base.clock.doubt_s() * (1.0 + 2.0 * (away + count) as f64 / slots as f64);
    let unlikely = count as f64 * (base.interval_s / window_s).max(1.0).ln();
    let open = unlikely < RARER - PASSED_OVER;
    card.class = if open { Class::Events } else { Class::NotClear };
    let event = |after: usize| match open {
        true => Event::Beside { before: after - 1, after },
        false => Event::Undecided { before: after - 1, after },
    };
    card.events = border.map(event).into_iter().collect();
    card
}

/// One frame exposed otherwise in the very slot before or behind the rest: a test shot that happens to stand
/// there, or the run's own first or last frame.
pub fn test_in_the_next_slot(chance: &mut Chance) -> Card {
    let clock = clock(chance);
    let dial_s = dial(chance, (1.5 * clock.step_s()).max(2.0));
    let slots = chance.whole(60, 300) as usize;
    let base = Base { mode: Mode::Locked, ..Base::with(chance, clock, dial_s, slots) };
    let mut take = Take::new(chance, base, &[]);
    let (after, ev) = (chance.percent(50.0), chance.pick(&[-2.0, 2.0]));
    if chance.percent(50.0) {
        let exposure_s = take.base.shutter_s * f64::exp2(ev);
        let (begins_s, ends_s) = (take.begins_s(), take.ends_s());
        let open_s = if after { ends_s + take.base.interval_s } else { begins_s - take.base.interval_s };
        take.beside(open_s, exposure_s, 200);
    } else if after {
        take.jump(slots - 1, ev);
    } else {
        take.jump(1, -ev);
    }
    let said = chance.pick(&[Said::Nothing, Said::Interval]);
    let mut card = take.card(chance, said);
    card.story.push("twin: a test shot in the next slot, or a frame of the run".into());
    Card { class: Class::NotClear, events: Vec::new(), ..card }
}

/// A rest of half an hour and more, and behind it another interval and another exposure: one run whose timer
/// stood and was set anew, or two shoots.
pub fn two_shoots(chance: &mut Chance) -> Card {
    let base = Base { mode: Mode::Locked, ..Base::draw(chance, 1.5) };
    let least = 1.5 * base.clock.step_s();
    let mut other_s = dial(chance, least);
    while (other_s / base.interval_s).max(base.interval_s / other_s) < 1.4 {
        other_s = dial(chance, least);
    }
    let at = chance.whole(10, base.slots as u64 - 10) as usize;
    let pause_s = chance.spread(3600.0, 30_000.0);
    let mut take = Take::new(chance, base, &[Break { at, pause_s, interval_s: other_s }]);
    take.jump(at, chance.pick(&[-2.0, 2.0]));
    let said = chance.pick(&[Said::Nothing, Said::Interval]);
    let mut card = take.card(chance, said);
    card.story.push("twin: one run that stood and was set anew, or two shoots".into());
    let second = card.shots.windows(2).position(|w| match (w[0].role, w[1].role) {
        (Role::Run { timer: a, .. }, Role::Run { timer: b, .. }) => a != b,
        _ => false,
    });
    let events = second.map(|before| Event::Beside { before, after: before + 1 }).into_iter().collect();
    Card { class: Class::Events, events, ..card }
}
