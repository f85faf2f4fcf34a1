//! Files of one shot that lie in different folders: raw on one card and JPEG on the other, or sorted apart at
//! a desk.
//!
//! Names alone do not tell: two jobs carry the same numbers. Stamps do: one shot has one capture time. Where
//! a file has none, the others of its folder decide.

use std::collections::HashMap;

use super::Cell;
use super::row::{Damage, Frames, NotSeen};
use crate::card::{CardFile, Part, Shot, natural_names, part_of, stem_key};
use crate::units::Micros;

/// Of two folders whose stamps tell nothing, this share of the stems of each must stand in the other.
const MOST: f64 = 0.8;

/// Puts shots of different folders together that are one: a raw and a finished picture of one stem, one stamp
/// and, where both name it, one camera. The finished picture becomes the raw's companion.
pub(crate) fn pair_across(frames: &mut Frames) {
    let parts: Vec<Option<Part>> = frames.card.shots.iter().map(|s| part_of(&s.file.name)).collect();
    let is_raw = |part: &Option<Part>| matches!(part, Some(Part::Raw | Part::Dng));
    let is_finished = |part: &Option<Part>| matches!(part, Some(Part::Heif | Part::Jpeg));
    if frames.card.folders.len() < 2 || !parts.iter().any(is_raw) || !parts.iter().any(is_finished) {
        return;
    }
    let mut by_stem: HashMap<Vec<u8>, Vec<usize>> = HashMap::new();
    for at in (0..parts.len()).filter(|&at| is_finished(&parts[at])) {
        by_stem.entry(stem_key(&frames.card.shots[at].file.name)).or_default().push(at);
    }
    let candidates = |at: usize| -> &[usize] {
        by_stem.get(&stem_key(&frames.card.shots[at].file.name)).map_or(&[], Vec::as_slice)
    };
    let raws: Vec<usize> = (0..parts.len()).filter(|&at| is_raw(&parts[at])).collect();
    let mut pairs = Pairs::new(frames, parts.len());
    for &raw in &raws {
        for &other in candidates(raw) {
            if pairs.agree(raw, other) == Some(true) {
                pairs.take(raw, other);
            }
        }
    }
    for &raw in &raws {
        for &other in candidates(raw) {
            if pairs.agree(raw, other).is_none() && pairs.by_folder(raw, other) {
                pairs.take(raw, other);
            }
        }
    }
    let taken = pairs.taken;
    join(frames, &taken);
}

/// Which shot has been given to which raw, and what that says of their folders.
struct Pairs<'a> {
    frames: &'a Frames,
    /// The raw that each shot was given to.
    taken: Vec<Option<usize>>,
    /// Raws that have a companion from another folder.
    given: Vec<bool>,
    /// For two folders, how many stems agree in their stamps and how many do not; filled when first asked
    /// for.
    folders: HashMap<(u32, u32), bool>,
}

impl<'a> Pairs<'a> {
    fn new(frames: &'a Frames, shots: usize) -> Self {
        Self { frames, taken: vec![None; shots], given: vec![false; shots], folders: HashMap::new() }
    }

    fn shot(&self, at: usize) -> &'a Shot {
        &self.frames.card.shots[at]
    }

    /// True where both stamps and cameras are the same, false where they differ or the files cannot be one
    /// shot, `None` where a stamp is missing.
    fn agree(&self, raw: usize, other: usize) -> Option<bool> {
        let (a, b) = (self.shot(raw), self.shot(other));
        let plays = |shot: &Shot, part| shot_parts(shot).any(|p| p == part);
        if a.file.folder == b.file.folder
            || self.taken[other].is_some()
            || self.given[raw]
            || shot_parts(b).any(|part| plays(a, part))
        {
            return Some(false);
        }
        let (x, y) = (&self.frames.rows[raw], &self.frames.rows[other]);
        if let (Cell::Known(one), Cell::Known(two)) = (x.camera, y.camera)
            && one != two
        {
            return Some(false);
        }
        let (one, two) = (x.stamp.known()?, y.stamp.known()?);
        // The one may be written to the second and the other finer.
        let step = one.resolution.max(two.resolution).max(Micros::ONE);
        Some(one.at.floored(step) == two.at.floored(step))
    }

    fn take(&mut self, raw: usize, other: usize) {
        self.taken[other] = Some(raw);
        self.given[raw] = true;
    }

    /// True where the folders of the two hold the same shots: by what the stamps of others say, or where none
    /// says anything, by their names.
    fn by_folder(&mut self, raw: usize, other: usize) -> bool {
        let key = (self.shot(raw).file.folder, self.shot(other).file.folder);
        if let Some(known) = self.folders.get(&key) {
            return *known;
        }
        let answer = self.same_shots(key);
        self.folders.insert(key, answer);
        answer
    }

    fn same_shots(&self, (of_raws, of_others): (u32, u32)) -> bool {
        let shots = &self.frames.card.shots;
        let inside = |folder: u32| (0..shots.len()).filter(move |&at| shots[at].file.folder == folder);
        let stems: HashMap<Vec<u8>, usize> =
            inside(of_others).map(|at| (stem_key(&shots[at].file.name), at)).collect();
        let (mut agree, mut differ, mut common, mut raws) = (0_usize, 0_usize, 0_usize, 0_usize);
        for at in inside(of_raws) {
            raws += 1;
            let Some(&other) = stems.get(&stem_key(&shots[at].file.name)) else { continue };
            common += 1;
            let given = self.taken[other] == Some(at);
            match (self.frames.rows[at].stamp.known(), self.frames.rows[other].stamp.known()) {
                _ if given => agree += 1,
                (Some(_), Some(_)) => differ += 1,
                _ => {}
            }
        }
        if agree + differ > 0 {
            return agree > differ;
        }
        common as f64 >= MOST * raws.max(stems.len()) as f64
    }
}

