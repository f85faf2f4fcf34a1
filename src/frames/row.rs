//! The row of one frame, and the table of all.

use super::picture::{Between, Look};
use super::shift::Moved;
use super::{Cell, Cost};
use crate::card::{Card, CardFile, Trouble};
use crate::units::{CivilTime, Micros, shown};

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
    /// The step of the written digits: 10^−n s for n decimals, µs; 1 s without a sub-second field.
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
    /// The system would not let us read it (permission, read error, gone since the walk); the audit is then incomplete.
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

/// What one frame says. Times in seconds, lengths in millimetres, sizes in pixels.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Row {
    /// Capture time.
    pub stamp: Cell<Stamp>,
    /// ExposureTime (829A) as written, s.
    pub exposure_s: Cell<f64>,
    /// ShutterSpeedValue (9201), APEX Tv.
    pub time_apex: Cell<f32>,
    /// FNumber (829D) as written.
    pub f_number: Cell<f32>,
    /// ApertureValue (9202), APEX Av.
    pub aperture_apex: Cell<f32>,
    /// Sensitivity: PhotographicSensitivity (8827), or where that is 65535 the 32-bit tag that SensitivityType (8830) names.
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
    /// A hash over the bytes that were read of the file's head and tail, and its length. Equal files have equal prints.
    pub print: u64,
}

impl Row {
    /// The row of a file of which nothing could be learnt.
    pub fn unread(damage: Damage) -> Self {
        Self {
            stamp: Cell::Unreadable,
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
            print: 0,
        }
    }

    /// Takes from `other` the value of every cell that holds none here. Damage, print and `edited` are left alone.
    pub fn fill_from(&mut self, other: &Self) {
        self.stamp = self.stamp.or(other.stamp);
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
    /// What the picture of each row looks like, beside the rows; empty where pictures were not read. `None` where a picture could not
    /// be seen.
    pub looks: Vec<Option<Look>>,
    /// Every camera named in the rows, in order of first mention by the card's order.
    pub cameras: Vec<Camera>,
    /// What the reading has cost; nothing where the rows were not read from files.
    pub cost: Cost,
    /// Files that could not be read, and folders that could not be walked. Not empty means: incomplete, exit 2.
    pub trouble: Vec<Trouble>,
    /// How the pictures lie from one another, by the later one and then by lag; empty where that was not looked at.
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

    /// Path of frame `at` below FRAMES, exact.
    pub fn path_text(&self, at: usize) -> String {
        self.card.text_of(&self.card.shots[at].file)
    }

    /// Path of frame `at` below FRAMES, fit to show.
    pub fn shown_name(&self, at: usize) -> String {
        shown(&self.path_text(at))
    }

    /// Path of any file below FRAMES, exact.
    pub fn file_text(&self, file: &CardFile) -> String {
        self.card.text_of(file)
    }

    /// What the picture of frame `at` looks like; `None` where it was not read or could not be seen.
    pub fn look(&self, at: usize) -> Option<&Look> {
        self.looks.get(at)?.as_ref()
    }

    /// The picture of frame `after` held against that of `before`, where the two were neighbours in the card's order (with the order
    /// of capture taken from folders and numbers that is nearly always so).
    pub fn between(&self, before: usize, after: usize) -> Option<&Between> {
        let (a, b) = (self.look(before)?, self.look(after)?);
        (a.card_at.checked_add(1)? == b.card_at).then_some(b.between.as_ref()?)
    }

    /// Puts shots, rows and looks in the order that `order` names (a permutation of `0..len`), in place: a million rows are not
    /// held twice.
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
