//! The longest part of the run that makes a clip: what breaks it, what a patch bridges, and what was agreed
//! to.

use super::laid::Schedule;
use crate::evidence::timing::{Join, JoinKind};
use crate::evidence::{FrameState, Sequence};
use crate::units::{FrameSpan, counted};

/// Where a clip cannot run on, and what was agreed to, beyond what the evidence says by itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seams {
    /// Positions at which a part cannot run on, in any order.
    pub breaks: Vec<usize>,
    /// Spans whose holes are taken as good: from the frame before one to the frame after it, or farther.
    pub holes: Vec<FrameSpan>,
    /// Damaged frames that are taken as good.
    pub damaged: Vec<FrameSpan>,
    /// Spans whose pauses are taken as good.
    pub pauses: Vec<FrameSpan>,
    /// Spans whose rate is taken as good: a change to it or from it breaks nothing.
    pub rates: Vec<FrameSpan>,
}

/// A hole that a patch bridges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patch {
    /// Position of the good frame before it.
    pub before: usize,
    /// Position of the good frame after it.
    pub after: usize,
    /// Slots to fill.
    pub slots: u64,
}

/// "1 patch", "3 patches", "2 patches of 5 frames in all"; empty for none.
pub fn patch_words(patches: &[Patch]) -> String {
    let slots: u64 = patches.iter().map(|p| p.slots).sum();
    match (patches.len() as u64, slots) {
        (0, _) => String::new(),
        (n, slots) if n == slots => counted(n, "patch"),
        (1, slots) => format!("1 patch of {}", counted(slots, "frame")),
        (n, slots) => format!("{} of {} in all", counted(n, "patch"), counted(slots, "frame")),
    }
}

/// A part that makes a clip as it is, or with patches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// From which frame to which.
    pub span: FrameSpan,
    /// Slots of it that hold a good frame.
    pub frames: u64,
    /// Slots of it that hold none, as agreed.
    pub agreed: u64,
    /// The holes of it that are patched, in order.
    pub patches: Vec<Patch>,
}

impl Part {
    /// Slots that the patches fill.
    pub fn patched(&self) -> u64 {
        self.patches.iter().map(|p| p.slots).sum()
    }

    /// Frames of the clip that it makes once it is patched.
    pub fn clip_frames(&self) -> u64 {
        self.frames + self.agreed + self.patched()
    }
}

/// Good frames on end, and what stands before them.
#[derive(Clone, Copy, Debug)]
struct Piece {
    span: FrameSpan,
    frames: u64,
    agreed: u64,
    /// True where no patch reaches back to the piece before.
    broken: bool,
    /// Slots without a good frame right before it.
    lacking: u64,
    /// Slots right before it that hold none, as agreed.
    passed: u64,
}

impl Piece {
    fn clip_frames(&self) -> u64 {
        self.frames + self.agreed
    }
}

/// The run as the clip sees it.
#[derive(Clone, Debug)]
pub struct Course {
    pieces: Vec<Piece>,
    /// True where the run ends in frames that are not good.
    ends_in_hole: bool,
    /// Largest hole that is patched, slots.
    patch_up_to: u64,
    /// Least frames of clip between two holes, where one of them is patched.
    apart: f64,
}

impl Course {
    /// The run of `evidence`. A hole, a slip, a change of rate and a damaged frame break it; a clock that was
    /// set, a planned night's rest and a rate that a part of the plan changes do not.
    pub fn of(schedule: &Schedule, evidence: &Sequence, seams: Seams) -> Self {
        let delivery = schedule.delivery();
        let (pieces, ends_in_hole) = pieces(evidence, &seams, breaks(schedule, evidence, &seams));
        // A clip of 23.976 frames a second has no frame after 0.976 of one.
        let apart = delivery.played_fps() - 1e-6;
        Self { pieces, ends_in_hole, patch_up_to: delivery.patch_slots(), apart }
    }

    /// True where the hole before that piece is small, and the holes on both sides of it are a second of clip
    /// away.
    fn patchable(&self, at: usize) -> bool {
        let Some((before, piece)) =
            at.checked_sub(1).and_then(|b| self.pieces.get(b)).zip(self.pieces.get(at))
        else {
            return false;
        };
        let far = |piece: &Piece| piece.clip_frames() as f64 >= self.apart;
        let hole_behind = self.pieces.get(at + 1).map_or(self.ends_in_hole, |next| next.lacking > 0);
        !piece.broken
            && (1..=self.patch_up_to).contains(&piece.lacking)
            && (before.lacking == 0 || far(before))
            && (!hole_behind || far(piece))
    }

