//! Spells of any length, told by their edges: places at which the picture becomes another at once, in a run
//! that is quiet there. In the course of a long spell light and scene change too, so that its sides may
//! hardly be alike; but what was hidden shows its very structure again.

use super::compare::{Marks, Plane, Shift, count};
use super::reel::{REACH, Reel};
use super::spell::{LONGEST, Obstruction};
use crate::stats::median;

/// At most so many of the largest changes are edges.
const EDGES: usize = 128;
/// So many edges behind one are tried as its other side.
const TRIED: usize = 16;
/// Frames beside an edge in which the run is quiet: their changes are less than this share of the edge's, by
/// the middle one.
const BESIDE: usize = 6;
const QUIET: f64 = 0.35;
/// So many hidden cells that show their very structure again prove that it is the same place.
const BACK: usize = 5;
/// Else so much of what was hidden must be alike again.
const ALIKE: f32 = 0.5;
/// No frame of a spell covers less than this share of the most.
const EVEN: f32 = 0.4;
/// What covers comes at once: an edge is this share of what is covered; at an end of the run, where it is the
/// only one, that share.
const AT_ONCE: f32 = 0.3;
const AT_ONCE_ALONE: f32 = 0.5;
/// Fewest frames that a spell at an end is compared with.
const REST: usize = 4;
/// So many cells that show their very structure prove that the camera was not turned.
const KEPT: usize = 8;
/// Neighbouring cells of a scene differ by this much, EV, as a mean.
const SCENE_EV: f32 = 0.1;
/// Where no more than this, EV, lies between most neighbouring cells, there is no scene: even a sky is
/// steeper.
const SMOOTH_EV: f32 = 0.03;
/// What stands close before the lens shows less than this share of the structure that it hides, or that much
/// more.
const FLATTENED: f32 = 0.5;
/// A camera that travels shows another place after so many cells.
const AWAY: f32 = 5.0;

/// Spells of more than [`LONGEST`] frames, in order.
pub(crate) fn between_edges(reel: &Reel<'_>, onsets: &[usize]) -> Vec<Obstruction> {
    let edges = edges(reel, onsets);
    let (opens, closes): (Vec<usize>, Vec<usize>) = (
        edges
            .iter()
            .copied()
            .filter(|k| quiet(reel, k.saturating_sub(BESIDE)..*k, reel.change(*k)))
            .collect(),
        edges.iter().copied().filter(|k| quiet(reel, k + 1..k + 1 + BESIDE, reel.change(*k))).collect(),
    );
    let mut found = Vec::new();
    let mut free = 0;
    for k in opens {
        let ends = closes.iter().copied().filter(|q| k >= free && *q > k + LONGEST).take(TRIED);
        if let Some((spell, q)) = ends.into_iter().find_map(|q| Some((spell(reel, k, q)?, q))) {
            found.push(spell);
            free = q;
        }
    }
    found
}

/// The largest of the changes, in order.
fn edges(reel: &Reel<'_>, onsets: &[usize]) -> Vec<usize> {
    let least = reel.least_told();
    let mut edges: Vec<usize> = onsets.iter().copied().filter(|k| reel.change(*k) >= least).collect();
    edges.sort_by(|a, b| reel.change(*b).total_cmp(&reel.change(*a)).then(a.cmp(b)));
    edges.truncate(EDGES);
    edges.sort_unstable();
    edges
}

/// True where the changes at those pictures are small beside `edge`, or there are none.
fn quiet(reel: &Reel<'_>, at: std::ops::Range<usize>, edge: f32) -> bool {
    let inside = at.filter(|k| (1..reel.seen.len()).contains(k));
    median(inside.map(|k| f64::from(reel.change(k)))).is_none_or(|m| m <= QUIET * f64::from(edge))
}

/// Whether a camera that travels still shows much of picture `a` in picture `b`.
fn near(reel: &Reel<'_>, a: usize, b: usize) -> bool {
    let by = reel.step.times(b as f32 - a as f32);
    by.across.abs().max(by.down.abs()) <= AWAY
}

