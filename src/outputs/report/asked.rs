//! Asked and shot, side by side: what the summary and the report tell.

use super::counts::Counts;
use super::lines::from_to;
use super::stars;
use crate::audit::Audit;
use crate::evidence::timing::TimerLaw;
use crate::evidence::{FrameState, FrameView};
use crate::plan::arithmetic::exact_s;
use crate::plan::optics::shutter_angle;
use crate::plan::{Choice, Planned, run_planned_s};
use crate::units::{duration, plain, shown, stops};
use crate::verdict::patch_words;

/// One quantity as the plan asks for it and as it was shot. What was not said or is not known is `-`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Asked {
    /// What it is.
    pub label: &'static str,
    /// What the plan asks for.
    pub asked: String,
    /// What the frames say.
    pub shot: String,
}

impl Asked {
    fn new(label: &'static str, asked: impl Into<String>, shot: impl Into<String>) -> Self {
        Self { label, asked: asked.into(), shot: shot.into() }
    }
}

/// The rows, in the order in which they are told. The interval shot stands with the shortest and the longest
/// that the stamps allow.
pub(crate) fn asked_and_shot(audit: &Audit, counts: &Counts) -> Vec<Asked> {
    let mut rows = vec![interval(audit), frames(audit, counts), length(audit), exposure(audit)];
    rows.extend(open(audit));
    rows.extend(stars::asked_and_shot(audit).map(|(asked, shot)| Asked::new("stars", asked, shot)));
    rows.extend(clip(audit, counts));
    rows
}

/// The intervals that the plan asks for, one after the other: `12 s, then 6 s`; `None` where it names none.
pub(crate) fn intervals_asked(audit: &Audit) -> Option<String> {
    let all: Vec<String> =
        audit.schedule.intervals_asked().map(|(_, s)| format!("{} s", plain(s, 3))).collect();
    (!all.is_empty()).then(|| all.join(", then "))
}

fn interval(audit: &Audit) -> Asked {
    let timing = &audit.evidence.timing;
    let asked = intervals_asked(audit).unwrap_or_else(|| "-".into());
    let shot = match &timing.cadence {
        Some(c) => {
            let law = match c.law {
                TimerLaw::Close => ", counted from shutter close",
                TimerLaw::CloseDarkFrame => ", counted from shutter close with dark frames",
                TimerLaw::Open | TimerLaw::Unknown => "",
            };
            let told_s = audit.schedule.told_s().unwrap_or(c.interval_s);
            let (low, high) = (plain(c.low_s, 4), plain(c.high_s, 4));
            format!("{} s ({low} to {high}){law}", plain(told_s, 4))
        }
        None => timing
            .no_grid
            .as_deref()
            .map_or_else(|| "not even".into(), |why| format!("no grid: {}", shown(why))),
    };
    Asked::new("interval", asked, shot)
}

fn frames(audit: &Audit, counts: &Counts) -> Asked {
    let mut asked = audit.plan.frames.map_or_else(|| "-".into(), |n| n.to_string());
    if let Some(size) = audit.plan.bracket.filter(|b| *b > 1) {
        asked = format!("{asked} slots of {size} exposures");
    }
    let mut shot = counts.frames.to_string();
    if let Some(b) = &audit.evidence.timing.bracket {
        shot.push_str(&format!(" in slots of {}", b.size));
        if !b.incomplete.is_empty() {
            shot.push_str(&format!(" ({} not whole)", b.incomplete.len()));
        }
    }
    if let Some(missing) = counts.missing.filter(|m| *m > 0) {
        shot.push_str(&format!(", {missing} missing"));
        if let Some((low, high)) = counts.missing_doubt {
            shot.push_str(&format!(" (stamps allow {low} to {high})"));
        }
    }
    let others = [
        (counts.damaged, FrameState::Damaged),
        (counts.surplus, FrameState::Surplus),
        (counts.outside, FrameState::Outside),
    ];
    for (n, state) in others.into_iter().filter(|(n, _)| *n > 0) {
        shot.push_str(&format!(", {n} {}", state.word()));
    }
    Asked::new("frames", asked, shot)
}

fn length(audit: &Audit) -> Asked {
    let asked = run_planned_s(&audit.plan);
    let evidence = &audit.evidence;
    let shot = evidence.ends().zip(evidence.lasted_s()).map(|((first, last), lasted_s)| {
        let (from, to) = from_to(first.at, last.at);
        format!("{}, {from} to {to}", duration(lasted_s))
    });
    Asked::new("run", asked.map_or_else(|| "-".into(), duration), shot.unwrap_or_else(|| "-".into()))
}

/// The smallest and largest value seen.
fn range(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |seen, v| {
        let (low, high) = seen.unwrap_or((v, v));
        Some((v.min(low), v.max(high)))
    })
}

