//! Spells of frames before which something stood.

use super::compare::Marks;
use super::long;
use super::reel::{REACH, Reel};
use super::spell::{LONGEST, Obstruction};
use crate::evidence::picture::Pictured;

/// A spell begins and ends where this share of the picture becomes another.
const ONSET: f32 = 0.1;
/// Within a spell no frame shows less than this share covered.
pub(super) const WITHIN: f32 = 0.08;
/// The sides of a spell are alike over this share of the picture at least.
const SIDES_ALIKE: f32 = 0.5;
/// What covers comes and goes at once: by this share of its most, from one frame to the next.
const AT_ONCE: f32 = 0.3;
/// Where more than this share of the picture usually changes, nothing can be said.
const BUSY: f32 = 0.12;
/// Where less than this share of the picture stands still, nothing can be said.
const TELLING: f32 = 0.4;
/// Where more than this share of the frames begin something, nothing can be said.
const BUSY_FRAMES: f64 = 0.25;

/// Whether obstructions could be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Watch {
    /// Fewer than four pictures can be compared with each other.
    #[default]
    TooFew,
    /// Neighbouring pictures usually show different things.
    Busy,
    /// They could.
    Kept,
}

/// The obstructions among frames that are compared with each other, and whether there was anything to see
/// them by. `blank` tells frames that show nothing: they are left out.
pub(crate) fn obstructions(
    told: Pictured<'_>,
    frames: &[usize],
    blank: impl Fn(usize) -> bool,
) -> (Vec<Obstruction>, Watch) {
    let seen: Vec<usize> =
        frames.iter().copied().filter(|at| told.frames.look(*at).is_some() && !blank(*at)).collect();
    if seen.len() < 4 {
        return (Vec::new(), Watch::TooFew);
    }
    let reel = Reel::new(told, seen);
    let (found, watch) = within(&reel);
    if !found.is_empty() {
        return (found, watch);
    }
    match reel.calmer().map(|reel| within(&reel)) {
        Some((found, again)) if !found.is_empty() || watch == Watch::Busy => (found, again),
        _ => (found, watch),
    }
}

fn within(reel: &Reel<'_>) -> (Vec<Obstruction>, Watch) {
    if reel.usual > BUSY || reel.telling() < TELLING {
        return (Vec::new(), Watch::Busy);
    }
    let onset = ONSET.max(2.0 * reel.usual);
    let onsets: Vec<usize> = (1..reel.seen.len()).filter(|k| reel.change(*k) >= onset).collect();
    let long = long::between_edges(reel, &onsets);
    let to_an_end = long::to_an_end(reel, &onsets).filter(|end| long.iter().all(|o| o.is_apart(end)));
    // What stands there may move: its own frames say nothing of the scene.
    let of_scene = |k: &&usize| !long.iter().chain(&to_an_end).any(|o| o.holds(reel.seen[**k]));
    let many = onsets.iter().filter(of_scene).count();
    if many > 24 && many as f64 > BUSY_FRAMES * reel.seen.len() as f64 {
        let watch = if long.is_empty() && to_an_end.is_none() { Watch::Busy } else { Watch::Kept };
        return (in_order(reel, long.into_iter().chain(to_an_end).collect()), watch);
    }
    let outside: Vec<usize> =
        onsets.into_iter().filter(|k| !long.iter().any(|o| o.holds(reel.seen[*k]))).collect();
    let mut found = with_short(reel, long, &outside);
    if let Some(end) = to_an_end
        && found.iter().all(|o| o.is_apart(&end) || !o.both_sides || end.is_around(o))
    {
        found.retain(|o| o.is_apart(&end));
        found.push(end);
    }
    (in_order(reel, found), Watch::Kept)
}

fn in_order(reel: &Reel<'_>, mut found: Vec<Obstruction>) -> Vec<Obstruction> {
    found.sort_by_key(|o| (o.first, o.last));
    found.dedup_by_key(|o| o.first);
    found
        .iter()
        .map(|o| {
            let (covered, with_sheet) = extent(reel, o).unwrap_or((o.share, o.share));
            Obstruction { share_sure: covered.max(o.share), share: with_sheet.max(o.share), ..*o }
        })
        .collect()
}

