//! Which camera shot which frame: how frames of several cameras are told apart before each is audited, and
//! what of another camera stays inside an audit.

mod numbering;
mod pace;

use super::timing::numbers;
use super::{Camera, Cell, FrameState, Outside};
use crate::frames::Frames;
use crate::units::FrameSpan;
use crate::units::Micros;
use numbering::{carried_on, parallel};
use pace::{Moment, could_be_a_run};
use std::collections::BTreeMap;

/// The longest time from one frame to the next that still carries on the same shoot when another body
/// takes over.
const TAKEN_OVER: Micros = Micros::from_seconds(600);

/// The camera of each frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ByCamera {
    /// Index of the camera for each frame, in the frames' order.
    pub part_of: Vec<u32>,
    /// How many cameras there are; at least 1.
    pub parts: usize,
}

/// Frames that share body, folder and the letters of their names: what no camera boundary runs through.
struct Unit {
    camera: Option<u16>,
    /// The first of the folders that belong together (numbered folders under one folder).
    place: usize,
    frames: Vec<u32>,
    /// First and last stamp.
    span: Option<(Micros, Micros)>,
}

/// Tells the cameras of `frames` apart.
///
/// Make, model and serial number tell bodies apart. Without serial numbers, one model in two places is two
/// bodies where both count file numbers of their own at the same time. A body that another one takes over
/// from, with the numbers carrying on, is the same camera. Frames of another camera that could not be a run
/// (few, or at no pace) go with the camera they lie beside: its audit leaves them out and says so. Cameras
/// stand in order of their first frame.
pub fn by_camera(frames: &Frames) -> ByCamera {
    let units = units(frames);
    let mut body_of = bodies(frames, &units);
    let mut unit_of = vec![0_usize; frames.len()];
    for (n, unit) in units.iter().enumerate() {
        for at in &unit.frames {
            unit_of[*at as usize] = n;
        }
    }
    if body_of.iter().any(|body| *body != body_of[0]) {
        take_overs(frames, &unit_of, &mut body_of);
    }
    let mut members: BTreeMap<usize, Vec<u32>> = BTreeMap::new();
    for at in 0..frames.len() {
        members.entry(body_of[unit_of[at]]).or_default().push(at as u32);
    }
    let largest = |a: &(&usize, &Vec<u32>)| (a.1.len(), std::cmp::Reverse(a.1.first().copied()));
    let Some(main) = members.iter().max_by_key(largest).map(|m| *m.0) else {
        return ByCamera { part_of: Vec::new(), parts: 1 };
    };
    let mut cameras: Vec<usize> = members
        .iter()
        .filter(|(body, own)| **body == main || could_be_a_run(&moments(frames, own), own.len()))
        .map(|(body, _)| *body)
        .collect();
    cameras.sort_by_key(|body| members[body].first().copied());
    let mut part_of = vec![0_u32; frames.len()];
    for (body, own) in &members {
        let own_camera = cameras.iter().position(|c| c == body);
        // Strays of one folder go together.
        let mut of_folder: BTreeMap<u32, usize> = BTreeMap::new();
        for at in own {
            let folder = frames.card.shots[*at as usize].file.folder;
            let part = own_camera.unwrap_or_else(|| {
                *of_folder
                    .entry(folder)
                    .or_insert_with(|| beside(frames, &members, &cameras, folder, own.len(), main))
            });
            part_of[*at as usize] = part as u32;
        }
    }
    ByCamera { part_of, parts: cameras.len() }
}

/// The camera that a stray frame goes with: the one with most frames in its folder, if that has more frames
/// than all the strays (`strays`) of the stray's camera; else the main one.
fn beside(
    frames: &Frames,
    members: &BTreeMap<usize, Vec<u32>>,
    cameras: &[usize],
    folder: u32,
    strays: usize,
    main: usize,
) -> usize {
    let in_folder = |body: &usize| {
        members[body].iter().filter(|at| frames.card.shots[**at as usize].file.folder == folder).count()
    };
    let fallback = cameras.iter().position(|c| *c == main).unwrap_or(0);
    cameras
        .iter()
        .enumerate()
        .map(|(n, body)| (in_folder(body), std::cmp::Reverse(n), body))
        .max()
        .filter(|(here, _, body)| *here > 0 && members[body].len() > strays)
        .map_or(fallback, |(_, n, _)| n.0)
}

/// When some frames were shot, in order of time.
fn moments(frames: &Frames, own: &[u32]) -> Vec<Moment> {
    let known = |at: &u32| {
        let stamp = frames.rows[*at as usize].stamp.known()?;
        let number = frames.card.shots[*at as usize].number;
        Some(Moment { at: stamp.at.micros(), step: stamp.resolution, number })
    };
    let mut all: Vec<Moment> = own.iter().filter_map(known).collect();
    all.sort_by_key(|m| m.at);
    all
}

