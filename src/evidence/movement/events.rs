//! Where a layer stood, went back, or jumped.
//!
//! A layer is looked at through a window of as many steps as it takes to tell a step from none: over a window
//! the errors of single pictures do not add up, steps do. Places are then found to the step by fitting the
//! corner of the path.

use super::layers::{Layer, MAD, spread};
use crate::stats::median;
use std::ops::Range;

/// Windows that are tried, steps.
const WINDOWS: [usize; 5] = [1, 2, 4, 8, 16];
/// A window is long enough where its mean strays from a whole or no step by this much, as a standard
/// deviation.
const SHARP: f64 = 0.15;
/// A window stands still below this share of a step, goes back below the second, and is as usual within the
/// first of 1.
const STANDS: f64 = 0.4;
const BACK: f64 = -0.5;
/// Mean of a halt's steps at most; what goes on at a fraction of its pace is no carriage that stands but a
/// mixture of what stops and what does not.
const STANDS_CLEAN: f64 = 0.2;
/// Share of the other windows that must be as usual for a layer to be believed: clouds and water seldom are.
const STEADY: f64 = 0.9;
/// Fewest windows beside its halts from which steadiness is told.
pub(super) const FEWEST: usize = 8;
/// Fewest steps of a halt; fewer are told as a jump.
const HALT: usize = 4;
/// Standard errors of a place by which a halt must leave its layer behind.
const CERTAIN: f64 = 5.0;
/// More halts than these are the layer's own way.
const MOST_HALTS: usize = 5;
/// Steps on each side of a turn within which it may have stood, and those beyond from which its ways are
/// drawn on.
const NEAR_TURN: usize = 6;
const SIDE: usize = 8;
/// Frames on each side over which a jump is averaged.
pub(super) const SIDES: [usize; 3] = [1, 2, 4];
/// Spreads by which a jump must stand out; and where it reaches this near an end of what was followed, steps:
/// places there have partners on one side only, and are less sharp.
pub(super) const STANDS_OUT: f64 = 6.0;
const STANDS_OUT_ENDS: f64 = 8.0;
const ENDS: usize = 4;

/// What a layer shows through its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Steps in which it stood still, each at least four long.
    pub halts: Vec<Range<usize>>,
    /// Steps in which it went back.
    pub back: Vec<Range<usize>>,
    /// True where it is otherwise as usual.
    pub steady: bool,
    /// Steps of the window.
    pub window: usize,
    /// Standard error of the way over a window, in steps: the smaller, the sharper the layer sees. Infinite
    /// where no window tells a step from none.
    pub error: f64,
}

impl Default for Path {
    fn default() -> Self {
        Self { halts: Vec::new(), back: Vec::new(), steady: false, window: 0, error: f64::INFINITY }
    }
}

/// A jump between two frames, beyond the usual step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jump {
    /// The step at which it happened.
    pub step: usize,
    /// By how much: steps for a layer, px of the small picture for what stands still.
    pub by: f64,
}

/// Jumps, and the smallest that would have been seen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Jumps {
    /// In order.
    pub all: Vec<Jump>,
    /// What stands out at all, in the unit of the jumps.
    pub finest: f64,
}

impl Jumps {
    /// The smallest that would hardly be missed, in the unit of the jumps: noise takes two spreads off one
    /// jump in forty.
    pub fn surely(&self) -> f64 {
        self.finest * (STANDS_OUT + 2.0) / STANDS_OUT
    }
}

/// Mean step over each window; not finite where a step of it is not known.
fn means(moved: &[f64], window: usize) -> Vec<f64> {
    moved.windows(window).map(|w| w.iter().sum::<f64>() / window as f64).collect()
}

/// Neighbouring places at which `test` holds.
fn spans(values: &[f64], test: impl Fn(f64) -> bool) -> Vec<Range<usize>> {
    let mut spans: Vec<Range<usize>> = Vec::new();
    for (at, value) in values.iter().enumerate().filter(|v| test(*v.1)) {
        let _ = value;
        match spans.last_mut() {
            Some(span) if span.end == at => span.end = at + 1,
            _ => spans.push(at..at + 1),
        }
    }
    spans
}

