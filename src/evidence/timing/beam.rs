//! The readings on their way: every reading branches where a stamp may stand in several ways, and those that
//! are hopeless or crowd each other are dropped.

use super::effort::Effort;
use super::reading::{Asked, DOUBT, Event, Reading, Ticks, typical_interval};
use super::region::{Region, at_the_edge};
use crate::units::Micros;

/// A hole costs this much, and the logarithm of its length beside it.
const HOLE: f64 = 7.0;
/// A hole that the file numbers confirm to the slot.
const NUMBERED: f64 = 1.0;
/// A second frame in one slot.
const SAME_SLOT: f64 = 7.0;
/// A frame that is off the grid: late, early, or one too many.
const OFF_GRID: f64 = 8.0;
/// The grid comes back on another phase.
const SLIP: f64 = 10.0;
/// A new interval begins.
const FRESH: f64 = 14.0;
/// A stamp that leaves less than this share of the lines may be off the grid just as well: both are carried
/// on.
const SQUEEZED: f64 = 0.02;
/// Frames off the grid in a row before the grid must come back or be given up.
const MOST_OFF: u8 = 3;
/// Slots tried for one stamp, less one.
const TRIED: i64 = 16;
/// Readings carried at once.
const BEAM: usize = 24;
/// Readings of an interval that has just begun are carried beside them: dear and old ones would crowd them
/// out.
const YOUNG: usize = 6;
/// Of those on the interval they began with, and again of those on a later one: slips do not crowd out a new
/// rate.
const BEAM_PER_SLOT: usize = 6;
/// A reading this much dearer than the best one is dropped.
const HOPELESS: f64 = 18.0;
/// A line that has just begun has paid for itself in full and gained nothing yet: so much is lent to it, for
/// so many stamps.
const GRACE: f64 = 20.0;
const GRACE_STAMPS: usize = 12;

/// All prices of passing a stamp at its edge cost no more than this. A timer that does run on the edge must
/// not be read as a hundred accidents.
const EDGES: f64 = 24.0;

/// A reading on its way.
#[derive(Clone, Debug)]
struct Live {
    region: Region,
    /// Prior area of the stretch it is in (interval range × one slot, with what the first frame adds), s².
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
    /// Of it, what passing stamps at their edge has cost.
    edges: f64,
    /// Settled cost and the smallness of the region together.
    score: f64,
}

impl Live {
    /// Pays for passing the newest stamp, by this region, near its edge.
    fn pay_edge(&mut self, price: f64) {
        let price = price.min(EDGES - self.edges);
        self.edges += price;
        self.settled += price;
    }
}

const NONE: u32 = u32::MAX;

/// After so many stamps a reading that costs so much for each of them, nats, is no timer's: every other frame
/// is then an accident. What follows is not read, whatever it is, so that time is bounded.
pub(super) const LONG: usize = 1024;
const NO_TIMER: f64 = 4.0;
/// The same after so many stamps, where every eighth or tenth frame is an accident: all readings are carried
/// through all of it then, which takes a twentieth of a millisecond a stamp and width.
pub(super) const VERY_LONG: usize = 10_000;
const NO_TIMER_WHERE_LONG: f64 = 1.0;
/// A very long series that costs more than this a stamp, nats, has an accident at every thirtieth of them: so
/// few readings are carried on from there, because none of them comes to agree with another before the next.
pub(super) const DEAR_WHERE_LONG: f64 = 0.3;
const NARROW: usize = 6;

/// Stamps between two looks at how a reading keeps up.
pub(super) const PACE: usize = 64;
/// Stamps without an event after which two readings on one line are taken to agree.
const SETTLED: usize = 128;

/// The readings of one widening, carried through a series.
pub(super) struct Beam<'a> {
    ticks: Ticks<'a>,
    asked: Asked,
    window: (f64, f64),
    /// Makes regions of different widenings comparable.
    narrowing: f64,
    widening_s: f64,
    price: f64,
    /// Nothing dearer than this is of any use.
    useless: f64,
    /// Scores of a wider reading at every [`PACE`]th stamp: what has fallen far behind them never catches up,
    /// since a narrower window saves nothing.
    pace: &'a [f64],
    /// Events with the one before: (stamp, event, previous).
    arena: Vec<(u32, Event, u32)>,
    /// Arena size at which it is next swept.
    sweep_at: usize,
    live: Vec<Live>,
    /// Readings that are carried at once.
    most: usize,
    effort: &'a Effort,
}

