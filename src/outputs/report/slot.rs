//! The time in one slot: what camera and carriage do in it, and what is left of its interval.

use crate::audit::Audit;
use crate::evidence::slots::by_slot;
use crate::plan::budget::{Budget, Work, WorkKind};
use crate::schedule::SlotUse;
use crate::units::{duration, stops::time_text};

/// One slot against its interval.
pub(crate) struct Cycle {
    /// Whose exposure it is, and how long that lasts.
    pub title: String,
    /// What camera and carriage do.
    pub lanes: [Vec<Work>; 2],
    /// When it is done, s.
    pub whole_s: f64,
    /// The interval that it is compared with, s.
    pub interval_s: f64,
    /// The wait of a rig that is set by it, and what the camera takes of that, s.
    room: Option<(f64, f64)>,
}

impl Cycle {
    fn of(title: String, budget: &Budget, exposures_s: &[f64], interval_s: f64) -> Self {
        let slot = budget.slot(exposures_s.iter().copied());
        // The carriage follows a wait by itself: what has to be done in time is the camera's part.
        let room = budget.wait_s.map(|wait_s| (wait_s, slot.camera_s));
        Self { title, lanes: budget.lanes(exposures_s), whole_s: slot.whole_s(), interval_s, room }
    }

    /// What is left of the interval, or of the wait where the rig has one, s; negative where it is over.
    pub(crate) fn slack_s(&self) -> f64 {
        let (room_s, taken_s) = self.room.unwrap_or((self.interval_s, self.whole_s));
        room_s - taken_s
    }

    /// What it is left of, s.
    pub(crate) fn room_s(&self) -> f64 {
        self.room.map_or(self.interval_s, |room| room.0)
    }

    /// The word for that.
    pub(crate) fn slack_word(&self) -> &'static str {
        if self.room.is_some() { "slack in the wait " } else { "slack " }
    }

    /// What each kind of work takes in all, s, in the order in which they come.
    pub(crate) fn sums(&self) -> Vec<(WorkKind, f64)> {
        let mut all: Vec<(WorkKind, f64)> = Vec::new();
        for work in self.lanes.iter().flatten() {
            match all.iter_mut().find(|one| one.0 == work.kind) {
                Some(one) => one.1 += work.long_s,
                None => all.push((work.kind, work.long_s)),
            }
        }
        all
    }
}

/// The time in one slot: of the shortest and of the longest exposure, or of the only one.
pub(crate) struct Cycles {
    /// One or two.
    pub cycles: Vec<Cycle>,
    /// The interval, s, where it is the same for all.
    pub interval_s: Option<f64>,
    /// True where the interval counts from shutter close.
    pub from_close: bool,
    /// True where the plan names a busy time.
    pub busy_said: bool,
}

/// The slots of the run with the shortest and the longest exposure.
fn ends(audit: &Audit) -> Option<(SlotUse, SlotUse)> {
    let slots = by_slot(&audit.plan, &audit.evidence);
    let exact = |slot: &SlotUse| slot.exposure_s.1;
    audit.schedule.uses(&audit.evidence, &slots).filter(|slot| exact(slot) > 0.0).fold(None, |seen, slot| {
        let (short, long) = seen.unwrap_or((slot, slot));
        Some((
            if exact(&slot) < exact(&short) { slot } else { short },
            if exact(&slot) > exact(&long) { slot } else { long },
        ))
    })
}

/// The time in one slot; `None` where neither an interval nor an exposure time is known.
pub(crate) fn cycles(audit: &Audit) -> Option<Cycles> {
    let (short, long) = ends(audit)?;
    let one_interval = (short.interval_s - long.interval_s).abs() < 1e-9;
    let cycle = |what: &str, slot: &SlotUse| {
        let (mark, exact) = slot.exposure_s;
        let lasts = if (exact / mark).log2().abs() > 0.01 {
            format!(", which lasts {}", duration(exact))
        } else {
            String::new()
        };
        let of = if one_interval { String::new() } else { format!(", of {}", duration(slot.interval_s)) };
        let title = format!("{what} exposure, {}{lasts}{of}", time_text(mark));
        Cycle::of(title, &slot.budget, &slot.exposures_s(&audit.evidence), slot.interval_s)
    };
    let alike = one_interval && (long.exposure_s.1 / short.exposure_s.1 - 1.0).abs() < 1e-6;
    Some(Cycles {
        cycles: match alike {
            true => vec![cycle("Every", &short)],
            false => vec![cycle("Shortest", &short), cycle("Longest", &long)],
        },
        interval_s: one_interval.then_some(long.interval_s),
        from_close: long.budget.from_close,
        busy_said: audit.plan.exposure.busy_s.is_some(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::timing::TimerLaw;
    use crate::outputs::sample;
    use crate::plan::{Part, PartStart, Plan, RigPlan};
    use crate::schedule::Schedule;

    /// What is drawn is what the checks judge: the busy time of the part in force, and the timer's law as the
    /// stamps show it.
    #[test]
    fn the_slot_is_drawn_as_it_is_judged() {
        let mut audit = sample::audit();
        let mut part = Part::from(PartStart::Frame(0));
        part.exposure.busy_s = Some(1.5);
        audit.plan.parts = vec![part];
        audit.evidence.timing.cadence.as_mut().expect("a cadence").law = TimerLaw::Close;
        audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
        let (_, long) = ends(&audit).expect("a slot");
        assert!(long.budget.from_close);
        let told =
            Cycle::of(String::new(), &long.budget, &long.exposures_s(&audit.evidence), long.interval_s);
        assert_eq!(pieces(&told.lanes[0]), [(WorkKind::Busy, 0.0, 1.5)]);
    }

    fn pieces(lane: &[Work]) -> Vec<(WorkKind, f64, f64)> {
        lane.iter().map(|w| (w.kind, w.from_s, w.long_s)).collect()
    }

    /// Worked by hand: 2.5 s exposure, 0.5 s busy; 20 mm at 20 mm/s, 0.5 s to settle. The carriage travels
    /// while the camera writes: 2.5 + 1 + 0.5 = 4 s.
    #[test]
    fn camera_and_carriage_stand_below_each_other() {
        let rig =
            RigPlan { step_m: Some(0.02), speed_m_s: Some(0.02), settle_s: Some(0.5), ..RigPlan::default() };
        let mut plan = Plan { rig, ..Plan::default() };
        plan.exposure.busy_s = Some(0.5);
        let told = Cycle::of(String::new(), &Budget::of(&plan, &plan.exposure), &[2.5], 5.0);
        assert_eq!(pieces(&told.lanes[0]), [(WorkKind::Exposure, 0.0, 2.5), (WorkKind::Busy, 2.5, 0.5)]);
        assert_eq!(pieces(&told.lanes[1]), [(WorkKind::Move, 2.5, 1.0), (WorkKind::Settle, 3.5, 0.5)]);
        assert!((told.whole_s - 4.0).abs() < 1e-9);
        plan.rig.waits = Some(true);
        plan.exposure.dark_frame = Some(true);
        let told = Cycle::of(String::new(), &Budget::of(&plan, &plan.exposure), &[2.5; 2], 5.0);
        let sums = told.sums();
        assert_eq!(
            sums,
            [
                (WorkKind::Exposure, 5.0),
                (WorkKind::DarkFrame, 5.0),
                (WorkKind::Busy, 1.0),
                (WorkKind::Move, 1.0),
                (WorkKind::Settle, 0.5)
            ]
        );
        assert!((told.whole_s - 12.5).abs() < 1e-9, "{}", told.whole_s);
    }
}
