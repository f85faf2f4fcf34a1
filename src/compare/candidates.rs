//! Which files have to be read: those that could be equal to one on the other side. A file whose length no
//! other has is not read, and nothing is said of its content.

use super::tree::Tree;
use std::collections::{BTreeMap, BTreeSet};

/// A file that is to be read whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Task {
    /// Index of its tree; 0 is the card.
    pub tree: usize,
    /// Index of the file in its tree.
    pub file: usize,
    /// Lengths at which its digest is noted on the way, in order: those of copies that may have been cut.
    pub marks: Vec<u64>,
}

/// What there is to read, and what stands opposite to what.
#[derive(Debug)]
pub(crate) struct Candidates {
    /// In order of tree and file.
    pub tasks: Vec<Task>,
    /// For each copy and each file of the card, the file of the copy that goes by its name.
    pub opposite: Vec<Vec<Option<usize>>>,
    /// For each copy, which of its files are files of the card itself.
    pub linked: Vec<BTreeSet<usize>>,
}

/// Looks at names and lengths alone; `trees` is the card and its copies.
pub(crate) fn candidates(trees: &[Tree]) -> Candidates {
    let Some((card, copies)) = trees.split_first() else {
        return Candidates { tasks: Vec::new(), opposite: Vec::new(), linked: Vec::new() };
    };
    let own: BTreeSet<_> = card.files.iter().filter_map(|f| f.id).collect();
    let lengths: BTreeSet<u64> = card.files.iter().map(|f| f.version.bytes).collect();
    let mut found = Candidates { tasks: Vec::new(), opposite: Vec::new(), linked: Vec::new() };
    let mut wanted: Vec<Option<BTreeSet<u64>>> = vec![None; card.files.len()];
    let mut of_copies = Vec::new();
    for (n, copy) in copies.iter().enumerate() {
        let is_linked = |f: &super::TreeFile| f.id.is_some_and(|id| own.contains(&id));
        let linked: BTreeSet<usize> =
            copy.files.iter().enumerate().filter(|(_, f)| is_linked(f)).map(|(i, _)| i).collect();
        let opposite = opposite(card, copy);
        let own_files = copy.files.iter().enumerate().filter(|(i, _)| !linked.contains(i));
        let there: BTreeSet<u64> = own_files.clone().map(|(_, f)| f.version.bytes).collect();
        let mut read: BTreeSet<usize> =
            own_files.filter(|(_, f)| lengths.contains(&f.version.bytes)).map(|(i, _)| i).collect();
        for ((file, wanted), other) in card.files.iter().zip(&mut wanted).zip(&opposite) {
            if there.contains(&file.version.bytes) {
                wanted.get_or_insert_default();
            }
            let cut = other.filter(|i| !linked.contains(i)).and_then(|i| Some((i, copy.files.get(i)?)));
            if let Some((i, short)) = cut.filter(|(_, f)| (1..file.version.bytes).contains(&f.version.bytes))
            {
                wanted.get_or_insert_default().insert(short.version.bytes);
                read.insert(i);
            }
        }
        let task = |file| Task { tree: n + 1, file, marks: Vec::new() };
        of_copies.extend(read.into_iter().map(task));
        found.opposite.push(opposite);
        found.linked.push(linked);
    }
    let of_card = wanted.into_iter().enumerate();
    let task = |(file, marks): (usize, Option<BTreeSet<u64>>)| {
        marks.map(|marks| Task { tree: 0, file, marks: marks.into_iter().collect() })
    };
    found.tasks = of_card.filter_map(task).chain(of_copies).collect();
    found
}

/// For each file of the card, the file of the copy under its path; where nothing is there, the one of its
/// name that shares most of the folders above it, if one alone does.
fn opposite(card: &Tree, copy: &Tree) -> Vec<Option<usize>> {
    let name = |key: &[u8]| key.rsplit(|b| *b == b'/').next().unwrap_or_default().to_vec();
    let mut loose: BTreeMap<Vec<u8>, Vec<usize>> = BTreeMap::new();
    for (i, file) in copy.files.iter().enumerate().filter(|(_, f)| card.at(&f.key).is_none()) {
        loose.entry(name(&file.key)).or_default().push(i);
    }
    let nearest = |key: &[u8]| {
        let shared = |i: &usize| copy.files.get(*i).map_or(0, |f| shared_parts(&f.key, key));
        let named = loose.get(&name(key))?;
        let most = named.iter().map(shared).max()?;
        let mut best = named.iter().filter(|i| shared(i) == most);
        best.next().copied().filter(|_| best.next().is_none())
    };
    card.files.iter().map(|f| copy.at(&f.key).or_else(|| nearest(&f.key))).collect()
}

/// How many parts, from the last one on, two paths have in common.
fn shared_parts(a: &[u8], b: &[u8]) -> usize {
    let parts = |key: &[u8]| key.rsplit(|b| *b == b'/').map(<[u8]>::to_vec).collect::<Vec<_>>();
    parts(a).iter().zip(parts(b)).take_while(|(a, b)| **a == *b).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::tree::{TreeFile, Version};

    fn tree(files: &[(&str, u64)]) -> Tree {
        let mut tree = Tree::default();
        for (path, bytes) in files {
            let version = Version { bytes: *bytes, modified: None, changed: None, created: None };
            tree.files.push(TreeFile { path: path.into(), key: path.as_bytes().to_vec(), version, id: None });
        }
        tree.files.sort_by(|a, b| a.key.cmp(&b.key));
        tree
    }

    #[test]
    fn only_lengths_that_both_have_are_read() {
        let card = tree(&[("A", 5), ("B", 6), ("C", 10), ("D", 3)]);
        let copy = tree(&[("A", 5), ("C", 4), ("E", 6), ("F", 99)]);
        let found = candidates(&[card, copy]);
        let read: Vec<_> = found.tasks.iter().map(|t| (t.tree, t.file, t.marks.as_slice())).collect();
        assert_eq!(
            read,
            [(0, 0, &[][..]), (0, 1, &[]), (0, 2, &[4]), (1, 0, &[]), (1, 1, &[]), (1, 2, &[])],
            "D is the only one of its length, and so is F"
        );
        assert_eq!(found.opposite, [[Some(0), None, Some(1), None]]);
    }

    #[test]
    fn a_file_of_that_name_in_another_folder_stands_opposite() {
        let card = tree(&[("DCIM/100A/X.JPG", 5), ("DCIM/101A/X.JPG", 5), ("DCIM/101A/Y.JPG", 5)]);
        let copy = tree(&[("day/100A/X.JPG", 5), ("day/101A/X.JPG", 5), ("a/Y.JPG", 5), ("b/Y.JPG", 5)]);
        let keys = |found: &[Option<usize>]| {
            let key = |i: &Option<usize>| i.map(|i| String::from_utf8_lossy(&copy.files[i].key).into_owned());
            found.iter().map(key).collect::<Vec<_>>()
        };
        let expected = [Some("day/100A/X.JPG".into()), Some("day/101A/X.JPG".into()), None];
        assert_eq!(keys(&opposite(&card, &copy)), expected);
    }
}
