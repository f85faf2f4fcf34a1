//! Whether two sets of files count numbers of their own at the same time: then two bodies shot them.

use crate::frames::{Frames, advance};
use crate::units::Micros;
use std::collections::BTreeSet;

/// Frames that each needs, in all and in the time they share.
const FEW: usize = 6;
const TOGETHER: usize = 3;
/// The number must fail to rise from one file to the other at least so often, and at this share of the steps.
/// One camera's numbers always rise; two cameras that fire together break that at every second step.
const BREAKS: usize = 3;
const SHARE: f64 = 0.05;
/// Stamps with a fraction of a second that both sets have alike, as a share of the smaller one.
const WRITTEN: f64 = 0.8;

/// Positions of frames, and their first and last stamp.
type Set<'a> = (&'a [u32], Option<(Micros, Micros)>);

/// Numbers that one set begins with behind the last of the other, at most: one body went on in another
/// folder, and where the stamps overlap its clock was set back.
const CARRIED_ON: i64 = 3;

/// True where the second set begins with the numbers just behind the first one's last.
pub(crate) fn carried_on(frames: &Frames, a: &[u32], b: &[u32]) -> bool {
    let number = |at: Option<&u32>| at.and_then(|at| frames.card.shots[*at as usize].number);
    number(a.last()).zip(number(b.first())).is_some_and(|(a, b)| (1..=CARRIED_ON).contains(&advance(a, b)))
}

/// True where both sets run at the same time, each with file numbers of its own. Copies and files that a
/// program wrote do not count.
pub(crate) fn parallel(frames: &Frames, a: Set<'_>, b: Set<'_>) -> bool {
    let (Some((a0, a1)), Some((b0, b1))) = (a.1, b.1) else { return false };
    let (from, to) = (a0.max(b0), a1.min(b1));
    if from > to || a.0.len().min(b.0.len()) < FEW {
        return false;
    }
    let prints =
        |own: &[u32]| own.iter().map(|at| frames.rows[*at as usize].print).collect::<BTreeSet<u64>>();
    let (in_a, in_b) = (prints(a.0), prints(b.0));
    let mut all = Vec::new();
    let mut counts = [0_usize; 2];
    for (side, own, others) in [(0, a.0, &in_b), (1, b.0, &in_a)] {
        for at in own.iter().map(|at| *at as usize) {
            let (row, shot) = (&frames.rows[at], &frames.card.shots[at]);
            let copied = row.print != 0 && others.contains(&row.print);
            let (Some(stamp), Some(number)) = (row.stamp.known(), shot.number) else { continue };
            let time = stamp.at.micros();
            if row.edited || copied || !(from..=to).contains(&time) {
                continue;
            }
            counts[side] += 1;
            all.push((time, number.value, side, number, shot.file.kind));
        }
    }
    if counts[0].min(counts[1]) < TOGETHER {
        return false;
    }
    all.sort_by_key(|f| (f.0, f.1, f.2));
    // Two shutters never open at the same hundredth time after time: a program wrote the stamps of one into
    // the other's files.
    let same = all
        .windows(2)
        .filter(|w| w[0].2 != w[1].2 && w[0].0 == w[1].0 && w[0].0.rem_euclid(Micros::SECOND) != Micros::ZERO)
        .count();
    if same as f64 >= WRITTEN * counts[0].min(counts[1]) as f64 {
        return false;
    }
    let breaks = all
        .windows(2)
        .filter(|w| w[0].2 != w[1].2 && advance(w[0].3, w[1].3) <= 0)
        // One shot as raw and as JPEG, under names that were not paired.
        .filter(|w| !(w[0].0 == w[1].0 && w[0].1 == w[1].1 && w[0].4 != w[1].4))
        .count();
    breaks >= BREAKS && breaks as f64 >= SHARE * (all.len() - 1) as f64
}
