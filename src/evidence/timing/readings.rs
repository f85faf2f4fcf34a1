//! Several readings of one series of stamps, carried forward side by side. A reading says for every stamp which slot it stands
//! in; it keeps the set of lines that fit ([`Region`]) and its cost. Readings whose lines run out, or that cost much more
//! than the best, are dropped.
//!
//! Costs are in nats (natural logarithms of odds), so that missing slots, late frames, slips and new rates can be weighed
//! against each other and against how small the set of fitting lines has become. The prices are our own, tuned on rehearsed
//! series; DEVELOPERS.md has the figures.

use super::region::Region;
use crate::units::Micros;
use crate::units::time::SECOND;

/// A hole costs this much, and the logarithm of its length beside it.
const HOLE: f64 = 5.0;
/// A second frame in one slot.
const SAME_SLOT: f64 = 7.0;
/// A frame that is off the grid: late, early, or one too many.
const OFF_GRID: f64 = 8.0;
/// The grid comes back on another phase.
const SLIP: f64 = 10.0;
/// A new interval begins.
const FRESH: f64 = 14.0;
/// Frames off the grid in a row before the grid must come back or be given up.
const MOST_OFF: u8 = 3;
/// Readings carried at once.
const BEAM: usize = 24;
/// Of those on the interval they began with, and again of those on a later one: slips do not crowd out a new rate.
const BEAM_PER_SLOT: usize = 6;
/// A reading this much dearer than the best one is dropped.
const HOPELESS: f64 = 18.0;
/// A line that has just begun has paid for itself in full and gained nothing yet: so much is lent to it, for so many stamps.
const GRACE: f64 = 20.0;
const GRACE_STAMPS: usize = 12;
/// Readings this close to the best one are doubt.
pub const DOUBT: f64 = 5.0;
/// Stamps looked at to guess the range of an interval that begins.
const AHEAD: usize = 24;
/// Widths by which all windows may be widened, s, with their prices.
pub const WIDENINGS: [(f64, f64); 7] =
    [(0.0, 0.0), (0.002, 1.0), (0.005, 1.5), (0.010, 2.0), (0.020, 2.5), (0.040, 3.0), (0.080, 16.0)];
/// Further widths for coarse timers, allowed up to this share of the interval.
pub const COARSE_WIDENINGS: [(f64, f64); 4] = [(0.160, 20.0), (0.320, 24.0), (0.640, 28.0), (1.280, 32.0)];
const COARSE_SHARE: f64 = 0.12;

/// What happened at a stamp, where it is anything but "the next slot".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// It stands this many slots after the last frame on the grid.
    Slots(i64),
    /// It stands on no slot.
    Off,
    /// A new phase begins with it.
    Slip,
    /// A new interval begins with it.
    Fresh,
}

/// One reading of a whole series.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The events, in order: (index of the stamp, what).
    pub events: Vec<(usize, Event)>,
    /// Its cost in nats, the price of the widening included.
    pub cost: f64,
    /// How far the windows were widened, s.
    pub widening_s: f64,
}

/// The stamps of a series, and what the timing law says of them.
#[derive(Clone, Copy, Debug)]
pub struct Ticks<'a> {
    /// Stamps, µs, in capture order.
    pub stamps: &'a [Micros],
    /// By how much each frame lengthens every slot until the next frame, s (its exposure, where the timer counts from the
    /// shutter's close); empty where the interval depends on no frame.
    pub per_slot_s: &'a [f32],
}

impl Ticks<'_> {
    fn per_slot(&self, at: usize) -> f64 {
        self.per_slot_s.get(at).map_or(0.0, |s| f64::from(*s))
    }
}

impl Reading {
    /// True where nothing but missing slots interrupts it.
    fn only_holes(&self) -> bool {
        self.events.iter().all(|e| matches!(e.1, Event::Slots(n) if n > 1))
    }
}

/// What is asked of the readings.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// Width of a stamp's window, µs.
    pub resolution: Micros,
    /// The plan's interval, s: a narrow guess beside the free one.
    pub planned_s: Option<f64>,
}

