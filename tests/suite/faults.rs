//! Files that fail while they are read: errors, short reads, every cut, every bit of a header. Nothing
//! panics, nothing hangs, and no file costs more than its budget. (`read_source` catches a reader's panic: it
//! is looked for in its words.) And a disk that fails while outputs are written, at each call in turn: what
//! stands there is whole, the earlier set or the new one.

use std::cell::Cell as Counter;
use std::collections::BTreeMap;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::support::containers::{BIG, LITTLE, V, WIDE, all, iso};
use lapseproof::frames::source::{HEAD_BYTES, ReadAt, Source};
use lapseproof::frames::{Cell, Damage, FileRead, Row, Want, read_source_for};
use lapseproof::store::{Disk, Folder, Kind, Output, Store, list};
use sha2::{Digest as _, Sha256};

/// What a file may cost at most: the head (a byte a call at worst), and what is allowed behind it.
const MOST_BYTES: u64 = 4 * 1024 * 1024 + HEAD_BYTES as u64;
const MOST_READS: u32 = 1024 + HEAD_BYTES as u32;

fn all_of(mut source: Source) -> io::Result<FileRead> {
    let read = read_source_for(&mut source, Want { embedded: true });
    assert!(
        source.bytes_read() <= MOST_BYTES && source.reads() <= MOST_READS,
        "{} bytes in {} reads",
        source.bytes_read(),
        source.reads()
    );
    if let Ok(read) = &read {
        assert!(!read.row.damage.words().contains("its reader failed"), "{:?}", read.row.damage);
        assert!(read.embedded.iter().all(|e| e.at + e.len <= source.len()));
    }
    read
}

fn over(bytes: &[u8]) -> FileRead {
    all_of(Source::over(bytes.to_vec()).expect("memory")).expect("memory")
}

/// The built files and the smallest real ones, with picture data shortened, so that every byte can be tried.
fn samples() -> Vec<(String, Vec<u8>)> {
    let mut out: Vec<_> = all().into_iter().map(|(name, bytes)| (name.to_owned(), bytes)).collect();
    let Some(real) = crate::support::real() else { return out };
    let mut files: Vec<PathBuf> = std::fs::read_dir(real.join("files"))
        .expect("a folder")
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e != "tsv"))
        .collect();
    files.sort();
    let mut kinds = std::collections::BTreeMap::new();
    for path in files {
        let bytes = std::fs::read(&path).expect("a real file");
        let name = path.file_name().expect("a name").to_string_lossy().into_owned();
        let count = kinds.entry(path.extension().map(|e| e.to_ascii_lowercase())).or_insert(0);
        if bytes.len() < 160_000 && *count < 1 {
            *count += 1;
            out.push((name, bytes));
        }
    }
    out
}

#[test]
fn cut_at_every_byte() {
    for (name, bytes) in samples() {
        let whole = over(&bytes);
        // Every byte of the header, then in steps; the last ones each.
        let steps = (0..bytes.len().min(1500))
            .chain((1500..bytes.len()).step_by(997))
            .chain(bytes.len().saturating_sub(20)..bytes.len());
        for len in steps {
            let read = over(&bytes[..len]);
            if whole.row.damage == Damage::None && len < bytes.len() / 2 {
                assert!(
                    read.row.damage.is_some() || ends_early(&name),
                    "{name} cut at {len} of {}",
                    bytes.len()
                );
            }
        }
    }
}

/// Files whose picture ends long before they do, or that say nothing of where it ends.
fn ends_early(name: &str) -> bool {
    name.contains("MPO") || name.contains("mpo") || name.ends_with(".nef")
}

#[test]
fn a_bit_flipped_at_every_byte_of_the_header() {
    for (_, mut bytes) in samples() {
        // Picture data behind the header has no say; a shorter file is copied faster.
        bytes.truncate(20_000);
        for at in 0..bytes.len().min(900) {
            bytes[at] ^= 1 << (at % 8);
            over(&bytes);
            bytes[at] ^= 1 << (at % 8);
        }
        // Numbers at their ends: 16 and 32 bits of ones.
        for at in (0..bytes.len().min(600).saturating_sub(4)).step_by(2) {
            for width in [2, 4] {
                let kept = bytes[at..at + width].to_vec();
                bytes[at..at + width].fill(0xFF);
                over(&bytes);
                bytes[at..at + width].copy_from_slice(&kept);
            }
        }
    }
}

