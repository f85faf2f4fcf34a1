//! Slots of the run in which no frame stands.

mod cause;

use crate::checks::accepted::agreed_spans;
use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, drawn_together, named, number, off_the_grid, opinion, over,
    shots_beside,
};
use crate::checks::holes::Weighing;
use crate::checks::patterns::{Told, folded};
use crate::checks::slots::incomplete;
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::timing::{Hole, HoleCause};
use crate::finding::{
    ByCause, ClipEffect, Direction, Doubt, Finding, Limit, LimitKey, Needed, Opinion, Quality, Severity,
    Text, Traits,
};
use crate::units::{Figure, counted, counted_as, duration};
use cause::cause;
pub use cause::{FILE_LOST, TRIGGER_MISSED};

const TEXT: Text = Text {
    id: "missing-slot",
    finds: "missing frames",
    asks: "Is there a frame in every slot of the run?",
    why: "A missing frame is a stutter in everything that moves: clouds, water and the carriage jump by two \
          steps at once. You can patch one from its neighbours. After several in a row, or with no unbroken \
          stretch as long as the clip, shoot again while the camera still stands.",
    how: "The stamps are read as windows and laid on the sequence's own grid of slots. A slot without a \
          frame between the first and the last frame of the run is missing. The file numbers then say why. \
          Where numbering continues, the camera never fired. Where it skips by the same count, the files are \
          not in this folder. A hole of up to patch_up_to slots ([delivery], else 1) can be patched and \
          breaks no clip, where the next one is a second of clip away. A bracket that has fewer exposures \
          than the others is reported too.",
    blind: "Slots before the first and after the last frame (those belong to short-run). Slots where the \
            stamps are as coarse as the interval: a missed trigger then leaves the same stamps as a slower \
            timer.",
    remedy: "Patch single frames in post, or shoot again.",
    source: "Feasible line through vertical ranges: J. O'Rourke, Communications of the ACM 24(9), 1981. \
             Levels: common practice, no source.",
    traits: Traits {
        in_the_clip: ClipEffect::Holes,
        by_cause: &[
            ByCause {
                cause: FILE_LOST,
                name: "File lost",
                remedy: "look on the other card, in the bin and in the other folders first.",
            },
            ByCause {
                cause: TRIGGER_MISSED,
                name: "Trigger missed",
                remedy: "check the trigger, the battery and the time that the camera needs for each frame \
                         (see shutter-overrun).",
            },
        ],
        needed: Needed::Yes {
            to_answer: " Audit the whole run, and say the interval that it was shot at (--interval, or in a \
                        plan).",
            of_stamped: true,
        },
        own_lane: true,
        in_the_course: true,
        quality: Some(Quality::Frames),
        ..Traits::PLAIN
    },
};

const SLOTS: LimitKey = LimitKey::new("slots");
const ADJACENT: LimitKey = LimitKey::new("adjacent");
const SHARE: LimitKey = LimitKey::new("share");
const BRACKET: LimitKey = LimitKey::new("bracket");

const LIMITS: &[Limit] = &[
    Limit {
        key: SLOTS,
        unit: "missing slots of the run",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: ADJACENT,
        unit: "missing slots in a row",
        direction: Direction::AtLeast,
        caution: None,
        fault: Some(3.0),
        source: PRACTICE,
    },
    Limit {
        key: SHARE,
        unit: "% of the run's slots missing",
        direction: Direction::Above,
        caution: None,
        fault: Some(2.0),
        source: PRACTICE,
    },
    Limit {
        key: BRACKET,
        unit: "brackets that lack an exposure",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// Up to so many of the clock's steps an interval leaves readings open that no stamp can settle.
const NEARLY_AS_COARSE: f64 = 1.3;

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps, Need::Grid, Need::TellableSlots], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let all = folded(&evidence.timing.holes);
    // Those that were agreed to are taken as good before the others are weighed.
    let told = all.iter().map(|told| tell(case, told, Severity::Note));
    let agreed = agreed_spans(case.plan, evidence, told);
    let weighing = Weighing::of(case, agreed);
    let mut findings: Vec<_> = all.iter().map(|told| weighed(case, &weighing, told)).collect();
    findings.extend(unplaced(evidence, weighing.missing));
    findings.extend(thin_brackets(case));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| off_the_grid(evidence, at))
}

