//! The battery's hours against the run.

use crate::checks::common::{PRACTICE, beside, count, not_above, not_of_the_run, number, opinion};
use crate::checks::whole::whole;
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::finding::{Direction, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits};
use crate::plan::power::{COLDEST_C, Hours};
use crate::plan::{Plan, levels, run_planned_s};
use crate::units::{Figure, duration};

const TEXT: Text = Text {
    id: "power-margin",
    finds: "a battery that is nearly spent",
    asks: "Does the battery last as long as the run?",
    why: "A battery that gives out at three in the morning ends the run, and in the cold it gives out hours \
          before its label says.",
    how: "The length of the run, planned or shot, whichever is longer, is compared with the plan's battery \
          hours. The cold shortens those: full hours from 20 °C on, 75 % at 0 °C, 50 % at −10 °C, 25 % at \
          −20 °C, and straight lines between. Where the plan gives a range of hours, the shorter end counts. \
          It is a fault where even the longer end is too short. If the run came to its end all the same, \
          this is only a note.",
    blind: "The battery's age and charge, the load of the motor, and a camera on a battery of its own: the \
            hours are the plan's word. A battery kept warm loses less than the air temperature says.",
    remedy: "Use external power, or change the battery before the hours are up. Keep spare batteries warm, \
             on the body. Charge and dispose of them as their maker says, and leave mains and vehicle wiring \
             to people licensed for it.",
    source: "Planning factors for alkaline and lithium cells in the cold: common practice, from memory; \
             published pages say about half between −20 and 0 °C, 20 to 50 % at −20 °C. Levels: common \
             practice, no source.",
    traits: Traits::PLAIN,
};

const USE: LimitKey = LimitKey::new("use");

const LIMITS: &[Limit] = &[Limit {
    key: USE,
    unit: "% of the battery's hours taken by the run",
    direction: Direction::Above,
    caution: Some(levels::POWER_TIGHT_PERCENT),
    fault: Some(levels::POWER_MOST_PERCENT),
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::PlannedBattery, Need::Answers], judge };

/// Length of the run by its first and last stamp, s, without what the camera's clock was set by.
fn shot_s(evidence: &Sequence) -> Option<f64> {
    evidence.lasted_s().filter(|s| *s >= 0.0)
}

/// Length of the run as planned, s; `None` where the plan does not tell, or tells one that rests between its
/// working hours.
fn planned_s(plan: &Plan) -> Option<f64> {
    let rests = !plan.active.is_empty();
    run_planned_s(plan).filter(|_| !rests)
}

fn judge(case: &Case<'_>) -> Opinion {
    let (plan, evidence) = (case.plan, case.evidence);
    let Some(hours) = Hours::of(&plan.rig) else {
        return Opinion::cannot("the plan names no battery hours");
    };
    let (shot, planned) = (shot_s(evidence), planned_s(plan));
    let Some(run_s) = shot.into_iter().chain(planned).reduce(f64::max) else {
        return Opinion::cannot("neither the plan nor the stamps give the length of the run");
    };
    let counted_s = hours.counted_h() * 3600.0;
    let percent = 100.0 * run_s / counted_s;
    // One frame short is as good as whole; without a plan the run's end is nobody's promise.
    let last = evidence.in_run().last().unwrap_or(0);
    let interval_s = case.schedule.interval_s(last).unwrap_or(0.0);
    let held = whole(case)
        || match planned {
            Some(planned) => shot.is_some_and(|shot| shot >= planned - 1.5 * interval_s),
            // Working hours: the frames tell.
            None => case
                .schedule
                .slots_asked()
                .is_none_or(|asked| evidence.timing.slot_count.is_some_and(|slots| slots + 1 >= asked)),
        };
    let finding = case.limits.weigh(USE, not_above(percent)).map(|(weight, level)| {
        let may_last = hours.most_h.is_some_and(|most| run_s <= most * 3600.0);
        let weight = if may_last { weight.min(Severity::Caution) } else { weight };
        let severity = if held { Severity::Note } else { weight };
        told(plan, &hours, run_s, shot, held, severity)
            .figure("use_percent", beside(percent, Some(level)))
            .figure("run_h", number(run_s / 3600.0))
            .figure("counted_h", number(hours.counted_h()))
            .figure("rated_h", number(hours.rated_h))
            .figure("share_left_percent", number(100.0 * hours.share))
            .figure("temperature_c", plan.rig.temperature_c.map_or(Figure::Unknown, number))
            .figure("run_held", Figure::Flag(held))
            .figure("frames", count(evidence.in_run().count() as u64))
    });
    opinion(finding.into_iter().collect(), evidence, |at| not_of_the_run(evidence, at))
}

