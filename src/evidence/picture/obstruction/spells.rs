//! Spells of frames before which something stood.

use super::compare::{Marks, Plane, Shift, share};
use crate::evidence::Evidence;
use crate::stats::median;

/// The longest spell that is looked for, frames.
pub const LONGEST: usize = 12;
/// The smallest share of the picture that is told.
const LEAST: f32 = 0.2;
/// A spell begins and ends where this share of the picture becomes another.
const ONSET: f32 = 0.1;
/// Within a spell no frame shows less than this share covered.
const WITHIN: f32 = 0.08;
/// The sides of a spell are alike over this share of the picture at least.
const SIDES_ALIKE: f32 = 0.5;
/// What covers comes and goes at once: by this share of its most, from one frame to the next.
const AT_ONCE: f32 = 0.3;
/// The frames on a side change among themselves by less than this share of what is covered.
const STEADY: f32 = 0.35;
/// A spell must cover this many times what usually changes from frame to frame.
const TIMES_USUAL: f32 = 4.0;
/// Where more than this share of the picture usually changes, nothing can be said.
const BUSY: f32 = 0.12;
/// Where more than this share of the frames begin something, nothing can be said.
const BUSY_FRAMES: f64 = 0.25;
/// Pairs of neighbours from which the usual step of the camera is taken.
const SAMPLED: usize = 40;
/// How far apart those pairs are, frames: the nearest first.
const LAGS: [usize; 3] = [1, 4, 12];
/// Frames to either side of a spell that are asked whether they are steady.
const ASIDE: usize = 4;
/// How far around the expected place the sides are laid over one another, cells.
const REACH: f32 = 1.0;

/// Frames before which something stood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Obstruction {
    /// Position of the first frame, in capture order.
    pub first: usize,
    /// Position of the last frame.
    pub last: usize,
    /// How many frames.
    pub frames: usize,
    /// Position of the frame that is covered most.
    pub most_at: usize,
    /// Share of that picture that is unlike both sides (or the one side there is), 0 to 1.
    pub share: f32,
    /// True where it is unlike the frames on both sides, which are alike; false where the run begins or ends
    /// with it.
    pub both_sides: bool,
}

/// Whether obstructions could be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Watch {
    /// Fewer than four pictures can be held against each other.
    #[default]
    TooFew,
    /// Neighbouring pictures usually show different things.
    Busy,
    /// They could.
    Kept,
}

struct Reel<'a> {
    evidence: &'a Evidence,
    /// Positions in capture order.
    seen: Vec<usize>,
    settings_known: bool,
    /// How far each picture lies from the one before it, usually.
    step: Shift,
    usual: f32,
}

impl Reel<'_> {
    fn plane(&self, k: usize) -> Option<Plane> {
        let at = *self.seen.get(k)?;
        let settings = self.evidence.exposure.settings.get(at).filter(|_| self.settings_known);
        let let_in = settings.and_then(|s| s.ev100()).map_or(0.0, |ev| -ev as f32);
        Some(Plane::of(&self.evidence.frames.look(at)?.cells, let_in))
    }

    /// Cells of picture `b` that are unlike picture `a`, which lies `by` away from it.
    fn unlike(&self, a: usize, b: usize, by: Shift) -> Option<Marks> {
        Some(self.plane(b)?.unlike(&self.plane(a)?.shifted(by)))
    }

    /// The same of neighbours, at the usual step.
    fn step_at(&self, k: usize) -> Option<Marks> {
        self.unlike(k.checked_sub(1)?, k, self.step)
    }

    /// True where frames beside `k`, on its way to `towards`, are like it, or there are none.
    fn steady(&self, k: usize, back: bool, covered: f32) -> bool {
        let mut any = false;
        for d in 1..=ASIDE {
            let beside = if back { k.checked_sub(d) } else { Some(k + d).filter(|j| *j < self.seen.len()) };
            let Some(beside) = beside else { break };
            any = true;
            let by = self.step.times(if back { d as f32 } else { -(d as f32) });
            if self.unlike(beside, k, by).is_some_and(|m| share(&m) <= STEADY * covered) {
                return true;
            }
        }
        !any
    }
}

