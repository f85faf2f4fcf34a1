//! The folder on the disk. Where the system has handles of folders it is held by one: what is done by names
//! below it stays in it, whatever becomes of the path that led there.

use super::folder::{Folder, Kind, Output};
use std::fs::File;
use std::io::{self, Read as _, Write};
use std::path::Path;

/// A folder, open.
#[derive(Debug)]
pub struct Disk {
    #[cfg(unix)]
    folder: rustix::fd::OwnedFd,
    #[cfg(not(unix))]
    folder: std::path::PathBuf,
}

impl Disk {
    /// Opens the folder at `path`, links followed.
    ///
    /// # Errors
    /// What the system says; that it is no folder.
    pub fn open(path: &Path) -> io::Result<Self> {
        system::open(path)
    }
}

/// Which file or folder something is, by whatever path it was reached: device and inode, or on Windows volume
/// and file index.
#[cfg(unix)]
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identity(u64, u64);

/// Which file or folder something is, by whatever path it was reached.
#[cfg(not(unix))]
#[derive(Debug, PartialEq, Eq)]
pub struct Identity(same_file::Handle);

impl Identity {
    /// Of what stands at `path`, links followed.
    ///
    /// # Errors
    /// What the system says.
    #[cfg(unix)]
    pub fn of(path: &Path) -> io::Result<Self> {
        use std::os::unix::fs::MetadataExt as _;
        let meta = std::fs::metadata(path)?;
        Ok(Self(meta.dev(), meta.ino()))
    }

    /// Of what stands at `path`, links followed.
    ///
    /// # Errors
    /// What the system says.
    #[cfg(not(unix))]
    pub fn of(path: &Path) -> io::Result<Self> {
        Ok(Self(same_file::Handle::from_path(path)?))
    }
}

/// A file with the system's own buffers alone.
struct Written(File);

impl Write for Written {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl Output for Written {
    fn sync(&mut self) -> io::Result<()> {
        self.0.sync_all()
    }
}

fn at_most(file: File, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    file.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(io::Error::other(format!("it is larger than {most} bytes")));
    }
    Ok(bytes)
}

#[cfg(unix)]
mod system {
    use super::{Disk, Folder, Identity, Kind, Output, Written, at_most};
    use rustix::fd::{AsFd, BorrowedFd, OwnedFd};
    use rustix::fs::{self, AtFlags, CWD, FileType, Mode, OFlags};
    use rustix::io::{Errno, retry_on_intr};
    use std::ffi::OsStr;
    use std::io;
    use std::path::Path;

    const FOLDER: OFlags = OFlags::RDONLY.union(OFlags::DIRECTORY).union(OFlags::CLOEXEC);

    pub fn open(path: &Path) -> io::Result<Disk> {
        let folder = retry_on_intr(|| fs::openat(CWD, path, FOLDER, Mode::empty()))?;
        Ok(Disk { folder })
    }

    impl AsFd for Disk {
        fn as_fd(&self) -> BorrowedFd<'_> {
            self.folder.as_fd()
        }
    }

    impl Disk {
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
}

#[cfg(not(unix))]
mod system {
    use super::{Disk, Folder, Identity, Kind, Output, Written, at_most};
    use std::ffi::OsStr;
    use std::fs::{self, File, OpenOptions};
    use std::io;
    use std::path::Path;

    pub fn open(path: &Path) -> io::Result<Disk> {
        match fs::metadata(path)?.is_dir() {
            true => Ok(Disk { folder: path.to_owned() }),
            false => Err(io::ErrorKind::NotADirectory.into()),
        }
    }

    impl Disk {
        /// Keeps the folder for this process: not on this system, where a file that is open cannot be taken
        /// away by another run.
        pub fn keep(&self) -> bool {
            true
        }

        /// The same folder once more.
        ///
        /// # Errors
        /// None in practice; the type is that of other systems.
        pub fn again(&self) -> io::Result<Self> {
            Ok(Self { folder: self.folder.clone() })
        }

        /// Which folder this is, and each one above it, up to the topmost.
        ///
        /// # Errors
        /// What the system says.
        pub fn lineage(&self) -> io::Result<Vec<Identity>> {
            fs::canonicalize(&self.folder)?.ancestors().map(Identity::of).collect()
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
                Err(e) if e.kind() != io::ErrorKind::AlreadyExists => Err(e),
                _ if !folder.symlink_metadata()?.is_dir() => {
                    Err(io::Error::other("a file or a link of that name is there"))
                }
                _ => Ok(Self { folder }),
            }
        }
    }

    impl Folder for Disk {
        fn inside(&self, name: &str) -> io::Result<Box<dyn Folder>> {
            Ok(Box::new(self.below(OsStr::new(name))?))
        }

        fn create(&self, name: &str) -> io::Result<Box<dyn Output>> {
            let file = OpenOptions::new().write(true).create_new(true).open(self.folder.join(name))?;
            Ok(Box::new(Written(file)))
        }

        fn read(&self, name: &str, most: u64) -> io::Result<Vec<u8>> {
            at_most(File::open(self.folder.join(name))?, most)
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
            Ok(())
        }
    }
}
