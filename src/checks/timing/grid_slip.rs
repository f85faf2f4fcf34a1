//! Pauses after which the grid comes back on another phase.

use crate::checks::common::{
    PRACTICE, beside, clock_of, drawn_together, number, off_the_grid, opinion, shots_beside, told_apart,
};
use crate::checks::{Case, Check, Need};
use crate::evidence::timing::{Join, JoinKind};
use crate::finding::{
    ClipEffect, Direction, Doubt, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::units::{counted, counted_as, duration};

const TEXT: Text = Text {
    id: "grid-slip",
    finds: "a pause of the timer",
    asks: "Did the timer fire without a pause?",
    why: "A timer that stops and starts again leaves a jump in the clip that no single missing frame \
          explains. The frames after it no longer match a second camera or the rig.",
    how: "A new stretch begins where no steady timer fits the stamps any more. Where the gap to it is longer \
          than the interval before and the one after, by more than clock rounding allows, the timer stood. \
          The pause is what lies beyond one interval. It is reported whatever the interval is afterwards.",
    blind: "A pause of a whole number of slots: it looks like missing frames and is reported as such. A \
            pause smaller than the stamps' resolution.",
    remedy: "Ask what stopped the timer at that moment: a battery or card change, a full buffer, a hand on \
             the camera. Use the longest stretch, or shoot again.",
    source: "Maximal guaranteed segmentation of the stamps' windows (O'Rourke 1981). Levels: common \
             practice, no source.",
    traits: Traits {
        in_the_clip: ClipEffect::Pauses,
        own_lane: true,
        in_the_course: true,
        quality: Some(Quality::Interval),
        ..Traits::PLAIN
    },
};

const PAUSE: LimitKey = LimitKey::new("pause");

const LIMITS: &[Limit] = &[Limit {
    key: PAUSE,
    unit: "slots of pause",
    direction: Direction::Above,
    caution: Some(0.0),
    fault: Some(10.0),
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps, Need::Grid], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let findings = evidence.timing.joins.iter().filter_map(|join| told(case, join));
    let findings =
        drawn_together(findings, |many| format!("The timer stood {many} times, and came back off its grid."));
    opinion(findings, evidence, |at| off_the_grid(evidence, at))
}

fn told(case: &Case<'_>, join: &Join) -> Option<Finding> {
    let stop = Stop { case, join };
    let finding = match &join.kind {
        JoinKind::Slip { pause_s, slots } => stop.off_the_grid(*pause_s, *slots),
        JoinKind::Rate { from_s, to_s, pause_s: Some(pause_s), .. } => {
            stop.at_another_interval(*from_s, *to_s, *pause_s)
        }
        JoinKind::ClockStep { step_s, stood_s: Some(stood_s), .. } => {
            stop.where_the_clock_was_put(*step_s, *stood_s)
        }
        _ => return None,
    };
    Some(apart(finding, join))
}

/// A place where the timer stood.
struct Stop<'a> {
    case: &'a Case<'a>,
    join: &'a Join,
}

