//! Where the card of a root begins: no output may lie in these places.

#[cfg(windows)]
use super::drives as system;
#[cfg(not(windows))]
use super::mounts as system;
use crate::store::Identity;
use std::path::{Path, PathBuf};

/// A folder in which no output may lie.
#[derive(Debug)]
pub(crate) struct Guard {
    /// Its path, links followed.
    pub path: PathBuf,
    /// Which folder it is, whatever it is called; `None` where the system does not tell.
    pub identity: Option<Identity>,
    /// Where it lies in its file system, where the system tells.
    place: Option<(String, PathBuf)>,
}

impl Guard {
    fn of(path: PathBuf) -> Self {
        let place = system::place(&path);
        Self { identity: Identity::of(&path).ok(), place, path }
    }

    /// True where `dir`, of which the last parts need not be there, lies in it: by its path, or by its place
    /// in the file system, which has one place for a folder however often it is mounted.
    pub(crate) fn holds(&self, dir: &Path) -> bool {
        let same = |own: &(String, PathBuf)| {
            system::place(dir).is_some_and(|other| own.0 == other.0 && other.1.starts_with(&own.1))
        };
        dir.starts_with(&self.path) || self.place.as_ref().is_some_and(same)
    }
}

/// The places that are guarded for a root, which must be canonical: the root (the folder of a file), the
/// folder above a `DCIM` that it lies in, and the removable file system that holds it.
pub(crate) fn guarded(root: &Path) -> Vec<Guard> {
    let folder = if root.is_dir() { root } else { root.parent().unwrap_or(root) };
    let mut places = vec![folder.to_owned()];
    let dcim = |p: &&Path| p.file_name().is_some_and(|n| n.eq_ignore_ascii_case("DCIM"));
    places.extend(folder.ancestors().filter(dcim).filter_map(Path::parent).map(Path::to_owned));
    places.extend(system::removable(folder));
    places.into_iter().map(Guard::of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_above_a_dcim_is_guarded_in_any_case() {
        let dir = tempfile::tempdir().unwrap();
        let frames = dir.path().join("dcim/100WEIR");
        std::fs::create_dir_all(&frames).unwrap();
        assert!(guarded(&frames).iter().any(|guard| guard.path == dir.path()));
    }
}