/// A file that fails on purpose.
struct Faulty {
    bytes: Vec<u8>,
    calls: Counter<u32>,
    how: How,
}

#[derive(Clone, Copy)]
enum How {
    /// From this call on an error.
    Fails(u32),
    /// At most so many bytes a call.
    Short(usize),
    /// Interrupted before every call that gives something.
    Interrupted,
    /// Interrupted for ever.
    Stuck,
    /// From this call on as if it had been cut to nothing.
    Gone(u32),
}

impl ReadAt for Faulty {
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
        let call = self.calls.get();
        self.calls.set(call + 1);
        let most = match self.how {
            How::Fails(from) if call >= from => return Err(io::Error::other("the card gave up")),
            How::Gone(from) if call >= from => return Ok(0),
            How::Interrupted if call.is_multiple_of(2) => return Err(ErrorKind::Interrupted.into()),
            How::Stuck => return Err(ErrorKind::Interrupted.into()),
            How::Short(most) => most,
            _ => usize::MAX,
        };
        let count = into.len().min(most);
        self.bytes.read_some(&mut into[..count], offset)
    }
}

fn faulty(bytes: &[u8], how: How) -> io::Result<FileRead> {
    let file = Faulty { bytes: bytes.to_vec(), calls: Counter::new(0), how };
    all_of(Source::of(Box::new(file), bytes.len() as u64)?)
}

#[test]
fn short_and_interrupted_reads_change_nothing() {
    for (name, bytes) in samples() {
        let whole = over(&bytes);
        for how in [How::Short(1000), How::Short(4096), How::Interrupted] {
            let read = faulty(&bytes, how).expect("no error");
            assert_eq!((&read.row, &read.embedded), (&whole.row, &whole.embedded), "{name}");
        }
    }
}

#[test]
fn an_error_is_handed_on_and_a_file_that_vanishes_is_cut_short() {
    for (name, bytes) in samples() {
        let calls = (0..).find(|n| faulty(&bytes, How::Fails(*n)).is_ok()).expect("it ends");
        assert!(calls <= 64, "{name}: {calls} calls");
        for n in 0..calls {
            let error = faulty(&bytes, How::Fails(n)).err().expect("an error");
            assert_eq!(error.to_string(), "the card gave up", "{name}");
            faulty(&bytes, How::Gone(n)).expect("no error");
        }
        assert!(faulty(&bytes, How::Stuck).is_err(), "{name}");
    }
}

/// One byte a call: the calls are bounded too.
#[test]
fn a_trickle_ends() {
    for (_, bytes) in samples() {
        // What a call gives is counted in `all_of`.
        faulty(&bytes, How::Short(1)).expect("no error");
    }
}

