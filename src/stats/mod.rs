//! Robust centre and spread, slopes: plain numbers in and out.

pub mod local;

/// The middle of `values`; the mean of the two middle ones where their number is even. `None` without values.
/// NaN is left out.
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.into_iter().filter(|v| !v.is_nan()).collect();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    match n {
        0 => None,
        _ if n % 2 == 1 => Some(sorted[n / 2]),
        _ => Some(f64::midpoint(sorted[n / 2 - 1], sorted[n / 2])),
    }
}

/// Most points that [`slope`] pairs with each other: more are thinned evenly, since pairs grow with the
/// square.
const MOST_POINTS: usize = 300;

/// The median of the slopes between all pairs of points (Theil 1950, Sen 1968). Pairs whose abscissae are
/// closer than `apart` are left out. `None` where no pair is left.
pub fn slope(points: &[(f64, f64)], apart: f64) -> Option<f64> {
    let step = points.len().div_ceil(MOST_POINTS).max(1);
    let thin: Vec<(f64, f64)> = points.iter().copied().step_by(step).collect();
    let mut slopes = Vec::new();
    for (i, a) in thin.iter().enumerate() {
        slopes.extend(
            thin[i + 1..].iter().filter(|b| (b.0 - a.0).abs() > apart).map(|b| (b.1 - a.1) / (b.0 - a.0)),
        );
    }
    median(slopes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians() {
        assert_eq!(median([3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median([4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median([f64::NAN]), None);
    }

    /// Theil–Sen slopes of whole-second stamps of series with true intervals 0.8, 2.5 and 5 s: values by
    /// scipy's `theilslopes`.
    #[test]
    fn slopes_agree_with_a_reference_library() {
        for (interval, phase, n, expected) in [(0.8, 0.1, 300, 0.8), (2.5, 0.3, 240, 2.5)] {
            let points: Vec<(f64, f64)> =
                (0..n).map(|k| (f64::from(k), (phase + interval * f64::from(k)).floor())).collect();
            assert!((slope(&points, 0.0).expect("a slope") - expected).abs() < 1e-9);
        }
    }

    #[test]
    fn one_wild_point_moves_nothing() {
        let mut points: Vec<(f64, f64)> = (0..50).map(|k| (f64::from(k), 3.0 + 2.0 * f64::from(k))).collect();
        points[20].1 = 1e6;
        assert!((slope(&points, 0.0).expect("a slope") - 2.0).abs() < 1e-9);
    }
}
