//! What one slot of a plan is made of, and whether its interval holds it: the one place where exposure,
//! camera and rig are added up.
//!
//! `exposure + max(busy + dark frame, lag + move + settle) ≤ interval`: once the shutter is shut the carriage
//! travels while the camera writes; where the rig waits for the camera the two add up. Where the timer counts
//! from shutter close, the last exposure of the slot lies outside the interval. A rig with a wait sets off
//! when that is over (see [`super::dials`]).

use super::arithmetic::exact_s;
use super::{Asked, ExposurePlan, Plan, Planned, RigKind, arithmetic, dials, optics};
use crate::units::stops::{Series, third_mark};

/// What follows each exposure, in s; what the plan does not say counts as none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Budget {
    /// Busy time after an exposure.
    pub busy_s: f64,
    /// True where a dark frame as long as the exposure follows it.
    pub dark: bool,
    /// From the shutter's close to the start of the move.
    pub lag_s: f64,
    /// The move; `None` where the plan does not tell how long it takes, or the rig travels all the time.
    pub move_s: Option<f64>,
    /// Wait after the move.
    pub settle_s: f64,
    /// True where the carriage waits for the camera.
    pub waits: bool,
    /// True where the interval counts from the last shutter's close.
    pub from_close: bool,
    /// The wait before the move, s, where the rig is set by it: the carriage then sets off when it is over,
    /// whatever the camera does.
    pub wait_s: Option<f64>,
    /// One move, m.
    step_m: f64,
    speed_m_s: f64,
    acceleration_m_s2: Option<f64>,
}

/// One slot against the budget, in s from the moment that the interval counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Slot {
    /// Shutter open within the interval.
    pub open_s: f64,
    /// When the last shutter has closed.
    pub closed_s: f64,
    /// When the camera can fire again.
    pub camera_s: f64,
    /// When the carriage sets off.
    pub sets_off_s: f64,
    /// When the carriage has stopped.
    pub stopped_s: f64,
    /// When the rig is settled; the close where nothing of the rig is known.
    pub rig_s: f64,
}

/// What camera or carriage is at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WorkKind {
    /// The shutter is open.
    Exposure,
    /// The camera takes a dark frame.
    DarkFrame,
    /// The camera is busy.
    Busy,
    /// The carriage has not set off.
    Lag,
    /// The carriage moves.
    Move,
    /// The rig settles.
    Settle,
}

/// A piece of work in a slot, s from the moment that the interval counts from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Work {
    /// What it is.
    pub kind: WorkKind,
    /// When it begins.
    pub from_s: f64,
    /// How long it takes, over 0.
    pub long_s: f64,
}

impl Slot {
    /// When the slot is done: camera and rig.
    pub fn whole_s(&self) -> f64 {
        self.camera_s.max(self.rig_s)
    }
}

impl Budget {
    /// Of the camera alone, which counts from shutter open and waits for no rig.
    pub fn of_camera(exposure: &ExposurePlan) -> Self {
        Self {
            busy_s: exposure.busy_s.unwrap_or(0.0),
            dark: exposure.dark_frame == Some(true),
            lag_s: 0.0,
            move_s: None,
            settle_s: 0.0,
            waits: false,
            from_close: false,
            wait_s: None,
            step_m: 0.0,
            speed_m_s: f64::INFINITY,
            acceleration_m_s2: None,
        }
    }

    /// Of a plan, under the exposure in force.
    pub fn of(plan: &Plan, exposure: &ExposurePlan) -> Self {
        let rig = &plan.rig;
        let continuous = rig.kind == Some(RigKind::Continuous);
        let step_m = step_m(plan).filter(|_| !continuous);
        let speed_m_s = rig.speed_m_s.unwrap_or(f64::INFINITY);
        let wait_s = rig.wait_s.filter(|_| !continuous);
        let stepped = |s: Option<f64>| if continuous { 0.0 } else { s.unwrap_or(0.0) };
        Self {
            lag_s: stepped(rig.trigger_lag_s.filter(|_| wait_s.is_none())),
            move_s: moving_s(plan),
            settle_s: stepped(rig.settle_s),
            waits: rig.waits == Some(true) && !continuous,
            from_close: plan.from_close(),
            wait_s,
            step_m: step_m.unwrap_or(0.0),
            speed_m_s,
            acceleration_m_s2: rig.acceleration_m_s2,
            ..Self::of_camera(exposure)
        }
    }

