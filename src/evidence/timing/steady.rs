//! Whether there is a timer at all. Anything fired by hand, by motion or by distance can be laid on some
//! grid, with enough holes and pauses: a grid is believed where the frames behind each interruption come back
//! to it oftener than chance would bring them.

use super::placement::{Begins, How, Piece, Place, usual_step_s};
use super::readings::Asked;
use crate::units::Micros;

/// A grid holds the run where at least this share of its steps goes from one slot to the next…
const STEPS_ON_GRID: f64 = 0.3;
/// …or this share where the windows had to be widened by more than a camera's jitter: wide windows catch
/// anything…
const STEPS_ON_WIDE_GRID: f64 = 0.6;
const WIDE_S: f64 = 0.080;
/// …and no wider than this share of the interval: pairs that are fired by motion fit into anything wider.
const WIDEST: f64 = 0.15;
/// …and where it is interrupted no oftener than once in this many frames.
const FRAMES_PER_JOIN: usize = 16;
/// Interruptions of up to this share of the steps need no proof…
const FEW: f64 = 0.125;
/// …or of this share where they last this many times as long as all the other steps together: bursts have
/// long rests.
const FEW_LONG: f64 = 0.0625;
const LONG: f64 = 3.0;
/// A timer brings this share of the frames behind an interruption back to its grid.
const COMES_BACK: f64 = 0.9;
/// Odds, nats, by which it must do better than chance.
const BELIEVED: f64 = 5.0;
/// …and by which it may stand or miss as often as it likes.
const BEYOND_DOUBT: f64 = 20.0;
/// A hand, or a way that is travelled, keeps its pace to this share from frame to frame. Common practice, no
/// source.
const HAND: f64 = 0.1;
/// A camera that is held down keeps a pace of its own, down to one frame in so many seconds.
const HELD_DOWN_S: f64 = 1.0;
/// Steps that place a line, and those from which a row of them tells anything.
const PLACED: usize = 2;
const A_ROW: usize = 6;
/// A window is narrow where the interval is so many times as long: a coarser one catches a wandering pace.
const NARROW: f64 = 2.5;
/// Where the windows are not narrow, stops of up to this share of the steps need no proof.
const FEW_STOPS: f64 = 0.05;
/// Holes that are alike in this share are one fault that repeats, and no chance.
const ALIKE: f64 = 0.8;
/// A rest is long that lasts so many intervals, and so many of the windows.
const LONG_RESTS: f64 = 100.0;
/// They are no more than this many to each step that goes on as it should.
const SELDOM: f64 = 0.25;

/// A series and where a reading puts it.
#[derive(Clone, Copy)]
pub(crate) struct Laid<'a> {
    /// Stamps.
    pub stamps: &'a [Micros],
    /// Their places.
    pub places: &'a [Place],
    /// How many stamps of the pieces' series lie before these.
    pub from: usize,
    /// The pieces they form; those that lie elsewhere are passed over.
    pub pieces: &'a [Piece],
    /// Slots from the stamp before, by the file numbers; 0 where they are no evidence.
    pub by_number: &'a [i64],
    /// Resolution and plan.
    pub asked: Asked,
    /// How far the windows were widened, s.
    pub widening_s: f64,
}