/// Counts, offsets and lengths that lead everywhere: the cost stays within the budget, and what was asked is
/// unreadable.
#[test]
fn malicious_structures_cost_a_bounded_budget() {
    let mut wrong: Vec<(&str, Vec<u8>)> = Vec::new();
    // Directories that lead to each other, 4,000 of them.
    let mut chain = LITTLE.header(8);
    for i in 0..4000_u32 {
        chain.extend(LITTLE.directory(
            chain.len(),
            &[(0x014A, V::Long(8 + 18 * (i * 7 % 4000)))],
            8 + 18 * ((i + 1) % 4000) as usize,
        ));
    }
    wrong.push(("a loop of directories", chain));
    // The Exif directory is the main one.
    let own = [LITTLE.header(8), LITTLE.directory(8, &[(0x8769, V::Long(8))], 8)].concat();
    wrong.push(("a directory that holds itself", own));
    for form in [LITTLE, BIG, WIDE] {
        let mut full = form.file();
        full.resize(8_000_000, 0xFF);
        full.splice(form.header(0).len().., vec![0xFF; 1_000_000]);
        wrong.push(("a directory of as many entries as can be", full));
    }
    // A box in a box in a box; 500,000 boxes of eight bytes; chunks of nothing.
    let mut deep = Vec::new();
    for _ in 0..10_000 {
        deep = iso(b"meta", &deep);
        deep.truncate(80_000);
    }
    wrong.push(("boxes in boxes", [iso(b"ftyp", b"heic\0\0\0\0mif1"), deep].concat()));
    let many = [iso(b"ftyp", b"heic\0\0\0\0mif1"), iso(b"free", b"").repeat(500_000)].concat();
    wrong.push(("half a million boxes", many));
    let mut chunks = b"\x89PNG\r\n\x1A\n".to_vec();
    chunks.extend([0, 0, 0, 0, b't', b'E', b'X', b't', 0, 0, 0, 0].repeat(500_000));
    wrong.push(("half a million chunks", chunks));
    let mut riff = b"RIFF\xF8\xFF\xFF\x7FWEBP".to_vec();
    riff.extend(b"ALPH\0\0\0\0".repeat(500_000));
    wrong.push(("half a million pieces", riff));
    let mut segments = vec![0xFF, 0xD8];
    segments
        .extend([0xFF, 0xE1, 0x20, 0x00].iter().copied().chain([0; 0x1FFE]).collect::<Vec<_>>().repeat(3000));
    wrong.push(("segments without an end", segments));
    // Items of which each has 65,535 extents without a byte, and as many entries that ask for them.
    let mut places = vec![0, 0, 0, 0, 0, 0, 0x1F, 0xFF];
    let mut items = vec![0, 0, 0, 0, 0x1F, 0xFF];
    for id in 0..0x1FFF_u16 {
        places.extend([&id.to_be_bytes()[..], &[0, 0, 0xFF, 0xFF]].concat());
        let kind = [&[2, 0, 0, 0][..], &id.to_be_bytes(), &[0, 0], b"Exif", &[0]].concat();
        items.extend(iso(b"infe", &kind));
    }
    let inside = [vec![0; 4], iso(b"iinf", &items), iso(b"iloc", &places)].concat();
    wrong.push(("extents of nothing", [iso(b"ftyp", b"heic\0\0\0\0mif1"), iso(b"meta", &inside)].concat()));
    for (name, bytes) in wrong {
        let started = std::time::Instant::now();
        let row = over(&bytes).row;
        assert!(
            row.damage.is_some() || matches!(row.stamp, Cell::Absent | Cell::Unreadable),
            "{name}: {row:?}"
        );
        assert_eq!(row.stamp.known(), None, "{name}");
        assert!(started.elapsed().as_secs() < 10, "{name} took {:?}", started.elapsed());
    }
}

/// A fault in one file leaves the others as they are.
#[test]
fn other_frames_are_untouched() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let files = all();
    for (i, (_, bytes)) in files.iter().enumerate() {
        std::fs::write(dir.path().join(format!("A{i:03}.jpg")), bytes).expect("written");
    }
    let rows = || -> Vec<Row> {
        let card = lapseproof::card::walk(&[dir.path().to_path_buf()]);
        lapseproof::frames::read_all(card, Some(2), &|_| ()).rows
    };
    let before = rows();
    let broken = dir.path().join("A003.jpg");
    std::fs::write(&broken, &files[3].1[..40]).expect("written");
    let after = rows();
    for (i, (a, b)) in before.iter().zip(&after).enumerate() {
        assert_eq!(a == b, i != 3, "{i}");
    }
}

/// How a disk fails.
#[derive(Clone, Copy, Debug)]
enum Fault {
    /// This call alone.
    Once(usize),
    /// This call and all after it: the process is gone. What was being written stands there by half.
    Killed(usize),
}

/// A folder on the disk that fails on purpose.
#[derive(Debug)]
struct Failing {
    disk: Box<dyn Folder>,
    fault: Fault,
    calls: Arc<AtomicUsize>,
}

impl Failing {
    fn call(&self) -> io::Result<()> {
        let call = self.calls.fetch_add(1, Ordering::Relaxed);
        match self.fault {
            Fault::Once(at) if at == call => Err(io::Error::other("the disk gave up")),
            Fault::Killed(at) if at <= call => Err(io::Error::other("the process is gone")),
            _ => Ok(()),
        }
    }
}

impl Failing {
    /// A call that only looks: it fails where the process is gone.
    fn look(&self) -> io::Result<()> {
        match self.fault {
            Fault::Killed(at) if at < self.calls.load(Ordering::Relaxed) => {
                Err(io::Error::other("the process is gone"))
            }
            _ => Ok(()),
        }
    }
}

struct FailingFile(Box<dyn Output>, Failing);

