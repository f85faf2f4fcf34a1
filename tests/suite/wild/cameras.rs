//! Several cameras on one card: in folders of their own, or their frames between each other's.

use super::base::{Base, Said};
use super::card::{Card, Class, Event, NAMELESS, Role};
use super::chance::Chance;
use super::take::{Break, Take};

/// Where the frames lie, and whether the files name their camera.
#[derive(Clone, Copy, PartialEq)]
enum Lie {
    Apart,
    Mixed,
    Nameless,
}

/// An event with its places moved.
fn moved(event: &Event, by: usize) -> Event {
    let mut event = event.clone();
    match &mut event {
        Event::Hole { before, after, .. }
        | Event::Stop { before, after, .. }
        | Event::Rate { before, after, .. }
        | Event::Clock { before, after, .. }
        | Event::Jump { before, after, .. }
        | Event::Undecided { before, after }
        | Event::Beside { before, after }
        | Event::Absent { before, after, .. } => {
            *before += by;
            *after += by;
        }
        Event::Late { at, .. } | Event::Surplus { at } | Event::Damaged { at } | Event::Thin { at } => {
            *at += by
        }
        Event::Hidden { first, last } => {
            *first += by;
            *last += by;
        }
        Event::Short { .. } | Event::Order => {}
    }
    event
}

/// The cards of several cameras as one.
fn together(chance: &mut Chance, cards: Vec<Card>, lie: Lie) -> Card {
    let mut cards = cards.into_iter();
    let mut all = cards.next().expect("a camera");
    let ahead: Vec<f64> = (0..4).map(|_| chance.between(-300.0, 300.0).round()).collect();
    let name = |shot: &mut super::card::Shot, camera: usize| {
        let (folder, letters) = [("near", "NEAR"), ("wide", "WIDE"), ("roof", "ROOF")][camera];
        shot.name = shot.name.replace("WILD", letters);
        if lie != Lie::Mixed {
            shot.folder = format!("{folder}/{}", shot.folder);
        }
        shot.camera = if lie == Lie::Nameless { NAMELESS } else { camera as u16 };
        shot.clock_s += ahead[camera];
    };
    all.shots.iter_mut().for_each(|s| name(s, 0));
    for (n, card) in cards.enumerate() {
        let (shots, timers) = (all.shots.len(), all.timers.len());
        all.events.extend(card.events.iter().map(|e| moved(e, shots)));
        all.timers.extend(card.timers);
        all.shots.extend(card.shots.into_iter().map(|mut shot| {
            if let Role::Run { timer, slot } = shot.role {
                shot.role = Role::Run { timer: timer + timers, slot };
            }
            name(&mut shot, n + 1);
            shot
        }));
        all.story.extend(card.story.into_iter().map(|line| format!("camera {}: {line}", n + 2)));
    }
    all
}

/// So many cameras of one shoot; `trouble` has its way with the run of each by its number.
fn shoot(
    chance: &mut Chance,
    many: usize,
    lie: Lie,
    trouble: impl Fn(&mut Chance, &mut Take, usize),
) -> Card {
    let base = Base::draw(chance, 2.0);
    let own_timers = chance.percent(20.0);
    let said =
        if own_timers { Said::Nothing } else { chance.pick(&[Said::Nothing, Said::Interval, Said::Frames]) };
    let cards = (0..many).map(|camera| {
        let mut base = base;
        if own_timers && camera > 0 {
            base.interval_s *= 1.5;
            base.dial_s *= 1.5;
            base.slots = base.slots * 2 / 3;
        }
        let mut take = Take::new(chance, base, &[]);
        trouble(chance, &mut take, camera);
        take.card(chance, said)
    });
    let cards = cards.collect();
    together(chance, cards, lie)
}

/// A hole, some, or a piece of the end.
fn losses(chance: &mut Chance, take: &mut Take) {
    let slots = take.due.len();
    for _ in 0..chance.whole(1, 3) {
        let count = chance.whole(1, 12) as usize;
        let at = chance.whole(1, (slots - count - 2) as u64) as usize;
        if chance.percent(50.0) { take.miss(at, count) } else { take.lose(at, count) }
    }
}

/// Every camera is whole.
pub fn good(chance: &mut Chance) -> Card {
    let (many, lie) = (chance.pick(&[2, 2, 3]), chance.pick(&[Lie::Apart, Lie::Mixed]));
    Card { class: Class::Good, ..shoot(chance, many, lie, |_, _, _| ()) }
}

/// One of the cameras has holes.
pub fn one_lost(chance: &mut Chance) -> Card {
    let many = chance.pick(&[2, 2, 3]);
    let which = chance.whole(0, many as u64 - 1) as usize;
    shoot(chance, many, Lie::Apart, |chance, take, camera| {
        if camera == which {
            losses(chance, take);
        }
    })
}

/// The same, their frames between each other's in one folder.
pub fn one_lost_mixed(chance: &mut Chance) -> Card {
    let which = chance.whole(0, 1) as usize;
    shoot(chance, 2, Lie::Mixed, |chance, take, camera| {
        if camera == which {
            losses(chance, take);
        }
    })
}

/// No file names its camera; folders and letters do.
pub fn nameless(chance: &mut Chance) -> Card {
    shoot(chance, 2, Lie::Nameless, |chance, take, camera| {
        if camera == 1 {
            losses(chance, take);
        }
    })
}

/// The controller did not fire: every camera misses the same slots.
pub fn shared(chance: &mut Chance) -> Card {
    let (share, count) = (chance.between(0.1, 0.8), chance.whole(1, 8) as usize);
    shoot(chance, 2, Lie::Apart, |_, take, _| {
        let at = (share * take.due.len() as f64) as usize + 1;
        take.miss(at, count);
    })
}

/// The second camera's timer stood.
pub fn one_stood(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 2.0);
    let at = chance.whole(10, base.slots as u64 - 10) as usize;
    let pause_s = chance.spread(base.least_pause_s(), (20.0 * base.least_pause_s()).max(3000.0));
    let interval_s = base.interval_s * chance.pick(&[1.0, 1.0167, 1.0]);
    let first = Take::new(chance, base, &[]).card(chance, Said::Nothing);
    let second = Take::new(chance, base, &[Break { at, pause_s, interval_s }]).card(chance, Said::Nothing);
    let lie = chance.pick(&[Lie::Apart, Lie::Mixed]);
    together(chance, vec![first, second], lie)
}
