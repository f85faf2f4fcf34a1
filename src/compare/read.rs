//! The reading: every file once, whole, on threads of their own for each disk, so that a card reader and a
//! disk work at the same time.

use super::candidates::Task;
use super::known::Known;
use super::past_cache::{OnDisk, ReadBack, ReadFrom};
use super::seen::{FileState, Seen, Sha};
use super::tree::{Tree, TreeFile, Version};
use crate::card::{Below, NotBelow};
use crate::units::refusal;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::io;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::thread;

/// Bytes that are read and hashed at a time: a slow card gives them within a second, so that an interruption
/// is heard.
const PIECE: usize = 1 << 20;

/// Opens a file of a tree to read it back. A test stands in for the disk with one that fails.
pub type Open<'a> = dyn Fn(&Tree, &TreeFile) -> io::Result<Box<dyn ReadBack>> + Sync + 'a;

/// How files are read.
pub struct Reading<'a> {
    /// Files read at a time on each disk; `None`: two, so that one is hashed while the other is fetched.
    pub jobs: Option<usize>,
    /// The disks were taken out and put in again since the copying: what is read now is worth more than what
    /// an earlier run may have read out of memory.
    pub replugged: bool,
    /// Opens each file when its turn has come; see [`from_disk`].
    pub open: &'a Open<'a>,
    /// Called from any thread with each line that an earlier run's record grows by.
    pub keep: &'a (dyn Fn(&str) + Sync),
    /// Called from any thread with the number of bytes done since its last call.
    pub progress: &'a (dyn Fn(u64) + Sync),
    /// Raised to stop the reading.
    pub stop: &'a AtomicBool,
}

/// Opens a file below its tree's root, through no link, to read it from the disk.
///
/// # Errors
/// What the system says; that a link stands in the way.
pub fn from_disk(tree: &Tree, file: &TreeFile) -> io::Result<Box<dyn ReadBack>> {
    let opened = Below::open(&tree.root)?.file(&file.path).map_err(|e| match e {
        NotBelow::System(e) => e,
        NotBelow::Link(_) => io::Error::other("a link took its place"),
        NotBelow::Outside => io::ErrorKind::NotFound.into(),
    })?;
    Ok(Box::new(OnDisk::new(opened.0)))
}

/// What became of every file, tree by tree.
pub(crate) fn read_all(
    trees: &[Tree],
    tasks: &[Task],
    known: &Known,
    how: &Reading<'_>,
) -> Vec<Vec<FileState>> {
    let mut groups: BTreeMap<Option<String>, Vec<&Task>> = BTreeMap::new();
    let disks: Vec<_> = trees.iter().map(Tree::disk).collect();
    for task in tasks {
        groups.entry(disks.get(task.tree).cloned().flatten()).or_default().push(task);
    }
    let done: Vec<OnceLock<FileState>> = tasks.iter().map(|_| OnceLock::new()).collect();
    let slot: BTreeMap<(usize, usize), &OnceLock<FileState>> =
        tasks.iter().map(|t| (t.tree, t.file)).zip(&done).collect();
    let reader = Reader { trees, known, how, record: Mutex::new(()) };
    let (reader, slot) = (&reader, &slot);
    thread::scope(|scope| {
        for group in groups.into_values() {
            let threads = how.jobs.unwrap_or(2).clamp(1, group.len());
            let work = std::sync::Arc::new((group, AtomicUsize::new(0)));
            let run = move |work: &(Vec<&Task>, AtomicUsize)| {
                let mut piece = vec![0; PIECE];
                while let Some(task) = work.0.get(work.1.fetch_add(1, Ordering::Relaxed)) {
                    if let Some(slot) = slot.get(&(task.tree, task.file)) {
                        let _ = slot.set(reader.file(task, &mut piece));
                    }
                }
            };
            for started in 0..threads {
                let own = std::sync::Arc::clone(&work);
                let spawned = thread::Builder::new().spawn_scoped(scope, move || run(&own));
                if spawned.is_err() && started == 0 {
                    run(&work);
                }
            }
        }
    });
    let mut states: Vec<Vec<FileState>> =
        trees.iter().map(|t| vec![FileState::default(); t.files.len()]).collect();
    for (task, state) in tasks.iter().zip(done) {
        let place = states.get_mut(task.tree).and_then(|files| files.get_mut(task.file));
        if let Some(place) = place {
            *place = state.into_inner().unwrap_or(FileState::NotReached);
        }
    }
    states
}