/// The step within `within` at which the path turns from one pace to another, by least squares.
fn corner(moved: &[f64], within: Range<usize>, paces: (f64, f64)) -> usize {
    let steps = moved.get(within.clone()).unwrap_or_default();
    let squares = |corner: usize| {
        let mut place = 0.0;
        let off: Vec<f64> = std::iter::once(0.0)
            .chain(steps.iter().enumerate().map(|(i, step)| {
                place += step - if i < corner { paces.0 } else { paces.1 };
                place
            }))
            .collect();
        let mean = off.iter().sum::<f64>() / off.len() as f64;
        off.iter().map(|o| (o - mean).powi(2)).sum::<f64>()
    };
    let best = (0..=steps.len()).map(|c| (squares(c), c)).reduce(|a, b| if b.0 < a.0 { b } else { a });
    within.start + best.map_or(0, |b| b.1)
}

/// The run of known steps around `at`.
fn known_around(moved: &[f64], at: usize) -> Range<usize> {
    let known = |i: usize| moved.get(i).is_some_and(|m| m.is_finite());
    let mut range = at..at;
    while range.start > 0 && known(range.start - 1) {
        range.start -= 1;
    }
    while known(range.end) {
        range.end += 1;
    }
    range
}

/// First step at the new pace, near the window that begins at `start`; and the first step at the old pace
/// again, near the one that ends at `end`.
fn edges(moved: &[f64], span: &Range<usize>, window: usize, pace: f64) -> Range<usize> {
    let (start, end) = (span.start, span.end - 1 + window);
    let reach = 2 * window + 2;
    let near = |at: usize| {
        let known = known_around(moved, at.min(moved.len() - 1));
        known.start.max(at.saturating_sub(reach))..known.end.min(at + reach)
    };
    let before = near(start);
    let first = if before.start >= start {
        start
    } else {
        corner(moved, before.start..before.end.min(end), (1.0, pace))
    };
    let after = near(end);
    let last =
        if after.end <= end { end } else { corner(moved, after.start.max(first)..after.end, (pace, 1.0)) };
    first..last.max(first + 1)
}

/// True where a way back is one without its farthest step too: a knock takes a slow layer back by many steps
/// at once.
fn goes_back(moved: &[f64], back: &Range<usize>) -> bool {
    let known = moved.get(back.clone()).unwrap_or_default().iter().filter(|m| m.is_finite());
    let (sum, least) = known.fold((0.0, 0.0_f64), |(sum, least), m| (sum + m, least.min(*m)));
    sum < least
}

/// A way back drawn on over steps beside it that are not known but for their heading, as far as that was
/// back.
fn headed_back(layer: &Layer, back: Range<usize>) -> Range<usize> {
    let not_on = |at: &usize| layer.hidden_way(*at).is_some_and(|way| way <= 0);
    let is_back = |at: &usize| layer.hidden_way(*at) == Some(-1);
    let before = (0..back.start).rev().take_while(not_on).filter(is_back).last();
    let after = (back.end..layer.moved.len()).take_while(not_on).filter(is_back).last();
    before.unwrap_or(back.start)..after.map_or(back.end, |at| at + 1)
}

/// True where at least half of a halt was seen, and stood.
fn stands(moved: &[f64], halt: &Range<usize>) -> bool {
    let steps = moved.get(halt.clone()).unwrap_or_default();
    let known: Vec<f64> = steps.iter().copied().filter(|m| m.is_finite()).collect();
    2 * known.len() >= steps.len() && known.iter().sum::<f64>().abs() <= STANDS_CLEAN * known.len() as f64
}