/// The obstructions among frames that are compared with each other, and whether there was anything to see
/// them by. `blank` tells frames that show nothing: they are left out.
pub fn obstructions(
    evidence: &Evidence,
    frames: &[usize],
    blank: impl Fn(usize) -> bool,
) -> (Vec<Obstruction>, Watch) {
    let seen: Vec<usize> =
        frames.iter().copied().filter(|at| evidence.frames.look(*at).is_some() && !blank(*at)).collect();
    if seen.len() < 4 {
        return (Vec::new(), Watch::TooFew);
    }
    let known = |at: &usize| evidence.exposure.settings.get(*at).is_some_and(|s| s.ev100().is_some());
    let settings_known = seen.iter().all(known);
    let mut reel = Reel { evidence, seen, settings_known, step: Shift::default(), usual: 0.0 };
    reel.step = usual_step(&reel);
    let changes: Vec<f32> =
        (1..reel.seen.len()).map(|k| reel.step_at(k).map_or(0.0, |m| share(&m))).collect();
    let change = |k: usize| k.checked_sub(1).and_then(|k| changes.get(k)).copied().unwrap_or(0.0);
    reel.usual = median(changes.iter().map(|c| f64::from(*c))).unwrap_or(0.0) as f32;
    let onset = ONSET.max(2.0 * reel.usual);
    let onsets: Vec<usize> = (1..reel.seen.len()).filter(|k| change(*k) >= onset).collect();
    let many = onsets.len() > 24 && onsets.len() as f64 > BUSY_FRAMES * reel.seen.len() as f64;
    if reel.usual > BUSY || many {
        return (Vec::new(), Watch::Busy);
    }
    let mut found: Vec<Obstruction> = Vec::new();
    let mut free = 0;
    for &k in &onsets {
        if k < free {
            continue;
        }
        let ends = onsets.iter().copied().filter(|q| (k + 1..=k + LONGEST).contains(q));
        if let Some((spell, q)) = ends.into_iter().find_map(|q| Some((between(&reel, k, q, &change)?, q))) {
            found.push(spell);
            free = q + 1;
        }
    }
    let last = reel.seen.len();
    // What stands there may move: the change that ends the spell is the last of those near the end of the
    // run.
    let near_begin = onsets.iter().rev().filter(|k| **k <= LONGEST);
    let begins = near_begin.copied().find_map(|k| free_of(&found, one_side(&reel, 0, k, &change)?));
    let near_end = onsets.iter().filter(|k| last - **k <= LONGEST);
    let ends = near_end.copied().find_map(|k| free_of(&found, one_side(&reel, k, last, &change)?));
    for spell in begins.iter().chain(&ends) {
        found.retain(|o| o.last < spell.first || spell.last < o.first);
    }
    found.extend(begins.into_iter().chain(ends));
    found.sort_by_key(|o| (o.first, o.last));
    found.dedup_by_key(|o| o.first);
    (found, Watch::Kept)
}

/// The median shift from one picture to the next, from pairs that are spread over the run: neighbours first,
/// then pairs that are farther apart, which tell it finer.
fn usual_step(reel: &Reel<'_>) -> Shift {
    let mut step = Shift::default();
    for apart in LAGS {
        let Some(pairs) = reel.seen.len().checked_sub(apart) else { break };
        let near = step.times(apart as f32);
        let every = pairs.div_ceil(SAMPLED).max(1);
        let shifts: Vec<Shift> = (0..pairs)
            .step_by(every)
            .filter_map(|k| Some(reel.plane(k + apart)?.shift_from(&reel.plane(k)?, near, REACH)))
            .collect();
        let middle =
            |of: fn(&Shift) -> f32| median(shifts.iter().map(|s| f64::from(of(s)))).map(|m| m as f32);
        let (Some(across), Some(down)) = (middle(|s| s.across), middle(|s| s.down)) else { break };
        step = Shift { across, down }.times(1.0 / apart as f32);
    }
    step
}

