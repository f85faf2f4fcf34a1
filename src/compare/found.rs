//! What became of each file of the card in one copy. Pure: trees and digests in, answers out.

use super::overlap::is_one_file;
use super::seen::{FileState, Sha};
use super::tree::Tree;
use std::collections::{BTreeMap, BTreeSet};

/// How a file of the copy differs from that of the card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Difference {
    /// As long, with other bytes.
    Content,
    /// Equal as far as it goes, and shorter than the card's.
    CutShort,
    /// Of another length; nothing is said of its content.
    Length,
}

/// Which of two pictures decodes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decodes {
    /// The card's alone.
    CardOnly,
    /// The copy's alone.
    CopyOnly,
    /// Both: an edited or another picture, or a fault that leaves it readable.
    Both,
    /// Neither.
    Neither,
}

/// A file of the card in one copy. Numbers are indices into the copy's files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// There under its own path, byte for byte.
    Same(usize),
    /// The same bytes under another name or in another folder.
    Renamed(usize),
    /// Another content where it should be.
    Differs {
        /// The file of the copy.
        file: usize,
        /// In what.
        how: Difference,
        /// Which of the two decodes, where that was looked at and can be told.
        decodes: Option<Decodes>,
    },
    /// Its bytes are there, in a file that stands for another file of the card already.
    OnceOnly(usize),
    /// The copy leads to the card's own file (a hard link): it goes when that goes.
    Linked(usize),
    /// Nowhere.
    Absent,
    /// It, or the file of the copy that it may be, could not be read.
    Unread {
        /// The file of the copy; `None` for the card's own.
        in_copy: Option<usize>,
        /// Why, in words.
        why: String,
    },
    /// The reading was stopped before that could be told.
    NotReached,
}

impl Found {
    /// True where the copy holds the file.
    pub fn is_there(&self) -> bool {
        matches!(self, Self::Same(_) | Self::Renamed(_))
    }

    /// True where it is known that the copy does not hold the file.
    pub fn is_lost(&self) -> bool {
        matches!(self, Self::Differs { .. } | Self::OnceOnly(_) | Self::Linked(_) | Self::Absent)
    }
}

/// A card and one of its copies, with what was read of both.
pub(crate) struct Pair<'a> {
    pub card: &'a Tree,
    pub copy: &'a Tree,
    pub of_card: &'a [FileState],
    pub of_copy: &'a [FileState],
    pub opposite: &'a [Option<usize>],
    pub linked: &'a BTreeSet<usize>,
}

/// Which file of the copy a file of the card may be.
type Pass = dyn Fn(&Search<'_>, usize) -> Option<usize>;

/// Each file of the card in turn, and which files of the copy are taken by one.
pub(crate) fn found_in(pair: &Pair<'_>) -> (Vec<Found>, BTreeSet<usize>) {
    let mut search = Search::new(pair);
    let mut found: Vec<Option<Found>> = vec![None; pair.card.files.len()];
    // A file of the copy stands for one file of the card. Those under their own paths go first, then those
    // under their own names, and only then any other.
    let passes: [&Pass; 3] = [
        &|s, i| s.opposite(i).filter(|o| s.key_of(*o) == s.pair.card.files.get(i).map(|f| f.key.as_slice())),
        &|s, i| s.opposite(i),
        &|s, i| s.equals(i)?.iter().copied().find(|o| !s.is_one_file(i, *o)),
    ];
    for (n, pass) in passes.iter().enumerate() {
        for (i, slot) in found.iter_mut().enumerate().filter(|(_, slot)| slot.is_none()) {
            let equal = |o: &usize| search.equals(i).is_some_and(|all| all.contains(o));
            let other = pass(&search, i).filter(equal);
            if let Some(o) = other.filter(|o| !search.is_one_file(i, *o)) {
                search.take(o);
                *slot = Some(if n == 0 { Found::Same(o) } else { Found::Renamed(o) });
            }
        }
    }
    let found = found.into_iter().enumerate();
    let found = found.map(|(i, found)| found.unwrap_or_else(|| search.missing(i))).collect();
    (found, search.taken)
}

struct Search<'a> {
    pair: &'a Pair<'a>,
    /// The files of the copy that no file of the card stands for yet, by their digest. Those of the card
    /// itself are left out.
    free: BTreeMap<Sha, BTreeSet<usize>>,
    /// The first file of each digest, whatever stands for it.
    first: BTreeMap<Sha, usize>,
    /// Files of the copy that may be anything, by their length: the first that failed, and whether one was
    /// not reached.
    failed: BTreeMap<u64, usize>,
    not_reached: BTreeSet<u64>,
    taken: BTreeSet<usize>,
}

