//! A screening of the clip against the limits for photosensitive viewers.

use crate::checks::common::{
    beside, clocks_of, count, drawn_together, named, not_of_the_run, number, opinion, over,
};
use crate::checks::slots::by_member;
use crate::checks::{Case, Check, Need};
use crate::evidence::Look;
use crate::evidence::picture::flash::{Kind, MOST_TRANSITIONS, Spell, screen};
use crate::finding::{About, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits};
use crate::units::{Figure, FrameSpan};

const TEXT: Text = Text {
    id: "flash-risk",
    finds: "flashes",
    asks: "Does the clip stay below the published limits for flashing, as far as a screening can tell?",
    why: "A clip that flashes more than three times a second can bring on seizures in viewers with \
          photosensitive epilepsy, and broadcasters refuse it.",
    how: "The frames of the run are played at the plan's speed (25 frames a second where it gives none). \
          Each small picture is divided into 54 areas. Opposing changes are counted between neighbouring \
          peaks and valleys: those of relative luminance by 0.1 or more, the darker state below 0.8, and \
          those to and from saturated red. More than six within a second are over the limit, where they fill \
          more than a quarter of a third of the picture each way.",
    blind: "Fine patterns, flashing smaller than the areas, what grading and editing will change, a screen \
            brighter than 200 cd/m². This is a screening, never a certificate.",
    remedy: "Level the flicker before anything is published, do not loop the clip, and warn viewers. Have \
             clips for broadcast tested by a service that certifies. The rules of the place where it is \
             shown come first.",
    source: "WCAG 2.2 SC 2.3.1, general flash and red flash thresholds; ITU-R BT.1702, which agrees at a \
             white of 200 cd/m².",
    traits: Traits { about: About::Light, quality: Some(Quality::Flashes), ..Traits::PLAIN },
};

const TRANSITIONS: LimitKey = LimitKey::new("transitions");

const LIMITS: &[Limit] = &[Limit {
    key: TRANSITIONS,
    unit: "opposing changes within a second",
    direction: Direction::Above,
    caution: Some(MOST_TRANSITIONS as f64),
    fault: None,
    source: "WCAG 2.2 SC 2.3.1: three flashes are six changes",
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Pictures], judge };

/// Fewest pictures in which something can flash: WCAG 2.2 defines a flash as a pair of opposing changes.
const FEWEST: usize = 3;

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let fps = evidence.pictures.fps;
    let mut findings = Vec::new();
    let mut most = 0;
    for frames in by_member(case.plan, evidence) {
        let looks: Vec<Option<&Look>> = frames.iter().map(|at| evidence.frame(*at).look()).collect();
        most = most.max(looks.iter().flatten().count());
        let spells = screen(&looks, fps);
        let told = spells.iter().map(|spell| told(case, &frames, spell));
        findings.extend(drawn_together(told, |many| {
            format!(
                "As shot the clip flashes over the limits of WCAG 2.2 SC 2.3.1 in {many} places at {}: a \
                 screening, no certificate.",
                speed(case)
            )
        }));
    }
    if most < FEWEST {
        return Opinion::cannot(format!(
            "a flash goes there and back and takes {FEWEST} pictures at least; {most} could be looked at"
        ));
    }
    if findings.is_empty() {
        // Never "clear": a screening that found nothing says no more than that.
        let message = format!(
            "Nothing was found by this screening against the flash limits of WCAG 2.2 SC 2.3.1 at {}. A \
             screening is no certificate: have clips for broadcast tested.",
            speed(case)
        );
        findings.push(Finding::new(TEXT.id, Severity::Note, message).count(0).figure("fps", number(fps)));
    }
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frame(at).look().is_none().then_some("no picture could be looked at"))
    })
}

fn speed(case: &Case<'_>) -> String {
    let pictures = &case.evidence.pictures;
    let assumed = if pictures.fps_assumed { " (assumed; the plan names no fps)" } else { "" };
    format!("{} frames a second{assumed}", pictures.fps)
}

fn told(case: &Case<'_>, frames: &[usize], spell: &Spell) -> Finding {
    let evidence = case.evidence;
    let (first, last) = (frames[spell.first], frames[spell.last]);
    let weighed = case.limits.weigh(TRANSITIONS, spell.transitions as f64);
    let (severity, level) = weighed.map_or((Severity::Note, None), |(s, l)| (s, Some(l)));
    let (kind, word) = match spell.kind {
        Kind::General => ("flashes", "general"),
        Kind::Red => ("flashes in saturated red", "red"),
    };
    let message = format!(
        "As shot the clip {kind} at {}: {} opposing changes within a second over {:.0} % of the picture, \
         {}{}. The {word} flash limit of WCAG 2.2 SC 2.3.1 is reached. This is a screening, no certificate.",
        speed(case),
        spell.transitions,
        100.0 * spell.share,
        named(evidence, FrameSpan { first, last }),
        clocks_of(evidence, FrameSpan { first, last }),
    );
    over(Finding::new(TEXT.id, severity, message), first, last)
        .count((spell.last - spell.first + 1) as u64)
        .at(evidence.frame(first).moment())
        .figure("rule", Figure::Text(format!("{word} flash, WCAG 2.2 SC 2.3.1")))
        .figure("transitions_in_1_s", beside(spell.transitions as f64, level))
        .figure("area_share", number(spell.share))
        .figure("fps", number(evidence.pictures.fps))
        .figure("frames", count((spell.last - spell.first + 1) as u64))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::Sequence;
    use crate::finding::Severity::{Caution, Note};

    /// One frame in `every` is a stop brighter than middle grey, which is a change of 0.18 in luminance.
    fn pulsing(frames: usize, every: usize) -> Sequence {
        Sketch::steady(frames, 10.0).shows(|k| if k % every == 0 { 1.0 } else { 0.0 }).evidence()
    }

    /// At 25 frames a second a pulse every 8 frames is more than three flashes a second, every 9 frames it is
    /// not.
    #[test]
    fn more_than_three_flashes_a_second() {
        assert_eq!(severities(&CHECK, &every(10.0), &pulsing(100, 8)), [Caution]);
        let findings = found(&CHECK, &every(10.0), &pulsing(100, 9));
        assert_eq!((findings.len(), findings[0].severity), (1, Note));
        assert!(findings[0].message.contains("no certificate"), "{}", findings[0].message);
    }

    /// Six changes within a second pass, seven do not.
    #[test]
    fn exactly_at_the_limit() {
        let flashes = |n: usize| {
            let show = move |k: usize| if k < n && k % 2 == 1 { 1.0 } else { 0.0 };
            Sketch::steady(60, 10.0).shows(show).evidence()
        };
        assert_eq!(severities(&CHECK, &every(10.0), &flashes(6)), [Note]);
        assert_eq!(severities(&CHECK, &every(10.0), &flashes(8)), [Caution]);
    }

    #[test]
    fn small_steps_are_no_flashes() {
        let evidence = Sketch::steady(100, 10.0).shows(|k| if k % 2 == 0 { 0.6 } else { 0.0 }).evidence();
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Note], "0.093 of luminance");
    }

    #[test]
    fn cannot_judge_by_fewer_pictures_than_a_flash_takes() {
        for frames in [1, 2] {
            let why = cannot(&CHECK, &every(10.0), &pulsing(frames, 2));
            assert!(why.contains(&format!("{frames} could be looked at")), "{why}");
        }
        assert_eq!(severities(&CHECK, &every(10.0), &pulsing(3, 2)), [Note]);
    }

    #[test]
    fn cannot_judge_without_pictures() {
        assert!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("not read"));
    }
}
