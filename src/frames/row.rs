//! The row of one frame, and the table of all.

use super::picture::{Between, Look};
use super::shift::Moved;
use super::{Cell, Cost};
use crate::card::{Card, CardFile, Trouble, natural_names};
use crate::units::{CivilTime, Micros, shown};
use std::cmp::Ordering;
use std::collections::HashMap;
use std::num::NonZeroU32;

/// Which tag a stamp was taken from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StampSource {
    /// DateTimeOriginal (9003).
    Original,
    /// DateTimeDigitized (9004).
    Digitized,
    /// DateTime (0132): the file's last change as the camera or an editor wrote it.
    Plain,
}

/// A capture time as the camera wrote it. It stands for the window [at, at + resolution).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The moment on the camera's clock, cut to a microsecond.
    pub at: CivilTime,
    /// The step of the written digits: 10^−n s for n decimals; 1 s without a sub-second field.
    pub resolution: Micros,
    /// Decimals of the second that were written, 0 to 6 (further ones are cut off).
    pub digits: u8,
    /// Minutes ahead of UTC (OffsetTimeOriginal and its like).
    pub offset_min: Option<i16>,
    /// The tag it came from.
    pub source: StampSource,
}

/// A camera as the files name it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Camera {
    /// Make (010F), trimmed.
    pub maker: String,
    /// Model (0110), trimmed.
    pub model: String,
    /// BodySerialNumber (A431), trimmed; empty where there is none.
    pub serial: String,
}

/// What is wrong with the file as a file.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Damage {
    /// Nothing found.
    #[default]
    None,
    /// No bytes at all.
    Empty,
    /// A picture's name, and first bytes that are no picture's.
    NotAPicture,
    /// It ends before its data does; the text says how that is known.
    CutShort(Box<str>),
    /// It is there and its structure cannot be followed; the text says where.
    Broken(Box<str>),
    /// The system would not let us read it (permission, read error, gone since the walk); the audit is then
    /// incomplete.
    NotRead(Box<str>),
    /// The reading was stopped before its turn came: nothing is known of it, and the audit is incomplete.
    NotTried,
}

impl Damage {
    /// True where anything is wrong.
    pub fn is_some(&self) -> bool {
        *self != Self::None
    }

    /// What is wrong, in words.
    pub fn words(&self) -> String {
        match self {
            Self::None => String::new(),
            Self::Empty => "empty file".into(),
            Self::NotAPicture => "not a picture inside".into(),
            Self::CutShort(why) => format!("cut short ({why})"),
            Self::Broken(why) => format!("broken ({why})"),
            Self::NotRead(why) => format!("could not be read ({why})"),
            Self::NotTried => "not read: the reading was stopped".into(),
        }
    }
}

/// Why something of a frame's pictures was not looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotSeen {
    /// The file it is in, as an index into its shot's companions; `None` for the shot's own.
    pub companion: Option<usize>,
    /// What it is and what it would have taken, in words that begin with it.
    pub why: Box<str>,
}

/// What is told of few frames.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Rare {
    /// The first companion that is damaged, as an index into its shot's companions, and what is wrong with
    /// it.
    pub companion_damage: Option<(usize, Damage)>,
    /// A picture of it that was not decoded because it would have taken too much; another one may have been
    /// looked at in its place.
    pub not_seen: Option<NotSeen>,
}

