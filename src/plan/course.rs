//! When the slots of a plan are due, and how many a run holds: where it changes on the way (`[[part]]`),
//! works by the day (`active`), or counts from shutter close. What a plan counts, a rehearsal writes and an
//! audit expects.
//!
//! A part's interval holds from its first frame to the next one on; working hours begin a grid of their own
//! each day, at their first moment, and a slot that falls on their end is not due.

use super::arithmetic::exact_s;
use super::hours::{DAY_S, HAIR_S, awake_s, opens_s, rest_s};
use super::{DailyHours, Moment, PartStart, Plan, Planned, arithmetic, dials};

/// Frames past which a run is no longer counted.
const MOST_FRAMES: u64 = 1_000_000_000;

/// The frames that a plan asks for: its frames, else those of its run.
pub fn frames_asked(plan: &Plan) -> Option<u64> {
    plan.frames.or_else(|| frames_of_run(plan))
}

/// The frames that the planned run holds: `floor(run / interval) + 1`, part by part and day by day. Without a
/// start, working hours are counted from the first that open.
///
/// `None` where they cannot be known: without an interval; with a part that begins at a file, or at a moment
/// while the plan has no start; where the timer counts from shutter close and the exposure is ramped or not
/// said.
pub fn frames_of_run(plan: &Plan) -> Option<u64> {
    let (run_s, interval_s) = (plan.run_s?, plan.interval_s?);
    match Course::of(plan).ok()? {
        Some(course) => Some(course.within(run_s, MOST_FRAMES)),
        None => arithmetic::frames_from_run(run_s, period_s(plan, interval_s)?),
    }
}

/// The slot at which each `[[part]]` begins, in their order; `None` for one that begins at a file, and for
/// all where the course cannot be known.
pub fn part_slots(plan: &Plan) -> Vec<Option<u64>> {
    // What begins at a file cannot be placed; the others can.
    let known = |at: usize| !matches!(plan.parts[at].from, PartStart::File(_));
    let placed: Vec<usize> = (0..plan.parts.len()).filter(|at| known(*at)).collect();
    let bare = Plan { parts: placed.iter().map(|at| plan.parts[*at].clone()).collect(), ..plan.clone() };
    let mut slots = vec![None; plan.parts.len()];
    if let Ok(Some(course)) = Course::of(&bare) {
        for (at, slot) in placed.into_iter().zip(course.begins().into_iter().skip(1)) {
            slots[at] = slot;
        }
    }
    slots
}

/// From the first shutter to the last of so many frames, s; `None` where it cannot be known.
pub fn run_of_frames_s(plan: &Plan, frames: u64) -> Option<f64> {
    match Course::of(plan).ok()? {
        Some(course) => Some(course.run_s(frames)),
        None => Some(arithmetic::time_from_frames_s(frames, period_s(plan, plan.interval_s?)?)),
    }
}

/// Length of the run as planned, s: the run, else that of the frames. `None` where the plan does not tell.
pub fn run_planned_s(plan: &Plan) -> Option<f64> {
    plan.run_s.or_else(|| run_of_frames_s(plan, plan.frames?))
}

/// From one opening of the shutter to the next slot's, s; `None` where the timer counts from shutter close
/// and no one exposure is planned.
pub(super) fn period_s(plan: &Plan, interval_s: f64) -> Option<f64> {
    extra_s(plan).map(|extra| interval_s + extra)
}

/// What a slot lasts beyond its interval, s: where the timer counts from shutter close, the time from its
/// first opening to its last close.
pub(super) fn extra_s(plan: &Plan) -> Option<f64> {
    if !plan.from_close() {
        return Some(0.0);
    }
    let Some(Planned::Fixed(mark)) = plan.exposure.shutter_s else { return None };
    // Before the next exposure of a set the camera is busy, with a dark frame as long as the one before it
    // where that is planned.
    let dark = f64::from(u8::from(plan.exposure.dark_frame == Some(true)));
    let between_s = |exposure_s: f64| plan.exposure.busy_s.unwrap_or(0.0) + dark * exposure_s;
    let set = || plan.set_of(exact_s(mark));
    let waits = plan.members() as usize - 1;
    Some(set().sum::<f64>() + set().take(waits).map(between_s).sum::<f64>())
}

/// One part of a plan, as a plan of its own.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Leg {
    /// Its number among the plan's `[[part]]` tables, from 1; 0 for what stands before them.
    pub part: usize,
    begins: Begins,
    /// The plan that holds in it, without parts.
    pub plan: Plan,
    period_s: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Begins {
    Frame(u64),
    /// Seconds after the first slot was due.
    After(f64),
}

