//! Pictures that are softer than their neighbours, or stand on their head.

use crate::checks::common::{
    PRACTICE, beside, clock_of, clocks_of, drawn_together, groups, named, not_of_the_run, opinion, over,
};
use crate::checks::slots::by_member;
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::picture::{Dip, PictureSource};
use crate::finding::{
    About, CauseCode, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::units::{Figure, FrameSpan};

const TEXT: Text = Text {
    id: "soft-frame",
    finds: "soft frames",
    asks: "Is every picture as sharp as its neighbours, and the same way up?",
    why: "A knock, a rig that had not settled, a focus that crept or dew on the lens softens frames. At the \
          size of the camera's screen none of it shows.",
    how: "Sharpness is the variance of the Laplacian of each small picture over its own variance, as log2, \
          so contrast and exposure cancel. It is compared with its robust local trend. Single frames, steps \
          and a fall over the whole run are reported; from that fall, noise that two neighbours do not share \
          is taken off. A picture is upside down where its fine structure, free of gradients, is that of the \
          one before it, turned. Pictures that show nothing are left to blank-picture, and what stands \
          before the lens to obstructed-view.",
    blind: "A run that is soft from its first frame, or softens slowly while the scene changes: it looks \
            like a soft scene. In thumbnails, any softness finer than some thirty pixels of the whole \
            picture: --pictures full looks closer. Frames without contrast (fog, the dark). What a changing \
            scene does to sharpness by itself.",
    remedy: "Look at the named frames at full size. Let the camera come to rest before each exposure, lock \
             the focus, and keep the lens warm against dew.",
    source: "Pertuz, Puig & Garcia, Pattern Recognition 46(5) 2013, LAP4 (Pech-Pacheco 2000). Levels: common \
             practice, no source.",
    traits: Traits { about: About::Stand, patched: true, quality: Some(Quality::Sharpness), ..Traits::PLAIN },
};

const SINGLE: LimitKey = LimitKey::new("single");
const STEP: LimitKey = LimitKey::new("step");
const FALL: LimitKey = LimitKey::new("fall");
const TURNED: LimitKey = LimitKey::new("turned");

const TURNED_BY_HALF: CauseCode = CauseCode::new("turned");

const LIMITS: &[Limit] = &[
    Limit {
        key: SINGLE,
        unit: "stops of sharpness below the frames around",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: STEP,
        unit: "stops of sharpness from a frame on",
        direction: Direction::AtLeast,
        caution: Some(0.7),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: FALL,
        unit: "stops of sharpness from its best to the end",
        direction: Direction::AtLeast,
        caution: Some(1.5),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: TURNED,
        unit: "frames upside down relative to the rest",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Pictures], judge };

/// A picture is turned where its structure is that of the one before it, turned by half, at least as much as
/// this.
const TURNED_SHARE: f32 = 0.6;
/// Sharpness is not followed through a change of contrast by more than this factor: another scene. Dew
/// scatters light, and takes half of the contrast with it.
const SAME_CONTRAST: f32 = 2.2;

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let mut turned: Vec<usize> =
        by_member(case.plan, evidence).iter().flat_map(|frames| turned(evidence, frames)).collect();
    turned.sort_unstable();
    let track = &evidence.pictures.sharpness;
    let is_told = |at: usize| {
        let frame = evidence.frame(at);
        frame.is_blank() || frame.is_obstructed() || turned.contains(&at)
    };
    let mut findings: Vec<Finding> = Vec::new();
    let weighed = case.limits.weigh(TURNED, turned.len() as f64);
    let told = groups(turned.iter().copied()).into_iter().map(|span| on_its_head(evidence, span, weighed));
    findings.extend(drawn_together(told, |many| {
        format!("Pictures are upside down relative to the rest in {many} places.")
    }));
    // Sharpness is that of the scene too: where each picture shows another one, it tells nothing.
    let same = !evidence.pictures.other_scenes();
    let dips: Vec<&Dip> = track.dips.iter().filter(|d| same && !is_told(d.at)).collect();
    let soft = dips.iter().filter_map(|dip| {
        let (severity, level) = case.limits.weigh(SINGLE, -dip.by)?;
        Some(single(evidence, dip, severity, level))
    });
    findings.extend(drawn_together(soft, |many| format!("{many} frames are softer than those around them.")));
    let steps = track.steps.iter().filter(|_| same).filter_map(|step| {
        let (severity, level) = case.limits.weigh(STEP, -step.by)?;
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
            "neighbouring pictures show different things, as with a camera that flies: sharpness is then \
             that of the scene",
        );
    }
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frame(at).look().is_none().then_some("no picture could be looked at"))
    })
}

