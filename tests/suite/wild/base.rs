//! What a wild card is shot with: a clock, a timer, exposures; and the plan that was or was not made for it.

use super::card::Clock;
use super::chance::Chance;
use lapseproof::plan::{CountedFrom, ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::units::Micros;

/// Intervals as people set them, s. Common practice, no source.
const DIALLED: [f64; 24] = [
    0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 33.0, 40.0, 45.0,
    60.0, 90.0, 120.0, 180.0, 300.0,
];

/// Shutter times as cameras mark them, by thirds of a stop, s. Common practice, no source.
const MARKED: [f64; 52] = [
    1.0 / 4000.0,
    1.0 / 3200.0,
    1.0 / 2500.0,
    1.0 / 2000.0,
    1.0 / 1600.0,
    1.0 / 1250.0,
    1.0 / 1000.0,
    1.0 / 800.0,
    1.0 / 640.0,
    1.0 / 500.0,
    1.0 / 400.0,
    1.0 / 320.0,
    1.0 / 250.0,
    1.0 / 200.0,
    1.0 / 160.0,
    1.0 / 125.0,
    1.0 / 100.0,
    1.0 / 80.0,
    1.0 / 60.0,
    1.0 / 50.0,
    1.0 / 40.0,
    1.0 / 30.0,
    1.0 / 25.0,
    1.0 / 20.0,
    1.0 / 15.0,
    1.0 / 13.0,
    1.0 / 10.0,
    1.0 / 8.0,
    1.0 / 6.0,
    1.0 / 5.0,
    1.0 / 4.0,
    0.3,
    0.4,
    0.5,
    0.6,
    0.8,
    1.0,
    1.3,
    1.6,
    2.0,
    2.5,
    3.2,
    4.0,
    5.0,
    6.0,
    8.0,
    10.0,
    13.0,
    15.0,
    20.0,
    25.0,
    30.0,
];

/// The marked time so many thirds of a stop from `shutter_s`; the marked ends where that leads beyond them.
pub fn marked(shutter_s: f64, thirds: i64) -> f64 {
    let off = |m: &f64| (m / shutter_s).log2().abs();
    let nearest = (0..MARKED.len()).min_by(|a, b| off(&MARKED[*a]).total_cmp(&off(&MARKED[*b]))).unwrap_or(0);
    MARKED[(nearest as i64 + thirds).clamp(0, MARKED.len() as i64 - 1) as usize]
}

/// How long a marked time truly lasts, s: the nearest exact third of a stop (30 s are 32 s).
pub fn lasting(marked_s: f64) -> f64 {
    ((3.0 * marked_s.log2()).round() / 3.0).exp2()
}

/// How the exposures go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Every frame the same.
    Locked,
    /// The shutter grows by thirds in the course of the run.
    Ramped,
    /// The camera follows the light by thirds, this way and that.
    Automatic,
}

/// Camera, timer and light of one run.
#[derive(Clone, Copy, Debug)]
pub struct Base {
    pub clock: Clock,
    /// The interval on the dial, s.
    pub dial_s: f64,
    /// The true one, s.
    pub interval_s: f64,
    /// Slots that were meant.
    pub slots: usize,
    pub mode: Mode,
    /// The first exposure, s.
    pub shutter_s: f64,
    /// True where the interval counts from the shutter's close.
    pub from_close: bool,
    /// Offset tag at the beginning, minutes.
    pub offset_min: Option<i16>,
}

/// A clock: its step, its digits, its jitter.
pub fn clock(chance: &mut Chance) -> Clock {
    let (step, digits) = match chance.whole(0, 9) {
        0..=4 => (Micros::SECOND, 0),
        5 => (Micros::step_of(1), 1),
        6 => (Micros::step_of(2), 2),
        7 => (Micros::step_of(3), 3),
        // A sub-second field that is always 00.
        _ => (Micros::SECOND, 2),
    };
    let jitter_s = match chance.whole(0, 9) {
        0..=3 => 0.0,
        4..=5 => 0.003,
        6..=7 => 0.006,
        8 => 0.012,
        _ => chance.between(0.012, 0.03),
    };
    // Some day of 2026, at some time of day.
    let start = Micros::from_seconds(1_767_225_600 + chance.whole(0, 364 * 86_400) as i64);
    Clock { step, digits, rounds: chance.percent(25.0), jitter_s, start }
}

/// An interval of at least `least_s`, s.
pub fn dial(chance: &mut Chance, least_s: f64) -> f64 {
    let least_s = least_s.max(0.5);
    let free = chance.spread(least_s, 300.0_f64.max(least_s));
    let free = (free * 1000.0).ceil() / 1000.0;
    let choice = chance.pick(&DIALLED);
    if choice >= least_s && chance.percent(65.0) { choice } else { free }
}