/// The legs of a plan, and its working hours.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Course {
    legs: Vec<Leg>,
    active: Vec<DailyHours>,
    /// Second of the day at which the first slot is due.
    clock_s: f64,
}

/// Slots of one leg that stand on one grid.
struct Row {
    leg: usize,
    first: u64,
    due_s: f64,
    period_s: f64,
    slots: u64,
}

impl Course {
    /// The course of a plan with an interval; `None` where every slot follows the one before it alike.
    ///
    /// # Errors
    /// Why it cannot be known before the shoot, and what to say instead.
    pub(crate) fn of(plan: &Plan) -> Result<Option<Self>, String> {
        if plan.parts.is_empty() && plan.active.is_empty() {
            return Ok(None);
        }
        let Some(interval_s) = plan.interval_s else {
            return Err(
                "The interval is needed (--interval): with parts or working hours it cannot be found \
                        from the whole."
                    .into(),
            );
        };
        if !plan.active.is_empty() && plan.rig.kind == Some(super::RigKind::Continuous) {
            return Err(
                "A carriage that travels all the time does not rest between working hours. Leave out \
                        active, or kind = \"continuous\"."
                    .into(),
            );
        }
        let period = |of: &Plan, interval_s: f64| {
            period_s(of, interval_s).ok_or_else(|| {
                "The timer counts from shutter close, so each slot is longer by the exposure: each part \
                 needs one exposure."
                    .to_owned()
            })
        };
        let mut bare = Plan { parts: Vec::new(), active: Vec::new(), ..plan.clone() };
        let first = Leg {
            part: 0,
            begins: Begins::Frame(0),
            period_s: period(&bare, interval_s)?,
            plan: bare.clone(),
        };
        let mut legs = vec![first];
        let mut asked = plan.asked();
        for (at, part) in plan.parts.iter().enumerate() {
            asked = asked.then(part);
            (bare.interval_s, bare.exposure) = (asked.interval_s, asked.exposure.clone());
            bare.rig.wait_s = asked.interval_s.and_then(|s| dials::wait_of_s(plan, s)).or(plan.rig.wait_s);
            let begins = match &part.from {
                PartStart::Frame(frame) => Begins::Frame(*frame),
                PartStart::Moment(moment) => Begins::After(after_s(plan.start, *moment, at)?),
                PartStart::File(_) => {
                    return Err(format!(
                        "[[part]] {} begins at a file, and before the shoot no file has a name. Say its \
                         frame, or its moment.",
                        at + 1
                    ));
                }
            };
            let period_s = period(&bare, bare.interval_s.unwrap_or(interval_s))?;
            legs.push(Leg { part: at + 1, begins, plan: bare.clone(), period_s });
        }
        let opens_s = opens_s(&plan.active).unwrap_or(0.0);
        let clock_s = plan.start.map_or(opens_s, |m| m.civil.seconds().rem_euclid(DAY_S));
        let mut course = Self { legs, active: plan.active.clone(), clock_s };
        course.clock_s += rest_s(&course.active, course.clock_s);
        Ok(Some(course))
    }

    /// Goes through the slots row by row until `go_on` says no.
    fn walk(&self, mut go_on: impl FnMut(&Row) -> bool) {
        let (mut slot, mut due_s, mut leg) = (0_u64, 0.0, 0_usize);
        loop {
            let Some(Leg { period_s, .. }) = self.legs.get(leg).filter(|l| l.period_s > 0.0) else { return };
            let until_s = awake_s(&self.active, self.clock_s + due_s);
            let of_day = ((until_s - HAIR_S) / period_s).ceil().max(1.0);
            let of_leg = match self.legs.get(leg + 1).map(|l| l.begins) {
                None => f64::INFINITY,
                Some(Begins::Frame(frame)) => frame.saturating_sub(slot) as f64,
                Some(Begins::After(s)) => ((s - due_s - HAIR_S) / period_s).ceil().max(0.0),
            };
            if of_leg < 1.0 {
                leg += 1;
                continue;
            }
            let slots = of_day.min(of_leg);
            let slots = if slots.is_finite() { slots as u64 } else { u64::MAX - slot };
            if !go_on(&Row { leg, first: slot, due_s, period_s: *period_s, slots })
                || slots == u64::MAX - slot
            {
                return;
            }
            slot += slots;
            due_s += slots as f64 * period_s;
            due_s += rest_s(&self.active, self.clock_s + due_s);
        }
    }