/// What one frame says. Times in seconds, lengths in millimetres, sizes in pixels.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Row {
    /// Capture time.
    pub stamp: Cell<Stamp>,
    /// Time of the last satellite fix (GPSDateStamp, GPSTimeStamp), s since 1970, UTC; `None` where the file
    /// has none.
    pub utc_s: Option<NonZeroU32>,
    /// ExposureTime (829A) as written, s.
    pub exposure_s: Cell<f64>,
    /// ShutterSpeedValue (9201), APEX Tv.
    pub time_apex: Cell<f32>,
    /// FNumber (829D) as written.
    pub f_number: Cell<f32>,
    /// ApertureValue (9202), APEX Av.
    pub aperture_apex: Cell<f32>,
    /// Sensitivity: PhotographicSensitivity (8827), or where that is 65535 the 32-bit tag that
    /// SensitivityType (8830) names.
    pub iso: Cell<u32>,
    /// FocalLength (920A), mm.
    pub focal_mm: Cell<f32>,
    /// Pixel pitch of the sensor, µm, from FocalPlaneXResolution (A20E) and its unit (A210).
    pub pitch_um: Cell<f32>,
    /// Stored width and height, px.
    pub size: Cell<(u32, u32)>,
    /// Orientation (0112), 1 to 8.
    pub orientation: Cell<u8>,
    /// WhiteBalance (A403): 0 automatic, 1 manual.
    pub white_balance: Cell<u8>,
    /// ExposureMode (A402): 0 automatic, 1 manual, 2 bracketed.
    pub exposure_mode: Cell<u8>,
    /// ExposureProgram (8822), 0 to 9.
    pub program: Cell<u8>,
    /// Index into [`Frames::cameras`].
    pub camera: Cell<u16>,
    /// True where a program other than the camera has written the file (a Software tag that names an editor).
    pub edited: bool,
    /// What is wrong with the file.
    pub damage: Damage,
    /// What few frames have, in one place, so that it takes a word of the others.
    pub rare: Option<Box<Rare>>,
    /// A hash over the bytes that were read of the file's head and tail, and its length. Equal files have
    /// equal prints.
    pub print: u64,
}

impl Row {
    /// The row of a file of which nothing could be learnt.
    pub fn unread(damage: Damage) -> Self {
        Self {
            stamp: Cell::Unreadable,
            utc_s: None,
            exposure_s: Cell::Unreadable,
            time_apex: Cell::Unreadable,
            f_number: Cell::Unreadable,
            aperture_apex: Cell::Unreadable,
            iso: Cell::Unreadable,
            focal_mm: Cell::Unreadable,
            pitch_um: Cell::Unreadable,
            size: Cell::Unreadable,
            orientation: Cell::Unreadable,
            white_balance: Cell::Unreadable,
            exposure_mode: Cell::Unreadable,
            program: Cell::Unreadable,
            camera: Cell::Unreadable,
            edited: false,
            damage,
            rare: None,
            print: 0,
        }
    }

    /// See [`Rare::companion_damage`].
    pub fn companion_damage(&self) -> Option<&(usize, Damage)> {
        self.rare.as_ref()?.companion_damage.as_ref()
    }

    /// See [`Rare::not_seen`].
    pub fn not_seen(&self) -> Option<&NotSeen> {
        self.rare.as_ref()?.not_seen.as_ref()
    }

    /// What few frames have, to be changed.
    pub fn rare_mut(&mut self) -> &mut Rare {
        self.rare.get_or_insert_default()
    }

    /// Takes from `other` the value of every cell that holds none here. Damage, print and `edited` are left
    /// alone.
    pub fn fill_from(&mut self, other: &Self) {
        self.stamp = self.stamp.or(other.stamp);
        self.utc_s = self.utc_s.or(other.utc_s);
        self.exposure_s = self.exposure_s.or(other.exposure_s);
        self.time_apex = self.time_apex.or(other.time_apex);
        self.f_number = self.f_number.or(other.f_number);
        self.aperture_apex = self.aperture_apex.or(other.aperture_apex);
        self.iso = self.iso.or(other.iso);
        self.focal_mm = self.focal_mm.or(other.focal_mm);
        self.pitch_um = self.pitch_um.or(other.pitch_um);
        self.size = self.size.or(other.size);
        self.orientation = self.orientation.or(other.orientation);
        self.white_balance = self.white_balance.or(other.white_balance);
        self.exposure_mode = self.exposure_mode.or(other.exposure_mode);
        self.program = self.program.or(other.program);
    }
}

