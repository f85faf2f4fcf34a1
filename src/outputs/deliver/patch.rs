//! The frames to patch: every hole, every damaged frame, and the few frames that stand out from their neighbours. `patch.csv` holds
//! all of them.

use crate::audit::{Audit, Severity};
use crate::outputs::columns::{Column, Kind};
use crate::outputs::frames_csv::writer;
use crate::outputs::{cells, lines};
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

/// Checks whose findings single frames can be patched for.
const STAND_OUT: [&str; 5] =
    ["exposure-jump", "off-plan-exposure", "soft-frame", "luminance-flicker", "uneven-move"];

/// As many frames can still be patched one by one.
const FEW: usize = 3;

/// Every place, in the order of the run.
pub fn list(audit: &Audit) -> Vec<Patch> {
    let evidence = &audit.evidence;
    let timing = &evidence.timing;
    let mut all = Vec::new();
    for hole in &timing.holes {
        let words = match hole.doubt {
            Some((low, high)) if low != high => format!("the stamps allow {low} to {high}"),
            _ => match hole.cause {
                crate::audit::HoleCause::TriggerMissed => "the camera did not fire".into(),
                crate::audit::HoleCause::FileLost => "not in this folder".into(),
                crate::audit::HoleCause::Unknown => String::new(),
            },
        };
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
            all.push(one("damaged", at, at, row.damage.words()));
        }
    }
    for finding in audit.judgements.iter().flat_map(|j| j.findings()) {
        let weighs = finding.severity > Severity::Note && finding.accepted.is_none();
        if weighs && STAND_OUT.contains(&finding.check) {
            let few = finding.marks.iter().filter(|m| m.len() <= FEW && m.last < evidence.frames.len());
            all.extend(few.map(|m| one(finding.check, m.first, m.last, finding.message.clone())));
        }
    }
    all.sort_by_key(|p| (p.last, p.kind));
    all
}

/// The columns of `patch.csv`.
pub const COLUMNS: &[Column] = &[
    Column::new("kind", Kind::Text, "`missing`, `damaged`, or the id of the check that found the frames"),
    Column::new("slot", Kind::Whole, "the first slot concerned, from 0"),
    Column::new("count", Kind::Whole, "slots to fill, or frames to look at"),
    Column::new("first_file", Kind::Text, "the frame before a hole, or the first frame concerned"),
    Column::new("last_file", Kind::Text, "the frame after a hole, or the last frame concerned"),
    Column::new("at", Kind::Moment, "when the first was due or shot, on the camera's clock"),
    Column::new("clip_frame", Kind::Whole, "the frame of the clip, from 0, where every slot makes one"),
    Column::new("note", Kind::Text, "what is wrong, in words"),
];

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
    csv.write_record(COLUMNS.iter().map(|c| c.name))?;
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