    /// From the first shutter to the last of so many frames, s.
    pub(crate) fn run_s(&self, frames: u64) -> f64 {
        let mut run_s = 0.0;
        self.walk(|row| {
            let here = frames.saturating_sub(1).saturating_sub(row.first).min(row.slots.saturating_sub(1));
            run_s = row.due_s + here as f64 * row.period_s;
            row.first.saturating_add(row.slots) < frames
        });
        // Without the dust of binary fractions.
        (run_s * 1e6).round() / 1e6
    }

    /// The slot at which each leg begins; `None` for one that the walk does not come to.
    fn begins(&self) -> Vec<Option<u64>> {
        let mut begins = vec![None; self.legs.len()];
        self.walk(|row| {
            if let Some(begins) = begins.get_mut(row.leg) {
                begins.get_or_insert(row.first);
            }
            row.leg + 1 < self.legs.len() && row.first < MOST_FRAMES
        });
        begins
    }

    /// The frames that are due in a span that begins with the first, both ends counted; at most `most`.
    pub(crate) fn within(&self, span_s: f64, most: u64) -> u64 {
        let mut frames = 0_u64;
        self.walk(|row| {
            if row.due_s > span_s + HAIR_S {
                return false;
            }
            let here = ((span_s - row.due_s + HAIR_S) / row.period_s).floor() + 1.0;
            frames = frames.saturating_add((here as u64).min(row.slots));
            frames < most && here >= row.slots as f64
        });
        frames
    }

    /// The frames that cover a span: the last one stands at its end or after it.
    pub(crate) fn covering(&self, span_s: f64, most: u64) -> u64 {
        let frames = self.within(span_s, most);
        if self.run_s(frames) + HAIR_S < span_s { frames.saturating_add(1) } else { frames }
    }

    /// The legs that a run of so many frames comes to, each with its own frames.
    pub(crate) fn legs(&self, frames: u64) -> Vec<Leg> {
        let mut counts = vec![0_u64; self.legs.len()];
        self.walk(|row| {
            if let Some(count) = counts.get_mut(row.leg) {
                *count += row.slots.min(frames.saturating_sub(row.first));
            }
            row.first.saturating_add(row.slots) < frames
        });
        let with = |(leg, count): (&Leg, &u64)| {
            let mut leg = leg.clone();
            leg.plan.frames = Some(*count);
            (*count > 0).then_some(leg)
        };
        self.legs.iter().zip(&counts).filter_map(with).collect()
    }
}

