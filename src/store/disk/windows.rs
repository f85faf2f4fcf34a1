//! A folder on Windows. Names below it are joined to its path; an open handle that lets nobody delete it
//! keeps that path: neither the folder nor one above it can be renamed or be replaced by a link meanwhile.

use super::{Written, at_most};
use crate::store::folder::{Folder, Kind, Output};
use crate::store::partial;
use std::ffi::OsStr;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::windows::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

// Names and numbers of winnt.h, winbase.h and winerror.h, from memory.
const DELETE: u32 = 0x0001_0000;
const FILE_TRAVERSE: u32 = 0x20;
const FILE_READ_ATTRIBUTES: u32 = 0x80;
const FILE_WRITE_DATA: u32 = 0x2;
const FILE_SHARE_READ: u32 = 0x1;
const FILE_SHARE_WRITE: u32 = 0x2;
const FILE_FLAG_BACKUP_SEMANTICS: u32 = 0x0200_0000;
const FILE_FLAG_DELETE_ON_CLOSE: u32 = 0x0400_0000;
const FILE_FLAG_OPEN_REPARSE_POINT: u32 = 0x0020_0000;
const ERROR_SHARING_VIOLATION: i32 = 32;

/// A folder, open.
#[derive(Debug)]
pub struct Disk {
    /// Links followed, and every part of it taken as it is written.
    folder: PathBuf,
    held: Arc<File>,
    /// What says to other runs that this one writes here.
    kept: Mutex<Option<File>>,
}

/// Which file or folder something is, by whatever path it was reached: volume and file index. It is held
/// open, because only so long no other one gets that index.
#[derive(Debug, PartialEq, Eq)]
pub struct Identity(same_file::Handle);

impl Identity {
    /// Of what stands at `path`, links followed.
    ///
    /// # Errors
    /// What the system says.
    pub fn of(path: &Path) -> io::Result<Self> {
        // No right is asked for: a folder that may be passed need not be one that may be listed.
        let file = OpenOptions::new().access_mode(0).custom_flags(FILE_FLAG_BACKUP_SEMANTICS).open(path)?;
        Ok(Self(same_file::Handle::from_file(file)?))
    }
}

impl Disk {
    /// Opens the folder at `path`, links followed.
    ///
    /// # Errors
    /// What the system says; that it is no folder.
    pub fn open(path: &Path) -> io::Result<Self> {
        Self::hold(fs::canonicalize(path)?)
    }

    fn hold(folder: PathBuf) -> io::Result<Self> {
        let held = OpenOptions::new()
            // A handle that may only look at attributes would keep nobody from anything.
            .access_mode(FILE_TRAVERSE | FILE_READ_ATTRIBUTES)
            .share_mode(FILE_SHARE_READ | FILE_SHARE_WRITE)
            .custom_flags(FILE_FLAG_BACKUP_SEMANTICS | FILE_FLAG_OPEN_REPARSE_POINT)
            .open(&folder)?;
        match held.metadata()?.is_dir() {
            true => Ok(Self { folder, held: Arc::new(held), kept: Mutex::new(None) }),
            false => Err(io::ErrorKind::NotADirectory.into()),
        }
    }

    /// Keeps the folder for this process while the handle lives; false where another one has it. A system
    /// that cannot tell is taken at its best.
    pub fn keep(&self) -> bool {
        let own = OpenOptions::new()
            .write(true)
            .create(true)
            .truncate(false)
            .access_mode(FILE_WRITE_DATA | DELETE)
            .share_mode(0)
            // However the process ends, the system takes it away.
            .custom_flags(FILE_FLAG_DELETE_ON_CLOSE | FILE_FLAG_OPEN_REPARSE_POINT)
            .open(self.folder.join(partial("run")));
        let busy = own.as_ref().is_err_and(|e| e.raw_os_error() == Some(ERROR_SHARING_VIOLATION));
        *self.kept.lock().unwrap_or_else(PoisonError::into_inner) = own.ok();
        !busy
    }

    /// The same folder under another handle.
    ///
    /// # Errors
    /// None in practice; the type is that of other systems.
    pub fn again(&self) -> io::Result<Self> {
        Ok(Self { folder: self.folder.clone(), held: Arc::clone(&self.held), kept: Mutex::new(None) })
    }

    /// Which folder this is, and each one above it, up to the topmost.
    ///
    /// # Errors
    /// What the system says.
    pub fn lineage(&self) -> io::Result<Vec<Identity>> {
        self.folder.ancestors().map(Identity::of).collect()
    }

