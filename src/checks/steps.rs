//! Steps of exposure between frames that are to be compared.

use super::slots::by_member;
use crate::evidence::{FrameView, Sequence};
use crate::plan::Plan;
use crate::schedule::Schedule;
use crate::units::plain;
use crate::units::stops::time_text;

/// Two neighbouring frames with known exposure, and the step between them.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
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
pub(crate) struct Odd {
    /// To the odd frame.
    pub there: Step,
    /// Back from it.
    pub back: Step,
}

/// The steps of the run: one list for each member of a bracket, one list without a bracket. Steps on purpose
/// are 0.
pub(crate) fn steps(plan: &Plan, evidence: &Sequence, schedule: &Schedule) -> Vec<Vec<Step>> {
    let of_member = |frames: Vec<usize>| {
        let mut last: Option<(usize, f64)> = None;
        let mut steps = Vec::new();
        for (ordinal, after) in frames.into_iter().enumerate() {
            let Some(ev) = evidence.frame(after).ev100() else { continue };
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
pub(crate) fn moved(evidence: &Sequence, step: &Step) -> (String, String) {
    let (was, now) = (evidence.frame(step.before), evidence.frame(step.after));
    let changed = |from: Option<f64>, to: Option<f64>, stops: f64| {
        let (from, to) = from.zip(to)?;
        ((to / from).log2().abs() * stops > 0.01).then_some((from, to))
    };
    let mut moved: Vec<(&str, String)> = Vec::new();
    if let Some((from, to)) = changed(was.exposure_s(), now.exposure_s(), 1.0) {
        let text = |frame: FrameView<'_>, exact| time_text(frame.marked_s().unwrap_or(exact));
        moved.push(("shutter", format!("shutter {} to {}", text(was, from), text(now, to))));
    }
    if let Some((from, to)) = changed(was.f_number(), now.f_number(), 2.0) {
        let text = |frame: FrameView<'_>, exact| f_text(frame.marked_f_number().unwrap_or(exact));
        moved.push(("aperture", format!("aperture {} to {}", text(was, from), text(now, to))));
    }
    if let Some((from, to)) = changed(was.iso(), now.iso(), 1.0) {
        let text = |frame: FrameView<'_>, exact: f64| frame.marked_iso().unwrap_or(exact.round());
        moved.push(("iso", format!("ISO {} to {}", text(was, from), text(now, to))));
    }
    let (was, now) = (was.row(), now.row());
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
pub(crate) fn f_text(f_number: f64) -> String {
    format!("f/{}", plain(f_number, 1))
}