/// The share of the picture that a spell covers where it covers most, and the same with what of a sheet
/// cannot be told from the scene behind it.
fn extent(reel: &Reel<'_>, spell: &Obstruction) -> Option<(f32, f32)> {
    let place = |at: usize| reel.seen.binary_search(&at).ok();
    let (from, most, to) = (place(spell.first)?, place(spell.most_at)?, place(spell.last)?);
    let unlike = |beside: usize| reel.unlike(beside, most, reel.step.times(most as f32 - beside as f32));
    let before = from.checked_sub(1).and_then(unlike);
    let after = Some(to + 1).filter(|k| *k < reel.seen.len()).and_then(unlike);
    let covered = match (before, after) {
        (Some(before), Some(after)) => std::array::from_fn(|i| before[i] && after[i]),
        (before, after) => before.or(after)?,
    };
    Some((reel.share(&covered), reel.share(&reel.plane(most)?.with_rest_of_sheet(&covered))))
}

/// The long spells that were found, and the short ones beside them.
fn with_short(reel: &Reel<'_>, mut found: Vec<Obstruction>, onsets: &[usize]) -> Vec<Obstruction> {
    let mut free = 0;
    for &k in onsets {
        if k < free {
            continue;
        }
        let ends = onsets.iter().copied().filter(|q| (k + 1..=k + LONGEST).contains(q));
        let spell = ends.into_iter().find_map(|q| Some((between(reel, k, q)?, q)));
        if let Some((spell, q)) = spell.filter(|(spell, _)| found.iter().all(|o| o.is_apart(spell))) {
            found.push(spell);
            free = q + 1;
        }
    }
    let last = reel.seen.len();
    // What stands there may move: the change that ends the spell is the last of those near the end of the
    // run.
    let near_begin = onsets.iter().rev().filter(|k| **k <= LONGEST);
    let begins = near_begin.copied().find_map(|k| free_of(&found, one_side(reel, 0, k)?));
    let near_end = onsets.iter().filter(|k| last - **k <= LONGEST);
    let ends = near_end.copied().find_map(|k| free_of(&found, one_side(reel, k, last)?));
    for spell in begins.iter().chain(&ends) {
        found.retain(|o| o.last < spell.first || spell.last < o.first);
    }
    found.extend(begins.into_iter().chain(ends));
    found
}

/// What stands before pictures `a` to `q` - 1, where those before and after are alike.
fn between(reel: &Reel<'_>, a: usize, q: usize) -> Option<Obstruction> {
    let p = a.checked_sub(1)?;
    let (before, after) = (reel.plane(p)?, reel.plane(q)?);
    let steps = (q - p) as f32;
    let near = reel.step.times(steps);
    let way = after.shift_from(&before, near, REACH);
    let apart = after.unlike(&before.shifted(way));
    if reel.share(&apart) > 1.0 - SIDES_ALIKE {
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
        let covered = reel.share(&covered);
        if covered > most {
            (most, most_at) = (covered, m);
        }
        least = least.min(covered);
    }
    let at_once = reel.change(a).min(reel.change(q)) >= AT_ONCE * most;
    let told = most >= reel.least_told() && least >= WITHIN && at_once;
    if !told || !reel.steady(p, true, most) || !reel.steady(q, false, most) {
        return None;
    }
    Some(Obstruction {
        first: *reel.seen.get(a)?,
        last: *reel.seen.get(q - 1)?,
        frames: q - a,
        most_at: *reel.seen.get(most_at)?,
        share_sure: most,
        share: most,
        both_sides: true,
    })
}

/// A spell at an end of the run, where none that two sides tell reaches out of it or stands right beside it.
fn free_of(found: &[Obstruction], spell: Obstruction) -> Option<Obstruction> {
    let within = |o: &Obstruction| o.frames <= LONGEST && spell.first <= o.first && o.last <= spell.last;
    found.iter().all(|o| within(o) || o.is_apart(&spell)).then_some(spell)
}

/// Pictures `from` to `end` - 1, with which the run begins or ends, unlike those beside them.
fn one_side(reel: &Reel<'_>, from: usize, end: usize) -> Option<Obstruction> {
    let (beside, back) = if from == 0 { (end, false) } else { (from - 1, true) };
    let (mut most, mut most_at, mut least) = (0.0_f32, from, 1.0_f32);
    for m in from..end {
        let by = reel.step.times(m as f32 - beside as f32);
        let covered = reel.share(&reel.unlike(beside, m, by)?);
        if covered > most {
            (most, most_at) = (covered, m);
        }
        least = least.min(covered);
    }
    let at_once = reel.change(if back { from } else { end }) >= AT_ONCE * most;
    let told = most >= reel.least_told() && least >= WITHIN && at_once;
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
        share_sure: most,
        share: most,
        both_sides: false,
    })
}
