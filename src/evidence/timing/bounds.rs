//! Exact bounds of an interval: every line through the windows of frames whose slots are known.

use super::region::Region;
use crate::units::Micros;

/// All lines through the windows of `(slot, stamp)` points, each window `resolution` wide from the stamp and
/// widened by `widening_s` at both ends. Slots must not decrease. `None` where no line passes, or with fewer
/// than two slots.
///
/// With no widening the intervals of the result are exactly those that the stamps allow, for floored and for
/// rounded stamps alike: `max (sⱼ − sᵢ − q)/(kⱼ − kᵢ) < T < min (sⱼ − sᵢ + q)/(kⱼ − kᵢ)`.
pub fn lines(
    points: impl IntoIterator<Item = (i64, Micros)>,
    resolution: Micros,
    widening_s: f64,
) -> Option<Region> {
    let window = (-widening_s, resolution.seconds() + widening_s);
    let mut points = points.into_iter();
    let (mut slot, mut stamp) = points.next()?;
    let mut region: Option<Region> = None;
    for (k, s) in points {
        let (slots, seconds) = (k - slot, (s - stamp).seconds());
        region = match region {
            None if slots == 0 => None,
            None => {
                let spread = window.1 - window.0 + 1e-6;
                let middle = seconds / slots as f64;
                Some(
                    Region::open((middle - spread, middle + spread), window)
                        .through(slots, seconds, window)?,
                )
            }
            Some(region) => Some(region.through(slots, seconds, window)?),
        };
        // Of frames that share the first slot the last one is the anchor.
        (slot, stamp) = (k, s);
    }
    region.filter(|r| r.area() > 0.0)
}
