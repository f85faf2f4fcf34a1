//! What runs out: card, battery, the room that the interval leaves for the exposure, and the light.

use super::ahead::Ahead;
use super::{Expected, bytes};
use crate::evidence::{FrameView, Sequence};
use crate::plan::arithmetic::exact_s;
use crate::plan::power::Hours;
use crate::plan::{Plan, Planned, levels};
use crate::schedule::Schedule;
use crate::stats::slope;
use crate::units::CivilTime;

/// What a run lives on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Supply {
    /// Room for files.
    Card,
    /// The battery's hours, in the plan's cold.
    Battery,
    /// The interval: a growing exposure no longer fits it.
    Interval,
    /// The longest exposure of the planned ramp.
    Ramp,
    /// The light of pictures with locked settings.
    Light,
}

impl Supply {
    /// Its word in the JSON record.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Card => "card",
            Self::Battery => "battery",
            Self::Interval => "interval",
            Self::Ramp => "ramp",
            Self::Light => "light",
        }
    }

    /// True where the run cannot go on without it. Pictures that darken may be meant to.
    pub const fn ends_the_run(self) -> bool {
        matches!(self, Self::Card | Self::Battery | Self::Interval)
    }
}

/// When one of them is spent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunsOut {
    /// What.
    pub supply: Supply,
    /// When.
    pub at: CivilTime,
    /// Slots that it still serves, counted from the first of the run.
    pub slot: u64,
    /// How much there is: bytes, hours, or seconds of exposure; stops under white of a picture.
    pub amount: f64,
    /// True where it ends the run before its end.
    pub before_end: bool,
}

/// Slots that are looked ahead where the plan names no end.
const FAR: u64 = 10_000_000;
/// Frames from which the size of a frame is taken: noise makes them larger as the light goes.
const LATELY: usize = 50;
/// A trend is taken from the last half an hour, and from so many frames at least.
const TREND_S: f64 = 1800.0;
const TREND_FRAMES: usize = 20;
/// Stops that a trend has to go before it is carried on.
const TREND_EV: f64 = 1.0;
/// A picture is dark so many stops under white. Common practice, no source: code 22 of 255.
const DARK_EV: f64 = -7.0;

/// All of them, the first one first. `left` is how many slots are to come, and when the last of them is due.
pub(super) fn all(
    plan: &Plan,
    evidence: &Sequence,
    schedule: &Schedule,
    ahead: &Ahead<'_>,
    (left, end): (Option<u64>, Option<Expected>),
    free_bytes: Option<f64>,
) -> Vec<RunsOut> {
    let here = schedule.slots_shot(evidence);
    let spent = |supply: Supply, more: u64, at: CivilTime, amount: f64| RunsOut {
        supply,
        at,
        slot: here + more,
        amount,
        before_end: supply.ends_the_run() && left.is_some_and(|left| more < left),
    };
    let by_time = |supply: Supply, at: CivilTime, amount: f64| {
        spent(supply, ahead.due_by(at, left.unwrap_or(FAR)), at, amount)
    };
    let mut all = Vec::new();
    if let Some((bytes, slots)) = card(plan, evidence, schedule, free_bytes) {
        let full = ahead.due(slots.saturating_add(1).min(FAR));
        all.extend(full.map(|full| spent(Supply::Card, slots, full.at, bytes)));
    }
    if let Some((hours, empty)) = battery(plan, evidence) {
        all.push(by_time(Supply::Battery, empty, hours));
    }
    let grows = exposures(plan, evidence, schedule, ahead);
    let dark = light(plan, evidence, ahead).map(|(at, ev)| (Supply::Light, at, ev));
    for (supply, at, amount) in grows.into_iter().chain(dark) {
        // A ramp that is at its end when the run is was planned so.
        if supply.ends_the_run() || end.is_none_or(|end| at < end.earliest) {
            all.push(by_time(supply, at, amount));
        }
    }
    all.sort_by_key(|spent| (spent.at, spent.slot));
    all
}

