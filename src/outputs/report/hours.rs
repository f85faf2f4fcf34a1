//! When each frame of the run was taken, on one clock that nobody set, and what of the plan was not shot.
//! Without a grid there is none of it: such stamps are not trusted to space the frames.

use crate::audit::Audit;
use crate::evidence::FrameView;
use crate::evidence::timing::JoinKind;
use crate::plan::{Moment, Plan, hours, run_planned_s};
use crate::schedule::on_clock;
use crate::units::CivilTime;

/// Two moments, s after [`Hours::base`].
pub(crate) type Span = (f64, f64);

/// A start that is this far off is a clock that was never set, s.
const ANOTHER_DAY_S: f64 = 86_400.0;
/// Frames beside the run are shown where they lie this close to it, as a share of its length.
const BESIDE: f64 = 0.2;
/// A rest shorter than so many intervals is not cut out.
const SHORTEST_CUT: f64 = 4.0;
/// Days past which no rests are cut out: nobody reads so many marks.
const MOST_DAYS: f64 = 400.0;

/// The times of one audit.
pub(crate) struct Hours {
    /// Second 0, by the clock as it stood at the run's first stamp.
    pub base: CivilTime,
    /// When each frame was taken, s after the base; NaN where it has no place.
    pub seconds: Vec<f64>,
    /// What each frame of the run covers, in order: up to the middle between it and an unbroken neighbour,
    /// else half an interval.
    pub covers: Vec<(usize, Span)>,
    /// The interval of the shortest step, s.
    pub step_s: f64,
    /// Where the axis begins and ends.
    pub whole: Span,
    /// What was planned and not shot, before the first frame and after the last.
    pub not_shot: Vec<Span>,
    /// From the first planned shutter to the last, s; `None` where the plan does not tell.
    pub planned_s: Option<f64>,
    /// Hours in which no frame was due and none was taken.
    pub rests: Vec<Span>,
    /// True where the camera's clock was set on the way.
    pub clock_set: bool,
}

impl Hours {
    /// The times; `None` where no grid holds the frames.
    pub(crate) fn of(audit: &Audit) -> Option<Self> {
        let evidence = &audit.evidence;
        let timing = &evidence.timing;
        let cadence = timing.cadence.as_ref()?;
        let (first, _) = evidence.ends()?;
        let stretches = timing.stretches.iter().filter(|s| s.frames > 2).map(|s| s.interval_s);
        let step_s = stretches.fold(cadence.interval_s, f64::min);
        if !(step_s.is_finite() && step_s > 0.0) {
            return None;
        }
        let seconds = seconds(audit, first.at, step_s);
        let covers = covers(audit, &seconds, step_s);
        let begun_s = covers.iter().map(|c| c.1.0).reduce(f64::min)?;
        let ended_s = covers.iter().map(|c| c.1.1).reduce(f64::max)?;
        let mut hours = Self {
            base: first.at,
            seconds,
            covers,
            step_s,
            whole: (begun_s, ended_s),
            not_shot: Vec::new(),
            planned_s: None,
            rests: Vec::new(),
            clock_set: timing.joins.iter().any(|j| matches!(j.kind, JoinKind::ClockStep { .. })),
        };
        hours.lay_plan(audit, first.offset_min);
        hours.take_in_what_lies_beside(audit);
        hours.rest(&audit.plan);
        Some(hours)
    }

    /// Widens the whole to what the plan asks where it asks for more slots than were shot.
    fn lay_plan(&mut self, audit: &Audit, offset_min: Option<i16>) {
        let schedule = &audit.schedule;
        let (begun_s, ended_s) = self.whole;
        let starts = audit.plan.start.map(|start| on_clock(start, offset_min));
        let starts_s = starts.map(|at| at.seconds_since(self.base)).filter(|s| s.abs() < ANOTHER_DAY_S);
        let from_s = starts_s.unwrap_or(0.0);
        let Some(asked) = schedule.slots_asked() else { return };
        // Working hours are counted from a moment.
        let start = Moment { civil: self.base.plus_seconds(from_s), offset_min: None };
        let plan = Plan { start: Some(start), ..audit.plan.clone() };
        let by_plan = run_planned_s(&plan).filter(|_| schedule.misfit().is_none());
        let planned_s = by_plan.unwrap_or_else(|| asked.saturating_sub(1) as f64 * self.step_s);
        if !(planned_s.is_finite() && planned_s >= 0.0) {
            return;
        }
        self.planned_s = Some(planned_s);
        if schedule.slots_shot(&audit.evidence) >= asked {
            return;
        }
        let half_s = self.step_s / 2.0;
        let (planned_from, planned_to) = (from_s - half_s, from_s + planned_s + half_s);
        if begun_s - planned_from > self.step_s {
            self.not_shot.push((planned_from, begun_s));
        }
        if planned_to - ended_s > half_s {
            self.not_shot.push((ended_s, planned_to));
        }
        for (from, to) in &self.not_shot {
            self.whole = (self.whole.0.min(*from), self.whole.1.max(*to));
        }
    }