/// The letters before the number in a camera's file name; empty where the name is not a camera's.
fn letters(frames: &Frames, at: usize) -> String {
    let Some(shot) = frames.card.shots.get(at).filter(|s| s.number.is_some()) else { return String::new() };
    let name = shot.file.name.to_string_lossy();
    let stem = name.rsplit_once('.').map_or(&*name, |(stem, _)| stem);
    stem.trim_end_matches(|c: char| c.is_ascii_digit()).to_ascii_uppercase()
}

fn units(frames: &Frames) -> Vec<Unit> {
    let places = places(frames);
    let mut keyed: BTreeMap<(u32, String, Option<u16>), Vec<u32>> = BTreeMap::new();
    for (at, shot) in frames.card.shots.iter().enumerate() {
        let camera = frames.rows[at].camera.known();
        keyed.entry((shot.file.folder, letters(frames, at), camera)).or_default().push(at as u32);
    }
    let mut all: Vec<Unit> = keyed
        .into_iter()
        .map(|((folder, _, camera), own)| {
            let place = places.get(folder as usize).copied().unwrap_or(folder as usize);
            Unit { camera, place, span: frames.stamped_span(&own), frames: own }
        })
        .collect();
    all.sort_by_key(|u| (std::cmp::Reverse(u.frames.len()), u.frames.first().copied()));
    all
}

/// For each folder the first one of those that a camera numbers together: numbered folders under one folder.
fn places(frames: &Frames) -> Vec<usize> {
    let folders = &frames.card.folders;
    let mut beside = BTreeMap::new();
    let mut first: Vec<usize> = (0..folders.len()).collect();
    for (at, folder) in folders.iter().enumerate() {
        if folder.number.is_some() {
            let above = folder.path.parent().map(|p| (folder.root, p.to_owned()));
            first[at] = *beside.entry(above).or_insert(at);
        }
    }
    first
}

/// The body of each unit, as the index of the unit that it was first seen in. Units come largest first.
fn bodies(frames: &Frames, units: &[Unit]) -> Vec<usize> {
    let mut body_of: Vec<usize> = Vec::with_capacity(units.len());
    let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (n, unit) in units.iter().enumerate() {
        // Every unit of a body has to go with the new one: two bodies that both could have shot it do not
        // become one.
        let fits = |own: &Vec<usize>| own.iter().all(|m| one_body(frames, &units[*m], unit));
        let best = members
            .iter()
            .filter(|(_, own)| fits(own))
            .min_by_key(|(body, own)| (nearness(frames, units, own, unit), **body))
            .map(|(body, _)| *body);
        let body = best.unwrap_or(n);
        body_of.push(body);
        members.entry(body).or_default().push(n);
    }
    body_of
}

/// How near a unit lies to those of a body: 0 in one folder, 1 in one place, else by how far its numbers
/// carry on.
fn nearness(frames: &Frames, units: &[Unit], body: &[usize], unit: &Unit) -> (u8, i64) {
    let folder = |u: &Unit| u.frames.first().map(|at| frames.card.shots[*at as usize].file.folder);
    let number = |at: Option<&u32>| at.and_then(|at| frames.card.shots[*at as usize].number);
    let one = |m: &usize| {
        let other = &units[*m];
        if folder(other) == folder(unit) {
            return (0, 0);
        }
        if other.place == unit.place {
            return (1, 0);
        }
        let (earlier, later) = if other.span <= unit.span { (other, unit) } else { (unit, other) };
        let step = number(earlier.frames.last()).zip(number(later.frames.first()));
        let step = step.map_or(i64::MAX, |(a, b)| crate::frames::advance(a, b));
        (2, if step > 0 { step } else { i64::MAX })
    };
    body.iter().map(one).min().unwrap_or((3, 0))
}

/// True where nothing says that two units are by two bodies.
fn one_body(frames: &Frames, a: &Unit, b: &Unit) -> bool {
    let named = |u: &Unit| u.camera.and_then(|c| frames.cameras.get(usize::from(c)));
    match (named(a), named(b)) {
        (Some(x), Some(y)) if !may_be_one(x, y) => false,
        (Some(x), Some(y)) if !x.serial.is_empty() && x.serial == y.serial => true,
        _ => {
            went_on(frames, a, b)
                || !parallel(frames, (&a.frames, a.span), (&b.frames, b.span)) && !named_apart(frames, a, b)
        }
    }
}

/// True where one body went on in another folder: it numbers the files on, in one place or under the same
/// letters. Two bodies that both come past 9999 seem to do so too, each in a place and under a name of its
/// own.
fn went_on(frames: &Frames, a: &Unit, b: &Unit) -> bool {
    (a.place == b.place || words(frames, a) == words(frames, b))
        && (carried_on(frames, &a.frames, &b.frames) || carried_on(frames, &b.frames, &a.frames))
}

