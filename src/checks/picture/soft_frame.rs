//! Pictures that are softer than their neighbours, blank, or of something else.

use crate::checks::common::{
    PRACTICE, beside, clock_of, clocks_of, drawn_together, groups, named, not_of_the_run, opinion, over,
};
use crate::checks::slots::by_member;
use crate::checks::{Case, Check, Need};
use crate::evidence::picture::{Dip, PictureSource};
use crate::evidence::{Evidence, Look};
use crate::finding::{Direction, Finding, Limit, Opinion, Severity, Text};
use crate::units::light::decoded;
use crate::units::{Figure, FrameSpan};

const TEXT: Text = Text {
    id: "soft-frame",
    asks: "Is every picture there, as sharp as its neighbours, and of the same scene?",
    why: "A knock, a carriage that had not settled, a focus that crept or dew on the lens softens frames; a shutter that failed \
          leaves them black. At the size of the camera's screen none of it shows.",
    how: "Variance of the Laplacian of each small picture over its own variance (so that contrast and exposure fall out), as log2, \
          against its robust local trend: single frames, steps, and a fall over the whole run. Black and white frames are those whose \
          light is gone or cut off where their neighbours' is not. A picture unlike both its neighbours, which are like each other, is \
          told too, and pictures that are like the others once they are turned by half.",
    blind: "In thumbnails, any softness finer than some thirty pixels of the whole picture: --pictures full looks closer. Frames without \
            contrast (fog, the dark). What a scene that changes does to sharpness by itself.",
    remedy: "Look at the named frames at full size. Give the rig more time to settle, tape the focus ring, warm the lens against dew.",
    source: "Pertuz, Puig & Garcia, Pattern Recognition 46(5) 2013, LAP4 (Pech-Pacheco 2000). Levels: common practice, no source.",
};

const LIMITS: &[Limit] = &[
    Limit {
        key: "single",
        unit: "halvings of the sharpness below the frames around",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: "step",
        unit: "halvings of the sharpness from a frame on",
        direction: Direction::AtLeast,
        caution: Some(0.7),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: "fall",
        unit: "halvings of the sharpness from its best to the end",
        direction: Direction::AtLeast,
        caution: Some(1.5),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: "blank",
        unit: "black or white frames, or frames unlike their neighbours",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Pictures], judge };

/// A picture of less than the light of this code is black.
const BLACK_CODE: f64 = 8.0;
/// Its neighbours hold at least this many times its light.
const TIMES: f32 = 8.0;
/// A picture of which this share is cut off is white, where its neighbours' is below half.
const WHITE: f32 = 0.7;
/// Pictures less alike than this show something else; more alike than that, the same.
const UNLIKE: f32 = 0.3;
const ALIKE: f32 = 0.6;
/// Sharpness is not followed through a change of contrast by more than this factor: another scene.
const SAME_CONTRAST: f32 = 1.6;

/// Why a picture is none of the run's.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Odd {
    Black,
    White,
    Turned,
    Unlike,
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let odd: Vec<(usize, Odd)> =
        by_member(case.plan, evidence).iter().flat_map(|frames| odd(evidence, frames)).collect();
    let is_odd = |at: usize| odd.iter().any(|o| o.0 == at);
    let track = &evidence.pictures.sharpness;
    let mut findings: Vec<Finding> = Vec::new();
    for kind in [Odd::Black, Odd::White, Odd::Turned, Odd::Unlike] {
        let of_kind: Vec<usize> = odd.iter().filter(|o| o.1 == kind).map(|o| o.0).collect();
        let weighed = case.limits.weigh("blank", of_kind.len() as f64);
        let told = groups(of_kind).into_iter().map(|span| blank(evidence, kind, span, weighed));
        findings.extend(drawn_together(told, |many| {
            format!("The run is broken by pictures of nothing or of something else in {many} places.")
        }));
    }
    // Sharpness is that of the scene too: where each picture shows another one, it tells nothing.
    let same = !evidence.pictures.other_scenes();
    let dips: Vec<&Dip> = track.dips.iter().filter(|d| same && !is_odd(d.at)).collect();
    let soft = dips.iter().filter_map(|dip| {
        let (severity, level) = case.limits.weigh("single", -dip.by)?;
        Some(single(evidence, dip, severity, level))
    });
    findings.extend(drawn_together(soft, |many| format!("{many} frames are softer than those around them.")));
    let steps = track.steps.iter().filter(|_| same).filter_map(|step| {
        let (severity, level) = case.limits.weigh("step", -step.by)?;
        Some(stepped(evidence, step, severity, level))
    });
    findings.extend(drawn_together(steps, |many| {
        format!("The pictures become softer in {many} places and stay so.")
    }));
    if same {
        findings.extend(falls(case));
    }
    if !same && findings.is_empty() {
        return Opinion::cannot(
            "neighbouring pictures show different things, as with a camera that flies: sharpness is then that of the scene",
        );
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frames.look(at).is_none().then_some("no picture could be looked at"))
    })
}