fn tell(case: &Case<'_>, told: &Told<'_>, severity: Severity) -> Finding {
    match told {
        Told { holes: [hole], .. } => one(case, hole, severity),
        Told { holes, every } => several(case, holes, *every, severity),
    }
}

/// A hole, or a pattern of holes, with its weight and the reason for it.
fn weighed(case: &Case<'_>, weighing: &Weighing, told: &Told<'_>) -> Finding {
    let &Weighing { missing, share, broken, .. } = weighing;
    let adjacent = told.holes.iter().map(|h| h.slots).max().unwrap_or(0);
    let patched = told.holes.iter().all(|h| weighing.patches(h));
    // What the plan says can be patched is no fault by its length, and breaks no clip.
    let in_a_row = case.limits.weigh(ADJACENT, adjacent as f64).filter(|_| !patched);
    let broken = broken.filter(|_| !patched);
    let weights = [case.limits.weigh(SLOTS, missing as f64), in_a_row, case.limits.weigh(SHARE, share)];
    let severity = weights.iter().flatten().map(|(s, _)| *s).max().unwrap_or(Severity::Note);
    let severity = if broken.is_some() { Severity::Fault } else { severity };
    // What may be a shot of its own beside the run wants a look, and is no proof of a fault.
    let apart = match told.holes {
        [hole] => hole.shots_beyond.zip(Some(hole.slots)),
        _ => None,
    };
    let severity = if apart.is_some() { severity.min(Severity::Caution) } else { severity };
    let alone = [weights[0], weights[1]].iter().flatten().map(|(s, _)| *s).max();
    let by_share = weights[2].filter(|w| w.0 == Severity::Fault && alone < Some(w.0));
    let mut finding = tell(case, told, severity);
    let ends = match (broken, by_share) {
        (_, Some((_, limit))) => {
            format!("; a fault because {share:.1} % of the run is missing, more than {limit} %")
        }
        (Some((longest, asked)), None) if alone < Some(Severity::Fault) => {
            format!("; a fault because no unbroken stretch is long enough, {longest} of {asked} frames")
        }
        (None, None) if patched && told.holes.len() == 1 => "; it can be patched".to_owned(),
        (None, None) if patched => "; each can be patched".to_owned(),
        _ => String::new(),
    };
    if let Some((frames, slots)) = apart {
        finding = finding.or_beside(format!("{} Then none is missing.", shots_beside(frames)), slots);
    } else if !ends.is_empty() {
        finding.message = format!("{}{ends}.", finding.message.trim_end_matches('.'));
    }
    let finding = finding
        .figure("adjacent_slots", beside(adjacent as f64, case.limits.get(ADJACENT).fault))
        .figure("missing_slots_of_run", count(missing))
        .figure("missing_percent", beside(share, case.limits.get(SHARE).fault))
        .figure("can_be_patched", Figure::Flag(patched));
    match broken {
        Some((longest, asked)) => finding
            .figure("longest_whole_part_frames", beside(longest as f64, Some(asked as f64)))
            .figure("delivery_frames", count(asked)),
        None => finding,
    }
}

