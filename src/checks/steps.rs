//! Steps of exposure between frames that are to be compared.

use super::slots::by_member;
use crate::evidence::Evidence;
use crate::evidence::exposure::Settings;
use crate::plan::Plan;
use crate::schedule::Schedule;
use crate::units::plain;
use crate::units::stops::time_text;

/// Two neighbouring frames with known exposure, and the step between them.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// Position of the earlier frame.
    pub before: usize,
    /// Position of the later one.
    pub after: usize,
    /// How much less light the later one has, EV; negative for more.
    pub ev: f64,
    /// How many frames of the same member the later one stands from the beginning.
    pub ordinal: usize,
    /// True where a part of the plan begins between the two: what changes there changes on purpose.
    pub on_purpose: bool,
}

/// A single frame that steps away and back.
#[derive(Clone, Copy, Debug)]
pub struct Odd {
    /// To the odd frame.
    pub there: Step,
    /// Back from it.
    pub back: Step,
}

/// The settings of a frame whose exposure value is known.
pub fn settings(evidence: &Evidence, at: usize) -> Option<Settings> {
    evidence.exposure.settings.get(at).copied().filter(|s| s.ev100().is_some())
}

/// The steps of the run: one list for each member of a bracket, one list without a bracket. Steps on purpose
/// are 0.
pub fn steps(plan: &Plan, evidence: &Evidence, schedule: &Schedule) -> Vec<Vec<Step>> {
    let of_member = |frames: Vec<usize>| {
        let mut last: Option<(usize, f64)> = None;
        let mut steps = Vec::new();
        for (ordinal, after) in frames.into_iter().enumerate() {
            let Some(ev) = settings(evidence, after).and_then(Settings::ev100) else { continue };
            if let Some((before, was)) = last {
                let on_purpose = schedule.begins_between(before, after);
                let ev = if on_purpose { 0.0 } else { ev - was };
                steps.push(Step { before, after, ev, ordinal, on_purpose });
            }
            last = Some((after, ev));
        }
        steps
    };
    by_member(plan, evidence).into_iter().map(of_member).collect()
}

/// Which parameters moved in a step, as one word each and with their values.
pub fn moved(evidence: &Evidence, step: &Step) -> (String, String) {
    let track = &evidence.exposure.settings;
    let (Some(a), Some(b)) = (track.get(step.before), track.get(step.after)) else {
        return (String::new(), String::new());
    };
    let rows = &evidence.frames.rows;
    let (was, now) = (&rows[step.before], &rows[step.after]);
    let changed = |from: f64, to: f64, stops: f64| (to / from).log2().abs() * stops > 0.01;
    let mut moved: Vec<(&str, String)> = Vec::new();
    if changed(a.time_s, b.time_s, 1.0) {
        let text = |row: &crate::evidence::Row, exact| time_text(row.exposure_s.known().unwrap_or(exact));
        moved.push(("shutter", format!("shutter {} to {}", text(was, a.time_s), text(now, b.time_s))));
    }
    if changed(f64::from(a.f_number), f64::from(b.f_number), 2.0) {
        let text =
            |row: &crate::evidence::Row, exact: f32| f_text(f64::from(row.f_number.known().unwrap_or(exact)));
        moved.push(("aperture", format!("aperture {} to {}", text(was, a.f_number), text(now, b.f_number))));
    }
    if changed(f64::from(a.iso), f64::from(b.iso), 1.0) {
        let text = |row: &crate::evidence::Row, exact: f32| {
            row.iso.known().map_or(f64::from(exact).round(), f64::from)
        };
        moved.push(("iso", format!("ISO {} to {}", text(was, a.iso), text(now, b.iso))));
    }
    // What moved beside them, and may have been the reason.
    if let (Some(from), Some(to)) = (was.focal_mm.known(), now.focal_mm.known())
        && (from - to).abs() > 0.005 * from.abs().max(to.abs())
    {
        moved.push(("lens", format!("focal length {from:.0} mm to {to:.0} mm")));
    }
    if let (Some(from), Some(to)) = (was.white_balance.known(), now.white_balance.known())
        && from != to
    {
        let word = |v: u8| if v == 0 { "automatic" } else { "manual" };
        moved.push(("white-balance", format!("white balance {} to {}", word(from), word(to))));
    }
    let (words, texts): (Vec<_>, Vec<_>) = moved.into_iter().unzip();
    (words.join("+"), texts.join(", "))
}

/// An f-number as photographers write it.
pub fn f_text(f_number: f64) -> String {
    format!("f/{}", plain(f_number, 1))
}