impl Laid<'_> {
    /// Why no grid holds most of the frames; `None` where one does.
    pub(crate) fn no_grid(self) -> Option<String> {
        let n = self.places.len();
        if n < 3 {
            return Some(format!("{n} stamped frames are too few to tell an interval"));
        }
        let on = self.places.iter().filter(|p| p.how == How::On).count();
        let step = |at: usize| self.places[at].slot - self.places[at - 1].slot;
        let confirmed = |at: usize| step(at) > 0 && self.by_number.get(at) == Some(&step(at));
        let steps = (1..n).filter(|&at| step(at) == 1 || confirmed(at)).count();
        let joins = self.pieces.iter().filter(|p| matches!(p.begins, Begins::Slip | Begins::Fresh)).count();
        let least = if self.widening_s > WIDE_S { STEPS_ON_WIDE_GRID } else { STEPS_ON_GRID };
        let interruptions = self.interruptions();
        let repeats = interruptions.repeats(self.asked.resolution_s() + 2.0 * self.widening_s.min(WIDE_S));
        let window_s = self.asked.resolution_s() + 2.0 * self.widening_s;
        let few = joins * FRAMES_PER_JOIN <= n + 2 * FRAMES_PER_JOIN;
        let beyond_doubt = self.widening_s <= WIDE_S && interruptions.odds(window_s) >= BEYOND_DOUBT;
        let keeps = (steps as f64 >= least * (n - 1) as f64 || beyond_doubt)
            && (repeats || few || beyond_doubt)
            && on * 2 > n
            && self.widening_s
                <= WIDE_S.max(WIDEST * usual_step_s(self.stamps, self.places).unwrap_or_default());
        (!keeps || !repeats && interruptions.by_chance(window_s))
            .then(|| "no steady pace: the intervals keep to no one grid for most of the frames".into())
    }

    /// The steps that go on as they should, and those that do not.
    fn interruptions(self) -> Interruptions {
        let begins: Vec<usize> = self
            .pieces
            .iter()
            .filter(|p| matches!(p.begins, Begins::Slip | Begins::Fresh))
            .map(|p| p.first)
            .collect();
        let mut found = Interruptions::default();
        // Slots over which the line that leads to a frame has been followed.
        let mut followed = 0.0_f64;
        let mut row = Row::default();
        for at in 1..self.places.len() {
            let slots = self.places[at].slot - self.places[at - 1].slot;
            let gap_s = (self.stamps[at] - self.stamps[at - 1]).seconds();
            // Pieces keep their place in the whole series.
            let anew = begins.binary_search(&(at + self.from)).is_ok();
            if self.places[at].how != How::On || anew {
                found.others.push(gap_s);
            } else if self.places[at - 1].how != How::On {
                // The way back from a frame off the grid is part of that interruption.
                followed += slots.max(0) as f64;
                continue;
            } else if slots > 1 && self.by_number.get(at) != Some(&slots) {
                found.holes.push(Rest { gap_s, slots, blur: 1.0 + 2.0 * slots as f64 / followed.max(1.0) });
            } else {
                (found.paced_s, found.paced) = (found.paced_s + gap_s, found.paced + 1);
                found.numbered_s.extend((slots > 1).then_some(gap_s));
                row = Row { steps: row.steps + 1, slots: row.slots + slots, seconds: row.seconds + gap_s };
                followed += slots as f64;
                continue;
            }
            found.rows.push(std::mem::take(&mut row));
            followed = if anew { 0.0 } else { followed + slots.max(0) as f64 };
        }
        found.rows.push(row);
        found
    }
}

/// A hole, after which the frames come back to the grid.
#[derive(Clone, Copy)]
struct Rest {
    /// From the frame before to the frame after, s.
    gap_s: f64,
    slots: i64,
    /// How many windows wide the grid is behind it: a line that was followed over few slots may lead anywhere
    /// behind many.
    blur: f64,
}

/// Steps that follow one another as they should.
#[derive(Clone, Copy, Default)]
struct Row {
    steps: usize,
    slots: i64,
    seconds: f64,
}

impl Row {
    /// How unlikely it is, nats, that a hand keeps so many steps within a window of `window_s` seconds of one
    /// line. What wanders by a share of the interval at each step leaves a strip at the rate π²σ²/2w² (W.
    /// Feller, "An Introduction to Probability Theory", vol. 2, ch. X, from memory); a single long step
    /// misses it by the ratio of both.
    fn nats(self, window_s: f64) -> f64 {
        let interval_s = self.seconds / self.slots.max(1) as f64;
        if self.steps < A_ROW || interval_s < HELD_DOWN_S.max(NARROW * window_s) {
            return 0.0;
        }
        let wander = HAND * interval_s / window_s;
        let a_step = (0.5 * (std::f64::consts::PI * wander).powi(2)).min((2.5 * wander).ln_1p());
        self.steps.saturating_sub(PLACED) as f64 * a_step
    }
}

/// Gaps of a series, s, by what they are on its grid.
#[derive(Default)]
struct Interruptions {
    /// After which the frames come back to the grid.
    holes: Vec<Rest>,
    /// After which they do not, and those of frames off the grid.
    others: Vec<f64>,
    /// All the others together, and how many they are.
    paced_s: f64,
    paced: usize,
    /// Of those, the ones over several slots, as many as the file numbers say.
    numbered_s: Vec<f64>,
    /// The rows that they form.
    rows: Vec<Row>,
}

