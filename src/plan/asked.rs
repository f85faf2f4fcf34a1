//! What a plan asks from one of its parts on: its own values, changed by every `[[part]]` that has begun.

use super::{CountedFrom, ExposurePlan, Part, Plan, Way};

/// What is asked while one part is in force.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The interval, s.
    pub interval_s: Option<f64>,
    /// The exposure.
    pub exposure: ExposurePlan,
    /// Which way the carriage travels.
    pub direction: Option<Way>,
}

impl Asked {
    /// The same once `part` has begun: what it does not name stays.
    #[must_use]
    pub fn then(&self, part: &Part) -> Self {
        Self {
            interval_s: part.interval_s.or(self.interval_s),
            exposure: self.exposure.clone().overlaid(&part.exposure),
            direction: part.direction.or(self.direction),
        }
    }
}

impl Plan {
    /// What the plan asks before any of its parts.
    pub fn asked(&self) -> Asked {
        Asked { interval_s: self.interval_s, exposure: self.exposure.clone(), direction: self.rig.direction }
    }

    /// True where a part has an interval of its own: no one interval then holds throughout.
    pub fn changes_interval(&self) -> bool {
        self.parts.iter().any(|part| part.interval_s.is_some())
    }

    /// True where the timer counts from shutter close.
    pub fn from_close(&self) -> bool {
        self.counted_from == Some(CountedFrom::Close)
    }

    /// Exposures in each slot, at least 1.
    pub fn members(&self) -> u32 {
        self.bracket.unwrap_or(1).max(1)
    }

    /// The exposures of a slot about a middle one, s: a stop apart, the shortest first (common practice, no
    /// source).
    pub fn set_of(&self, exposure_s: f64) -> impl Iterator<Item = f64> + use<> {
        let members = i32::try_from(self.members()).unwrap_or(1);
        (0..members).map(move |k| exposure_s * f64::from(k - members / 2).exp2())
    }
}

#[cfg(test)]
mod tests {
    use super::super::{PartStart, Planned};
    use super::*;

    #[test]
    fn a_part_keeps_what_it_does_not_name() {
        let plan = Plan {
            interval_s: Some(12.0),
            exposure: ExposurePlan {
                busy_s: Some(0.4),
                shutter_s: Some(Planned::Fixed(2.0)),
                ..ExposurePlan::default()
            },
            ..Plan::default()
        };
        let from = || Part::from(PartStart::Frame(5));
        let longer = ExposurePlan { shutter_s: Some(Planned::Fixed(8.0)), ..ExposurePlan::default() };
        let first = plan.asked().then(&Part { interval_s: Some(6.0), direction: Some(Way::Left), ..from() });
        let second = first.then(&Part { exposure: longer, ..from() });
        assert_eq!((second.interval_s, second.direction), (Some(6.0), Some(Way::Left)));
        assert_eq!(second.exposure.shutter_s, Some(Planned::Fixed(8.0)));
        assert_eq!(second.exposure.busy_s, Some(0.4));
        let set = Plan { bracket: Some(3), ..plan };
        assert_eq!(set.set_of(2.0).collect::<Vec<_>>(), [1.0, 2.0, 4.0]);
    }
}
