//! An audit as it is told, worked out once: what is asked and shot, the incidents, the lanes of the run, the
//! time in one slot, what is to be patched, and what of the plan is met. Text, HTML, CSV, JSON and the
//! client's page lay it out.

pub(crate) mod acceptance;
pub(crate) mod asked;
pub(crate) mod axis;
pub(crate) mod call;
pub(crate) mod counts;
pub(crate) mod findings;
mod hours;
pub(crate) mod incidents;
pub(crate) mod lanes;
pub(crate) mod lines;
pub(crate) mod outside;
pub(crate) mod patch;
pub(crate) mod planned_exposure;
pub(crate) mod reel;
pub(crate) mod several;
pub(crate) mod shown;
pub(crate) mod slot;
pub(crate) mod stars;
pub(crate) mod story;
pub(crate) mod ticks;
pub(crate) mod usable;

use crate::audit::{Audit, AuditSet};
use acceptance::Requirement;
use asked::Asked;
use axis::Axis;
use counts::Counts;
use incidents::Folded;
use lanes::Lane;
use outside::Beside;
use patch::Place;
use slot::Cycles;
use story::Story;
use ticks::Tick;

/// The columns that the run is laid out in: twice the pixels of a wide page, so that a look closer shows
/// more.
const COLUMNS: usize = 1600;

/// All that is told of one audit, beside the audit itself.
pub(crate) struct Report<'a> {
    /// The audit.
    pub audit: &'a Audit,
    /// What the call was made from, where it is not everything.
    pub limited_to: Option<&'static str>,
    /// True where the plan says how long the run was to be, so that its end was compared with something.
    pub end_known: bool,
    /// What the plan keeps out of the call.
    pub kept_out: Option<String>,
    /// What happened in one sentence, and what to do now.
    pub story: Story,
    /// What was found, folded under its incidents.
    pub folded: Folded<'a>,
    /// How many frames and slots there are of each kind.
    pub counts: Counts,
    /// Asked and shot, side by side.
    pub asked: Vec<Asked>,
    /// What lies outside of the run and why, neighbours with one reason together.
    pub outside: Vec<Beside<'a>>,
    /// Where along the run each frame stands.
    pub axis: Axis,
    /// The times along it.
    pub ticks: Vec<Tick>,
    /// What is marked along the run.
    pub lanes: Vec<Lane>,
    /// The time in one slot; `None` where neither interval nor exposures are known.
    pub slot: Option<Cycles>,
    /// What is to be patched, in the order of the run.
    pub patches: Vec<Place>,
    /// What of the plan is met.
    pub requirements: Vec<Requirement>,
}

impl<'a> Report<'a> {
    /// Works it out.
    pub(crate) fn of(audit: &'a Audit) -> Self {
        let counts = Counts::of(audit);
        let asked = asked::asked_and_shot(audit, &counts);
        let axis = Axis::new(audit, COLUMNS);
        Self {
            audit,
            limited_to: call::limited_to(audit),
            end_known: call::end_known(audit),
            kept_out: audit.kept_out(),
            story: Story::of(audit),
            folded: Folded::of(audit),
            outside: outside::beside(audit),
            ticks: ticks::ticks(audit, &axis),
            lanes: lanes::lanes(audit, &axis),
            slot: slot::cycles(audit),
            patches: patch::list(audit),
            requirements: acceptance::table(audit, &asked),
            counts,
            asked,
            axis,
        }
    }

    /// The reports of all cameras, in their order.
    pub(crate) fn of_each(set: &'a AuditSet) -> Vec<Self> {
        set.cameras.iter().map(|own| Self::of(&own.audit)).collect()
    }
}