/// What stands before pictures `a` to `q` - 1, where those before and after are alike.
fn between(reel: &Reel<'_>, a: usize, q: usize, change: &impl Fn(usize) -> f32) -> Option<Obstruction> {
    let p = a.checked_sub(1)?;
    let (before, after) = (reel.plane(p)?, reel.plane(q)?);
    let steps = (q - p) as f32;
    let near = reel.step.times(steps);
    let way = after.shift_from(&before, near, REACH);
    let apart = after.unlike(&before.shifted(way));
    if share(&apart) > 1.0 - SIDES_ALIKE {
        return None;
    }
    let step = way.times(1.0 / steps);
    let (mut most, mut most_at, mut least) = (0.0_f32, a, 1.0_f32);
    let restless =
        |k: usize, from: usize| reel.unlike(from, k, if k > from { step } else { step.times(-1.0) });
    // Cells that also change among the frames of a side are no evidence.
    let none = [false; crate::evidence::picture::CELLS];
    let unrest_before = p.checked_sub(1).and_then(|o| restless(p, o)).unwrap_or(none);
    let unrest_after =
        Some(q + 1).filter(|k| *k < reel.seen.len()).and_then(|o| restless(q, o)).unwrap_or(none);
    for m in a..q {
        let plane = reel.plane(m)?;
        let of_before = plane.unlike(&before.shifted(step.times((m - p) as f32)));
        let of_after = plane.unlike(&after.shifted(step.times(-((q - m) as f32))));
        let covered: Marks = std::array::from_fn(|i| {
            // Right beside a side what changed there by itself is known; farther in, where the sides
            // themselves agree.
            let steady = !apart[i] || (m == a && !unrest_before[i]) || (m + 1 == q && !unrest_after[i]);
            of_before[i] && of_after[i] && steady
        });
        let covered = share(&covered);
        if covered > most {
            (most, most_at) = (covered, m);
        }
        least = least.min(covered);
    }
    let at_once = change(a).min(change(q)) >= AT_ONCE * most;
    let told = most >= LEAST.max(TIMES_USUAL * reel.usual) && least >= WITHIN && at_once;
    if !told || !reel.steady(p, true, most) || !reel.steady(q, false, most) {
        return None;
    }
    Some(Obstruction {
        first: *reel.seen.get(a)?,
        last: *reel.seen.get(q - 1)?,
        frames: q - a,
        most_at: *reel.seen.get(most_at)?,
        share: most,
        both_sides: true,
    })
}

/// A spell at an end of the run, where none that two sides tell reaches out of it or stands right beside it.
fn free_of(found: &[Obstruction], spell: Obstruction) -> Option<Obstruction> {
    let within = |o: &Obstruction| spell.first <= o.first && o.last <= spell.last;
    let apart = |o: &Obstruction| o.last + 1 < spell.first || spell.last + 1 < o.first;
    found.iter().all(|o| within(o) || apart(o)).then_some(spell)
}

/// Pictures `from` to `end` - 1, with which the run begins or ends, unlike those beside them.
fn one_side(reel: &Reel<'_>, from: usize, end: usize, change: &impl Fn(usize) -> f32) -> Option<Obstruction> {
    let (beside, back) = if from == 0 { (end, false) } else { (from - 1, true) };
    let (mut most, mut most_at, mut least) = (0.0_f32, from, 1.0_f32);
    for m in from..end {
        let by = reel.step.times(m as f32 - beside as f32);
        let covered = share(&reel.unlike(beside, m, by)?);
        if covered > most {
            (most, most_at) = (covered, m);
        }
        least = least.min(covered);
    }
    let at_once = change(if back { from } else { end }) >= AT_ONCE * most;
    let told = most >= LEAST.max(TIMES_USUAL * reel.usual) && least >= WITHIN && at_once;
    // The rest of the run is one scene, or the spell is one more of its changes.
    let rest = if back { from } else { reel.seen.len() - end };
    if !told || rest < 2 * (end - from) || rest < 3 || !reel.steady(beside, back, most) {
        return None;
    }
    Some(Obstruction {
        first: *reel.seen.get(from)?,
        last: *reel.seen.get(end - 1)?,
        frames: end - from,
        most_at: *reel.seen.get(most_at)?,
        share: most,
        both_sides: false,
    })
}