/// The table: rows beside the shots they were read from, in the card's order until [`Frames::reorder`].
#[derive(Clone, Debug, Default)]
pub struct Frames {
    /// The card; `card.shots[i]` is the shot of `rows[i]`.
    pub card: Card,
    /// One row a shot.
    pub rows: Vec<Row>,
    /// What the picture of each row looks like, beside the rows; empty where pictures were not read. `None`
    /// where a picture could not be seen.
    pub looks: Vec<Option<Look>>,
    /// Every camera named in the rows, in order of first mention by the card's order.
    pub cameras: Vec<Camera>,
    /// What the reading has cost; nothing where the rows were not read from files.
    pub cost: Cost,
    /// Files that could not be read, and folders that could not be walked. Not empty means: incomplete, exit
    /// 2.
    pub trouble: Vec<Trouble>,
    /// How the pictures lie from one another, by the later one and then by lag; empty where that was not
    /// looked at.
    pub moves: Vec<Moved>,
}

impl Frames {
    /// How many frames there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// True where there are none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The earliest and the latest stamp of some frames; `None` where none of them has one.
    pub fn stamped_span(&self, own: &[u32]) -> Option<(Micros, Micros)> {
        let stamps = own.iter().filter_map(|at| self.rows[*at as usize].stamp.known()).map(|s| s.at.micros());
        stamps
            .fold(None, |ends, at| Some(ends.map_or((at, at), |(a, b): (Micros, _)| (a.min(at), at.max(b)))))
    }

    /// Path of frame `at` below FRAMES, exact.
    pub fn path_text(&self, at: usize) -> String {
        self.card.text_of(&self.card.shots[at].file)
    }

    /// Path of any file below FRAMES, exact.
    pub fn file_text(&self, file: &CardFile) -> String {
        self.card.text_of(file)
    }

    /// What the picture of frame `at` looks like; `None` where it was not read or could not be seen.
    pub fn look(&self, at: usize) -> Option<&Look> {
        self.looks.get(at)?.as_ref()
    }

    /// The picture of frame `after` compared with that of `before`, where the two were neighbours in the
    /// card's order (with the order of capture taken from folders and numbers that is nearly always so).
    pub fn between(&self, before: usize, after: usize) -> Option<&Between> {
        let (a, b) = (self.look(before)?, self.look(after)?);
        (a.card_at.checked_add(1)? == b.card_at).then_some(b.between.as_ref()?)
    }

    /// Parts the frames into `parts` tables of their own, `part_of` naming the one of each frame. Shots and
    /// rows are moved, so that a million are not held twice; the order within a part is kept. Files that were
    /// not read go with their frames; what was passed over, folders that could not be walked and what the
    /// reading cost are told of no part.
    pub fn parted(self, part_of: &[u32], parts: usize) -> Vec<Self> {
        debug_assert_eq!(part_of.len(), self.rows.len());
        let Self { card, rows, looks, cameras, cost: _, trouble, moves } = self;
        // The place of each frame in its part.
        let mut places: Vec<u32> = vec![0; parts];
        let place_of: Vec<u32> = if moves.is_empty() {
            Vec::new()
        } else {
            let next = |part: &u32| {
                let place = places.get_mut(*part as usize)?;
                *place += 1;
                Some(*place - 1)
            };
            part_of.iter().map(next).map(Option::unwrap_or_default).collect()
        };
        let mut looks = looks.into_iter();
        let mut whose: HashMap<String, usize> = HashMap::new();
        if !trouble.is_empty() {
            for (shot, part) in card.shots.iter().zip(part_of) {
                for file in shot.files() {
                    whose.insert(shown(&card.text_of(file)), *part as usize);
                }
            }
        }
        // A shelf of a thousand shoots is a thousand folders: each part has its own alone, in their order.
        let mut folders: Vec<Vec<u32>> = vec![Vec::new(); parts];
        for (shot, part) in card.shots.iter().zip(part_of) {
            if let Some(own) = folders.get_mut(*part as usize) {
                for file in shot.files() {
                    if own.last() != Some(&file.folder) {
                        own.push(file.folder);
                    }
                }
            }
        }
        let mut out = Vec::with_capacity(parts);
        for own in &mut folders {
            own.sort_unstable();
            own.dedup();
            let folders = own.iter().filter_map(|f| card.folders.get(*f as usize).cloned()).collect();
            let card = Card { roots: card.roots.clone(), folders, ..Card::default() };
            out.push(Self { card, cameras: cameras.clone(), ..Self::default() });
        }
        for trouble in trouble {
            if let Some(part) = whose.get(&trouble.path).and_then(|part| out.get_mut(*part)) {
                part.trouble.push(trouble);
            }
        }
        for ((shot, row), part) in card.shots.into_iter().zip(rows).zip(part_of) {
            let at = *part as usize;
            // Before anything is passed over, so that looks stay beside their rows; none where pictures were
            // not read.
            let look = looks.next();
            let (Some(part), Some(own)) = (out.get_mut(at), folders.get(at)) else { continue };
            let mut shot = shot;
            for file in std::iter::once(&mut shot.file).chain(&mut shot.companions) {
                file.folder = own.binary_search(&file.folder).unwrap_or(0) as u32;
            }
            part.card.shots.push(shot);
            part.rows.push(row);
            part.looks.extend(look);
        }
        for moved in moves {
            let (before, after) = (moved.before as usize, moved.after as usize);
            let part = part_of.get(after).filter(|part| part_of.get(before) == Some(part));
            if let Some(part) = part.and_then(|part| out.get_mut(*part as usize)) {
                let (before, after) = (place_of[before], place_of[after]);
                part.moves.push(Moved { before, after, ..moved });
            }
        }
        out
    }

