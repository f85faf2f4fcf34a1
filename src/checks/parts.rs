//! Which part of the plan is in force at a frame: the plan's own values, changed by every `[[part]]` that has
//! begun.

use super::misfit::Misfit;
use crate::evidence::Evidence;
use crate::evidence::begins::begins;
pub use crate::evidence::begins::on_clock;
use crate::plan::{CountedFrom, ExposurePlan, Plan, Way};

/// What is asked from a position on.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Position of the first frame that it holds for.
    pub from: usize,
    /// The interval, s.
    pub interval_s: Option<f64>,
    /// The exposure.
    pub exposure: ExposurePlan,
    /// Which way the carriage travels.
    pub direction: Option<Way>,
}

/// The parts of a plan laid on the frames, in order; never empty.
pub struct Parts(Vec<Asked>);

impl Parts {
    /// Lays the parts on the frames: by the number of the frame in the run, or by its stamp. Where another
    /// interval was meant than the plan says, that one is in force; under another number of exposures a slot
    /// none is.
    pub fn new(plan: &Plan, evidence: &Evidence) -> Self {
        let mut begun: Vec<_> =
            plan.parts.iter().filter_map(|part| Some((begins(&part.from, evidence)?, part))).collect();
        begun.sort_by_key(|(from, _)| *from);
        let interval_s = match Misfit::of(plan, evidence) {
            Some(Misfit::Interval { set_s, .. }) => Some(set_s),
            Some(Misfit::Exposures { .. }) => None,
            None => plan.interval_s,
        };
        let mut all = vec![Asked {
            from: 0,
            interval_s,
            exposure: plan.exposure.clone(),
            direction: plan.rig.direction,
        }];
        for (from, part) in begun {
            if let Some(before) = all.last() {
                let interval_s = part.interval_s.or(before.interval_s);
                let exposure = before.exposure.clone().overlaid(&part.exposure);
                let direction = part.direction.or(before.direction);
                all.push(Asked { from, interval_s, exposure, direction });
            }
        }
        Self(all)
    }

    /// What is asked of the frame at that position.
    pub fn at(&self, at: usize) -> &Asked {
        // Positions before the first part are held by the plan itself, which begins at 0.
        &self.0[self.index(at)]
    }

    /// True where a part begins after `before` and not after `after`: what changes there changes on purpose.
    pub fn begins_between(&self, before: usize, after: usize) -> bool {
        self.index(before) != self.index(after)
    }

    fn index(&self, at: usize) -> usize {
        self.0.partition_point(|asked| asked.from <= at).saturating_sub(1)
    }
}

/// True where the plan's timer counts from shutter close.
pub fn from_close(plan: &Plan) -> bool {
    plan.counted_from == Some(CountedFrom::Close)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{START, Sketch};
    use crate::plan::{Moment, Part, PartStart};
    use crate::units::time::SECOND;

    #[test]
    fn parts_begin_at_a_frame_or_a_moment_and_keep_what_they_do_not_change() {
        let evidence = Sketch::steady(10, 10.0).evidence();
        let part = |from, interval_s| Part {
            from,
            interval_s,
            exposure: ExposurePlan::default(),
            direction: None,
            note: None,
        };
        let moment = Moment { civil: START.plus(60 * SECOND), offset_min: None };
        let plan = Plan {
            interval_s: Some(10.0),
            parts: vec![part(PartStart::Moment(moment), Some(5.0)), part(PartStart::Frame(3), None)],
            ..Plan::default()
        };
        let parts = Parts::new(&plan, &evidence);
        assert_eq!(parts.at(5).interval_s, Some(10.0));
        assert_eq!(parts.at(6).interval_s, Some(5.0));
        assert!(parts.begins_between(2, 3) && parts.begins_between(5, 6));
        assert!(!parts.begins_between(3, 5));
        let by_file = Plan { parts: vec![part(PartStart::File("tide0007.jpg".into()), Some(5.0))], ..plan };
        let parts = Parts::new(&by_file, &evidence);
        assert_eq!((parts.at(5).interval_s, parts.at(6).interval_s), (Some(10.0), Some(5.0)));
    }

    #[test]
    fn offsets_move_a_planned_moment() {
        let moment = Moment { civil: START, offset_min: Some(120) };
        assert_eq!(on_clock(moment, Some(0)), START.plus(-7200 * SECOND));
        assert_eq!(on_clock(moment, None), START);
    }
}
