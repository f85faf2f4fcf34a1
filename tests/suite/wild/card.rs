//! A wild card: what was truly shot, what the files say of it, and what a viewer of the clip would see.

use super::film::Film;
use lapseproof::card::{
    Card as FileCard, CardFile, FileKind, Folder, Shot as FileShot, file_number, folder_number,
};
use lapseproof::frames::{Camera, Cell, Damage, Frames, Row, Stamp, StampSource};
use lapseproof::plan::Plan;
use lapseproof::units::{CivilTime, Micros};
use std::ffi::{OsStr, OsString};

/// What a frame truly is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// The timer fired it, in this slot of the timer of that number.
    Run { timer: usize, slot: i64 },
    /// One more than the timer asked for.
    Extra,
    /// A test shot or another job.
    Beside,
    /// Fired by no timer.
    Hand,
}

/// The camera of a shot whose file names none.
pub const NAMELESS: u16 = u16::MAX;

/// One frame as it truly was shot.
#[derive(Clone, Debug)]
pub struct Shot {
    /// When the shutter opened, true seconds since the card's beginning.
    pub open_s: f64,
    /// What the camera's clock shows beyond true time, s.
    pub clock_s: f64,
    /// The offset tag, minutes.
    pub offset_min: Option<i16>,
    pub exposure_s: f64,
    pub f_number: f32,
    pub iso: u32,
    pub role: Role,
    /// Which camera: 0 is the first.
    pub camera: u16,
    pub folder: String,
    pub name: String,
    pub damage: Damage,
    /// True where no header can be read.
    pub headless: bool,
    /// Bytes of its own, or those of the shot whose copy it is.
    pub bytes_of: Option<u64>,
}

/// How the camera writes its clock.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    /// Step of the clock.
    pub step: Micros,
    /// Decimals that are written.
    pub digits: u8,
    /// True where it rounds; else it cuts off.
    pub rounds: bool,
    /// Standard deviation of the shutter's own delay, s.
    pub jitter_s: f64,
    /// 1970-based moment of second 0 on the camera's clock.
    pub start: Micros,
}

impl Clock {
    /// Its step, s.
    pub fn step_s(&self) -> f64 {
        self.step.seconds()
    }

    /// The doubt about a time between two stamps, s: two windows and the shutter's own delays.
    pub fn doubt_s(&self) -> f64 {
        2.0 * self.step_s() + 6.0 * self.jitter_s + 0.002
    }

    /// What it writes at that moment.
    pub fn stamp(&self, seconds: f64) -> CivilTime {
        let at =
            self.start + Micros::nearest(seconds) + if self.rounds { self.step / 2 } else { Micros::ZERO };
        CivilTime::from_micros(at.floored(self.step))
    }
}

/// Something that truly happened between two frames or at one, by their places in [`Card::shots`].
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Slots of one timer without a frame.
    Hole { before: usize, after: usize, slots: u64 },
    /// The timer stood; the true time from opening to opening, and the intervals on either side.
    Stop { before: usize, after: usize, gap_s: f64, from_s: f64, to_s: f64 },
    /// Another interval, without a stop.
    Rate { before: usize, after: usize, from_s: f64, to_s: f64 },
    /// The camera's clock was changed.
    Clock { before: usize, after: usize, step_s: f64 },
    /// A frame that came late.
    Late { at: usize, by_s: f64 },
    /// A frame too many.
    Surplus { at: usize },
    /// The exposure jumped by so many EV.
    Jump { before: usize, after: usize, ev: f64 },
    /// So many frames of the planned count were never shot, or are lost, at an end.
    Short { lacking: u64 },
    /// A file that cannot be used.
    Damaged { at: usize },
    /// The names do not sort in the order of capture.
    Order,
    /// An exposure of a bracket is not there.
    Thin { at: usize },
    /// Frames that do not show the scene: black, blown, or something stands before the lens.
    Hidden { first: usize, last: usize },
    /// What happened here the files do not tell: a stop, or a clock that was set.
    Undecided { before: usize, after: usize },
    /// Frames beyond this border, at an end, are the run's or shots by hand: the files leave it open, and no
    /// plan gives the count.
    Beside { before: usize, after: usize },
    /// A planned day, or its first hours, without frames.
    Absent { before: usize, after: usize, slots: u64 },
}

/// What the call of a card may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Nothing is wrong: anything but a clear call is a false alarm.
    Good,
    /// By its events: a viewer sees something, or sees nothing (then a fault is a false alarm).
    Events,
    /// Two truths with the same files, one of them with a fault; or a plan that the card breaks: never clear.
    NotClear,
    /// No steady pace: the call is free, but nothing may be invented.
    Loose,
}

