//! The frames to patch: every hole, every damaged frame, and the few frames that stand out from their
//! neighbours. `patch.csv` holds all of them.

use crate::audit::{Audit, Severity};
use crate::outputs::frames_csv::writer;
use crate::outputs::{cells, columns, lines};
use crate::units::CivilTime;
use std::io::{self, Write};

/// A place to patch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Patch {
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
pub fn list(audit: &Audit) -> Vec<Patch> {
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
                crate::audit::HoleCause::TriggerMissed => "the camera did not fire".into(),
                crate::audit::HoleCause::FileLost => "not in this folder".into(),
                crate::audit::HoleCause::Unknown => String::new(),
            },
        };
        let words = noted(words, hole.before, hole.after);
        all.push(Patch {
            kind: "missing",
            slot: Some(hole.slot),
            count: hole.slots,
            first: hole.before,
            last: hole.after,
            at: lines::due(&timing.stretches, hole.slot),
            words,
        });
    }
    let one = |kind, first: usize, last: usize, words| Patch {
        kind,
        slot: timing.slot(first),
        count: (last - first + 1) as u64,
        first,
        last,
        at: evidence.stamp(first).map(|s| s.at),
        words,
    };
    for at in evidence.in_run() {
        if let Some(row) = evidence.frames.rows.get(at).filter(|r| r.damage.is_some()) {
            all.push(one("damaged", at, at, noted(row.damage.words(), at, at)));
        }
    }
    let patched = audit.judgements.iter().filter(|j| j.text.traits.patched);
    for finding in patched.flat_map(|j| j.findings()) {
        if finding.severity > Severity::Note && finding.accepted.is_none() {
            let few = finding.marks.iter().filter(|m| m.len() <= FEW && m.last < evidence.frames.len());
            all.extend(few.map(|m| one(finding.check, m.first, m.last, finding.message.clone())));
        }
    }
    all.sort_by_key(|p| (p.last, p.kind));
    all
}

/// Writes `patch.csv`. File names stand without their folders, as the client has them.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(
    audit: &Audit,
    name: &dyn Fn(usize) -> String,
    words: &dyn Fn(&str) -> String,
    out: impl Write,
) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(columns::PATCH.iter().map(|c| c.name))?;
    for patch in list(audit) {
        csv.write_record([
            patch.kind.to_owned(),
            cells::count(patch.slot),
            patch.count.to_string(),
            cells::text(&name(patch.first)).into_owned(),
            cells::text(&name(patch.last)).into_owned(),
            patch.at.map(|at| at.iso(3)).unwrap_or_default(),
            cells::count(patch.slot.filter(|s| *s >= 0)),
            cells::text(&words(&patch.words)).into_owned(),
        ])?;
    }
    csv.flush()
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
        let patch = |before, after| crate::audit::Patch { before, after, slots: 1 };
        usable.patches = vec![patch(5, 7)];
        let words = |audit: &Audit| list(audit).into_iter().map(|p| p.words).collect::<Vec<_>>();
        assert!(!words(&audit)[0].contains(IN_THE_CLIP));
        assert!(words(&audit)[1].ends_with("; a patch of the usable part"));
        audit.verdict.usable.as_mut().unwrap().patches = vec![patch(3, 4)];
        assert_eq!(words(&audit)[0], "the stamps allow 1 to 2; a patch of the usable part");
        assert!(!words(&audit)[1].contains(IN_THE_CLIP));
    }

    #[test]
    fn names_are_the_clients_and_no_formula() {
        let mut bytes = Vec::new();
        let name = |at: usize| format!("={at}");
        write(&sample::audit(), &name, &|w| w.to_owned(), &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.starts_with("kind,slot,count,first_file,last_file,at,clip_frame,note\r\n"), "{text}");
        assert!(
            text.contains("missing,3,2,'=3,'=4,2026-05-09T04:10:36.000,3,the stamps allow 1 to 2\r\n"),
            "{text}"
        );
    }
}
