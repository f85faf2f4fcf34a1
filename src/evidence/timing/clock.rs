//! A gap of whole half-hours while the file numbers run on: the camera's clock was put forward, or the camera
//! stood for as long. All that speaks for one of the two is weighed, in nats. A gap shorter than the
//! interval, on a pace that goes on: the clock was set back, or the timer began anew early.

use super::series::Series;
use super::{ClockRival, numbers};
use crate::frames::Look;
use crate::stats;

/// Odds that settle it.
const SETTLED: f64 = 5.0;
/// How much rarer a change of the clock is within a run than a stop.
const RARER: f64 = 5.0;
/// Zones lie half hours apart, and one island's daylight saving is half an hour, s.
const ZONE_S: f64 = 1800.0;
/// Of changes this far forward, s, no zone tells.
const A_DAY_S: f64 = 86_400.0;
/// A gap within this of whole half-hours, s, is as near as people set a pause.
const LEAST_WINDOW_S: f64 = 1.0;
/// The run lasted just as long as planned, by its stamps: chance would do so once in some hundreds.
const COUNT_MET: f64 = 6.0;
/// A camera that writes its offset from UTC changes it when its zone or daylight saving is changed.
const SAME_OFFSET: f64 = 4.0;
/// More candidates than this in one run are stops: nobody sets a clock so often.
const MOST_CHANGES: usize = 2;
/// Frames on either side from which the course of the light is taken.
const BESIDE: usize = 12;
/// Gaps on either side from which the pace is taken.
const PACE: usize = 8;
/// Light tells something where it would have changed by this over the gap, EV. A camera that stood while
/// clouds came up is possible too: it never settles the matter alone, nats.
const LEAST_LIGHT_EV: f64 = 1.0;
const MOST_BY_LIGHT: f64 = 2.0;
/// The least that a prediction of the light is uncertain by: EV, and share of the change.
const LIGHT_EV: f64 = 0.15;
const LIGHT_SHARE: f64 = 0.3;

/// Satellites tell whole seconds, and a receiver is a second or two behind, s.
const SATELLITE_S: f64 = 2.0;
/// What a jump of the stamps is taken for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ClockChange {
    /// By how much the clock was changed, s.
    pub step_s: f64,
    /// How long the camera stood there beside it, s.
    pub stood_s: Option<f64>,
    /// What may have happened instead; `None` where it is settled.
    pub rival: Option<ClockRival>,
}

impl ClockChange {
    /// The clock was changed, and nothing else happened.
    fn sure(step_s: f64) -> Self {
        Self { step_s, stood_s: None, rival: None }
    }

    fn or(step_s: f64, rival: ClockRival) -> Self {
        Self { step_s, stood_s: None, rival: Some(rival) }
    }

    /// How long the camera stood in the other reading, s; `None` where there is no other.
    pub(crate) fn or_stood_s(self) -> Option<f64> {
        self.rival.map(|rival| match rival {
            ClockRival::Stood => self.step_s,
            ClockRival::BeganAnew => 0.0,
            ClockRival::PutBackFurther { stood_s, .. } | ClockRival::StoodBehindOffset { stood_s } => stood_s,
        })
    }
}

/// A gap between two neighbouring stamps, all in s.
struct Gap {
    /// What the stamps differ by.
    stamped: f64,
    /// What is usual there.
    usual: f64,
    /// What the stamps leave in doubt.
    slack: f64,
}

impl Gap {
    /// What the time that truly went by makes of it.
    fn with_true(&self, true_s: f64, slack: f64) -> Truly {
        let (changed, stood) = (self.stamped - true_s, true_s - self.usual);
        if changed.abs() <= slack {
            Truly::RanOn
        } else if stood < -slack {
            Truly::Unknown
        } else {
            Truly::Changed(ClockChange {
                step_s: changed,
                stood_s: (stood > slack).then_some(stood),
                rival: None,
            })
        }
    }
}

/// What is known of a gap from clocks other than the camera's own.
enum Truly {
    /// The camera's clock ran on.
    RanOn,
    /// It was changed.
    Changed(ClockChange),
    /// They do not tell.
    Unknown,
}