/// The readings of a series, best first: the best, and those within [`DOUBT`] of it.
pub fn readings(ticks: Ticks<'_>, asked: Asked) -> Vec<Reading> {
    let mut all: Vec<Reading> = Vec::new();
    let typical = typical_interval(ticks, 0).map_or(1.0, |(_, middle, _)| middle);
    let fine = WIDENINGS.iter().filter(|w| w.0 <= (0.25 * typical).max(0.002));
    let coarse = COARSE_WIDENINGS.iter().filter(|w| w.0 <= COARSE_SHARE * typical);
    // The widest of the ordinary widenings goes first: narrower ones that cannot come near it are soon given up.
    let first = fine.clone().rev().find(|w| w.1 <= DOUBT);
    let widest = first.map_or(0.0, |f| f.0);
    let mut pace: Vec<f64> = Vec::new();
    for (n, &(widening_s, price)) in first.into_iter().chain(fine).chain(coarse).enumerate() {
        if n > 0 && first.is_some_and(|f| f.0 == widening_s) {
            continue;
        }
        let best = all.iter().map(|r| r.cost).fold(f64::INFINITY, f64::min);
        // A wider window saves frames off the grid, slips and rates, and never a hole: where the best reading has none left to
        // save, stop.
        let saved = all.iter().any(|r| r.cost == best && r.widening_s <= widening_s && r.only_holes());
        if price > best + DOUBT || saved {
            break;
        }
        let mut beam = Beam::new(ticks, asked, widening_s, price, best);
        if widening_s < widest {
            beam.pace = &pace;
        }
        let (told, scores) = beam.run();
        if n == 0 {
            pace = scores;
        }
        all.extend(told);
    }
    all.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(a.widening_s.total_cmp(&b.widening_s)));
    let best = all.first().map_or(0.0, |r| r.cost);
    all.retain(|r| r.cost <= best + DOUBT);
    let mut distinct: Vec<Reading> = Vec::new();
    for reading in all {
        if !distinct.iter().any(|d| d.events == reading.events) {
            distinct.push(reading);
        }
    }
    distinct
}

/// A range for the interval that begins at stamp `from`: (low, middle, high) in s; `None` where too few stamps follow.
fn typical_interval(ticks: Ticks<'_>, from: usize) -> Option<(f64, f64, f64)> {
    let end = (from + AHEAD).min(ticks.stamps.len().checked_sub(1)?);
    let mut gaps: Vec<Micros> = (from..end)
        .map(|i| {
            ticks.stamps[i + 1] - ticks.stamps[i] - (ticks.per_slot(i) * SECOND as f64).round() as Micros
        })
        .filter(|g| *g >= 0)
        .collect();
    gaps.sort_unstable();
    // Holes and pauses only lengthen gaps: the shorter ones tell the interval.
    let few = (gaps.len() * 3).div_ceil(5);
    let sum: Micros = gaps.iter().take(few).sum();
    (few > 0 && sum > 0).then(|| {
        let middle = sum as f64 / few as f64 / SECOND as f64;
        (0.5 * middle, middle, 2.2 * middle)
    })
}

/// A reading on its way.
#[derive(Clone, Debug)]
struct Live {
    region: Region,
    /// Prior area of the stretch it is in (interval range × one interval), s².
    prior: f64,
    /// True while the plan's narrow guess may apply: since the last new interval.
    may_be_planned: bool,
    /// Cost of what is settled.
    settled: f64,
    /// Stamp with which its line began.
    since: usize,
    /// Slots since the start of the series; only compared.
    slot: i64,
    /// Frames off the grid since the last one on it.
    off: u8,
    /// Stamp of the last frame on the grid.
    stamp: Micros,
    /// By how much that frame lengthens the slots after it, s.
    per_slot: f64,
    /// Last event in the arena, `NONE` where there is none.
    head: u32,
    /// Settled cost and the smallness of the region together.
    score: f64,
}

const NONE: u32 = u32::MAX;

/// Stamps between two looks at how a reading keeps up.
const PACE: usize = 64;

struct Beam<'a> {
    ticks: Ticks<'a>,
    asked: Asked,
    window: (f64, f64),
    /// Makes regions of different widenings comparable.
    narrowing: f64,
    widening_s: f64,
    price: f64,
    /// Nothing dearer than this is of any use.
    useless: f64,
    /// Scores of a wider reading at every [`PACE`]th stamp: what has fallen far behind them never catches up, since a
    /// narrower window saves nothing.
    pace: &'a [f64],
    /// Events with the one before: (stamp, event, previous).
    arena: Vec<(u32, Event, u32)>,
    /// Arena size at which it is next swept.
    sweep_at: usize,
    live: Vec<Live>,
}

impl<'a> Beam<'a> {
    fn new(ticks: Ticks<'a>, asked: Asked, widening_s: f64, price: f64, best: f64) -> Self {
        let resolution_s = asked.resolution as f64 / SECOND as f64;
        Self {
            ticks,
            asked,
            window: (-widening_s, resolution_s + widening_s),
            narrowing: (resolution_s / (resolution_s + 2.0 * widening_s)).powi(2),
            widening_s,
            price,
            useless: best + DOUBT,
            pace: &[],
            arena: Vec::new(),
            sweep_at: 1 << 16,
            live: Vec::new(),
        }
    }