fn odd(evidence: &Evidence, frames: &[usize]) -> Vec<(usize, Odd)> {
    let seen: Vec<usize> = frames.iter().copied().filter(|at| evidence.frames.look(*at).is_some()).collect();
    let look = |k: usize| seen.get(k).and_then(|at| evidence.frames.look(*at));
    let black = decoded(BLACK_CODE / 255.0) as f32;
    let turned = turned(evidence, &seen);
    let mut found = Vec::new();
    for (k, at) in seen.iter().enumerate() {
        let Some(now) = look(k) else { continue };
        if turned.iter().any(|span| span.contains(&k)) {
            found.push((*at, Odd::Turned));
            continue;
        }
        // The nearest pictures on both sides that are not blank themselves.
        let around = (1..=5).flat_map(|d| [k.checked_sub(d), Some(k + d)]).flatten().filter_map(look);
        let around: Vec<&Look> = around.collect();
        let brighter = around.iter().filter(|l| l.mean >= TIMES * now.mean.max(1e-6)).count();
        let darker = around.iter().filter(|l| l.clipped < 0.5).count();
        let most = |n: usize| around.len() >= 3 && 2 * n > around.len();
        if now.mean < black && most(brighter) {
            found.push((*at, Odd::Black));
        } else if now.clipped >= WHITE && most(darker) {
            found.push((*at, Odd::White));
        } else if unlike(evidence, &seen, k) {
            found.push((*at, Odd::Unlike));
        }
    }
    found
}

/// Index ranges of pictures that stand on their head beside the rest of them: those between places at which the pictures turn by half,
/// the fewer of the two kinds.
fn turned(evidence: &Evidence, seen: &[usize]) -> Vec<std::ops::Range<usize>> {
    let turns = |k: &usize| {
        let between = seen.get(k - 1).zip(seen.get(*k)).and_then(|(a, b)| evidence.frames.between(*a, *b));
        between.is_some_and(|b| b.turned > ALIKE)
    };
    let places: Vec<usize> = (1..seen.len()).filter(turns).collect();
    let spans = |from: &[usize]| -> Vec<std::ops::Range<usize>> {
        from.chunks(2).map(|c| c[0]..c.get(1).copied().unwrap_or(seen.len())).collect()
    };
    let many = |spans: &[std::ops::Range<usize>]| spans.iter().map(std::ops::Range::len).sum::<usize>();
    let inner = spans(&places);
    if 2 * many(&inner) <= seen.len() {
        return inner;
    }
    spans(&[&[0], &places[..]].concat())
}

/// True where a picture is unlike the one before and the one after while those around it are alike.
fn unlike(evidence: &Evidence, seen: &[usize], k: usize) -> bool {
    let likeness = |a: Option<usize>, b: usize| {
        let (a, b) = (seen.get(a?)?, seen.get(b)?);
        evidence.frames.between(*a, *b).map(|b| b.likeness).filter(|l| !l.is_nan())
    };
    let (before, after) = (likeness(k.checked_sub(1), k), likeness(Some(k), k + 1));
    let sides = [likeness(k.checked_sub(2), k.wrapping_sub(1)), likeness(Some(k + 1), k + 2)];
    let apart = before.is_some_and(|l| l < UNLIKE) && after.is_some_and(|l| l < UNLIKE);
    apart && sides.iter().all(|l| l.is_some_and(|l| l > ALIKE))
}