    /// Every hole that a patch bridges, in order.
    pub fn patches(&self) -> impl Iterator<Item = Patch> + '_ {
        (1..self.pieces.len()).filter(|at| self.patchable(*at)).map(|at| self.patch(at))
    }

    fn patch(&self, at: usize) -> Patch {
        let (before, piece) = (&self.pieces[at - 1], &self.pieces[at]);
        Patch { before: before.span.last, after: piece.span.first, slots: piece.lacking }
    }

    /// The part that makes the longest clip; the earlier one of two as long. `None` where no frame serves.
    pub fn longest(&self) -> Option<Part> {
        // First and last piece of the best part so far.
        let mut best: Option<(usize, usize, u64)> = None;
        let (mut from, mut frames) = (0, 0);
        for (at, piece) in self.pieces.iter().enumerate() {
            if self.patchable(at) {
                frames += piece.lacking + piece.passed + piece.clip_frames();
            } else {
                (from, frames) = (at, piece.clip_frames());
            }
            if best.is_none_or(|b| frames > b.2) {
                best = Some((from, at, frames));
            }
        }
        let (from, to, _) = best?;
        self.part(from, to)
    }

    /// The part that ends with the last good frame: what is shot next makes it longer.
    pub fn growing(&self) -> Option<Part> {
        let to = self.pieces.len().checked_sub(1)?;
        let from = (1..=to).rev().find(|at| !self.patchable(*at)).unwrap_or(0);
        self.part(from, to)
    }

    /// The pieces from one to another, joined by patches.
    fn part(&self, from: usize, to: usize) -> Option<Part> {
        let pieces = &self.pieces[from..=to];
        let passed: u64 = pieces.iter().skip(1).map(|p| p.passed).sum();
        Some(Part {
            span: FrameSpan { first: pieces.first()?.span.first, last: pieces.last()?.span.last },
            frames: pieces.iter().map(|p| p.frames).sum(),
            agreed: pieces.iter().map(|p| p.agreed).sum::<u64>() + passed,
            patches: (from + 1..=to).map(|at| self.patch(at)).collect(),
        })
    }
}

/// A pace that changes by less than this share is none that a viewer sees. Common practice, no source: it is
/// the level at which a drift is a fault.
const OTHER_PACE: f64 = 0.05;

/// Positions at which a part cannot run on whatever is patched, in order.
fn breaks(schedule: &Schedule, evidence: &Sequence, seams: &Seams) -> Vec<usize> {
    let changes: Vec<usize> = schedule.changes_of_interval().collect();
    let broken = |join: &Join| match &join.kind {
        JoinKind::Slip { .. } | JoinKind::ClockStep { stood_s: Some(_), .. } => {
            !seams.pauses.iter().any(|s| s.first <= join.before && join.after <= s.last)
        }
        // Where a rate changes is known to a frame or so.
        JoinKind::Rate { earliest, latest, from_s, to_s, pause_s } => {
            let plain = pause_s.is_some() || (to_s / from_s - 1.0).abs() > OTHER_PACE;
            plain
                && !changes.iter().any(|at| earliest.saturating_sub(1) <= *at && *at <= latest + 1)
                && !seams.rates.iter().any(|s| s.first <= join.after && join.before <= s.last)
        }
        _ => false,
    };
    let joins = evidence.timing.joins.iter().filter(|j| broken(j)).map(|j| j.after);
    let mut all: Vec<usize> = seams.breaks.iter().copied().chain(joins).collect();
    all.sort_unstable();
    all
}

/// The good frames of the run, parted by what breaks a clip and by holes; and whether it ends in frames that
/// are not good.
fn pieces(evidence: &Sequence, seams: &Seams, breaks: Vec<usize>) -> (Vec<Piece>, bool) {
    let timing = &evidence.timing;
    let within = |spans: &[FrameSpan], first: usize, last: usize| {
        spans.iter().any(|s| s.first <= first && last <= s.last)
    };
    let spoilt =
        |at: usize| evidence.frame(at).state() == FrameState::Damaged && !within(&seams.damaged, at, at);
    let all = evidence.len();
    // A bracket with a damaged exposure makes no frame of the clip.
    let mut without: Vec<i64> =
        (0..all).filter(|at| spoilt(*at)).filter_map(|at| evidence.frame(at).slot()).collect();
    without.sort_unstable();
    let mut breaks = breaks.into_iter().peekable();
    let mut holes = timing.holes.iter().peekable();
    let mut pieces: Vec<Piece> = Vec::new();
    let (mut broken, mut passed, mut gap) = (true, 0, Gap::default());
    let mut last_slot = None;
    for at in 0..all {
        while breaks.next_if(|b| *b <= at).is_some() {
            broken = true;
        }
        while let Some(hole) = holes.next_if(|h| h.after <= at) {
            let agreed = within(&seams.holes, hole.before, hole.after);
            if agreed { passed += hole.slots } else { gap.missing += hole.slots }
        }
        let slot = evidence.frame(at).slot();
        match evidence.frame(at).state() {
            // One frame too many is left out of the clip and breaks nothing; nor does one of another camera
            // in between.
            FrameState::Surplus | FrameState::Outside => continue,
            FrameState::Frame | FrameState::Damaged => {}
        }
        if spoilt(at) || slot.is_some_and(|s| without.binary_search(&s).is_ok()) {
            gap.lacks(slot);
            continue;
        }
        let lacking = std::mem::take(&mut gap).slots();
        match pieces.last_mut() {
            Some(piece) if !broken && lacking == 0 => {
                piece.span.last = at;
                // The exposures of a bracket make one frame of the clip.
                piece.frames += u64::from(slot.is_none() || slot != last_slot);
                piece.agreed += passed;
            }
            _ => {
                pieces.push(Piece { span: FrameSpan::one(at), frames: 1, agreed: 0, broken, lacking, passed })
            }
        }
        (broken, passed, last_slot) = (false, 0, slot);
    }
    (pieces, gap.slots() > 0)
}

