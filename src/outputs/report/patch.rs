//! The frames to patch: every hole, every damaged frame, and the few frames that stand out from their
//! neighbours.

use crate::audit::Audit;
use crate::units::CivilTime;

/// A place to patch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// `missing`, `damaged`, or the id of the check that found the frames.
    pub kind: &'static str,
    /// The first slot, where it is known.
    pub slot: Option<i64>,
    /// Slots or frames.
    pub count: u64,
    /// The frame before a hole, or the first frame concerned.
    pub first: usize,
    /// The frame after a hole, or the last frame concerned.
    pub last: usize,
    /// When the first was due or shot, on the camera's clock.
    pub at: Option<CivilTime>,
    /// What is wrong, in words.
    pub words: String,
}

/// As many frames can still be patched one by one.
const FEW: usize = 3;

/// What is said of a place that the usable part runs across.
const IN_THE_CLIP: &str = "a patch of the usable part";

/// Every place, in the order of the run.
pub(crate) fn list(audit: &Audit) -> Vec<Place> {
    let evidence = &audit.evidence;
    let timing = &evidence.timing;
    let mut all = Vec::new();
    let patches = audit.verdict.usable.as_ref().map_or(&[][..], |usable| &usable.patches);
    // The usable part counts on some of them.
    let noted = |words: String, first: usize, last: usize| {
        let next = patches.get(patches.partition_point(|p| p.after < last.max(first)));
        match (next.is_some_and(|p| p.before <= first), words.is_empty()) {
            (false, _) => words,
            (true, true) => IN_THE_CLIP.to_owned(),
            (true, false) => format!("{words}; {IN_THE_CLIP}"),
        }
    };
    for hole in &timing.holes {
        let words = match hole.doubt {
            Some((low, high)) if low != high => format!("the stamps allow {low} to {high}"),
            _ => match hole.cause {
                crate::evidence::timing::HoleCause::TriggerMissed => "the camera did not fire".into(),
                crate::evidence::timing::HoleCause::FileLost => "not in this folder".into(),
                crate::evidence::timing::HoleCause::Unknown => String::new(),
            },
        };
        let words = noted(words, hole.before, hole.after);
        all.push(Place {
            kind: "missing",
            slot: Some(hole.slot),
            count: hole.slots,
            first: hole.before,
            last: hole.after,
            at: audit.schedule.due(&audit.evidence, hole.slot),
            words,
        });
    }
    let one = |kind, first: usize, last: usize, words| Place {
        kind,
        slot: evidence.frame(first).slot(),
        count: (last - first + 1) as u64,
        first,
        last,
        at: evidence.frame(first).moment(),
        words,
    };
    for frame in evidence.run().filter(|frame| frame.row().damage.is_some()) {
        let at = frame.at();
        all.push(one("damaged", at, at, noted(frame.row().damage.words(), at, at)));
    }
    let patched = audit.judgements.iter().filter(|j| j.text.traits.patched);
    for finding in patched.flat_map(|j| j.findings()) {
        if finding.weighs() {
            let few = finding.marks.iter().filter(|m| m.len() <= FEW && m.last < evidence.frames.len());
            all.extend(few.map(|m| one(finding.check, m.first, m.last, finding.message.clone())));
        }
    }
    all.sort_by_key(|p| (p.last, p.kind));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn holes_and_damaged_frames_in_the_order_of_the_run() {
        let audit = sample::audit();
        let told: Vec<_> =
            list(&audit).into_iter().map(|p| (p.kind, p.slot, p.count, p.first, p.last)).collect();
        assert_eq!(told, [("missing", Some(3), 2, 3, 4), ("damaged", Some(6), 1, 6, 6)]);
    }

    /// The usable part counts on the hole and on the damaged frame being patched.
    #[test]
    fn patches_of_the_usable_part_are_named() {
        let mut audit = sample::audit();
        let usable = audit.verdict.usable.as_mut().unwrap();
        let patch = |before, after| crate::verdict::Patch { before, after, slots: 1 };
        usable.patches = vec![patch(5, 7)];
        let words = |audit: &Audit| list(audit).into_iter().map(|p| p.words).collect::<Vec<_>>();
        assert!(!words(&audit)[0].contains(IN_THE_CLIP));
        assert!(words(&audit)[1].ends_with("; a patch of the usable part"));
        audit.verdict.usable.as_mut().unwrap().patches = vec![patch(3, 4)];
        assert_eq!(words(&audit)[0], "the stamps allow 1 to 2; a patch of the usable part");
        assert!(!words(&audit)[1].contains(IN_THE_CLIP));
    }
}
