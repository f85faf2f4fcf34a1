//! Bracket sets by a timer: announced or not, whole or with an exposure gone.

use super::base::{Base, Mode, Said, clock, dial, plan};
use super::card::{Card, Class, Event, Role};
use super::chance::Chance;
use super::take::Take;

/// Sets of three, five or seven exposures in each slot. Returns the card and the size of its sets.
fn sets(chance: &mut Chance) -> (Card, usize) {
    let clock = clock(chance);
    let size = chance.pick(&[3_usize, 3, 5, 7]);
    let least = 6.0 * size as f64;
    let dial_s = dial(chance, least);
    let slots = chance.whole(45, 150) as usize;
    let base = Base { mode: Mode::Locked, ..Base::with(chance, clock, dial_s, slots) };
    let base = Base { shutter_s: chance.pick(&[1.0 / 500.0, 1.0 / 125.0]), ..base };
    let take = Take::new(chance, base, &[]);
    let step_ev = chance.pick(&[1.0, 2.0]);
    let write_s = chance.between(0.2, 0.5);
    let announced = chance.percent(50.0);
    let mut card = take.card(chance, Said::Nothing);
    let mut shots = Vec::new();
    for shot in &card.shots {
        let mut open_s = shot.open_s;
        for n in 0..size {
            let ev = step_ev * (n as f64 - (size / 2) as f64);
            let exposure_s = shot.exposure_s * ev.exp2();
            let mut member = shot.clone();
            (member.open_s, member.exposure_s) = (open_s, exposure_s);
            member.role = if n == 0 { shot.role } else { Role::Extra };
            shots.push(member);
            open_s += exposure_s + write_s;
        }
    }
    for (n, shot) in shots.iter_mut().enumerate() {
        shot.folder = "DCIM/100WILDA".into();
        shot.name = format!("WILD{:04}.JPG", n + 1);
    }
    card.shots = shots;
    card.events.clear();
    if announced {
        card.plan = plan(&base, Said::Frames);
        card.plan.interval_s = Some(base.dial_s);
        card.plan.bracket = Some(size as u32);
    }
    card.story.push(format!("sets of {size}, {step_ev} EV apart, announced: {announced}"));
    (card, size)
}

/// Every set is whole.
pub fn whole(chance: &mut Chance) -> Card {
    let (card, _) = sets(chance);
    Card { class: Class::Good, ..card }
}

/// One exposure of a set is lost.
pub fn thin(chance: &mut Chance) -> Card {
    let (mut card, size) = sets(chance);
    let set = chance.whole(2, (card.shots.len() / size) as u64 - 3) as usize;
    let at = set * size + chance.whole(0, size as u64 - 1) as usize;
    let gone = card.shots.remove(at);
    if gone.role != Role::Extra {
        // The next exposure is the first of its slot.
        card.shots[at].role = gone.role;
    }
    card.story.push(format!("the exposure at {at} is lost"));
    card.events.push(Event::Thin { at });
    card
}

/// A whole set, or some, were missed.
pub fn missed(chance: &mut Chance) -> Card {
    let (mut card, size) = sets(chance);
    let sets = card.shots.len() / size;
    let (set, count) = (chance.whole(3, sets as u64 - 8) as usize, chance.whole(1, 4) as usize);
    card.shots.drain(set * size..(set + count) * size);
    for (n, shot) in card.shots.iter_mut().enumerate() {
        shot.name = format!("WILD{:04}.JPG", n + 1);
    }
    card.story.push(format!("{count} sets missed from set {set}"));
    // The hole lies between the first exposures of two sets, or between the last one and the first: both are
    // that place.
    card.events.push(Event::Hole { before: (set - 1) * size, after: set * size, slots: count as u64 });
    card
}