/// Seconds from the plan's start to the moment at which a part begins.
fn after_s(start: Option<Moment>, moment: Moment, at: usize) -> Result<f64, String> {
    let Some(start) = start else {
        return Err(format!(
            "[[part]] {} begins at a moment, and the plan has no start. Say --start, or the frame at which \
             it begins.",
            at + 1
        ));
    };
    let offsets = start.offset_min.zip(moment.offset_min);
    let ahead_s = offsets.map_or(0.0, |(a, b)| 60.0 * f64::from(i32::from(a) - i32::from(b)));
    Ok(moment.civil.seconds_since(start.civil) + ahead_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{CountedFrom, ExposurePlan, Part};

    fn course(plan: &Plan) -> Course {
        Course::of(plan).expect("a course").expect("not a plain one")
    }

    fn site(interval_s: f64, hours: &[(u32, u32)]) -> Plan {
        let active = hours.iter().map(|(a, b)| DailyHours { from_s: a * 3600, to_s: b * 3600 }).collect();
        Plan { interval_s: Some(interval_s), active, ..Plan::default() }
    }

    /// By hand: from 07:00 to 19:00 every ten minutes are 72 slots, the last at 18:50; the 73rd is due a day
    /// after the first.
    #[test]
    fn a_site_camera_works_by_the_day() {
        let course = course(&site(600.0, &[(7, 19)]));
        assert_eq!(course.run_s(72), 71.0 * 600.0);
        assert_eq!(course.run_s(73), 86_400.0);
        assert_eq!(course.run_s(72 * 30), 29.0 * 86_400.0 + 71.0 * 600.0);
        assert_eq!(course.within(86_399.0, u64::MAX), 72);
        assert_eq!(course.within(86_400.0, u64::MAX), 73);
        assert_eq!(course.covering(50_000.0, u64::MAX), 73);
    }

    /// By hand: 22:00 to 02:00 and 05:00 to 06:00, every half hour: 8 and 2 slots a day. Seven minutes do not
    /// divide an hour: 9 slots, the last at 56 minutes.
    #[test]
    fn hours_over_midnight_and_two_of_them() {
        let night = course(&site(1800.0, &[(22, 2), (5, 6)]));
        // The first hours that open are those of 05:00.
        assert_eq!(night.run_s(2), 1800.0);
        assert_eq!(night.run_s(3), 17.0 * 3600.0);
        assert_eq!(night.run_s(11), 86_400.0);
        let odd = course(&site(420.0, &[(8, 9)]));
        assert_eq!((odd.run_s(9), odd.run_s(10)), (56.0 * 60.0, 86_400.0));
    }

    /// By hand: 100 frames at 12 s, then every 6 s: the hundredth stands at 1188 s, the next at 1200 s, the
    /// 301st at 1200 + 200 · 6 s.
    #[test]
    fn a_part_changes_the_interval() {
        let (from, interval_s) = (PartStart::Frame(100), Some(6.0));
        let part = Part { from, interval_s, exposure: ExposurePlan::default(), direction: None, note: None };
        let plan = Plan { interval_s: Some(12.0), parts: vec![part], ..Plan::default() };
        let course = course(&plan);
        assert_eq!((course.run_s(100), course.run_s(101), course.run_s(301)), (1188.0, 1200.0, 2400.0));
        assert_eq!((course.within(2400.0, u64::MAX), course.within(2399.0, u64::MAX)), (301, 300));
        let legs = course.legs(301);
        assert_eq!(
            legs.iter().map(|l| (l.part, l.plan.frames)).collect::<Vec<_>>(),
            [(0, Some(100)), (1, Some(201))]
        );
        assert_eq!(course.legs(50).len(), 1);
    }

    /// By hand: 12 s from the close of 8 s are a slot every 20 s; a set of three about 2 s takes 1 + 2 + 4 s,
    /// and 0.5 s of busy time twice.
    #[test]
    fn a_run_holds_what_falls_within_it() {
        let exposed = |mark, busy_s| ExposurePlan {
            shutter_s: Some(Planned::Fixed(mark)),
            busy_s,
            ..ExposurePlan::default()
        };
        let base = Plan { interval_s: Some(12.0), run_s: Some(7200.0), ..Plan::default() };
        assert_eq!(frames_of_run(&base), Some(601));
        assert_eq!(frames_asked(&Plan { frames: Some(7), ..base.clone() }), Some(7));
        let close =
            Plan { counted_from: Some(CountedFrom::Close), exposure: exposed(8.0, None), ..base.clone() };
        assert_eq!((frames_of_run(&close), run_of_frames_s(&close, 361)), (Some(361), Some(7200.0)));
        let set = Plan { bracket: Some(3), exposure: exposed(2.0, Some(0.5)), ..close.clone() };
        assert_eq!((frames_of_run(&set), run_of_frames_s(&set, 3)), (Some(361), Some(40.0)));
        // A set counted from its opening takes no more time than one exposure.
        assert_eq!(frames_of_run(&Plan { bracket: Some(3), ..base.clone() }), Some(601));
        let ramped = ExposurePlan { shutter_s: Some(Planned::Between(1.0, 2.0)), ..ExposurePlan::default() };
        assert_eq!(frames_of_run(&Plan { exposure: ramped, ..close }), None);
        // Five days from 07:00 on, and the first slot of the sixth.
        let site = Plan { run_s: Some(5.0 * DAY_S), ..site(600.0, &[(7, 19)]) };
        assert_eq!(frames_of_run(&site), Some(5 * 72 + 1));
        assert_eq!(frames_of_run(&Plan { run_s: Some(5.0 * DAY_S - 1.0), ..site }), Some(5 * 72));
    }

    /// By hand: every 12 s from 04:00 on, 05:00 is slot 300; on 06:00 another part begins, 600 slots of 6 s
    /// later.
    #[test]
    fn parts_begin_at_their_slots() {
        let moment = |hour: i64| Moment {
            civil: crate::units::CivilTime::from_seconds(hour * 3600),
            offset_min: None,
        };
        let part = |from| Part {
            from,
            interval_s: Some(6.0),
            exposure: ExposurePlan::default(),
            direction: None,
            note: None,
        };
        let parts = vec![
            part(PartStart::Moment(moment(5))),
            part(PartStart::File("TIDE0300.JPG".into())),
            part(PartStart::Moment(moment(6))),
        ];
        let plan = Plan { interval_s: Some(12.0), start: Some(moment(4)), parts, ..Plan::default() };
        assert_eq!(part_slots(&plan), [Some(300), None, Some(900)]);
        assert_eq!(part_slots(&Plan { start: None, ..plan }), [None; 3]);
    }
}