fn told(
    plan: &Plan,
    hours: &Hours,
    run_s: f64,
    shot: Option<f64>,
    held: bool,
    severity: Severity,
) -> Finding {
    let spoken = |h: f64| duration(h * 3600.0);
    let rated = spoken(hours.rated_h);
    let from = match (plan.rig.temperature_c, hours.most_h) {
        (Some(c), _) if hours.share < 1.0 => {
            let floor = if c < COLDEST_C { ", or less" } else { "" };
            format!(" ({rated} in the warm, {:.0} % left at {c:.0} °C{floor})", 100.0 * hours.share)
        }
        (_, Some(most)) => format!(" (a set of cells lasts {rated} to {})", spoken(most)),
        _ => String::new(),
    };
    let end = match shot {
        _ if held => "; it lasted all the same".to_owned(),
        Some(shot_s) if shot_s + 1.0 < run_s => format!("; the run ended after {}", duration(shot_s)),
        _ => String::new(),
    };
    let message = format!(
        "The run of {} takes {:.0} % of the {} that the battery can be counted on for{from}{end}.",
        duration(run_s),
        100.0 * run_s / (hours.counted_h() * 3600.0),
        spoken(hours.counted_h()),
    );
    Finding::new(TEXT.id, severity, message)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{Planned, RigPlan};

    /// Ten hours planned: 601 frames, a minute apart.
    fn ten_hours(rig: RigPlan) -> Plan {
        Plan { frames: Some(601), rig, ..every(60.0) }
    }

    fn hours(hours: f64) -> RigPlan {
        RigPlan { battery_hours: Some(hours), ..RigPlan::default() }
    }

    /// A run that ended after 5 h.
    fn ended() -> Sequence {
        Sketch::steady(301, 60.0).evidence()
    }

    #[test]
    fn quiet_at_the_limit_and_told_above() {
        for (h, severity) in
            [(20.0, vec![]), (12.5, vec![]), (12.4, vec![Caution]), (10.0, vec![Caution]), (9.9, vec![Fault])]
        {
            assert_eq!(severities(&CHECK, &ten_hours(hours(h)), &ended()), severity, "{h}");
        }
    }

    /// Three quarters are left at 0 °C: 13.3 h become 10 h.
    #[test]
    fn the_cold_derates() {
        let cold = |c| RigPlan { temperature_c: Some(c), ..hours(13.3) };
        assert!(found(&CHECK, &ten_hours(cold(20.0)), &ended()).is_empty());
        let findings = found(&CHECK, &ten_hours(cold(0.0)), &ended());
        assert_eq!(findings[0].severity, Fault);
        for words in ["75 % left at 0 °C", "the run ended after 5 h"] {
            assert!(findings[0].message.contains(words), "{}", findings[0].message);
        }
        assert!(found(&CHECK, &ten_hours(cold(-30.0)), &ended())[0].message.contains("or less"));
    }

    #[test]
    fn a_set_of_cells_may_last() {
        let cells = |low, high| {
            ten_hours(RigPlan { hours_range: Some(Planned::Between(low, high)), ..RigPlan::default() })
        };
        assert_eq!(severities(&CHECK, &cells(4.0, 10.0), &ended()), [Caution]);
        assert_eq!(severities(&CHECK, &cells(4.0, 9.9), &ended()), [Fault]);
        assert!(found(&CHECK, &cells(4.0, 10.0), &ended())[0].message.contains("4 h to 10 h"));
    }

    #[test]
    fn a_run_that_came_to_its_end_is_a_note() {
        let whole = Sketch::steady(601, 60.0).evidence();
        assert_eq!(severities(&CHECK, &ten_hours(hours(8.0)), &whole), [Note]);
        // Without a length in the plan nobody knows whether it was to go on.
        let open = Plan { frames: None, ..ten_hours(hours(8.0)) };
        assert_eq!(severities(&CHECK, &open, &whole), [Note]);
    }

    /// A site camera from 04:00 to 16:00, every minute: of two days planned, half a day was shot.
    #[test]
    fn working_hours_are_held_by_their_frames() {
        let active = vec![crate::plan::DailyHours { from_s: 4 * 3600, to_s: 16 * 3600 }];
        let site = |frames| Plan { active: active.clone(), frames: Some(frames), ..ten_hours(hours(4.0)) };
        for (frames, severity) in [(301, Note), (302, Note), (303, Fault), (1440, Fault)] {
            assert_eq!(severities(&CHECK, &site(frames), &ended()), [severity], "{frames}");
        }
    }

    #[test]
    fn cannot_judge_without_hours_or_a_length() {
        assert!(cannot(&CHECK, &ten_hours(RigPlan::default()), &ended()).contains("battery"));
        let mut dark = Sketch::steady(3, 60.0);
        dark.rows.iter_mut().for_each(|row| row.stamp = crate::evidence::Cell::Blank);
        let plan = Plan { rig: hours(8.0), ..Plan::default() };
        assert!(cannot(&CHECK, &plan, &dark.loose("no stamps").evidence()).contains("length of the run"));
    }
}
