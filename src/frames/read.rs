//! Every shot of a card into its row: the only parallel code of the house.

use std::collections::HashMap;
use std::io;
use std::num::NonZeroUsize;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use super::across::pair_across;
use super::containers::{Embedded, Want};
use super::row::{Camera, Damage, Frames, Row};
use super::source::Source;
use super::{Cell, containers, exif};
use crate::card::{Card, CardFile, FileKind, SNIFF_BYTES, Shot, Trouble, sniff, words};
use crate::units::shown;

/// Rows that are read before their cameras are put in order: bounds the memory that waits.
const BATCH: usize = 4096;

/// Threads beyond the processors hide the latency of a cold disk; more than these bring nothing.
const THREADS: std::ops::RangeInclusive<usize> = 8..=32;

/// One file, read.
#[derive(Default)]
pub struct FileRead {
    /// Its row; the camera's cell is left to the table.
    pub row: Row,
    /// The camera that it names.
    pub camera: Cell<Camera>,
    /// What its first bytes say it is.
    pub kind: Option<FileKind>,
    /// JPEG streams that it carries beside its own picture, the smallest first; only where they were asked for.
    pub embedded: Vec<Embedded>,
    /// What the system would not give.
    pub trouble: Vec<Trouble>,
}

/// Reads every shot of `card`, on `jobs` threads (`None`: as many as suit the machine). The result does not depend on them.
/// `progress` is called from any thread with the number of shots done since its last call.
///
/// Never fails: a file that does not decode has its [`Damage`], one that the system would not give is told in
/// [`Frames::trouble`] too.
pub fn read_all(card: Card, jobs: Option<usize>, progress: &(dyn Fn(u64) + Sync)) -> Frames {
    read_until(card, jobs, progress, &AtomicBool::new(false))
}

/// The same, until `stop` is raised: files whose turn had not come by then are [`Damage::NotTried`] and told in
/// [`Frames::trouble`].
pub fn read_until(
    mut card: Card,
    jobs: Option<usize>,
    progress: &(dyn Fn(u64) + Sync),
    stop: &AtomicBool,
) -> Frames {
    let mut rows = Vec::with_capacity(card.shots.len());
    let mut cameras = Cameras::default();
    let mut trouble = card.trouble.clone();
    let processors = std::thread::available_parallelism().map_or(1, NonZeroUsize::get);
    let threads = jobs.unwrap_or(processors.clamp(*THREADS.start(), *THREADS.end())).max(1);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().ok();
    let one = |shot: &Shot| {
        let read = match stop.load(Ordering::Relaxed) {
            true => unread(&card, &shot.file, Damage::NotTried),
            false => read_shot(&card, shot),
        };
        progress(1);
        read
    };
    let mut kinds = Vec::with_capacity(card.shots.len());
    for batch in card.shots.chunks(BATCH) {
        let reads: Vec<FileRead> = match &pool {
            Some(pool) => pool.install(|| batch.par_iter().map(one).collect()),
            // Without threads of our own, on this one.
            None => batch.iter().map(one).collect(),
        };
        for mut read in reads {
            read.row.camera = cameras.number(read.camera);
            trouble.append(&mut read.trouble);
            kinds.push(read.kind);
            rows.push(read.row);
        }
    }
    for (shot, kind) in card.shots.iter_mut().zip(kinds) {
        shot.file.kind = kind.unwrap_or(shot.file.kind);
    }
    let mut frames = Frames { card, rows, cameras: cameras.list, trouble, moves: Vec::new() };
    pair_across(&mut frames);
    frames
}

/// The cameras in order of first mention.
#[derive(Default)]
struct Cameras {
    list: Vec<Camera>,
    known: HashMap<Camera, u16>,
}

impl Cameras {
    fn number(&mut self, camera: Cell<Camera>) -> Cell<u16> {
        let camera = match camera {
            Cell::Known(camera) => camera,
            Cell::Blank => return Cell::Blank,
            Cell::Absent => return Cell::Absent,
            Cell::Unreadable => return Cell::Unreadable,
        };
        if let Some(number) = self.known.get(&camera) {
            return Cell::Known(*number);
        }
        // A folder of more cameras than numbers is rubbish: the last ones stay without.
        let Ok(number) = u16::try_from(self.list.len()) else { return Cell::Unreadable };
        self.list.push(camera.clone());
        self.known.insert(camera, number);
        Cell::Known(number)
    }
}

/// A shot's own file, and, where that gives no stamp, its companions in its place: a raw that cannot be read yet stands
/// beside a picture of the same exposure. Damage and print stay those of the shot's own file.
fn read_shot(card: &Card, shot: &Shot) -> FileRead {
    let mut read = read_file(card, &shot.file);
    for companion in &shot.companions {
        if read.row.stamp.as_known().is_some() {
            break;
        }
        let mut other = read_file(card, companion);
        read.row.fill_from(&other.row);
        read.row.edited |= other.row.edited;
        read.camera = read.camera.clone().or(other.camera);
        read.trouble.append(&mut other.trouble);
    }
    read
}

/// A file that fails is read once more before that is believed.
fn read_file(card: &Card, file: &CardFile) -> FileRead {
    let path = card.path_of(file);
    let once = || {
        let mut source = Source::open(&path)?;
        let read = read_source(&mut source)?;
        match source.fell_short() || source.len() < file.bytes {
            true => Err(io::Error::other("it became shorter while the card was read")),
            false => Ok(read),
        }
    };
    once()
        .or_else(|_| once())
        .unwrap_or_else(|e| unread(card, file, Damage::NotRead(words(&e).into_boxed_str())))
}

/// What there is to say of a file that was not read.
fn unread(card: &Card, file: &CardFile, why: Damage) -> FileRead {
    let what = match &why {
        Damage::NotRead(what) => what.to_string(),
        other => other.words(),
    };
    let trouble = vec![Trouble { path: shown(&card.text_of(file)), what }];
    FileRead { row: Row::unread(why), camera: Cell::Unreadable, trouble, ..FileRead::default() }
}

/// Reads one file that is open.
///
/// # Errors
/// What the system says on reading; bytes that do not decode are the row's [`Damage`].
pub fn read_source(source: &mut Source) -> io::Result<FileRead> {
    read_source_for(source, Want::default())
}

/// As [`read_source`], with what else is wanted of the file.
///
/// # Errors
/// As [`read_source`].
pub fn read_source_for(source: &mut Source, want: Want) -> io::Result<FileRead> {
    let head = source.head();
    let kind = sniff(&head[..head.len().min(SNIFF_BYTES)]);
    // One file must never end the audit, whatever is in it: a reader's own mistake is that file's damage.
    let read = catch_unwind(AssertUnwindSafe(|| -> io::Result<FileRead> {
        let found = containers::read(kind, source, want)?;
        let mut row = Row { size: found.size, damage: found.damage, ..Row::default() };
        row.print = source.print(&found.tail);
        let camera = exif::fill(&mut row, &found.exif);
        Ok(FileRead { row, camera, kind: Some(kind), embedded: found.embedded, ..FileRead::default() })
    }));
    read.unwrap_or_else(|_| {
        let row = Row::unread(Damage::Broken("its reader failed on it".into()));
        Ok(FileRead { row, camera: Cell::Unreadable, kind: Some(kind), ..FileRead::default() })
    })
}
