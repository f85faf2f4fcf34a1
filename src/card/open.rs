//! Opening a file of the card: for reading alone, without ever waiting, and without a new access time where the system lets a
//! reader ask for that.

use std::fs::{File, OpenOptions};
use std::io;
use std::path::Path;

/// Opens `path` for reading, and tells its length in bytes.
///
/// A FIFO that took a file's place does not hold the program up, and what is no ordinary file is refused.
///
/// # Errors
/// What the system says on opening; that it is no file.
pub fn open(path: &Path) -> io::Result<(File, u64)> {
    let file = opened(path)?;
    let meta = file.metadata()?;
    if !meta.is_file() {
        return Err(io::Error::other("it is no file any more"));
    }
    Ok((file, meta.len()))
}

/// Only the owner of a file may leave its access time alone (open(2), O_NOATIME); for others it is opened without that.
#[cfg(any(target_os = "linux", target_os = "android"))]
fn opened(path: &Path) -> io::Result<File> {
    use rustix::fs::OFlags;
    let plain = OFlags::NONBLOCK | OFlags::NOCTTY;
    match with(path, plain | OFlags::NOATIME) {
        Err(e) if e.kind() == io::ErrorKind::PermissionDenied => with(path, plain),
        done => done,
    }
}

#[cfg(all(unix, not(any(target_os = "linux", target_os = "android"))))]
fn opened(path: &Path) -> io::Result<File> {
    with(path, rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY)
}

#[cfg(unix)]
fn with(path: &Path, flags: rustix::fs::OFlags) -> io::Result<File> {
    use std::os::unix::fs::OpenOptionsExt;
    // The bits of these flags lie well within the type that the system call takes.
    OpenOptions::new().read(true).custom_flags(flags.bits().cast_signed()).open(path)
}

#[cfg(not(unix))]
fn opened(path: &Path) -> io::Result<File> {
    OpenOptions::new().read(true).open(path)
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
