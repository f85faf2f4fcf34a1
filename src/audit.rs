//! The finished record. `carry_out` is pure: no disk, no clock, no threads, no chance.

pub use crate::evidence::exposure::{ExposureTrack, Settings};
pub use crate::evidence::timing::{
    Cadence, Hole, HoleCause, Join, JoinKind, NO_SLOT, OrderBasis, Stretch, TimerLaw, Timing,
};
pub use crate::evidence::{
    Camera, CardFile, Cell, Damage, Evidence, FileKind, FileNumber, FrameState, Frames, Outside, Row, Shot,
    Stamp, StampSource, Trouble,
};
pub use crate::finding::{
    Answer, Cause, Direction, Doubt, Finding, InForce, Judgement, Limit, Severity, Text,
};
pub use crate::frames::{Card, Folder, PassedOver};
pub use crate::plan::{
    Accepted, CountedFrom, DailyHours, DeliveryPlan, ExposureMode, ExposurePlan, Light, Moment, Part,
    PartStart, Plan, Planned, RigKind, RigPlan,
};
pub use crate::verdict::{Call, Reason, Usable, Verdict};

/// What the pictures were read for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Pictures {
    /// Not at all: timing and settings only.
    #[default]
    None,
    /// The embedded thumbnails.
    Thumb,
    /// Every picture whole.
    Full,
}

/// What an audit is made under, apart from the frames.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Title: the plan's name, else that of the folder.
    pub name: String,
    /// What was meant.
    pub plan: Plan,
    /// Where the plan came from, in words that follow the count of frames ("held against plan.toml, found with the frames").
    pub plan_source: String,
    /// What the pictures were read for.
    pub pictures: Pictures,
}

/// A finished audit: all that the outputs are written from.
#[derive(Clone, Debug)]
pub struct Audit {
    /// Title: the plan's name, else that of the folder.
    pub name: String,
    /// What was meant.
    pub plan: Plan,
    /// Where the plan came from, in words that follow the count of frames ("held against plan.toml, found with the frames",
    /// "no plan, held against its own cadence").
    pub plan_source: String,
    /// What the frames say together.
    pub evidence: Evidence,
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

    /// Every finding, weightiest first, then in the checks' order.
    pub fn findings(&self) -> Vec<&Finding> {
        let mut all: Vec<_> = self.judgements.iter().flat_map(|j| j.findings()).collect();
        all.sort_by_key(|f| std::cmp::Reverse(f.severity));
        all
    }
}