fn blank(evidence: &Evidence, kind: Odd, span: FrameSpan, weighed: Option<(Severity, f64)>) -> Finding {
    let (words, code, why) = match kind {
        Odd::Black => (
            "black where the frames around are not",
            "black",
            "a shutter that did not open, a flash that did not fire, a lens cap",
        ),
        Odd::White => (
            "white where the frames around are not",
            "white",
            "a shutter that stuck open, or a light into the lens",
        ),
        Odd::Turned => (
            "turned by half beside the others, top to bottom",
            "turned",
            "a camera that was mounted the other way round, or a program that turned the pixels",
        ),
        Odd::Unlike => (
            "unlike the frames on both sides, which are like each other",
            "unlike",
            "something before the lens, a camera that was turned or knocked, or a file of another place",
        ),
    };
    let is = if span.first == span.last { "is" } else { "are" };
    let message = format!("{}{} {is} {words}: {why}.", named(evidence, span), clocks_of(evidence, span));
    Finding::new(TEXT.id, weighed.map_or(Severity::Note, |w| w.0), message)
        .count(span.len() as u64)
        .on(span)
        .at(evidence.stamp(span.first).map(|s| s.at))
        .figure("frames", beside(span.len() as f64, weighed.map(|w| w.1)))
        .because(code, why)
}

fn source_words(evidence: &Evidence, at: usize) -> &'static str {
    match evidence.frames.look(at).map(|l| l.source) {
        Some(PictureSource::Thumbnail) => "as its thumbnail tells",
        Some(PictureSource::Preview) => "as its preview tells",
        _ => "as the picture tells",
    }
}

fn single(evidence: &Evidence, dip: &Dip, severity: Severity, level: f64) -> Finding {
    let message = format!(
        "{}{} is softer than the frames around it, {}: {:.1} halvings of its sharpness. A knock, a move that had not settled, a breath of \
         wind.",
        evidence.name(dip.at),
        clock_of(evidence, dip.at),
        source_words(evidence, dip.at),
        -dip.by,
    );
    Finding::new(TEXT.id, severity, message)
        .on(FrameSpan::one(dip.at))
        .at(evidence.stamp(dip.at).map(|s| s.at))
        .figure("softer_log2", beside(-dip.by, Some(level)))
}

fn stepped(evidence: &Evidence, step: &Dip, severity: Severity, level: f64) -> Finding {
    let before = step.at.saturating_sub(1);
    let message = format!(
        "From {}{} on the pictures are softer, {}: {:.1} halvings of their sharpness. A knock, or a focus that moved.",
        evidence.name(step.at),
        clock_of(evidence, step.at),
        source_words(evidence, step.at),
        -step.by,
    );
    Finding::new(TEXT.id, severity, message)
        .between(before, step.at)
        .at(evidence.stamp(step.at).map(|s| s.at))
        .figure("softer_log2", beside(-step.by, Some(level)))
}

