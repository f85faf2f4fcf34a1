//! Whether two trees or two files are one.

use super::tree::Tree;

/// True where both paths lead to one file, as far as the names and numbers of the trees leave that open: on
/// Windows a hard link shows only when it is opened.
pub(crate) fn is_one_file(one: (&Tree, usize), other: (&Tree, usize)) -> bool {
    let (Some(a), Some(b)) = (one.0.files.get(one.1), other.0.files.get(other.1)) else { return false };
    match (a.id, b.id) {
        (Some(a), Some(b)) => a == b,
        #[cfg(windows)]
        _ => same_file::is_same_file(one.0.root.join(&a.path), other.0.root.join(&b.path)).unwrap_or(false),
        #[cfg(not(windows))]
        _ => false,
    }
}

/// Two trees that share files, by their places in the list that was given: none is a copy of the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overlap {
    /// Both are one folder.
    Same(usize, usize),
    /// The first one lies inside the second one.
    Inside(usize, usize),
    /// A folder in the one is a folder in the other, too: a mount, most likely.
    Shared(usize, usize),
}

/// The first two trees that share files.
pub fn overlap(trees: &[Tree]) -> Option<Overlap> {
    for (j, b) in trees.iter().enumerate() {
        for (i, a) in trees.iter().enumerate().take(j) {
            let one = a.id.is_some() && a.id == b.id;
            let within = |inner: &Tree, outer: &Tree| {
                inner.real.starts_with(&outer.real) || inner.id.is_some_and(|id| outer.folders.contains(&id))
            };
            if one || a.real == b.real {
                return Some(Overlap::Same(i, j));
            } else if within(b, a) {
                return Some(Overlap::Inside(j, i));
            } else if within(a, b) {
                return Some(Overlap::Inside(i, j));
            } else if !a.folders.is_disjoint(&b.folders) {
                return Some(Overlap::Shared(i, j));
            }
        }
    }
    None
}
