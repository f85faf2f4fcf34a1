//! Every shot of a card into its row.

use std::collections::HashMap;
use std::io;
use std::num::NonZeroUsize;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use super::across::pair_across;
use super::containers::{Embedded, Want};
use super::picture::gate::Gate;
use super::picture::small::{Known, Looker};
use super::picture::{Between, Grey, Look, Measured, Pictures, Thin};
use super::row::{Camera, Damage, Frames, NotSeen, Row};
use super::shift::{Follower, Grid};
use super::source::Source;
use super::workers::Workers;
use super::{Cell, Cost, containers, exif, neighbours};
use crate::card::{Card, CardFile, FileKind, SNIFF_BYTES, Shot, Trouble, sniff};
use crate::units::{refusal as words, shown};

/// Rows that are read before their cameras are put in order: bounds the memory that waits.
const BATCH: usize = 4096;

/// Threads beyond the processors hide the latency of a cold disk; more than these bring nothing.
const THREADS: std::ops::RangeInclusive<usize> = 8..=32;

/// No more than this is read of a file for its header, whatever its lengths, counts and pointers say.
const MOST_BYTES: u64 = 4 * 1024 * 1024;
const MOST_READS: u32 = 1024;

/// More threads than this are not started, whatever is asked for: starting them would take longer than
/// reading.
const MOST_THREADS: usize = 256;

/// One file, read.
#[derive(Clone, Default)]
pub struct FileRead {
    /// Its row; the camera's cell is left to the table.
    pub row: Row,
    /// The camera that it names.
    pub camera: Cell<Camera>,
    /// What its first bytes say it is.
    pub kind: Option<FileKind>,
    /// JPEG streams that it carries beside its own picture, the smallest first; only where they were asked
    /// for.
    pub embedded: Vec<Embedded>,
    /// What its picture looks like, where that was asked for and could be seen.
    pub look: Option<Look>,
    /// True where the reading was stopped before its picture's turn came.
    pub stopped: bool,
    /// Bytes and calls that its reading took.
    pub cost: (u32, u32),
    /// What the system would not give.
    pub trouble: Vec<Trouble>,
}

/// Shots that one thread reads in turn: a picture is compared with its neighbour before it is let go.
pub(super) const STRIP: usize = 8;

/// Strips of which the outermost pictures wait for each other, where pictures are read: bounds the memory
/// that they take.
pub(super) const STRIPS_WITH_PICTURES: usize = 64;

/// Reads the headers of every shot of `card`, on `jobs` threads (`None`: as many as suit the machine), and no
/// pictures. The result does not depend on the threads. `progress` is called from any thread with the number
/// of shots done since its last call.
///
/// Never fails: a file that does not decode has its [`Damage`], one that the system would not give is told in
/// [`Frames::trouble`] too.
pub fn read_all(card: Card, jobs: Option<usize>, progress: &(dyn Fn(u64) + Sync)) -> Frames {
    read_until(card, jobs, Pictures::None, progress, &AtomicBool::new(false))
}

/// Strips of a batch whose pictures are followed: they are held until they have been compared over the
/// longest lag.
const STRIPS_FOLLOWED: usize = 8;

/// What is wanted of the pictures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Asked {
    /// How far they are read.
    pub pictures: Pictures,
    /// True where each is to be laid over those before it, to follow how the camera moves. Costs several
    /// times as much as reading thumbnails does, and is left out where no pictures are read.
    pub follow: bool,
}

impl From<Pictures> for Asked {
    fn from(pictures: Pictures) -> Self {
        Self { pictures, follow: false }
    }
}

