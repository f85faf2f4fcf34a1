//! The length of the run against the plan's.

use crate::checks::common::{
    HANDFUL, PRACTICE, beside, clock_of, count, not_of_the_run, number, opinion, over,
};
use crate::checks::{Case, Check, Need};
use crate::evidence::{Outside, Sequence};
use crate::finding::{
    Cause, CauseCode, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::plan::{PartStart, Plan};
use crate::schedule::on_clock;
use crate::units::{Figure, counted, duration, shown};

const TEXT: Text = Text {
    id: "short-run",
    finds: "a run that is too short",
    asks: "Is the run as long as planned?",
    why: "A run that stopped early, or began late, may not fill the clip, and no work in post brings back \
          what was not shot.",
    how: "The slots from the first frame of the run to the last are compared with the frames planned. They \
          are also compared with those that the clip takes (frames a second times length). Slots missing in \
          between are counted as shot here: they belong to missing-slot.",
    blind: "Frames at the ends that were shot and are not in this folder look like a run that was short.",
    remedy: "If the camera still stands, shoot on. Otherwise look for the rest on the other card, then for \
             what stopped the camera: battery, card, a limit on the number of frames set in the timer.",
    source: "Arithmetic of the plan. Levels: common practice, no source.",
    traits: Traits { in_the_course: true, quality: Some(Quality::Run), ..Traits::PLAIN },
};

const FRAMES: LimitKey = LimitKey::new("frames");
const LENGTH: LimitKey = LimitKey::new("length");
const SHARE: LimitKey = LimitKey::new("share");
const ENDS: LimitKey = LimitKey::new("ends");
const DELIVERY: LimitKey = LimitKey::new("delivery");

const LIMITS: &[Limit] = &[
    Limit {
        key: FRAMES,
        unit: "frames short of a planned count",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    // A timer that is set to a length may fire at its end or not.
    Limit {
        key: LENGTH,
        unit: "frames short of a planned length",
        direction: Direction::Above,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: SHARE,
        unit: "% short of the plan, where no delivery is named",
        direction: Direction::Above,
        caution: None,
        fault: Some(5.0),
        source: PRACTICE,
    },
    Limit {
        key: ENDS,
        unit: "files named by the plan and not found",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: DELIVERY,
        unit: "frames short of the delivery's length",
        direction: Direction::Above,
        caution: None,
        fault: Some(0.0),
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::PlannedLength], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let shot = case.schedule.slots_shot(evidence);
    let (asked, delivery) = (case.schedule.slots_asked(), case.plan.delivery.clip_frames());
    let short_of = |wanted: Option<u64>| wanted.map(|w| w.saturating_sub(shot));
    let short = short_of(asked).unwrap_or(0);
    let clip_short = short_of(delivery);
    let share = asked.map_or(0.0, |a| 100.0 * short as f64 / a.max(1) as f64);
    let weights = [
        case.limits.weigh(limit_of(case.plan), short as f64),
        if delivery.is_none() { case.limits.weigh(SHARE, share) } else { None },
        clip_short.and_then(|short| case.limits.weigh(DELIVERY, short as f64)),
    ];
    let mut findings: Vec<_> = ends_not_found(case).into_iter().collect();
    if asked.is_none() && delivery.is_none() && findings.is_empty() {
        return Opinion::cannot(match case.plan.run_s {
            None => "the plan names no length: no frames, no run and no clip (fps and length)",
            Some(_) => {
                "how many frames the plan's run holds does not follow from its parts or its exposure; name \
                 frames"
            }
        });
    }
    let weight = weights.iter().flatten().map(|(s, _)| *s).max();
    // One slot less than a length is let pass, unless frames beside the run could be those that lack.
    let made_up = (short > 0 && by_hand(evidence) >= short).then_some(Severity::Caution);
    if let Some(severity) = weight.max(made_up) {
        let run = evidence.in_run().next().zip(evidence.in_run().last());
        findings.push(told(case, severity, run, shot));
    }
    opinion(findings, evidence, |at| not_of_the_run(evidence, at))
}

/// The limit that a run is compared with: a planned count is met to the frame, a planned length may be one
/// off.
fn limit_of(plan: &Plan) -> LimitKey {
    if plan.frames.is_some() { FRAMES } else { LENGTH }
}

/// Frames just before or behind the run that are none of it: a handful, as are shot by hand.
fn by_hand(evidence: &Sequence) -> u64 {
    let ends = evidence.in_run().next().zip(evidence.in_run().last());
    let near = |o: &&Outside| {
        ends.is_some_and(|(first, last)| o.span.last + 1 == first || o.span.first == last + 1)
            && o.span.last - o.span.first < HANDFUL
    };
    evidence.outside.iter().filter(near).map(|o| (o.span.last - o.span.first + 1) as u64).sum()
}

/// The files that the plan names and no frame of the folder bears: the ends of the run, and where parts
/// begin.
fn ends_not_found(case: &Case<'_>) -> Option<Finding> {
    let (evidence, plan) = (case.evidence, case.plan);
    let there = |name: &str| evidence.all().any(|frame| frame.bears(name));
    let ends = [("The plan's first frame", &plan.first), ("The plan's last frame", &plan.last)];
    let ends = ends.into_iter().filter_map(|(which, name)| Some((which, name.as_deref()?)));
    let parts = plan.parts.iter().filter_map(|part| match &part.from {
        PartStart::File(name) => Some(("The first frame of a [[part]]", name.as_str())),
        PartStart::Frame(_) | PartStart::Moment(_) => None,
    });
    let gone: Vec<_> = ends.chain(parts).filter(|(_, name)| !there(name)).collect();
    let (severity, level) = case.limits.weigh(ENDS, gone.len() as f64)?;
    let told: Vec<_> = gone.iter().map(|(which, name)| format!("{which}, {},", shown(name))).collect();
    let message = match told.as_slice() {
        [one] => format!("{one} is not in this folder; the run is judged without it."),
        several => format!(
            "The plan names {} files that are not in this folder; the run is judged without them: {}",
            several.len(),
            several.join(" ").trim_end_matches(',').to_owned() + ".",
        ),
    };
    Some(
        Finding::new(TEXT.id, severity, message)
            .count(gone.len() as u64)
            .figure("names_not_found", beside(gone.len() as f64, Some(level))),
    )
}

fn told(case: &Case<'_>, severity: Severity, run: Option<(usize, usize)>, shot: u64) -> Finding {
    let (evidence, plan) = (case.evidence, case.plan);
    let (asked, delivery) = (case.schedule.slots_asked(), plan.delivery.clip_frames());
    // A clip is made of the frames that are there.
    let there = shot.saturating_sub(evidence.timing.holes.iter().map(|h| h.slots).sum());
    let mut words = match asked.filter(|a| *a > shot) {
        Some(asked) => {
            format!("The run is {} short: {shot} of the {asked} planned", counted(asked - shot, "frame"))
        }
        None => format!("The run has {}", counted(shot, "frame")),
    };
    if there < shot {
        words += &format!(", {} of them missing", shot - there);
    }
    if let Some((first, last)) = run {
        words += &format!(
            ", from {}{} to {}{}",
            evidence.frame(first).name(),
            clock_of(evidence, first),
            evidence.frame(last).name(),
            clock_of(evidence, last)
        );
    }
    let short = asked.map_or(0, |a| a.saturating_sub(shot));
    if short > 0 && by_hand(evidence) >= short {
        words += "; frames beside it, listed as not part of the run, could be the missing ones";
    }
    let clip_s = plan.delivery.clip_s(there);
    if let (Some(fps), Some(clip_s), Some(length_s)) = (plan.delivery.fps, clip_s, plan.delivery.length_s) {
        let clip = duration(clip_s);
        words +=
            &format!("; at {fps} frames a second that makes {clip} of the {} ordered", duration(length_s));
    }
    let mut finding = Finding::new(TEXT.id, severity, format!("{words}."))
        .count(asked.or(delivery).map_or(0, |a| a.saturating_sub(shot)))
        .figure("slots_shot", count(shot))
        .figure("slots_asked", asked.map_or(Figure::Unknown, count))
        .figure(
            "slots_short",
            asked.map_or(Figure::Unknown, |a| {
                beside(a.saturating_sub(shot) as f64, case.limits.get(limit_of(plan)).caution)
            }),
        )
        .figure("delivery_frames", delivery.map_or(Figure::Unknown, count));
    if let Some(clip_s) = clip_s {
        finding = finding.figure("clip_s", beside(clip_s, plan.delivery.length_s));
    }
    if let Some((first, last)) = run {
        finding = over(finding, first, last).at(evidence.frame(last).moment());
        if let Some((late_s, cause)) = late(plan, evidence, first) {
            finding = finding.figure("start_late_s", number(late_s));
            finding.cause = cause;
        }
    }
    finding
}

/// How long after the planned start the run began, s, and what that says of a short run.
fn late(plan: &Plan, evidence: &Sequence, first: usize) -> Option<(f64, Option<Cause>)> {
    let (start, stamp) = plan.start.zip(evidence.frame(first).stamp())?;
    let late_s = stamp.at.seconds_since(on_clock(start, stamp.offset_min));
    let interval_s = plan.interval_s?;
    // More than a day off is a clock that was never set, not a late start.
    let cause = if late_s >= interval_s && late_s < 86_400.0 {
        Some(Cause {
            code: CauseCode::new("started-late"),
            words: format!("the first frame came {} after the planned start", duration(late_s)),
        })
    } else if late_s.abs() < interval_s {
        Some(Cause {
            code: CauseCode::new("stopped-early"),
            words: "the run began on time and ended early".into(),
        })
    } else {
        None
    };
    Some((late_s, cause))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{START, Sketch, cannot, every, found, severities};
    use crate::finding::Severity::{Caution, Fault};
    use crate::plan::{DeliveryPlan, Moment};
    use crate::units::Micros;

    fn asks(frames: u64) -> Plan {
        Plan { frames: Some(frames), ..every(10.0) }
    }

    fn clip(plan: Plan, frames: f64) -> Plan {
        Plan {
            delivery: DeliveryPlan {
                fps: Some(25.0),
                length_s: Some(frames / 25.0),
                ..DeliveryPlan::default()
            },
            ..plan
        }
    }

    #[test]
    fn one_frame_short_of_a_count_is_a_caution() {
        let evidence = Sketch::steady(200, 10.0).evidence();
        for (frames, severity) in [(150, vec![]), (200, vec![]), (201, vec![Caution]), (202, vec![Caution])] {
            assert_eq!(severities(&CHECK, &asks(frames), &evidence), severity, "{frames}");
        }
    }

    /// A timer set to 2000 s at 10 s fires 201 times, or 200 times where its end is not counted.
    #[test]
    fn one_frame_short_of_a_length_is_quiet() {
        let plan = Plan { run_s: Some(2000.0), ..every(10.0) };
        for (shot, severity) in [(201, vec![]), (200, vec![]), (199, vec![Caution])] {
            assert_eq!(severities(&CHECK, &plan, &Sketch::steady(shot, 10.0).evidence()), severity, "{shot}");
        }
    }

    #[test]
    fn without_a_delivery_over_five_per_cent_is_a_fault() {
        for (shot, severity) in [(191, Caution), (190, Caution), (189, Fault)] {
            assert_eq!(
                severities(&CHECK, &asks(200), &Sketch::steady(shot, 10.0).evidence()),
                [severity],
                "{shot}"
            );
        }
    }

    #[test]
    fn with_a_delivery_its_length_decides() {
        let evidence = Sketch::steady(150, 10.0).evidence();
        for (frames, severity) in [(149.0, Caution), (150.0, Caution), (151.0, Fault)] {
            assert_eq!(severities(&CHECK, &clip(asks(200), frames), &evidence), [severity], "{frames}");
        }
        assert!(found(&CHECK, &clip(every(10.0), 150.0), &evidence).is_empty());
        let findings = found(&CHECK, &clip(every(10.0), 200.0), &evidence);
        assert_eq!((findings[0].severity, findings[0].count), (Fault, 50));
        assert!(findings[0].message.contains("that makes 6 s of the 8 s ordered"), "{}", findings[0].message);
    }

    #[test]
    fn a_run_in_time_asks_its_frames() {
        let plan = Plan { run_s: Some(2000.0), ..every(10.0) };
        assert!(found(&CHECK, &plan, &Sketch::steady(201, 10.0).evidence()).is_empty());
        assert_eq!(severities(&CHECK, &plan, &Sketch::steady(199, 10.0).evidence()), [Caution]);
    }

    #[test]
    fn missing_slots_inside_are_not_counted_twice() {
        let inside: Vec<_> = (50..90).collect();
        assert!(
            found(&CHECK, &asks(200), &Sketch::steady(200, 10.0).without(&inside, true).evidence())
                .is_empty()
        );
    }

    #[test]
    fn tells_a_late_start_from_an_early_end() {
        let begins = |later_s| Plan {
            start: Some(Moment { civil: START.plus(Micros::from_seconds(later_s)), offset_min: None }),
            ..asks(200)
        };
        let evidence = Sketch::steady(100, 10.0).evidence();
        for (later_s, code) in [(-600, "started-late"), (0, "stopped-early")] {
            let findings = found(&CHECK, &begins(later_s), &evidence);
            assert_eq!(findings[0].cause.as_ref().expect("a cause").code.name(), code);
        }
    }

    #[test]
    fn the_clip_is_made_of_the_frames_that_are_there() {
        let inside: Vec<_> = (50..90).collect();
        let evidence = Sketch::steady(150, 10.0).without(&inside, false).evidence();
        let findings = found(&CHECK, &clip(asks(200), 200.0), &evidence);
        let said = &findings[0].message;
        assert!(said.contains("50 frames short: 150 of the 200 planned, 40 of them missing"), "{said}");
        assert!(said.contains("that makes 4.4 s of the 8 s ordered"), "{said}");
        let clip_s = findings[0].evidence.iter().find(|(key, _)| *key == "clip_s");
        assert_eq!(clip_s.map(|(_, figure)| figure.clone()), Some(beside(4.4, Some(8.0))));
    }

    #[test]
    fn an_end_that_is_not_there_is_told() {
        let evidence = Sketch::steady(20, 10.0).evidence();
        let named = |first: &str, last: Option<&str>| Plan {
            first: Some(first.into()),
            last: last.map(str::to_owned),
            ..every(10.0)
        };
        let findings = found(&CHECK, &named("TIDE0900.JPG", None), &evidence);
        assert_eq!((findings[0].severity, findings[0].count), (Caution, 1));
        let said = &findings[0].message;
        assert!(said.starts_with("The plan's first frame, TIDE0900.JPG, is not in this folder"), "{said}");
        let both = found(&CHECK, &named("TIDE0900.JPG", Some("TIDE0990.JPG")), &evidence);
        assert_eq!(both[0].count, 2);
        assert!(
            cannot(&CHECK, &named("tide0003.jpg", Some("TIDE0018.JPG")), &evidence).contains("no length")
        );
        let part = crate::plan::Part {
            from: PartStart::File("TIDE0500.JPG".into()),
            interval_s: None,
            exposure: crate::plan::ExposurePlan::default(),
            direction: None,
            note: None,
        };
        let parted = found(&CHECK, &Plan { parts: vec![part], ..every(10.0) }, &evidence);
        assert!(parted[0].message.contains("[[part]], TIDE0500.JPG, is not"), "{}", parted[0].message);
        let long = Plan { frames: Some(20), ..named("TIDE0001.JPG", None) };
        assert!(found(&CHECK, &long, &evidence).is_empty());
    }

    #[test]
    fn cannot_judge_without_a_length() {
        assert!(
            cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("names no length")
        );
    }
}