    /// Carries the readings through the whole series. Empty where none can come near the best one known. Beside them the best
    /// score at every [`PACE`]th stamp.
    fn run(mut self) -> (Vec<Reading>, Vec<f64>) {
        let mut scores = Vec::new();
        if self.ticks.stamps.is_empty() {
            return (Vec::new(), scores);
        }
        let first = self.fresh(0, self.price, 0, NONE);
        self.live.push(first);
        for at in 1..self.ticks.stamps.len() {
            if self.goes_on_plainly(at) {
                // The score only grows slowly on the way: it is worked out where it is looked at.
                if at % PACE != 0 {
                    continue;
                }
                self.score_single();
            } else {
                self.score_single();
                let mut next = Vec::with_capacity(self.live.len() * 2);
                for live in std::mem::take(&mut self.live) {
                    self.moves(&live, at, &mut next);
                }
                self.live = thinned(next, at);
            }
            let Some(score) = self.live.first().map(|l| l.score).filter(|s| *s <= self.useless + HOPELESS)
            else {
                return (Vec::new(), scores);
            };
            if at % PACE == 0 {
                if self.pace.get(scores.len()).is_some_and(|p| score > p + DOUBT + HOPELESS) {
                    return (Vec::new(), scores);
                }
                scores.push(score);
            }
            if self.arena.len() > self.sweep_at {
                self.sweep();
            }
        }
        self.score_single();
        (self.live.iter().map(|l| self.told(l)).collect(), scores)
    }

    /// The ordinary case, cheaply: one reading, and the stamp can stand in the next slot and in no other.
    fn goes_on_plainly(&mut self, at: usize) -> bool {
        let stamp = self.ticks.stamps[at];
        let per_slot = self.ticks.per_slot(at);
        let [live] = self.live.as_slice() else { return false };
        let seconds = (stamp - live.stamp) as f64 / SECOND as f64;
        if live.off > 0 || self.candidates(live, seconds) != (1..=1) {
            return false;
        }
        let window = self.window;
        let [live] = self.live.as_mut_slice() else { return false };
        let mut region = live.region.clone();
        if !region.pass(1, seconds - live.per_slot, window) {
            return false;
        }
        live.region = region;
        live.slot += 1;
        live.stamp = stamp;
        live.per_slot = per_slot;
        true
    }

    /// Works out the score of a reading that went on plainly.
    fn score_single(&mut self) {
        if let [live] = self.live.as_slice() {
            let score = live.settled + self.smallness(live);
            self.live[0].score = score;
        }
    }

    /// All that may be said of stamp `at` by one reading.
    fn moves(&mut self, from: &Live, at: usize, out: &mut Vec<Live>) {
        let seconds = (self.ticks.stamps[at] - from.stamp) as f64 / SECOND as f64;
        let free = 1 + i64::from(from.off);
        let mut plain = false;
        for slots in self.candidates(from, seconds) {
            let Some(region) =
                from.region.through(slots, seconds - from.per_slot * slots as f64, self.window)
            else {
                continue;
            };
            let price = match slots {
                0 => SAME_SLOT,
                s if s > free => HOLE + ((s - free + 1) as f64).ln(),
                _ => 0.0,
            };
            plain |= price == 0.0;
            let head =
                if slots == 1 { from.head } else { self.told_event(at, Event::Slots(slots), from.head) };
            let mut live = Live {
                region,
                settled: from.settled + price,
                slot: from.slot + slots,
                off: 0,
                stamp: self.ticks.stamps[at],
                per_slot: self.ticks.per_slot(at),
                head,
                ..*from
            };
            live.score = live.settled + self.smallness(&live);
            out.push(live);
        }
        if plain {
            return;
        }
        if from.off < MOST_OFF {
            let head = self.told_event(at, Event::Off, from.head);
            let (settled, score) = (from.settled + OFF_GRID, from.score + OFF_GRID);
            out.push(Live { off: from.off + 1, head, settled, score, ..from.clone() });
        }
        let head = self.told_event(at, Event::Slip, from.head);
        let (low, high) = from.region.intervals();
        let settled = from.settled + self.smallness(from) + SLIP;
        let mut slipped = Live {
            region: Region::open((low, high.max(low + 1e-12)), self.window),
            prior: (high - low).max(1e-12) * high,
            may_be_planned: false,
            since: at,
            settled,
            slot: from.slot + free,
            off: 0,
            stamp: self.ticks.stamps[at],
            per_slot: self.ticks.per_slot(at),
            head,
            score: 0.0,
        };
        slipped.score = settled + self.smallness(&slipped);
        out.push(slipped);
        let head = self.told_event(at, Event::Fresh, from.head);
        let settled = from.settled + self.smallness(from) + FRESH;
        out.push(self.fresh(at, settled, from.slot + free, head));
    }