struct Reader<'a> {
    trees: &'a [Tree],
    known: &'a Known,
    how: &'a Reading<'a>,
    /// One thread at a time adds to the record, so that its lines stay whole.
    record: Mutex<()>,
}

impl Reader<'_> {
    /// A file that fails, or that came out of memory, is read once more before that is believed.
    fn file(&self, task: &Task, piece: &mut [u8]) -> FileState {
        let Some((tree, file)) = self.trees.get(task.tree).and_then(|t| Some((t, t.files.get(task.file)?)))
        else {
            return FileState::NotReached;
        };
        if let Some(seen) = self.known.seen(tree, file, &task.marks) {
            (self.how.progress)(file.version.bytes);
            return FileState::Seen(seen);
        }
        let first = self.read(tree, file, task, piece, true);
        let last = match first {
            Ok(Some(seen)) if seen.from == ReadFrom::Memory => self.read(tree, file, task, piece, false),
            Err(_) => self.read(tree, file, task, piece, false),
            done => done,
        };
        match last {
            Ok(None) => FileState::NotReached,
            Ok(Some(seen)) => {
                if let Some(line) = Known::line(tree, file, &seen, self.how.replugged) {
                    let _one = self.record.lock().unwrap_or_else(PoisonError::into_inner);
                    (self.how.keep)(&line);
                }
                FileState::Seen(seen)
            }
            Err(e) => FileState::Failed(refusal(&e)),
        }
    }

    /// `None` where it was stopped on the way.
    fn read(
        &self,
        tree: &Tree,
        file: &TreeFile,
        task: &Task,
        piece: &mut [u8],
        counts: bool,
    ) -> io::Result<Option<Seen>> {
        if self.how.stop.load(Ordering::Relaxed) {
            return Ok(None);
        }
        let mut back = (self.how.open)(tree, file)?;
        let mut hash = Marked::new(&task.marks);
        loop {
            if self.how.stop.load(Ordering::Relaxed) {
                return Ok(None);
            }
            match back.read(piece) {
                Ok(0) => break,
                Ok(n) => {
                    hash.update(piece.get(..n).unwrap_or_default());
                    if counts {
                        (self.how.progress)(n as u64);
                    }
                }
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        let unchanged = |now: Version| now == file.version && hash.length == now.bytes;
        if !unchanged(back.version()?) {
            return Err(io::Error::other("it changed while it was compared"));
        }
        let (digest, marks) = hash.finish();
        Ok(Some(Seen { digest, marks, from: back.came_from(), earlier: false }))
    }
}

/// A digest that is also noted at some lengths on the way.
struct Marked<'a> {
    hash: Sha256,
    length: u64,
    ahead: &'a [u64],
    marks: Vec<(u64, Sha)>,
}

impl<'a> Marked<'a> {
    fn new(ahead: &'a [u64]) -> Self {
        Self { hash: Sha256::new(), length: 0, ahead, marks: Vec::new() }
    }

    fn update(&mut self, mut bytes: &[u8]) {
        while let Some((mark, later)) = self.ahead.split_first() {
            let until = usize::try_from(mark - self.length).unwrap_or(usize::MAX);
            let Some((head, tail)) = bytes.split_at_checked(until) else { break };
            self.hash.update(head);
            self.length = *mark;
            self.marks.push((*mark, self.hash.clone().finalize().into()));
            (bytes, self.ahead) = (tail, later);
        }
        self.hash.update(bytes);
        self.length += bytes.len() as u64;
    }

    fn finish(self) -> (Sha, Vec<(u64, Sha)>) {
        (self.hash.finalize().into(), self.marks)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hex(digest: Sha) -> String {
        digest.iter().map(|b| format!("{b:02x}")).collect()
    }

    /// FIPS 180-4's examples, as NIST publishes them: the empty message, "abc", and the message of 56 bytes.
    #[test]
    fn digests_on_the_way_are_those_of_the_beginnings() {
        let long = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
        for step in [1, 2, 5, 56] {
            let mut hash = Marked::new(&[1, 2, 55]);
            long.chunks(step).for_each(|piece| hash.update(piece));
            let (digest, marks) = hash.finish();
            assert_eq!(hex(digest), "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
            let expected = [1_usize, 2, 55].map(|n| (n as u64, Sha::from(Sha256::digest(&long[..n]))));
            assert_eq!(marks, expected);
        }
        let mut abc = Marked::new(&[3]);
        abc.update(b"abcdef");
        assert_eq!(
            hex(abc.finish().1[0].1),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(
            hex(Marked::new(&[]).finish().0),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
        );
    }
}
