//! Working hours: when in the day frames are due, and for how long they are not. Moments are seconds of the
//! plan's clock; those of a later day may be past 86,400.

use super::DailyHours;

/// A day, s.
pub const DAY_S: f64 = 86_400.0;
/// How decimals become binary fractions, s.
pub(super) const HAIR_S: f64 = 1e-6;

impl DailyHours {
    /// How long they last, s; hours that end as they begin are the whole day.
    pub fn length_s(&self) -> f64 {
        let length = (f64::from(self.to_s) - f64::from(self.from_s)).rem_euclid(DAY_S);
        if length == 0.0 { DAY_S } else { length }
    }

    /// Seconds since they opened last.
    fn since_s(&self, clock_s: f64) -> f64 {
        (clock_s + HAIR_S - f64::from(self.from_s)).rem_euclid(DAY_S)
    }
}

/// Second of the day at which the first of the hours open; `None` where frames are due all day.
pub fn opens_s(active: &[DailyHours]) -> Option<f64> {
    active.iter().map(|h| f64::from(h.from_s)).reduce(f64::min)
}

/// Seconds to wait from a moment until frames are due again; 0 where they are.
pub fn rest_s(active: &[DailyHours], clock_s: f64) -> f64 {
    let wait = |h: &DailyHours| {
        let since = h.since_s(clock_s);
        if since < h.length_s() { 0.0 } else { DAY_S - since }
    };
    // A hair was added to meet the opening itself; less than two of them are no wait.
    let wait_s = active.iter().map(wait).reduce(f64::min).unwrap_or(0.0);
    if wait_s > 0.0 { wait_s + HAIR_S } else { 0.0 }
}

/// Seconds from a moment at which frames are due until they are no longer; without end where they always are.
pub fn awake_s(active: &[DailyHours], clock_s: f64) -> f64 {
    let left = |h: &DailyHours| {
        let since = h.since_s(clock_s);
        (since < h.length_s()).then(|| h.length_s() - since + HAIR_S)
    };
    if active.iter().any(|h| h.length_s() >= DAY_S) {
        return f64::INFINITY;
    }
    active.iter().filter_map(left).reduce(f64::max).unwrap_or(f64::INFINITY)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 20:00 to 05:00 and 07:00 to 08:00.
    #[test]
    fn rest_and_waking_hours() {
        let hours = |from: u32, to: u32| DailyHours { from_s: from * 3600, to_s: to * 3600 };
        let active = [hours(20, 5), hours(7, 8)];
        let near =
            |got: f64, hours: f64| assert!((got - hours * 3600.0).abs() < 1e-3, "{got} against {hours} h");
        assert_eq!(opens_s(&active), Some(7.0 * 3600.0));
        near(rest_s(&active, 5.0 * 3600.0), 2.0);
        near(rest_s(&active, 7.5 * 3600.0), 0.0);
        near(rest_s(&active, DAY_S + 19.0 * 3600.0), 1.0);
        near(awake_s(&active, 23.0 * 3600.0), 6.0);
        near(awake_s(&active, 7.25 * 3600.0), 0.75);
        assert_eq!((rest_s(&[], 0.0), awake_s(&[], 0.0)), (0.0, f64::INFINITY));
        assert_eq!(awake_s(&[hours(6, 6)], 0.0), f64::INFINITY);
    }
}
