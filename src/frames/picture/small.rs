//! Which picture of a file is looked at.

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Condvar, Mutex, PoisonError};

use super::bars::{self, Inside};
use super::decode::{self, Refused};
use super::{Measured, PictureSource, Pictures, Rgb, measure};
use crate::card::FileKind;
use crate::frames::containers::Embedded;
use crate::frames::source::{Source, WINDOW_CAP};

/// The largest stream in a file that is read in place of its picture, bytes, where not everything is to be read.
const MOST_PREVIEW_BYTES: u64 = 4 << 20;
/// A stream in a file that is narrower than this, px, is an icon and no thumbnail.
const LEAST_WIDTH: usize = 64;
/// A stream in a file that is at most this wide, px, is a thumbnail; a wider one is a preview.
const WIDEST_THUMBNAIL: usize = 320;
/// A preview wider than this, px, is decoded at an eighth.
const WIDE_PREVIEW: usize = 1000;

/// What a file is known to be before its picture is looked at.
pub struct Known<'a> {
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

/// What was seen of a file's picture.
#[derive(Default)]
pub struct Seen {
    /// What it shows; `None` where it could not be seen.
    pub picture: Option<Measured>,
    /// Why the whole picture does not decode; only told where it was asked for whole.
    pub damaged: Option<String>,
}

/// Lets only so many through at a time: whole pictures are large.
pub struct Gate {
    free: Mutex<usize>,
    freed: Condvar,
}

impl Gate {
    /// For `many` at a time.
    pub fn new(many: usize) -> Self {
        Self { free: Mutex::new(many.max(1)), freed: Condvar::new() }
    }

    fn through<T>(&self, work: impl FnOnce() -> T) -> T {
        let mut free = self.free.lock().unwrap_or_else(PoisonError::into_inner);
        while *free == 0 {
            free = self.freed.wait(free).unwrap_or_else(PoisonError::into_inner);
        }
        *free -= 1;
        drop(free);
        let done = catch_unwind(AssertUnwindSafe(work));
        *self.free.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.freed.notify_one();
        done.unwrap_or_else(|cause| std::panic::resume_unwind(cause))
    }
}

/// Looks at the picture of one open file, as far as `pictures` says. A decoder's own mistake is a picture that was not seen.
///
/// # Errors
/// What the system says on reading.
pub fn look_at(source: &mut Source, known: &Known<'_>, pictures: Pictures, gate: &Gate) -> io::Result<Seen> {
    let seen = catch_unwind(AssertUnwindSafe(|| match pictures {
        Pictures::None => Ok(Seen::default()),
        Pictures::Thumb => cheapest(source, known, gate),
        Pictures::Full => all_of_it(source, known, gate),
    }));
    seen.unwrap_or_else(|_| {
        let damaged = (pictures == Pictures::Full).then(|| "its decoder failed on it".to_owned());
        Ok(Seen { damaged, ..Seen::default() })
    })
}

/// The picture of a file to be shown, and what of it lies inside its bars: the smallest stream whose longer side is at least
/// `longest`, else the file's own picture reduced, else the largest stream that there is. `None` where none decodes.
///
/// # Errors
/// What the system says on reading.
pub fn upright_source(
    source: &mut Source,
    known: &Known<'_>,
    longest: usize,
) -> io::Result<Option<(Rgb, Inside)>> {
    let mut best: Option<(Rgb, Inside)> = None;
    for stream in known.embedded.iter().filter(|e| !known.edited && e.len <= MOST_PREVIEW_BYTES) {
        let bytes = source.picture_at(stream.at, usize::try_from(stream.len).unwrap_or(0))?;
        let wide = stream.size.is_some_and(|(w, _)| w as usize > WIDE_PREVIEW) || bytes.len() > 512 * 1024;
        let decoded = if wide { decode::reduced(&bytes) } else { decode::whole(&bytes, false) };
        let Ok(rgb) = decoded else { continue };
        let barred = rgb.width <= WIDEST_THUMBNAIL && !wide;
        let inside = bars::inside(&rgb, known.size.filter(|_| barred));
        let enough = rgb.width.max(rgb.height) >= longest;
        if best.as_ref().is_none_or(|b| b.0.width < rgb.width) {
            best = Some((rgb, inside));
        }
        if enough {
            return Ok(best);
        }
    }
    // A thumbnail that is nearly large enough saves the whole file's reading.
    if best.as_ref().is_some_and(|b| 5 * b.0.width.max(b.0.height) >= 4 * longest) {
        return Ok(best);
    }
    let own = own(source, known, &Gate::new(1), true)?.ok();
    Ok(own.map(|rgb| (bars::inside(&rgb, None), rgb)).map(|(inside, rgb)| (rgb, inside)).or(best))
}