    /// The same under what is asked in a part. An interval of its own means another wait.
    pub fn of_asked(plan: &Plan, asked: &Asked) -> Self {
        let of = Self::of(plan, &asked.exposure);
        let wait_s = of.wait_s.and(asked.interval_s).and_then(|s| dials::wait_of_s(plan, s));
        of.within(wait_s)
    }

    /// The same with a wait, s, that the camera has to be done in; as it is without one.
    #[must_use]
    pub fn within(self, wait_s: Option<f64>) -> Self {
        Self { wait_s: wait_s.or(self.wait_s), ..self }
    }

    /// What the camera may take of an interval, s: the wait where the rig has one, else all of it.
    pub fn room_s(&self, interval_s: f64) -> f64 {
        self.wait_s.unwrap_or(interval_s)
    }

    /// The word for that room.
    pub const fn room_word(&self) -> &'static str {
        if self.wait_s.is_some() { "wait" } else { "interval" }
    }

    /// How long the shutter is open after the wait was over, and how far the carriage travels in that time: s
    /// and m. Nothing where the rig has no wait.
    pub fn open_in_move(&self, slot: &Slot) -> (f64, f64) {
        if self.wait_s.is_none() {
            return (0.0, 0.0);
        }
        self.clash(slot, 0.0, slot.closed_s)
    }

    /// Lag, move and settle, s; `None` where the move's time is not known.
    pub fn rig_s(&self) -> Option<f64> {
        self.move_s.map(|s| self.lag_s + s + self.settle_s)
    }

    /// A slot of these exposures, s, in order.
    pub fn slot(&self, exposures_s: impl IntoIterator<Item = f64>) -> Slot {
        let (mut open_s, mut closed_s, mut last) = (0.0, 0.0, 0.0);
        self.walk(exposures_s, |opens_s, counted_s, dark_s| {
            open_s += counted_s;
            closed_s = opens_s + counted_s;
            last = dark_s;
        });
        let camera_s = closed_s + self.busy_s + last;
        let ended_s = if self.waits { camera_s } else { closed_s };
        let sets_off_s = self.wait_s.unwrap_or(self.lag_s + ended_s);
        let stopped_s = sets_off_s + self.move_s.unwrap_or(0.0);
        let known = self.move_s.is_some() || self.wait_s.is_some() || self.settle_s > 0.0 || self.lag_s > 0.0;
        let rig_s = if known { stopped_s + self.settle_s } else { closed_s };
        Slot { open_s, closed_s, camera_s, sets_off_s, stopped_s, rig_s }
    }

    /// Tells of each exposure when it opens, how long it is open within the interval, and how long the dark
    /// frame after it lasts, s.
    fn walk(&self, exposures_s: impl IntoIterator<Item = f64>, mut told: impl FnMut(f64, f64, f64)) {
        let mut opens_s = 0.0;
        let mut exposures = exposures_s.into_iter().peekable();
        while let Some(exposure_s) = exposures.next() {
            // An interval that counts from the shutter's close begins after the last exposure.
            let inside = !(self.from_close && exposures.peek().is_none());
            let counted_s = if inside { exposure_s } else { 0.0 };
            let dark_s = if self.dark { exposure_s } else { 0.0 };
            told(opens_s, counted_s, dark_s);
            opens_s += counted_s + self.busy_s + dark_s;
        }
    }

    /// What camera and carriage do in a slot of these exposures, s, each in order of time.
    pub fn lanes(&self, exposures_s: &[f64]) -> [Vec<Work>; 2] {
        let work = |kind, from_s, long_s| Work { kind, from_s, long_s };
        let mut camera = Vec::new();
        self.walk(exposures_s.iter().copied(), |opens_s, counted_s, dark_s| {
            let closed_s = opens_s + counted_s;
            camera.push(work(WorkKind::Exposure, opens_s, counted_s));
            camera.push(work(WorkKind::DarkFrame, closed_s, dark_s));
            camera.push(work(WorkKind::Busy, closed_s + dark_s, self.busy_s));
        });
        let slot = self.slot(exposures_s.iter().copied());
        let carriage = vec![
            work(WorkKind::Lag, slot.sets_off_s - self.lag_s, self.lag_s),
            work(WorkKind::Move, slot.sets_off_s, slot.stopped_s - slot.sets_off_s),
            work(WorkKind::Settle, slot.stopped_s, slot.rig_s - slot.stopped_s),
        ];
        [camera, carriage].map(|mut lane| {
            lane.retain(|work| work.long_s.is_finite() && work.long_s > 0.0);
            lane
        })
    }

    /// The slot of the plan's longest exposure, by the mark and by the exact time; without an exposure in the
    /// plan, what is left of the slot.
    pub fn longest(&self, plan: &Plan, exposure: &ExposurePlan) -> (Slot, Slot) {
        let mark = exposure.shutter_s.map_or(0.0, Planned::high);
        let of = |s: f64| self.slot(plan.set_of(s));
        // The marks of a set are not the halves and doubles of one mark: 1.3 s and 2.5 s lie a stop apart.
        let middle = plan.members() as usize / 2;
        let by_mark = |s: f64| {
            let set = plan.set_of(exact_s(s)).enumerate();
            self.slot(set.map(|(k, exact)| if k == middle { s } else { marked(exact) }))
        };
        (if mark > 0.0 { by_mark(mark) } else { of(mark) }, of(if mark > 0.0 { exact_s(mark) } else { 0.0 }))
    }

    /// How long a shutter that opens `room_s` after the slot's beginning and stays open for `exposure_s` is
    /// open while the carriage moves, and how far the carriage travels in that time: s and m.
    pub fn clash(&self, slot: &Slot, room_s: f64, exposure_s: f64) -> (f64, f64) {
        let (from, to) = (room_s.max(slot.sets_off_s), (room_s + exposure_s).min(slot.stopped_s));
        let Some(move_s) = self.move_s.filter(|_| to > from) else { return (0.0, 0.0) };
        let at = |s: f64| {
            let since = s - slot.sets_off_s;
            if since >= move_s {
                self.step_m
            } else {
                optics::position_m(since, self.step_m, self.speed_m_s, self.acceleration_m_s2)
            }
        };
        (to - from, at(to) - at(from))
    }

    /// The longest exposure that leaves `spare_s` of an interval free, or of the wait where the rig has one,
    /// s; `None` where not even none does. For slots of one exposure.
    pub fn longest_exposure_s(&self, interval_s: f64, spare_s: f64) -> Option<f64> {
        if let Some(wait_s) = self.wait_s {
            let times = if self.dark { 2.0 } else { 1.0 };
            return Some((wait_s - spare_s - self.busy_s) / times).filter(|s| *s >= 0.0);
        }
        let room = interval_s - spare_s - self.slot([0.0]).whole_s();
        if self.from_close || room < 0.0 {
            return (room >= 0.0).then_some(f64::INFINITY);
        }
        if !self.dark {
            return Some(room);
        }
        // A dark frame takes its own length again, beside the rig or before it.
        let (busy, rig) = (self.busy_s, self.lag_s + self.move_s.unwrap_or(0.0) + self.settle_s);
        let all = interval_s - spare_s;
        let beside = ((all - busy) / 2.0).min(all - rig);
        Some(if self.waits { (all - busy - rig) / 2.0 } else { beside }).filter(|s| *s >= 0.0)
    }
}

