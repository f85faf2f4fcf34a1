//! TIFF 6.0 and the raws built on plain TIFF (DNG, GPR, CR2, NEF, NRW, ARW, SRW, PEF, 3FR, IIQ, and ORF with
//! a magic of its own), with 64-bit offsets too: the file is the Exif block. Its directories are walked
//! wherever they lie, for the fields, the main picture's size and where its data ends.

use std::io;

use super::embedded;
use super::found::{Found, Want, broken, cut_short, size, zeros};
use super::pictures::{self, Picture};
use crate::frames::Cell;
use crate::frames::exif::{self, Block, Gather, Part};
use crate::frames::source::Source;
use crate::frames::tiff_stream::Stream;

/// Directories that are looked at, sub-directories included.
const MOST_DIRECTORIES: usize = 32;

pub(crate) fn read(source: &mut Source, want: Want) -> io::Result<Found> {
    let file = source.len();
    let Some((stream, first)) = Stream::open(source, 0, file)? else {
        let damage = if file < 8 {
            cut_short("it ends in its header")
        } else {
            broken("its header cannot be followed")
        };
        return Ok(Found { exif: Block::Unreadable, damage, ..Found::default() });
    };
    let mut walk = Walk::default();
    walk.all(source, &stream, first, want)?;
    let damage = match () {
        () if !walk.any && first >= file => {
            cut_short(format!("its directory lies at byte {first} of {file}"))
        }
        () if !walk.any => broken("its directory cannot be followed"),
        () if walk.cut => cut_short("it ends inside a directory"),
        () if walk.end > file => cut_short(format!("its picture data ends at byte {} of {file}", walk.end)),
        () if walk.lost => cut_short("what it says of its picture lies beyond its end"),
        () if walk.empty => broken("a directory that it leads to is empty"),
        () => zeros(source, walk.noise)?,
    };
    Ok(Found {
        exif: walk.gather.finish(source)?,
        size: walk.size,
        damage,
        embedded: walk.embedded,
        ..Found::default()
    })
}

/// What the directories say.
#[derive(Default)]
struct Walk {
    gather: Gather,
    /// Size of the main picture, px.
    size: Cell<(u32, u32)>,
    /// How the main picture was chosen: pictures go before reduced ones, larger before smaller.
    rank: (bool, u64),
    /// One past the last byte of any picture's data.
    end: u64,
    /// Place and length of the last piece of data, where it is of a kind that has no long runs of zeros.
    noise: (u64, u64),
    embedded: Vec<embedded::Embedded>,
    /// True where a directory was found at all.
    any: bool,
    /// True where a directory does not end within the file.
    cut: bool,
    /// True where a directory or a list of strips lies beyond the file's end.
    lost: bool,
    /// True where a directory that something leads to has nothing in it.
    empty: bool,
}

/// What led to a directory.
#[derive(Clone, Copy, PartialEq, Eq)]
enum From {
    Header,
    Main,
    Child,
    Chain,
}

impl Walk {
    /// Walks the directories in order of their places, so that each window is fetched once.
    fn all(&mut self, source: &mut Source, stream: &Stream, first: u64, want: Want) -> io::Result<()> {
        let mut todo = vec![(first, From::Header)];
        let mut seen = Vec::new();
        while let Some(least) = (0..todo.len()).min_by_key(|i| todo[*i].0) {
            let (at, from) = todo.swap_remove(least);
            if at == 0 || seen.contains(&at) || seen.len() >= MOST_DIRECTORIES {
                continue;
            }
            seen.push(at);
            let wanted = |tag| pictures::is_wanted(tag) || exif::is_wanted(tag);
            let Some(directory) = stream.directory(source, at, wanted)? else {
                // The pointer to the next directory is the one that writers leave in disorder.
                self.lost |= from != From::Chain && at >= source.len();
                if matches!(from, From::Header | From::Main) {
                    self.gather.lost();
                }
                continue;
            };
            self.any = true;
            self.cut |= directory.cut;
            self.empty |= directory.empty && from != From::Chain;
            match from {
                From::Header => {
                    let exif = self.gather.take(stream, &directory, Part::Main);
                    todo.extend(exif.map(|at| (at, From::Main)));
                }
                From::Main => _ = self.gather.take(stream, &directory, Part::Exif),
                From::Child | From::Chain => {}
            }
            let picture = Picture::of(source, stream, &directory)?;
            todo.extend(picture.children.iter().map(|at| (*at, From::Child)));
            if from != From::Main {
                todo.push((directory.next, From::Chain));
            }
            self.picture(source, &picture, want);
        }
        Ok(())
    }

    fn picture(&mut self, source: &Source, picture: &Picture, want: Want) {
        self.lost |= picture.lost;
        if picture.end() > self.end {
            self.end = picture.end();
            self.noise = if picture.is_noise() { picture.last } else { (0, 0) };
        }
        let (width, height) = (picture.width, picture.height);
        let rank = (!picture.reduced, u64::from(width) * u64::from(height));
        if width > 0 && height > 0 && (self.size == Cell::Absent || rank > self.rank) {
            self.rank = rank;
            self.size = size(width, height);
        }
        if let Some(new) = picture.embedded().filter(|_| want.embedded) {
            embedded::add(&mut self.embedded, source.len(), new);
        }
    }
}
