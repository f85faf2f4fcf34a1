//! Cards whose names are the trouble, or look like it.

use super::base::{Base, Said};
use super::card::{Card, Class, Event};
use super::chance::Chance;
use super::take::Take;

fn run(chance: &mut Chance) -> Card {
    let base = Base::draw(chance, 1.5);
    let take = Take::new(chance, base, &[]);
    let said = Said::any(chance);
    take.card(chance, said)
}

fn rename(card: &mut Card, name: impl Fn(usize) -> String) {
    for (at, shot) in card.shots.iter_mut().enumerate() {
        shot.folder = String::new();
        shot.name = name(at);
    }
}

/// Renamed in the order of capture.
pub fn renamed(chance: &mut Chance) -> Card {
    let mut card = run(chance);
    let style = chance.whole(0, 2);
    rename(&mut card, |at| match style {
        0 => format!("harbour-{at:04}.jpg"),
        1 => format!("frame_{:05}.jpg", at + 1),
        _ => format!("{at:06}.jpg"),
    });
    card.story.push("renamed in the order of capture".into());
    Card { class: Class::Good, ..card }
}

/// Renamed out of the order of capture: two neighbours, two pieces, or all of them.
pub fn scrambled(chance: &mut Chance) -> Card {
    let mut card = run(chance);
    let len = card.shots.len();
    let mut order: Vec<usize> = (0..len).collect();
    match chance.whole(0, 2) {
        0 => {
            let at = chance.whole(0, len as u64 - 2) as usize;
            order.swap(at, at + 1);
        }
        1 => {
            let at = chance.whole(5, len as u64 - 5) as usize;
            order.rotate_left(at);
        }
        _ => chance.shuffle(&mut order),
    }
    let mut name_of = vec![0; len];
    for (name, at) in order.into_iter().enumerate() {
        name_of[at] = name;
    }
    rename(&mut card, |at| format!("harbour-{:04}.jpg", name_of[at]));
    card.story.push("renamed out of order".into());
    card.events.push(Event::Order);
    card
}

/// Names without leading noughts: IMG_1, IMG_10, IMG_2.
pub fn without_noughts(chance: &mut Chance) -> Card {
    let mut card = run(chance);
    rename(&mut card, |at| format!("IMG_{}.jpg", at + 1));
    card.story.push("names without leading noughts".into());
    card.events.push(Event::Order);
    card
}

/// Numbers that wrap in one folder: 9999, then 0001.
pub fn wrapped(chance: &mut Chance) -> Card {
    let mut card = run(chance);
    let first = 9999 - chance.whole(3, card.shots.len() as u64 - 4) as usize;
    rename(&mut card, |at| format!("WILD{:04}.JPG", (first + at) % 9999 + 1));
    card.story.push(format!("numbers from {} wrap in one folder", first + 1));
    card.events.push(Event::Order);
    card
}

/// Some files lie on the card twice.
pub fn copies(chance: &mut Chance) -> Card {
    let mut card = run(chance);
    for _ in 0..chance.whole(1, 3) {
        let at = chance.whole(1, card.shots.len() as u64 - 2) as usize;
        let stem = card.shots[at].name.split('.').next().unwrap_or_default().to_owned();
        let copy = format!("{stem} (1).JPG");
        if card.shots.iter().all(|s| s.name != copy) && card.shots[at].bytes_of.is_none() {
            let mut twice = card.shots[at].clone();
            card.shots[at].bytes_of = Some(at as u64 + 1_000_000);
            twice.bytes_of = Some(at as u64 + 1_000_000);
            twice.name = copy;
            card.shots.push(twice);
            card.events.push(Event::Surplus { at: card.shots.len() - 1 });
        }
    }
    card.story.push("files copied within the folder".into());
    card
}
