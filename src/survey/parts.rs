//! The parting: a group's run is chosen as an audit chooses it; what lies outside of it is looked at again,
//! until nothing more comes apart.

use super::cuts::{cuts, gaps, hangs_together};
use super::groups::groups;
use super::line::common;
use super::{FEW, FoundPlan};
use crate::evidence::timing::effort::Effort;
use crate::evidence::{FrameView, Sequence, by_camera, gather};
use crate::frames::{Frames, natural_names, push_lossless};
use crate::plan::Plan;
use crate::units::Micros;
use std::collections::BTreeMap;

/// The frames of one sequence.
#[derive(Debug)]
pub struct Part {
    /// What its frames say together, compared with that plan.
    pub evidence: Sequence,
    /// Which of the found plans they lie under.
    pub plan: Option<usize>,
}

impl Part {
    /// The root of its first frame, and the deepest folder below it that holds all of it; empty for the root
    /// itself.
    pub fn place(&self) -> (u16, String) {
        let frames = &self.evidence.frames;
        let shots = &frames.card.shots;
        let first = frames.first_of_card().and_then(|at| shots.get(at));
        let root = first.map_or(0, |s| frames.card.folder_text(s.file.folder).0);
        (root, common(&frames.card, shots.iter().map(|s| s.file.folder)))
    }
}

/// Frames in no sequence, of one folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loose {
    /// Index into the roots.
    pub root: u16,
    /// Path of the folder below its root, exact; empty for the root itself.
    pub folder: String,
    /// Name of the first one in the card's order, exact.
    pub first: String,
    /// Name of the last one.
    pub last: String,
    /// How many.
    pub frames: u64,
}

/// Parts `frames` into sequences, by the time they begin, and what is in none. `plans` are those that were
/// found, and `plan_of` tells for each folder of the card which one it lies under.
pub fn parts(frames: Frames, plans: &[FoundPlan], plan_of: &[Option<usize>]) -> (Vec<Part>, Vec<Loose>) {
    let groups = groups(&frames, plan_of);
    let mut group_of = vec![0_u32; frames.len()];
    for (n, group) in groups.iter().enumerate() {
        for at in &group.frames {
            group_of[*at as usize] = n as u32;
        }
    }
    let owned = frames.parted(&group_of, groups.len());
    let mut found = Found::default();
    for (group, frames) in groups.iter().zip(owned) {
        // Cameras are told apart as an audit tells them: each has the plan that they lie under.
        let by = by_camera(&frames);
        let cameras = if by.parts > 1 { frames.parted(&by.part_of, by.parts) } else { vec![frames] };
        for frames in cameras {
            found.look(frames, group.plan, plans);
        }
    }
    let mut parts: Vec<(Option<Micros>, String, Part)> = found.parts.into_iter().map(keyed).collect();
    parts.sort_by(|a, b| (a.0.is_none(), a.0, &a.1).cmp(&(b.0.is_none(), b.0, &b.1)));
    (parts.into_iter().map(|p| p.2).collect(), loose(found.loose))
}

/// A part with its earliest stamp and its first file.
fn keyed(part: Part) -> (Option<Micros>, String, Part) {
    let frames = &part.evidence.frames;
    let first = frames.rows.iter().filter_map(|r| r.stamp.known()).map(|s| s.at.micros()).min();
    let name = frames.first_of_card().map(|at| frames.path_text(at)).unwrap_or_default();
    (first, name, part)
}

/// How often each frame of a folder is looked at on the way, on the average, at most; a small folder has as
/// many looks as this at least. A card of forty jobs takes some twenty.
const MOST_LOOKS: usize = 40;
const LEAST_LOOKS: usize = 20_000;
/// All looks together may take so many times what one reading of all the frames may.
const READINGS: u64 = 2;

#[derive(Default)]
struct Found {
    parts: Vec<Part>,
    loose: Vec<Frames>,
}