/// Pictures that stand on their head beside the rest of them: those between places at which the pictures turn
/// by half, the fewer of the two kinds.
fn turned(evidence: &Sequence, frames: &[usize]) -> Vec<usize> {
    let seen: Vec<usize> = frames.iter().copied().filter(|at| evidence.frame(*at).look().is_some()).collect();
    let turns = |k: &usize| {
        let between = seen.get(k - 1).zip(seen.get(*k)).and_then(|(a, b)| evidence.frames.between(*a, *b));
        between.is_some_and(|b| b.turned >= TURNED_SHARE)
    };
    let places: Vec<usize> = (1..seen.len()).filter(turns).collect();
    let within = |from: &[usize]| -> Vec<usize> {
        let spans = from.chunks(2).map(|c| c[0]..c.get(1).copied().unwrap_or(seen.len()));
        spans.flatten().filter_map(|k| seen.get(k).copied()).collect()
    };
    let inner = within(&places);
    if 2 * inner.len() <= seen.len() {
        return inner;
    }
    within(&[&[0], &places[..]].concat())
}

fn on_its_head(evidence: &Sequence, span: FrameSpan, weighed: Option<(Severity, f64)>) -> Finding {
    let is = if span.first == span.last { "is" } else { "are" };
    let why = "a camera that was mounted the other way round, or a program that turned the pixels";
    let message = format!(
        "{}{} {is} upside down relative to the rest: {why}.",
        named(evidence, span),
        clocks_of(evidence, span)
    );
    Finding::new(TEXT.id, weighed.map_or(Severity::Note, |w| w.0), message)
        .count(span.len() as u64)
        .on(span)
        .at(evidence.frame(span.first).moment())
        .figure("frames", beside(span.len() as f64, weighed.map(|w| w.1)))
        .because(TURNED_BY_HALF, why)
}

fn source_words(evidence: &Sequence, at: usize) -> &'static str {
    match evidence.frame(at).look().map(|l| l.source) {
        Some(PictureSource::Thumbnail) => "as its thumbnail shows",
        Some(PictureSource::Preview) => "as its preview shows",
        _ => "as the picture shows",
    }
}

/// What is left of the sharpness after a change of `by` (log2), in per cent.
fn kept_percent(by: f64) -> f64 {
    100.0 * by.exp2()
}

fn single(evidence: &Sequence, dip: &Dip, severity: Severity, level: f64) -> Finding {
    let message = format!(
        "{}{} is softer than the frames around it, {}: it has {:.0} % of their sharpness. A knock, wind, or \
         a camera that was still moving.",
        evidence.frame(dip.at).name(),
        clock_of(evidence, dip.at),
        source_words(evidence, dip.at),
        kept_percent(dip.by),
    );
    Finding::new(TEXT.id, severity, message)
        .on(FrameSpan::one(dip.at))
        .at(evidence.frame(dip.at).moment())
        .figure("softer_log2", beside(-dip.by, Some(level)))
}

fn stepped(evidence: &Sequence, step: &Dip, severity: Severity, level: f64) -> Finding {
    let before = step.at.saturating_sub(1);
    let message = format!(
        "From {}{} on the pictures are softer, {}: they keep {:.0} % of the sharpness. A knock, or a focus \
         that moved.",
        evidence.frame(step.at).name(),
        clock_of(evidence, step.at),
        source_words(evidence, step.at),
        kept_percent(step.by),
    );
    Finding::new(TEXT.id, severity, message)
        .between(before, step.at)
        .at(evidence.frame(step.at).moment())
        .figure("softer_log2", beside(-step.by, Some(level)))
}

