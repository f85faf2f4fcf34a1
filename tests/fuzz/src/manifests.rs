//! Bytes as a manifest, and as the list of a set.

use lapseproof::outputs::deliver::manifest::{bagit_path, below, read, unlike_a_bag, write};
use lapseproof::store::list;
use std::path::Component;

/// Reads `data` as a manifest and as a list.
///
/// # Panics
/// Where a name leads out of its folder, or what was read is not read alike once it is written again.
pub fn look(data: &[u8]) {
    let (entries, bad) = read(data);
    let lines = data.split(|b| *b == b'\n').count();
    assert!(entries.len() + bad.len() <= lines && bad.iter().all(|n| (1..=lines).contains(n)));
    for entry in &entries {
        for path in [Some(entry.path.clone()), bagit_path(&entry.path)].into_iter().flatten() {
            let Some(path) = below(&path) else { continue };
            let inside = |part| matches!(part, Component::Normal(_) | Component::CurDir);
            assert!(path.components().all(inside) && path.is_relative(), "{path:?}");
        }
    }
    assert!(unlike_a_bag(&entries) <= entries.len());
    let mut written = Vec::new();
    write(&entries, &mut written).expect("memory");
    assert!(read(&written) == (entries, Vec::new()));
    let first = list::read(data);
    assert!(list::read(data) == first);
}