/// How long the rig is away from rest in each slot, s: lag, move and settle. `None` where the plan does not
/// tell how long a move takes.
pub fn rig_s(plan: &Plan) -> Option<f64> {
    Budget::of(plan, &plan.exposure).rig_s()
}

/// How long one move takes, s; `None` where the plan does not tell, or the rig travels all the time.
fn moving_s(plan: &Plan) -> Option<f64> {
    let rig = &plan.rig;
    let step_m = step_m(plan).filter(|_| rig.kind != Some(RigKind::Continuous))?;
    arithmetic::move_time_s(step_m, rig.speed_m_s?, rig.acceleration_m_s2)
}

/// One move, m: as planned, else the travel shared among the moves; `None` where neither can be told.
pub fn step_m(plan: &Plan) -> Option<f64> {
    plan.rig.step_m.or_else(|| {
        let frames = super::course::frames_asked(plan)?;
        let moves = frames.checked_sub(1).filter(|n| *n > 0)?;
        Some(plan.rig.travel_m? / moves as f64)
    })
}

/// The mark of an exact time on the dial of thirds; the time itself where no dial has it.
fn marked(exact: f64) -> f64 {
    third_mark(Series::Time, (3.0 * exact.log2()).round() as i32).unwrap_or(exact)
}

#[cfg(test)]
mod tests {
    use super::super::RigPlan;
    use super::*;