impl Series<'_> {
    /// True where something beside the stamps tells how much time went by before stamp `at`, and the stamps
    /// may say otherwise.
    pub(super) fn tells_time(&self, at: usize) -> bool {
        let (a, b) = (self.offset(at - 1), self.offset(at));
        a.zip(b).is_some_and(|(a, b)| a != b)
            || self.by_satellite(at - 1, at).is_some_and(|true_s| {
                let apart = (self.gap(at - 1, at) - true_s).abs();
                apart > SATELLITE_S + self.asked.resolution_s()
            })
    }

    /// Seconds between two stamps by satellite; `None` where a file has none, or the receiver stood still.
    fn by_satellite(&self, before: usize, after: usize) -> Option<f64> {
        let utc = |i: usize| self.frames.rows[self.ticks[i]].utc_s.map(|s| f64::from(s.get()));
        let step = |from: usize, to: usize| Some(utc(to)? - utc(from)?);
        // Beside the gap both clocks have to agree: a receiver that lost the sky repeats its last time.
        let agrees = |from: usize, to: usize| {
            step(from, to)
                .is_some_and(|s| (s - self.gap(from, to)).abs() <= SATELLITE_S + self.asked.resolution_s())
        };
        let beside = before.checked_sub(1).is_some_and(|earlier| agrees(earlier, before))
            || after + 1 < self.raw.len() && agrees(after, after + 1);
        step(before, after).filter(|s| *s > 0.0 && beside)
    }

    /// What satellites and the offsets from UTC tell of a gap.
    fn truly(&self, before: usize, after: usize, gap: &Gap) -> Truly {
        if let Some(true_s) = self.by_satellite(before, after) {
            return gap.with_true(true_s, gap.slack + SATELLITE_S);
        }
        let (Some(a), Some(b)) = (self.offset(before), self.offset(after)) else { return Truly::Unknown };
        if a == b {
            return Truly::Unknown;
        }
        let changed = f64::from(b - a) * 60.0;
        if (gap.stamped - gap.usual).abs() > gap.slack {
            return gap.with_true(gap.stamped - changed, gap.slack);
        }
        // The stamps run on: somebody corrected the offset alone, or the camera stood for as long.
        let rival = (changed < 0.0).then_some(ClockRival::StoodBehindOffset { stood_s: -changed });
        rival.map_or(Truly::RanOn, |rival| Truly::Changed(ClockChange::or(0.0, rival)))
    }

    /// Whether the clock was changed between two neighbouring stamps; `None` where it was not.
    fn clock_change(&self, before: usize, after: usize, advance: Option<i64>) -> Option<ClockChange> {
        let gap = self.gap(before, after);
        let usual = self.usual_gap(before, after)?;
        let step = gap - usual;
        let slack = self.asked.resolution_s() + 0.02 + 0.1 * usual;
        match self.truly(before, after, &Gap { stamped: gap, usual, slack }) {
            Truly::RanOn => return None,
            Truly::Changed(change) => return Some(change),
            Truly::Unknown => {}
        }
        let (a, b) = (self.offset(before), self.offset(after));
        let numbers = numbers::between(self.frames, self.ticks[before], self.ticks[after]);
        let runs_on = advance.is_some() && numbers == advance;
        let halves = (step / ZONE_S).round() * ZONE_S;
        let near = (step - halves).abs() <= slack;
        if gap < 0.0 {
            let step_s = if near { halves } else { step };
            let change = if near { ClockChange::sure(step_s) } else { put_back(step_s) };
            return (runs_on || advance.is_none()).then_some(change);
        }
        // Where the plan begins a part, its timer begins anew.
        let one_part = self.plan.parts.is_empty();
        // On the old grid's next slot, the frame after is that slot's, and this one a double trigger.
        let on_grid = |next: usize| next < self.raw.len() && (self.gap(before, next) - usual).abs() <= slack;
        if runs_on
            && one_part
            && !on_grid(after + 1)
            && step < -slack
            && self.keeps_pace(before, after, slack)
        {
            // A timer that is stopped and begun anew at once leaves the same stamps.
            return Some(ClockChange::or(step, ClockRival::BeganAnew));
        }
        let zone = near && halves > 0.0 && halves <= A_DAY_S;
        let days = step > A_DAY_S && self.count_met();
        if !runs_on || !(zone || days) {
            return None;
        }
        if days {
            // Two jobs that make up the planned count to the frame would be chance; a timer that stood for a
            // day and went on makes it up as well.
            return Some(ClockChange::or(step, ClockRival::Stood));
        }
        // Stops that a controller was set to are whole minutes: a fine clock does not make them rarer.
        let window = (2.0 * slack).max(usual).max(LEAST_WINDOW_S);
        let coincidence = (ZONE_S / window).max(1.0).ln();
        let offset = if a.is_some() && a == b { SAME_OFFSET } else { 0.0 };
        // A timer that stood makes up its count as well: only time that was planned tells.
        let count = if self.time_met() && !self.count_met() { -COUNT_MET } else { 0.0 };
        let odds = coincidence - RARER - offset + count + self.light(before, after, halves);
        let rival = (odds < SETTLED).then_some(ClockRival::Stood);
        (odds > -SETTLED).then_some(ClockChange { step_s: halves, stood_s: None, rival })
    }

    /// The changes of the clock at stamps `at` (each with the stamp before it). Where many a gap looks like
    /// one, those that only may be are stops.
    pub(super) fn clock_changes(
        &self,
        at: impl Iterator<Item = usize>,
        advance: Option<i64>,
    ) -> Vec<(usize, ClockChange)> {
        let mut all: Vec<_> =
            at.filter_map(|at| Some((at, self.clock_change(at - 1, at, advance)?))).collect();
        let may_be = |c: &ClockChange| matches!(c.rival, Some(ClockRival::Stood | ClockRival::BeganAnew));
        if all.iter().filter(|c| may_be(&c.1)).count() > MOST_CHANGES {
            all.retain(|c| !may_be(&c.1));
        }
        all
    }

    /// True where the usual gaps before and after two stamps are the same within `slack_s`.
    fn keeps_pace(&self, before: usize, after: usize, slack_s: f64) -> bool {
        let usual = |from: usize, to: usize| stats::median((from..to).map(|i| self.gap(i, i + 1)));
        let early = usual(before.saturating_sub(PACE), before);
        let late = usual(after, (after + PACE).min(self.stamps.len() - 1));
        early.zip(late).is_some_and(|(early, late)| (early - late).abs() <= slack_s)
    }

    pub(super) fn offset(&self, at: usize) -> Option<i16> {
        self.frames.rows[self.ticks[at]].stamp.as_known().and_then(|s| s.offset_min)
    }

    /// True where the frames that are there are just those that the plan asks for.
    fn count_met(&self) -> bool {
        self.plan.frames == Some(self.stamps.len() as u64)
    }

    /// True where the run lasted, on the stamps, just as long as the plan asks for.
    fn time_met(&self) -> bool {
        let (Some(first), Some(last), Some(asked)) =
            (self.stamps.first(), self.stamps.last(), self.plan.frames)
        else {
            return false;
        };
        let Some(usual) = self.usual_gap(self.stamps.len() / 2, self.stamps.len() / 2 + 1) else {
            return false;
        };
        let slots = (*last - *first).seconds() / usual + 1.0;
        (slots - asked as f64).abs() < 1.0 + self.asked.resolution_s() / usual
    }

    /// By how much the light of the scene, taken from settings and pictures, speaks for a changed clock
    /// (positive) or for time that went by (negative), nats; 0 where it changes too little or is not known.
    fn light(&self, before: usize, after: usize, step_s: f64) -> f64 {
        let level = |i: usize| {
            let at = self.ticks[i];
            let ev = self.exposure.ev100(at)?;
            let picture = self.frames.look(at).and_then(Look::mean_ev).unwrap_or(0.0);
            let seconds = (self.raw[i] - self.raw[before]).seconds();
            Some((seconds, ev + picture)).filter(|p| p.1.is_finite())
        };
        let side = |range: std::ops::RangeInclusive<usize>| -> Option<(f64, f64)> {
            let points: Vec<(f64, f64)> = range.filter_map(level).collect();
            let (first, last) = (points.first()?.0, points.last()?.0);
            let slope =
                (points.len() >= BESIDE / 2).then(|| stats::slope(&points, 0.3 * (last - first)))??;
            let middle = stats::median(points.iter().map(|p| p.1 - slope * p.0))?;
            Some((slope, middle))
        };
        let early = side(before.saturating_sub(BESIDE - 1)..=before);
        let late = side(after..=(after + BESIDE - 1).min(self.stamps.len() - 1));
        let (Some((slope, from)), Some((later_slope, to))) = (early, late) else { return 0.0 };
        let here = (self.raw[after] - self.raw[before]).seconds();
        let (left, arrived) = (from, to + later_slope * here);
        let gone_by = 0.5 * (slope + later_slope) * step_s;
        if gone_by.abs() < LEAST_LIGHT_EV || slope * later_slope < 0.0 {
            return 0.0;
        }
        let change = arrived - left;
        let spread = LIGHT_EV + LIGHT_SHARE * gone_by.abs() / 4.0;
        let wide = LIGHT_EV + LIGHT_SHARE * gone_by.abs();
        let as_clock = -0.5 * (change / spread).powi(2) - spread.ln();
        let as_stop = -0.5 * ((change - gone_by) / wide).powi(2) - wide.ln();
        (as_clock - as_stop).clamp(-MOST_BY_LIGHT, MOST_BY_LIGHT)
    }
}

/// A clock that seems put back by `step_s`, which is no zone's step. By a zone's, and with a stand, the
/// stamps come out the same. A clock that ran a few minutes ahead is set right by less than a zone's step.
fn put_back(step_s: f64) -> ClockChange {
    let further_s = (step_s / ZONE_S).floor() * ZONE_S;
    let stood_s = step_s - further_s;
    if -step_s < ZONE_S || -step_s > A_DAY_S {
        return ClockChange::sure(step_s);
    }
    ClockChange::or(step_s, ClockRival::PutBackFurther { step_s: further_s, stood_s })
}

/// What kind of clock change a step looks like.
pub(super) fn words(step_s: f64) -> String {
    let hours = step_s / 3600.0;
    if (hours.abs() - 1.0).abs() < 1e-9 {
        "daylight saving, or a time zone one hour away".into()
    } else if (hours.abs() - 12.0).abs() < 1e-9 {
        "a morning taken for an evening on a twelve-hour clock".into()
    } else if hours.abs() > 24.0 * 300.0 {
        "the clock lost its battery and began at a factory date".into()
    } else if (step_s / 900.0 - (step_s / 900.0).round()).abs() < 1e-9 {
        "a change of time zone".into()
    } else {
        "the clock was set".into()
    }
}
