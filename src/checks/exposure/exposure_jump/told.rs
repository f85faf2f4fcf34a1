//! Steps of the exposure in words: each by itself, or many lesser ones as one finding.

use crate::checks::Case;
use crate::checks::common::{beside, clock_of, clocks_of, count, number, over};
use crate::checks::shows::{Shown, at_odd, at_step};
use crate::checks::steps::{Odd, Step, moved};
use crate::evidence::Sequence;
use crate::finding::{CauseCode, Finding, Severity};
use crate::units::{Figure, FrameSpan, counted};

/// Past this many places the lesser ones are drawn together.
const MANY_STEPS: usize = 20;
/// And past this many where the settings followed the light.
const MANY_FOLLOWED: usize = 3;

/// The cause of a step there and back.
pub(super) const ONE_FRAME: CauseCode = CauseCode::new("one-frame");
/// The cause of a step by which the exposure went with the light.
pub const LIGHT_FOLLOWED: CauseCode = CauseCode::new("light-followed");

/// The cause of a step that the picture does not show.
const FOLLOWED: (CauseCode, &str) = (LIGHT_FOLLOWED, "the exposure followed the light");

/// A step worth telling, or a single odd frame.
pub(super) struct Jump {
    pub what: Result<Step, Odd>,
    pub severity: Severity,
    level: f64,
    /// What the picture did there, where it was read.
    shown: Option<Shown>,
}

impl Jump {
    /// What the light did by itself and the settings took up is no fault of the clip, unless the run was to
    /// be locked.
    pub(super) fn new(
        case: &Case<'_>,
        what: Result<Step, Odd>,
        (severity, level): (Severity, f64),
        locked: bool,
    ) -> Self {
        let shown = match &what {
            Ok(step) => at_step(case.evidence, step),
            Err(odd) => at_odd(case.evidence, odd),
        };
        let followed = shown.is_some_and(|s| s.followed) && !locked;
        Self { what, severity: if followed { Severity::Note } else { severity }, level, shown }
    }

    /// `; the picture grows 1.02 EV darker`, empty where it was not read.
    fn picture(&self) -> String {
        self.shown.map_or_else(String::new, |s| format!("; {}", s.words()))
    }

    fn picture_ev(&self) -> Figure {
        self.shown.map_or(Figure::Unknown, |s| number(s.ev))
    }

    fn largest_ev(&self) -> f64 {
        match &self.what {
            Ok(step) => step.ev.abs(),
            Err(odd) => odd.there.ev.abs().max(odd.back.ev.abs()),
        }
    }

    /// The frames before and after it.
    pub(super) fn ends(&self) -> (usize, usize) {
        match &self.what {
            Ok(step) => (step.before, step.after),
            Err(odd) => (odd.there.after, odd.there.after),
        }
    }
}

/// The findings of these steps.
pub(super) fn findings(check: &'static str, case: &Case<'_>, jumps: &[Jump]) -> Vec<Finding> {
    let (followed, jumps): (Vec<&Jump>, Vec<&Jump>) =
        jumps.iter().partition(|j| j.severity == Severity::Note);
    let mut findings = weighing(check, case, &jumps);
    match followed.len() {
        0..=MANY_FOLLOWED => findings.extend(followed.iter().map(|jump| told(check, case, jump))),
        _ => findings.extend(together(check, case, &followed)),
    }
    findings
}

fn weighing(check: &'static str, case: &Case<'_>, jumps: &[&Jump]) -> Vec<Finding> {
    if jumps.len() <= MANY_STEPS {
        return jumps.iter().map(|jump| told(check, case, jump)).collect();
    }
    let faults = jumps.iter().filter(|j| j.severity == Severity::Fault).count();
    let alone = |jump: &&&Jump| jump.severity == Severity::Fault && faults <= MANY_STEPS;
    let mut findings: Vec<_> = jumps.iter().filter(alone).map(|jump| told(check, case, jump)).collect();
    let rest: Vec<_> = jumps.iter().copied().filter(|jump| !alone(&jump)).collect();
    findings.extend(together(check, case, &rest));
    findings.sort_by_key(|f| f.first);
    findings
}

fn told(check: &'static str, case: &Case<'_>, jump: &Jump) -> Finding {
    let finding = in_words(check, case, jump);
    match jump.shown {
        Some(shown) if shown.followed => finding.because(FOLLOWED.0, FOLLOWED.1),
        _ if jump.what.is_err() => {
            finding.because(ONE_FRAME, "one frame has settings that neither neighbour has")
        }
        _ => finding,
    }
}