fn falls(case: &Case<'_>) -> Option<Finding> {
    let evidence = case.evidence;
    let track = &evidence.pictures.sharpness;
    let (severity, level) = case.limits.weigh(FALL, -track.slow_fall)?;
    let last = evidence.in_run().rfind(|at| evidence.frame(*at).look().is_some())?;
    let (a, b) = (evidence.frame(track.falls_from).look()?, evidence.frame(last).look()?);
    let ratio = a.contrast / b.contrast;
    if !(1.0 / SAME_CONTRAST..=SAME_CONTRAST).contains(&ratio) {
        return None;
    }
    let message = format!(
        "The pictures grow softer all the way from {}{} to {}: {:.0} % of the sharpness is left. In the cold \
         or before dawn that is dew or frost on the lens; else a focus that creeps.",
        evidence.frame(track.falls_from).name(),
        clock_of(evidence, track.falls_from),
        evidence.frame(last).name(),
        kept_percent(track.slow_fall),
    );
    Some(
        over(Finding::new(TEXT.id, severity, message), track.falls_from, last)
            .count((last - track.falls_from + 1) as u64)
            .at(evidence.frame(track.falls_from).moment())
            .figure("softer_log2", beside(-track.slow_fall, Some(level)))
            .figure("likely", Figure::Text("dew, frost or a creeping focus".into())),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::Look;
    use crate::evidence::picture::Between;
    use crate::finding::Severity::Caution;

    fn with(change: impl Fn(usize, &mut Look)) -> Sequence {
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

    /// A fence, a lorry or scaffolding is sharper than what lies behind it.
    #[test]
    fn what_was_before_the_lens_for_a_while_and_left_softens_nothing() {
        let visit = |left: f32| {
            let evidence = with(|k, look| {
                let edges = [0.0, 0.3, 0.6, 0.8, 0.9, 0.9, 0.9, 0.9, 0.9].get(k.wrapping_sub(60));
                look.sharpness *= edges.map_or(if k >= 69 { -left } else { 0.0 }, |more| *more).exp2();
            });
            severities(&CHECK, &every(10.0), &evidence)
        };
        assert_eq!(visit(0.0), []);
        assert_eq!(visit(0.8), [Caution]);
    }

    /// A focus that slipped for a while, came back and slipped for good: the first time excuses nothing.
    #[test]
    fn soft_frames_before_do_not_hide_a_focus_that_slips_for_good() {
        let evidence = with(|k, look| {
            if (40..48).contains(&k) || k >= 70 {
                look.sharpness *= 0.4;
            }
        });
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert!(findings.iter().any(|f| f.last == Some(70)), "{findings:?}");
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

    /// Noise keeps the sharpness of a picture up; what two neighbours have in common is free of it. It must
    /// be borne out: a camera that travels ever faster has less in common, too.
    #[test]
    fn dew_is_told_through_noise_and_a_camera_that_travels_faster_is_not() {
        let course = |own: f32, common: f32| {
            let evidence = with(|k, look| {
                look.sharpness *= (-own * k as f32 / 119.0).exp2();
                look.card_at = k as u32;
                let fine = -3.0 - common * k as f32 / 119.0;
                look.between = Some(Between { likeness: 0.99, turned: f32::NAN, fine });
            });
            severities(&CHECK, &every(10.0), &evidence)
        };
        assert_eq!(course(0.9, 3.0), [Caution]);
        assert!(course(0.9, 1.0).is_empty());
        assert!(course(0.0, 3.0).is_empty());
    }

    /// Pictures that are like the one before once they are turned by half: one, several, and from a frame on
    /// to the end.
    #[test]
    fn pictures_on_their_head_are_told_as_such() {
        for (head, told) in [(40..41, (40, 40)), (40..47, (40, 46)), (90..120, (90, 119)), (0..10, (0, 9))] {
            let evidence = with(|k, look| {
                let turns = k > 0 && head.contains(&k) != head.contains(&(k - 1));
                let (likeness, turned) = if turns { (-0.4, 0.98) } else { (0.99, f32::NAN) };
                let fine = f32::NAN;
                look.card_at = k as u32;
                look.between = (k > 0).then_some(Between { likeness, turned, fine });
            });
            let findings = found(&CHECK, &every(10.0), &evidence);
            let ends: Vec<_> = findings.iter().map(|f| (f.first, f.last)).collect();
            assert_eq!(ends, [(Some(told.0), Some(told.1))], "{findings:?}");
            assert_eq!(findings[0].cause.as_ref().map(|c| c.code.name()), Some("turned"));
        }
    }

    /// Structure that is that of the last picture, turned, to 0.6; gradients, which have none, prove nothing.
    #[test]
    fn only_structure_proves_that_a_picture_is_turned() {
        for (turned, severity) in [(0.6, vec![Caution]), (0.59, vec![]), (f32::NAN, vec![])] {
            let evidence = with(|k, look| {
                let turns = (40..=41).contains(&k);
                look.card_at = k as u32;
                let likeness = if turns { -0.9 } else { 0.99 };
                let turned = if turns { turned } else { f32::NAN };
                look.between = Some(Between { likeness, turned, fine: f32::NAN });
            });
            assert_eq!(severities(&CHECK, &every(10.0), &evidence), severity, "{turned}");
        }
    }

    #[test]
    fn cannot_judge_without_pictures() {
        assert!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("not read"));
    }
}