/// Bytes that can still be written, and how many slots they hold.
fn card(
    plan: &Plan,
    evidence: &Sequence,
    schedule: &Schedule,
    free_bytes: Option<f64>,
) -> Option<(f64, u64)> {
    let run: Vec<usize> = evidence.in_run().collect();
    let lately = &run[run.len().saturating_sub(LATELY)..];
    let frame = lately.iter().map(|at| bytes(evidence, *at)).sum::<f64>() / lately.len().max(1) as f64;
    let slot = frame.max(plan.card.frame_bytes.unwrap_or(0.0).min(frame)) * schedule.members() as f64;
    let all: f64 = (0..evidence.len()).map(|at| bytes(evidence, at)).sum();
    let planned = plan.card.size_bytes.map(|size| size * levels::CARD_MOST_PERCENT / 100.0 - all);
    let free = planned.into_iter().chain(free_bytes).reduce(f64::min)?.max(0.0);
    (slot > 0.0).then(|| (free, (free / slot).floor().min(FAR as f64) as u64))
}

/// Hours that the battery can be counted on, and when they are over. A run with working hours rests between
/// them, and is not counted.
fn battery(plan: &Plan, evidence: &Sequence) -> Option<(f64, CivilTime)> {
    let hours = Hours::of(&plan.rig).filter(|_| plan.active.is_empty())?.counted_h();
    let (first, _) = evidence.ends()?;
    // A clock that was set is no time of the battery.
    Some((hours, first.at.plus_seconds(hours * 3600.0 + evidence.clock_set_s())))
}

/// Where a growing exposure no longer fits the interval, or comes to the end of its ramp.
fn exposures(
    plan: &Plan,
    evidence: &Sequence,
    schedule: &Schedule,
    ahead: &Ahead<'_>,
) -> Option<(Supply, CivilTime, f64)> {
    let of = |frame: FrameView<'_>| frame.exposure_s().filter(|s| *s > 0.0).map(f64::log2);
    let (now, a_second) = trend(evidence, of)?;
    let last = evidence.in_run().next_back()?;
    let interval_s = schedule.interval_s(last)?;
    let fits_s = schedule.budget(last).longest_exposure_s(interval_s, 0.0)?;
    let ramp_s = match plan.exposure.shutter_s {
        Some(Planned::Between(_, to)) => exact_s(to),
        _ => f64::INFINITY,
    };
    let (supply, most_s) = if ramp_s <= fits_s { (Supply::Ramp, ramp_s) } else { (Supply::Interval, fits_s) };
    let after_s = (most_s.log2() - now) / a_second;
    (a_second > 0.0 && after_s.is_finite())
        .then(|| (supply, ahead.last().plus_seconds(after_s.max(0.0)), most_s))
}

/// When pictures with settings that stay as they are have become dark, and how dark that is.
fn light(plan: &Plan, evidence: &Sequence, ahead: &Ahead<'_>) -> Option<(CivilTime, f64)> {
    let settings = |frame: FrameView<'_>| frame.ev100();
    let stays = trend(evidence, settings).is_none();
    let picture = |frame: FrameView<'_>| Some(frame.brightness_ev()? - frame.ev100()?);
    let (now, a_second) = trend(evidence, picture).filter(|_| stays && plan.exposure.mode.is_some())?;
    let after_s = (DARK_EV - now) / a_second;
    (a_second < 0.0 && after_s >= 0.0).then(|| (ahead.last().plus_seconds(after_s), DARK_EV))
}

/// Where a value stands at the last frame and by how much a second it goes, by its course of late; `None`
/// where it does not go anywhere.
fn trend(evidence: &Sequence, of: impl Fn(FrameView<'_>) -> Option<f64>) -> Option<(f64, f64)> {
    let end = evidence.ends()?.1.at;
    let mut points: Vec<(f64, f64)> = Vec::new();
    for frame in evidence.run().rev() {
        let Some((at, value)) = frame.moment().zip(of(frame)) else { continue };
        let since_s = at.seconds_since(end);
        if points.len() >= TREND_FRAMES && since_s < -TREND_S {
            break;
        }
        points.push((since_s, value));
    }
    points.reverse();
    let (first, last) = (points.first()?, points.last()?);
    let a_second = slope(&points, (last.0 - first.0) / 2.0).filter(|s| s.is_finite())?;
    let gone = (last.0 - first.0) * a_second;
    // A jump is no trend: half-way in time it has gone half of the way, or nearly.
    let middle = points[points.len() / 2];
    let half = (middle.1 - first.1) / (last.1 - first.1);
    let goes = gone.abs() >= TREND_EV && (0.25..=0.75).contains(&half);
    (points.len() >= TREND_FRAMES && goes).then_some((last.1, a_second))
}
