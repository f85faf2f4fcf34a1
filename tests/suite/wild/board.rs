//! The board: cards drawn, audited and counted.

use super::card::{Card, Class, Event};
use super::families::{Draw, card};
use super::files;
use super::told::Told;
use lapseproof::audit::{Audit, Setting, carry_out_each};
use lapseproof::frames::Pictures;
use lapseproof::verdict::Call;
use rayon::prelude::*;

/// What one card came to.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// True where a viewer would see something, or two truths share the files.
    pub at_stake: bool,
    pub good: bool,
    pub false_clear: bool,
    pub false_hold: bool,
    pub false_look: bool,
    /// Events that a finding should name at their place, and those that one does.
    pub asked: u64,
    pub told: u64,
    /// Ends at which the files leave open whether frames are the run's.
    pub left_open: u64,
    /// What does not add up, and what was invented.
    pub wrong: Vec<String>,
    /// A line for the findings.
    pub line: String,
}

/// The audits of a card, one a camera, and the call over all of them.
pub struct Judged {
    pub call: Call,
    pub audits: Vec<Audit>,
}

/// Audits a card.
pub fn audit(card: &Card) -> Judged {
    let (frames, pictures) = match &card.film {
        None => (card.frames(), Pictures::None),
        Some(film) => (files::read(card, film), Pictures::Thumb),
    };
    let setting = Setting { name: "wild".into(), plan: card.plan.clone(), pictures, ..Setting::default() };
    let set = carry_out_each(setting, frames);
    Judged { call: set.call(), audits: set.cameras.into_iter().map(|c| c.audit).collect() }
}

/// Weighs the audits of a card against its truth.
pub fn weigh(card: &Card) -> Outcome {
    let Judged { call, audits } = audit(card);
    let told: Vec<Told> = audits.iter().map(|audit| Told::new(card, audit)).collect();
    let sees = !card.viewer_sees().is_empty();
    let mut out = Outcome { wrong: account(card, &told), ..Outcome::default() };
    out.at_stake = card.class == Class::NotClear || card.class == Class::Events && sees;
    out.good = card.class == Class::Good;
    out.left_open = card.events.iter().filter(|e| matches!(e, Event::Beside { .. })).count() as u64;
    match card.class {
        Class::Good => {
            out.false_hold = call == Call::Hold;
            out.false_look = call == Call::Look;
        }
        Class::Events => {
            out.false_clear = sees && call == Call::Clear;
            out.false_hold = !sees && out.left_open == 0 && call == Call::Hold;
        }
        Class::NotClear => out.false_clear = call == Call::Clear,
        Class::Loose => out.wrong.extend(told.iter().flat_map(Told::invented)),
    }
    let untold: Vec<&Event> = card.events.iter().filter(|e| !told.iter().any(|t| t.tells(e))).collect();
    (out.asked, out.told) = (card.events.len() as u64, (card.events.len() - untold.len()) as u64);
    let reason = told.iter().flat_map(Told::reasons).next().unwrap_or_default();
    let what = untold.first().map(|e| format!("untold {e:?}; ")).unwrap_or_default();
    let wrong = out.wrong.first().map(|w| format!("{w}; ")).unwrap_or_default();
    out.line = format!("{call:?}; {what}{wrong}{}; {}", card.story.join(", "), reason);
    out
}

/// What does not add up: each shot is in one audit, and each audit's own account holds.
pub fn account(card: &Card, told: &[Told]) -> Vec<String> {
    let mut out: Vec<String> = told.iter().flat_map(Told::account).collect();
    for shot in 0..card.shots.len() {
        let audits = told.iter().filter(|t| t.place(shot).is_some()).count();
        if audits != 1 {
            out.push(format!("shot {shot} is in {audits} audits"));
        }
    }
    out
}

/// The count of a family.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub cards: u64,
    /// Cards over which no call may be clear, and good ones.
    pub at_stake: u64,
    pub good: u64,
    pub false_clear: Vec<u64>,
    pub false_hold: Vec<u64>,
    pub false_look: Vec<u64>,
    pub asked: u64,
    pub told: u64,
    /// Ends that the files leave open: twins within a card.
    pub left_open: u64,
    /// Cards of which every event is told at its place.
    pub whole: u64,
    pub untold: Vec<u64>,
    pub wrong: Vec<u64>,
    /// The first few of each trouble: seed and line.
    pub lines: Vec<(u64, &'static str, String)>,
}

