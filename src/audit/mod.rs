//! The finished record of one camera, and the set of those above it. `carry_out` and `carry_out_each` are
//! pure: no disk, no clock, no threads, no chance.
//!
//! README.md beside this file tells how it works.

mod camera_audit;
mod set;
mod together;

pub use camera_audit::CameraAudit;
pub use set::{AuditSet, carry_out_each};
pub use together::{ClockDifference, HoleAcross, StopAcross, Together, Whose};

use crate::checks::judge_all;
use crate::evidence::{Sequence, gather};
use crate::finding::{Finding, Judgement};
use crate::frames::{Frames, Pictures};
use crate::plan::Plan;
use crate::schedule::Schedule;
use crate::verdict::{Verdict, kept_out, reach};

/// What an audit is carried out under.
#[derive(Clone, Debug, Default)]
pub struct Setting {
    /// Title where the plan has no name: that of the folder.
    pub name: String,
    /// What was meant.
    pub plan: Plan,
    /// Where the plan came from, in words that follow the count of frames ("compared with plan.toml, found
    /// with the frames").
    pub plan_source: String,
    /// What the pictures were read for.
    pub pictures: Pictures,
}

/// Carries out the audit of `frames` as one camera's: pure, and the same on every machine.
pub fn carry_out(setting: Setting, frames: Frames) -> Audit {
    let evidence = gather(&setting.plan, frames);
    concluded(setting, evidence)
}

/// The rest of the audit, of evidence that was gathered for the plan of that setting.
pub(crate) fn concluded(setting: Setting, evidence: Sequence) -> Audit {
    let Setting { name, plan, plan_source, pictures } = setting;
    let schedule = Schedule::of(&plan, &evidence);
    let judgements = judge_all(&plan, &evidence, &schedule);
    let verdict = reach(&plan, &evidence, &schedule, &judgements);
    let name = plan.name.clone().unwrap_or(name);
    Audit { name, plan, plan_source, evidence, schedule, judgements, verdict, pictures }
}

/// A finished audit: all that the outputs are written from.
#[derive(Clone, Debug)]
pub struct Audit {
    /// Title: the plan's name, else that of the folder.
    pub name: String,
    /// What was meant.
    pub plan: Plan,
    /// Where the plan came from, in words that follow the count of frames ("compared with plan.toml, found
    /// with the frames", "no plan, compared with its own interval").
    pub plan_source: String,
    /// What the frames say together.
    pub evidence: Sequence,
    /// The plan laid on the run.
    pub schedule: Schedule,
    /// One a check, in the checks' order.
    pub judgements: Vec<Judgement>,
    /// What it comes to.
    pub verdict: Verdict,
    /// What the pictures were read for.
    pub pictures: Pictures,
}

impl Audit {
    /// True where every file was read and every folder walked. Otherwise the exit code is 2.
    pub fn complete(&self) -> bool {
        self.evidence.frames.trouble.is_empty()
    }

    /// What the plan keeps out of the call ("2 faults accepted by plan.toml"); `None` where that is nothing.
    pub fn kept_out(&self) -> Option<String> {
        kept_out(&self.plan, &self.judgements)
    }

    /// Every finding, weightiest first, then in the checks' order.
    pub fn findings(&self) -> Vec<&Finding> {
        let mut all: Vec<_> = self.judgements.iter().flat_map(|j| j.findings()).collect();
        all.sort_by_key(|f| std::cmp::Reverse(f.severity));
        all
    }
}