/// What lacks between two good frames.
#[derive(Clone, Copy, Debug, Default)]
struct Gap {
    /// Slots that no frame stands in.
    missing: u64,
    /// Slots whose frame is damaged, and the last of them.
    damaged: u64,
    last: Option<i64>,
    /// Damaged frames that stand in no slot.
    adrift: u64,
}

impl Gap {
    fn lacks(&mut self, slot: Option<i64>) {
        match slot {
            None => self.adrift += 1,
            Some(_) if slot == self.last => {}
            Some(_) => (self.damaged, self.last) = (self.damaged + 1, slot),
        }
    }

    /// A damaged frame that stands in no slot fills one of the empty ones.
    fn slots(self) -> u64 {
        self.missing.max(self.adrift) + self.damaged
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::timing::{Hole, HoleCause, Join};
    use crate::evidence::{Card, Frames, Row, gather};
    use crate::plan::{DeliveryPlan, Plan};

    /// A run of so many slots at 25 fps, without the frames of those slots.
    fn without(slots: i64, empty: &[i64]) -> Sequence {
        let mut evidence = gather(&Plan::default(), Frames::default());
        let held: Vec<i64> = (0..slots).filter(|s| !empty.contains(s)).collect();
        evidence.frames =
            Frames { card: Card::default(), rows: vec![Row::default(); held.len()], ..Frames::default() };
        *evidence.states_mut() = vec![FrameState::Frame; held.len()];
        let gaps = held.windows(2).enumerate().filter(|(_, w)| w[1] - w[0] > 1);
        evidence.timing.holes = gaps
            .map(|(before, w)| Hole {
                before,
                after: before + 1,
                slot: w[0] + 1,
                slots: w[0].abs_diff(w[1]) - 1,
                gap_s: 0.0,
                numbers: None,
                cause: HoleCause::Unknown,
                doubt: None,
                shots_beyond: None,
            })
            .collect();
        *evidence.slots_mut() = held;
        evidence
    }

    fn plan(patch_up_to: Option<u64>) -> Plan {
        Plan { delivery: DeliveryPlan { fps: Some(25.0), length_s: None, patch_up_to }, ..Plan::default() }
    }

    /// Frames of the clip, and its patches.
    fn clip(plan: &Plan, evidence: &Sequence) -> (u64, usize) {
        let part =
            Course::of(&Schedule::of(plan, evidence), evidence, Seams::default()).longest().expect("a part");
        (part.clip_frames(), part.patches.len())
    }

    #[test]
    fn a_hole_is_patched_up_to_the_planned_slots() {
        for (most, slots, want) in [
            (None, 1, (480, 1)),
            (None, 2, (240, 0)),
            (Some(0), 1, (240, 0)),
            (Some(2), 2, (480, 1)),
            (Some(2), 3, (240, 0)),
            (Some(3), 3, (480, 1)),
        ] {
            let empty: Vec<i64> = (240..240 + slots).collect();
            assert_eq!(clip(&plan(most), &without(480, &empty)), want, "{most:?} {slots}");
        }
    }

    /// At 25 fps a second is 25 frames: with 25 between two holes both are patched, with 24 neither.
    #[test]
    fn two_holes_are_a_second_of_clip_apart() {
        assert_eq!(clip(&plan(None), &without(480, &[240, 266])), (480, 2));
        assert_eq!(clip(&plan(None), &without(480, &[240, 265])), (240, 0));
        // 24 frames are a second of 23.976 fps.
        let film = Plan {
            delivery: DeliveryPlan { fps: Some(24_000.0 / 1001.0), ..DeliveryPlan::default() },
            ..Plan::default()
        };
        assert_eq!(clip(&film, &without(480, &[240, 265])), (480, 2));
        assert_eq!(clip(&film, &without(480, &[240, 264])), (240, 0));
        // Without a rate 25 fps are assumed.
        assert_eq!(clip(&Plan::default(), &without(480, &[240, 266])), (480, 2));
        assert_eq!(clip(&Plan::default(), &without(480, &[240, 265])), (240, 0));
        // A long hole is one too.
        assert_eq!(clip(&plan(None), &without(480, &[240, 260, 261, 262])), (240, 0));
        assert_eq!(clip(&plan(None), &without(480, &[100, 240, 380])), (480, 3));
    }

    #[test]
    fn every_other_frame_makes_no_clip() {
        let odd: Vec<i64> = (0..240).map(|k| 2 * k + 1).collect();
        assert_eq!(clip(&plan(None), &without(480, &odd)), (1, 0));
        assert_eq!(clip(&plan(Some(5)), &without(480, &odd)), (1, 0));
    }

    #[test]
    fn a_damaged_frame_is_a_hole_with_what_lacks_beside_it() {
        let damaged = |empty: &[i64], at: usize| {
            let mut evidence = without(480, empty);
            evidence.states_mut()[at] = FrameState::Damaged;
            clip(&plan(None), &evidence)
        };
        assert_eq!(damaged(&[], 240), (480, 1));
        // Slot 240 is empty and the frame of slot 241 damaged: two in a row.
        assert_eq!(damaged(&[240], 240), (240, 0));
        // At an end it is left out.
        assert_eq!(damaged(&[], 0), (479, 0));
        assert_eq!(damaged(&[], 479), (479, 0));
        // One without a stamp stands in the hole that it leaves.
        let mut evidence = without(480, &[240]);
        evidence.slots_mut().insert(240, crate::evidence::testing::NO_SLOT);
        evidence.states_mut().insert(240, FrameState::Damaged);
        evidence.frames.rows.push(Row::default());
        evidence.timing.holes[0].after = 241;
        assert_eq!(clip(&plan(None), &evidence), (480, 1));
    }

    #[test]
    fn a_bracket_with_a_damaged_exposure_is_a_hole() {
        let mut evidence = without(180, &[]);
        *evidence.slots_mut() = (0..180).map(|k| k / 3).collect();
        assert_eq!(clip(&plan(None), &evidence), (60, 0));
        evidence.states_mut()[91] = FrameState::Damaged;
        assert_eq!(clip(&plan(None), &evidence), (60, 1));
        assert_eq!(clip(&plan(Some(0)), &evidence), (30, 0));
    }

    #[test]
    fn what_was_agreed_to_is_taken_as_good() {
        let whole = FrameSpan { first: 239, last: 240 };
        let part = |evidence: &Sequence, seams: Seams| {
            let part =
                Course::of(&Schedule::of(&plan(None), evidence), evidence, seams).longest().expect("a part");
            (part.clip_frames(), part.agreed, part.patches.len())
        };
        let evidence = without(480, &[240, 241, 242, 243]);
        assert_eq!(part(&evidence, Seams::default()), (240, 0, 0));
        assert_eq!(part(&evidence, Seams { holes: vec![whole], ..Seams::default() }), (480, 4, 0));
        // It is no neighbour of a hole that is patched.
        let evidence = without(480, &[240, 241, 250]);
        assert_eq!(part(&evidence, Seams { holes: vec![whole], ..Seams::default() }), (480, 2, 1));
        let mut evidence = without(480, &[]);
        let kind = JoinKind::Slip { pause_s: 9.0, slots: 1.5 };
        evidence.timing.joins =
            vec![Join { before: 239, after: 240, gap_s: 9.0, kind, or_missing: None, shots_beyond: None }];
        assert_eq!(part(&evidence, Seams::default()), (240, 0, 0));
        assert_eq!(part(&evidence, Seams { pauses: vec![whole], ..Seams::default() }), (480, 0, 0));
        assert_eq!(part(&evidence, Seams { holes: vec![whole], ..Seams::default() }), (240, 0, 0));
    }

    #[test]
    fn words() {
        let patch = |slots| Patch { before: 0, after: 1, slots };
        assert_eq!(patch_words(&[]), "");
        assert_eq!(patch_words(&[patch(1)]), "1 patch");
        assert_eq!(patch_words(&[patch(2)]), "1 patch of 2 frames");
        assert_eq!(patch_words(&[patch(1), patch(1), patch(1)]), "3 patches");
        assert_eq!(patch_words(&[patch(1), patch(2)]), "2 patches of 3 frames in all");
    }
}