/// A card with its truth.
#[derive(Clone, Debug)]
pub struct Card {
    pub shots: Vec<Shot>,
    pub clock: Clock,
    pub plan: Plan,
    pub events: Vec<Event>,
    pub class: Class,
    /// The longest true interval of each timer, s.
    pub timers: Vec<f64>,
    /// What was done, for whoever looks at the card.
    pub story: Vec<String>,
    /// What the pictures show, where they matter: the card then goes through files.
    pub film: Option<Film>,
}

impl Card {
    /// Would a viewer of the clip see this?
    pub fn seen(&self, event: &Event) -> bool {
        match event {
            Event::Hole { .. }
            | Event::Stop { .. }
            | Event::Damaged { .. }
            | Event::Order
            | Event::Thin { .. }
            | Event::Hidden { .. }
            | Event::Undecided { .. }
            | Event::Absent { .. } => true,
            // One frame fewer at an end is within what the check lets pass.
            Event::Short { lacking } => *lacking > 1,
            Event::Rate { from_s, to_s, .. } => (to_s / from_s - 1.0).abs() >= 0.05,
            Event::Late { by_s, .. } => {
                let longest = self.timers.iter().copied().fold(0.0, f64::max);
                *by_s >= 0.45 * longest
            }
            Event::Jump { ev, .. } => ev.abs() > 1.1,
            Event::Clock { .. } | Event::Surplus { .. } | Event::Beside { .. } => false,
        }
    }

    /// The faults that a viewer would see.
    pub fn viewer_sees(&self) -> Vec<&Event> {
        self.events.iter().filter(|e| self.seen(e)).collect()
    }

    /// The stamp that the file of a shot carries.
    pub fn stamp(&self, at: usize) -> CivilTime {
        let shot = &self.shots[at];
        self.clock.stamp(shot.open_s + shot.clock_s)
    }

    /// The rows that a reading of the files would yield, in the card's order.
    pub fn frames(&self) -> Frames {
        let mut names: Vec<&str> = self.shots.iter().map(|s| s.folder.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        let folders = names.iter().map(|name| Folder {
            root: 0,
            path: (*name).into(),
            number: folder_number(OsStr::new(name.rsplit('/').next().unwrap_or(name))),
        });
        let card = FileCard { roots: vec!["card".into()], folders: folders.collect(), ..FileCard::default() };
        let mut out = Frames { card, ..Frames::default() };
        let named = self.shots.iter().map(|s| s.camera).filter(|c| *c != NAMELESS);
        out.cameras = (0..named.max().map_or(0, |c| c + 1))
            .map(|c| Camera { maker: "Own".into(), model: "Own".into(), serial: format!("{:04}", 1000 + c) })
            .collect();
        for (at, shot) in self.shots.iter().enumerate() {
            let folder = names.binary_search(&shot.folder.as_str()).expect("its folder") as u32;
            let stem = shot.name.split('.').next().unwrap_or_default();
            out.card.shots.push(FileShot {
                file: CardFile {
                    folder,
                    name: OsString::from(&shot.name).into_boxed_os_str(),
                    // The same bytes are as many.
                    bytes: 9_000_000 + 37 * (shot.bytes_of.unwrap_or(at as u64) % 1000),
                    kind: FileKind::Jpeg,
                },
                companions: Vec::new(),
                number: file_number(stem),
            });
            out.rows.push(self.row(at));
        }
        out.in_card_order();
        out
    }

    fn row(&self, at: usize) -> Row {
        let shot = &self.shots[at];
        if shot.headless {
            return Row { print: at as u64 + 1, ..Row::unread(shot.damage.clone()) };
        }
        let resolution = Micros::step_of(self.clock.digits);
        Row {
            stamp: Cell::Known(Stamp {
                at: self.stamp(at),
                resolution,
                digits: self.clock.digits,
                offset_min: shot.offset_min,
                source: StampSource::Original,
            }),
            exposure_s: Cell::Known(shot.exposure_s),
            f_number: Cell::Known(shot.f_number),
            iso: Cell::Known(shot.iso),
            size: Cell::Known((6000, 4000)),
            orientation: Cell::Known(1),
            focal_mm: Cell::Known(24.0),
            camera: if shot.camera == NAMELESS { Cell::Absent } else { Cell::Known(shot.camera) },
            damage: shot.damage.clone(),
            print: shot.bytes_of.unwrap_or(at as u64 + 1),
            ..Row::default()
        }
    }
}

/// A shot's path below the card.
pub fn path_of(shot: &Shot) -> String {
    if shot.folder.is_empty() { shot.name.clone() } else { format!("{}/{}", shot.folder, shot.name) }
}
