//! The finished comparison, and the one answer that it gives.

use super::candidates::Candidates;
use super::found::{Found, Pair, found_in};
use super::past_cache::ReadFrom;
use super::seen::FileState;
use super::tree::{Tree, TreeFile};
use std::collections::BTreeSet;

/// The answer, the worst that applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Answer {
    /// Every file of the card is in each copy, and all were read back from their disks.
    EveryFile,
    /// Every file is equal, but some may have come out of the system's memory.
    NotProven,
    /// The reading was stopped; nothing is missing so far.
    Stopped,
    /// Something could not be read; nothing is missing so far.
    Unread,
    /// The card holds no file.
    NoFile,
    /// A file is not in a copy, or a copy is not finished.
    NotInEach,
}

/// One copy.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct InCopy {
    /// Each file of the card in it, in the card's order.
    pub found: Vec<Found>,
    /// Files that no file of the card stands for.
    pub extra: Vec<usize>,
    /// Files that go by the name of a copy in the making.
    pub unfinished: Vec<usize>,
    /// Files of the card that are there, but where one of the two came out of memory.
    pub from_memory: Vec<usize>,
    /// Files of the card that are there, but where the system does not tell whence one of the two came.
    pub from_unknown: Vec<usize>,
}

impl InCopy {
    /// How many files of the card it holds.
    pub fn there(&self) -> usize {
        self.found.iter().filter(|f| f.is_there()).count()
    }

    /// How many it is known not to hold.
    pub fn lost(&self) -> usize {
        self.found.iter().filter(|f| f.is_lost()).count()
    }
}

/// What became of every file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Comparison {
    /// The card, and its copies.
    pub trees: Vec<Tree>,
    /// One a copy, in order.
    pub copies: Vec<InCopy>,
    /// True where the reading was stopped.
    pub stopped: bool,
    /// Files that an earlier, interrupted run had read back already, on either side.
    pub earlier: u64,
    /// Trees that lie on one disk, by their places in `trees`; each tree in one group at most.
    pub one_disk: Vec<Vec<usize>>,
    /// Pairs of copies that share files by hard links, and how many: these are one copy.
    pub shared: Vec<(usize, usize, u64)>,
}

impl Comparison {
    pub(crate) fn of(trees: Vec<Tree>, candidates: &Candidates, states: &[Vec<FileState>]) -> Self {
        let all = || states.iter().flatten();
        let earlier = all().filter_map(FileState::seen).filter(|s| s.earlier).count() as u64;
        let mut told = Self {
            stopped: all().any(|s| *s == FileState::NotReached),
            earlier,
            one_disk: one_disk(&trees),
            shared: shared(&trees),
            ..Self::default()
        };
        let of_copies = trees.iter().zip(states).skip(1).zip(&candidates.opposite).zip(&candidates.linked);
        if let (Some(card), Some(of_card)) = (trees.first(), states.first()) {
            for (((copy, of_copy), opposite), linked) in of_copies {
                let pair = Pair { card, copy, of_card, of_copy, opposite, linked };
                told.copies.push(in_copy(&pair));
            }
        }
        told.trees = trees;
        told
    }

    /// The files of the card.
    pub fn card(&self) -> &[TreeFile] {
        self.trees.first().map_or(&[], |t| &t.files)
    }

    /// The copies with their trees, in order.
    pub fn each(&self) -> impl Iterator<Item = (&Tree, &InCopy)> {
        self.trees.iter().skip(1).zip(&self.copies)
    }

    /// How many places and files could not be listed or read.
    pub fn unread(&self) -> usize {
        let unread = |c: &InCopy| c.found.iter().filter(|f| matches!(f, Found::Unread { .. })).count();
        let links = self.trees.first().map_or(0, |t| t.not_files.len());
        self.trees.iter().map(|t| t.unlisted.len()).sum::<usize>()
            + links
            + self.copies.iter().map(unread).sum::<usize>()
    }

    /// The answer. `replugged` says that the disks were taken out and put in again since the copying, so that
    /// memory holds nothing of them: where the system does not tell whence the bytes came, that counts.
    pub fn answer(&self, replugged: bool) -> Answer {
        let any = |is: &dyn Fn(&InCopy) -> bool| self.copies.iter().any(is);
        match () {
            () if any(&|c| c.lost() > 0 || !c.unfinished.is_empty()) => Answer::NotInEach,
            () if self.unread() > 0 => Answer::Unread,
            () if self.stopped => Answer::Stopped,
            () if self.card().is_empty() => Answer::NoFile,
            () if any(&|c| !c.from_memory.is_empty() || (!replugged && !c.from_unknown.is_empty())) => {
                Answer::NotProven
            }
            () => Answer::EveryFile,
        }
    }
}