fn cheapest(source: &mut Source, known: &Known<'_>, gate: &Gate) -> io::Result<Seen> {
    let honest = known.embedded.iter().filter(|e| !known.edited && e.len <= MOST_PREVIEW_BYTES);
    for stream in honest {
        if let Some(seen) = inside(source, *stream, known)? {
            return Ok(seen);
        }
    }
    let own = own(source, known, gate, true)?;
    Ok(own.map_or_else(
        |_| Seen::default(),
        |rgb| measured(&rgb, bars::inside(&rgb, None), PictureSource::Reduced, known.grey),
    ))
}

fn all_of_it(source: &mut Source, known: &Known<'_>, gate: &Gate) -> io::Result<Seen> {
    match own(source, known, gate, false)? {
        Ok(rgb) => Ok(measured(&rgb, bars::inside(&rgb, None), PictureSource::Whole, known.grey)),
        Err(Refused::Damaged(why)) => Ok(Seen { damaged: Some(why), ..Seen::default() }),
        // A raw: the largest preview of it.
        Err(Refused::NotOurs) => {
            for stream in known.embedded.iter().rev() {
                if let Some(seen) = gate.through(|| inside(source, *stream, known))? {
                    return Ok(seen);
                }
            }
            Ok(Seen::default())
        }
    }
}

/// The picture of the file itself, at an eighth or whole.
fn own(
    source: &mut Source,
    known: &Known<'_>,
    gate: &Gate,
    reduced: bool,
) -> io::Result<Result<Rgb, Refused>> {
    // A raw is a TIFF too, whose main directory may hold sensor values: what carries previews is taken for one.
    let raw = known.kind == FileKind::Tiff && !known.embedded.is_empty();
    let ours = matches!(known.kind, FileKind::Jpeg | FileKind::Png | FileKind::Tiff | FileKind::Webp);
    if raw || !ours || source.len() > WINDOW_CAP as u64 {
        return Ok(Err(Refused::NotOurs));
    }
    gate.through(|| {
        let bytes = source.picture_at(0, WINDOW_CAP)?;
        Ok(match (known.kind, reduced) {
            // What the scaled decoder does not take, the other one may.
            (FileKind::Jpeg, true) => decode::reduced(&bytes).or_else(|_| decode::whole(&bytes, false)),
            (FileKind::Jpeg, false) => decode::whole(&bytes, true),
            (kind, _) => decode::other(&bytes, kind),
        })
    })
}

/// A stream in a file; `None` where it is none of use.
fn inside(source: &mut Source, stream: Embedded, known: &Known<'_>) -> io::Result<Option<Seen>> {
    let bytes = source.picture_at(stream.at, usize::try_from(stream.len).unwrap_or(0))?;
    let wide = stream.size.is_some_and(|(w, _)| w as usize > WIDE_PREVIEW) || bytes.len() > 512 * 1024;
    let decoded = if wide { decode::reduced(&bytes) } else { decode::whole(&bytes, false) };
    let Ok(rgb) = decoded else { return Ok(None) };
    if rgb.width < LEAST_WIDTH {
        return Ok(None);
    }
    let (kind, kept) = if rgb.width <= WIDEST_THUMBNAIL && !wide {
        (PictureSource::Thumbnail, bars::inside(&rgb, known.size))
    } else {
        (PictureSource::Preview, bars::inside(&rgb, None))
    };
    let seen = measured(&rgb, kept, kind, known.grey);
    Ok(seen.picture.is_some().then_some(seen))
}

fn measured(rgb: &Rgb, inside: Inside, source: PictureSource, grey: bool) -> Seen {
    Seen { picture: measure(rgb, inside, source, grey), damaged: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    #[test]
    fn the_gate_lets_only_so_many_through() {
        let gate = Gate::new(2);
        let (inside, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    gate.through(|| {
                        most.fetch_max(inside.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                        std::thread::sleep(std::time::Duration::from_millis(5));
                        inside.fetch_sub(1, Ordering::SeqCst);
                    });
                });
            }
        });
        assert_eq!((inside.into_inner(), most.into_inner()), (0, 2));
    }
}
