//! Cards whose pictures matter. They go through real files.

use super::base::{Base, Mode, Said};
use super::card::{Card, Class, Clock, Event};
use super::chance::Chance;
use super::film::{Cover, Film};
use super::take::Take;
use lapseproof::units::Micros;

/// A whole run of a few dozen frames by daylight, with its pictures.
fn run(chance: &mut Chance, mode: Mode) -> (Card, Film) {
    let start = Micros::from_seconds(1_767_225_600 + 36_000) + Micros::DAY * chance.whole(0, 300) as i64;
    let (step, digits) = chance.pick(&[(Micros::SECOND, 0), (Micros::step_of(2), 2)]);
    let clock = Clock { step, digits, rounds: false, jitter_s: 0.003, start };
    let dial_s = chance.pick(&[2.0, 3.0, 5.0, 6.0, 10.0, 20.0]);
    let slots = chance.whole(36, 60) as usize;
    let base = Base { mode, ..Base::with(chance, clock, dial_s, slots) };
    let base = Base { shutter_s: chance.pick(&[1.0 / 250.0, 1.0 / 125.0, 1.0 / 60.0]), ..base };
    let take = Take::new(chance, base, &[]);
    let said = chance.pick(&[Said::Nothing, Said::Nothing, Said::Interval, Said::All]);
    let card = take.card(chance, said);
    let film = Film::new(chance, card.shots.len());
    (card, film)
}

fn with(card: Card, film: Film, class: Class, story: &str) -> Card {
    let mut card = Card { film: Some(film), class, ..card };
    card.story.push(story.to_owned());
    card
}

/// A still scene in steady light.
pub fn still(chance: &mut Chance) -> Card {
    let (card, film) = run(chance, Mode::Locked);
    with(card, film, Class::Good, "a still scene")
}

/// Clouds and their shadows, and people that pass.
pub fn clouds(chance: &mut Chance) -> Card {
    let (card, mut film) = run(chance, Mode::Locked);
    film.wind = chance.between(0.5, 6.0);
    film.shade = chance.between(0.2, 0.7);
    film.people = chance.whole(0, 5);
    with(card, film, Class::Good, "clouds and people")
}

/// The sun goes behind a cloud and comes out, slowly.
pub fn sun(chance: &mut Chance) -> Card {
    let (card, film) = sunny(chance, 4.0, (0.02, 0.08), SLOWLY);
    with(card, film, Class::Good, "the sun comes and goes slowly")
}

/// The same within a few frames: the clip shows it, and no fault of anybody's.
pub fn sun_quick(chance: &mut Chance) -> Card {
    let (card, film) = sunny(chance, 8.0, (0.08, 0.35), 1);
    with(card, film, Class::Events, "the sun comes and goes")
}

/// Slow light goes one way for so many frames at least. What comes and goes within fewer is a twin: see
/// [`dip`].
const SLOWLY: usize = 6;

/// The light fails for one to three frames and comes back: a wisp of cloud, or an aperture that stuck. Both
/// leave the same files. Less than 0.05 EV is lost in the noise of thumbnails.
pub fn dip(chance: &mut Chance) -> Card {
    let (card, mut film) = run(chance, Mode::Locked);
    let count = chance.whole(1, 3) as usize;
    let at = chance.whole(4, (film.light_ev.len() - count - 4) as u64) as usize;
    film.light_ev[at..at + count].fill(-chance.between(0.05, 0.3));
    with(card, film, Class::NotClear, &format!("darker for {count} frames from {at}"))
}

/// Light that begins to change in so many of a hundred frames, at so many EV a frame, and goes on for so many
/// frames at least.
fn sunny(chance: &mut Chance, often: f64, rate: (f64, f64), least: usize) -> (Card, Film) {
    let (card, mut film) = run(chance, Mode::Locked);
    let len = film.light_ev.len();
    let (mut now, mut aim, mut way) = (0.0_f64, 0.0_f64, 0.1_f64);
    let mut free = 0;
    for at in 0..len {
        if chance.percent(often) && at >= free {
            free = at + least;
            aim = if aim < -0.1 { 0.0 } else { -chance.between(0.5, 1.6) };
            way = chance.between(rate.0, rate.1);
        }
        now += (aim - now).clamp(-way, way);
        film.light_ev[at] = now;
    }
    film.wind = chance.between(0.2, 2.0);
    film.shade = 0.3;
    (card, film)
}

