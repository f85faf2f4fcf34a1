//! How `compare` reads: what fails, what comes out of memory, what a stopped run left, and any names at all.

use crate::support::run::{put, temp};
use crate::support::side_by_side::{card, compared, library, run_compare as run, shows};
use lapseproof::compare::{self, Answer, Comparison, Found, Known, ReadBack, ReadFrom, Version};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// A file of the disk with something of its own: an error, another origin, another state.
struct Odd {
    inner: Box<dyn ReadBack>,
    fails: bool,
    from: Option<ReadFrom>,
    grows: bool,
}

impl ReadBack for Odd {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        // EIO, errno(3): a place of the disk that cannot be read.
        if self.fails { Err(io::Error::from_raw_os_error(5)) } else { self.inner.read(into) }
    }

    fn version(&self) -> io::Result<Version> {
        let version = self.inner.version()?;
        Ok(if self.grows { Version { bytes: version.bytes + 1, ..version } } else { version })
    }

    fn came_from(&mut self) -> ReadFrom {
        let real = self.inner.came_from();
        self.from.unwrap_or(real)
    }
}

/// Opens files so that those of `root` whose path ends in `name` are odd.
fn odd<'a>(
    root: &'a str,
    name: &'a str,
    with: impl Fn(Box<dyn ReadBack>) -> Odd + Sync + 'a,
) -> impl Fn(&compare::Tree, &compare::TreeFile) -> io::Result<Box<dyn ReadBack>> + Sync + 'a {
    move |tree, file| {
        let inner = compare::from_disk(tree, file)?;
        match tree.root.ends_with(root) && file.path.ends_with(name) {
            true => Ok(Box::new(with(inner))),
            false => Ok(inner),
        }
    }
}

#[test]
fn what_cannot_be_read_is_no_answer() {
    let dir = temp();
    card(dir.path());
    let plain = |inner| Odd { inner, fails: false, from: None, grows: false };
    for root in ["card", "copy"] {
        let broken = odd(root, "WEIR0001.NEF", |inner| Odd { fails: true, ..plain(inner) });
        let told = library(dir.path(), &Known::default(), &broken);
        assert_eq!(told.answer(true), Answer::Unread, "{root}");
        let unread: Vec<_> =
            told.copies[0].found.iter().filter(|f| matches!(f, Found::Unread { .. })).collect();
        assert_eq!(unread.len(), 1, "{unread:?}");
        let growing = odd(root, "WEIR0001.NEF", |inner| Odd { grows: true, ..plain(inner) });
        assert_eq!(library(dir.path(), &Known::default(), &growing).answer(true), Answer::Unread);
    }
    // One that fails once is read again before that is believed.
    let first = AtomicBool::new(true);
    let once = odd("copy", "WEIR0001.NEF", |inner| Odd {
        fails: first.swap(false, Ordering::Relaxed),
        ..plain(inner)
    });
    assert_eq!(library(dir.path(), &Known::default(), &once).answer(true), Answer::EveryFile);
}

/// "Every file" is said of what came from the disk alone.
#[test]
fn what_came_out_of_memory_proves_nothing() {
    let dir = temp();
    card(dir.path());
    for (from, without, with) in [
        (ReadFrom::Memory, Answer::NotProven, Answer::NotProven),
        (ReadFrom::Unknown, Answer::NotProven, Answer::EveryFile),
    ] {
        let open = odd("copy", "WEIR0001.NEF", move |inner| Odd {
            inner,
            fails: false,
            from: Some(from),
            grows: false,
        });
        let told = library(dir.path(), &Known::default(), &open);
        let words = lapseproof::outputs::comparison::first_line(&told, false);
        assert_eq!((told.answer(false), told.answer(true)), (without, with), "{words}");
        assert!(words.starts_with("NOT PROVEN: every file is equal (8 files, 83.51 kB), but "), "{words}");
    }
}

/// A run that is stopped in the middle, and the one after it.
struct Halved {
    dir: tempfile::TempDir,
    lines: String,
}

/// Stops once the first half is read.
fn halved() -> Halved {
    let dir = temp();
    card(dir.path());
    let (stop, done, lines) = (AtomicBool::new(false), AtomicU64::new(0), Mutex::new(String::new()));
    let progress = |more| {
        if done.fetch_add(more, Ordering::Relaxed) + more > 83_510 {
            stop.store(true, Ordering::Relaxed);
        }
    };
    let keep = |line: &str| lines.lock().expect("no panic").push_str(line);
    let told = compared(dir.path(), &Known::default(), &compare::from_disk, &keep, &progress, &stop);
    assert_eq!(told.answer(true), Answer::Stopped, "nothing is missing so far");
    assert!(told.copies[0].extra.is_empty(), "what was not read is not known to be in the copy alone");
    let lines = lines.into_inner().expect("no panic");
    assert!(lines.lines().count() >= 8, "the card's files are read first:\n{lines}");
    Halved { dir, lines }
}