    /// The slots in which a stamp may stand, nearest to the middle first where there are too many to try.
    fn candidates(&self, from: &Live, seconds: f64) -> std::ops::RangeInclusive<i64> {
        let (shortest, longest) = from.region.intervals();
        let (shortest, longest) = (shortest + from.per_slot, longest + from.per_slot);
        let (v0, v1) = from.region.phases_after(0, 0.0);
        let low = ((seconds + self.window.0 - v1) / longest - 1e-9).ceil();
        let high = ((seconds + self.window.1 - v0) / shortest + 1e-9).floor();
        if !(low.is_finite() && high.is_finite()) || high < 0.0 {
            #[allow(clippy::reversed_empty_ranges)]
            return 1..=0;
        }
        let (low, high) = (low.max(0.0) as i64, high.min(1e15) as i64);
        if high - low > 16 {
            let middle = low + (high - low) / 2;
            return middle - 8..=middle + 8;
        }
        low..=high
    }

    /// A reading in which a new interval begins with stamp `at`.
    fn fresh(&self, at: usize, settled: f64, slot: i64, head: u32) -> Live {
        let q = self.window.1 - self.window.0;
        let (mut low, middle, mut high) = typical_interval(self.ticks, at).unwrap_or((q * 0.5, q, q * 2.0));
        high = high.max(middle + q);
        if let Some(planned) = self.asked.planned_s {
            low = low.min(planned * 0.99);
            high = high.max(planned * 1.01);
        }
        let region = Region::open((low, high), self.window);
        let mut live = Live {
            region,
            prior: (high - low) * middle,
            may_be_planned: true,
            since: at,
            settled,
            slot,
            off: 0,
            stamp: self.ticks.stamps[at],
            per_slot: self.ticks.per_slot(at),
            head,
            score: 0.0,
        };
        live.score = settled + self.smallness(&live);
        live
    }

    /// What the data have made of the stretch's prior: minus the logarithm of the share of it that is left, in nats.
    fn smallness(&self, live: &Live) -> f64 {
        let area = (live.region.area() * self.narrowing).max(1e-24);
        let free = area / live.prior;
        let share = match self.asked.planned_s.filter(|_| live.may_be_planned) {
            Some(planned) => {
                let half = (0.002 * planned).max(0.001);
                let near =
                    live.region.with_interval(planned - half, planned + half).map_or(0.0, |r| r.area());
                0.5 * free + 0.5 * near * self.narrowing / (2.0 * half * planned)
            }
            None => free,
        };
        -share.max(1e-300).ln()
    }

    fn told_event(&mut self, at: usize, event: Event, previous: u32) -> u32 {
        self.arena.push((at as u32, event, previous));
        (self.arena.len() - 1) as u32
    }

    fn told(&self, live: &Live) -> Reading {
        let mut events = Vec::new();
        let mut head = live.head;
        while head != NONE {
            let (at, event, previous) = self.arena[head as usize];
            events.push((at as usize, event));
            head = previous;
        }
        events.reverse();
        Reading { events, cost: live.score, widening_s: self.widening_s }
    }

    /// Forgets the events that no live reading tells any more: the common past is kept once.
    fn sweep(&mut self) {
        let mut kept = vec![false; self.arena.len()];
        for live in &self.live {
            let mut head = live.head;
            while head != NONE && !kept[head as usize] {
                kept[head as usize] = true;
                head = self.arena[head as usize].2;
            }
        }
        let mut new_at = vec![NONE; self.arena.len()];
        let mut arena = Vec::new();
        for (old, keep) in kept.iter().enumerate() {
            if *keep {
                let (at, event, previous) = self.arena[old];
                new_at[old] = arena.len() as u32;
                let previous = if previous == NONE { NONE } else { new_at[previous as usize] };
                arena.push((at, event, previous));
            }
        }
        for live in &mut self.live {
            if live.head != NONE {
                live.head = new_at[live.head as usize];
            }
        }
        self.sweep_at = (arena.len() * 2).max(1 << 16);
        self.arena = arena;
    }
}

/// The readings worth carrying on, best first.
fn thinned(mut next: Vec<Live>, at: usize) -> Vec<Live> {
    if next.len() == 1 {
        return next;
    }
    next.sort_by(|a, b| a.score.total_cmp(&b.score).then(a.slot.cmp(&b.slot)).then(a.head.cmp(&b.head)));
    let Some(best) = next.first().map(|l| l.score) else { return next };
    let mut kept: Vec<Live> = Vec::with_capacity(next.len().min(BEAM));
    for live in next {
        let grace = if at - live.since < GRACE_STAMPS { GRACE } else { 0.0 };
        if kept.len() == BEAM || live.score > best + HOPELESS + GRACE {
            break;
        }
        if live.score > best + HOPELESS + grace {
            continue;
        }
        if kept
            .iter()
            .filter(|k| k.slot == live.slot && k.off == live.off && k.may_be_planned == live.may_be_planned)
            .count()
            < BEAM_PER_SLOT
        {
            kept.push(live);
        }
    }
    kept
}
