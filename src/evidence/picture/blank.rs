//! Pictures that show nothing: black, or blown out.

use super::Pictured;
use crate::evidence::Look;
use crate::units::light::decoded;

/// A picture of less than the light of this code is black, where nothing in it stands out.
const BLACK_CODE: f64 = 8.0;
/// What is left of a black picture spreads by fewer codes than this, as a standard deviation.
const BLACK_SPREAD: f32 = 4.0;
/// No cell of a black picture holds more light than this: the moon, a lamp or a lit window is something.
const BLACK_CELL: f32 = 0.01;
/// A picture of which this share of the pixels is cut off shows nothing.
const BLOWN: f32 = 0.97;
/// Beside pictures that show something, a picture is black if they hold this many times its light, and what
/// is left of it spreads by fewer codes than this: a firework that begins is something.
const TIMES: f32 = 8.0;
const BLACK_SPREAD_BESIDE: f32 = 8.0;
/// Beside pictures that are cut off over less than half, a picture is blown at this share.
const BLOWN_BESIDE: f32 = 0.7;
/// Pictures beside one that it is compared with, on either side.
const BESIDE: usize = 5;
/// Night falls, and day breaks, by less than this from one picture to the next, EV.
const GRADUAL_EV: f64 = 1.0;
/// So many steps before or after a spell must be as small.
const GRADUAL_STEPS: usize = 4;
/// Over those steps the light changes by this much at least, EV: a course, not a level.
const COURSE_EV: f64 = 0.15;
/// Less light than this, 8-bit code 1, is not told apart.
const LEAST_LIGHT: f64 = 0.000_3;

/// How a picture shows nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlankKind {
    /// Black.
    Black,
    /// Cut off at the top.
    Blown,
}

/// How the run goes over into pictures that show nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Passage {
    /// At once, from one picture to the next.
    Abrupt,
    /// Step by step, as night falls and day breaks.
    Gradual,
    /// No picture that shows something stands on either side.
    Unknown,
}

/// Neighbouring pictures of the run that show nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct BlankSpell {
    /// What they are.
    pub kind: BlankKind,
    /// Positions in capture order, in order.
    pub frames: Vec<usize>,
    /// How the run goes over into them and out of them; gradual only where it is so on every side that can be
    /// seen.
    pub passage: Passage,
}

/// Spells of pictures that show nothing, among frames that are compared with each other.
pub(crate) fn blank(told: Pictured<'_>, frames: &[usize]) -> Vec<BlankSpell> {
    let seen: Vec<(usize, &Look)> =
        frames.iter().filter_map(|at| Some((*at, told.frames.look(*at)?))).collect();
    let kinds: Vec<Option<BlankKind>> = (0..seen.len()).map(|k| kind(&seen, k)).collect();
    let mut spells = Vec::new();
    let mut from = 0;
    while let Some(first) = kinds.iter().skip(from).position(Option::is_some).map(|k| k + from) {
        let kind = kinds[first];
        let end = kinds.iter().skip(first).position(|k| *k != kind).map_or(kinds.len(), |k| k + first);
        if let Some(kind) = kind {
            spells.push(BlankSpell {
                kind,
                frames: seen[first..end].iter().map(|s| s.0).collect(),
                passage: passage(&seen, first, end),
            });
        }
        from = end;
    }
    spells
}

fn kind(seen: &[(usize, &Look)], k: usize) -> Option<BlankKind> {
    let now = seen.get(k)?.1;
    let dark = now.mean < decoded(BLACK_CODE / 255.0) as f32;
    if dark && now.contrast < BLACK_SPREAD && now.cells.brightest() < BLACK_CELL {
        return Some(BlankKind::Black);
    }
    if now.clipped >= BLOWN {
        return Some(BlankKind::Blown);
    }
    if if dark { now.contrast >= BLACK_SPREAD_BESIDE } else { now.clipped < BLOWN_BESIDE } {
        return None;
    }
    let around: Vec<&Look> = (k.saturating_sub(BESIDE)..(k + BESIDE + 1).min(seen.len()))
        .filter(|j| *j != k)
        .filter_map(|j| Some(seen.get(j)?.1))
        .collect();
    let most = |n: usize| around.len() >= 3 && 2 * n > around.len();
    let brighter = around.iter().filter(|l| l.mean >= TIMES * now.mean.max(1e-6)).count();
    let open = around.iter().filter(|l| l.clipped < 0.5).count();
    match dark {
        true => most(brighter).then_some(BlankKind::Black),
        false => most(open).then_some(BlankKind::Blown),
    }
}

fn passage(seen: &[(usize, &Look)], first: usize, end: usize) -> Passage {
    let ev = |k: usize| seen.get(k).map(|s| f64::from(s.1.mean).max(LEAST_LIGHT).log2());
    // Levels of the picture within the spell and of those outside, going away from it.
    let way = |inside: usize, outside: &mut dyn Iterator<Item = usize>| {
        let levels: Vec<f64> =
            std::iter::once(inside).chain(outside.take(GRADUAL_STEPS)).filter_map(ev).collect();
        let small = levels.windows(2).all(|w| matches!(w, [a, b] if (a - b).abs() <= GRADUAL_EV));
        let course = levels.first().zip(levels.last()).is_some_and(|(a, b)| (a - b).abs() >= COURSE_EV);
        (levels.len() > 1).then_some(small && course && levels.len() > GRADUAL_STEPS)
    };
    let before = way(first, &mut (0..first).rev());
    let after = way(end.saturating_sub(1), &mut (end..seen.len()));
    match (before, after) {
        (None, None) => Passage::Unknown,
        (a, b) if a.unwrap_or(true) && b.unwrap_or(true) => Passage::Gradual,
        _ => Passage::Abrupt,
    }
}
