//! The fields of an Exif block that a row is made from, gathered from the directories and values where they
//! lie. A maker's notes, the thumbnail and every other field stay unread.

use std::io;

use super::values::Value;
use crate::frames::source::Source;
use crate::frames::tiff_stream::{Directory, Entry, Stream};

/// The tags that a row is made from, in ascending order.
const WANTED: [u16; 33] = [
    0x000B, 0x010F, 0x0110, 0x0112, 0x0131, 0x0132, 0x829A, 0x829D, 0x8769, 0x8822, 0x8825, 0x8827, 0x8830,
    0x8831, 0x8832, 0x8833, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9201, 0x9202, 0x920A, 0x9290, 0x9291,
    0x9292, 0xA20E, 0xA210, 0xA402, 0xA403, 0xA431, 0xC62F,
];

/// Pointers to the Exif directory and to that of a satellite fix.
const EXIF_POINTER: u16 = 0x8769;
const GPS_POINTER: u16 = 0x8825;
/// Tags of the GPS directory: hours, minutes and seconds as three fractions; the date.
pub(super) const SATELLITE_TIME: u16 = 0x0007;
pub(super) const SATELLITE_DATE: u16 = 0x001D;

/// No more of a value is read than this: texts are names and dates, numbers are few.
const LONGEST_VALUE: usize = 256;

/// True where a row is made from this tag.
pub(crate) fn is_wanted(tag: u16) -> bool {
    WANTED.binary_search(&tag).is_ok()
}

/// True where the time of a fix is made from this tag of the GPS directory.
fn is_of_satellite(tag: u16) -> bool {
    matches!(tag, SATELLITE_TIME | SATELLITE_DATE)
}

/// Which directory a field stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// The stream's first one.
    Main,
    /// The Exif directory.
    Exif,
    /// The directory of a satellite fix.
    Satellite,
}

/// The fields of a block.
#[derive(Default)]
pub(crate) struct Fields {
    slots: Vec<Slot>,
    /// The values' bytes one after the other.
    bytes: Vec<u8>,
    /// True where a part of the block that is wanted could not be followed: what is not found may have been
    /// in it.
    pub(super) partial: bool,
}

struct Slot {
    tag: u16,
    part: Part,
    kind: u16,
    little: bool,
    /// Where its bytes begin and end.
    place: (u32, u32),
}

impl Fields {
    /// A field, from the directory it belongs into; some raws keep in one what belongs into the other
    /// (TIFF/EP does).
    pub(super) fn get(&self, number: u16) -> Option<Value<'_>> {
        // Numbers below 8000 belong to the main directory; a few writers put stray ones into the other.
        let own = if number < 0x8000 { Part::Main } else { Part::Exif };
        let all = || self.slots.iter().filter(|slot| slot.tag == number && slot.part != Part::Satellite);
        self.value(all().find(|slot| slot.part == own).or_else(|| all().next())?)
    }

    /// A field of the satellite fix.
    pub(super) fn of_satellite(&self, number: u16) -> Option<Value<'_>> {
        self.value(self.slots.iter().find(|slot| slot.tag == number && slot.part == Part::Satellite)?)
    }

    fn value(&self, slot: &Slot) -> Option<Value<'_>> {
        let (from, to) = slot.place;
        let bytes = self.bytes.get(from as usize..to as usize)?;
        Some(Value { kind: slot.kind, little: slot.little, bytes })
    }

    fn is_empty(&self) -> bool {
        self.slots.is_empty()
    }
}

/// Fields in the making. Values are read last, in order of their places, so that each window is fetched once.
#[derive(Default)]
pub(crate) struct Gather {
    fields: Fields,
    pending: Vec<(Part, Stream, Entry)>,
    /// Where the directory of a satellite fix lies.
    satellite: Option<(Stream, u64)>,
    /// True where a directory could be read at all.
    any: bool,
}

impl Gather {
    /// Takes the fields of a directory that has been read; gives where in the stream the Exif directory lies,
    /// where this one names it.
    pub(crate) fn take(&mut self, stream: &Stream, directory: &Directory, part: Part) -> Option<u64> {
        self.any = true;
        self.fields.partial |= directory.cut;
        let mut exif = None;
        for entry in directory.entries.iter().filter(|e| is_wanted(e.tag)) {
            if entry.tag == EXIF_POINTER {
                exif = stream.number(entry);
            } else if entry.tag == GPS_POINTER {
                let at = stream.number(entry).map(|at| (*stream, at));
                self.satellite = self.satellite.take().or(at);
            } else {
                self.pending.push((part, *stream, *entry));
            }
        }
        exif.filter(|_| part == Part::Main)
    }

