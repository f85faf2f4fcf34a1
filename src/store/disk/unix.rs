//! A folder on Unix, held by its handle.

use super::{Written, at_most};
use crate::store::folder::{Folder, Kind, Output};
use rustix::fd::{AsFd, BorrowedFd, OwnedFd};
use rustix::fs::{self, AtFlags, CWD, FileType, Mode, OFlags};
use rustix::io::{Errno, retry_on_intr};
use std::ffi::OsStr;
use std::io;
use std::os::unix::fs::MetadataExt as _;
use std::path::Path;

const FOLDER: OFlags = OFlags::RDONLY.union(OFlags::DIRECTORY).union(OFlags::CLOEXEC);

/// A folder, open.
#[derive(Debug)]
pub struct Disk {
    folder: OwnedFd,
}

/// Which file or folder something is, by whatever path it was reached: device and inode.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identity(u64, u64);

impl Identity {
    /// Of what stands at `path`, links followed.
    ///
    /// # Errors
    /// What the system says.
    pub fn of(path: &Path) -> io::Result<Self> {
        let meta = std::fs::metadata(path)?;
        Ok(Self(meta.dev(), meta.ino()))
    }
}

impl AsFd for Disk {
    fn as_fd(&self) -> BorrowedFd<'_> {
        self.folder.as_fd()
    }
}

impl Disk {
    /// Opens the folder at `path`, links followed.
    ///
    /// # Errors
    /// What the system says; that it is no folder.
    pub fn open(path: &Path) -> io::Result<Self> {
        let folder = retry_on_intr(|| fs::openat(CWD, path, FOLDER, Mode::empty()))?;
        Ok(Self { folder })
    }

    /// Keeps the folder for this process while the handle lives; false where another one has it. A system
    /// that cannot tell is taken at its best.
    pub fn keep(&self) -> bool {
        let kept = rustix::fs::flock(&self.folder, rustix::fs::FlockOperation::NonBlockingLockExclusive);
        kept != Err(Errno::WOULDBLOCK)
    }

    /// The same folder under another handle.
    ///
    /// # Errors
    /// What the system says.
    pub fn again(&self) -> io::Result<Self> {
        Ok(Self { folder: self.folder.try_clone()? })
    }

    /// Which folder this is, and each one above it, up to the system's topmost.
    ///
    /// # Errors
    /// What the system says.
    pub fn lineage(&self) -> io::Result<Vec<Identity>> {
        // Asked for by their way up: a folder that may be passed need not be one that may be opened.
        let mut up = String::from(".");
        let mut all = Vec::new();
        loop {
            let stat = fs::statat(&self.folder, up.as_str(), AtFlags::empty())?;
            let identity = Identity(device(stat.st_dev), stat.st_ino);
            // The topmost folder lies in itself.
            if all.last() == Some(&identity) {
                return Ok(all);
            }
            all.push(identity);
            up.push_str("/..");
        }
    }

    /// Takes an empty folder in this one away.
    ///
    /// # Errors
    /// What the system says.
    pub fn remove_below(&self, name: &OsStr) -> io::Result<()> {
        Ok(fs::unlinkat(&self.folder, name, AtFlags::REMOVEDIR)?)
    }

    /// A folder in this one, which is made where it is not there; a link is not followed.
    ///
    /// # Errors
    /// What the system says.
    pub fn below(&self, name: &OsStr) -> io::Result<Self> {
        match fs::mkdirat(&self.folder, name, Mode::from_raw_mode(0o777)) {
            Ok(()) | Err(Errno::EXIST) => {}
            Err(e) => return Err(e.into()),
        }
        let folder = fs::openat(&self.folder, name, FOLDER | OFlags::NOFOLLOW, Mode::empty());
        match folder {
            Ok(folder) => Ok(Self { folder }),
            Err(Errno::NOTDIR | Errno::LOOP) => {
                Err(io::Error::other("a file or a link of that name is there"))
            }
            Err(e) => Err(e.into()),
        }
    }
}

/// The type of a device's number differs from system to system.
#[allow(clippy::useless_conversion, clippy::unnecessary_cast)]
fn device(number: rustix::fs::Dev) -> u64 {
    number as u64
}

fn opened(folder: &OwnedFd, name: &str, flags: OFlags) -> io::Result<OwnedFd> {
    // A report is there to be read by others; the process's own mask still applies.
    let mode = Mode::from_raw_mode(0o666);
    let flags = flags | OFlags::NOFOLLOW | OFlags::CLOEXEC | OFlags::NONBLOCK;
    Ok(retry_on_intr(|| fs::openat(folder, name, flags, mode))?)
}

fn kind_of(file_type: FileType) -> Kind {
    match file_type {
        FileType::RegularFile => Kind::File,
        FileType::Directory => Kind::Folder,
        _ => Kind::Other,
    }
}

impl Folder for Disk {
    fn inside(&self, name: &str) -> io::Result<Box<dyn Folder>> {
        Ok(Box::new(self.below(OsStr::new(name))?))
    }

    fn create(&self, name: &str) -> io::Result<Box<dyn Output>> {
        let new = OFlags::WRONLY | OFlags::CREATE | OFlags::EXCL;
        Ok(Box::new(Written(opened(&self.folder, name, new)?.into())))
    }

    fn read(&self, name: &str, most: u64) -> io::Result<Vec<u8>> {
        at_most(opened(&self.folder, name, OFlags::RDONLY)?.into(), most)
    }

    fn kind(&self, name: &str) -> io::Result<Kind> {
        match fs::statat(&self.folder, name, AtFlags::SYMLINK_NOFOLLOW) {
            Ok(stat) => Ok(kind_of(FileType::from_raw_mode(stat.st_mode))),
            Err(Errno::NOENT) => Ok(Kind::Nothing),
            Err(e) => Err(e.into()),
        }
    }

    fn rename(&self, from: &str, to: &str) -> io::Result<()> {
        Ok(fs::renameat(&self.folder, from, &self.folder, to)?)
    }

    fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        match fs::linkat(&self.folder, from, &self.folder, to, AtFlags::empty()) {
            Ok(()) => self.remove(from),
            Err(Errno::EXIST) => Err(io::ErrorKind::AlreadyExists.into()),
            // Not every file system has a second name for a file.
            Err(_) if self.kind(to)? == Kind::Nothing => self.rename(from, to),
            Err(_) => Err(io::ErrorKind::AlreadyExists.into()),
        }
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        Ok(fs::unlinkat(&self.folder, name, AtFlags::empty())?)
    }

    fn remove_folder(&self, name: &str) -> io::Result<()> {
        Ok(fs::unlinkat(&self.folder, name, AtFlags::REMOVEDIR)?)
    }

    fn names(&self) -> io::Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in fs::Dir::read_from(&self.folder)? {
            let entry = entry?;
            names.extend(entry.file_name().to_str().ok().map(str::to_owned));
        }
        names.retain(|name| name != "." && name != "..");
        names.sort();
        Ok(names)
    }

    fn sync(&self) -> io::Result<()> {
        match fs::fsync(&self.folder) {
            // Some file systems keep their names by themselves and refuse to be asked.
            Ok(()) | Err(Errno::INVAL | Errno::NOTSUP | Errno::BADF) => Ok(()),
            Err(e) => Err(e.into()),
        }
    }
}
