//! Fetches the pictures that the report shows. The audit is made by then: what is missing here is a picture
//! that is not shown.

use crate::audit::Audit;
use crate::frames::Pictures;
use crate::frames::{self, Shown, Size};
use crate::outputs::html::{Gallery, Picture, wanted};
use std::sync::atomic::AtomicBool;

/// Around findings and in the run-through.
const SMALL: Size = Size { longest: 160, quality: 62 };
/// To look at.
const LARGE: Size = Size { longest: 520, quality: 70 };

/// What can be shown of the frames that the report wants; nothing where the pictures were not to be read.
pub(crate) fn gathered(audit: &Audit, jobs: Option<usize>, stop: &AtomicBool) -> Gallery {
    if audit.pictures == Pictures::None {
        return Gallery::default();
    }
    let wanted = wanted(audit);
    let small = wanted.small.iter().map(|at| (*at, SMALL));
    let all: Vec<_> = small.chain(wanted.large.iter().map(|at| (*at, LARGE))).collect();
    let found = frames::gallery(&audit.evidence.frames.card, &all, jobs, stop);
    let mut gallery = Gallery::default();
    for ((at, size), shown) in all.into_iter().zip(found) {
        let Some(Shown { width, height, jpeg }) = shown else { continue };
        let list = if size == LARGE { &mut gallery.large } else { &mut gallery.small };
        list.insert(at, Picture { width, height, jpeg });
    }
    gallery
}
