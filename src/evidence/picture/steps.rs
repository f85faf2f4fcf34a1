//! Steps in a course: where it goes on at another level.

use crate::stats::median;

/// A step of what the settings do not explain, between two frames of a course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LightStep {
    /// Position of the frame before, in capture order.
    pub before: usize,
    /// Position of the frame after.
    pub after: usize,
    /// By how much, EV; brighter is positive.
    pub ev: f64,
    /// By how much the clip as it was shot steps there, EV: near 0 where the settings took it up.
    pub shown_ev: f64,
}

/// Frames on either side that a step is told from: an even number, so that what alternates is no step.
const BESIDE: usize = 6;
/// Fewest of them.
const FEWEST: usize = 4;
/// The smallest step that is one, EV.
pub(super) const LEAST_EV: f64 = 0.1;
/// How far above the unrest of both sides a step stands.
const ABOVE: f64 = 5.0;
/// A step is made at once: the change at its place and the change of the level are this share of each other
/// at least.
const AT_ONCE: f64 = 0.6;

/// Places at which a course goes on at another level: (index of the first value after it, size). NaN is
/// passed over.
pub(crate) fn find(values: &[f64]) -> Vec<(usize, f64)> {
    let known: Vec<usize> = (0..values.len()).filter(|i| !values[*i].is_nan()).collect();
    // Six frames may be quiet by chance in a course that is not.
    let everywhere = median(known.windows(2).map(|w| (values[w[1]] - values[w[0]]).abs())).unwrap_or(0.0);
    let mut found: Vec<(usize, f64)> = Vec::new();
    for k in 1..known.len() {
        let beside = |range: std::ops::Range<usize>| -> Option<(f64, f64, f64)> {
            let of = known.get(range)?;
            if of.len() < FEWEST {
                return None;
            }
            let level = median(of.iter().map(|i| values[*i]))?;
            let unrest = median(of.windows(2).map(|w| (values[w[1]] - values[w[0]]).abs()))?;
            let drift = median(of.windows(2).map(|w| values[w[1]] - values[w[0]]))?;
            Some((level, unrest, drift))
        };
        let before = beside(k.saturating_sub(BESIDE)..k);
        let after = beside(k..(k + BESIDE).min(known.len()));
        let (Some((low, a, da)), Some((high, b, db))) = (before, after) else { continue };
        // What both sides drift by anyway is no step.
        let drift = f64::midpoint(da, db);
        let size = high - low - drift * BESIDE as f64;
        let jump = values[known[k]] - values[known[k - 1]] - drift;
        let stands = size.abs() > LEAST_EV.max(ABOVE * a.max(b).max(everywhere))
            && jump * size > 0.0
            && jump.abs() > AT_ONCE * size.abs()
            && size.abs() > AT_ONCE * jump.abs();
        if stands {
            // One place only for each step: the steepest.
            match found.last_mut() {
                Some(last) if known[k] - last.0 <= BESIDE => {
                    if size.abs() > last.1.abs() {
                        *last = (known[k], size);
                    }
                }
                _ => found.push((known[k], size)),
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_found_at_its_place_and_nothing_else_is() {
        let step: Vec<f64> =
            (0..60).map(|k| if k < 33 { 0.0 } else { 0.4 } + 0.003 * f64::from(k % 3)).collect();
        let found = find(&step);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].0, 33);
        assert!((found[0].1 - 0.4).abs() < 0.03);
        let ramp: Vec<f64> = (0..60).map(|k| -0.05 * f64::from(k)).collect();
        assert!(find(&ramp).is_empty());
        let alternating: Vec<f64> = (0..60).map(|k| if k % 2 == 0 { 0.2 } else { 0.0 }).collect();
        assert!(find(&alternating).is_empty());
        let mut odd = vec![0.0; 60];
        odd[20] = 0.7;
        assert!(find(&odd).is_empty());
        // Three frames that come and go at once.
        odd[21..23].fill(0.7);
        assert!(find(&odd).is_empty());
        assert!(find(&[]).is_empty());
    }
}
