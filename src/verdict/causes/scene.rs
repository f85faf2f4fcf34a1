//! A likely cause, and what the rules look at.

use crate::checks::Check;
use crate::evidence::Sequence;
use crate::finding::{CauseCode, Finding, Judgement, PLAN_DOUBTED, Severity};
use crate::plan::Plan;
use crate::plan::budget::Budget;
use crate::schedule::Schedule;

/// How sure a cause is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Strength {
    /// The evidence fits, and fits others too.
    Possible,
    /// The evidence fits this better than what else is known.
    Likely,
    /// The evidence says it.
    Sure,
}

impl Strength {
    /// The word used everywhere.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Possible => "possible",
            Self::Likely => "likely",
            Self::Sure => "sure",
        }
    }
}

/// One likely cause.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LikelyCause {
    /// Its code in `audit.json`.
    pub code: CauseCode,
    /// How sure it is.
    pub strength: Strength,
    /// The cause and the figures that carry it, in words.
    pub words: String,
    /// What to do.
    pub remedy: &'static str,
    /// What would tell it from its rivals, where it has any.
    pub apart: Option<&'static str>,
}

/// What the rules look at.
pub(super) struct Scene<'a> {
    pub plan: &'a Plan,
    pub evidence: &'a Sequence,
    pub schedule: &'a Schedule,
    pub judgements: &'a [Judgement],
}

impl<'a> Scene<'a> {
    /// All findings of a check.
    pub(super) fn all(&self, check: &Check) -> impl Iterator<Item = &'a Finding> + use<'a> {
        let id = check.text.id;
        self.judgements.iter().filter(move |j| j.text.id == id).flat_map(Judgement::findings)
    }

    /// The findings of a check that weigh.
    pub(super) fn weighing(&self, check: &Check) -> impl Iterator<Item = &'a Finding> + use<'a> {
        self.all(check).filter(|f| f.severity > Severity::Note)
    }

    /// The finding which says that the plan may be wrong, accepted or not; `None` where plan and card belong
    /// together.
    pub(super) fn doubted(&self) -> Option<&'a Finding> {
        let mut all = self.judgements.iter().flat_map(Judgement::findings);
        all.find(|f| f.cause.as_ref().is_some_and(|c| c.code == PLAN_DOUBTED))
    }

    /// How long the camera is taken by a frame: exact exposure, busy time and a dark frame where the plan has
    /// them, s.
    pub(super) fn taken_s(&self, at: usize) -> Option<f64> {
        let camera = Budget::of_camera(&self.schedule.at(at).exposure);
        Some(camera.slot([self.evidence.frame(at).exposure_s()?]).camera_s)
    }
}
