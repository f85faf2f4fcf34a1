//! SHA-256 of whole files, in parallel, with progress in bytes. Each file is read once, in pieces; memory
//! does not grow with them.

use std::fs::File;
use std::io::{self, Read as _};
use std::num::NonZeroUsize;
use std::sync::atomic::{AtomicBool, Ordering};

use super::workers::Workers;
use rayon::prelude::*;
use sha2::{Digest as _, Sha256};

/// Bytes that are read and hashed at a time: a slow card gives them within a second, so that an interruption
/// is heard.
const PIECE: usize = 1 << 18;

/// A file's SHA-256 (FIPS 180-4) and how many bytes went into it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Digest {
    /// The digest.
    pub sha256: [u8; 32],
    /// Length of the file, bytes.
    pub bytes: u64,
}

/// Hashes every file, on `jobs` threads (`None`: one a processor), in the order given; `open` opens each when
/// its turn has come. `progress` is called from any thread with the number of bytes done since its last call.
/// Where `stop` is raised, files that were not finished are errors of kind *interrupted*.
pub fn digests<T: Sync>(
    files: &[T],
    open: &(dyn Fn(&T) -> io::Result<File> + Sync),
    jobs: Option<usize>,
    progress: &(dyn Fn(u64) + Sync),
    stop: &AtomicBool,
) -> Vec<io::Result<Digest>> {
    let processors = std::thread::available_parallelism().map_or(1, NonZeroUsize::get);
    let one = |file: &T| digest(open(file)?, progress, stop);
    Workers::start(jobs.unwrap_or(processors)).run(|| files.par_iter().map(one).collect())
}

fn digest(mut file: File, progress: &(dyn Fn(u64) + Sync), stop: &AtomicBool) -> io::Result<Digest> {
    let mut hash = Sha256::new();
    let mut piece = vec![0; PIECE];
    let mut bytes = 0_u64;
    loop {
        if stop.load(Ordering::Relaxed) {
            return Err(io::Error::new(io::ErrorKind::Interrupted, "stopped before it was read"));
        }
        match file.read(&mut piece) {
            Ok(0) => break,
            Ok(n) => {
                hash.update(piece.get(..n).unwrap_or_default());
                bytes += n as u64;
                progress(n as u64);
            }
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(Digest { sha256: hash.finalize().into(), bytes })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    const OPEN: &(dyn Fn(&PathBuf) -> io::Result<File> + Sync) = &|path| Ok(crate::card::open(path)?.0);
    use std::sync::atomic::AtomicU64;

    fn hex(digest: &[u8; 32]) -> String {
        digest.iter().map(|b| format!("{b:02x}")).collect()
    }

    /// FIPS 180-4's examples, as NIST publishes them ("abc", the empty message), and a million "x" by GNU
    /// coreutils.
    #[test]
    fn the_published_digests() {
        let dir = tempfile::tempdir().unwrap();
        let million = "x".repeat(1_000_000);
        let files: Vec<_> = [("a", "abc"), ("b", ""), ("c", million.as_str())]
            .map(|(name, text)| {
                std::fs::write(dir.path().join(name), text).unwrap();
                dir.path().join(name)
            })
            .to_vec();
        let done = AtomicU64::new(0);
        let count = |n| {
            done.fetch_add(n, Ordering::Relaxed);
        };
        let told = digests(&files, OPEN, Some(2), &count, &AtomicBool::new(false));
        let told: Vec<_> = told.into_iter().map(|d| d.map(|d| (hex(&d.sha256), d.bytes)).unwrap()).collect();
        assert_eq!(told[0].0, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(told[1].0, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
        assert_eq!(told[2].0, "1b977e9f84f1b26b6ed7f68b0498faee2385ea4125bd29adce4a7d9106ba3134");
        assert_eq!(told.iter().map(|d| d.1).collect::<Vec<_>>(), [3, 0, 1_000_000]);
        assert_eq!(done.into_inner(), 1_000_003);
    }

    #[test]
    fn what_cannot_be_read_is_told_in_its_place() {
        let dir = tempfile::tempdir().unwrap();
        std::fs::write(dir.path().join("a"), "abc").unwrap();
        let files = [dir.path().join("gone"), dir.path().join("a")];
        let told = digests(&files, OPEN, None, &|_| {}, &AtomicBool::new(false));
        assert!(told[0].is_err() && told[1].is_ok());
        let stopped = digests(&files[1..], OPEN, None, &|_| {}, &AtomicBool::new(true));
        assert_eq!(stopped[0].as_ref().map_err(io::Error::kind), Err(io::ErrorKind::Interrupted));
    }
}
