//! The longest part that can be used against the clip that is to be delivered.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, counted, delivery_frames, named, not_of_the_run, number, opinion,
};
use crate::checks::{Case, Check, Need, acceptance};
use crate::evidence::usable;
use crate::finding::{Direction, Finding, Judgement, Limit, Opinion, Severity, Text};
use crate::plan::levels;
use crate::units::duration;

const TEXT: Text = Text {
    id: "short-clip",
    asks: "Is the longest part that can be used as long as the clip?",
    why: "A run may be long enough on the whole and hold no unbroken part of the length that was sold.",
    how: "The longest part without a missing slot, a pause, a change of rate, a damaged frame or a fault in pace, exposure, settings or \
          the carriage's way that a viewer would see is turned into a clip at the delivery's frames a second and held against its length. A run that is whole \
          and was planned without spare is a note.",
    blind: "What can be mended in post: a patched frame joins two parts to one. Flicker and focus are not weighed here.",
    remedy: "Patch single missing frames from their neighbours, or agree a shorter clip or a slower rate. Where the rig still stands, shoot \
             on until the longest part is as long as the clip and a tenth more.",
    source: "Arithmetic of the delivery: frames over frames a second. Levels: common practice, no source.",
};

const LIMITS: &[Limit] = &[Limit {
    key: "spare",
    unit: "% of the delivery's length to spare in the longest usable part",
    direction: Direction::Below,
    caution: Some(levels::CLIP_SPARE_PERCENT),
    fault: Some(0.0),
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::PlannedClip], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let (plan, evidence) = (case.plan, case.evidence);
    let Some(asked) = delivery_frames(plan).filter(|n| *n > 0) else {
        return Opinion::cannot("the plan names no clip (fps and length)");
    };
    let findings = case.before.iter().flat_map(Judgement::findings);
    let breaks =
        findings.filter(|f| acceptance(plan, f, evidence).is_none()).flat_map(Finding::breaks).collect();
    let longest = usable::longest(plan, evidence, breaks);
    let frames = longest.map_or(0, |(_, frames)| frames);
    let percent = 100.0 * (frames as f64 - asked as f64) / asked as f64;
    let finding = case.limits.weigh("spare", percent).map(|(weight, level)| {
        // Every slot of the run, and as many as were planned: the plan left no more.
        let slots = evidence.timing.slot_count;
        let whole = slots == Some(frames) && plan.frames.is_none_or(|n| frames >= n);
        let severity = if whole { weight.min(Severity::Note) } else { weight };
        let severity = if weight == Severity::Fault { weight } else { severity };
        let fps = plan.delivery.fps.unwrap_or(f64::NAN);
        let (has, wants) =
            (duration(frames as f64 / fps), duration(plan.delivery.length_s.unwrap_or(f64::NAN)));
        let part = match longest {
            Some((span, _)) => format!(
                "The longest part that can be used, {}{},",
                named(evidence, span),
                clocks_of(evidence, span)
            ),
            None => "The part that can be used".to_owned(),
        };
        let spare = match frames.checked_sub(asked) {
            None => format!("{} short of the {wants} asked", counted(asked - frames, "frame")),
            Some(0) => format!("just the {wants} asked, with no frame to spare"),
            Some(more) => format!("{} more than the {wants} asked", counted(more, "frame")),
        };
        let as_planned =
            if whole && severity == Severity::Note { "; the run is whole and was planned so" } else { "" };
        let message = format!("{part} is {}, {has} of clip: {spare}{as_planned}.", counted(frames, "frame"));
        let finding = Finding::new(TEXT.id, severity, message)
            .count(frames)
            .figure("spare_percent", beside(percent, Some(level)))
            .figure("usable_frames", count(frames))
            .figure("delivery_frames", count(asked))
            .figure("usable_clip_s", number(frames as f64 / fps));
        match longest {
            Some((span, _)) => crate::checks::common::over(finding, span.first, span.last),
            None => finding,
        }
    });
    opinion(finding.into_iter().collect(), evidence, |at| not_of_the_run(evidence, at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::judge_all;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::evidence::Cell;
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{Accepted, DeliveryPlan, Plan};

    /// 4 s at 25 fps: 100 frames.
    fn four_seconds() -> Plan {
        Plan { delivery: DeliveryPlan { fps: Some(25.0), length_s: Some(4.0) }, ..every(10.0) }
    }

    /// A hole after slot `n − 1` leaves a part of n frames, and a shorter one behind it.
    fn broken(n: i64) -> crate::evidence::Evidence {
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
            findings[0].message.contains("70 frames, 2.8 s of clip: 30 frames short of the 4 s asked"),
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
            let all = judge_all(plan, &evidence);
            all.iter().find(|j| j.text.id == TEXT.id).map(|j| j.findings().to_vec()).expect("its answer")
        };
        let findings = of(&four_seconds());
        assert_eq!((findings[0].severity, findings[0].count), (Fault, 75));
        let agreed =
            Accepted { check: "settings-change".into(), at: None, file: None, reason: "agreed".into() };
        assert!(of(&Plan { accepted: vec![agreed], ..four_seconds() }).is_empty());
    }

    #[test]
    fn cannot_judge_without_a_clip() {
        let evidence = Sketch::steady(10, 10.0).evidence();
        assert!(cannot(&CHECK, &every(10.0), &evidence).contains("clip"));
        let half = Plan { delivery: DeliveryPlan { fps: Some(25.0), length_s: None }, ..every(10.0) };
        assert!(cannot(&CHECK, &half, &evidence).contains("clip"));
    }
}
