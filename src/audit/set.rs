//! Several cameras in one audit: each is audited by itself, and what they say together stands above.

use super::together::{Together, together};
use super::{Audit, CameraAudit, Setting, carry_out};
use crate::evidence::by_camera;
use crate::evidence::{Camera, Trouble};
use crate::finding::Severity;
use crate::frames::PassedOver;
use crate::frames::{Frames, Pictures};
use crate::plan::Plan;
use crate::verdict::Call;

/// The audits of all cameras that the frames are by: mostly one.
#[derive(Clone, Debug)]
pub struct AuditSet {
    /// The cameras, in order of their first frame on the card. Never empty.
    pub cameras: Vec<CameraAudit>,
    /// What they say together; empty for one camera.
    pub together: Together,
    /// What was meant: one plan for every camera.
    pub plan: Plan,
    /// Files that are no frames, by reason.
    pub passed_over: Vec<(PassedOver, u64)>,
    /// What could not be walked or read, of all cameras.
    pub trouble: Vec<Trouble>,
}

/// Audits every camera that `frames` are by: pure, and the same on every machine.
pub fn carry_out_each(setting: Setting, frames: Frames) -> AuditSet {
    let by = by_camera(&frames);
    let plan = setting.plan.clone();
    let passed_over = frames.card.passed_over.clone();
    let trouble = frames.trouble.clone();
    let parts = if by.parts > 1 { frames.parted(&by.part_of, by.parts) } else { vec![frames] };
    let cameras: Vec<CameraAudit> = parts
        .into_iter()
        .enumerate()
        .map(|(n, frames)| {
            let (camera, folder) = (commonest(&frames), folder(&frames));
            CameraAudit { letter: letter(n), camera, folder, audit: carry_out(setting.clone(), frames) }
        })
        .collect();
    let together = together(&cameras);
    AuditSet { cameras, together, plan, passed_over, trouble }
}

impl AuditSet {
    /// The audit, where there is one camera.
    pub fn single(&self) -> Option<&Audit> {
        match self.cameras.as_slice() {
            [one] => Some(&one.audit),
            _ => None,
        }
    }

    /// The worst call of all cameras, and of what they say together.
    pub fn call(&self) -> Call {
        let own = self.cameras.iter().map(|c| c.audit.verdict.call);
        let above = self.together.reasons.iter().map(|r| match r.severity {
            Severity::Fault => Call::Hold,
            Severity::Caution => Call::Look,
            Severity::Note => Call::Clear,
        });
        own.chain(above).max_by_key(|call| weight(*call)).unwrap_or(Call::Look)
    }

    /// The cameras, those with the worst call first; among equals their order stands. With their index.
    pub fn worst_first(&self) -> Vec<(usize, &CameraAudit)> {
        let mut all: Vec<_> = self.cameras.iter().enumerate().collect();
        all.sort_by_key(|(_, c)| std::cmp::Reverse(weight(c.audit.verdict.call)));
        all
    }

    /// True where every file was read and every folder walked.
    pub fn complete(&self) -> bool {
        self.trouble.is_empty() && self.cameras.iter().all(|c| c.audit.complete())
    }

    /// What the pictures were read for.
    pub fn pictures(&self) -> Pictures {
        self.cameras.first().map_or(Pictures::None, |c| c.audit.pictures)
    }

    /// Title of the shoot: the plan's name, else that of the folder.
    pub fn name(&self) -> &str {
        self.cameras.first().map_or("", |c| c.audit.name.as_str())
    }

    /// Where the plan came from, in words that follow the count of frames.
    pub fn plan_source(&self) -> &str {
        self.cameras.first().map_or("", |c| c.audit.plan_source.as_str())
    }

    /// All frames, whatever they are to their camera's run.
    pub fn frames(&self) -> usize {
        self.cameras.iter().map(|c| c.audit.evidence.frames.len()).sum()
    }
}

/// How much a call weighs beside others.
fn weight(call: Call) -> u8 {
    match call {
        Call::Clear => 0,
        Call::Look => 1,
        Call::Hold => 2,
    }
}

/// `A` to `Z`, then `AA`.
fn letter(n: usize) -> String {
    let last = char::from(b'A' + (n % 26) as u8);
    if n < 26 { last.to_string() } else { format!("{}{last}", letter(n / 26 - 1)) }
}

/// The camera that most frames name; of two as common the one named first.
fn commonest(frames: &Frames) -> Option<Camera> {
    let mut counts = vec![0_usize; frames.cameras.len()];
    for camera in frames.rows.iter().filter_map(|r| r.camera.known()) {
        if let Some(count) = counts.get_mut(usize::from(camera)) {
            *count += 1;
        }
    }
    let most =
        (0..counts.len()).filter(|c| counts[*c] > 0).max_by_key(|&c| (counts[c], std::cmp::Reverse(c)))?;
    frames.cameras.get(most).cloned()
}

/// The deepest folder that holds every frame of the commonest root.
fn folder(frames: &Frames) -> (u16, String) {
    let card = &frames.card;
    let Some(root) = card.folders.first().map(|f| f.root) else { return (0, String::new()) };
    let mut all = card.folders.iter().filter(|f| f.root == root).map(|f| f.path.as_path());
    let mut shared = all.next().map(|p| p.to_path_buf()).unwrap_or_default();
    for path in all {
        while !path.starts_with(&shared) && shared.pop() {}
    }
    (root, shared.to_string_lossy().replace(std::path::MAIN_SEPARATOR, "/"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cameras_are_lettered() {
        assert_eq!([0, 1, 25, 26, 27, 702].map(letter), ["A", "B", "Z", "AA", "AB", "AAA"]);
    }
}
