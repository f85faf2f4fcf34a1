//! Every file below a folder, but the system's own: names, lengths and times. Nothing is opened.

use super::file_id::{self, FileId};
use crate::card::{self, exact, pass_over};
use crate::units::refusal;
use std::collections::BTreeSet;
use std::fs::{self, Metadata};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};
use walkdir::WalkDir;

/// What tells one state of a file from another without reading it. Times are nanoseconds since 1970 (UTC);
/// `None` where the system does not tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Version {
    /// Length, bytes.
    pub bytes: u64,
    /// When its content last changed, as the file says. A copy may be given the time of its original.
    pub modified: Option<i64>,
    /// When the file system last changed its record (Unix). No program sets it.
    pub changed: Option<i64>,
    /// When it was made on this file system.
    pub created: Option<i64>,
}

impl Version {
    /// Of a file as the system tells of it.
    pub fn of(meta: &Metadata) -> Self {
        #[cfg(unix)]
        let changed = {
            use std::os::unix::fs::MetadataExt as _;
            meta.ctime().checked_mul(1_000_000_000).and_then(|s| s.checked_add(meta.ctime_nsec()))
        };
        #[cfg(not(unix))]
        let changed = None;
        Self {
            bytes: meta.len(),
            modified: meta.modified().ok().and_then(nanoseconds),
            changed,
            created: meta.created().ok().and_then(nanoseconds),
        }
    }
}

fn nanoseconds(time: SystemTime) -> Option<i64> {
    match time.duration_since(UNIX_EPOCH) {
        Ok(after) => i64::try_from(after.as_nanos()).ok(),
        Err(before) => i64::try_from(before.duration().as_nanos()).ok().map(|n| -n),
    }
}

/// A file of a tree.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TreeFile {
    /// Path below the root.
    pub path: PathBuf,
    /// The same with `/` between its parts, in the bytes of the file system: what paths are compared by.
    pub key: Vec<u8>,
    /// What it was when the folder was listed.
    pub version: Version,
    /// Which file it is, whatever its name; `None` where the system does not tell.
    pub id: Option<FileId>,
}

/// A place that could not be listed, and why.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Unlisted {
    /// Path below the root; empty for the root itself.
    pub path: PathBuf,
    /// What went wrong, in words.
    pub why: String,
}

/// The files of a card or of a copy.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tree {
    /// The folder, as it was named.
    pub root: PathBuf,
    /// Its files, in order of [`TreeFile::key`].
    pub files: Vec<TreeFile>,
    /// Links, pipes and the like, in order: they hold no bytes of their own, and are not followed.
    pub not_files: Vec<PathBuf>,
    /// How many of the system's own files were left out (indexes, bins, resource forks).
    pub left_out: u64,
    /// What could not be listed.
    pub unlisted: Vec<Unlisted>,
    /// Which folders it has, the root among them.
    pub(crate) folders: BTreeSet<FileId>,
    /// The root by its real path.
    pub(crate) real: PathBuf,
    /// The root's own number, and its device.
    pub(crate) id: Option<FileId>,
    /// A name of its file system and of no other one, as far as the system tells.
    pub(crate) volume: String,
}

impl Tree {
    /// Length of all files, bytes.
    pub fn bytes(&self) -> u64 {
        self.files.iter().map(|f| f.version.bytes).sum()
    }

    /// The root by its real path, links followed.
    pub fn real_path(&self) -> &Path {
        &self.real
    }

    /// The file under a path with `/` between its parts.
    pub(crate) fn at(&self, key: &[u8]) -> Option<usize> {
        self.files.binary_search_by(|f| f.key.as_slice().cmp(key)).ok()
    }
}