impl Stop<'_> {
    /// The timer came back on another phase of its grid.
    fn off_the_grid(&self, pause_s: f64, slots: f64) -> Finding {
        let what = if pause_s < 0.0 { "came early by" } else { "stood for" };
        let (severity, limit) = self.weighed(slots.abs(), self.is_planned());
        let (length, many, between, purpose) =
            (duration(pause_s.abs()), slots.abs(), self.between(), self.purpose());
        let message = match self.case.evidence.timing.missing_instead(self.join) {
            Some(missing) => format!(
                "Between {} the timer stood for {length} ({many:.1} slots), or {}: the stamps fit \
                 both{purpose}.",
                self.frames(),
                counted_as(missing, "frame is missing", "frames are missing"),
            ),
            None => format!(
                "The timer {what} {length} ({many:.1} slots) {between}, and went on off its grid{purpose}."
            ),
        };
        let doubt = self.join.or_missing.map(|missing| {
            let rival = match missing {
                0 => "needs no pause there".to_owned(),
                n => format!("has {} missing there instead", counted(n, "slot")),
            };
            let words =
                format!("The clock is too coarse to be sure: it fits its stamps about as well that {rival}.");
            Doubt { words, count_low: 0, count_high: slots.abs().round() as u64 }
        });
        Finding { doubt, ..self.finding(severity, message) }
            .figure("pause_s", number(pause_s))
            .figure("pause_slots", beside(slots, limit))
            .count(slots.abs().round() as u64)
    }

    /// The timer went on at another interval. That one is another check's; here the stop is told, by the
    /// timer that counts fewer slots in it.
    fn at_another_interval(&self, from_s: f64, to_s: f64, pause_s: f64) -> Finding {
        let (before_slots, after_slots) = (pause_s / from_s, pause_s / to_s);
        let slots = before_slots.min(after_slots);
        let (severity, limit) = self.weighed(slots, self.is_planned());
        let message = format!(
            "The timer stood for {} ({before_slots:.1} slots of {}, {after_slots:.1} of {}) {}, and went on \
             at another interval{}.",
            duration(pause_s),
            told_apart(from_s, to_s),
            told_apart(to_s, from_s),
            self.between(),
            self.purpose(),
        );
        self.finding(severity, message)
            .figure("pause_s", number(pause_s))
            .figure("pause_slots", beside(slots, limit))
            .figure("interval_before_s", number(from_s))
            .figure("interval_after_s", number(to_s))
            .count(slots.round() as u64)
    }

    /// Somebody put the clock in the pause.
    fn where_the_clock_was_put(&self, step_s: f64, stood_s: f64) -> Finding {
        let stretches = &self.case.evidence.timing.stretches;
        let stretch = stretches.iter().rev().find(|s| s.first <= self.join.before);
        let slots = stretch.map_or(f64::NAN, |s| stood_s / s.interval_s);
        let (severity, limit) = self.weighed(slots, false);
        let message = format!(
            "The timer stood for {} ({slots:.1} slots) {}, and the camera's clock was put {} by {} there.",
            duration(stood_s),
            self.between(),
            if step_s < 0.0 { "back" } else { "forward" },
            duration(step_s.abs()),
        );
        self.finding(severity, message)
            .figure("pause_s", number(stood_s))
            .figure("pause_slots", beside(slots, limit))
            .figure("step_s", number(step_s))
            .count(slots.round() as u64)
    }

    /// Severity and limit of a pause; on purpose it is a note.
    fn weighed(&self, slots: f64, on_purpose: bool) -> (Severity, Option<f64>) {
        let weighed = self.case.limits.weigh(PAUSE, slots);
        let severity = weighed.filter(|_| !on_purpose).map_or(Severity::Note, |w| w.0);
        (severity, weighed.map(|w| w.1))
    }

    fn is_planned(&self) -> bool {
        self.case.schedule.begins_between(self.join.before, self.join.after)
    }

    fn purpose(&self) -> &'static str {
        if self.is_planned() { ", where the plan begins a new part" } else { "" }
    }

    fn frames(&self) -> String {
        let evidence = self.case.evidence;
        let (before, after) = (evidence.frame(self.join.before), evidence.frame(self.join.after));
        format!("{}{} and {}", before.name(), clock_of(evidence, self.join.before), after.name())
    }

    fn between(&self) -> String {
        format!("between {}", self.frames())
    }

    fn finding(&self, severity: Severity, message: String) -> Finding {
        Finding::new(TEXT.id, severity, message)
            .between(self.join.before, self.join.after)
            .at(self.case.evidence.frame(self.join.before).moment())
            .figure("gap_s", number(self.join.gap_s))
    }
}

/// Where what lies between the stop and an end of the run may be shots of their own, that is said and wants a
/// look at most.
fn apart(finding: Finding, join: &Join) -> Finding {
    let Some(frames) = join.shots_beyond else { return finding };
    let (severity, most) = (finding.severity.min(Severity::Caution), finding.count);
    let words = format!("{} Then the timer did not stand.", shots_beside(frames));
    Finding { severity, ..finding }.or_beside(words, most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, slip};
    use crate::evidence::Sequence;
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{ExposurePlan, Part, PartStart, Plan};

    fn paused(pause_s: f64, slots: f64) -> Sequence {
        let mut sketch = Sketch::steady(100, 10.0);
        sketch.joins = vec![slip(59, pause_s, slots)];
        sketch.evidence()
    }

    #[test]
    fn stays_quiet_on_one_stretch() {
        assert!(found(&CHECK, &every(10.0), &Sketch::steady(100, 10.0).evidence()).is_empty());
    }

    #[test]
    fn any_is_a_caution_and_more_than_ten_slots_a_fault() {
        for (slots, severity) in [(0.3, Caution), (9.9, Caution), (10.0, Caution), (10.1, Fault)] {
            assert_eq!(severities(&CHECK, &every(10.0), &paused(slots * 10.0, slots)), [severity], "{slots}");
        }
        let findings = found(&CHECK, &every(10.0), &paused(24.5, 2.45));
        assert_eq!((findings[0].first, findings[0].last), (Some(59), Some(60)));
        assert!(
            findings[0].message.contains("stood for 24.5 s (2.5 slots)")
                || findings[0].message.contains("(2.4 slots)")
        );
    }

    #[test]
    fn a_rival_that_needs_no_pause_is_named() {
        let mut evidence = paused(24.5, 2.45);
        assert!(found(&CHECK, &every(10.0), &evidence)[0].doubt.is_none());
        evidence.timing.joins[0].or_missing = Some(2);
        let findings = found(&CHECK, &every(10.0), &evidence);
        let doubt = findings[0].doubt.as_ref().expect("doubt");
        assert!(doubt.words.contains("has 2 slots missing there instead"), "{}", doubt.words);
        assert_eq!((doubt.count_low, doubt.count_high), (0, 2));
    }

    #[test]
    fn where_a_part_begins_it_is_a_note() {
        let part = Part {
            from: PartStart::Frame(60),
            interval_s: None,
            exposure: ExposurePlan::default(),
            direction: None,
            note: Some("filter on".into()),
        };
        let plan = Plan { parts: vec![part], ..every(10.0) };
        assert_eq!(severities(&CHECK, &plan, &paused(200.0, 20.0)), [Note]);
    }

    #[test]
    fn cannot_judge_without_a_grid() {
        assert_eq!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).loose("loose").evidence()), "loose");
    }
}
