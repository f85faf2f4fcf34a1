//! How long a battery lasts, and in the cold.
//!
//! The factors are planning factors (common practice, from memory): full hours from 20 °C on, three quarters
//! at freezing, half at −10 °C, a quarter at −20 °C. They are for cells that were rated in the warm and have
//! taken the temperature of the air; a battery kept warm loses less. Published pages on alkaline cells say
//! about half between −20 and 0 °C, and 20 to 50 % at −20 °C.

use super::RigPlan;

/// Temperature in °C and the share of the hours that is left.
const LEFT: [(f64, f64); 4] = [(20.0, 1.0), (0.0, 0.75), (-10.0, 0.5), (-20.0, 0.25)];

/// The coldest that the factors speak of, °C.
pub const COLDEST_C: f64 = -20.0;

/// Share of a battery's hours that is left at `temperature_c`, from 1 down to 0.25; straight lines between
/// the factors. Below −20 °C no factor is known and the last one is given: it may be less.
pub fn share_left(temperature_c: f64) -> f64 {
    let mut above = LEFT[0];
    if temperature_c >= above.0 {
        return above.1;
    }
    for here in LEFT {
        if temperature_c >= here.0 {
            let part = (temperature_c - here.0) / (above.0 - here.0);
            return here.1 + part * (above.1 - here.1);
        }
        above = here;
    }
    above.1
}

/// Hours that a rig's battery can be counted on, with what they were reckoned from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hours {
    /// As rated, in the warm: the plan's hours, or the least on a set of cells.
    pub rated_h: f64,
    /// The share that is left at the plan's temperature; 1 where none is said.
    pub share: f64,
    /// The most on a set of cells, derated alike; `None` where one number is planned.
    pub most_h: Option<f64>,
}

impl Hours {
    /// Of the rig; `None` where its plan says no hours.
    pub fn of(rig: &RigPlan) -> Option<Self> {
        let rated_h = rig.battery_hours.or_else(|| rig.hours_range.map(super::Planned::low))?;
        let share = rig.temperature_c.map_or(1.0, share_left);
        let range = rig.hours_range.filter(|_| rig.battery_hours.is_none());
        Some(Self { rated_h, share, most_h: range.map(|p| p.high() * share) })
    }

    /// What can be counted on, h.
    pub fn counted_h(&self) -> f64 {
        self.rated_h * self.share
    }
}

#[cfg(test)]
mod tests {
    use super::super::Planned;
    use super::*;

    /// The factors themselves, and half-way between two of them.
    #[test]
    fn the_cold_takes_its_share() {
        for (c, share) in [
            (35.0, 1.0),
            (20.0, 1.0),
            (10.0, 0.875),
            (0.0, 0.75),
            (-5.0, 0.625),
            (-10.0, 0.5),
            (-20.0, 0.25),
            (-40.0, 0.25),
        ] {
            assert!((share_left(c) - share).abs() < 1e-12, "{c}");
        }
    }

    /// Worked value: 2.5 Ah at 0.3 A last 8.33 h, half of it is 4.17 h.
    #[test]
    fn hours_of_a_set_of_cells() {
        let rig =
            |hours| RigPlan { battery_hours: Some(hours), temperature_c: Some(-10.0), ..RigPlan::default() };
        let hours = Hours::of(&rig(2.5 / 0.3)).expect("hours");
        assert!((hours.rated_h - 8.3333).abs() < 1e-4 && (hours.counted_h() - 4.1667).abs() < 1e-4);
        let cells = RigPlan { hours_range: Some(Planned::Between(4.0, 10.0)), ..RigPlan::default() };
        let hours = Hours::of(&cells).expect("hours");
        assert_eq!((hours.counted_h(), hours.most_h), (4.0, Some(10.0)));
        assert_eq!(Hours::of(&RigPlan::default()), None);
    }
}