impl<'a> Beam<'a> {
    /// A beam for windows widened by so much, s, at its price; a reading that costs more than `useless` is of
    /// no use.
    pub(super) fn new(
        ticks: Ticks<'a>,
        asked: Asked,
        (widening_s, price): (f64, f64),
        useless: f64,
        effort: &'a Effort,
    ) -> Self {
        let resolution_s = asked.resolution_s();
        Self {
            ticks,
            asked,
            window: (-widening_s, resolution_s + widening_s),
            narrowing: (resolution_s / (resolution_s + 2.0 * widening_s)).powi(2),
            widening_s,
            price,
            useless,
            pace: &[],
            arena: Vec::new(),
            sweep_at: 1 << 16,
            live: Vec::new(),
            most: BEAM,
            effort,
        }
    }

    /// Gives up as soon as the readings fall far behind these scores of a wider beam.
    pub(super) fn keep_up_with(&mut self, pace: &'a [f64]) {
        self.pace = pace;
    }

    /// Carries the readings through the whole series. Empty where none can come near the best one known.
    /// Beside them the best score at every [`PACE`]th stamp, and true where no reading is worth carrying on.
    pub(super) fn run(mut self) -> (Vec<Reading>, Vec<f64>, bool) {
        let mut scores = Vec::new();
        if self.ticks.stamps.is_empty() {
            return (Vec::new(), scores, false);
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
                let spent = self.effort.spend(next.len());
                self.live = if spent { Vec::new() } else { thinned(next, at, self.most) };
            }
            let Some(score) = self.live.first().map(|l| l.score).filter(|s| *s <= self.useless + HOPELESS)
            else {
                return (Vec::new(), scores, false);
            };
            if at % PACE == 0 {
                self.settle(at);
                if self.pace.get(scores.len()).is_some_and(|p| score > p + DOUBT + HOPELESS) {
                    return (Vec::new(), scores, false);
                }
                let most = if at >= VERY_LONG { NO_TIMER_WHERE_LONG } else { NO_TIMER };
                if at >= LONG && score > most * at as f64 {
                    return (Vec::new(), scores, true);
                }
                if at >= VERY_LONG && score > DEAR_WHERE_LONG * at as f64 {
                    self.most = NARROW;
                }
                scores.push(score);
            }
            if self.arena.len() > self.sweep_at {
                self.sweep();
            }
        }
        self.score_single();
        (self.live.iter().map(|l| self.told(l)).collect(), scores, false)
    }

    /// Drops readings that have long agreed with the best one on the line they are on, and are dearer by more
    /// than doubt: they will end as the same line at a higher price.
    fn settle(&mut self, at: usize) {
        let Some((best, rest)) = self.live.split_first() else { return };
        let told = |l: &Live| self.arena.get(l.head as usize).map_or(0, |e| e.0 as usize);
        let (interval, area) = (best.region.centre().0, best.region.area());
        let quiet = |l: &Live| l.off == 0 && told(l) + SETTLED <= at;
        if rest.is_empty() || !quiet(best) {
            return;
        }
        let slack = best.region.intervals();
        let slack = slack.1 - slack.0;
        let keep: Vec<bool> = std::iter::once(true)
            .chain(rest.iter().map(|l| {
                let same = (l.region.centre().0 - interval).abs() <= slack && l.region.area() <= 2.0 * area;
                !(quiet(l) && same && l.score > best.score + DOUBT)
            }))
            .collect();
        let mut keep = keep.into_iter();
        self.live.retain(|_| keep.next().unwrap_or(true));
    }

    /// The ordinary case, cheaply: one reading, and the stamp can stand in the next slot and in no other.
    fn goes_on_plainly(&mut self, at: usize) -> bool {
        let stamp = self.ticks.stamps[at];
        let per_slot = self.ticks.per_slot(at);
        let [live] = self.live.as_slice() else { return false };
        let seconds = (stamp - live.stamp).seconds();
        if live.off > 0 || self.candidates(live, at, seconds) != (1..=1) {
            return false;
        }
        let window = self.window;
        let [live] = self.live.as_mut_slice() else { return false };
        let mut region = live.region.clone();
        if !region.pass(1, seconds - live.per_slot, window) || region.area() < SQUEEZED * live.region.area() {
            return false;
        }
        live.pay_edge(at_the_edge(&region, window));
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
        let seconds = (self.ticks.stamps[at] - from.stamp).seconds();
        let free = 1 + i64::from(from.off);
        let mut plain = false;
        let near = self.candidates(from, at, seconds);
        // The next free slot costs nothing: it is tried even where there are too many to try.
        let next = (!near.contains(&free)).then_some(free);
        let planned = self.planned_slots(from, seconds).filter(|s| *s > free && !near.contains(s));
        for slots in next.into_iter().chain(near).chain(planned) {
            let Some(region) =
                from.region.through(slots, seconds - from.per_slot * slots as f64, self.window)
            else {
                continue;
            };
            let price = match slots {
                0 => SAME_SLOT,
                s if from.off == 0 && self.ticks.numbered(at, s) => NUMBERED,
                s if s > free => HOLE + ((s - free + 1) as f64).ln(),
                _ => 0.0,
            };
            plain |= price == 0.0 && region.area() >= SQUEEZED * from.region.area();
            let head =
                if slots == 1 { from.head } else { self.told_event(at, Event::Slots(slots), from.head) };
            let edge = at_the_edge(&region, self.window);
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
            live.pay_edge(edge);
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
        let per_slot = self.ticks.per_slot(at);
        let mut slipped = Live {
            region: Region::open((low, high.max(low + 1e-12)), self.window),
            prior: (high - low).max(1e-12) * (high + per_slot),
            may_be_planned: false,
            since: at,
            settled,
            slot: from.slot + free,
            off: 0,
            stamp: self.ticks.stamps[at],
            per_slot,
            head,
            edges: from.edges,
            score: 0.0,
        };
        slipped.score = settled + self.smallness(&slipped);
        out.push(slipped);
        let head = self.told_event(at, Event::Fresh, from.head);
        let settled = from.settled + self.smallness(from) + FRESH;
        out.push(self.fresh(at, settled, from.slot + free, head));
    }

    /// The slots in which a stamp may stand. Where there are too many to try: those nearest to what the
    /// interval ahead makes of the gap.
    fn candidates(&self, from: &Live, at: usize, seconds: f64) -> std::ops::RangeInclusive<i64> {
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
        if high - low > TRIED {
            let ahead = typical_interval(self.ticks, at).map_or(shortest, |t| t.1 + from.per_slot);
            let middle = ((seconds / ahead).round() as i64).clamp(low + TRIED / 2, high - TRIED / 2);
            return middle - TRIED / 2..=middle + TRIED / 2;
        }
        low..=high
    }

    /// The slots after which the planned interval would put a stamp. Where an interval is still known badly
    /// and the gap is long, it is not among the nearest.
    fn planned_slots(&self, from: &Live, seconds: f64) -> Option<i64> {
        let planned_s = self.asked.planned_s.filter(|_| from.may_be_planned)?;
        let slots = (seconds / planned_s).round();
        (from.per_slot == 0.0 && slots < 1e15).then_some(slots as i64)
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
        let per_slot = self.ticks.per_slot(at);
        let mut live = Live {
            region,
            prior: (high - low) * (middle + per_slot),
            may_be_planned: true,
            since: at,
            settled,
            slot,
            off: 0,
            stamp: self.ticks.stamps[at],
            per_slot,
            head,
            edges: 0.0,
            score: 0.0,
        };
        live.score = settled + self.smallness(&live);
        live
    }

    /// What the data have made of the stretch's prior: minus the logarithm of the share of it that is left,
    /// in nats.
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

/// The readings worth carrying on, so many at most, best first.
fn thinned(mut next: Vec<Live>, at: usize, most: usize) -> Vec<Live> {
    if next.len() == 1 {
        return next;
    }
    next.sort_by(|a, b| a.score.total_cmp(&b.score).then(a.slot.cmp(&b.slot)).then(a.head.cmp(&b.head)));
    let Some(best) = next.first().map(|l| l.score) else { return next };
    let mut kept: Vec<Live> = Vec::with_capacity(next.len().min(most + YOUNG));
    let mut new = 0;
    for live in next {
        let young = live.since > 0 && live.may_be_planned && at - live.since < GRACE_STAMPS;
        let grace = if at - live.since < GRACE_STAMPS { GRACE } else { 0.0 };
        if live.score > best + HOPELESS + GRACE {
            break;
        }
        let full = if young { new == YOUNG } else { kept.len() - new >= most && live.head != NONE };
        if full || live.score > best + HOPELESS + grace {
            continue;
        }
        let crowd =
            |k: &&Live| k.slot == live.slot && k.off == live.off && k.may_be_planned == live.may_be_planned;
        // A timer on the edge of the clock's step pays for that at once, and readings of accidents later: the
        // one without any waits for them.
        if live.head == NONE || kept.iter().filter(crowd).count() < BEAM_PER_SLOT {
            new += usize::from(young);
            kept.push(live);
        }
    }
    kept
}
