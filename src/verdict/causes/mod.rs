//! Likely causes. A rule is a pattern in the evidence, the cause it speaks for, and what to do; it carries
//! its figures, and says what would tell it from its rivals. No rule speaks without evidence. Several may
//! compete: they are ranked.

mod busy;
mod clock;
mod ending;
mod exposing;
mod files;
mod pacing;
mod scene;

pub use scene::{Explanation, LikelyCause, Strength, Which};

use crate::evidence::Sequence;
use crate::finding::Judgement;
use crate::plan::Plan;
use crate::schedule::Schedule;
use scene::Scene;

/// The likely causes of what was found, with the findings that each accounts for: surest first, within a
/// strength in the order of the rules.
pub fn likely(
    plan: &Plan,
    evidence: &Sequence,
    schedule: &Schedule,
    judgements: &[Judgement],
) -> Vec<Explanation> {
    let scene = Scene { plan, evidence, schedule, judgements };
    let mut all: Vec<Explanation> = Vec::new();
    for rule in [files::rule, busy::rule, pacing::rule, clock::rule, exposing::rule, ending::rule] {
        all.extend(rule(&scene));
    }
    all.sort_by_key(|c| std::cmp::Reverse(c.cause.strength));
    all
}