    fn near(got: f64, want: f64) {
        assert!((got - want).abs() < 5e-5, "{got} against {want}");
    }

    fn plan(rig: RigPlan) -> Plan {
        Plan {
            rig: RigPlan { step_m: Some(0.02), speed_m_s: Some(0.02), settle_s: Some(0.5), ..rig },
            ..Plan::default()
        }
    }

    fn budget(plan: &Plan, busy_s: f64) -> Budget {
        Budget::of(plan, &ExposurePlan { busy_s: Some(busy_s), ..ExposurePlan::default() })
    }

    /// Worked cycles, computed outside the project: a move of 1 s, 0.5 s to settle and 0.3 s to write, one
    /// after the other, make 4.3 s with an exposure of 2.5 s (0.7 s left of 5) and 5.8 s with one of 4 s (0.8
    /// s over). Side by side they make 4.0 s.
    #[test]
    fn slots_of_a_slider() {
        let waiting = plan(RigPlan { waits: Some(true), ..RigPlan::default() });
        near(budget(&waiting, 0.3).slot([2.5]).whole_s(), 4.3);
        near(budget(&waiting, 0.3).slot([4.0]).whole_s(), 5.8);
        let beside = plan(RigPlan::default());
        let slot = budget(&beside, 0.3).slot([2.5]);
        near(slot.whole_s(), 4.0);
        near(slot.camera_s, 2.8);
        near(slot.sets_off_s, 2.5);
        near(slot.stopped_s, 3.5);
    }

    /// The mark "25 s" with 3.5 s of busy time makes 28.5 s and in fact 28.898 s; "30 s" at an interval of 30
    /// s leaves nothing by the mark and lacks 2 s in fact (worked values, computed outside the project).
    #[test]
    fn marks_and_exact_times() {
        let of = |mark, busy_s| {
            let exposure = ExposurePlan {
                shutter_s: Some(Planned::Fixed(mark)),
                busy_s: Some(busy_s),
                ..ExposurePlan::default()
            };
            let plan = Plan { exposure: exposure.clone(), ..Plan::default() };
            let (mark, exact) = Budget::of(&plan, &exposure).longest(&plan, &exposure);
            (mark.whole_s(), exact.whole_s())
        };
        near(of(25.0, 3.5).0, 28.5);
        near(of(25.0, 3.5).1, 28.8984);
        near(of(30.0, 0.0).0 - 30.0, 0.0);
        near(of(30.0, 0.0).1 - 30.0, 2.0);
    }

    #[test]
    fn dark_frames_brackets_and_a_timer_from_close() {
        let still = Plan::default();
        let dark = Budget { dark: true, ..budget(&still, 0.5) };
        near(dark.slot([4.0]).camera_s, 8.5);
        near(dark.slot([1.0, 2.0]).camera_s, 7.0);
        near(dark.slot([1.0, 2.0]).open_s, 3.0);
        let close = Budget { from_close: true, ..budget(&still, 0.5) };
        near(close.slot([4.0]).camera_s, 0.5);
        near(close.slot([1.0, 2.0]).camera_s, 2.0);
        near(budget(&still, 0.5).slot([]).camera_s, 0.5);
    }