impl Write for FailingFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if let Err(e) = self.1.call() {
            self.0.write_all(&bytes[..bytes.len() / 2])?;
            return Err(e);
        }
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl Output for FailingFile {
    fn sync(&mut self) -> io::Result<()> {
        self.1.call().and_then(|()| self.0.sync())
    }
}

impl Folder for Failing {
    fn inside(&self, name: &str) -> io::Result<Box<dyn Folder>> {
        self.look()?;
        let disk = self.disk.inside(name)?;
        Ok(Box::new(Self { disk, fault: self.fault, calls: Arc::clone(&self.calls) }))
    }

    fn create(&self, name: &str) -> io::Result<Box<dyn Output>> {
        self.call()?;
        let own = Self { disk: self.disk.inside(".")?, fault: self.fault, calls: Arc::clone(&self.calls) };
        Ok(Box::new(FailingFile(self.disk.create(name)?, own)))
    }

    fn read(&self, name: &str, most: u64) -> io::Result<Vec<u8>> {
        self.look().and_then(|()| self.disk.read(name, most))
    }

    fn kind(&self, name: &str) -> io::Result<Kind> {
        self.look().and_then(|()| self.disk.kind(name))
    }

    fn rename(&self, from: &str, to: &str) -> io::Result<()> {
        self.call().and_then(|()| self.disk.rename(from, to))
    }

    fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        self.call().and_then(|()| self.disk.rename_new(from, to))
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        self.call().and_then(|()| self.disk.remove(name))
    }

    fn remove_folder(&self, name: &str) -> io::Result<()> {
        self.call().and_then(|()| self.disk.remove_folder(name))
    }

    fn names(&self) -> io::Result<Vec<String>> {
        self.look().and_then(|()| self.disk.names())
    }

    fn sync(&self) -> io::Result<()> {
        self.call().and_then(|()| self.disk.sync())
    }
}

/// What a report and a delivery are made of, some of it in a folder of its own.
const REPORT: [(&str, &str); 2] = [("", "audit.json"), ("01-weir", "report.html")];
const DELIVERY: [(&str, &str); 3] =
    [("", "manifest-sha256.txt"), ("", "delivery.html"), ("camera-a", "patch.csv")];

/// A run: it writes its report, then what the client keeps, as an audit does.
fn run_of(top: Box<dyn Folder>, what: &str, deliver: bool) -> Result<(), lapseproof::store::Failed> {
    let store = Store::open(top)?;
    for set in [&REPORT[..], if deliver { &DELIVERY } else { &[] }] {
        let staged = set.iter().map(|(folder, name)| {
            store.stage(folder, name, |out| out.write_all(format!("{what} {name}").as_bytes()))
        });
        store.commit(staged.collect::<Result<_, _>>()?)?;
    }
    Ok(())
}

fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let files = walkdir::WalkDir::new(dir).into_iter().flatten().filter(|e| e.file_type().is_file());
    let name = |path: &Path| path.strip_prefix(dir).expect("below").to_str().expect("text").to_owned();
    files.map(|e| (name(e.path()), std::fs::read(e.path()).expect("readable"))).collect()
}

/// Which run wrote the files of a set: one, for all of them.
fn writer(files: &BTreeMap<String, Vec<u8>>, set: &[(&str, &str)], told: &str) -> String {
    let path = |(folder, name): &(&str, &str)| {
        if folder.is_empty() { (*name).into() } else { format!("{folder}/{name}") }
    };
    let word = |at: &(&str, &str)| {
        let bytes = files.get(&path(at)).unwrap_or_else(|| panic!("{told}: {} is gone", path(at)));
        let text = String::from_utf8(bytes.clone()).expect("text");
        assert_eq!(text.rsplit(' ').next(), Some(at.1), "{told}: whole");
        text.split(' ').next().expect("a word").to_owned()
    };
    let words: Vec<_> = set.iter().map(word).collect();
    assert!(words.iter().all(|w| *w == words[0]), "{told}: a mixture, {words:?}");
    words[0].clone()
}

/// A list that is there speaks of what is there.
fn listed(files: &BTreeMap<String, Vec<u8>>, told: &str) -> Option<list::List> {
    let list = list::read(files.get(list::NAME)?);
    for (path, sum) in &list.now {
        let bytes = files.get(path).unwrap_or_else(|| panic!("{told}: {path} is listed and gone"));
        assert_eq!(<[u8; 32]>::from(Sha256::digest(bytes)), *sum, "{told}: {path}");
    }
    Some(list)
}

