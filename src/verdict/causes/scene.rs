//! A likely cause, and what the rules look at.

use crate::checks::Check;
use crate::evidence::Sequence;
use crate::finding::{CauseCode, Finding, Judgement, PLAN_DOUBTED, Severity};
use crate::plan::Plan;
use crate::plan::budget::Budget;
use crate::schedule::Schedule;
use std::borrow::Cow;

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
    pub remedy: Cow<'static, str>,
    /// What would tell it from its rivals, where it has any.
    pub apart: Option<&'static str>,
}

impl LikelyCause {
    /// The same with its incident: what happened in one sentence, what to do now, and the findings that it
    /// accounts for.
    pub(super) fn tells(self, sentence: String, to_do: impl Into<String>, of: Vec<Which>) -> Explanation {
        Explanation { cause: self, sentence, to_do: to_do.into(), of }
    }
}

/// One finding: a check, and its place among what that check found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Which {
    /// Id of the check.
    pub check: &'static str,
    /// Its place, from 0.
    pub nth: usize,
}

/// A cause with the findings that it accounts for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explanation {
    /// The cause.
    pub cause: LikelyCause,
    /// What happened, in one sentence.
    pub sentence: String,
    /// What to do now.
    pub to_do: String,
    /// The findings, each once.
    pub of: Vec<Which>,
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

    /// Those findings of a check that weigh and are not accepted.
    pub(super) fn which(&self, check: &Check, pick: impl Fn(&Finding) -> bool) -> Vec<Which> {
        let all = self.all(check).enumerate();
        all.filter(|(_, f)| f.weighs() && pick(f)).map(|(nth, f)| Which { check: f.check, nth }).collect()
    }

    /// The findings of any check that have this cause, weigh, and are not accepted.
    pub(super) fn with_cause(&self, cause: CauseCode) -> Vec<Which> {
        let caused = |f: &Finding| f.cause.as_ref().is_some_and(|c| c.code == cause);
        let all = self.judgements.iter().flat_map(|j| j.findings().iter().enumerate());
        all.filter(|(_, f)| f.weighs() && caused(f)).map(|(nth, f)| Which { check: f.check, nth }).collect()
    }

    /// When a frame was shot, or which it is where it has no stamp: fit for "at …" and "from … on".
    pub(super) fn when(&self, at: usize) -> String {
        let frame = self.evidence.frame(at);
        frame.clock().unwrap_or_else(|| frame.name())
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