    /// The carriage sets off when the shutter closes and takes 1 s for 20 mm. A shutter that opens after 2.9
    /// s and stays open for 2.5 s catches 0.6 s of it, 12 mm; one that opens at 3.5 s catches nothing.
    #[test]
    fn a_shutter_open_on_the_way() {
        let plan = plan(RigPlan::default());
        let budget = budget(&plan, 0.0);
        let slot = budget.slot([2.5]);
        let (s, m) = budget.clash(&slot, 2.9, 2.5);
        near(s, 0.6);
        near(m, 0.012);
        assert_eq!(budget.clash(&slot, 3.5, 2.5), (0.0, 0.0));
        // A short exposure within the move: 0.1 s of it, 2 mm.
        let (s, m) = budget.clash(&slot, 3.0, 0.1);
        near(s, 0.1);
        near(m, 0.002);
        // It ends before the carriage sets off.
        assert_eq!(budget.clash(&slot, 1.0, 0.1), (0.0, 0.0));
    }

    #[test]
    fn what_is_left_for_an_exposure() {
        let plan = plan(RigPlan::default());
        near(budget(&plan, 0.3).longest_exposure_s(5.0, 0.0).expect("room"), 3.5);
        near(budget(&plan, 2.0).longest_exposure_s(5.0, 0.5).expect("room"), 2.5);
        assert_eq!(budget(&plan, 0.3).longest_exposure_s(1.0, 0.0), None);
        let dark = Budget { dark: true, ..budget(&plan, 0.3) };
        let room = dark.longest_exposure_s(10.0, 0.0).expect("room");
        near(room, 4.85);
        near(dark.slot([room]).whole_s(), 10.0);
        let waits = Budget { waits: true, ..dark };
        near(waits.slot([waits.longest_exposure_s(10.0, 0.0).expect("room")]).whole_s(), 10.0);
    }

    #[test]
    fn a_travel_is_shared_among_its_moves() {
        let rig = RigPlan { travel_m: Some(0.9), speed_m_s: Some(0.002), ..RigPlan::default() };
        let plan = Plan { rig, frames: Some(601), ..Plan::default() };
        near(Budget::of(&plan, &plan.exposure).move_s.expect("a move"), 0.75);
        let gliding = Plan { rig: RigPlan { kind: Some(RigKind::Continuous), ..plan.rig.clone() }, ..plan };
        assert_eq!(Budget::of(&gliding, &gliding.exposure).rig_s(), None);
    }

    /// By hand: the carriage sets off after 13 s and takes 0.085 s. A shutter that is open for 13.05 s sees
    /// 0.05 s of that, 1 mm; one of 20 s sees all of it, 1.7 mm.
    #[test]
    fn the_carriage_sets_off_when_the_wait_is_over() {
        let rig = RigPlan {
            wait_s: Some(13.0),
            step_m: Some(0.0017),
            speed_m_s: Some(0.02),
            settle_s: Some(0.5),
            ..RigPlan::default()
        };
        let plan = Plan { rig, ..Plan::default() };
        let budget = Budget::of(&plan, &plan.exposure);
        for (exposure_s, open_s, travelled_m) in
            [(12.9, 0.0, 0.0), (13.05, 0.05, 0.001), (20.0, 0.085, 0.0017)]
        {
            let (s, m) = budget.open_in_move(&budget.slot([exposure_s]));
            assert!((s - open_s).abs() < 1e-9 && (m - travelled_m).abs() < 1e-9, "{exposure_s}: {s} {m}");
        }
        assert_eq!(budget.slot([20.0]).sets_off_s, 13.0);
        assert_eq!(budget.room_s(13.585), 13.0);
        // Nine tenths of the wait: 11.7 s.
        near(budget.longest_exposure_s(13.585, 1.3).expect("room"), 11.7);
    }
}