fn in_words(check: &'static str, case: &Case<'_>, jump: &Jump) -> Finding {
    let evidence = case.evidence;
    let light = |ev: f64| if ev > 0.0 { "less" } else { "more" };
    match &jump.what {
        Ok(step) => {
            let (which, words) = moved(evidence, step);
            let message = format!(
                "The exposure jumps between {} and {}{}{}: {:.2} EV {} light, by {words}{}.",
                evidence.frame(step.before).name(),
                evidence.frame(step.after).name(),
                clock_of(evidence, step.after),
                across(evidence, step),
                step.ev.abs(),
                light(step.ev),
                jump.picture(),
            );
            Finding::new(check, jump.severity, message)
                .between(step.before, step.after)
                .at(evidence.frame(step.after).moment())
                .figure("step_ev", beside(step.ev, Some(jump.level)))
                .figure("picture_ev", jump.picture_ev())
                .figure("parameter", Figure::Text(which))
        }
        Err(odd) => {
            let at = odd.there.after;
            let (which, words) = moved(evidence, &odd.there);
            let message = format!(
                "{}{} alone has {:.2} EV {} light than the frames on both sides, by {words} and back{}.",
                evidence.frame(at).name(),
                clock_of(evidence, at),
                odd.there.ev.abs(),
                light(odd.there.ev),
                jump.picture(),
            );
            Finding::new(check, jump.severity, message)
                .on(FrameSpan::one(at))
                .at(evidence.frame(at).moment())
                .figure("step_ev", beside(odd.there.ev, Some(jump.level)))
                .figure("step_back_ev", number(odd.back.ev))
                .figure("picture_ev", jump.picture_ev())
                .figure("parameter", Figure::Text(which))
        }
    }
}

/// Says so where slots are missing between the two frames of a step: it may have been several.
fn across(evidence: &Sequence, step: &Step) -> String {
    let slot = |at: usize| evidence.frame(at).slot();
    let slots = slot(step.before).zip(slot(step.after)).map_or(0, |(a, b)| b.saturating_sub(a));
    match u64::try_from(slots.saturating_sub(1)) {
        Ok(missing) if missing > 0 => format!(", across {}", counted(missing, "missing slot")),
        _ => String::new(),
    }
}

/// Many lesser steps as one finding.
fn together(check: &'static str, case: &Case<'_>, jumps: &[&Jump]) -> Option<Finding> {
    let evidence = case.evidence;
    let (first, last) = (jumps.first()?, jumps.last()?);
    let largest = jumps.iter().reduce(|a, b| if b.largest_ev() > a.largest_ev() { b } else { a })?;
    let severity = jumps.iter().map(|j| j.severity).max()?;
    let (from, to) = (first.ends().0, last.ends().1);
    let smallest_level = jumps.iter().map(|j| j.level).fold(f64::INFINITY, f64::min);
    // What the clip shows of them, at most.
    let picture =
        jumps.iter().filter_map(|j| j.shown).map(|s| s.ev).max_by(|a, b| a.abs().total_cmp(&b.abs()));
    let followed = jumps.iter().all(|j| j.shown.is_some_and(|s| s.followed));
    let seen = match picture {
        Some(ev) if followed => format!(
            "; the exposure followed the light, and the picture steps by up to {:.2} EV: levelling by the \
             settings would bring the steps back",
            ev.abs()
        ),
        Some(ev) => format!("; the picture steps by up to {:.2} EV there", ev.abs()),
        None => String::new(),
    };
    let message = format!(
        "The exposure steps by more than {smallest_level:.2} EV in {} places, {} to {}{}, by up to {:.2} EV \
         (at {}){seen}.",
        jumps.len(),
        evidence.frame(from).name(),
        evidence.frame(to).name(),
        clocks_of(evidence, FrameSpan { first: from, last: to }),
        largest.largest_ev(),
        evidence.frame(largest.ends().1).name(),
    );
    let finding = over(Finding::new(check, severity, message), from, to)
        .figure("picture_ev", picture.map_or(Figure::Unknown, number));
    let finding = if followed { finding.because(FOLLOWED.0, FOLLOWED.1) } else { finding };
    let mut finding = finding
        .count(jumps.len() as u64)
        .at(evidence.frame(from).moment())
        .figure("places", count(jumps.len() as u64))
        .figure("largest_step_ev", beside(largest.largest_ev(), Some(largest.level)));
    finding.marks = jumps.iter().map(|j| FrameSpan::one(j.ends().1)).collect();
    Some(finding)
}