/// It gets dark, and the exposure follows by thirds.
pub fn dusk(chance: &mut Chance) -> Card {
    let (mut card, mut film) = run(chance, Mode::Locked);
    let rate = chance.between(0.02, 0.07);
    let first_s = card.shots[0].exposure_s;
    for at in 0..card.shots.len() {
        film.light_ev[at] = -rate * at as f64;
        let thirds = (3.0 * rate * at as f64).floor();
        film.exposed_ev[at] = thirds / 3.0;
        card.shots[at].exposure_s = super::base::marked(first_s, thirds as i64);
    }
    card.plan = lapseproof::plan::Plan { interval_s: card.plan.interval_s, ..Default::default() };
    with(card, film, Class::Good, "dusk, the exposure follows")
}

/// The camera is turned to another scene: no fault, but seen.
pub fn turned(chance: &mut Chance) -> Card {
    let (card, mut film) = run(chance, Mode::Locked);
    film.turned_at = Some(chance.whole(12, film.cover.len() as u64 - 12) as usize);
    with(card, film, Class::Events, "another scene from the middle on")
}

/// From one frame to twelve, anywhere: the first of them and how many.
fn span(chance: &mut Chance, shots: usize) -> (usize, usize) {
    let count = chance.whole(1, 12) as usize;
    let at = match chance.whole(0, 9) {
        0 => 0,
        1 => shots - count,
        _ => chance.whole(1, (shots - count - 1) as u64) as usize,
    };
    (at, count)
}

fn hide(chance: &mut Chance, story: &str, cover: impl Fn(&mut Chance, f64) -> Cover) -> Card {
    hide_over(chance, story, span, cover)
}

fn hide_over(
    chance: &mut Chance,
    story: &str,
    span: impl Fn(&mut Chance, usize) -> (usize, usize),
    cover: impl Fn(&mut Chance, f64) -> Cover,
) -> Card {
    let (mut card, mut film) = run(chance, Mode::Locked);
    if chance.percent(50.0) {
        film.wind = chance.between(0.5, 4.0);
        film.shade = chance.between(0.1, 0.4);
    }
    let (at, count) = span(chance, film.cover.len());
    for n in 0..count {
        film.cover[at + n] = Some(cover(chance, (n as f64 + 0.5) / count as f64));
    }
    card.events.push(Event::Hidden { first: at, last: at + count - 1 });
    with(card, film, Class::Events, &format!("{story}, {count} frames from {at}"))
}

/// A lorry passes close before the lens.
pub fn lorry(chance: &mut Chance) -> Card {
    let bright = chance.spread(0.02, 0.6);
    let long = chance.between(0.9, 1.6);
    let top = chance.between(0.0, 0.12);
    hide(chance, "a lorry", move |_, share| {
        // In the first and the last of its frames it stands over two thirds of the picture at least.
        let left = -0.3 + share * 0.6 - 0.5 * (long - 1.0);
        Cover::Box { left, right: left + long, top, bright }
    })
}

/// A hand, or somebody's head, near the lens.
pub fn hand(chance: &mut Chance) -> Card {
    let bright = chance.spread(0.01, 0.25);
    let radius = chance.between(0.45, 0.8);
    hide(chance, "a hand", move |chance, _| Cover::Blob {
        x: 0.5 + chance.between(-0.06, 0.06),
        y: 0.4 + chance.between(-0.06, 0.06),
        radius,
        bright,
    })
}

/// A sheet of paper before the lens.
pub fn paper(chance: &mut Chance) -> Card {
    let bright = chance.between(0.35, 0.95);
    let to = chance.between(0.65, 1.2);
    hide(chance, "a sheet of paper", move |chance, _| Cover::Sheet {
        to: to + chance.between(-0.03, 0.03),
        bright,
    })
}

/// Longer than a dozen frames, less than half of the run, anywhere.
fn long_span(chance: &mut Chance, shots: usize) -> (usize, usize) {
    let count = chance.whole(13, shots as u64 / 2 - 1) as usize;
    (chance.whole(0, (shots - count) as u64) as usize, count)
}

