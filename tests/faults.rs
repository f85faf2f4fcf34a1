//! Files that fail while they are read: errors, short reads, every cut, every bit of a header. Nothing panics, nothing hangs, and
//! no file costs more than its budget. (`read_source` catches a reader's panic: it is looked for in its words.)

mod support;

use std::cell::Cell as Counter;
use std::io::{self, ErrorKind};
use std::path::PathBuf;

use lapseproof::frames::source::{HEAD_BYTES, ReadAt, Source};
use lapseproof::frames::{Cell, Damage, FileRead, Row, Want, read_source_for};
use support::containers::{BIG, LITTLE, V, WIDE, all, iso};

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
    let Some(real) = support::real() else { return out };
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

/// Counts, offsets and lengths that lead everywhere: the cost stays within the budget, and what was asked is unreadable.
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
