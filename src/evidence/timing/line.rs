//! The line that some frames stand on, drawn on to frames beyond them.

use super::bounds;
use super::region::{RAREST, Region};
use crate::units::Micros;

/// A frame that the line reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reached {
    /// Its slot.
    pub slot: i64,
    /// False where the line misses it, and it fills the one slot between two frames that it holds: it came
    /// late or early.
    pub held: bool,
    /// Slots from the frame before it, at least 1.
    pub steps: i64,
    /// Evidence, nats, that the timer shot it: how much oftener it would have written this stamp than a shot
    /// at any time.
    pub nats: f64,
}

/// Draws the line through `points` (slot and stamp, in order) on to the stamps `beyond`, each in a slot of
/// its own, and stops at the first that it misses and that has no slot between two that it holds. `window` is
/// how far the line may pass before and behind a stamp, s. Empty where no line passes through the points.
pub(crate) fn drawn_on(
    points: &[(i64, Micros)],
    beyond: &[Micros],
    resolution: Micros,
    window: (f64, f64),
) -> Vec<Reached> {
    let mut out = Vec::with_capacity(beyond.len());
    let region = bounds::lines(points.iter().copied(), resolution, -window.0);
    let (Some(mut region), Some(&(mut slot, mut stamp))) = (region, points.last()) else { return out };
    let middle_s = 0.5 * resolution.seconds();
    let mut missed = false;
    for &next in beyond {
        let seconds = (next - stamp).seconds();
        let (interval, phase) = region.centre();
        let nearest = ((seconds + middle_s - phase) / interval).round();
        if !nearest.is_finite() || nearest.abs() > 1e15 {
            break;
        }
        let nearest = nearest as i64;
        let through = |k: i64| -> Option<(i64, Region)> { Some((k, region.through(k, seconds, window)?)) };
        let tried = [nearest, nearest - 1, nearest + 1].into_iter().filter(|k| *k > 0).find_map(through);
        let Some((steps, left)) = tried else {
            if std::mem::replace(&mut missed, true) {
                break;
            }
            continue;
        };
        if missed && steps != 2 {
            break;
        }
        // The share of the lines that pass there is how likely the timer wrote this stamp; a shot at any time
        // would have done so as often as its window is wide.
        let share = left.area() / region.area().max(f64::MIN_POSITIVE);
        let chance = ((window.1 - window.0) / interval).min(1.0);
        let mut before = slot;
        if std::mem::take(&mut missed) {
            before += 1;
            out.push(Reached { slot: before, held: false, steps: 1, nats: 0.0 });
        }
        (region, slot, stamp) = (left, slot + steps, next);
        let nats = (share.clamp(RAREST, 1.0) / chance).ln();
        out.push(Reached { slot, held: true, steps: slot - before, nats });
    }
    out
}