/// Sets of a bracket that lack an exposure. No slot is empty there, so the count of missing slots is none.
fn thin_brackets(case: &Case<'_>) -> Vec<Finding> {
    let evidence = case.evidence;
    let thin: Vec<_> = incomplete(evidence).filter(|(size, span)| span.len() < *size).collect();
    let Some((severity, level)) = case.limits.weigh(BRACKET, thin.len() as f64) else { return Vec::new() };
    let told = thin.iter().map(|&(size, span)| {
        let message = format!(
            "The bracket of {}{} has {} of its {size} exposures.",
            named(evidence, span),
            clocks_of(evidence, span),
            span.len(),
        );
        Finding::new(TEXT.id, severity, message)
            .count(0)
            .on(span)
            .at(evidence.frame(span.first).moment())
            .figure("exposures", beside(span.len() as f64, Some(size as f64)))
            .figure("incomplete_brackets", beside(thin.len() as f64, Some(level)))
    });
    drawn_together(told, |many| format!("{many} brackets lack an exposure or more."))
}

/// A caution where the best reading of the stamps has no hole and another that is about as good has some.
fn unplaced(evidence: &Sequence, missing: u64) -> Option<Finding> {
    let (low, high) = evidence.timing.missing_doubt.filter(|_| missing == 0)?;
    let message = format!(
        "No slot is missing as the stamps are read best, but they are too coarse to be sure: up to {} could \
         be.",
        counted(high, "slot"),
    );
    // A call is clear only where no reading about as good has a fault. Where the interval is hardly longer
    // than the clock's step that can never be had, and the text above says so.
    let coarse =
        evidence.timing.cadence.as_ref().is_some_and(|c| c.interval_s <= NEARLY_AS_COARSE * c.resolution_s);
    let severity = if coarse { Severity::Note } else { Severity::Caution };
    let mut finding = Finding::new(TEXT.id, severity, message).count(0);
    let words = "The clock is too coarse to be sure.".into();
    finding.doubt = Some(Doubt { words, count_low: low, count_high: high });
    Some(finding)
}

fn one(case: &Case<'_>, hole: &Hole, severity: Severity) -> Finding {
    let evidence = case.evidence;
    let (before, after) = (evidence.frame(hole.before).name(), evidence.frame(hole.after).name());
    let due = case.schedule.due_as_stamped(evidence, hole);
    let sides = evidence.frame(hole.before).clock().zip(evidence.frame(hole.after).clock());
    let when = sides.map_or_else(String::new, |(a, b)| format!("{a} to {b}, "));
    let (code, because) = cause(evidence, hole);
    let message = format!(
        "{} missing between {before} and {after} ({when}{} apart): {because}.",
        counted_as(hole.slots, "frame is", "frames are"),
        duration(hole.gap_s),
    );
    let mut finding = Finding::new(TEXT.id, severity, message)
        .count(hole.slots)
        .between(hole.before, hole.after)
        .at(due)
        .because(code, because)
        .figure("gap_s", number(hole.gap_s))
        .figure(
            "interval_s",
            evidence.timing.cadence.as_ref().map_or(Figure::Unknown, |c| number(c.interval_s)),
        )
        .figure("first_missing_slot", Figure::Count(hole.slot))
        .figure("number_advance", hole.numbers.map_or(Figure::Unknown, Figure::Count))
        .figure("usual_advance", evidence.timing.number_advance.map_or(Figure::Unknown, Figure::Count));
    // The later frame is there and in its slot; it is the hole that the table marks.
    finding.marks.clear();
    finding.doubt = hole.doubt.map(|(low, high)| doubt(low, high));
    if let (Some(doubt), HoleCause::FileLost) = (&mut finding.doubt, hole.cause) {
        doubt.words += &format!(" The file numbers speak for {}.", hole.slots);
    }
    finding
}

fn doubt(low: u64, high: u64) -> Doubt {
    let range =
        if low == high { counted(low, "missing slot") } else { format!("{low} to {high} missing slots") };
    let words = format!("The clock is too coarse to be sure: {range} would fit its stamps about as well.");
    Doubt { words, count_low: low, count_high: high }
}