    /// Takes an empty folder in this one away.
    ///
    /// # Errors
    /// What the system says.
    pub fn remove_below(&self, name: &OsStr) -> io::Result<()> {
        fs::remove_dir(self.folder.join(name))
    }

    /// A folder in this one, which is made where it is not there; a link is not followed.
    ///
    /// # Errors
    /// What the system says.
    pub fn below(&self, name: &OsStr) -> io::Result<Self> {
        let folder = self.folder.join(name);
        match fs::create_dir(&folder) {
            Err(e) if e.kind() != io::ErrorKind::AlreadyExists => return Err(e),
            _ => {}
        }
        Self::hold(folder).map_err(|e| match e.kind() {
            io::ErrorKind::NotADirectory => io::Error::other("a file or a link of that name is there"),
            _ => e,
        })
    }
}

impl Folder for Disk {
    fn inside(&self, name: &str) -> io::Result<Box<dyn Folder>> {
        Ok(Box::new(self.below(OsStr::new(name))?))
    }

    fn create(&self, name: &str) -> io::Result<Box<dyn Output>> {
        let file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .custom_flags(FILE_FLAG_OPEN_REPARSE_POINT)
            .open(self.folder.join(name))?;
        Ok(Box::new(Written(file)))
    }

    fn read(&self, name: &str, most: u64) -> io::Result<Vec<u8>> {
        let path = self.folder.join(name);
        let file = OpenOptions::new().read(true).custom_flags(FILE_FLAG_OPEN_REPARSE_POINT).open(path)?;
        match file.metadata()?.is_file() {
            true => at_most(file, most),
            false => Err(io::Error::other("it is a link")),
        }
    }

    fn kind(&self, name: &str) -> io::Result<Kind> {
        match self.folder.join(name).symlink_metadata() {
            Ok(meta) if meta.is_file() => Ok(Kind::File),
            Ok(meta) if meta.is_dir() => Ok(Kind::Folder),
            Ok(_) => Ok(Kind::Other),
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Kind::Nothing),
            Err(e) => Err(e),
        }
    }

    fn rename(&self, from: &str, to: &str) -> io::Result<()> {
        fs::rename(self.folder.join(from), self.folder.join(to))
    }

    fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        match fs::hard_link(self.folder.join(from), self.folder.join(to)) {
            Ok(()) => self.remove(from),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => Err(e),
            // Not every file system has a second name for a file.
            Err(_) if self.kind(to)? == Kind::Nothing => self.rename(from, to),
            Err(_) => Err(io::ErrorKind::AlreadyExists.into()),
        }
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        fs::remove_file(self.folder.join(name))
    }

    fn remove_folder(&self, name: &str) -> io::Result<()> {
        fs::remove_dir(self.folder.join(name))
    }

    fn names(&self) -> io::Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(&self.folder)? {
            names.extend(entry?.file_name().into_string().ok());
        }
        names.sort();
        Ok(names)
    }

    fn sync(&self) -> io::Result<()> {
        // The system keeps its names by itself and has no such call.
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_that_is_held_keeps_its_path() {
        let dir = tempfile::tempdir().unwrap();
        let at = |name: &str| dir.path().join(name);
        fs::create_dir_all(at("shoot/report")).unwrap();
        let disk = Disk::open(&at("shoot/report")).unwrap();
        assert!(fs::rename(at("shoot/report"), at("shoot/other")).is_err());
        assert!(fs::remove_dir(at("shoot/report")).is_err());
        drop(disk);
        fs::rename(at("shoot/report"), at("shoot/other")).unwrap();
    }

    #[test]
    fn one_run_at_a_time_keeps_a_folder() {
        let dir = tempfile::tempdir().unwrap();
        let first = Disk::open(dir.path()).unwrap();
        assert!(first.keep());
        assert!(!Disk::open(dir.path()).unwrap().keep());
        drop(first);
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
        assert!(Disk::open(dir.path()).unwrap().keep());
    }

    #[test]
    fn one_folder_is_the_same_by_every_spelling() {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("My Long Card");
        fs::create_dir(&folder).unwrap();
        let own = Identity::of(&folder).unwrap();
        let text = folder.display().to_string();
        for other in
            [text.to_uppercase(), text.replace('\\', "/"), format!("{text}."), format!(r"\\?\{text}")]
        {
            assert_eq!(Identity::of(Path::new(&other)).unwrap(), own, "{other}");
        }
        assert_ne!(Identity::of(dir.path()).unwrap(), own);
        assert!(Disk::open(&folder).unwrap().lineage().unwrap().contains(&own));
    }
}