impl Found {
    /// Looks at frames until nothing more comes apart. Each round leaves pieces that are smaller, so it ends.
    fn look(&mut self, frames: Frames, plan: Option<usize>, plans: &[FoundPlan]) {
        // Frames that no timer shot come apart a few at a time: what is left after so many looks is in no
        // sequence.
        let mut left = MOST_LOOKS.saturating_mul(frames.len()).max(LEAST_LOOKS);
        let mut lines = READINGS.saturating_mul(Effort::most(frames.len()));
        let mut waiting = vec![(frames, plan)];
        while let Some((mut frames, plan)) = waiting.pop() {
            if frames.len() < FEW || frames.len() > left || lines == 0 {
                self.loose.push(frames);
                continue;
            }
            left -= frames.len();
            let meant =
                plan.and_then(|at| plans.get(at)).map_or_else(Plan::default, |found| found.plan.clone());
            // A piece is read as if nothing else had been there: the evidence of the last look is the
            // audit's.
            frames.in_card_order();
            let evidence = gather(&meant, frames);
            lines = lines.saturating_sub(evidence.timing.lines_tried);
            let (piece_of, kinds) = pieces(&evidence, plan.is_some());
            if kinds.len() < 2 {
                let paced = evidence.timing.cadence.is_some() && evidence.in_run().count() >= FEW;
                let one = paced || plan.is_some() || hangs_together(&evidence);
                match one {
                    true => self.parts.push(Part { evidence, plan }),
                    false => self.loose.push(evidence.frames),
                }
                continue;
            }
            for (piece, kind) in evidence.frames.parted(&piece_of, kinds.len()).into_iter().zip(kinds) {
                // The plan is that of the run it was found to fit.
                waiting.push((piece, plan.filter(|_| kind == Kind::Run)));
            }
        }
    }
}

/// What is in no sequence, folder by folder in order of root and path.
fn loose(pieces: Vec<Frames>) -> Vec<Loose> {
    let mut all: BTreeMap<(u16, String), Loose> = BTreeMap::new();
    for frames in pieces {
        for shot in &frames.card.shots {
            let (root, folder) = frames.card.folder_text(shot.file.folder);
            let mut name = String::new();
            push_lossless(&mut name, &shot.file.name);
            let loose = all.entry((root, folder.clone())).or_insert_with(|| Loose {
                root,
                folder,
                first: name.clone(),
                last: name.clone(),
                frames: 0,
            });
            loose.frames += 1;
            // Pieces come in no order of names.
            if natural_names(name.as_ref(), loose.first.as_ref()).is_lt() {
                loose.first = name;
            } else if natural_names(name.as_ref(), loose.last.as_ref()).is_gt() {
                loose.last = name;
            }
        }
    }
    all.into_values().collect()
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Run,
    Outside,
}

/// The piece of each frame, in capture order, and what the pieces are. A run that was planned is not cut. A
/// few frames outside of the run stay with it, as they do in an audit.
fn pieces(evidence: &Sequence, planned: bool) -> (Vec<u32>, Vec<Kind>) {
    let mut inside = evidence.all().filter(|frame| !frame.is_outside()).map(FrameView::at);
    let Some(first) = inside.next() else {
        return (vec![0; evidence.len()], vec![Kind::Outside]);
    };
    let last = inside.next_back().unwrap_or(first);
    let cuts = match (planned, evidence.timing.cadence.is_some()) {
        (true, _) => Vec::new(),
        (false, true) => cuts(evidence),
        (false, false) => gaps(evidence),
    };
    let mut kinds = vec![Kind::Run; cuts.len() + 1];
    // Before the run, amid it (another camera's), and after it.
    let zone = |at: usize| usize::from(at > first) + usize::from(at > last);
    let mut outside = [0_usize; 3];
    for frame in evidence.all().filter(|frame| frame.is_outside()) {
        outside[zone(frame.at())] += 1;
    }
    let own: Vec<Option<u32>> = outside
        .iter()
        .map(|frames| {
            (*frames >= FEW).then(|| {
                kinds.push(Kind::Outside);
                kinds.len() as u32 - 1
            })
        })
        .collect();
    let piece_of = evidence.all().map(|frame| {
        let of_run = cuts.partition_point(|cut| *cut <= frame.at()) as u32;
        if frame.is_outside() { own[zone(frame.at())].unwrap_or(of_run) } else { of_run }
    });
    (piece_of.collect(), kinds)
}