fn in_copy(pair: &Pair<'_>) -> InCopy {
    let (found, taken) = found_in(pair);
    let mut told = InCopy::default();
    // What was not read may be any file of the card that was not found, and the other way round.
    let open = found.iter().any(|f| matches!(f, Found::NotReached | Found::Unread { .. }));
    let is_extra = |o: usize| match pair.of_copy.get(o) {
        Some(FileState::NotNeeded) => true,
        Some(FileState::Seen(_)) => !open,
        _ => false,
    };
    for (o, file) in pair.copy.files.iter().enumerate() {
        if is_unfinished(&file.key) && !found.contains(&Found::Same(o)) {
            told.unfinished.push(o);
        } else if !taken.contains(&o) && !pair.linked.contains(&o) && is_extra(o) {
            told.extra.push(o);
        }
    }
    for (i, found) in found.iter().enumerate() {
        let (Found::Same(o) | Found::Renamed(o)) = found else { continue };
        let from = |states: &[FileState], at: usize| states.get(at).and_then(FileState::seen).map(|s| s.from);
        match (from(pair.of_card, i), from(pair.of_copy, *o)) {
            (Some(ReadFrom::Disk), Some(ReadFrom::Disk)) => {}
            (Some(ReadFrom::Memory), _) | (_, Some(ReadFrom::Memory)) => told.from_memory.push(i),
            _ => told.from_unknown.push(i),
        }
    }
    told.found = found;
    told
}

/// Endings of files that a copying or loading program has not finished. Common practice, no source.
const UNFINISHED: [&[u8]; 8] =
    [b"partial", b"part", b"tmp", b"temp", b"filepart", b"crdownload", b"download", b"incomplete"];

/// True for the name of a file that is still being made: a name of its ending, or a hidden name with six
/// letters of chance behind that of the file.
fn is_unfinished(key: &[u8]) -> bool {
    let name = key.rsplit(|b| *b == b'/').next().unwrap_or_default();
    let mut parts = name.rsplit(|b| *b == b'.');
    let ending = parts.next().unwrap_or_default();
    let named = ending.len() < name.len() && UNFINISHED.iter().any(|e| ending.eq_ignore_ascii_case(e));
    let by_chance = name.first() == Some(&b'.')
        && ending.len() == 6
        && ending.iter().all(u8::is_ascii_alphanumeric)
        && parts.filter(|p| !p.is_empty()).count() >= 2;
    named || by_chance
}

fn one_disk(trees: &[Tree]) -> Vec<Vec<usize>> {
    let disks: Vec<_> = trees.iter().map(Tree::disk).collect();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (i, disk) in disks.iter().enumerate().filter(|(_, disk)| disk.is_some()) {
        let known = groups.iter_mut().find(|g| g.first().and_then(|f| disks.get(*f)) == Some(disk));
        match known {
            Some(group) => group.push(i),
            None => groups.push(vec![i]),
        }
    }
    groups.retain(|g| g.len() > 1);
    groups
}

fn shared(trees: &[Tree]) -> Vec<(usize, usize, u64)> {
    let ids: Vec<BTreeSet<_>> = trees.iter().map(|t| t.files.iter().filter_map(|f| f.id).collect()).collect();
    let mut told = Vec::new();
    for (j, b) in ids.iter().enumerate().skip(1) {
        for (i, a) in ids.iter().enumerate().take(j).skip(1) {
            let many = a.intersection(b).count() as u64;
            if many > 0 {
                told.push((i, j, many));
            }
        }
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_in_the_making() {
        for name in ["a/WEIR0001.JPG.partial", "WEIR0001.PART", ".WEIR0001.JPG.x9Kq2Z", "x.tmp"] {
            assert!(is_unfinished(name.as_bytes()), "{name}");
        }
        for name in
            ["WEIR0001.JPG", "partial", "tmp/WEIR0001.JPG", ".hidden", ".thumbs.sqlite", "WEIR.abcdef"]
        {
            assert!(!is_unfinished(name.as_bytes()), "{name}");
        }
    }
}