/// The smallest and largest setting of the run, as the camera marks them; `None` where no frame tells it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ranges {
    /// Exposure time, s.
    pub time_s: Option<(f64, f64)>,
    /// f-number.
    pub f_number: Option<(f64, f64)>,
    /// Sensitivity, ISO.
    pub iso: Option<(f64, f64)>,
}

impl Ranges {
    /// Of the run.
    pub(crate) fn of(audit: &Audit) -> Self {
        let run = || audit.evidence.run();
        Self {
            time_s: range(run().filter_map(FrameView::marked_s)),
            f_number: range(run().filter_map(FrameView::marked_f_number)),
            iso: range(run().filter_map(FrameView::marked_iso)),
        }
    }
}

/// One value, or "a to b".
pub(crate) fn told(low: f64, high: f64, words: fn(f64) -> String) -> String {
    let (low, high) = (words(low), words(high));
    // "ISO 100 to 800": the sign once is enough.
    if low == high { low } else { format!("{low} to {}", high.trim_start_matches("ISO ")) }
}

/// An f-number as photographers write it.
pub(crate) fn f_number(n: f64) -> String {
    format!("f/{}", plain(n, 1))
}

/// A sensitivity as photographers write it.
pub(crate) fn iso(s: f64) -> String {
    format!("ISO {}", plain(s, 0))
}

fn exposure(audit: &Audit) -> Asked {
    let plan = &audit.plan.exposure;
    let planned = |p: Option<Planned>, words| {
        p.map(|p| match p {
            Planned::Fixed(v) => told(v, v, words),
            Planned::Between(a, b) => told(a, b, words),
        })
    };
    let asked: Vec<_> = [
        plan.mode.map(|m| m.written().to_owned()),
        planned(plan.shutter_s, stops::time_text),
        planned(plan.aperture, f_number),
        planned(plan.iso, iso),
    ]
    .into_iter()
    .flatten()
    .collect();
    let ranges = Ranges::of(audit);
    let shot: Vec<_> = [
        ranges.time_s.map(|(a, b)| told(a, b, stops::time_text)),
        ranges.f_number.map(|(a, b)| told(a, b, f_number)),
        ranges.iso.map(|(a, b)| told(a, b, iso)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let line = |parts: Vec<String>| if parts.is_empty() { "-".to_owned() } else { parts.join(", ") };
    Asked::new("exposure", line(asked), line(shot))
}

/// The share of the interval that the shutter is open, by the exact exposure, and the angle of a rotating
/// shutter that this is.
fn open(audit: &Audit) -> Option<Asked> {
    let share = |exposure_s: f64, interval_s: f64| {
        let angle = shutter_angle(exposure_s, interval_s);
        if angle < 0.18 {
            return "open under 0.1 %".to_owned();
        }
        let digits = if angle < 36.0 { 1 } else { 0 };
        format!("open {} % ({}°)", plain(angle / 3.6, digits), plain(angle, digits))
    };
    let (plan, timing) = (&audit.plan, &audit.evidence.timing);
    let longest = plan.exposure.shutter_s.map(|p| exact_s(p.high()));
    let asked = longest.zip(plan.interval_s).map(|(t, every)| share(t, every));
    let exact = range(audit.evidence.run().filter_map(FrameView::exposure_s));
    // Where the timer counts from close, a slot is the interval and the exposure, with its dark frame.
    let shot = exact
        .zip(timing.cadence.as_ref())
        .map(|((_, t), c)| share(t, c.interval_s + f64::from(c.law.times_exposed()) * t));
    let told = |text: &Option<String>| text.clone().unwrap_or_else(|| "-".into());
    (asked.is_some() || shot.is_some()).then(|| Asked::new("shutter", told(&asked), told(&shot)))
}

fn clip(audit: &Audit, counts: &Counts) -> Option<Asked> {
    let delivery = &audit.plan.delivery;
    let Some(fps) = delivery.pace() else {
        return delivery.length_s.map(|length| Asked::new("clip", duration(length), "no fps is given"));
    };
    let asked = match delivery.length_s {
        Some(length) => format!("{} at {} fps", duration(length), plain(fps, 3)),
        None => format!("{} fps", plain(fps, 3)),
    };
    let all = duration(counts.frames as f64 / audit.schedule.members() as f64 / fps);
    let usable = audit.verdict.usable.as_ref();
    let shot = match usable.and_then(|u| u.clip_s.zip(Some(&u.patches))) {
        Some((usable, patches)) if !patches.is_empty() => {
            format!("{all} of all frames, {} unbroken with {}", duration(usable), patch_words(patches))
        }
        Some((usable, _)) => format!("{all} of all frames, {} unbroken", duration(usable)),
        None => format!("{all} of all frames"),
    };
    Some(Asked::new("clip", asked, shot))
}