impl Base {
    /// A run whose interval is at least `ratio` times the clock's step.
    pub fn draw(chance: &mut Chance, ratio: f64) -> Self {
        let clock = clock(chance);
        let dial_s = dial(chance, ratio * clock.step_s());
        let slots = chance.spread(60.0, 420.0) as usize;
        Self::with(chance, clock, dial_s, slots)
    }

    /// A run with this clock and interval.
    pub fn with(chance: &mut Chance, clock: Clock, dial_s: f64, slots: usize) -> Self {
        let jitter_s = clock.jitter_s.min(0.01 * dial_s);
        let crystal = chance.pick(&[0.0, 1e-5, -1e-5, 3e-5, -5e-5]);
        let longest = 0.3 * dial_s;
        let shutter_s = chance.pick(&[1.0 / 500.0, 1.0 / 125.0, 1.0 / 60.0, 1.0 / 8.0, 0.5, 2.0]);
        let mode = match chance.whole(0, 9) {
            0..=6 => Mode::Locked,
            7..=8 => Mode::Automatic,
            _ => Mode::Ramped,
        };
        let offset_min =
            if chance.percent(40.0) { Some(chance.pick(&[-300, 0, 60, 120, 540])) } else { None };
        Self {
            clock: Clock { jitter_s, ..clock },
            dial_s,
            interval_s: dial_s * (1.0 + crystal),
            slots,
            mode,
            shutter_s: if shutter_s <= longest && shutter_s <= 30.0 { shutter_s } else { 1.0 / 250.0 },
            from_close: false,
            offset_min,
        }
    }

    /// The shortest pause that a stop may have so that the stamps show it for certain, s.
    pub fn least_pause_s(&self) -> f64 {
        (0.4 * self.dial_s).max(1.5 * self.clock.doubt_s())
    }

    /// The exposure of each slot, s.
    pub fn exposures(&self, chance: &mut Chance) -> Vec<f64> {
        let longest = 0.4 * self.dial_s;
        let mut now = self.shutter_s;
        let mut hold = 0;
        // Light that goes on one way for a while, as a sky does.
        let mut way = if chance.percent(50.0) { 1 } else { -1 };
        (0..self.slots)
            .map(|_| {
                hold += 1;
                let turn = match self.mode {
                    Mode::Locked => false,
                    Mode::Ramped => hold >= 9,
                    Mode::Automatic => hold >= 25 && chance.percent(5.0),
                };
                if turn {
                    hold = 0;
                    if self.mode == Mode::Automatic && chance.percent(20.0) {
                        way = -way;
                    }
                    let next = marked(now, if self.mode == Mode::Ramped { 1 } else { way });
                    if next <= longest {
                        now = next;
                    }
                }
                now
            })
            .collect()
    }
}

/// How much of the shoot the plan tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    Nothing,
    Interval,
    Frames,
    /// The run's length with the interval.
    Run,
    /// The run's length alone.
    Length,
    All,
}

impl Said {
    /// Any of them, a plan in half of the cards.
    pub fn any(chance: &mut Chance) -> Self {
        match chance.whole(0, 9) {
            0..=3 => Self::Nothing,
            4 => Self::Length,
            5 => Self::Interval,
            6 => Self::Frames,
            7 => Self::Run,
            _ => Self::All,
        }
    }

    /// A plan that gives the count.
    pub fn counted(chance: &mut Chance) -> Self {
        chance.pick(&[Self::Frames, Self::Run, Self::Length, Self::All])
    }

    /// True where it says how many frames are due, or how long the run is.
    pub fn counts(self) -> bool {
        matches!(self, Self::Frames | Self::Run | Self::Length | Self::All)
    }
}

/// The plan of that run.
pub fn plan(base: &Base, said: Said) -> Plan {
    let mut plan = Plan::default();
    if matches!(said, Said::Interval | Said::Run | Said::All) {
        plan.interval_s = Some(base.dial_s);
        plan.counted_from = base.from_close.then_some(CountedFrom::Close);
    }
    if matches!(said, Said::Run | Said::Length) {
        plan.run_s = Some((base.slots - 1) as f64 * base.dial_s);
    }
    // As the reading of a plan fills it in from the run's length.
    if said.counts() && said != Said::Length {
        plan.frames = Some(base.slots as u64);
    }
    if said == Said::All {
        plan.exposure = ExposurePlan {
            mode: Some(match base.mode {
                Mode::Locked => ExposureMode::Locked,
                Mode::Ramped => ExposureMode::Ramped,
                Mode::Automatic => ExposureMode::Automatic,
            }),
            shutter_s: (base.mode == Mode::Locked).then_some(Planned::Fixed(base.shutter_s)),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            ..ExposurePlan::default()
        };
    }
    plan
}
