//! Which picture of a file is looked at.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::allowed::{Allowed, Part};
use super::bars::{self, Inside};
use super::budget::{BUDGET, Share};
use super::caps::Role;
use super::decode::How;
use super::gate::Gate;
use super::refused::Refused;
use super::{Measured, PictureSource, Pictures, Rgb, measure_until};
use crate::card::FileKind;
use crate::frames::containers::Embedded;
use crate::frames::left::unless_stopped;
use crate::frames::source::{Source, WINDOW_CAP};

/// The largest stream in a file that is read in place of its picture, bytes, where not everything is to be
/// read.
const MOST_PREVIEW_BYTES: u64 = 4 << 20;
/// A stream in a file that is narrower than this, px, is an icon and no thumbnail.
const LEAST_WIDTH: usize = 64;
/// A stream in a file that is at most this wide, px, is a thumbnail; a wider one is a preview.
const WIDEST_THUMBNAIL: usize = 320;
/// Pixels of the streams in one file that are decoded to no avail before the others are left alone; to go
/// over a block counts as three.
const MOST_TRIED: u64 = 72 << 20;
/// Pixels of a picture that is made smaller before it is turned.
pub(in crate::frames) const LARGE: u64 = 32_000_000;
/// Effort from which on a decode may take a noticeable part of a second.
const LONG_EFFORT: u64 = 8 << 20;
/// What it takes to make a picture smaller for a page, bytes for each pixel of its shorter side: rows of 520
/// px, three numbers each.
const SHOWN_BYTES: u64 = 520 * 12;

/// What a file is known to be before its picture is looked at.
pub(crate) struct Known<'a> {
    /// By its first bytes.
    pub kind: FileKind,
    /// JPEG streams in it, the smallest first.
    pub embedded: &'a [Embedded],
    /// Width and height of its picture, px.
    pub size: Option<(u32, u32)>,
    /// True where the picture in grey is wanted too.
    pub grey: bool,
    /// True where a program other than the camera has written it: its thumbnail may be of another time.
    pub edited: bool,
}

impl Known<'_> {
    /// Streams that show what the file's picture shows and are read in its place.
    fn honest(&self) -> impl Iterator<Item = &Embedded> {
        self.embedded.iter().filter(|e| !self.edited && e.len <= MOST_PREVIEW_BYTES)
    }
}

/// What was seen of a file's picture.
#[derive(Default)]
pub(crate) struct Seen {
    /// What it shows; `None` where it could not be seen.
    pub picture: Option<Measured>,
    /// Why the whole picture does not decode; only told where it was asked for whole.
    pub damaged: Option<String>,
    /// What of the file was not decoded because it would have taken too much, and why: the first that there
    /// was.
    pub refused: Option<String>,
    /// True where the reading was stopped before the picture's turn came.
    pub stopped: bool,
}

impl Seen {
    /// Takes what was measured, or takes down why it was not.
    fn take(&mut self, measured: Result<Measured, Refused>) {
        match measured {
            Ok(picture) => self.picture = Some(picture),
            Err(why) => self.note(why),
        }
    }

    /// Takes down why something was not decoded.
    fn note(&mut self, why: Refused) {
        match why {
            Refused::TooMuch(why) => _ = self.refused.get_or_insert(why),
            Refused::Stopped => self.stopped = true,
            Refused::Damaged(_) | Refused::NotOurs => {}
        }
    }
}

/// A decoded picture, and the share of memory that it holds.
pub(crate) struct Held {
    /// The picture.
    pub rgb: Rgb,
    share: Option<Share<'static>>,
}

/// What every look goes by.
pub(crate) struct Looker<'a> {
    /// Whole pictures pass it.
    pub gate: &'a Gate,
    /// Once it is raised, no picture is decoded that has to wait for its turn.
    pub stop: &'a AtomicBool,
    /// True where pictures are made smaller for a page, which takes memory too.
    pub to_show: bool,
}