    /// Test shots and other frames close to the run stay in sight.
    fn take_in_what_lies_beside(&mut self, audit: &Audit) {
        let (from, to) = self.whole;
        let room = (to - from) * BESIDE;
        let half_s = self.step_s / 2.0;
        let beside = audit.evidence.all().filter(|f| f.is_outside()).map(|f| self.seconds[f.at()]);
        let near = beside.filter(|s| *s > from - room && *s < to + room);
        let (low, high) = near.fold((from, to), |(low, high), s| (low.min(s - half_s), high.max(s + half_s)));
        self.whole = (low, high);
    }

    /// Finds the rests between working hours.
    fn rest(&mut self, plan: &Plan) {
        let (from, to) = self.whole;
        if plan.active.is_empty() || to - from > MOST_DAYS * hours::DAY_S {
            return;
        }
        // What is kept: hours in which frames are due, and every frame wherever it lies.
        let mut kept: Vec<Span> = self.covers.iter().map(|c| c.1).collect();
        let mut at = from;
        while at < to {
            let clock_s = (self.base.seconds() + at).rem_euclid(hours::DAY_S);
            let rest_s = hours::rest_s(&plan.active, clock_s);
            let awake_s = hours::awake_s(&plan.active, clock_s).max(1.0);
            if rest_s == 0.0 {
                kept.push((at, (at + awake_s).min(to)));
            }
            at += if rest_s > 0.0 { rest_s } else { awake_s };
        }
        kept.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut seen = from;
        for (begins, ends) in kept {
            if begins - seen > SHORTEST_CUT * self.step_s && seen > from {
                self.rests.push((seen, begins));
            }
            seen = seen.max(ends);
        }
    }
}

/// When each frame was taken, s after the base: its stamp without the steps of the clock, else when its slot
/// was due, else an interval after the frame before.
fn seconds(audit: &Audit, base: CivilTime, step_s: f64) -> Vec<f64> {
    let evidence = &audit.evidence;
    let mut joins = evidence.timing.joins.iter().peekable();
    let (mut set_s, mut before) = (0.0, 0.0);
    let at = |frame: FrameView<'_>| {
        while let Some(join) = joins.next_if(|j| j.after <= frame.at()) {
            if let JoinKind::ClockStep { step_s, .. } = join.kind {
                set_s += step_s;
            }
        }
        let due = || audit.schedule.due(evidence, frame.slot()?);
        let moment = frame.moment().or_else(due).map(|at| at.seconds_since(base) - set_s);
        let seconds = moment.unwrap_or(if frame.stands() { before + step_s } else { f64::NAN });
        if frame.stands() {
            before = seconds;
        }
        seconds
    };
    evidence.all().map(at).collect()
}

/// What each frame of the run covers.
fn covers(audit: &Audit, seconds: &[f64], step_s: f64) -> Vec<(usize, Span)> {
    let evidence = &audit.evidence;
    let timing = &evidence.timing;
    let mut breaks: Vec<usize> = timing.holes.iter().map(|h| h.after).collect();
    // The interval that changes leaves no gap behind.
    let parts = timing.joins.iter().filter(|j| j.stood_s().is_some() || j.kind == JoinKind::Night);
    breaks.extend(parts.map(|j| j.after));
    breaks.sort_unstable();
    let mut breaks = breaks.into_iter().peekable();
    let mut covers: Vec<(usize, Span)> = Vec::new();
    for at in evidence.in_run() {
        let here = seconds[at];
        let half_s = audit.schedule.interval_s(at).unwrap_or(step_s).max(step_s) / 2.0;
        let mut broken = false;
        while breaks.next_if(|b| *b <= at).is_some() {
            broken = true;
        }
        let mut from = here - half_s;
        if let Some((before, last)) = covers.last_mut() {
            let middle = f64::midpoint(seconds[*before], here);
            if !broken && middle.is_finite() {
                (last.1, from) = (middle.max(last.0), middle.max(last.0));
            } else if from < last.1 {
                // Half an interval on either side is more than there is.
                (last.1, from) = (middle, middle);
            }
        }
        covers.push((at, (from, (here + half_s).max(from))));
    }
    covers
}