/// As [`read_all`], and looks at the pictures as far as `asked` says. Few pictures are held at a time: those
/// that the threads have in hand, and the ends of a few strips. When `stop` is raised, files whose turn had
/// not come by then are [`Damage::NotTried`] and told in [`Frames::trouble`].
pub fn read_until(
    card: Card,
    jobs: Option<usize>,
    asked: impl Into<Asked>,
    progress: &(dyn Fn(u64) + Sync),
    stop: &AtomicBool,
) -> Frames {
    let Asked { pictures, follow } = asked.into();
    let mut follower = (follow && pictures != Pictures::None).then(Follower::default);
    let (workers, reader) = readers(&card, jobs, pictures, progress, stop);
    let reader = Reader { follow: follower.is_some(), ..reader };
    let batch = match (pictures, &follower) {
        (Pictures::None, _) => BATCH,
        (_, None) => STRIP * STRIPS_WITH_PICTURES,
        (_, Some(_)) => STRIP * STRIPS_FOLLOWED,
    };
    let mut gathered = Gathered::with_room_for(&card, pictures);
    let mut before: Option<Thin> = None;
    for batch in card.shots.chunks(batch) {
        let last = before.take();
        let mut strips = workers.run(|| reader.strips(batch, last));
        if let Some(follower) = &mut follower {
            let small = (gathered.rows.len()..).zip(strips.iter_mut().flat_map(|s| s.small.drain(..)));
            let small: Vec<(u32, Grid)> =
                small.filter_map(|(at, grid)| Some((u32::try_from(at).ok()?, grid?))).collect();
            workers.run(|| follower.take(small));
        }
        for mut strip in strips {
            before = strip.last.take();
            strip.reads.into_iter().for_each(|read| gathered.take(read));
        }
    }
    let mut frames = gathered.into_frames(card);
    frames.moves = follower.map(Follower::finish).unwrap_or_default();
    neighbours::judge(&mut frames);
    pair_across(&mut frames);
    frames
}

/// The threads that read a card, and what each of them reads with.
pub(super) fn readers<'a>(
    card: &'a Card,
    jobs: Option<usize>,
    pictures: Pictures,
    progress: &'a (dyn Fn(u64) + Sync),
    stop: &'a AtomicBool,
) -> (Workers, Reader<'a>) {
    let processors = std::thread::available_parallelism().map_or(1, NonZeroUsize::get);
    let threads = jobs.unwrap_or(processors.clamp(*THREADS.start(), *THREADS.end())).clamp(1, MOST_THREADS);
    let gate = Gate::new(processors.min(threads));
    (Workers::start(threads), Reader { card, pictures, follow: false, gate, progress, stop })
}

/// What the shots of a card were read into, in their order.
pub(super) struct Gathered {
    rows: Vec<Row>,
    /// One a row, where pictures are read; else none.
    looks: Option<Vec<Option<Look>>>,
    cameras: Cameras,
    trouble: Vec<Trouble>,
    kinds: Vec<Option<FileKind>>,
    /// Bytes and calls of each.
    costs: Vec<(u32, u32)>,
}

impl Gathered {
    pub(super) fn with_room_for(card: &Card, pictures: Pictures) -> Self {
        let shots = card.shots.len();
        Self {
            rows: Vec::with_capacity(shots),
            looks: (pictures != Pictures::None).then(|| Vec::with_capacity(shots)),
            cameras: Cameras::default(),
            trouble: card.trouble.clone(),
            kinds: Vec::with_capacity(shots),
            costs: Vec::with_capacity(shots),
        }
    }

    pub(super) fn take(&mut self, mut read: FileRead) {
        read.row.camera = self.cameras.number(read.camera);
        self.trouble.append(&mut read.trouble);
        self.kinds.push(read.kind);
        self.costs.push(read.cost);
        if let Some(looks) = &mut self.looks {
            let card_at = u32::try_from(looks.len()).unwrap_or(u32::MAX);
            looks.push(read.look.map(|look| Look { card_at, ..look }));
        }
        self.rows.push(read.row);
    }

    /// The frames of `card`, whose files are of the kinds that they were read as.
    pub(super) fn into_frames(self, mut card: Card) -> Frames {
        for (shot, kind) in card.shots.iter_mut().zip(self.kinds) {
            shot.file.kind = kind.unwrap_or(shot.file.kind);
        }
        Frames {
            card,
            rows: self.rows,
            looks: self.looks.unwrap_or_default(),
            cameras: self.cameras.list,
            cost: Cost::of(&self.costs),
            trouble: self.trouble,
            moves: Vec::new(),
        }
    }
}