/// What has been decoded to no avail in one file, pixels.
#[derive(Default)]
struct Tried(u64);

impl Looker<'_> {
    /// Looks at the picture of one open file, as far as `pictures` says. A decoder's own mistake is a picture
    /// that was not seen.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn look_at(
        &self,
        source: &mut Source,
        known: &Known<'_>,
        pictures: Pictures,
    ) -> io::Result<Seen> {
        let seen = catch_unwind(AssertUnwindSafe(|| match pictures {
            Pictures::None => Ok(Seen::default()),
            Pictures::Thumb => self.cheapest(source, known),
            Pictures::Full => self.all_of_it(source, known),
        }));
        seen.unwrap_or_else(|_| {
            let damaged = (pictures == Pictures::Full).then(|| "its decoder failed on it".to_owned());
            Ok(Seen { damaged, ..Seen::default() })
        })
    }

    /// Pictures of a file to be shown, each with what of it lies inside its bars and which of the sizes
    /// `longest` (px of the longer side) it is for: the smallest stream that is large enough, else the file's
    /// own picture reduced, else the largest stream that there is. Sizes for which none decodes are left out.
    ///
    /// # Errors
    /// What the system says on reading.
    pub(crate) fn upright_sources(
        &self,
        source: &mut Source,
        known: &Known<'_>,
        longest: &[usize],
    ) -> io::Result<Vec<(Held, Inside, Vec<usize>)>> {
        let mut out = Vec::new();
        let mut small = Vec::new();
        for (i, longest) in longest.iter().enumerate() {
            let (best, enough) = self.best_stream(source, known, *longest)?;
            match best {
                Some((held, inside)) if enough => out.push((held, inside, vec![i])),
                best => small.push((i, best)),
            }
        }
        if small.is_empty() {
            return Ok(out);
        }
        match self.own(source, known, true)? {
            Ok(held) => {
                let inside = bars::inside(&held.rgb, None);
                out.push((held, inside, small.into_iter().map(|(i, _)| i).collect()));
            }
            Err(_) => {
                let best = |(i, best): (usize, Option<(Held, Inside)>)| best.map(|b| (b.0, b.1, vec![i]));
                out.extend(small.into_iter().filter_map(best));
            }
        }
        Ok(out)
    }

    /// The smallest stream whose longer side is at least `longest`, else the largest, and whether it is large
    /// enough.
    fn best_stream(
        &self,
        source: &mut Source,
        known: &Known<'_>,
        longest: usize,
    ) -> io::Result<(Option<(Held, Inside)>, bool)> {
        let mut best: Option<(Held, Inside)> = None;
        let mut tried = Tried::default();
        for stream in known.honest() {
            let decoded = self.stream(source, *stream, Role::Preview, &mut tried)?;
            let Ok((mut held, wide)) = decoded else { continue };
            // Streams come out small. What is kept while others are decoded must hold no share.
            held.share = None;
            let barred = held.rgb.width <= WIDEST_THUMBNAIL && !wide;
            let inside = bars::inside(&held.rgb, known.size.filter(|_| barred));
            let enough = held.rgb.width.max(held.rgb.height) >= longest;
            if best.as_ref().is_none_or(|b| b.0.rgb.width < held.rgb.width) {
                best = Some((held, inside));
            }
            if enough {
                return Ok((best, true));
            }
        }
        // A thumbnail that is nearly large enough saves the whole file's reading.
        let nearly = best.as_ref().is_some_and(|b| 5 * b.0.rgb.width.max(b.0.rgb.height) >= 4 * longest);
        Ok((best, nearly))
    }

    fn cheapest(&self, source: &mut Source, known: &Known<'_>) -> io::Result<Seen> {
        let (mut seen, mut tried) = (Seen::default(), Tried::default());
        for stream in known.honest() {
            match self.inside(source, *stream, Role::Preview, known, &mut tried)? {
                Ok(picture) => return Ok(Seen { picture: Some(picture), ..seen }),
                Err(why) => seen.note(why),
            }
            if seen.stopped {
                return Ok(seen);
            }
        }
        match self.own(source, known, true)? {
            Ok(held) => seen.take(self.measured(&held.rgb, None, PictureSource::Reduced, known.grey)),
            Err(why) => seen.note(why),
        }
        Ok(seen)
    }

    fn all_of_it(&self, source: &mut Source, known: &Known<'_>) -> io::Result<Seen> {
        let (mut seen, mut tried) = (Seen::default(), Tried::default());
        match self.own(source, known, false)? {
            Ok(held) => seen.take(self.measured(&held.rgb, None, PictureSource::Whole, known.grey)),
            Err(Refused::Damaged(why)) => seen.damaged = Some(why),
            Err(why) => {
                seen.note(why);
                // A raw: the largest preview of it.
                for stream in known.embedded.iter().rev() {
                    if seen.stopped {
                        break;
                    }
                    let looked = self
                        .gate
                        .through(self.stop, || self.inside(source, *stream, Role::Own, known, &mut tried));
                    match looked.unwrap_or(Ok(Err(Refused::Stopped)))? {
                        Ok(picture) => return Ok(Seen { picture: Some(picture), ..seen }),
                        Err(why) => seen.note(why),
                    }
                }
            }
        }
        Ok(seen)
    }

    /// The picture of the file itself, at an eighth or whole.
    fn own(
        &self,
        source: &mut Source,
        known: &Known<'_>,
        reduced: bool,
    ) -> io::Result<Result<Held, Refused>> {
        // A raw is a TIFF too, whose main directory may hold sensor values: what carries previews is taken
        // for one.
        let raw = known.kind == FileKind::Tiff && !known.embedded.is_empty();
        let ours = matches!(known.kind, FileKind::Jpeg | FileKind::Png | FileKind::Tiff | FileKind::Webp);
        if raw || !ours {
            return Ok(Err(Refused::NotOurs));
        }
        if source.len() > WINDOW_CAP as u64 {
            let (has, most) = (source.len() >> 20, WINDOW_CAP >> 20);
            let why = format!("its picture is a file of {has} MiB; at most {most} MiB are read for one");
            return Ok(Err(Refused::TooMuch(why)));
        }
        let done = self.gate.through(self.stop, || match (known.kind, reduced) {
            (FileKind::Jpeg, true) => match self.decoded(source, Part::Jpeg(Role::Own, How::Eighth))? {
                // What the scaled decoder does not take, the other one may.
                Err(Refused::Damaged(_) | Refused::NotOurs) => {
                    self.decoded(source, Part::Jpeg(Role::Rest, How::All { strict: false }))
                }
                done => Ok(done),
            },
            (FileKind::Jpeg, false) => self.decoded(source, Part::Jpeg(Role::Own, How::All { strict: true })),
            (kind, _) => self.decoded(source, Part::Other(kind)),
        });
        done.unwrap_or(Ok(Err(Refused::Stopped)))
    }

    /// A stream in a file; refused as not ours where it is none of use.
    fn inside(
        &self,
        source: &mut Source,
        stream: Embedded,
        largest: Role,
        known: &Known<'_>,
        tried: &mut Tried,
    ) -> io::Result<Result<Measured, Refused>> {
        let (held, wide) = match self.stream(source, stream, largest, tried)? {
            Ok(decoded) => decoded,
            Err(why) => return Ok(Err(why)),
        };
        if held.rgb.width < LEAST_WIDTH {
            return Ok(Err(Refused::NotOurs));
        }
        Ok(if held.rgb.width <= WIDEST_THUMBNAIL && !wide {
            self.measured(&held.rgb, known.size, PictureSource::Thumbnail, known.grey)
        } else {
            self.measured(&held.rgb, None, PictureSource::Preview, known.grey)
        })
    }

    /// A stream in a file, decoded, and whether it is a wide one.
    fn stream(
        &self,
        source: &mut Source,
        stream: Embedded,
        largest: Role,
        tried: &mut Tried,
    ) -> io::Result<Result<(Held, bool), Refused>> {
        if tried.0 > MOST_TRIED {
            let why = "its previews were left alone: those before them took too much and showed nothing";
            return Ok(Err(Refused::TooMuch(why.into())));
        }
        self.decoded_as(source, Part::Stream(stream, largest), |allowed| {
            tried.0 = tried.0.saturating_add(allowed.effort());
            allowed.wide
        })
    }

    fn decoded(&self, source: &mut Source, part: Part) -> io::Result<Result<Held, Refused>> {
        Ok(self.decoded_as(source, part, |_| ())?.map(|(held, ())| held))
    }

    /// Reads a part and decodes it, once there is room for both. `told` is asked of what is about to be
    /// decoded.
    fn decoded_as<T>(
        &self,
        source: &mut Source,
        part: Part,
        told: impl FnOnce(&Allowed) -> T,
    ) -> io::Result<Result<(Held, T), Refused>> {
        let (at, len) = match part {
            Part::Stream(stream, _) => (stream.at, stream.len),
            Part::Jpeg(..) | Part::Other(_) => (0, source.len()),
        };
        let mut takes = len.min(source.len()).min(WINDOW_CAP as u64);
        loop {
            let Some(mut share) = BUDGET.take(takes, self.stop) else { return Ok(Err(Refused::Stopped)) };
            let Some(bytes) = source.picture_at(at, usize::try_from(len).unwrap_or(0), self.stop)? else {
                return Ok(Err(Refused::Stopped));
            };
            let bytes = Arc::new(bytes);
            let allowed = match Allowed::of(part, &bytes) {
                Ok(allowed) => allowed,
                Err(why) => return Ok(Err(why)),
            };
            let (width, height) = allowed.work.size;
            // It may be turned, too, where it is not too large for that.
            let turned = 3 * LARGE.min(width * height);
            let shown = if self.to_show { turned + SHOWN_BYTES * width.min(height) } else { 0 };
            takes = allowed.takes + shown;
            // Where there is no room for the rest at once, all of it is waited for, with nothing in hand.
            if !share.fits(takes) {
                continue;
            }
            let told = told(&allowed);
            drop(bytes);
            let (rgb, mut share) = match self.done(allowed, share) {
                Ok(done) => done,
                Err(why) => return Ok(Err(why)),
            };
            // Its codes, and their luma while it is measured.
            share.fits((4 * (rgb.width * rgb.height) as u64 + shown).min(takes));
            return Ok(Ok((Held { rgb, share: Some(share) }, told)));
        }
    }

    /// Decodes, and gives back the share that was held for it. What takes long is left behind where the
    /// reading is stopped, with its share, because not every decoder can be told to stop.
    fn done(&self, allowed: Allowed, share: Share<'static>) -> Result<(Rgb, Share<'static>), Refused> {
        if allowed.effort() < LONG_EFFORT {
            return Ok((allowed.decode(self.stop)?, share));
        }
        let work = move |left: &AtomicBool| Ok((allowed.decode(left)?, share));
        unless_stopped(self.stop, work).unwrap_or(Err(Refused::Stopped))
    }

    /// Measures a picture; a large one, which takes as long as its decoding, not to its end where the reading
    /// is stopped.
    fn measured(
        &self,
        rgb: &Rgb,
        barred: Option<(u32, u32)>,
        source: PictureSource,
        grey: bool,
    ) -> Result<Measured, Refused> {
        let large = (rgb.width * rgb.height) as u64 > LARGE;
        let stop = large.then_some(self.stop);
        let inside = bars::inside(rgb, barred);
        let why = || match stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
            true => Refused::Stopped,
            false => Refused::NotOurs,
        };
        measure_until(rgb, inside, source, grey, stop).ok_or_else(why)
    }
}