    /// Takes the satellite fix from the directory at `at` of the stream. It is no loss where it cannot be
    /// read.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn follow_satellite(
        &mut self,
        source: &mut Source,
        stream: &Stream,
        at: u64,
    ) -> io::Result<()> {
        if let Some(directory) = stream.directory(source, at, is_of_satellite)? {
            let entries = directory.entries.into_iter().filter(|e| is_of_satellite(e.tag));
            self.pending.extend(entries.map(|entry| (Part::Satellite, *stream, entry)));
        }
        Ok(())
    }

    /// A directory that should have been there is not.
    pub(crate) fn lost(&mut self) {
        self.fields.partial = true;
    }

    /// Takes the main directory at `at` of the stream and the Exif directory that it names.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn follow(&mut self, source: &mut Source, stream: &Stream, at: u64) -> io::Result<()> {
        match stream.directory(source, at, is_wanted)? {
            Some(directory) => {
                if let Some(exif) = self.take(stream, &directory, Part::Main) {
                    self.follow_exif(source, stream, exif)?;
                }
            }
            None => self.lost(),
        }
        Ok(())
    }

    /// Takes the Exif directory at `at` of the stream.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn follow_exif(&mut self, source: &mut Source, stream: &Stream, at: u64) -> io::Result<()> {
        match stream.directory(source, at, is_wanted)? {
            Some(directory) => _ = self.take(stream, &directory, Part::Exif),
            None => self.lost(),
        }
        Ok(())
    }

    /// Takes the block whose TIFF header stands at `base` and which ends at `end` of the file. Nothing where
    /// there is none.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn block(&mut self, source: &mut Source, base: u64, end: u64) -> io::Result<()> {
        match Stream::open(source, base, end)? {
            Some((stream, first)) => self.follow(source, &stream, first),
            None => Ok(()),
        }
    }

    /// A number that a container keeps in a place of its own, as if `tag` of the Exif directory held it;
    /// where that is there, it goes first.
    pub(crate) fn put(&mut self, tag: u16, number: u32) {
        self.add(Part::Exif, tag, 4, true, &number.to_le_bytes());
    }

    /// As [`Gather::put`], for a text.
    pub(crate) fn put_text(&mut self, part: Part, tag: u16, text: &[u8]) {
        self.add(part, tag, 2, true, text);
    }

    /// As [`Gather::put`], for a number with a fraction.
    pub(crate) fn put_float(&mut self, tag: u16, number: f32) {
        self.add(Part::Exif, tag, 11, true, &number.to_le_bytes());
    }

    fn add(&mut self, part: Part, tag: u16, kind: u16, little: bool, bytes: &[u8]) {
        self.any = true;
        let from = self.fields.bytes.len() as u32;
        self.fields.bytes.extend_from_slice(bytes);
        let place = (from, self.fields.bytes.len() as u32);
        self.fields.slots.push(Slot { tag, part, kind, little, place });
    }

    /// Reads the values.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn finish(mut self, source: &mut Source) -> io::Result<Block> {
        if let Some((stream, at)) = self.satellite.take() {
            self.follow_satellite(source, &stream, at)?;
        }
        // Stable: of two fields with one tag the first one taken stays first.
        let mut todo: Vec<(u64, usize)> =
            self.pending.iter().enumerate().map(|(i, (_, _, entry))| (entry.at, i)).collect();
        todo.sort_unstable();
        let fields = &mut self.fields;
        fields.slots.reserve(todo.len());
        let mut read = Vec::with_capacity(todo.len());
        for (_, i) in todo {
            let (part, stream, entry) = &self.pending[i];
            let from = fields.bytes.len() as u32;
            if stream.value(source, entry, LONGEST_VALUE, &mut fields.bytes)? {
                let place = (from, fields.bytes.len() as u32);
                let slot =
                    Slot { tag: entry.tag, part: *part, kind: entry.kind, little: stream.is_little(), place };
                read.push((i, slot));
            } else {
                fields.partial |= *part != Part::Satellite;
            }
        }
        read.sort_unstable_by_key(|(i, _)| *i);
        let put = std::mem::take(&mut fields.slots);
        fields.slots = read.into_iter().map(|(_, slot)| slot).chain(put).collect();
        let nothing = !self.any || fields.partial && fields.is_empty();
        Ok(if nothing { Block::Unreadable } else { Block::Read(self.fields) })
    }
}

/// An Exif block as found in a file.
#[derive(Default)]
pub(crate) enum Block {
    /// There is none.
    #[default]
    Absent,
    /// There is one, and not even its header can be followed.
    Unreadable,
    /// Its fields.
    Read(Fields),
}

impl Block {
    /// The block whose TIFF header stands at `base` and which ends at `end` of the file. What can be read of
    /// a damaged one is read.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn at(source: &mut Source, base: u64, end: u64) -> io::Result<Self> {
        let mut gather = Gather::default();
        gather.block(source, base, end)?;
        gather.finish(source)
    }
}