/// Which files are opened by a run that knows `lines`, and what it answers.
fn continued(dir: &Path, lines: &str) -> (BTreeSet<PathBuf>, Comparison) {
    let opened = Mutex::new(BTreeSet::new());
    let told = library(dir, &Known::from_text(lines, false), &|tree, file| {
        let path = tree.root.join(&file.path);
        opened.lock().expect("no panic").insert(path.strip_prefix(dir).expect("below it").to_owned());
        compare::from_disk(tree, file)
    });
    (opened.into_inner().expect("no panic"), told)
}

#[test]
fn a_run_that_was_stopped_goes_on() {
    let Halved { dir, lines } = halved();
    let (opened, told) = continued(dir.path(), &lines);
    let before = lines.lines().count();
    assert_eq!((opened.len(), told.earlier), (16 - before, before as u64), "each file once in both runs");
    assert_eq!(told.answer(true), Answer::EveryFile);
    let words = lapseproof::outputs::comparison::told(&told, true, false, false);
    let line = format!("{before} files were read back by an earlier run that was stopped");
    assert!(words.contains(&line), "{words}");
}

/// What changed since is read again, even where length and time are those of before.
#[test]
fn what_changed_between_two_runs_is_read_again() {
    let Halved { dir, lines } = halved();
    let path = dir.path().join("card/DCIM/100WEIR/WEIR0001.JPG");
    let was = fs::metadata(&path).expect("a file").modified().expect("a time");
    let mut bytes = fs::read(&path).expect("a file");
    bytes[17] ^= 1;
    fs::write(&path, bytes).expect("written");
    fs::File::options()
        .write(true)
        .open(&path)
        .and_then(|f| f.set_modified(was))
        .expect("its time of before");
    // Other systems than those of that family do not tell when the record of a file changed.
    if cfg!(unix) {
        let (opened, told) = continued(dir.path(), &lines);
        assert!(opened.contains(Path::new("card/DCIM/100WEIR/WEIR0001.JPG")), "{opened:?}");
        assert_eq!(told.answer(true), Answer::NotInEach);
    }
    fs::File::options()
        .write(true)
        .open(&path)
        .and_then(|f| f.set_modified(was + std::time::Duration::from_secs(2)))
        .expect("another time");
    assert_eq!(continued(dir.path(), &lines).1.answer(true), Answer::NotInEach);
}

/// The command goes on as well: the record of a run that was ended in any way lies in the state folder.
#[test]
fn the_command_goes_on_with_its_record() {
    let Halved { dir, lines } = halved();
    fs::write(dir.path().join("state.txt"), &lines[..lines.len() - 3]).expect("written");
    let (rc, told, said) = run(dir.path(), &["card", "copy", "--state", "state.txt"]);
    let before = lines.lines().count() - 1;
    let words = format!("{before} files were read back by an earlier run that was stopped");
    // The paths are those that the library was given: absolute ones.
    assert_eq!(rc, Some(0), "{told}{said}");
    if shows() {
        assert!(told.contains(&words), "{told}");
    }
    assert!(!dir.path().join("state.txt").exists(), "it goes when all was read");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Any shuffle of names and folders over the same contents is every file; any content less is not.
    #[test]
    fn any_shuffle_of_names_is_every_file(
        contents in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..40), 1..12),
        names in prop::collection::btree_set("[a-c]/[a-d]{1,3}", 24..30),
        left_out in any::<prop::sample::Index>(),
        order in any::<u64>(),
    ) {
        let dir = temp();
        let names: Vec<_> = names.into_iter().collect();
        let mut shuffled = names.clone();
        // Their order by a hash that the case chose.
        let mixed = |h: u64, b: u8| h.rotate_left(7) ^ u64::from(b).wrapping_mul(977);
        shuffled.sort_by_key(|n| n.bytes().fold(order, mixed));
        for (i, bytes) in contents.iter().enumerate() {
            put(dir.path(), Path::new("card").join(&names[i]), bytes);
            put(dir.path(), Path::new("copy").join(&shuffled[i]), bytes);
        }
        let told = library(dir.path(), &Known::default(), &compare::from_disk);
        prop_assert_eq!(told.answer(true), Answer::EveryFile);
        let gone = left_out.index(contents.len());
        fs::remove_file(dir.path().join("copy").join(&shuffled[gone])).expect("removed");
        let told = library(dir.path(), &Known::default(), &compare::from_disk);
        prop_assert_eq!(told.answer(true), Answer::NotInEach);
        prop_assert_eq!(told.copies[0].lost(), 1);
    }
}