/// Neighbouring shots, read by one thread.
pub(super) struct Strip {
    pub(super) reads: Vec<FileRead>,
    /// The picture of the first shot, where there is one and a neighbour may wait for it.
    first: Option<Thin>,
    /// The picture of the last shot.
    pub(super) last: Option<Thin>,
    /// One a shot, for following; empty where that was not asked for.
    small: Vec<Option<Grid>>,
}

/// Holds the first picture of each strip against the last one of the strip before; `before` is the last one
/// of the batch before.
fn join(strips: &mut [Strip], before: Option<Thin>) {
    let held: Vec<Option<Between>> = (0..strips.len())
        .into_par_iter()
        .map(|i| {
            let last = if i == 0 { before.as_ref() } else { strips.get(i - 1)?.last.as_ref() };
            let strip = strips.get(i)?;
            Between::of(last?, strip.first.as_ref()?)
        })
        .collect();
    for (strip, between) in strips.iter_mut().zip(held) {
        strip.first = None;
        if let Some(look) = strip.reads.first_mut().and_then(|read| read.look.as_mut()) {
            look.between = between;
        }
    }
}

/// What is held of a picture until its neighbours have been compared with it.
struct Kept {
    thin: Thin,
    grey: Option<Grey>,
}

/// What every thread reads with.
pub(super) struct Reader<'a> {
    card: &'a Card,
    pictures: Pictures,
    follow: bool,
    gate: Gate,
    progress: &'a (dyn Fn(u64) + Sync),
    stop: &'a AtomicBool,
}

impl Reader<'_> {
    /// Reads a batch of shots, whose pictures are compared with one another and the first against `last`, the
    /// one before the batch.
    pub(super) fn strips(&self, batch: &[Shot], last: Option<Thin>) -> Vec<Strip> {
        let mut strips: Vec<Strip> = batch.par_chunks(STRIP).map(|shots| self.strip(shots)).collect();
        join(&mut strips, last);
        strips
    }

    fn strip(&self, shots: &[Shot]) -> Strip {
        let mut strip =
            Strip { reads: Vec::with_capacity(shots.len()), first: None, last: None, small: Vec::new() };
        for (k, shot) in shots.iter().enumerate() {
            let read = (!self.stop.load(Ordering::Relaxed)).then(|| self.shot(shot));
            let (mut read, picture) = read
                .filter(|(read, _)| !read.stopped)
                .unwrap_or_else(|| (unread(self.card, &shot.file, Damage::NotTried), None));
            let (thin, grey) = picture.map_or((None, None), |p| (Some(p.thin), p.grey));
            if k == 0 {
                strip.first.clone_from(&thin);
            } else if let (Some(look), Some(before), Some(after)) = (&mut read.look, &strip.last, &thin) {
                look.between = Between::of(before, after);
            }
            if self.follow {
                strip.small.push(grey.and_then(|g| Grid::of_light(g.width, g.height, &g.light)));
            }
            strip.last = thin;
            strip.reads.push(read);
            (self.progress)(1);
        }
        strip
    }

    /// A shot's own file, and its companions: where it gives no stamp or no picture, they do in its place (a
    /// raw that cannot be read yet stands beside a picture of the same exposure), and where one is damaged
    /// that is told. Damage and print stay those of the shot's own file.
    fn shot(&self, shot: &Shot) -> (FileRead, Option<Kept>) {
        let (mut read, mut kept) = self.file(&shot.file, self.pictures);
        for (at, companion) in shot.companions.iter().enumerate() {
            // A second picture of what has been seen is decoded only where every picture is to be.
            let pictures = match (self.pictures, &read.look) {
                (Pictures::Thumb, Some(_)) => Pictures::None,
                (asked, _) => asked,
            };
            let (mut other, picture) = self.file(companion, pictures);
            if other.row.damage.is_some() && read.row.companion_damage().is_none() {
                let damage = std::mem::take(&mut other.row.damage);
                read.row.rare_mut().companion_damage = Some((at, damage));
            }
            if read.look.is_none() && other.look.is_some() {
                (read.look, kept) = (other.look, picture);
            }
            if let (None, Some(not_seen)) = (read.row.not_seen(), other.row.not_seen()) {
                let not_seen = NotSeen { companion: Some(at), ..not_seen.clone() };
                read.row.rare_mut().not_seen = Some(not_seen);
            }
            read.stopped |= other.stopped;
            if read.row.stamp.as_known().is_none() {
                read.row.fill_from(&other.row);
                read.row.edited |= other.row.edited;
                read.camera = read.camera.clone().or(other.camera);
            }
            read.trouble.append(&mut other.trouble);
            read.cost = (read.cost.0.saturating_add(other.cost.0), read.cost.1.saturating_add(other.cost.1));
        }
        (read, kept)
    }

    /// A file that fails is read once more before that is believed.
    fn file(&self, file: &CardFile, pictures: Pictures) -> (FileRead, Option<Kept>) {
        let path = self.card.path_of(file);
        let once = || {
            let mut source = Source::open(&path)?;
            let looker = Looker { gate: &self.gate, stop: self.stop, to_show: false };
            let mut read = look(&mut source, pictures, self.follow, &looker)?;
            read.0.cost = (u32::try_from(source.bytes_read()).unwrap_or(u32::MAX), source.reads());
            match source.fell_short() || source.len() < file.bytes {
                true => Err(io::Error::other("it became shorter while the card was read")),
                false => Ok(read),
            }
        };
        once()
            .or_else(|_| once())
            .unwrap_or_else(|e| (unread(self.card, file, Damage::NotRead(words(&e).into_boxed_str())), None))
    }
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
        source.allow(MOST_BYTES, MOST_READS);
        let found = containers::read(kind, source, want)?;
        let mut row = Row { size: found.size, damage: found.damage, ..Row::default() };
        if source.is_spent() {
            row.damage = Damage::Broken("its header leads to more than a header holds".into());
        }
        row.print = source.print(found.tail)?;
        let camera = exif::fill(&mut row, &found.exif);
        Ok(FileRead { row, camera, kind: Some(kind), embedded: found.embedded, ..FileRead::default() })
    }));
    read.unwrap_or_else(|_| {
        let row = Row::unread(Damage::Broken("its reader failed on it".into()));
        Ok(FileRead { row, camera: Cell::Unreadable, kind: Some(kind), ..FileRead::default() })
    })
}