/// Lists the files below `root`, until `stop` is raised: the root is then unlisted.
///
/// # Errors
/// What the system says of the root itself; that it is no folder.
pub fn list(root: &Path, stop: &AtomicBool) -> io::Result<Tree> {
    let meta = fs::metadata(root)?;
    if !meta.is_dir() {
        return Err(io::ErrorKind::NotADirectory.into());
    }
    let mut tree = Tree {
        root: root.to_owned(),
        real: fs::canonicalize(root)?,
        id: FileId::of(&meta),
        volume: FileId::of(&meta).map(|id| file_id::volume_of(id.device)).unwrap_or_default(),
        ..Tree::default()
    };
    tree.folders.extend(tree.id);
    let top = exact(root);
    let mut entries = WalkDir::new(&*top).min_depth(1).follow_links(false).into_iter();
    while let Some(entry) = entries.next() {
        if stop.load(Ordering::Relaxed) {
            tree.unlisted.push(Unlisted { path: PathBuf::new(), why: "the search was stopped".into() });
            break;
        }
        match entry {
            Ok(entry) if pass_over::is_the_systems(entry.file_name(), entry.file_type().is_dir()) => {
                if entry.file_type().is_dir() {
                    entries.skip_current_dir();
                }
                tree.left_out += 1;
            }
            Ok(entry) => tree.add(&top, entry.path(), entry.metadata().map_err(Into::into)),
            Err(e) => {
                let path = e.path().unwrap_or(&top).to_owned();
                tree.add(&top, &path, Err(e.into()));
            }
        }
    }
    tree.files.sort_by(|a, b| a.key.cmp(&b.key));
    tree.not_files.sort();
    tree.unlisted.sort();
    Ok(tree)
}

impl Tree {
    fn add(&mut self, top: &Path, path: &Path, meta: io::Result<Metadata>) {
        let path = path.strip_prefix(top).unwrap_or(path).to_owned();
        match meta {
            Err(e) => self.unlisted.push(Unlisted { path, why: refusal(&e) }),
            Ok(meta) if meta.is_dir() => self.folders.extend(FileId::of(&meta)),
            Ok(meta) if meta.is_file() => {
                let key = card::path_key(&path);
                self.files.push(TreeFile { key, version: Version::of(&meta), id: FileId::of(&meta), path });
            }
            Ok(_) => self.not_files.push(path),
        }
    }

    /// Which disk it lies on, as far as the system tells.
    pub(crate) fn disk(&self) -> Option<String> {
        self.id.map(|id| file_id::disk_of(id.device))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_but_the_systems_own() {
        let dir = tempfile::tempdir().unwrap();
        for name in [
            "DCIM/100WEIR/WEIR0001.JPG",
            "DCIM/100WEIR/._WEIR0001.JPG",
            "DCIM/100WEIR/WEIR0001.WAV",
            "MISC/AUTPRINT.MRK",
            "PRIVATE/M4ROOT/CLIP/C0001.MP4",
            "FOUND.000/FILE0000.CHK",
            ".hidden/notes.txt",
            ".Trash-1000/files/WEIR0002.JPG",
            "System Volume Information/IndexerVolumeGuid",
            ".DS_Store",
            "DCIM/Thumbs.db",
        ] {
            let path = dir.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, name).unwrap();
        }
        let tree = list(dir.path(), &AtomicBool::new(false)).unwrap();
        let keys: Vec<_> = tree.files.iter().map(|f| String::from_utf8(f.key.clone()).unwrap()).collect();
        assert_eq!(
            keys,
            [
                ".hidden/notes.txt",
                "DCIM/100WEIR/WEIR0001.JPG",
                "DCIM/100WEIR/WEIR0001.WAV",
                "FOUND.000/FILE0000.CHK",
                "MISC/AUTPRINT.MRK",
                "PRIVATE/M4ROOT/CLIP/C0001.MP4",
            ]
        );
        // Two folders, each counted as one, and three files.
        assert_eq!(tree.left_out, 5);
        assert_eq!(tree.bytes(), keys.iter().map(|k| k.len() as u64).sum::<u64>());
        assert_eq!(tree.at(b"DCIM/100WEIR/WEIR0001.WAV"), Some(2));
        assert_eq!(tree.at(b"DCIM/100WEIR/WEIR0003.WAV"), None);
        let stopped = list(dir.path(), &AtomicBool::new(true)).unwrap();
        assert_eq!(stopped.unlisted.len(), 1);
        assert!(list(&dir.path().join(".DS_Store"), &AtomicBool::new(false)).is_err());
    }
}