/// From the first frame on or to the last, less than half of the run.
fn end_span(chance: &mut Chance, shots: usize) -> (usize, usize) {
    let count = chance.whole(1, shots as u64 / 2 - 1) as usize;
    (if chance.percent(50.0) { 0 } else { shots - count }, count)
}

/// What stands before the lens for a long time: a hand, a sheet that blew there, the
/// side of something that parked.
fn stays(chance: &mut Chance, span: impl Fn(&mut Chance, usize) -> (usize, usize)) -> Card {
    let bright = chance.spread(0.02, 0.8);
    let wide = chance.between(0.65, 0.9);
    match chance.whole(0, 2) {
        0 => hide_over(chance, "a parked side", span, move |_, _| Cover::Box {
            left: -0.1,
            right: wide,
            top: 0.0,
            bright,
        }),
        1 => hide_over(chance, "a hand that stays", span, move |chance, _| Cover::Blob {
            x: 0.5 + chance.between(-0.03, 0.03),
            y: 0.4 + chance.between(-0.03, 0.03),
            radius: 0.6 * wide,
            bright,
        }),
        _ => hide_over(chance, "a sheet that stays", span, move |chance, _| Cover::Sheet {
            to: wide + chance.between(-0.02, 0.02),
            bright,
        }),
    }
}

/// Something stands before the lens for more than a dozen frames.
pub fn long(chance: &mut Chance) -> Card {
    stays(chance, long_span)
}

/// Something stands there when the run begins, or from a frame on to its end.
pub fn end(chance: &mut Chance) -> Card {
    stays(chance, end_span)
}

/// A lorry passes and passes: for more than a dozen frames, each of which shows another part of it.
pub fn convoy(chance: &mut Chance) -> Card {
    let bright = chance.spread(0.02, 0.6);
    let top = chance.between(0.0, 0.12);
    let pace = chance.between(0.01, 0.1);
    hide_over(chance, "a convoy", long_span, move |_, share| {
        let left = -2.0 + pace * 30.0 * share;
        Cover::Box { left: left.min(0.0), right: 1.5, top, bright }
    })
}

/// Water that glitters another way in each frame.
pub fn water(chance: &mut Chance) -> Card {
    let (card, mut film) = run(chance, Mode::Locked);
    film.waves = chance.between(0.2, 1.5);
    with(card, film, Class::Good, "water")
}

/// Something stands before water.
pub fn water_hidden(chance: &mut Chance) -> Card {
    let waves = chance.between(0.2, 1.5);
    let mut card = stays(chance, end_span);
    if let Some(film) = &mut card.film {
        film.waves = waves;
    }
    card
}

/// Something stands before all of the lens from the first frame to the last: a wall would leave the same
/// files. The call is free, but for an alarm over what may be a scene.
pub fn whole(chance: &mut Chance) -> Card {
    let (card, mut film) = run(chance, Mode::Locked);
    let bright = chance.between(0.05, 0.7);
    film.cover.fill(Some(Cover::Sheet { to: 1.5, bright }));
    with(card, film, Class::Events, "twin: a sheet before the lens all the time, or a wall")
}

/// The cap was on for some frames.
pub fn black_few(chance: &mut Chance) -> Card {
    hide(chance, "black frames", |_, _| Cover::Black)
}

/// Some frames are blown out while the settings stayed.
pub fn blown_few(chance: &mut Chance) -> Card {
    hide(chance, "blown frames", |_, _| Cover::Blown)
}

fn all(chance: &mut Chance, cover: Cover, story: &str) -> Card {
    let (mut card, mut film) = run(chance, Mode::Locked);
    film.cover.fill(Some(cover));
    card.events.push(Event::Hidden { first: 0, last: card.shots.len() - 1 });
    with(card, film, Class::Events, story)
}

/// The cap was on all the time.
pub fn black_all(chance: &mut Chance) -> Card {
    all(chance, Cover::Black, "black from the first frame to the last")
}

/// Every frame is blown out.
pub fn blown_all(chance: &mut Chance) -> Card {
    all(chance, Cover::Blown, "blown from the first frame to the last")
}