/// The path of a layer.
pub(crate) fn path(layer: &Layer) -> Path {
    let moved = &layer.moved;
    let stray = |mean: f64| (mean.abs() - 1.0).abs().min(mean.abs());
    let sharp = |window: &usize| {
        let means = means(moved, *window);
        let known = means.iter().filter(|m| m.is_finite()).count();
        known >= FEWEST && MAD * median(means.iter().map(|m| stray(*m))).unwrap_or(1.0) <= SHARP
    };
    let Some(window) = WINDOWS.into_iter().find(sharp) else { return Path::default() };
    let means = means(moved, window);
    // Over a window the error of its mean is that of two places, whatever its length: steps that a halt must
    // cost to be one.
    let error = window as f64 * MAD * median(means.iter().map(|m| stray(*m))).unwrap_or(0.0);
    let certain = CERTAIN * error;
    let back: Vec<Range<usize>> = joined(spans(&means, |m| m < BACK), &means)
        .into_iter()
        .filter(|s| s.len() + window > HALT)
        .map(|s| edges(moved, &s, window, -1.0))
        .filter(|back| goes_back(moved, back))
        .map(|back| if window == 1 { headed_back(layer, back) } else { back })
        .collect();
    let beside_back = |s: &Range<usize>| {
        back.iter().any(|b| s.start < b.end + window && b.start < s.end + window) && window > 1
    };
    let halts: Vec<Range<usize>> = joined(spans(&means, |m| m.abs() < STANDS), &means)
        .into_iter()
        .map(|s| edges(moved, &s, window, 0.0))
        .filter(|h| h.len() >= HALT && h.len() as f64 >= certain && !beside_back(h) && stands(moved, h))
        .collect();
    let halts = once(halts);
    let outside = |at: usize| {
        let near = |r: &Range<usize>| at < r.end + window && r.start < at + 2 * window;
        !halts.iter().chain(&back).any(near)
    };
    let others: Vec<f64> =
        means.iter().enumerate().filter(|(at, m)| m.is_finite() && outside(*at)).map(|(_, m)| *m).collect();
    let usual = others.iter().filter(|m| (**m - 1.0).abs() < STANDS).count();
    let steady = others.len() >= FEWEST
        && usual as f64 >= STEADY * others.len() as f64
        && halts.len() + back.len() <= MOST_HALTS;
    Path { halts, back, steady, window, error }
}

/// Spans with nothing but what is not known between them are one.
fn joined(spans: Vec<Range<usize>>, means: &[f64]) -> Vec<Range<usize>> {
    let mut all: Vec<Range<usize>> = Vec::new();
    for span in spans {
        if let Some(last) = all.last_mut() {
            let between = means.get(last.end..span.start).unwrap_or_default();
            if between.iter().all(|m| m.is_nan()) {
                last.end = span.end;
                continue;
            }
        }
        all.push(span);
    }
    all
}

/// Halts that overlap are one.
fn once(halts: Vec<Range<usize>>) -> Vec<Range<usize>> {
    let mut all: Vec<Range<usize>> = Vec::new();
    for halt in halts {
        match all.last_mut() {
            Some(last) if halt.start <= last.end => last.end = last.end.max(halt.end),
            _ => all.push(halt),
        }
    }
    all
}

/// By how much the mean place of a few frames after a step differs from that before it, other than usual: the
/// difference of the two means, as weights on the steps between: 1/n, 2/n, … 1 … 2/n, 1/n. Not finite where a
/// step of it is not known.
pub(super) fn jump(moved: &[f64], usual: f64, side: usize, step: usize) -> f64 {
    let reach = step + 1 - side..step + side;
    reach.map(|at| (side - at.abs_diff(step)) as f64 / side as f64 * (moved[at] - usual)).sum()
}

/// What stands out of the jumps at all steps, and these. `usual` is one step; `free` says which steps may be
/// looked at.
pub(super) fn jumps(
    moved: &[f64],
    usual: f64,
    side: usize,
    free: impl Fn(usize) -> bool,
) -> (f64, Vec<Jump>) {
    let within = side - 1..(moved.len() + 1).saturating_sub(side);
    let all: Vec<Jump> = within
        .filter(|step| (step + 1 - side..step + side).all(&free))
        .map(|step| Jump { step, by: jump(moved, usual, side, step) })
        .filter(|jump| jump.by.is_finite())
        .collect();
    let spread = spread(&all.iter().map(|j| j.by).collect::<Vec<_>>());
    (STANDS_OUT * spread, all)
}

/// Without the jumps that do not stand out as those near the ends of `moved` must, by more than `finest`.
fn sure_at_ends(mut jumps: Vec<Jump>, finest: f64, side: usize, steps: usize) -> Vec<Jump> {
    let near = |j: &Jump| j.step < ENDS + side - 1 || j.step + ENDS + side > steps;
    jumps.retain(|j| !near(j) || j.by.abs() > finest * STANDS_OUT_ENDS / STANDS_OUT);
    jumps
}

/// Of jumps over `least` that lie within `apart` steps of one another, the largest.
pub(super) fn apart(mut jumps: Vec<Jump>, least: f64, apart: usize) -> Vec<Jump> {
    jumps.retain(|j| j.by.abs() > least);
    jumps.sort_by(|a, b| b.by.abs().total_cmp(&a.by.abs()).then(a.step.cmp(&b.step)));
    let mut kept: Vec<Jump> = Vec::new();
    for jump in jumps {
        if kept.iter().all(|k| k.step.abs_diff(jump.step) > apart) {
            kept.push(jump);
        }
    }
    kept.sort_by_key(|j| j.step);
    kept
}

