//! A run that still goes on: when it ends, what runs out before that, and whether what went wrong so far
//! costs the clip.
//!
//! The frames are audited under [`so_far`], the plan without its end, so that an end that has not come yet
//! is no fault. [`Forecast::of`] lays the rest of the plan behind the last frame. It is pure: the clock and
//! the room on the card come in with [`Outlook`].
//!
//! README.md beside this file tells how it works.

mod ahead;
mod clip;
mod current;
mod runs_out;

pub use clip::ClipOutlook;
pub use current::current_run;
pub use runs_out::{RunsOut, Supply};

use crate::audit::Audit;
use crate::checks::{CHECKS, Check};
use crate::evidence::Sequence;
use crate::evidence::timing::HoleCause;
use crate::finding::{ClipEffect, InForce};
use crate::plan::{CardPlan, DeliveryPlan, Plan, RigPlan, frames_asked};
use crate::schedule::Schedule;
use crate::units::CivilTime;
use crate::verdict::Call;
use ahead::Ahead;

/// Intervals without a frame after which a run has stopped.
pub const STOPPED: f64 = 3.0;

/// What is known beside frames and plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outlook {
    /// The present moment on the camera's clock.
    pub now: CivilTime,
    /// Bytes that can still be written where the frames go; `None` where that is not known.
    pub free_bytes: Option<f64>,
}

/// How far the run has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stage {
    /// Frames come as planned.
    Running,
    /// Nothing came for [`STOPPED`] intervals. Seconds since the last frame.
    Stopped(f64),
    /// The run has all of its slots.
    Whole,
}

/// A moment to come, and the earliest and latest that the stamps allow for it, if the timer goes on as it
/// does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Expected {
    /// The likeliest.
    pub at: CivilTime,
    /// Not before this.
    pub earliest: CivilTime,
    /// Not after this.
    pub latest: CivilTime,
}

/// What is to come of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// How far it has come.
    pub stage: Stage,
    /// The present moment on the camera's clock.
    pub now: CivilTime,
    /// Slots so far, empty ones included.
    pub slots: u64,
    /// Slots that the plan asks for; `None` where it names no length.
    pub asked: Option<u64>,
    /// The first and the last frame's stamps.
    pub ends: Option<(CivilTime, CivilTime)>,
    /// When the next frame is due; `None` without an interval, or where none is to come.
    pub next: Option<CivilTime>,
    /// When the last slot is due; `None` where the plan names no length, or no interval is known.
    pub end: Option<Expected>,
    /// What runs out, and when, the first one first. What outlasts the run is among them.
    pub supplies: Vec<RunsOut>,
    /// What can still become of the clip.
    pub clip: ClipOutlook,
    /// What is wrong so far.
    pub call: Call,
}

impl Forecast {
    /// Of a run that was audited under [`so_far`] of that plan.
    pub fn of(audit: &Audit, plan: &Plan, outlook: Outlook) -> Self {
        let evidence = &audit.evidence;
        let schedule = Schedule::of(plan, evidence);
        let slots = schedule.slots_shot(evidence);
        let asked = schedule.slots_asked();
        let ahead = Ahead::of(plan, evidence, &schedule, slots);
        let left = asked.map(|asked| Left::of(asked, slots, evidence));
        let ends = evidence.ends().map(|(first, last)| (first.at, last.at));
        let stage = stage(left, ends, &ahead, outlook.now);
        let end = left.filter(|left| left.most > 0).and_then(|left| {
            let end = ahead.due(left.slots)?;
            Some(Expected { latest: ahead.due(left.most)?.latest, ..end })
        });
        let left = left.map(|left| left.slots);
        let supplies = match stage {
            Stage::Whole => Vec::new(),
            _ => runs_out::all(plan, evidence, &schedule, &ahead, (left, end), outlook.free_bytes),
        };
        let coming = match stage {
            Stage::Running => left,
            Stage::Stopped(_) | Stage::Whole => Some(0),
        };
        Self {
            stage,
            now: outlook.now,
            slots,
            asked,
            ends,
            next: ahead.next().filter(|_| left != Some(0)),
            end,
            supplies,
            clip: ClipOutlook::of(plan, audit, &schedule, coming),
            call: audit.verdict.call,
        }
    }