fn falls(case: &Case<'_>) -> Option<Finding> {
    let evidence = case.evidence;
    let track = &evidence.pictures.sharpness;
    let (severity, level) = case.limits.weigh("fall", -track.slow_fall)?;
    let last = evidence.in_run().filter(|at| evidence.frames.look(*at).is_some()).last()?;
    let (a, b) = (evidence.frames.look(track.falls_from)?, evidence.frames.look(last)?);
    let ratio = a.contrast / b.contrast;
    if !(1.0 / SAME_CONTRAST..=SAME_CONTRAST).contains(&ratio) {
        return None;
    }
    let message = format!(
        "The pictures grow softer all the way from {}{} to {}: {:.1} halvings of their sharpness. In the cold or before dawn that is dew or \
         frost on the lens; else a focus that creeps.",
        evidence.name(track.falls_from),
        clock_of(evidence, track.falls_from),
        evidence.name(last),
        -track.slow_fall,
    );
    Some(
        over(Finding::new(TEXT.id, severity, message), track.falls_from, last)
            .count((last - track.falls_from + 1) as u64)
            .at(evidence.stamp(track.falls_from).map(|s| s.at))
            .figure("softer_log2", beside(-track.slow_fall, Some(level)))
            .figure("likely", Figure::Text("dew, frost or a creeping focus".into())),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::picture::Between;
    use crate::finding::Severity::Caution;

    fn with(change: impl Fn(usize, &mut Look)) -> Evidence {
        let mut sketch = Sketch::steady(120, 10.0).shows(|_| 0.0);
        for (k, look) in sketch.looks.iter_mut().flatten().enumerate() {
            // A little unrest, as every scene has it.
            look.sharpness = 0.5 * (0.02 * (k * 7 % 5) as f32).exp2();
            change(k, look);
        }
        sketch.evidence()
    }

    #[test]
    fn stays_quiet_on_a_sharp_run() {
        assert!(found(&CHECK, &every(10.0), &with(|_, _| ())).is_empty());
    }

    #[test]
    fn a_single_soft_frame_at_half_the_sharpness() {
        for (by, severity) in [(0.9, vec![]), (1.1, vec![Caution]), (3.0, vec![Caution])] {
            let evidence = with(|k, look| {
                if k == 60 {
                    look.sharpness = 0.5 * (0.04 - by as f32).exp2();
                }
            });
            assert_eq!(severities(&CHECK, &every(10.0), &evidence), severity, "{by}");
        }
    }

    #[test]
    fn a_knock_is_told_from_its_frame_on() {
        let evidence = with(|k, look| {
            if k >= 70 {
                look.sharpness *= 0.4;
            }
        });
        let findings = found(&CHECK, &every(10.0), &evidence);
        let ends: Vec<_> = findings.iter().map(|f| (f.first, f.last)).collect();
        assert_eq!(ends, [(Some(69), Some(70))], "{findings:?}");
    }

    #[test]
    fn a_slow_fall_reads_as_dew() {
        let evidence = with(|k, look| look.sharpness *= (-0.02 * k as f32).exp2());
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert!(findings.len() == 1 && findings[0].message.contains("dew"), "{findings:?}");
        // Where the contrast goes too, the scene changed.
        let evidence = with(|k, look| {
            look.sharpness *= (-0.02 * k as f32).exp2();
            look.contrast /= 1.0 + k as f32 / 60.0;
        });
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    #[test]
    fn black_and_white_frames_are_found_at_their_place() {
        let black = with(|k, look| {
            if k == 33 {
                (look.mean, look.blocked, look.sharpness) = (0.0005, 1.0, f32::NAN);
            }
        });
        let findings = found(&CHECK, &every(10.0), &black);
        assert_eq!((findings.len(), findings[0].first), (1, Some(33)), "{findings:?}");
        assert_eq!(findings[0].cause.as_ref().map(|c| c.code), Some("black"));
        let white = with(|k, look| {
            if k == 34 {
                (look.mean, look.clipped, look.sharpness) = (1.0, 1.0, f32::NAN);
            }
        });
        assert_eq!(found(&CHECK, &every(10.0), &white)[0].cause.as_ref().map(|c| c.code), Some("white"));
        // A night is black from end to end: nothing is odd in it.
        let night = with(|_, look| (look.mean, look.blocked) = (0.0005, 1.0));
        assert!(found(&CHECK, &every(10.0), &night).is_empty());
    }

    /// Pictures that are like the one before once they are turned by half: one, several, and from a frame on to the end.
    #[test]
    fn pictures_on_their_head_are_told_as_such() {
        for (head, told) in [(40..41, (40, 40)), (40..47, (40, 46)), (90..120, (90, 119)), (0..10, (0, 9))] {
            let evidence = with(|k, look| {
                let turns = k > 0 && head.contains(&k) != head.contains(&(k - 1));
                let (likeness, turned) = if turns { (-0.4, 0.98) } else { (0.99, f32::NAN) };
                look.card_at = k as u32;
                look.between = (k > 0).then_some(Between { likeness, turned });
            });
            let findings = found(&CHECK, &every(10.0), &evidence);
            let ends: Vec<_> = findings.iter().map(|f| (f.first, f.last)).collect();
            assert_eq!(ends, [(Some(told.0), Some(told.1))], "{findings:?}");
            assert_eq!(findings[0].cause.as_ref().map(|c| c.code), Some("turned"));
        }
    }

    #[test]
    fn cannot_judge_without_pictures() {
        assert!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("not read"));
    }
}