/// A regular pattern of holes, told as one.
fn several(case: &Case<'_>, holes: &[Hole], every: i64, severity: Severity) -> Finding {
    let evidence = case.evidence;
    let (Some(first), Some(last)) = (holes.first(), holes.last()) else {
        return Finding::new(TEXT.id, severity, "No slot is missing.");
    };
    let slots: u64 = holes.iter().map(|h| h.slots).sum();
    let (code, because) = cause(evidence, first);
    let each = match (first.slots, every) {
        (1, 2) => "Every other frame is missing".to_owned(),
        (1, n) => format!("One frame in {n} is missing"),
        (k, n) => format!("{k} frames in every {n} are missing"),
    };
    let long = format!(" of {} each", duration(first.gap_s));
    let many = match first.slots {
        1 => counted(slots, "single frame"),
        _ => format!("{} in {}{long}", counted(slots, "frame"), counted(holes.len() as u64, "gap")),
    };
    let message = format!(
        "{each} from {} to {}: {many}; each time {because}.",
        evidence.frame(first.before).name(),
        evidence.frame(last.after).name(),
    );
    let mut finding = over(Finding::new(TEXT.id, severity, message), first.before, last.after)
        .count(slots)
        .at(case.schedule.due_as_stamped(evidence, first))
        .because(code, because)
        .figure("pattern", Figure::Text(format!("{} of every {every} slots", first.slots)))
        .figure("holes", count(holes.len() as u64))
        .figure("slots_each", count(first.slots))
        .figure("spacing_slots", Figure::Count(every))
        .figure("first_missing_slot", Figure::Count(first.slot));
    let doubted = holes.iter().filter_map(|h| h.doubt).count();
    if doubted > 0 {
        let sum = |pick: fn((u64, u64)) -> u64| holes.iter().map(|h| h.doubt.map_or(h.slots, pick)).sum();
        finding.doubt = Some(doubt(sum(|d| d.0), sum(|d| d.1)));
    }
    finding
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{Accepted, DeliveryPlan, Plan};

    #[test]
    fn stays_quiet_on_a_whole_run() {
        assert!(found(&CHECK, &every(12.0), &Sketch::steady(200, 12.0).evidence()).is_empty());
    }

    #[test]
    fn names_the_frames_on_both_sides_and_why() {
        let lost = Sketch::steady(200, 12.0).without(&[106, 107], true).evidence();
        let findings = found(&CHECK, &every(12.0), &lost);
        assert_eq!(findings.len(), 1);
        let f = &findings[0];
        assert_eq!((f.count, f.first, f.last, f.severity), (2, Some(105), Some(106), Caution));
        assert_eq!(f.cause.as_ref().expect("a cause").code.name(), "file-lost");
        // 106 slots of 12 s after 04:10:00.
        assert_eq!(f.at.expect("a moment").iso(0), "2026-05-09T04:31:12");
        assert!(
            f.message.contains("TIDE0106.JPG and") && f.message.contains("TIDE0109.JPG"),
            "{}",
            f.message
        );
        let missed = Sketch::steady(200, 12.0).without(&[106], false).evidence();
        let findings = found(&CHECK, &every(12.0), &missed);
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code.name(), "trigger-missed");
        let mut unsure = Sketch::steady(200, 12.0);
        unsure.advance = None;
        let findings = found(&CHECK, &every(12.0), &unsure.without(&[106], true).evidence());
        assert_eq!(findings[0].cause.as_ref().expect("a cause").code.name(), "unknown");
    }

    #[test]
    fn cannot_judge_without_a_grid() {
        let loose = Sketch::steady(9, 12.0).loose("no grid holds most of the frames").evidence();
        assert_eq!(cannot(&CHECK, &every(12.0), &loose), "no grid holds most of the frames");
    }

    #[test]
    fn two_in_a_row_are_a_caution_three_and_four_a_fault() {
        for (slots, severity) in
            [(vec![50, 51], Caution), (vec![50, 51, 52], Fault), (vec![50, 51, 52, 53], Fault)]
        {
            let evidence = Sketch::steady(1000, 12.0).without(&slots, true).evidence();
            assert_eq!(severities(&CHECK, &Plan::default(), &evidence), [severity], "{slots:?}");
        }
    }

    #[test]
    fn two_per_cent_is_a_caution_and_more_a_fault() {
        let single = |n: i64| (0..n).map(|k| 5 + 7 * k + k * k).collect::<Vec<_>>();
        for (n, severity) in [(3, Caution), (4, Caution), (5, Fault)] {
            let evidence = Sketch::steady(200, 12.0).without(&single(n), true).evidence();
            assert_eq!(severities(&CHECK, &Plan::default(), &evidence), vec![severity; n as usize]);
        }
    }

    #[test]
    fn a_tolerance_makes_notes_of_few() {
        for (level, severity) in [(1.0, Caution), (2.0, Caution), (3.0, Note)] {
            let plan = tolerating(every(12.0), TEXT.id, "caution", level);
            let evidence = Sketch::steady(500, 12.0).without(&[50, 90], true).evidence();
            assert_eq!(severities(&CHECK, &plan, &evidence), [severity; 2]);
        }
    }

    #[test]
    fn a_clip_without_a_whole_part_is_a_fault() {
        let asked = |frames: f64| Plan {
            delivery: DeliveryPlan {
                fps: Some(25.0),
                length_s: Some(frames / 25.0),
                ..DeliveryPlan::default()
            },
            ..every(12.0)
        };
        let evidence = Sketch::steady(200, 12.0).without(&[60, 61], true).evidence();
        // 60 and 138 frames are left on the two sides.
        for (frames, severity) in [(137.0, Caution), (138.0, Caution), (139.0, Fault)] {
            assert_eq!(severities(&CHECK, &asked(frames), &evidence), [severity], "{frames}");
        }
        // A run that was too short as a whole is another check's to tell.
        assert_eq!(severities(&CHECK, &asked(201.0), &evidence), [Caution]);
        // Of two holes the one that was agreed to is taken as good.
        let evidence = Sketch::steady(400, 12.0).without(&[100, 101, 200, 201], true).evidence();
        assert_eq!(severities(&CHECK, &asked(250.0), &evidence), [Fault, Fault]);
        let agreed = Accepted {
            check: TEXT.id.into(),
            at: None,
            file: Some("TIDE0200.JPG".into()),
            count: None,
            reason: "agreed".into(),
        };
        let plan = Plan { accepted: vec![agreed], ..asked(250.0) };
        assert_eq!(severities(&CHECK, &plan, &evidence), [Caution, Caution]);
        assert_eq!(found(&CHECK, &plan, &evidence)[1].accepted.as_deref(), Some("agreed"));
    }

    /// One frame of 480 missing in the middle, a clip of 300 asked: it is patched, and breaks no clip.
    #[test]
    fn a_hole_that_can_be_patched_breaks_no_clip() {
        let asked = |patch_up_to, frames: f64| Plan {
            delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(frames / 25.0), patch_up_to },
            ..every(12.0)
        };
        let evidence = Sketch::steady(480, 12.0).without(&[240], true).evidence();
        let findings = found(&CHECK, &asked(None, 300.0), &evidence);
        assert_eq!(findings[0].severity, Caution);
        assert!(findings[0].message.ends_with("; it can be patched."), "{}", findings[0].message);
        assert_eq!(severities(&CHECK, &asked(Some(0), 300.0), &evidence), [Fault]);
        assert!(!found(&CHECK, &asked(Some(0), 200.0), &evidence)[0].message.contains("patched"));
        // Three in a row are a fault, unless the plan says that they can be patched.
        let three = Sketch::steady(480, 12.0).without(&[240, 241, 242], true).evidence();
        for (most, severity) in [(None, Fault), (Some(2), Fault), (Some(3), Caution)] {
            assert_eq!(severities(&CHECK, &asked(most, 200.0), &three), [severity], "{most:?}");
        }
        // Two that stand too close are no patches: 24 frames of clip are between them.
        for (second, severity) in [(265, Fault), (266, Caution)] {
            let evidence = Sketch::steady(480, 12.0).without(&[240, second], true).evidence();
            assert_eq!(severities(&CHECK, &asked(None, 300.0), &evidence), [severity; 2], "{second}");
        }
    }

    /// Three of 100 are over 2 %; without the one that was agreed to they are not.
    #[test]
    fn what_was_agreed_to_is_not_in_the_share() {
        let evidence = Sketch::steady(100, 12.0).without(&[20, 50, 80], true).evidence();
        assert_eq!(severities(&CHECK, &every(12.0), &evidence), [Fault; 3]);
        let (at, reason) = (None, "agreed".to_owned());
        let agreed =
            Accepted { check: TEXT.id.into(), at, file: Some("TIDE0050.JPG".into()), count: None, reason };
        let plan = Plan { accepted: vec![agreed], ..every(12.0) };
        assert_eq!(severities(&CHECK, &plan, &evidence), [Caution; 3]);
    }

    #[test]
    fn a_regular_pattern_is_told_once() {
        let odd: Vec<_> = (0..70).map(|k| 2 * k + 1).collect();
        let evidence = Sketch::steady(141, 12.0).without(&odd, true).evidence();
        let findings = found(&CHECK, &every(12.0), &evidence);
        assert_eq!(findings.len(), 1);
        assert_eq!((findings[0].count, findings[0].severity), (70, Fault));
        assert!(findings[0].message.starts_with("Every other frame is missing"), "{}", findings[0].message);
    }

    #[test]
    fn a_bracket_that_lacks_an_exposure() {
        let mut sketch = Sketch::steady(30, 4.0);
        sketch.slots = (0..30).map(|k| k / 3).collect();
        sketch.bracket = Some(3);
        let mut evidence = sketch.evidence();
        assert!(found(&CHECK, &Plan::default(), &evidence).is_empty());
        let (thin, fat) =
            (crate::units::FrameSpan { first: 9, last: 10 }, crate::units::FrameSpan { first: 12, last: 15 });
        evidence.timing.bracket.as_mut().expect("brackets").incomplete = vec![thin, fat];
        let findings = found(&CHECK, &Plan::default(), &evidence);
        assert_eq!((findings.len(), findings[0].severity, findings[0].count), (1, Caution, 0));
        assert!(findings[0].message.ends_with("has 2 of its 3 exposures."), "{}", findings[0].message);
        for (level, told) in [(1.0, 1), (2.0, 0)] {
            let plan = tolerating(Plan::default(), TEXT.id, "bracket_caution", level);
            assert_eq!(found(&CHECK, &plan, &evidence).len(), told);
        }
    }

    #[test]
    fn doubt_stands_on_its_finding() {
        let mut evidence = Sketch::steady(50, 12.0).without(&[20], false).evidence();
        evidence.timing.holes[0].doubt = Some((0, 2));
        let findings = found(&CHECK, &every(12.0), &evidence);
        let doubt = findings[0].doubt.as_ref().expect("doubt");
        assert_eq!((doubt.count_low, doubt.count_high), (0, 2));
        // As coarse as the interval nothing better can be had; else it wants a look.
        for (interval_s, severity) in [(1.0, Note), (2.0, Caution)] {
            let mut evidence = Sketch::steady(50, interval_s).evidence();
            evidence.timing.missing_doubt = Some((0, 3));
            evidence.timing.cadence.as_mut().expect("a cadence").resolution_s = 1.0;
            let findings = found(&CHECK, &every(interval_s), &evidence);
            assert_eq!((findings.len(), findings[0].severity, findings[0].count), (1, severity, 0));
        }
    }
}
