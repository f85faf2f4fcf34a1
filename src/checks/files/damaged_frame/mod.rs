//! Frames whose files are damaged.

mod companions;

mod not_seen;

use crate::checks::accepted::agreed_spans;
use crate::checks::common::{PRACTICE, beside, clocks_of, count, groups, named, opinion};
use crate::checks::{Case, Check};
use crate::evidence::{Damage, Sequence};
use crate::finding::{
    ClipEffect, Direction, Finding, Limit, LimitKey, Needed, Opinion, Quality, Severity, Text, Traits,
};
use crate::schedule::clip::{Course, Seams};
use crate::units::{Figure, FrameSpan, shown};
use companions::{BESIDE, COMPANIONS, RAWS};
use companions::{damaged_beside, lacking};
use not_seen::FRAMES;
use not_seen::not_seen;

const TEXT: Text = Text {
    id: "damaged-frame",
    finds: "damaged frames",
    asks: "Is every frame's file whole?",
    why: "A damaged file is a hole that the numbers and the folder hide: it is there, it is counted, and it \
          will not open.",
    how: "A file is damaged where it is empty, is no picture inside, ends before its data does, or ends in \
          zeros. So is one whose structure cannot be followed, or that could not be read twice in a row. So \
          is a raw that has less than a fifth of the bytes of the raws beside it. The files beside a frame's \
          own (the JPEG of a raw) are checked the same way. Where most frames have a raw and a finished \
          picture, a frame that lacks one of them is reported.",
    blind: "Wrong pixels in a file whose structure is whole: headers and tails are read, not every byte, and \
            --pictures full decodes only JPEG, PNG, WebP and plain TIFF. An end that the container does not \
            give (a bare JPEG XL stream).",
    remedy: "Copy the card again with another reader before you format it. If the same files stay damaged, \
             retire the card. Patch single frames from their neighbours.",
    source: "The structure of each container (JPEG: ISO/IEC 10918-1; TIFF 6.0). Levels: common practice, no \
             source.",
    traits: Traits {
        in_the_clip: ClipEffect::Damage,
        needed: Needed::Yes { to_answer: "", of_stamped: false },
        own_lane: true,
        quality: Some(Quality::Frames),
        ..Traits::PLAIN
    },
};

const ADJACENT: LimitKey = LimitKey::new("adjacent");
const SHARE: LimitKey = LimitKey::new("share");