/// Jumps of a layer outside of its halts and ways back, in steps.
pub fn layer_jumps(layer: &Layer, path: &Path) -> Option<Jumps> {
    let beside = |r: &Range<usize>, reach: usize, at: usize| at + reach >= r.start && at < r.end + reach;
    // What is lost where it turns is play, and told as that.
    let free = |at: usize| {
        !path.halts.iter().any(|r| beside(r, 1, at)) && !path.back.iter().any(|r| beside(r, NEAR_TURN, at))
    };
    let tries = SIDES.map(|side| (side, jumps(&layer.moved, 1.0, side, free)));
    let best = tries.into_iter().filter(|t| t.1.1.len() >= FEWEST).reduce(|a, b| {
        // More frames to a side place a jump less sharply: they must be worth it.
        if b.1.0 < 0.8 * a.1.0 { b } else { a }
    });
    best.map(|(side, (finest, all))| {
        let all = sure_at_ends(all, finest, side, layer.moved.len());
        Jumps { all: apart(all, finest, side), finest }
    })
}

/// Steps lost where the carriage turned, with their standard error: by how much the two ways, each drawn on
/// to where they meet, would have gone further than it did. `turn` is the first step after it; `None` where
/// too little was seen on either side.
pub(crate) fn play(layer: &Layer, turn: usize) -> Option<(f64, f64)> {
    let from = turn.checked_sub(NEAR_TURN + SIDE)?;
    let steps = layer.moved.get(from..(turn + NEAR_TURN + SIDE).min(layer.moved.len()))?;
    let mut place = 0.0;
    let places: Vec<f64> = std::iter::once(0.0)
        .chain(steps.iter().map(|step| {
            place += step;
            place
        }))
        .collect();
    if steps.len() < SIDE + 2 * NEAR_TURN || places.iter().any(|p| p.is_nan()) {
        return None;
    }
    let (before, after) = (places.get(..=SIDE)?, places.get(SIDE + 2 * NEAR_TURN..)?);
    // Which way it went before: a turn back to the first way counts as well.
    let sign = (before.last()? - before.first()?).signum();
    let (before, after) = (Leg::of(before, 0, sign), Leg::of(after, SIDE + 2 * NEAR_TURN, sign));
    // The pace is that of both legs together: a hundredth of it would be a fifth of a step where they meet.
    let reach = before.reach + after.reach;
    let pace = (before.rise - after.rise) / reach;
    let apart = after.middle - before.middle;
    let squares = before.squares(pace) + after.squares(-pace);
    let free = before.count + after.count - 3.0;
    let error = (squares / free * (1.0 / before.count + 1.0 / after.count + apart.powi(2) / reach)).sqrt();
    let meets = before.mean + after.mean + pace * apart;
    let near = places.get(SIDE..=SIDE + 2 * NEAR_TURN)?;
    let farthest = near.iter().map(|p| sign * p).fold(f64::NEG_INFINITY, f64::max);
    Some((meets - 2.0 * farthest, error))
}

/// Sums over the places before a turn, or after it, for a straight line through them.
struct Leg {
    count: f64,
    /// Mean frame and mean place.
    middle: f64,
    mean: f64,
    /// Sums of the squares of the frames about their mean, of their products with the places, and of the
    /// squares of the places.
    reach: f64,
    rise: f64,
    own: f64,
}

impl Leg {
    fn of(places: &[f64], first: usize, sign: f64) -> Self {
        let count = places.len() as f64;
        let middle = first as f64 + (count - 1.0) / 2.0;
        let mean = sign * places.iter().sum::<f64>() / count;
        let (mut reach, mut rise, mut own) = (0.0, 0.0, 0.0);
        for (at, place) in places.iter().enumerate() {
            let (frame, place) = ((first + at) as f64 - middle, sign * place - mean);
            reach += frame * frame;
            rise += frame * place;
            own += place * place;
        }
        Self { count, middle, mean, reach, rise, own }
    }

    /// What a line of that pace through the mean leaves over.
    fn squares(&self, pace: f64) -> f64 {
        (self.own - 2.0 * pace * self.rise + pace * pace * self.reach).max(0.0)
    }
}
