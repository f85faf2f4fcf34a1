//! What cannot be one sequence is kept apart before the stamps are asked: other plans, other cameras, other
//! folders.

use crate::frames::Frames;
use crate::units::Micros;
use std::collections::BTreeMap;

/// Frames that may be one sequence or several.
pub(crate) struct Group {
    /// The plan that was found with them.
    pub plan: Option<usize>,
    /// Positions in the card's order.
    pub frames: Vec<u32>,
}

/// Parts the frames. `plans` names for each folder of the card the plan that was found for it.
///
/// What lies under one plan stays together. Else a camera's numbered folders (DCF) go on from one to the next
/// and from card to card, as long as they do not overlap in time; every other folder stands for itself.
/// Folders whose files were paired are one.
pub(crate) fn groups(frames: &Frames, plans: &[Option<usize>]) -> Vec<Group> {
    let places = places(frames);
    let cameras = cameras(frames);
    let mut keyed: BTreeMap<Key, Vec<u32>> = BTreeMap::new();
    for (at, shot) in frames.card.shots.iter().enumerate() {
        let folder = shot.file.folder as usize;
        let key = match plans.get(folder).copied().flatten() {
            Some(plan) => Key::Plan(plan),
            None => match places.get(folder) {
                Some(Place::Numbered(card)) => Key::Numbered(cameras[at], *card),
                Some(Place::Own(folder)) => Key::Own(cameras[at], *folder),
                None => Key::Own(cameras[at], folder),
            },
        };
        keyed.entry(key).or_default().push(at as u32);
    }
    let mut groups = Vec::new();
    // Cards of one camera, to be chained.
    let mut cards: BTreeMap<Option<u16>, Vec<Vec<u32>>> = BTreeMap::new();
    for (key, own) in keyed {
        match key {
            Key::Plan(plan) => groups.push(Group { plan: Some(plan), frames: own }),
            Key::Own(..) => groups.push(Group { plan: None, frames: own }),
            Key::Numbered(camera, _) => cards.entry(camera).or_default().push(own),
        }
    }
    for cards in cards.into_values() {
        groups.extend(chained(frames, cards).into_iter().map(|frames| Group { plan: None, frames }));
    }
    groups
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Plan(usize),
    /// Camera, and the folder above the numbered ones.
    Numbered(Option<u16>, usize),
    /// Camera and folder.
    Own(Option<u16>, usize),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    Numbered(usize),
    Own(usize),
}

/// The place of each folder: for a numbered one the first folder that lies beside it under the same folder.
fn places(frames: &Frames) -> Vec<Place> {
    let folders = &frames.card.folders;
    let mut joined: Vec<usize> = (0..folders.len()).collect();
    for shot in &frames.card.shots {
        for companion in &shot.companions {
            let (a, b) = (top(&joined, shot.file.folder as usize), top(&joined, companion.folder as usize));
            if let Some(link) = joined.get_mut(a.max(b)) {
                *link = a.min(b);
            }
        }
    }
    let mut beside = BTreeMap::new();
    (0..folders.len())
        .map(|at| {
            let first = top(&joined, at);
            match folders[at].number {
                Some(_) => {
                    let above = folders[at].path.parent().map(|p| (folders[at].root, p));
                    Place::Numbered(*beside.entry(above).or_insert(first))
                }
                None => Place::Own(first),
            }
        })
        .collect()
}

fn top(joined: &[usize], mut at: usize) -> usize {
    while joined.get(at).is_some_and(|up| *up != at) {
        at = joined[at];
    }
    at
}

/// The camera of each frame; one that names none has that of the frame before it in its folder, or of the
/// first one there that names any.
fn cameras(frames: &Frames) -> Vec<Option<u16>> {
    let mut own: Vec<Option<u16>> = frames.rows.iter().map(|r| r.camera.known()).collect();
    let folder = |at: usize| frames.card.shots[at].file.folder;
    for at in 1..own.len() {
        if own[at].is_none() && folder(at) == folder(at - 1) {
            own[at] = own[at - 1];
        }
    }
    for at in (1..own.len()).rev() {
        if own[at - 1].is_none() && folder(at) == folder(at - 1) {
            own[at - 1] = own[at];
        }
    }
    own
}

/// Cards of one camera one after the other in time, as many rows as overlap.
fn chained(frames: &Frames, cards: Vec<Vec<u32>>) -> Vec<Vec<u32>> {
    let mut cards: Vec<_> = cards.into_iter().map(|c| (frames.stamped_span(&c), c)).collect();
    cards.sort_by_key(|(ends, card)| (ends.is_none(), *ends, card.first().copied()));
    let mut rows: Vec<(Option<Micros>, Vec<u32>)> = Vec::new();
    for (ends, mut card) in cards {
        let Some((from, to)) = ends else {
            rows.push((None, card));
            continue;
        };
        match rows.iter_mut().find(|(last, _)| last.is_some_and(|last| last < from)) {
            Some(row) => {
                row.0 = Some(to);
                row.1.append(&mut card);
            }
            None => rows.push((Some(to), card)),
        }
    }
    for row in &mut rows {
        row.1.sort_unstable();
    }
    rows.into_iter().map(|(_, card)| card).collect()
}
