//! The lengths of files that were found. A folder is opened once and its files are asked for by name: on a
//! card of ten thousand frames finding each path anew would take longer than all else of the walk.

use std::num::NonZeroUsize;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;

use super::file::CardFile;

/// Fewer files than this are not worth a thread's start.
const FOR_A_THREAD: usize = 256;

/// Puts into each file of `folder` its length in bytes; 0 where the system does not tell it.
pub(crate) fn weigh(folder: &Path, files: &mut [CardFile]) {
    let scale = Scale::of(folder);
    let processors = thread::available_parallelism().map_or(1, NonZeroUsize::get);
    let share = files.len().div_ceil(processors).max(FOR_A_THREAD);
    if files.len() <= share {
        return scale.weigh(files);
    }
    let shares: Vec<_> = files.chunks_mut(share).map(Mutex::new).collect();
    let next = AtomicUsize::new(0);
    let work = || {
        while let Some(share) = shares.get(next.fetch_add(1, Ordering::Relaxed)) {
            scale.weigh(&mut share.lock().unwrap_or_else(PoisonError::into_inner));
        }
    };
    // These threads are gone when the walk ends: those that read frames are started later, when the right to
    // write is given up. What a thread that cannot be started would have done, the others do.
    thread::scope(|scope| {
        for _ in 1..shares.len() {
            if thread::Builder::new().spawn_scoped(scope, work).is_err() {
                break;
            }
        }
        work();
    });
}

struct Scale<'a> {
    path: &'a Path,
    #[cfg(unix)]
    folder: Option<rustix::fd::OwnedFd>,
}

impl<'a> Scale<'a> {
    fn of(path: &'a Path) -> Self {
        #[cfg(unix)]
        use rustix::fs::{Mode, OFlags};
        Self {
            path,
            #[cfg(unix)]
            folder: rustix::fs::open(
                path,
                OFlags::RDONLY | OFlags::DIRECTORY | OFlags::CLOEXEC,
                Mode::empty(),
            )
            .ok(),
        }
    }

    fn weigh(&self, files: &mut [CardFile]) {
        for file in files {
            file.bytes = self.bytes_of(file);
        }
    }

    /// A link is not followed: what it leads to is no frame of the card.
    fn bytes_of(&self, file: &CardFile) -> u64 {
        #[cfg(unix)]
        if let Some(folder) = &self.folder {
            let told =
                rustix::fs::statat(folder, Path::new(&*file.name), rustix::fs::AtFlags::SYMLINK_NOFOLLOW);
            return told.ok().and_then(|s| u64::try_from(s.st_size).ok()).unwrap_or(0);
        }
        super::exact(&self.path.join(Path::new(&*file.name))).symlink_metadata().map_or(0, |m| m.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::FileKind;

    #[test]
    fn every_file_has_its_own_length() {
        let dir = tempfile::tempdir().unwrap();
        let count = 3 * FOR_A_THREAD + 1;
        let name = |i: usize| format!("WEIR{i:04}.JPG");
        let mut files: Vec<CardFile> = (0..count)
            .map(|i| {
                std::fs::write(dir.path().join(name(i)), vec![0; i]).unwrap();
                CardFile {
                    folder: 0,
                    name: std::ffi::OsString::from(name(i)).into(),
                    bytes: 7,
                    kind: FileKind::Jpeg,
                }
            })
            .collect();
        std::fs::remove_file(dir.path().join(name(5))).unwrap();
        weigh(dir.path(), &mut files);
        let expected = (0..count).map(|i| if i == 5 { 0 } else { i as u64 });
        assert!(files.iter().map(|f| f.bytes).eq(expected));
    }
}