impl Interruptions {
    /// All interruptions, s.
    fn gaps_s(&self) -> impl Iterator<Item = f64> {
        self.holes.iter().map(|h| h.gap_s).chain(self.others.iter().copied())
    }

    fn count(&self) -> f64 {
        (self.holes.len() + self.others.len()) as f64
    }

    /// The shortest of all interruptions but those that are odd ones out, s.
    fn shortest_s(&self) -> f64 {
        let mut all: Vec<f64> = self.gaps_s().collect();
        all.sort_by(f64::total_cmp);
        all.get(((1.0 - ALIKE) * all.len() as f64) as usize).copied().unwrap_or(0.0)
    }

    fn interval_s(&self) -> f64 {
        self.paced_s / self.paced.max(1) as f64
    }

    /// True where nearly all are alike: a fault that repeats itself is no chance, where the stamps are fine
    /// enough to tell alike from near.
    fn repeats(&self, window_s: f64) -> bool {
        // Sets of exposures rest alike too, and oftener.
        let seldom = self.count() <= SELDOM * self.paced as f64;
        let fine = self.interval_s() > 3.0 * window_s
            // Long rests that end alike to the stamp's step were set, however short the interval between them
            // is.
            || self.shortest_s() > LONG_RESTS * self.interval_s().max(window_s)
            || self.every_nth();
        seldom && fine && alike(self.gaps_s(), window_s) >= ALIKE * self.count().max(1.0)
    }

    /// True where the same number of slots is missing after the same number of frames, again and again: on
    /// the coarsest clock no hand does that.
    fn every_nth(&self) -> bool {
        let Some(inner) = self.rows.len().checked_sub(2).filter(|n| *n >= A_ROW) else { return false };
        let steps = self.rows[1..=inner].iter().map(|r| r.steps as i64);
        let slots = self.holes.iter().map(|h| h.slots);
        let same = |counts: Vec<i64>| most_alike(counts) as f64;
        same(steps.collect()) >= ALIKE * inner as f64 && same(slots.collect()) >= ALIKE * self.count()
    }

    /// True where the grid is interrupted so often, and come back to so seldom, that it may be chance.
    fn by_chance(&self, window_s: f64) -> bool {
        let steps = self.count() + self.paced as f64;
        let rests_s: f64 = self.gaps_s().sum();
        let stops = self.others.len() as f64;
        let often = self.count() > FEW * steps
            || (self.count() > FEW_LONG * steps && rests_s > LONG * self.paced_s)
            || (self.interval_s() < NARROW * window_s && stops > FEW_STOPS * steps);
        often && self.odds(window_s) < BELIEVED
    }

    /// Odds, nats, that a timer fired, against a hand.
    fn odds(&self, window_s: f64) -> f64 {
        if self.paced == 0 {
            return f64::NEG_INFINITY;
        }
        let chance = (window_s / self.interval_s()).clamp(1e-6, 1.0 - 1e-6);
        let back = self.holes.iter().map(|h| (COMES_BACK / (chance * h.blur).min(1.0)).ln()).sum::<f64>();
        // A frame that does not come back speaks for no timer, however coarse the clock is.
        let away = ((1.0 - COMES_BACK) / (1.0 - chance)).ln().min(0.0);
        // Nobody waits just as long as the numbers of the files that he will take out make up.
        let numbered = self.numbered_s.iter().map(|gap_s| (gap_s / window_s).max(1.0).ln()).sum::<f64>();
        let kept: f64 = self.rows.iter().map(|row| row.nats(window_s)).sum();
        back + numbered + kept + self.others.len() as f64 * away
    }
}

/// How often the commonest of these counts stands among them.
fn most_alike(mut counts: Vec<i64>) -> usize {
    counts.sort_unstable();
    counts.chunk_by(|a, b| a == b).map(<[i64]>::len).max().unwrap_or(0)
}

/// How many of these gaps, s, are the same within `window_s` at the most.
fn alike(gaps: impl Iterator<Item = f64>, window_s: f64) -> f64 {
    let mut sorted: Vec<f64> = gaps.collect();
    sorted.sort_by(f64::total_cmp);
    let mut from = 0;
    let mut most = 0;
    for (to, gap) in sorted.iter().enumerate() {
        while gap - sorted[from] > 2.0 * window_s {
            from += 1;
        }
        most = most.max(to + 1 - from);
    }
    most as f64
}