fn shot_parts(shot: &Shot) -> impl Iterator<Item = Part> + '_ {
    shot.files().filter_map(|file| part_of(&file.name))
}

/// What was not decoded, and in which file: `own` where it is in the shot's own.
fn not_seen(
    told: Option<NotSeen>,
    companions: &[CardFile],
    own: Option<&CardFile>,
) -> Option<(Option<CardFile>, Box<str>)> {
    let NotSeen { companion, why } = told?;
    let file = companion.map_or(own, |at| companions.get(at)).cloned();
    Some((file, why))
}

/// Moves every shot that was given to a raw among its companions.
fn join(frames: &mut Frames, taken: &[Option<usize>]) {
    if taken.iter().all(Option::is_none) {
        return;
    }
    for (at, raw) in taken.iter().enumerate() {
        let Some(raw) = *raw else { continue };
        let other = frames.card.shots[at].clone();
        let row = frames.rows[at].clone();
        frames.rows[raw].fill_from(&row);
        let camera = frames.rows[raw].camera.or(row.camera);
        frames.rows[raw].camera = camera;
        // A look keeps its own place in the card's order: its neighbours come from the same folder.
        if frames.look(raw).is_none()
            && let Some(look) = frames.looks.get_mut(at).and_then(Option::take)
            && let Some(place) = frames.looks.get_mut(raw)
        {
            *place = Some(look);
        }
        let own_words = frames.rows[raw].not_seen().cloned();
        let companions = &mut frames.card.shots[raw].companions;
        let not_seen = not_seen(own_words, companions, None)
            .or_else(|| not_seen(row.not_seen().cloned(), &other.companions, Some(&other.file)));
        let (own, others) = (other.file.clone(), other.companions.clone());
        companions.push(other.file);
        companions.extend(other.companions);
        companions.sort_by(|a, b| natural_names(&a.name, &b.name));
        if let Some((file, why)) = not_seen {
            let companion = companions.iter().position(|c| Some(c) == file.as_ref());
            frames.rows[raw].rare_mut().not_seen = Some(NotSeen { companion, why });
        }
        // What is wrong with a file stays told, under its new place among the companions.
        let (damage, of) = match row.companion_damage().cloned() {
            _ if row.damage.is_some() => (row.damage, Some(own)),
            Some(told) => (told.1, others.get(told.0).cloned()),
            None => (Damage::None, None),
        };
        if damage.is_some()
            && let Some(place) = companions.iter().position(|c| Some(c) == of.as_ref())
        {
            frames.rows[raw].rare_mut().companion_damage = Some((place, damage));
        }
    }
    // Moves are between rows that stay, at their new places.
    let mut place = 0_u32;
    let places: Vec<Option<u32>> = taken
        .iter()
        .map(|t| {
            let here = t.is_none().then_some(place);
            place += u32::from(t.is_none());
            here
        })
        .collect();
    let now = |at: u32| places.get(at as usize).copied().flatten();
    frames.moves.retain_mut(|m| match now(m.before).zip(now(m.after)) {
        Some(ends) => {
            (m.before, m.after) = ends;
            true
        }
        None => false,
    });
    let mut kept = taken.iter();
    frames.rows.retain(|_| kept.next().is_none_or(|t| t.is_none()));
    let mut kept = taken.iter();
    frames.looks.retain(|_| kept.next().is_none_or(|t| t.is_none()));
    let mut kept = taken.iter();
    frames.card.shots.retain(|_| kept.next().is_none_or(|t| t.is_none()));
}
