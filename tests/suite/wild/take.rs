//! A run being shot: slots that are due, and what goes wrong with them. What was done is the truth;
//! [`Take::card`] writes it down.

use super::base::{Base, Said, lasting, marked, plan};
use super::card::{Card, Class, Role, Shot};
use super::chance::Chance;
use super::truth;
use lapseproof::frames::Damage;

/// A slot of the timer.
#[derive(Clone, Debug)]
pub struct Due {
    /// When, true seconds.
    pub at_s: f64,
    pub timer: usize,
    pub slot: i64,
    pub exposure_s: f64,
    pub fired: bool,
    pub kept: bool,
    pub late_s: f64,
    pub clock_s: f64,
    pub offset_min: Option<i16>,
    /// A second frame so many seconds behind it.
    pub double_s: Option<f64>,
    pub damage: Damage,
    pub headless: bool,
}

/// The timer stands or goes on otherwise, before the slot `at`.
#[derive(Clone, Copy, Debug)]
pub struct Break {
    pub at: usize,
    /// Seconds beyond one interval; 0 for a mere change of rate.
    pub pause_s: f64,
    /// The interval from there on, s.
    pub interval_s: f64,
}

/// A frame that no slot asked for.
#[derive(Clone, Copy, Debug)]
pub struct Beside {
    pub open_s: f64,
    pub exposure_s: f64,
    pub iso: u32,
    pub role: Role,
}

/// A run in the making.
#[derive(Clone, Debug)]
pub struct Take {
    pub base: Base,
    pub due: Vec<Due>,
    pub timers: Vec<f64>,
    pub beside: Vec<Beside>,
    /// The number of the first file.
    pub first_number: u32,
    pub story: Vec<String>,
}

impl Take {
    /// The run's slots, with these breaks (in order of place).
    pub fn new(chance: &mut Chance, base: Base, breaks: &[Break]) -> Self {
        let exposures = base.exposures(chance);
        // Room before the run for test shots and another job.
        let mut at_s = 200_000.0 + chance.unit() * base.interval_s.max(2.0);
        let mut timers = vec![base.interval_s];
        let mut slot = 0;
        let mut due = Vec::with_capacity(base.slots);
        for (n, exposure_s) in exposures.into_iter().enumerate() {
            let was = *timers.last().expect("a timer");
            let own = |due: &Vec<Due>| {
                if base.from_close { due.last().map_or(0.0, |d: &Due| lasting(d.exposure_s)) } else { 0.0 }
            };
            if n > 0 {
                at_s += was + own(&due);
                slot += 1;
            }
            if let Some(here) = breaks.iter().find(|b| b.at == n && n > 0) {
                at_s += here.pause_s;
                timers.push(here.interval_s);
                slot = 0;
            }
            due.push(Due {
                at_s,
                timer: timers.len() - 1,
                slot,
                exposure_s,
                fired: true,
                kept: true,
                late_s: 0.0,
                clock_s: 0.0,
                offset_min: base.offset_min,
                double_s: None,
                damage: Damage::None,
                headless: false,
            });
        }
        let first_number = if chance.percent(10.0) {
            10_000 - chance.whole(2, base.slots.max(2) as u64) as u32
        } else {
            chance.whole(1, 9000) as u32
        };
        let mut story: Vec<String> = breaks
            .iter()
            .take(8)
            .map(|b| {
                format!("before slot {}: stood {:.3} s, then every {:.5} s", b.at, b.pause_s, b.interval_s)
            })
            .collect();
        if breaks.len() > story.len() {
            story.push(format!("and so on, {} times in all", breaks.len()));
        }
        Self { base, due, timers, beside: Vec::new(), first_number, story }
    }

    /// The camera does not fire in these slots.
    pub fn miss(&mut self, at: usize, count: usize) {
        self.story.push(format!("missed {count} from slot {at}"));
        self.each(at, count, |d| d.fired = false);
    }

    /// These frames' files are not on the card.
    pub fn lose(&mut self, at: usize, count: usize) {
        self.story.push(format!("lost {count} from slot {at}"));
        self.each(at, count, |d| d.kept = false);
    }

    /// Each file goes with that chance.
    pub fn cull(&mut self, chance: &mut Chance, share: f64) {
        self.story.push(format!("culled {:.0} %", 100.0 * share));
        for due in &mut self.due {
            due.kept &= chance.unit() >= share;
        }
    }

    /// The frame comes late by so much.
    pub fn late(&mut self, at: usize, by_s: f64) {
        self.story.push(format!("slot {at} late by {by_s:.3} s"));
        self.each(at, 1, |d| d.late_s = by_s);
    }