#[test]
fn a_set_is_whole_whatever_call_of_the_disk_fails() {
    let template = tempfile::tempdir().expect("a temporary folder");
    run_of(Box::new(Disk::open(template.path()).expect("a folder")), "earlier", true).expect("nothing fails");
    std::fs::write(template.path().join("notes.txt"), b"mine").expect("written");
    for killed in [false, true] {
        for at in 0.. {
            let told = format!("call {at}, {}", if killed { "killed" } else { "one fault" });
            let dir = tempfile::tempdir().expect("a temporary folder");
            let disk = || Box::new(Disk::open(dir.path()).expect("a folder"));
            crate::support::run::copy(template.path(), dir.path());
            let calls = Arc::new(AtomicUsize::new(0));
            let fault = if killed { Fault::Killed(at) } else { Fault::Once(at) };
            let done =
                run_of(Box::new(Failing { disk: disk(), fault, calls: Arc::clone(&calls) }), "new", true);
            if calls.load(Ordering::Relaxed) <= at {
                assert!(done.is_ok() && at > 40, "{told}");
                break;
            }
            // What the run leaves: its list, where there is one, is true.
            let left = files(dir.path());
            listed(&left, &told);
            let sets = |files: &BTreeMap<String, Vec<u8>>| {
                [writer(files, &REPORT, &told), writer(files, &DELIVERY, &told)]
            };
            if done.is_ok() {
                assert_eq!(sets(&left), ["new", "new"], "{told}");
            } else if !killed {
                sets(&left);
            }
            // What the next run finds, before it writes anything.
            drop(Store::open(disk()).unwrap_or_else(|e| panic!("{told}: {}: {}", e.name, e.what)));
            let found = files(dir.path());
            let list = listed(&found, &told).unwrap_or_else(|| panic!("{told}: the list is gone"));
            let [report, delivery] = sets(&found);
            assert!(report == "new" || delivery == "earlier", "{told}");
            let of_two_runs = report != delivery;
            assert_eq!(list.earlier.len(), if of_two_runs { DELIVERY.len() } else { 0 }, "{told}");
            assert_eq!(found.get("notes.txt").map(Vec::as_slice), Some(&b"mine"[..]));
            let left_over: Vec<_> = found.keys().filter(|name| name.contains(".lapseproof.")).collect();
            assert!(left_over.is_empty(), "{told}: {left_over:?}");
        }
    }
}

/// A survey of a disk has more folders than a process may hold open: none is held.
#[cfg(target_os = "linux")]
#[test]
fn sets_of_many_folders_hold_no_folder_open() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let store = Store::open(Box::new(Disk::open(dir.path()).expect("a folder"))).expect("opened");
    // Other tests of this process hold other folders.
    let below = |fd: &std::io::Result<std::fs::DirEntry>| {
        fd.as_ref().is_ok_and(|fd| std::fs::read_link(fd.path()).is_ok_and(|to| to.starts_with(dir.path())))
    };
    let held = || {
        let all = std::fs::read_dir("/proc/self/fd").expect("this process");
        all.filter(below).count()
    };
    let before = held();
    let stage =
        |n| store.stage(&format!("{n:04}-weir"), "report.html", |out| out.write_all(b"x")).expect("staged");
    let staged: Vec<_> = (0..300).map(stage).collect();
    assert!(held() <= before + 1, "{} more", held() - before);
    assert_eq!(store.commit(staged).expect("put there").len(), 300);
}

/// What somebody else wrote under an output's name is left alone, and so is all that stands there.
#[test]
fn files_of_others_are_not_touched() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let disk = || Box::new(Disk::open(dir.path()).expect("a folder"));
    run_of(disk(), "earlier", false).expect("nothing fails");
    std::fs::write(dir.path().join("delivery.html"), b"mine").expect("written");
    let before = files(dir.path());
    let store = Store::open(disk()).expect("opened");
    assert!(store.is_free("", "delivery.html").is_err() && store.is_free("", "audit.json").is_ok());
    drop(store);
    assert_eq!(run_of(disk(), "new", true).expect_err("refused").what.kind(), ErrorKind::AlreadyExists);
    let after = files(dir.path());
    assert_eq!(after.get("delivery.html"), before.get("delivery.html"));
    assert_eq!(writer(&after, &REPORT, "the report was written before"), "new");
}
