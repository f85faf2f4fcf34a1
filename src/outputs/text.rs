//! The summary: what the terminal shows, and without colours what stands in `summary.txt`. Eighty columns;
//! the call first, what it rests on and what can be used right below.

mod brief;
mod incidents;
mod page;
mod set;
mod strip;
mod table;
mod told;

use super::report::Report;
use super::report::call::{limited_to, meaning};
pub use super::report::outside::passed_over_words;
use crate::audit::Audit;
use crate::verdict::Call;
pub use page::WIDTH;
pub(super) use page::{Page, Tone, wrapped};
pub(super) use set::summary_of_reports;
pub use set::{brief_of_set, call_line_of_set, in_full_of_set, summary_of_set};
pub(super) use told::unread;

/// Columns of the terminal; those of a page where there is none.
pub fn columns() -> usize {
    console::Term::stdout().size_checked().map_or(WIDTH, |(_, columns)| usize::from(columns))
}

/// The call in one line, with what it was made from. No line end.
pub fn call_line(audit: &Audit) -> String {
    line_of(audit.verdict.call, limited_to(audit), audit.kept_out(), audit.complete())
}

fn line_of(call: Call, limited_to: Option<&str>, accepted: Option<String>, complete: bool) -> String {
    let mut line = format!("{}: {}", call.word().to_uppercase(), meaning(call));
    if let Some(limit) = limited_to {
        line = format!("{line} ({limit})");
    }
    if let Some(accepted) = accepted {
        line = format!("{line} ({accepted})");
    }
    if !complete {
        line.push_str(" INCOMPLETE");
    }
    line
}

/// How a call is toned.
fn tone_of(call: Call) -> Tone {
    match call {
        Call::Clear => Tone::Good,
        Call::Look => Tone::Warn,
        Call::Hold => Tone::Bad,
    }
}

/// The whole summary, with a line end after its last line. Colours only where `colour` asks for them.
pub fn summary(audit: &Audit, colour: bool) -> String {
    summary_of(&Report::of(audit), colour)
}

/// The same of a report that is worked out.
pub(super) fn summary_of(report: &Report<'_>, colour: bool) -> String {
    let mut page = Page::new(colour);
    story(&mut page, report, false);
    page.finish()
}