impl<'a> Search<'a> {
    fn new(pair: &'a Pair<'a>) -> Self {
        let mut search = Self {
            pair,
            free: BTreeMap::new(),
            first: BTreeMap::new(),
            failed: BTreeMap::new(),
            not_reached: BTreeSet::new(),
            taken: BTreeSet::new(),
        };
        for (o, (state, file)) in pair.of_copy.iter().zip(&pair.copy.files).enumerate() {
            match state {
                FileState::Seen(seen) if !pair.linked.contains(&o) => {
                    search.free.entry(seen.digest).or_default().insert(o);
                    search.first.entry(seen.digest).or_insert(o);
                }
                FileState::Failed(_) => {
                    search.failed.entry(file.version.bytes).or_insert(o);
                }
                FileState::NotReached => {
                    search.not_reached.insert(file.version.bytes);
                }
                FileState::Seen(_) | FileState::NotNeeded => {}
            }
        }
        search
    }

    fn opposite(&self, i: usize) -> Option<usize> {
        self.pair.opposite.get(i).copied().flatten()
    }

    fn key_of(&self, o: usize) -> Option<&[u8]> {
        self.pair.copy.files.get(o).map(|f| f.key.as_slice())
    }

    fn length_of(&self, o: usize) -> u64 {
        self.pair.copy.files.get(o).map_or(0, |f| f.version.bytes)
    }

    fn digest_of(&self, i: usize) -> Option<Sha> {
        Some(self.pair.of_card.get(i)?.seen()?.digest)
    }

    /// The free files of the copy that hold the same bytes.
    fn equals(&self, i: usize) -> Option<&BTreeSet<usize>> {
        self.free.get(&self.digest_of(i)?)
    }

    fn take(&mut self, o: usize) {
        self.taken.insert(o);
        if let Some(seen) = self.pair.of_copy.get(o).and_then(FileState::seen) {
            self.free.get_mut(&seen.digest).map(|all| all.remove(&o));
        }
    }

    fn is_one_file(&self, i: usize, o: usize) -> bool {
        is_one_file((self.pair.card, i), (self.pair.copy, o))
    }

    /// Why a file of the card has no file of its own in the copy.
    fn missing(&mut self, i: usize) -> Found {
        let length = self.pair.card.files.get(i).map_or(0, |f| f.version.bytes);
        let opposite = self.opposite(i).filter(|o| !self.taken.contains(o));
        let state = |o: usize| self.pair.of_copy.get(o);
        if let Some(o) = self.link_to(i) {
            return Found::Linked(o);
        }
        match self.pair.of_card.get(i) {
            Some(FileState::Failed(why)) => return Found::Unread { in_copy: None, why: why.clone() },
            Some(FileState::NotReached) | None => return Found::NotReached,
            Some(FileState::Seen(_) | FileState::NotNeeded) => {}
        }
        let failed = opposite.filter(|o| matches!(state(*o), Some(FileState::Failed(_))));
        if let Some(o) = failed.or_else(|| self.failed.get(&length).copied()) {
            let why = if let Some(FileState::Failed(why)) = state(o) { why.clone() } else { String::new() };
            return Found::Unread { in_copy: Some(o), why };
        }
        if self.not_reached.contains(&length)
            || opposite.is_some_and(|o| state(o) == Some(&FileState::NotReached))
        {
            return Found::NotReached;
        }
        if let Some(o) = opposite {
            self.take(o);
            return Found::Differs { file: o, how: self.difference(i, o, length), decodes: None };
        }
        match self.digest_of(i).and_then(|digest| self.first.get(&digest)) {
            Some(o) => Found::OnceOnly(*o),
            None => Found::Absent,
        }
    }

    /// A file of the copy that is the card's own.
    fn link_to(&self, i: usize) -> Option<usize> {
        let opposite = self.opposite(i).filter(|o| self.is_one_file(i, *o));
        opposite.or_else(|| self.pair.linked.iter().copied().find(|o| self.is_one_file(i, *o)))
    }

    fn difference(&self, i: usize, o: usize, length: u64) -> Difference {
        let short = self.length_of(o);
        let beginning =
            self.pair.of_card.get(i).and_then(FileState::seen).and_then(|seen| {
                seen.marks.iter().find(|(bytes, _)| *bytes == short).map(|(_, digest)| *digest)
            });
        let whole = self.pair.of_copy.get(o).and_then(FileState::seen).map(|seen| seen.digest);
        match () {
            () if short == length => Difference::Content,
            () if short == 0 || (beginning.is_some() && beginning == whole) => Difference::CutShort,
            () => Difference::Length,
        }
    }
}
