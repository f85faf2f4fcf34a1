//! What can still become of the clip.

use crate::audit::Audit;
use crate::evidence::Sequence;
use crate::finding::InTheClip;
use crate::plan::Plan;
use crate::schedule::Schedule;
use crate::schedule::clip::{Course, Part, Seams};

/// What the clip has, and what it can still get. Frames are those of the clip, patches included.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ClipOutlook {
    /// Frames of the longest part so far that makes a clip.
    pub longest: u64,
    /// Frames of the part that is still growing.
    pub growing: u64,
    /// Frames that the client ordered; `None` where the plan names no pace and length.
    pub ordered: Option<u64>,
    /// The most that one part can have in the end; `None` where the run has no planned length.
    pub best: Option<u64>,
    /// True where that is what was ordered, or more; `None` where nothing was ordered.
    pub enough: Option<bool>,
    /// Frames to shoot beyond the plan for the clip to be whole; 0 where none are needed.
    pub shoot_on: u64,
    /// Playing time of the longest part, s; `None` without a pace.
    pub longest_s: Option<f64>,
    /// True where frames keep missing: what is to come will be no better.
    pub crumbles: bool,
}

/// So many holes within so many frames, up to now: frames keep missing. Common practice, no source.
const HOLES: usize = 3;
const LATELY: usize = 20;

impl ClipOutlook {
    /// `coming` slots are still to come, as far as is known.
    pub(super) fn of(plan: &Plan, audit: &Audit, schedule: &Schedule, coming: Option<u64>) -> Self {
        let InTheClip { breaks, holes, damaged, pauses, rates } = InTheClip::of(&audit.judgements);
        let course = Course::of(schedule, &audit.evidence, Seams { breaks, holes, damaged, pauses, rates });
        let frames = |part: Option<Part>| part.map_or(0, |part| part.clip_frames());
        let longest = frames(course.longest());
        let last = audit.evidence.in_run().next_back();
        let growing = frames(course.growing().filter(|part| Some(part.span.last) == last));
        let ordered = plan.delivery.clip_frames();
        let best = coming.map(|coming| longest.max(growing.saturating_add(coming)));
        // A run that nobody ends can still be as long as it takes.
        let enough = ordered.map(|ordered| best.is_none_or(|best| best >= ordered));
        // What is shot beyond the plan makes the growing part longer, and no other.
        let lacking = match (ordered, coming) {
            (Some(ordered), Some(coming)) if enough == Some(false) => {
                ordered.saturating_sub(growing.saturating_add(coming))
            }
            _ => 0,
        };
        Self {
            longest,
            growing,
            ordered,
            best,
            enough,
            shoot_on: lacking,
            longest_s: plan.delivery.clip_s(longest),
            crumbles: crumbles(&audit.evidence) && coming != Some(0),
        }
    }
}

fn crumbles(evidence: &Sequence) -> bool {
    let lately = evidence.in_run().nth_back(LATELY - 1).unwrap_or(0);
    evidence.timing.holes.iter().filter(|hole| hole.before >= lately).count() >= HOLES
}
