//! Opening a file of the card: for reading alone, without ever waiting, and without a new access time where
//! the system lets a reader ask for that.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

#[cfg(unix)]
use rustix::fd::{BorrowedFd, OwnedFd};
#[cfg(unix)]
use rustix::fs::{Mode, OFlags, openat};

/// Opens `path` for reading, and tells its length in bytes.
///
/// A FIFO that took a file's place does not hold the program up, and what is no ordinary file is refused.
///
/// # Errors
/// What the system says on opening; that it is no file.
pub fn open(path: &Path) -> io::Result<(File, u64)> {
    #[cfg(unix)]
    return file_at(rustix::fs::CWD, path, true);
    #[cfg(not(unix))]
    return match File::open(super::exact(path)) {
        // Opening one as a file is a matter of rights there.
        Err(_) if path.is_dir() => Err(io::ErrorKind::IsADirectory.into()),
        opened => a_file(opened?),
    };
}

/// The bytes of a file of at most `most` bytes, opened as [`open()`] does. Where `follow` is not set, a link
/// is not read: what lies on a card must not choose which files of the machine are shown.
///
/// # Errors
/// What the system says; that it is a link, no file, or larger.
pub fn contents(path: &Path, most: u64, follow: bool) -> io::Result<Vec<u8>> {
    if !follow && path.symlink_metadata()?.file_type().is_symlink() {
        return Err(io::Error::other("it is a link, and what it leads to is not read"));
    }
    #[cfg(unix)]
    let (file, length) = file_at(rustix::fs::CWD, path, follow)?;
    #[cfg(not(unix))]
    let (file, length) = open(path)?;
    let too_large = || io::Error::other(format!("it is larger than {most} bytes"));
    if length > most {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    // It may grow while it is read.
    file.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most { Err(too_large()) } else { Ok(bytes) }
}

fn a_file(file: File) -> io::Result<(File, u64)> {
    let meta = file.metadata()?;
    if meta.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if !meta.is_file() {
        return Err(io::Error::other("it is no file any more"));
    }
    Ok((file, meta.len()))
}

/// The same for a path below an open folder; where `follow` is not set, a link in the last part is an error.
#[cfg(unix)]
pub(super) fn file_at(folder: BorrowedFd<'_>, path: &Path, follow: bool) -> io::Result<(File, u64)> {
    let plain = OFlags::NONBLOCK | OFlags::NOCTTY | following(follow);
    // Only the owner of a file may leave its access time alone (open(2), O_NOATIME); for others it is opened
    // without that.
    #[cfg(any(target_os = "linux", target_os = "android"))]
    let opened = match with(folder, path, plain | OFlags::NOATIME) {
        Err(rustix::io::Errno::PERM) => with(folder, path, plain),
        done => done,
    };
    #[cfg(not(any(target_os = "linux", target_os = "android")))]
    let opened = with(folder, path, plain);
    a_file(opened?.into())
}

/// Opens a folder, to reach what lies in it; where `follow` is not set, a link in the last part is an error.
#[cfg(unix)]
pub(super) fn folder_at(folder: BorrowedFd<'_>, path: &Path, follow: bool) -> io::Result<OwnedFd> {
    // A folder that may be passed and not listed serves, too, where the system has a handle for that
    // (open(2), O_PATH).
    #[cfg(any(target_os = "linux", target_os = "android"))]
    let passing = OFlags::PATH;
    #[cfg(not(any(target_os = "linux", target_os = "android")))]
    let passing = OFlags::empty();
    Ok(with(folder, path, OFlags::DIRECTORY | passing | following(follow))?)
}

#[cfg(unix)]
fn following(follow: bool) -> OFlags {
    if follow { OFlags::empty() } else { OFlags::NOFOLLOW }
}

#[cfg(unix)]
fn with(folder: BorrowedFd<'_>, path: &Path, flags: OFlags) -> rustix::io::Result<OwnedFd> {
    let flags = flags | OFlags::RDONLY | OFlags::CLOEXEC;
    rustix::io::retry_on_intr(|| openat(folder, path, flags, Mode::empty()))
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_file_is_refused_at_once() {
        let dir = tempfile::tempdir().unwrap();
        assert!(open(dir.path()).is_err());
        assert!(open(Path::new("/dev/zero")).is_err());
        let fifo = dir.path().join("WEIR0001.JPG");
        if std::process::Command::new("mkfifo").arg(&fifo).status().is_ok_and(|s| s.success()) {
            assert!(open(&fifo).is_err());
        }
        std::fs::write(dir.path().join("a"), b"abc").unwrap();
        assert_eq!(open(&dir.path().join("a")).unwrap().1, 3);
    }
}

#[cfg(test)]
mod named_like_devices {
    use crate::card::exact::exact;

    #[test]
    fn a_file_called_like_a_device_is_read() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("NUL.JPG");
        std::fs::write(exact(&file), b"abc").unwrap();
        assert_eq!(super::open(&file).unwrap().1, 3);
    }
}