const LIMITS: &[Limit] = &[
    Limit {
        key: FRAMES,
        unit: "damaged frames of the run",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: ADJACENT,
        unit: "damaged frames in a row",
        direction: Direction::AtLeast,
        caution: None,
        fault: Some(3.0),
        source: PRACTICE,
    },
    Limit {
        key: SHARE,
        unit: "% of the run's frames damaged",
        direction: Direction::Above,
        caution: None,
        fault: Some(2.0),
        source: PRACTICE,
    },
    Limit {
        key: BESIDE,
        unit: "frames in a row with a damaged file beside them",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: RAWS,
        unit: "frames without the raw that the others have",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: COMPANIONS,
        unit: "frames without the finished picture that the others have",
        direction: Direction::AtLeast,
        caution: None,
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let of = |at: usize| &evidence.frame(at).row().damage;
    let damaged = |at: &usize| of(*at).is_some() && *of(*at) != Damage::NotTried;
    let outside = |at: usize| evidence.frame(at).is_outside();
    let run = evidence.in_run().count();
    let of_run = evidence.in_run().filter(damaged).count();
    // A group does not reach across the run's ends.
    let all = (0..evidence.len()).filter(damaged);
    let spans: Vec<_> = groups(all).into_iter().flat_map(|span| split(span, &outside)).collect();
    // What the plan says can be patched is no fault by its length.
    let patches: Vec<_> = Course::of(case.schedule, evidence, Seams::default()).patches().collect();
    let patched = |span: FrameSpan| {
        let next = patches.get(patches.partition_point(|p| p.after <= span.last));
        next.is_some_and(|p| p.before < span.first)
    };
    let tell = |span: FrameSpan, share: f64| {
        let severity = if outside(span.first) {
            Severity::Note
        } else {
            let weights = [
                case.limits.weigh(FRAMES, of_run as f64),
                case.limits.weigh(ADJACENT, span.len() as f64).filter(|_| !patched(span)),
                case.limits.weigh(SHARE, share),
            ];
            weights.iter().flatten().map(|w| w.0).max().unwrap_or(Severity::Note)
        };
        let kinds = kinds(evidence, span);
        let beyond = if outside(span.first) { " (not part of the run)" } else { "" };
        let message = if span.len() == 1 {
            let (name, clock) = (evidence.frame(span.first).name(), near(evidence, span));
            match of(span.first) {
                Damage::NotRead(why) => format!("{name}{clock}{beyond} could not be read: {}.", shown(why)),
                damage => format!("{name}{clock}{beyond} is damaged: {}.", shown(&damage.words())),
            }
        } else {
            let unread = (span.first..=span.last).all(|at| matches!(of(at), Damage::NotRead(_)));
            let how = if unread { "could not be read" } else { "are damaged" };
            let what = match kinds.split_once(' ') {
                Some((_, "empty")) => "all empty, 0 bytes long".to_owned(),
                Some((_, word)) if !kinds.contains(',') => format!("all {word}"),
                _ => kinds.clone(),
            };
            let place = format!("{}{}", named(evidence, span), near(evidence, span));
            format!("{} frames in a row {how}{beyond}, {place}: {what}.", span.len())
        };
        Finding::new(TEXT.id, severity, message)
            .count(span.len() as u64)
            .on(span)
            .at(evidence.frame(span.first).moment())
            .figure("adjacent_frames", beside(span.len() as f64, case.limits.get(ADJACENT).fault))
            .figure("damaged_frames_of_run", count(of_run as u64))
            .figure("damaged_percent", beside(share, case.limits.get(SHARE).fault))
            .figure("what", Figure::Text(kinds))
            .figure("can_be_patched", Figure::Flag(patched(span)))
    };
    // Those that were agreed to are taken as good before the others are weighed.
    let agreed = agreed_spans(case.plan, evidence, spans.iter().map(|span| tell(*span, 0.0)));
    let agreed: usize = agreed.into_iter().filter(|span| !outside(span.first)).map(FrameSpan::len).sum();
    let share = if run == 0 { 0.0 } else { 100.0 * (of_run - agreed) as f64 / run as f64 };
    let mut findings: Vec<_> = spans.iter().map(|span| tell(*span, share)).collect();
    findings.extend(damaged_beside(TEXT.id, case.limits, evidence));
    findings.extend(lacking(TEXT.id, case.limits, evidence));
    findings.extend(not_seen(TEXT.id, case.limits, evidence));
    opinion(findings, evidence, |at| {
        (*of(at) == Damage::NotTried).then_some("not read: the reading was stopped")
    })
}

/// When it was: by its own stamps, else by that of the frame before.
fn near(evidence: &Sequence, span: FrameSpan) -> String {
    let own = clocks_of(evidence, span);
    let before = || (0..span.first).rev().find_map(|at| evidence.frame(at).clock());
    if own.is_empty() { before().map_or(own, |clock| format!(" (after {clock})")) } else { own }
}

/// The span, cut where the run begins or ends.
fn split(span: FrameSpan, outside: &impl Fn(usize) -> bool) -> Vec<FrameSpan> {
    let mut parts = vec![FrameSpan::one(span.first)];
    for at in span.first + 1..=span.last {
        match parts.last_mut() {
            Some(part) if outside(part.last) == outside(at) => part.last = at,
            _ => parts.push(FrameSpan::one(at)),
        }
    }
    parts
}

/// What is wrong, by kind, with how often.
fn kinds(evidence: &Sequence, span: FrameSpan) -> String {
    let word = |damage: &Damage| match damage {
        Damage::None => None,
        Damage::Empty => Some("empty"),
        Damage::NotAPicture => Some("not a picture inside"),
        Damage::CutShort(_) => Some("cut short"),
        Damage::Broken(_) => Some("broken"),
        Damage::NotRead(_) => Some("could not be read"),
        Damage::NotTried => None,
    };
    let mut kinds: Vec<(&str, u64)> = Vec::new();
    let damage = |at: usize| &evidence.frame(at).row().damage;
    for word in (span.first..=span.last).filter_map(|at| word(damage(at))) {
        match kinds.iter_mut().find(|(k, _)| *k == word) {
            Some((_, n)) => *n += 1,
            None => kinds.push((word, 1)),
        }
    }
    kinds.iter().map(|(word, n)| format!("{n} {word}")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, every, found, judged, severities};
    use crate::evidence::FrameState;
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{Accepted, DeliveryPlan, Plan};

    fn broken(frames: usize, at: &[usize]) -> Sketch {
        let mut sketch = Sketch::steady(frames, 10.0);
        for &at in at {
            sketch = sketch
                .change(at..at + 1, |row| row.damage = Damage::CutShort("no end of image".into()))
                .state(at..at + 1, FrameState::Damaged);
        }
        sketch
    }

    #[test]
    fn fires_and_stays_quiet() {
        assert!(found(&CHECK, &every(10.0), &Sketch::steady(100, 10.0).evidence()).is_empty());
        let findings = found(&CHECK, &every(10.0), &broken(100, &[7]).evidence());
        assert_eq!((findings.len(), findings[0].first, findings[0].severity), (1, Some(7), Caution));
        assert!(
            findings[0].message.contains("is damaged: cut short (no end of image)"),
            "{}",
            findings[0].message
        );
    }

    #[test]
    fn three_in_a_row_are_a_fault() {
        for (at, severity) in [(vec![7, 8], Caution), (vec![7, 8, 9], Fault), (vec![7, 8, 9, 10], Fault)] {
            assert_eq!(severities(&CHECK, &every(10.0), &broken(1000, &at).evidence()), [severity], "{at:?}");
        }
    }

    #[test]
    fn over_two_per_cent_is_a_fault() {
        for (at, severity) in [(vec![7], Caution), (vec![7, 9], Caution), (vec![7, 9, 11], Fault)] {
            let evidence = broken(100, &at).evidence();
            assert_eq!(severities(&CHECK, &every(10.0), &evidence), vec![severity; at.len()], "{at:?}");
        }
    }

    /// Three of 100 are over 2 %; without the one that was agreed to they are not. Three in a row can be
    /// patched where the plan says so.
    #[test]
    fn what_was_agreed_to_and_what_can_be_patched() {
        let evidence = broken(100, &[7, 50, 90]).evidence();
        let (at, reason) = (None, "agreed".to_owned());
        let agreed =
            Accepted { check: TEXT.id.into(), at, file: Some("TIDE0008.JPG".into()), count: None, reason };
        let plan = Plan { accepted: vec![agreed], ..every(10.0) };
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Fault; 3]);
        assert_eq!(severities(&CHECK, &plan, &evidence), [Caution; 3]);
        let evidence = broken(1000, &[500, 501, 502]).evidence();
        for (most, severity) in [(None, Fault), (Some(2), Fault), (Some(3), Caution)] {
            let delivery = DeliveryPlan { patch_up_to: most, ..DeliveryPlan::default() };
            let plan = Plan { delivery, ..every(10.0) };
            assert_eq!(severities(&CHECK, &plan, &evidence), [severity], "{most:?}");
        }
    }

    #[test]
    fn outside_of_the_run_it_is_a_note() {
        let evidence = broken(100, &[0, 1, 2, 3]).state(0..3, FrameState::Outside).evidence();
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Note, Caution]);
    }

    /// A card that was pulled out is told as unread, which is what is known of it.
    #[test]
    fn what_was_not_read_is_not_called_damaged() {
        let unread = || Damage::NotRead("permission denied".into());
        let row = |damage: Damage| move |row: &mut crate::evidence::Row| row.damage = damage.clone();
        let gone =
            Sketch::steady(100, 10.0).change(90..100, row(unread())).state(90..100, FrameState::Damaged);
        let findings = found(&CHECK, &every(10.0), &gone.evidence());
        assert_eq!((findings.len(), findings[0].count, findings[0].severity), (1, 10, Fault));
        assert!(findings[0].message.starts_with("10 frames in a row could not be read"), "{:?}", findings[0]);
        let stopped = Sketch::steady(100, 10.0)
            .change(90..100, row(Damage::NotTried))
            .state(90..100, FrameState::Damaged);
        let judgement = judged(&CHECK, &every(10.0), &stopped.evidence());
        assert_eq!((judgement.findings().len(), judgement.looked_at), (0, 90));
        assert_eq!(judgement.set_aside[0].0, 10);
    }

    #[test]
    fn a_file_that_the_other_frames_have_is_missed() {
        let with = |lack_raw: &[usize], lack_jpeg: &[usize], pairs: usize| {
            let mut evidence = Sketch::steady(100, 10.0).evidence();
            for (at, shot) in evidence.frames.card.shots.iter_mut().enumerate() {
                let named = |end: &str| crate::evidence::CardFile {
                    name: std::ffi::OsString::from(format!("TIDE{at:04}.{end}")).into_boxed_os_str(),
                    ..shot.file.clone()
                };
                let (raw, jpeg) = (named("NEF"), named("JPG"));
                (shot.file, shot.companions) = match (lack_raw.contains(&at), lack_jpeg.contains(&at)) {
                    (true, _) => (jpeg, Vec::new()),
                    (_, true) => (raw, Vec::new()),
                    _ if at < pairs => (raw, vec![jpeg]),
                    _ => (raw, Vec::new()),
                };
            }
            found(&CHECK, &every(10.0), &evidence)
        };
        assert!(with(&[], &[], 100).is_empty());
        let findings = with(&[7], &[20, 21], 100);
        let told: Vec<_> = findings.iter().map(|f| (f.severity, f.count, f.message.as_str())).collect();
        assert_eq!(told.len(), 2);
        assert_eq!((told[0].0, told[0].1, told[1].0, told[1].1), (Caution, 1, Note, 2), "{told:?}");
        assert!(told[0].2.contains("lacks the NEF that 99 others have"), "{told:?}");
        assert!(told[1].2.contains("lack the JPG that 98 others have"), "{told:?}");
        // Exactly half is no custom.
        assert!(with(&[], &[], 50).is_empty());
        assert_eq!(with(&[], &[], 51).len(), 1);
    }

    #[test]
    fn looks_at_every_file() {
        let evidence = broken(100, &[3]).state(90..100, FrameState::Outside).evidence();
        assert_eq!(judged(&CHECK, &every(10.0), &evidence).looked_at, 100);
    }
}
