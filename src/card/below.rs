//! Files below a folder, reached through no link: what a list names has to lie in that folder itself.

use std::fs::File;
use std::io;
use std::path::{Component, Path, PathBuf};

use super::open;

/// A folder whose files are opened below it. The folder itself may be named by a link: somebody pointed at
/// it.
#[derive(Debug)]
pub struct Below {
    #[cfg(unix)]
    folder: rustix::fd::OwnedFd,
    #[cfg(not(unix))]
    folder: PathBuf,
}

/// Why a path below a folder gives no file.
#[derive(Debug)]
pub enum NotBelow {
    /// This part of the path, from the folder on, is a link. It was not followed.
    Link(PathBuf),
    /// The path leads out of the folder, or names nothing in it.
    Outside,
    /// What the system says.
    System(io::Error),
}

impl NotBelow {
    /// True where nothing of that name is there.
    pub fn is_missing(&self) -> bool {
        // What stands in the place of a folder holds no files either.
        let Self::System(e) = self else { return false };
        matches!(e.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory)
    }
}

impl From<io::Error> for NotBelow {
    fn from(error: io::Error) -> Self {
        Self::System(error)
    }
}

impl Below {
    /// Opens the folder.
    ///
    /// # Errors
    /// What the system says; that it is no folder.
    pub fn open(folder: &Path) -> io::Result<Self> {
        #[cfg(unix)]
        return Ok(Self { folder: open::folder_at(rustix::fs::CWD, folder, true)? });
        #[cfg(not(unix))]
        return match std::fs::metadata(folder)?.is_dir() {
            true => Ok(Self { folder: super::exact(folder).into_owned() }),
            false => Err(io::ErrorKind::NotADirectory.into()),
        };
    }

    /// Opens a file below the folder as [`open`](super::open) does, and tells its length in bytes.
    ///
    /// # Errors
    /// Where a part of the path is a link, where it leads out of the folder, and what the system says.
    pub fn file(&self, path: &Path) -> Result<(File, u64), NotBelow> {
        let mut parts = Vec::new();
        for part in path.components() {
            match part {
                // It parts a file from a stream of it there, and is no part of a name.
                Component::Normal(name) if cfg!(windows) && name.as_encoded_bytes().contains(&b':') => {
                    return Err(NotBelow::Outside);
                }
                Component::Normal(name) => parts.push(name),
                Component::CurDir => {}
                Component::ParentDir | Component::RootDir | Component::Prefix(_) => {
                    return Err(NotBelow::Outside);
                }
            }
        }
        self.reached(&parts)
    }

    #[cfg(unix)]
    fn reached(&self, parts: &[&std::ffi::OsStr]) -> Result<(File, u64), NotBelow> {
        use rustix::fd::AsFd as _;
        use rustix::fs::{AtFlags, FileType, statat};
        let Some((name, folders)) = parts.split_last() else { return Err(NotBelow::Outside) };
        // What the system calls a link that it was told not to follow differs, so the place is looked at.
        let told = |at: rustix::fd::BorrowedFd<'_>, depth: usize, error: io::Error| {
            let path: PathBuf = parts.iter().take(depth + 1).collect();
            let link = parts.get(depth).and_then(|name| statat(at, *name, AtFlags::SYMLINK_NOFOLLOW).ok());
            match link.map(|s| FileType::from_raw_mode(s.st_mode)) {
                Some(FileType::Symlink) => NotBelow::Link(path),
                _ => NotBelow::System(error),
            }
        };
        let mut at: Option<rustix::fd::OwnedFd> = None;
        for (depth, folder) in folders.iter().enumerate() {
            let parent = at.as_ref().map_or_else(|| self.folder.as_fd(), |f| f.as_fd());
            let next = open::folder_at(parent, Path::new(folder), false);
            at = Some(next.map_err(|e| told(parent, depth, e))?);
        }
        let parent = at.as_ref().map_or_else(|| self.folder.as_fd(), |f| f.as_fd());
        open::file_at(parent, Path::new(name), false).map_err(|e| told(parent, folders.len(), e))
    }

    #[cfg(not(unix))]
    fn reached(&self, parts: &[&std::ffi::OsStr]) -> Result<(File, u64), NotBelow> {
        let mut path = self.folder.clone();
        for (depth, part) in parts.iter().enumerate() {
            path.push(part);
            if path.symlink_metadata()?.file_type().is_symlink() {
                return Err(NotBelow::Link(parts.iter().take(depth + 1).collect()));
            }
        }
        match parts.is_empty() {
            true => Err(NotBelow::Outside),
            false => Ok(open::open(&path)?),
        }
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    #[test]
    fn no_link_is_followed_below_the_folder() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        std::fs::create_dir_all(at("in/100WEIR")).unwrap();
        std::fs::create_dir(at("other")).unwrap();
        std::fs::write(at("in/100WEIR/A.JPG"), b"abc").unwrap();
        std::fs::write(at("other/A.JPG"), b"abc").unwrap();
        symlink("../other", at("in/101WEIR")).unwrap();
        symlink("A.JPG", at("in/100WEIR/B.JPG")).unwrap();
        symlink("in", at("named")).unwrap();
        let below = Below::open(&at("named")).unwrap();
        let link = |path: &str| match below.file(Path::new(path)) {
            Err(NotBelow::Link(link)) => Some(link),
            _ => None,
        };
        assert_eq!(below.file(Path::new("100WEIR/A.JPG")).unwrap().1, 3);
        assert_eq!(link("101WEIR/A.JPG"), Some("101WEIR".into()));
        assert_eq!(link("100WEIR/B.JPG"), Some("100WEIR/B.JPG".into()));
        for out in ["../other/A.JPG", "100WEIR/../../other/A.JPG", "/etc/passwd", ""] {
            assert!(matches!(below.file(Path::new(out)), Err(NotBelow::Outside)), "{out}");
        }
        for missing in ["100WEIR/C.JPG", "102WEIR/A.JPG", "100WEIR/A.JPG/B.JPG"] {
            assert!(below.file(Path::new(missing)).unwrap_err().is_missing(), "{missing}");
        }
    }
}