/// What stands before pictures `k` to `q` - 1, where the picture before and that after show the same place.
fn spell(reel: &Reel<'_>, k: usize, q: usize) -> Option<Obstruction> {
    let p = k.checked_sub(1)?;
    let hidden = reel.unlike(p, k, reel.step)?;
    let (before, after) = (reel.plane(p)?, reel.plane(q)?);
    // The usual step may be that of clouds: over many frames it leads astray where the camera stands.
    let travels = reel.step.times((q - p) as f32);
    let (before, kept) = [Shift::default(), travels]
        .map(|near| {
            let before = before.shifted(after.shift_from(&before, near, REACH));
            let kept = after.kept(&before);
            (before, kept)
        })
        .into_iter()
        .max_by_key(|(_, kept)| count(kept))?;
    let apart = after.unlike(&before);
    let both = |of: &dyn Fn(usize) -> bool| (0..hidden.len()).filter(|i| hidden[*i] && of(*i)).count();
    let alike = both(&|i| !apart[i]) as f32 / count(&hidden).max(1) as f32;
    if both(&|i| kept[i]) < BACK && alike < ALIKE {
        return None;
    }
    let mut most = (0.0_f32, k);
    let mut least = 1.0_f32;
    for m in samples(k, q) {
        let covered = reel.apart(p, m)?.min(reel.apart(q, m)?);
        least = least.min(covered);
        if covered > most.0 {
            most = (covered, m);
        }
    }
    let at_once = reel.change(k).min(reel.change(q)) >= AT_ONCE * most.0;
    if most.0 < reel.least_told() || least < EVEN * most.0 || !at_once {
        return None;
    }
    made(reel, k, q, most, true)
}

fn made(
    reel: &Reel<'_>,
    from: usize,
    end: usize,
    (share, most_at): (f32, usize),
    both_sides: bool,
) -> Option<Obstruction> {
    Some(Obstruction {
        first: *reel.seen.get(from)?,
        last: *reel.seen.get(end - 1)?,
        frames: end - from,
        most_at: *reel.seen.get(most_at)?,
        share_sure: share,
        share,
        both_sides,
    })
}

/// A spell of more than [`LONGEST`] frames with which the run begins or ends: the one that covers most.
pub(crate) fn to_an_end(reel: &Reel<'_>, onsets: &[usize]) -> Option<Obstruction> {
    let spells = edges(reel, onsets).into_iter().filter_map(|k| from_edge(reel, k));
    spells.max_by(|a, b| a.share.total_cmp(&b.share).then(b.first.cmp(&a.first)))
}

/// The shorter side of the edge at picture `k`. Where both sides hold the structure of a scene and nothing of
/// it is the same, the camera was turned to another one.
fn from_edge(reel: &Reel<'_>, k: usize) -> Option<Obstruction> {
    let (before, after) = (reel.plane_at(k - 1, k)?, reel.plane(k)?);
    let hidden = reel.unlike(k - 1, k, reel.step)?;
    let both = |of: fn(&Plane, &Marks) -> f32| (of(&before, &hidden), of(&after, &hidden));
    let ((a, b), (usual_a, usual_b)) = (both(Plane::structure), both(Plane::usual_structure));
    // What is smooth but for an edge that runs through it is no scene.
    let two_scenes = a.min(b) >= SCENE_EV.max(FLATTENED * a.max(b)) && usual_a.min(usual_b) >= SMOOTH_EV;
    if two_scenes && count(&after.kept(&before)) < KEPT {
        return None;
    }
    let last = reel.seen.len();
    let ends = last - k <= k;
    let (from, end, beside) = if ends { (k, last, k - 1) } else { (0, k, k) };
    let rest = if ends { 1..k } else { k + 1..last };
    if end - from <= LONGEST || rest.len() < REST {
        return None;
    }
    let mut shares: Vec<(f32, usize)> = Vec::new();
    for m in samples(from, end) {
        shares.push((reel.apart(beside, m).filter(|_| near(reel, beside, m))?, m));
    }
    let middle = median(shares.iter().map(|s| f64::from(s.0)))? as f32;
    let least = shares.iter().map(|s| s.0).fold(1.0, f32::min);
    let most_at = shares.iter().copied().max_by(|a, b| a.0.total_cmp(&b.0))?.1;
    let mut others: Vec<f32> = rest.map(|m| reel.change(m)).collect();
    others.sort_by(f32::total_cmp);
    // The rest of the run is one scene, or the spell is one more of its changes.
    let restless = others.get(others.len() * 19 / 20).copied().unwrap_or(0.0);
    let told = middle >= reel.least_told()
        && least >= EVEN * middle
        && restless < 0.5 * middle
        && reel.change(k) >= AT_ONCE_ALONE * middle;
    if !told || !reel.steady(beside, ends, middle) {
        return None;
    }
    made(reel, from, end, (middle, most_at), false)
}

/// Frames of a spell that stand for all of it: those near its ends, and some in between.
fn samples(from: usize, end: usize) -> impl Iterator<Item = usize> {
    let near = BESIDE.min(end - from);
    let every = ((end - from) / 48).max(1);
    let inner = (from + near..end.saturating_sub(near)).step_by(every);
    (from..from + near).chain(inner).chain(end.saturating_sub(near).max(from + near)..end)
}
