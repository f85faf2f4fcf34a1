//! Figures that nobody means: a slip of a unit, a time read otherwise than it was written, two values
//! swapped. All bounds are common practice; none is published.

use super::model::Known;
use crate::plan::Plan;
use crate::units::{duration, length_text, plain, speed_text};

/// More frames a second than this are film, s from frame to frame.
pub(super) const LEAST_INTERVAL_S: f64 = 0.05;

/// Longer than this nobody waits for the next frame, s: a month.
const MOST_INTERVAL_S: f64 = 31.0 * 86_400.0;

/// What is over sooner than this is filmed, s.
const LEAST_SPAN_S: f64 = 10.0;

/// Longest travel of a rig, m.
const MOST_TRAVEL_M: f64 = 1000.0;

/// Longest single move, m.
const MOST_STEP_M: f64 = 10.0;

/// Fastest carriage, m/s.
const MOST_SPEED_M_S: f64 = 5.0;

/// What is asked where figures are absurd, one or two sentences each.
pub(super) fn absurd(known: &Known) -> Vec<String> {
    let plan = &known.plan;
    let mut asked = Vec::new();
    let parts = plan.parts.iter().filter_map(|part| part.interval_s);
    asked.extend(plan.interval_s.into_iter().chain(parts).filter_map(interval));
    let spans = [("event", known.event_s), ("run", plan.run_s)];
    for (what, span_s) in spans.into_iter().filter_map(|(what, s)| Some((what, s?))) {
        asked.extend(span(what, span_s, plan));
    }
    asked.extend(clip(known));
    asked.extend(carriage(plan));
    asked
}

/// An interval that no timer has.
fn interval(interval_s: f64) -> Option<String> {
    if interval_s < LEAST_INTERVAL_S {
        return Some(format!(
            "An interval of {} makes {} frames a second, which is film. Say its unit, and take {} or longer.",
            duration(interval_s),
            plain(1.0 / interval_s, 0),
            duration(LEAST_INTERVAL_S)
        ));
    }
    (interval_s > MOST_INTERVAL_S).then(|| {
        format!(
            "An interval of {} is longer than a month. Say its unit, and take less.",
            duration(interval_s)
        )
    })
}

/// An event or a run that holds no sequence.
fn span(what: &str, span_s: f64, plan: &Plan) -> Option<String> {
    let said = duration(span_s);
    if span_s < LEAST_SPAN_S {
        return Some(format!(
            "The {what} of {said} is over before a time-lapse begins. Say its unit: \"{n} min\" or \"{n} \
             h\".",
            n = plain(span_s, 3)
        ));
    }
    let interval_s = plan.interval_s.filter(|interval_s| span_s < *interval_s)?;
    Some(format!(
        "The {what} of {said} is over before the second frame, at an interval of {}. Say the units of both, \
         or shorten the interval.",
        duration(interval_s)
    ))
}

/// A clip that lasts as long as what it shows.
fn clip(known: &Known) -> Option<String> {
    let length_s = known.plan.delivery.length_s?;
    let (what, span_s) = match (known.event_s, known.plan.run_s) {
        (Some(s), _) => ("event", s),
        (None, Some(s)) => ("run", s),
        (None, None) => return None,
    };
    (length_s >= span_s).then(|| {
        format!(
            "The clip of {} is no shorter than the {what} of {}, which is no time-lapse. Are the two \
             swapped?",
            duration(length_s),
            duration(span_s)
        )
    })
}

/// A rig of another size.
fn carriage(plan: &Plan) -> Vec<String> {
    let rig = &plan.rig;
    let lengths = [("A travel", rig.travel_m, MOST_TRAVEL_M), ("A step", rig.step_m, MOST_STEP_M)];
    let long = lengths.into_iter().filter_map(|(what, m, most_m)| {
        let m = m.filter(|m| *m > most_m)?;
        Some(format!("{what} of {} is longer than rigs are. Say it in mm or m.", length_text(m)))
    });
    let fast = rig
        .speed_m_s
        .filter(|v| *v > MOST_SPEED_M_S)
        .map(|v| format!("A carriage at {} is faster than rigs are. Say its speed in mm/s.", speed_text(v)));
    long.chain(fast).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{DeliveryPlan, RigPlan};

    fn told(plan: Plan, event_s: Option<f64>) -> Vec<String> {
        absurd(&Known { plan, event_s })
    }

    #[test]
    fn what_nobody_means_is_asked_about() {
        let every = |s| Plan { interval_s: Some(s), ..Plan::default() };
        assert!(told(every(0.004), None)[0].contains("250 frames a second"));
        assert_eq!(told(every(0.05), None), Vec::<String>::new());
        assert!(told(every(3e6), None)[0].contains("longer than a month"));
        assert!(told(Plan::default(), Some(2.0))[0].contains("\"2 min\" or \"2 h\""));
        assert_eq!(told(Plan::default(), Some(10.0)), Vec::<String>::new());
        assert!(told(every(600.0), Some(120.0))[0].contains("before the second frame"));
        assert_eq!(told(every(600.0), Some(600.0)), Vec::<String>::new());
        let delivery = DeliveryPlan { fps: Some(25.0), length_s: Some(7200.0), ..DeliveryPlan::default() };
        let swapped = Plan { delivery, ..Plan::default() };
        assert!(told(swapped, Some(20.0))[0].contains("swapped"));
        let rig = RigPlan {
            travel_m: Some(2000.0),
            step_m: Some(17.0),
            speed_m_s: Some(20.0),
            ..RigPlan::default()
        };
        assert_eq!(told(Plan { rig, ..Plan::default() }, None).len(), 3);
    }
}
