//! Cards that no timer shot: there is no steady pace, and nothing may be invented.

use super::base::{Base, Mode, Said};
use super::card::{Card, Class, Role};
use super::chance::Chance;
use super::take::{Beside, Take};

/// Frames at these moments, s, with these exposures, s.
fn by_hand(chance: &mut Chance, story: &str, moments: &[(f64, f64)]) -> Card {
    let mut base = Base { slots: 1, mode: Mode::Locked, ..Base::draw(chance, 1.5) };
    base.clock.jitter_s = 0.0;
    let mut take = Take::new(chance, base, &[]);
    let from = take.begins_s() + 60.0;
    take.due.clear();
    take.beside = moments
        .iter()
        .map(|(at, exposure_s)| Beside {
            open_s: from + at,
            exposure_s: *exposure_s,
            iso: 200,
            role: Role::Hand,
        })
        .collect();
    take.story.push(story.to_owned());
    let said = Said::Nothing;
    Card { class: Class::Loose, events: Vec::new(), ..take.card(chance, said) }
}

/// Bursts fired by hand.
pub fn bursts(chance: &mut Chance) -> Card {
    let mut moments = Vec::new();
    let mut at = 0.0;
    let pace = chance.pick(&[0.1, 0.2, 0.33, 0.5]);
    let exposure_s = chance.pick(&[1.0 / 1000.0, 1.0 / 250.0, 1.0 / 60.0]);
    for _ in 0..chance.whole(12, 40) {
        for _ in 0..chance.whole(2, 9) {
            moments.push((at, exposure_s));
            at += pace * chance.between(0.9, 1.2);
        }
        at += chance.spread(2.0, 400.0);
    }
    by_hand(chance, "bursts by hand", &moments)
}

/// Sets of three or five exposures, each set fired by hand.
pub fn brackets(chance: &mut Chance) -> Card {
    let mut moments = Vec::new();
    let mut at = 0.0;
    let size = chance.pick(&[3_i32, 5]);
    let middle_s = chance.pick(&[1.0 / 250.0, 1.0 / 60.0, 1.0 / 8.0]);
    for _ in 0..chance.whole(15, 50) {
        for n in 0..size {
            let exposure_s = middle_s * f64::from(2 * (n - size / 2)).exp2();
            moments.push((at, exposure_s));
            at += exposure_s + chance.between(0.25, 0.45);
        }
        at += chance.spread(3.0, 300.0);
    }
    by_hand(chance, "bracket sets by hand", &moments)
}

/// Pairs that a motion sensor fired.
pub fn motion(chance: &mut Chance) -> Card {
    let mut moments = Vec::new();
    let mut at = 0.0;
    let apart = chance.pick(&[1.0, 2.0, 5.0]);
    for _ in 0..chance.whole(30, 80) {
        moments.push((at, 1.0 / 60.0));
        moments.push((at + apart * chance.between(0.95, 1.1), 1.0 / 60.0));
        at += chance.spread(20.0, 20_000.0);
    }
    by_hand(chance, "pairs by motion", &moments)
}

/// A frame every so many metres of a way that is travelled at a changing speed.
pub fn distance(chance: &mut Chance) -> Card {
    let mut moments = Vec::new();
    let mut at = 0.0;
    let mut pace_s = chance.spread(1.5, 12.0);
    let usual = pace_s;
    for _ in 0..chance.whole(80, 250) {
        moments.push((at, 1.0 / 500.0));
        pace_s = (pace_s * (1.0 + 0.18 * chance.normal())).clamp(0.4 * usual, 3.0 * usual);
        at += pace_s;
        if chance.percent(4.0) {
            at += chance.spread(5.0, 90.0);
        }
    }
    by_hand(chance, "by distance", &moments)
}

/// Single frames at any time.
pub fn singles(chance: &mut Chance) -> Card {
    let mut moments = Vec::new();
    let mut at = 0.0;
    for _ in 0..chance.whole(20, 150) {
        moments.push((at, 1.0 / 125.0));
        at += chance.spread(1.0, 600.0);
    }
    by_hand(chance, "single frames by hand", &moments)
}
