//! The summary of several cameras: the worst call, a line a camera, what they say together, then each one's
//! story.

use super::page::{Page, Tone};
use super::{brief, line_of, story, told, tone_of};
use crate::audit::{AuditSet, CameraAudit};
use crate::outputs::report::{Report, several};
use crate::units::shown;
use crate::verdict::Strength;

/// The call of all cameras in one line. No line end.
pub fn call_line_of_set(set: &AuditSet) -> String {
    line_of(set.call(), several::limited_to(set), several::kept_out(set), set.complete())
}

/// One screen of it for each camera: what the terminal shows where nobody asks for more. Colours only where
/// `colour` asks for them; `width` is the terminal's, in columns.
pub fn brief_of_set(set: &AuditSet, colour: bool, width: usize) -> String {
    let mut page = Page::of_width(colour, width);
    let reports = Report::of_each(set);
    if let (Some(_), Some(report)) = (set.single(), reports.first()) {
        brief::write(&mut page, report);
        return page.finish();
    }
    page.wrap(0, tone_of(set.call()), &call_line_of_set(set));
    page.wrap(0, Tone::Plain, &several::whose_call(set));
    told::unread(&mut page, &set.trouble);
    between(&mut page, set);
    for (n, own) in set.worst_first() {
        page.line(Tone::Plain, "");
        page.wrap(0, Tone::Strong, &format!("Camera {}: {}", own.letter, shown(&several::model(set, n))));
        if let Some(report) = reports.get(n) {
            brief::write(&mut page, report);
        }
    }
    page.finish()
}

/// The whole summary; where there is one camera, that of its audit. Colours only where `colour` asks for
/// them.
pub fn summary_of_set(set: &AuditSet, colour: bool) -> String {
    written(set, &Report::of_each(set), colour, false)
}

/// The same, and with each finding the figures that carry it.
pub fn in_full_of_set(set: &AuditSet, colour: bool) -> String {
    written(set, &Report::of_each(set), colour, true)
}

/// The summary of several cameras, of reports that are worked out.
pub(crate) fn summary_of_reports(set: &AuditSet, reports: &[Report<'_>], colour: bool) -> String {
    written(set, reports, colour, false)
}

fn written(set: &AuditSet, reports: &[Report<'_>], colour: bool, figures: bool) -> String {
    if let (Some(_), Some(report)) = (set.single(), reports.first()) {
        let mut page = Page::new(colour);
        story(&mut page, report, figures);
        return page.finish();
    }
    let mut page = Page::new(colour);
    page.line(tone_of(set.call()), &call_line_of_set(set));
    page.wrap(0, Tone::Plain, &several::whose_call(set));
    page.line(Tone::Plain, "");
    let words = format!(
        "{}: {} frames by {} cameras; {}.",
        shown(set.name()),
        set.frames(),
        set.cameras.len(),
        shown(set.plan_source())
    );
    page.wrap(0, Tone::Plain, &words);
    told::unread(&mut page, &set.trouble);
    page.heading("Cameras");
    for (n, own) in set.worst_first() {
        let call = own.audit.verdict.call;
        let words =
            format!("{} ({}): {}.", own.letter, shown(&several::model(set, n)), several::figures(own));
        page.hang(2, (tone_of(call), &call.word().to_uppercase()), 9, &words);
    }
    between(&mut page, set);
    if !set.passed_over.is_empty() {
        page.heading("Not pictures");
        told::passed_over(&mut page, &set.passed_over);
    }
    for (n, own) in set.worst_first() {
        camera(&mut page, set, (n, own), reports.get(n), figures);
    }
    page.finish()
}

/// The clocks, who misses what, and what holds the call beside the cameras' own reasons.
fn between(page: &mut Page, set: &AuditSet) {
    let together = &set.together;
    page.heading("Between the cameras");
    for reason in &together.reasons {
        page.hang(2, (Tone::Warn, "-"), 4, &shown(&reason.words));
    }
    for cause in &together.causes {
        let tone = if cause.strength == Strength::Sure { Tone::Strong } else { Tone::Plain };
        let apart = cause.apart.map(|a| format!(" How to check: {a}")).unwrap_or_default();
        let words = format!("{} {}{apart}", cause.words, cause.remedy);
        page.hang(2, (tone, cause.strength.word()), 12, &shown(&words));
    }
    for clock in &together.clocks {
        page.hang(2, (Tone::Faint, "-"), 4, &shown(&clock.words));
    }
}

fn camera(
    page: &mut Page,
    set: &AuditSet,
    (at, own): (usize, &CameraAudit),
    report: Option<&Report<'_>>,
    figures: bool,
) {
    page.line(Tone::Plain, "");
    page.line(Tone::Faint, &"-".repeat(super::page::WIDTH));
    page.wrap(0, Tone::Strong, &format!("Camera {}: {}", own.letter, shown(&several::model(set, at))));
    page.line(Tone::Plain, "");
    if let Some(report) = report {
        story(page, report, figures);
    }
}