/// The words before the number in a unit's file names, without what is no letter.
fn words(frames: &Frames, unit: &Unit) -> String {
    let letters = unit.frames.first().map(|at| letters(frames, *at as usize)).unwrap_or_default();
    letters.chars().filter(|c| c.is_alphabetic()).collect()
}

/// True where two runs lie in two places, under names that begin with other letters: bodies whose clocks
/// differ by hours share no time that could tell them apart.
fn named_apart(frames: &Frames, a: &Unit, b: &Unit) -> bool {
    let (in_a, in_b) = (words(frames, a), words(frames, b));
    let run = |u: &Unit| could_be_a_run(&moments(frames, &u.frames), u.frames.len());
    // Copies of files share all of their time.
    let apart = |(a0, a1): (Micros, Micros), (b0, b1): (Micros, Micros)| {
        (a1.min(b1) - a0.max(b0)) * 2 < (a1 - a0).min(b1 - b0)
    };
    a.place != b.place
        && a.span.zip(b.span).is_some_and(|(a, b)| apart(a, b))
        && !(in_a.is_empty() || in_b.is_empty() || in_a == in_b)
        && run(a)
        && run(b)
}

/// True where two cameras as files name them may be one body: a file may lack the serial number.
fn may_be_one(a: &Camera, b: &Camera) -> bool {
    let unknown = a.serial.is_empty() || b.serial.is_empty();
    a.maker == b.maker && a.model == b.model && (unknown || a.serial == b.serial)
}

/// Joins bodies where one takes over from another inside a run: the numbers carry on under the same letters.
fn take_overs(frames: &Frames, unit_of: &[usize], body_of: &mut [usize]) {
    let mut last: BTreeMap<(u32, String), usize> = BTreeMap::new();
    for at in 0..frames.len() {
        if frames.card.shots[at].number.is_none() {
            continue;
        }
        let key = (frames.card.shots[at].file.folder, letters(frames, at));
        if let Some(before) = last.insert(key, at) {
            let (a, b) = (body_of[unit_of[before]], body_of[unit_of[at]]);
            if a != b && carries_on(frames, before, at) {
                body_of.iter_mut().filter(|body| **body == a.max(b)).for_each(|body| *body = a.min(b));
            }
        }
    }
}

/// Puts frames of another camera outside. The audit is one camera's: the one with the most frames (the
/// earlier one where two have as many). Frames that name no camera stay, and so do those of another body that
/// carry the numbers of the run on: there the camera changes inside the run.
pub(super) fn others(frames: &Frames, states: &mut [FrameState], outside: &mut Vec<Outside>) {
    let mut counts = vec![0_usize; frames.cameras.len()];
    for (row, state) in frames.rows.iter().zip(states.iter()) {
        if let (Cell::Known(camera), FrameState::Frame) = (row.camera, state)
            && let Some(count) = counts.get_mut(usize::from(camera))
        {
            *count += 1;
        }
    }
    let Some(main) = (0..counts.len()).max_by_key(|&c| (counts[c], std::cmp::Reverse(c))) else { return };
    let mut open: Option<FrameSpan> = None;
    let mut spans = Vec::new();
    for (at, state) in states.iter().enumerate() {
        let camera = frames.rows[at].camera.known().and_then(|c| frames.cameras.get(usize::from(c)));
        let other = camera.is_some_and(|c| !may_be_one(c, &frames.cameras[main]));
        if other && *state != FrameState::Outside {
            open = Some(open.map_or(FrameSpan::one(at), |s| FrameSpan { last: at, ..s }));
        } else {
            spans.extend(open.take());
        }
    }
    spans.extend(open);
    for span in spans {
        let inside = |at: usize| states.get(at).is_some_and(|s| *s != FrameState::Outside);
        let from = span.first.checked_sub(1).filter(|at| inside(*at));
        let to = Some(span.last + 1).filter(|at| inside(*at));
        let joined = from.is_some_and(|from| carries_on(frames, from, span.first))
            || to.is_some_and(|to| carries_on(frames, span.last, to));
        if !joined {
            states[span.first..=span.last].fill(FrameState::Outside);
            outside.push(Outside { span, why: "by another camera".into() });
        }
    }
}

/// True where `to` has the next numbers after `from`, in the same folder and under the same letters, soon
/// after it.
fn carries_on(frames: &Frames, from: usize, to: usize) -> bool {
    let (Some(a), Some(b)) = (frames.card.shots.get(from), frames.card.shots.get(to)) else { return false };
    let moment = |at: usize| frames.rows.get(at).and_then(|r| r.stamp.known()).map(|s| s.at.micros());
    let soon = moment(from).zip(moment(to)).map(|(a, b)| b.saturating_sub(a));
    a.file.folder == b.file.folder
        && letters(frames, from) == letters(frames, to)
        && numbers::between(frames, from, to).is_some_and(|advance| (1..=3).contains(&advance))
        && soon.is_some_and(|after| (Micros::ZERO..=TAKEN_OVER).contains(&after))
}