    /// The first of what runs out before the end.
    pub fn shortage(&self) -> Option<&RunsOut> {
        self.supplies.iter().find(|s| s.before_end)
    }

    /// True where what went wrong so far cannot be made good by what is still to come.
    pub fn spoilt(&self) -> bool {
        let costs_the_clip = self.clip.enough == Some(false);
        let nothing_ordered = self.clip.enough.is_none() && self.call == Call::Hold;
        costs_the_clip || nothing_ordered || self.clip.crumbles
    }

    /// True while nothing has to be done: frames come or all are there, everything lasts, and the clip can
    /// be had.
    pub fn on_course(&self) -> bool {
        !matches!(self.stage, Stage::Stopped(_)) && self.shortage().is_none() && !self.spoilt()
    }
}

/// The plan as it is held against a run of which so many frames are there: without its length, and without
/// what is only spent by its end. A share of the run that may be missing or damaged is one of the whole run.
pub fn so_far(plan: &Plan, frames: usize) -> Plan {
    let asked = frames_asked(plan).unwrap_or(0) * u64::from(plan.members());
    let whole = (asked as f64 / frames.max(1) as f64).max(1.0);
    let mut tolerances = plan.tolerances.clone();
    let of_the_run =
        |check: &&&Check| matches!(check.text.traits.in_the_clip, ClipEffect::Holes | ClipEffect::Damage);
    for check in CHECKS.iter().filter(of_the_run) {
        let own = InForce::new(check.limits, plan.tolerances.get(check.text.id));
        let shares = own.all().filter(|(limit, _)| limit.unit.starts_with('%'));
        for (key, fault) in shares.filter_map(|(limit, _)| Some((limit.key.name(), limit.fault?))) {
            let own = tolerances.entry(check.text.id.to_owned()).or_default();
            own.insert(format!("{key}_fault"), fault * whole);
        }
    }
    Plan {
        frames: None,
        run_s: None,
        last: None,
        tolerances,
        card: CardPlan::default(),
        rig: RigPlan { battery_hours: None, hours_range: None, ..plan.rig.clone() },
        delivery: DeliveryPlan { length_s: None, ..plan.delivery.clone() },
        ..plan.clone()
    }
}

/// How far the run has come. A run without a length is never whole.
fn stage(
    left: Option<Left>,
    ends: Option<(CivilTime, CivilTime)>,
    ahead: &Ahead<'_>,
    now: CivilTime,
) -> Stage {
    if left.is_some_and(|left| left.most == 0) {
        return Stage::Whole;
    }
    let quiet_s = ends.map_or(0.0, |(_, last)| now.seconds_since(last));
    let quiet = ahead.stopped_at().is_some_and(|stopped| now >= stopped);
    match left {
        Some(left) if quiet && left.slots == 0 => Stage::Whole,
        _ if quiet => Stage::Stopped(quiet_s),
        _ => Stage::Running,
    }
}

/// Slots that are still to come.
#[derive(Clone, Copy, Debug)]
struct Left {
    /// Where the empty slots so far count as well.
    slots: u64,
    /// Where the timer stood in them, and makes up for it.
    most: u64,
}

impl Left {
    fn of(asked: u64, slots: u64, evidence: &Sequence) -> Self {
        // A file that is lost was shot; for any other hole it may be the timer that stood.
        let holes = evidence.timing.holes.iter().filter(|h| h.cause != HoleCause::FileLost);
        let empty: u64 = holes.map(|h| h.slots).sum();
        let slots_left = asked.saturating_sub(slots);
        Self { slots: slots_left, most: asked.saturating_sub(slots.saturating_sub(empty)).max(slots_left) }
    }
}

/// Bytes of the slots that hold a frame, with their companions, in the order of capture.
fn bytes(evidence: &Sequence, at: usize) -> f64 {
    evidence.frame(at).shot().files().map(|file| file.bytes as f64).sum()
}

#[cfg(test)]
mod tests;
