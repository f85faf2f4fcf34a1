//! The longest usable part against the clip that is to be delivered.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, named, not_of_the_run, number, opinion, over,
};
use crate::checks::whole::length_agreed;
use crate::checks::{Case, Check, Need};
use crate::finding::{
    Direction, Finding, InTheClip, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::plan::levels;
use crate::schedule::clip::{Course, Part, Seams, patch_words};
use crate::units::{counted, duration};

const TEXT: Text = Text {
    id: "short-clip",
    finds: "a clip that is too short",
    asks: "Is the longest usable part as long as the clip?",
    why: "A run may be long enough on the whole and still have no unbroken part of the length that was sold.",
    how: "The longest part must have no pause, no change of rate, and no fault in pace, exposure, settings \
          or travel that a viewer would see. It is turned into a clip at the delivery's frames a second and \
          compared with its length. A hole of up to patch_up_to slots ([delivery], else 1) is patched and \
          counts, where the next hole is a second of clip away. Any other hole ends the part. A damaged \
          frame is a hole. Agreed exceptions count as good. If the run is complete and was planned without \
          spare, this is only a note.",
    blind: "How well a patch looks: water and people betray a made-up frame sooner than clouds. Flicker and \
            focus do not count here.",
    remedy: "Agree a shorter clip or a slower rate. If you can fill longer holes in post, say so in the plan \
             (patch_up_to). Where the camera still stands, shoot on until the longest part is as long as the \
             clip and a tenth more.",
    source: "Arithmetic of the delivery: frames over frames a second. Levels: common practice, no source.",
    traits: Traits { in_the_course: true, quality: Some(Quality::Clip), ..Traits::PLAIN },
};

const SPARE: LimitKey = LimitKey::new("spare");

const LIMITS: &[Limit] = &[Limit {
    key: SPARE,
    unit: "% longer than ordered, in the longest usable part",
    direction: Direction::Below,
    caution: Some(levels::CLIP_SPARE_PERCENT),
    fault: Some(0.0),
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::PlannedClip, Need::Answers], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let (plan, evidence) = (case.plan, case.evidence);
    let Some(asked) = plan.delivery.clip_frames() else {
        return Opinion::cannot("the plan names no clip (fps and length)");
    };
    let InTheClip { breaks, holes, damaged, pauses, rates } = InTheClip::of(case.answers);
    let seams = Seams { breaks, holes, damaged, pauses, rates };
    let longest = Course::of(case.schedule, evidence, seams).longest();
    let frames = longest.as_ref().map_or(0, Part::clip_frames);
    let percent = 100.0 * (frames as f64 - asked as f64) / asked as f64;
    let finding = case.limits.weigh(SPARE, percent).map(|(weight, level)| {
        let slots = evidence.timing.slot_count;
        let every_slot = slots == Some(frames);
        // A length that was agreed to is as long as it has to be.
        let length_agreed = every_slot && length_agreed(case);
        // Every slot of the run, and as many as were planned: the plan left no more.
        let as_planned = every_slot && plan.frames.is_none_or(|n| frames >= n) && weight < Severity::Fault;
        let severity = if as_planned || length_agreed { Severity::Note } else { weight };
        let clip_s = plan.delivery.clip_s(frames).unwrap_or(f64::NAN);
        let (has, wants) = (duration(clip_s), duration(plan.delivery.length_s.unwrap_or(f64::NAN)));
        let part = match &longest {
            Some(Part { span, .. }) => {
                format!("The longest usable part, {}{},", named(evidence, *span), clocks_of(evidence, *span))
            }
            None => "The usable part".to_owned(),
        };
        let spare = match frames.checked_sub(asked) {
            None => format!("{} short of the {wants} ordered", counted(asked - frames, "frame")),
            Some(0) => format!("exactly the {wants} ordered, with no frame to spare"),
            Some(more) => format!("{} more than the {wants} ordered", counted(more, "frame")),
        };
        let patches = longest.as_ref().map_or_else(String::new, |part| patch_words(&part.patches));
        let with = if patches.is_empty() { String::new() } else { format!(" with {patches}") };
        let why = match (length_agreed, as_planned) {
            (true, _) => "; the run's length is an agreed exception",
            (_, true) if patches.is_empty() => "; the run is complete, and was planned without spare",
            (_, true) => "; it was planned without spare",
            _ => "",
        };
        let message = format!("{part} is {}{with}, {has} of clip: {spare}{why}.", counted(frames, "frame"));
        let patched = longest.as_ref().map_or(0, |part| part.patches.len() as u64);
        let finding = Finding::new(TEXT.id, severity, message)
            .count(frames)
            .figure("spare_percent", beside(percent, Some(level)))
            .figure("usable_frames", count(frames))
            .figure("delivery_frames", count(asked))
            .figure("usable_clip_s", number(clip_s))
            .figure("patches", count(patched));
        match &longest {
            Some(Part { span, .. }) => over(finding, span.first, span.last),
            None => finding,
        }
    });
    opinion(finding.into_iter().collect(), evidence, |at| not_of_the_run(evidence, at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::judge_all;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, slip};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{Accepted, DeliveryPlan, Plan};
    use crate::schedule::Schedule;

    /// 4 s at 25 fps: 100 frames.
    fn four_seconds() -> Plan {
        Plan {
            delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(4.0), ..DeliveryPlan::default() },
            ..every(10.0)
        }
    }

    /// A hole after slot `n − 1` leaves a part of n frames, and a shorter one behind it.
    fn broken(n: i64) -> crate::evidence::Sequence {
        Sketch::steady(200, 10.0).without(&(n..200 - n / 2).collect::<Vec<_>>(), false).evidence()
    }

    #[test]
    fn exactly_at_the_limits() {
        for (n, severity) in
            [(120, vec![]), (110, vec![]), (109, vec![Caution]), (100, vec![Caution]), (99, vec![Fault])]
        {
            assert_eq!(severities(&CHECK, &four_seconds(), &broken(n)), severity, "{n}");
        }
        let findings = found(&CHECK, &four_seconds(), &broken(70));
        assert!(
            findings[0].message.contains("70 frames, 2.8 s of clip: 30 frames short of the 4 s ordered"),
            "{}",
            findings[0].message
        );
        assert!(found(&CHECK, &four_seconds(), &broken(100))[0].message.contains("no frame to spare"));
    }

    #[test]
    fn a_whole_run_planned_without_spare_is_a_note() {
        let plan = Plan { frames: Some(104), ..four_seconds() };
        assert_eq!(severities(&CHECK, &plan, &Sketch::steady(104, 10.0).evidence()), [Note]);
        // Planned longer, and ended early: no longer what was planned.
        let plan = Plan { frames: Some(150), ..four_seconds() };
        assert_eq!(severities(&CHECK, &plan, &Sketch::steady(104, 10.0).evidence()), [Caution]);
        assert_eq!(severities(&CHECK, &four_seconds(), &Sketch::steady(99, 10.0).evidence()), [Fault]);
    }

    /// A change of picture size in the middle: the clip cannot run across it, unless it was agreed to.
    #[test]
    fn a_fault_that_a_viewer_would_see_breaks_it() {
        let evidence =
            Sketch::steady(150, 10.0).change(75..150, |row| row.size = Cell::Known((3000, 2000))).evidence();
        let of = |plan: &Plan| {
            let all = judge_all(plan, &evidence, &Schedule::of(plan, &evidence));
            all.iter().find(|j| j.text.id == TEXT.id).map(|j| j.findings().to_vec()).expect("its answer")
        };
        let findings = of(&four_seconds());
        assert_eq!((findings[0].severity, findings[0].count), (Fault, 75));
        let agreed = Accepted {
            check: "settings-change".into(),
            at: None,
            file: None,
            count: None,
            reason: "agreed".into(),
        };
        assert!(of(&Plan { accepted: vec![agreed], ..four_seconds() }).is_empty());
    }

    /// One frame of 480 missing, 300 asked: with a patch the clip is long enough; without patches it falls
    /// short.
    #[test]
    fn a_patch_joins_two_parts() {
        let asked = |patch_up_to, frames: f64| Plan {
            delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(frames / 25.0), patch_up_to },
            ..every(10.0)
        };
        let evidence = Sketch::steady(480, 10.0).without(&[240], false).evidence();
        assert!(found(&CHECK, &asked(None, 300.0), &evidence).is_empty());
        assert_eq!(severities(&CHECK, &asked(Some(0), 300.0), &evidence), [Fault]);
        let findings = found(&CHECK, &asked(None, 500.0), &evidence);
        let said = &findings[0].message;
        assert!(said.contains("is 480 frames with 1 patch, 19.2 s of clip: 20 frames short"), "{said}");
        // As many as were planned, one of them to patch: missing-slot speaks of it.
        let plan = Plan { frames: Some(480), ..asked(None, 480.0) };
        assert_eq!(severities(&CHECK, &plan, &evidence), [Note]);
    }

    /// An accepted hole is taken as good; so is a length that was agreed to.
    #[test]
    fn what_was_agreed_to_is_taken_as_good() {
        let of = |plan: &Plan, evidence: &crate::evidence::Sequence| {
            let all = judge_all(plan, evidence, &Schedule::of(plan, evidence));
            let mine = all.iter().find(|j| j.text.id == TEXT.id).expect("its answer");
            mine.findings().iter().map(|f| f.severity).collect::<Vec<_>>()
        };
        let agreed = |check: &str| {
            let (at, file, reason) = (None, None, "agreed".to_owned());
            Accepted { check: check.into(), at, file, count: None, reason }
        };
        let evidence = Sketch::steady(150, 10.0).without(&[70, 71, 72], false).evidence();
        assert_eq!(of(&four_seconds(), &evidence), [Fault]);
        let plan = Plan { accepted: vec![agreed("missing-slot")], ..four_seconds() };
        assert!(of(&plan, &evidence).is_empty());
        // Another check's finding excuses no hole.
        let plan = Plan { accepted: vec![agreed("number-gap")], ..four_seconds() };
        assert_eq!(of(&plan, &evidence), [Fault]);
        // A pause that was agreed to is none.
        let mut stood = Sketch::steady(150, 10.0);
        stood.joins = vec![slip(70, 40.0, 4.0)];
        let evidence = stood.evidence();
        assert_eq!(of(&four_seconds(), &evidence), [Fault]);
        assert!(of(&Plan { accepted: vec![agreed("grid-slip")], ..four_seconds() }, &evidence).is_empty());
        let evidence = Sketch::steady(80, 10.0).evidence();
        let plan = Plan { frames: Some(120), ..four_seconds() };
        assert_eq!(of(&plan, &evidence), [Fault]);
        assert_eq!(of(&Plan { accepted: vec![agreed("short-run")], ..plan.clone() }, &evidence), [Note]);
        let broken = Sketch::steady(80, 10.0).without(&[40, 41], false).evidence();
        assert_eq!(of(&Plan { accepted: vec![agreed("short-run")], ..plan }, &broken), [Fault]);
    }

    #[test]
    fn cannot_judge_without_a_clip() {
        let evidence = Sketch::steady(10, 10.0).evidence();
        assert!(cannot(&CHECK, &every(10.0), &evidence).contains("clip"));
        let half = Plan {
            delivery: DeliveryPlan { fps: Some(25.0), length_s: None, ..DeliveryPlan::default() },
            ..every(10.0)
        };
        assert!(cannot(&CHECK, &half, &evidence).contains("clip"));
    }
}