/// One camera's summary, from its call on. With `figures` each finding has those that carry it.
fn story(page: &mut Page, report: &Report<'_>, figures: bool) {
    let audit = report.audit;
    page.line(tone_of(audit.verdict.call), &call_line(audit));
    told::story(page, report);
    if audit.verdict.reasons.is_empty() {
        page.wrap(0, Tone::Plain, told::nothing_weighs(report));
    }
    if let Some(words) = told::focus(audit) {
        page.wrap(0, Tone::Plain, &words);
    }
    told::usable(page, audit);
    page.line(Tone::Plain, "");
    told::subject(page, audit);
    told::trouble(page, audit);
    strip::write(page, audit);
    incidents::write(page, report, figures);
    told::outside(page, report);
    table::asked_and_shot(page, report);
    told::checks(page, audit);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn the_call_comes_first_and_says_what_it_was_made_from() {
        let mut audit = sample::audit();
        let text = summary(&audit, false);
        assert!(text.starts_with("HOLD: "), "{text}");
        assert!(text.lines().next().unwrap().contains("timing and settings only"));
        audit.pictures = crate::frames::Pictures::Thumb;
        assert!(!summary(&audit, false).contains("timing and settings only"));
    }

    #[test]
    fn what_happened_and_what_to_do_stand_right_below_the_call() {
        let mut audit = sample::audit();
        let text = summary(&audit, false);
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines[1].starts_with("2 of 7 slots hold no frame. Good in one piece: "), "{text}");
        let now = lines.iter().position(|l| l.starts_with("Now: ")).expect("what to do");
        assert!(now <= 3, "{text}");
        assert!(lines[now + 1].starts_with("Usable: "), "{text}");
        assert_eq!(lines[now + 2], "", "{text}");
        audit.verdict.reasons.clear();
        audit.verdict.incidents.clear();
        let text = summary(&audit, false);
        let lines: Vec<&str> = text.lines().collect();
        let whole = "5 frames, one every 12 s, 04:10:00 to 04:11:00; 0.12 s of clip.";
        assert_eq!(lines[1], whole, "{text}");
        assert_eq!(lines[2], "No fault, no caution; every important check ran. End not known: none planned.");
        assert!(!text.contains("\nNow: "), "{text}");
    }

    #[test]
    fn eighty_columns_and_no_colour_unless_asked() {
        let mut audit = sample::audit();
        audit.name = "A name of a shoot that is much longer than a line of the terminal can hold ".repeat(3);
        let text = summary(&audit, false);
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{line:?}");
            assert_eq!(line, line.trim_end(), "no blanks at the end");
        }
        assert!(!text.contains('\u{1b}'));
        assert!(summary(&audit, true).contains('\u{1b}'));
    }

    #[test]
    fn what_lies_outside_is_told_with_its_reason() {
        let mut audit = sample::audit();
        assert!(
            summary(&audit, false).contains("Not of the run\n  WEIR0011.JPG: 1 frame, shot before the run.")
        );
        let at = |n: usize| crate::evidence::Outside {
            span: crate::units::FrameSpan::one(n),
            why: "by another camera".into(),
        };
        audit.evidence.outside = vec![at(1), at(3), at(5)];
        let text = summary(&audit, false);
        assert!(text.contains(": 3 frames, by another camera."), "{text}");
        audit.evidence.outside.clear();
        assert!(!summary(&audit, false).contains("Not of the run"));
    }

    #[test]
    fn a_part_is_not_called_whole_where_holes_could_not_be_judged() {
        let mut audit = sample::audit();
        assert!(!summary(&audit, false).contains("could not be judged."));
        audit.judgements[0].answer =
            crate::finding::Answer::CannotJudge("no frame of the run has a stamp".into());
        let text = summary(&audit, false);
        assert!(
            text.split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
                .contains("Whether frames are missing in it could not be judged."),
            "{text}"
        );
    }

    #[test]
    fn untrusted_names_move_no_cursor() {
        let mut audit = sample::audit();
        audit.name = "a\u{1b}[2Jb".into();
        assert!(!summary(&audit, false).contains('\u{1b}'));
    }

    #[test]
    fn what_could_not_be_read_is_listed_and_the_call_says_so() {
        let mut audit = sample::audit();
        for n in 0..10 {
            let trouble =
                crate::evidence::Trouble { path: format!("a\u{7}{n}.JPG"), what: format!("error {n}") };
            audit.evidence.frames.trouble.push(trouble);
        }
        let text = summary(&audit, false);
        assert!(text.lines().next().unwrap().ends_with("INCOMPLETE"));
        assert!(text.contains("a\\u{7}0.JPG: error 0"), "{text}");
        assert!(text.contains("2 more"), "{text}");
        for trouble in &mut audit.evidence.frames.trouble {
            trouble.what = "it is not there".into();
        }
        let text = summary(&audit, false);
        assert!(text.contains("a\\u{7}0.JPG to a\\u{7}9.JPG: 10 files: it is not there"), "{text}");
    }

    #[test]
    fn what_is_told_is_not_told_again() {
        let text = summary(&sample::audit(), false);
        assert_eq!(text.matches("2 of 7 slots hold no frame.").count(), 1, "{text}");
        assert_eq!(text.matches("Look on the other card.").count(), 1, "{text}");
    }

    #[test]
    fn figures_stand_where_they_are_asked_for() {
        let audit = sample::audit();
        let mut page = Page::new(false);
        story(&mut page, &Report::of(&audit), true);
        let full = page.finish();
        assert!(full.contains("gap_s 36 (limit 12)"), "{full}");
        assert!(!summary(&audit, false).contains("gap_s"));
    }

    #[test]
    fn many_findings_are_counted_and_the_largest_told() {
        let mut audit = sample::audit();
        let findings = (1..=50_u64)
            .map(|n| {
                crate::finding::Finding::new(
                    "missing-slot",
                    crate::finding::Severity::Fault,
                    format!("hole {n}."),
                )
                .count(n)
            })
            .collect();
        audit.verdict.incidents[0].findings =
            (0..50).map(|nth| crate::verdict::Which { check: "missing-slot", nth }).collect();
        audit.judgements[0].answer = crate::finding::Answer::Found(findings);
        let text = summary(&audit, false);
        assert!(text.contains("hole 50.") && text.contains("hole 48.") && !text.contains("hole 47."));
        // 1 + 2 + … + 47
        assert!(text.contains("47 more like these, with a count of 1128 together"), "{text}");
    }

    #[test]
    fn the_order_is_the_readers() {
        let text = summary(&sample::audit(), false);
        let places: Vec<_> =
            ["HOLD", "Usable", "The run", "What happened", "Noted", "Planned and shot", "Checks"]
                .iter()
                .map(|h| text.find(h).unwrap_or_else(|| panic!("{h} in {text}")))
                .collect();
        assert!(places.is_sorted(), "{places:?}");
    }
}