    /// One more frame, so much later.
    pub fn double(&mut self, at: usize, after_s: f64) {
        self.story.push(format!("a second frame {after_s:.3} s behind slot {at}"));
        self.each(at, 1, |d| d.double_s = Some(after_s));
    }

    /// The camera's clock is set, from this slot on.
    pub fn set_clock(&mut self, at: usize, step_s: f64, follows: bool) {
        self.story.push(format!("clock set by {step_s:.3} s from slot {at}, tag follows: {follows}"));
        self.each(at, usize::MAX, |d| {
            d.clock_s += step_s;
            if follows {
                d.offset_min = d.offset_min.map(|o| o + (step_s / 60.0).round() as i16);
            }
        });
    }

    /// Something is wrong with the file.
    pub fn damage(&mut self, at: usize, headless: bool) {
        self.story.push(format!("slot {at} damaged, without a header: {headless}"));
        self.each(at, 1, |d| {
            d.headless = headless;
            d.damage = if headless { Damage::Empty } else { Damage::CutShort("the end is zeros".into()) };
        });
    }

    /// The exposure from here on is so many EV more.
    pub fn jump(&mut self, at: usize, ev: f64) {
        self.story.push(format!("exposure {ev:+.2} EV from slot {at}"));
        self.each(at, usize::MAX, |d| d.exposure_s = marked(d.exposure_s, (3.0 * ev).round() as i64));
    }

    /// A frame that no slot asked for.
    pub fn beside(&mut self, open_s: f64, exposure_s: f64, iso: u32) {
        self.beside.push(Beside { open_s, exposure_s, iso, role: Role::Beside });
    }

    fn each(&mut self, at: usize, count: usize, change: impl FnMut(&mut Due)) {
        self.due.iter_mut().skip(at).take(count).for_each(change);
    }

    /// When the first frame is due.
    pub fn begins_s(&self) -> f64 {
        self.due.first().map_or(0.0, |d| d.at_s)
    }

    /// When the last frame is due.
    pub fn ends_s(&self) -> f64 {
        self.due.last().map_or(0.0, |d| d.at_s)
    }

    /// The card, with a plan that says so much.
    pub fn card(self, chance: &mut Chance, said: Said) -> Card {
        let base = self.base;
        let jitter = |chance: &mut Chance| base.clock.jitter_s * chance.normal().clamp(-4.0, 4.0);
        let blank = Shot {
            open_s: 0.0,
            clock_s: 0.0,
            offset_min: base.offset_min,
            exposure_s: base.shutter_s,
            f_number: 8.0,
            iso: 200,
            role: Role::Beside,
            camera: 0,
            folder: String::new(),
            name: String::new(),
            damage: Damage::None,
            headless: false,
            bytes_of: None,
        };
        let mut fired: Vec<(Shot, bool)> = Vec::new();
        for due in self.due.iter().filter(|d| d.fired) {
            let shot = Shot {
                open_s: due.at_s + due.late_s + jitter(chance),
                clock_s: due.clock_s,
                offset_min: due.offset_min,
                exposure_s: due.exposure_s,
                role: Role::Run { timer: due.timer, slot: due.slot },
                damage: due.damage.clone(),
                headless: due.headless,
                ..blank.clone()
            };
            if let Some(after_s) = due.double_s {
                let open_s = shot.open_s + after_s;
                fired.push((Shot { open_s, role: Role::Extra, ..shot.clone() }, true));
            }
            fired.push((shot, due.kept));
        }
        let end = |open_s: f64| if open_s < self.begins_s() { self.due.first() } else { self.due.last() };
        fired.extend(self.beside.iter().map(|b| {
            let near = end(b.open_s);
            let shot = Shot {
                open_s: b.open_s,
                clock_s: near.map_or(0.0, |d| d.clock_s),
                offset_min: near.and_then(|d| d.offset_min),
                exposure_s: b.exposure_s,
                iso: b.iso,
                role: b.role,
                ..blank.clone()
            };
            (shot, true)
        }));
        fired.sort_by(|a, b| a.0.open_s.total_cmp(&b.0.open_s));
        let mut shots = Vec::new();
        for (counter, (mut shot, kept)) in (u64::from(self.first_number)..).zip(fired) {
            // DCF (CIPA DC-009): 0001 to 9999, then the next folder.
            shot.folder = format!("DCIM/{}WILDA", 100 + (counter - 1) / 9999);
            shot.name = format!("WILD{:04}.JPG", (counter - 1) % 9999 + 1);
            if kept {
                shots.push(shot);
            }
        }
        let mut card = Card {
            shots,
            clock: base.clock,
            plan: plan(&base, said),
            events: Vec::new(),
            class: Class::Events,
            timers: self.timers.clone(),
            story: self.story.clone(),
            film: None,
        };
        card.events = truth::events(&card, &self, said);
        card
    }
}