/// How many counter-examples of one trouble are kept at most.
const KEPT: usize = 60;

/// Plays the seeds from `first` on.
pub fn play(name: &str, draw: Draw, first: u64, cards: u64) -> Tally {
    let mut tally = Tally { cards, ..Tally::default() };
    let seeds: Vec<u64> = (first..first + cards).collect();
    let one = |seed: &u64| weigh(&card(name, draw, *seed));
    // Files are read on all threads already; cards on top of that would pile up on one thread's stack.
    let outcomes: Vec<Outcome> = match name.starts_with("picture-") {
        true => seeds.iter().map(one).collect(),
        false => seeds.par_iter().map(one).collect(),
    };
    for (seed, out) in seeds.into_iter().zip(outcomes) {
        tally.at_stake += u64::from(out.at_stake);
        tally.good += u64::from(out.good);
        tally.asked += out.asked;
        tally.told += out.told;
        tally.left_open += out.left_open;
        tally.whole += u64::from(out.told == out.asked);
        for (what, is, list) in [
            ("FALSE CLEAR", out.false_clear, &mut tally.false_clear),
            ("false hold", out.false_hold, &mut tally.false_hold),
            ("false look", out.false_look, &mut tally.false_look),
            ("untold", out.told < out.asked, &mut tally.untold),
            ("account", !out.wrong.is_empty(), &mut tally.wrong),
        ] {
            if is {
                list.push(seed);
                if list.len() <= KEPT {
                    tally.lines.push((seed, what, out.line.clone()));
                }
            }
        }
    }
    tally
}

/// What all families come to.
pub fn sum(tallies: &[(&str, Tally)]) -> String {
    let all = |of: fn(&Tally) -> u64| tallies.iter().map(|t| of(&t.1)).sum::<u64>();
    let behind: Vec<String> = tallies
        .iter()
        .filter(|(_, t)| 100 * t.told < 99 * t.asked)
        .map(|(name, t)| format!("{name} {:.1} %", 100.0 * t.told as f64 / t.asked as f64))
        .collect();
    format!(
        "no call may be clear: {} cards, {} clear\ngood: {} cards, {} hold, {} look\nless than 99 % told at \
         their place: {}\naccount or invention: {} cards\nends that the files leave open, apart: {}",
        all(|t| t.at_stake),
        all(|t| t.false_clear.len() as u64),
        all(|t| t.good),
        all(|t| if t.good > 0 { t.false_hold.len() as u64 } else { 0 }),
        all(|t| t.false_look.len() as u64),
        if behind.is_empty() { "none".to_owned() } else { behind.join(", ") },
        all(|t| t.wrong.len() as u64),
        all(|t| t.left_open),
    )
}

/// The head of the printed board.
pub fn head() -> String {
    format!(
        "{:22} {:>6} {:>7} {:>7} {:>7} {:>16} {:>9} {:>7}",
        "family", "cards", "CLEAR!", "hold!", "look!", "events told", "whole", "wrong"
    )
}

impl Tally {
    /// One row of the printed board.
    pub fn row(&self, name: &str) -> String {
        let share = |of: u64, all: u64| if all == 0 { 100.0 } else { 100.0 * of as f64 / all as f64 };
        format!(
            "{name:22} {:>6} {:>7} {:>7} {:>7} {:>7.2}% of {:<5} {:>8.2}% {:>7}",
            self.cards,
            self.false_clear.len(),
            self.false_hold.len(),
            self.false_look.len(),
            share(self.told, self.asked),
            self.asked,
            share(self.whole, self.cards),
            self.wrong.len(),
        )
    }

    /// The first counter-examples, a line each.
    pub fn examples(&self, name: &str) -> Vec<String> {
        let cut = |text: &str| text.chars().take(360).collect::<String>();
        self.lines.iter().map(|(seed, what, line)| format!("{what} {name} {seed}: {}", cut(line))).collect()
    }
}
