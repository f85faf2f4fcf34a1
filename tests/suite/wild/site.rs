//! Site cameras: working hours, several days.

use super::base::{Base, Mode, clock};
use super::card::{Card, Class, Event, Role};
use super::chance::Chance;
use super::take::{Due, Take};
use lapseproof::frames::Damage;
use lapseproof::plan::{DailyHours, Plan};
use lapseproof::units::Micros;

/// A run of some days with its plan: (the take, the hours, the slots of a day).
fn days(chance: &mut Chance) -> (Take, DailyHours, usize) {
    let mut clock = clock(chance);
    clock.start = Micros::from_seconds(1_767_225_600) + Micros::DAY * chance.whole(0, 300) as i64;
    let interval_s = chance.pick(&[60.0, 120.0, 300.0, 600.0, 900.0]);
    let slots = chance.whole(12, 60) as usize;
    let from_s = chance.pick(&[6, 7, 8]) * 3600;
    let slots = slots.min((43_200.0 / interval_s) as usize);
    // They end half an interval behind the day's last slot.
    let to_s = from_s + (interval_s * (slots as f64 - 0.5)) as u32;
    let many = chance.whole(3, 9) as usize;
    let base = Base::with(chance, clock, interval_s, slots * many);
    let base = Base { mode: Mode::Automatic, interval_s, ..base };
    let exposures = base.exposures(chance);
    let lag_s = chance.between(0.0, 0.9);
    let due = (0..many * slots).map(|n| {
        let (day, slot) = (n / slots, n % slots);
        Due {
            at_s: 86_400.0 * day as f64 + f64::from(from_s) + interval_s * slot as f64 + lag_s,
            timer: day,
            slot: slot as i64,
            exposure_s: exposures[n],
            fired: true,
            kept: true,
            late_s: 0.0,
            clock_s: 0.0,
            offset_min: base.offset_min,
            double_s: None,
            damage: Damage::None,
            headless: false,
        }
    });
    let take = Take {
        base,
        due: due.collect(),
        timers: vec![interval_s; many],
        beside: Vec::new(),
        first_number: chance.whole(1, 5000) as u32,
        story: vec![format!("{many} days of {slots} slots every {interval_s} s from {from_s} s of the day")],
    };
    (take, DailyHours { from_s, to_s }, slots)
}

/// The card; nights are no stops, and what is due between two frames is missing.
fn card(chance: &mut Chance, take: Take, hours: DailyHours) -> Card {
    let due = take.due.clone();
    let mut card = take.clone().card(chance, super::base::Said::Nothing);
    card.plan = Plan { interval_s: Some(take.base.dial_s), active: vec![hours], ..Plan::default() };
    card.events.retain(|e| !matches!(e, Event::Stop { .. } | Event::Rate { .. }));
    let place = |at: usize| {
        let Role::Run { timer, slot } = card.shots[at].role else { return None };
        due.iter().position(|d| (d.timer, d.slot) == (timer, slot)).map(|n| (timer, n))
    };
    let mut absent = Vec::new();
    for at in 1..card.shots.len() {
        let (Some((a, from)), Some((b, to))) = (place(at - 1), place(at)) else { continue };
        if a != b && to - from > 1 {
            absent.push(Event::Absent { before: at - 1, after: at, slots: (to - from - 1) as u64 });
        }
    }
    card.events.extend(absent);
    card
}

/// All days are whole.
pub fn whole(chance: &mut Chance) -> Card {
    let (take, hours, _) = days(chance);
    Card { class: Class::Good, ..card(chance, take, hours) }
}

/// A day in the middle has no frames.
pub fn lost_day(chance: &mut Chance) -> Card {
    let (mut take, hours, slots) = days(chance);
    let day = chance.whole(1, take.timers.len() as u64 - 2) as usize;
    if chance.percent(50.0) {
        take.miss(day * slots, slots)
    } else {
        take.lose(day * slots, slots)
    }
    card(chance, take, hours)
}

/// A day began late or ended early.
pub fn late_morning(chance: &mut Chance) -> Card {
    let (mut take, hours, slots) = days(chance);
    let day = chance.whole(1, take.timers.len() as u64 - 2) as usize;
    let count = chance.whole(1, slots as u64 / 2) as usize;
    let at = if chance.percent(60.0) { day * slots } else { (day + 1) * slots - count };
    take.miss(at, count);
    card(chance, take, hours)
}

/// Holes within days.
pub fn holes(chance: &mut Chance) -> Card {
    let (mut take, hours, slots) = days(chance);
    for _ in 0..chance.whole(1, 3) {
        let day = chance.whole(0, take.timers.len() as u64 - 1) as usize;
        let at = chance.whole(1, slots as u64 - 3) as usize;
        take.miss(day * slots + at, 1);
    }
    card(chance, take, hours)
}

/// The clock is set back by three minutes, in a night or by day.
pub fn clock_back(chance: &mut Chance) -> Card {
    let (mut take, hours, slots) = days(chance);
    let day = chance.whole(1, take.timers.len() as u64 - 2) as usize;
    let at = if chance.percent(50.0) { 0 } else { chance.whole(3, slots as u64 - 3) as usize };
    take.set_clock(day * slots + at, -180.0, false);
    let mut card = card(chance, take, hours);
    // In a night nobody can see it for certain.
    if at == 0 {
        card.events.retain(|e| !matches!(e, Event::Clock { .. }));
    }
    card
}