/// Reads one file that is open, and looks at its picture as far as `pictures` says.
///
/// # Errors
/// As [`read_source`].
pub fn look_at_source(source: &mut Source, pictures: Pictures) -> io::Result<FileRead> {
    let (gate, stop) = (Gate::new(1), AtomicBool::new(false));
    let looker = Looker { gate: &gate, stop: &stop, to_show: false };
    Ok(look(source, pictures, true, &looker)?.0)
}

fn look(
    source: &mut Source,
    pictures: Pictures,
    grey: bool,
    looker: &Looker<'_>,
) -> io::Result<(FileRead, Option<Kept>)> {
    let wanted = pictures != Pictures::None;
    let mut read = read_source_for(source, Want { embedded: wanted })?;
    let whole = !matches!(read.row.damage, Damage::Empty | Damage::NotAPicture | Damage::NotRead(_));
    let Some(kind) = read.kind.filter(|_| wanted && whole) else { return Ok((read, None)) };
    let known =
        Known { kind, embedded: &read.embedded, size: read.row.size.known(), grey, edited: read.row.edited };
    let seen = looker.look_at(source, &known, pictures)?;
    read.stopped = seen.stopped;
    let picture = seen.picture.map(|Measured { look, thin, grey }| {
        read.look = Some(look);
        Kept { thin, grey }
    });
    if let Some(why) = seen.refused {
        read.row.rare_mut().not_seen = Some(NotSeen { companion: None, why: why.into_boxed_str() });
    }
    if let (Some(why), Damage::None) = (seen.damaged, &read.row.damage) {
        read.row.damage = Damage::Broken(format!("its picture does not decode: {why}").into_boxed_str());
    }
    Ok((read, picture))
}