    /// Puts the frames back into the card's order: by folder, and in it by name.
    pub fn in_card_order(&mut self) {
        let mut order: Vec<u32> = (0..self.card.shots.len() as u32).collect();
        if !order.is_sorted_by(|a, b| self.in_cards_turn(*a, *b).is_le()) {
            order.sort_by(|a, b| self.in_cards_turn(*a, *b));
            self.reorder(&order);
        }
    }

    /// The position of the frame that the card has first; `None` where there is none.
    pub fn first_of_card(&self) -> Option<usize> {
        let all = 0..self.card.shots.len() as u32;
        all.min_by(|a, b| self.in_cards_turn(*a, *b)).map(|at| at as usize)
    }

    fn in_cards_turn(&self, a: u32, b: u32) -> Ordering {
        let (a, b) = (&self.card.shots[a as usize].file, &self.card.shots[b as usize].file);
        a.folder.cmp(&b.folder).then_with(|| natural_names(&a.name, &b.name))
    }

    /// Puts shots, rows and looks in the order that `order` names (a permutation of `0..len`), in place: a
    /// million rows are not held twice.
    pub fn reorder(&mut self, order: &[u32]) {
        debug_assert_eq!(order.len(), self.rows.len());
        let mut done = vec![false; order.len()];
        for start in 0..order.len() {
            let mut at = start;
            while !done[at] {
                done[at] = true;
                let from = order[at] as usize;
                if from == start {
                    break;
                }
                self.rows.swap(at, from);
                self.card.shots.swap(at, from);
                if self.looks.len() == order.len() {
                    self.looks.swap(at, from);
                }
                at = from;
            }
        }
        if !self.moves.is_empty() {
            let mut now = vec![0_u32; order.len()];
            for (at, from) in order.iter().enumerate() {
                now[*from as usize] = at as u32;
            }
            for moved in &mut self.moves {
                (moved.before, moved.after) = (now[moved.before as usize], now[moved.after as usize]);
            }
            self.moves.sort_by_key(|m| (m.after, m.lag));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reorder_puts_each_row_in_its_place() {
        let mut frames = Frames::default();
        for i in 0..5_u32 {
            frames.rows.push(Row { iso: Cell::Known(i), ..Row::default() });
            frames.card.shots.push(crate::card::Shot {
                file: CardFile {
                    folder: 0,
                    name: std::ffi::OsString::from(format!("{i}")).into_boxed_os_str(),
                    bytes: 0,
                    kind: crate::card::FileKind::Jpeg,
                },
                companions: Vec::new(),
                number: None,
            });
        }
        let order = [3, 0, 4, 1, 2];
        frames.reorder(&order);
        let got: Vec<_> = frames.rows.iter().filter_map(|r| r.iso.known()).collect();
        assert_eq!(got, order);
        assert_eq!(frames.card.shots[2].file.name.to_str(), Some("4"));
    }
}
