//! Local lines and smooth courses of a series.

use super::median;

/// How far from the line, in robust standard deviations over 4.685, a value still counts (Tukey's bisquare).
const BISQUARE: f64 = 4.685;
/// Rounds of weighing down what lies far from the line.
const ROUNDS: usize = 3;
/// A spread under this is none: values are then on the line.
const NO_SPREAD: f64 = 1e-9;

/// The middle of a robust local line at each value (Cleveland, JASA 74, 1979): a line through the values up
/// to `half` places away, the near ones counting more (tricube), those far from the line less (bisquare). A
/// sunset lies on it; a single odd value does not bend it, and values that alternate lie evenly on both
/// sides. NaN is passed over, and stays NaN where nothing is near.
pub fn robust_line(values: &[f64], half: usize) -> Vec<f64> {
    let n = values.len();
    let tricube: Vec<f64> =
        (0..=half).map(|d| (1.0 - (d as f64 / (half + 1) as f64).powi(3)).powi(3)).collect();
    let mut trust = vec![1.0; n];
    let mut line = vec![f64::NAN; n];
    for round in 0..=ROUNDS {
        for (i, place) in line.iter_mut().enumerate() {
            *place = at(values, &trust, &tricube, i);
        }
        if round == ROUNDS {
            break;
        }
        let away = |i: usize| (values[i] - line[i]).abs();
        // The spread is local too: a quiet hour must not make a rough one into outliers.
        let spread = local_medians(&(0..n).map(away).collect::<Vec<_>>(), 2 * half);
        for i in 0..n {
            let scale = BISQUARE * spread[i] / 0.6745;
            let u = away(i) / scale;
            trust[i] = match () {
                () if scale.is_nan() || scale < NO_SPREAD => f64::from(u8::from(away(i) < NO_SPREAD)),
                () if u < 1.0 => (1.0 - u * u).powi(2),
                () => 0.0,
            };
        }
    }
    line
}

fn at(values: &[f64], trust: &[f64], tricube: &[f64], i: usize) -> f64 {
    let half = tricube.len() - 1;
    let range = i.saturating_sub(half)..(i + half + 1).min(values.len());
    let (mut w, mut wx, mut wy, mut wxx, mut wxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut plain = (0.0, 0.0);
    for j in range {
        let y = values[j];
        if y.is_nan() {
            continue;
        }
        let near = tricube[i.abs_diff(j)];
        plain = (plain.0 + near, plain.1 + near * y);
        let weight = near * trust[j];
        let x = j as f64 - i as f64;
        w += weight;
        wx += weight * x;
        wy += weight * y;
        wxx += weight * x * x;
        wxy += weight * x * y;
    }
    let spread = w * wxx - wx * wx;
    match () {
        () if spread > 1e-9 * w * w && w > 1e-6 => (wy * wxx - wx * wxy) / spread,
        () if w > 1e-6 => wy / w,
        () if plain.0 > 0.0 => plain.1 / plain.0,
        () => f64::NAN,
    }
}

/// The median around each value, taken at every so many places and kept between them: a slow quantity.
fn local_medians(values: &[f64], half: usize) -> Vec<f64> {
    let stride = half.div_ceil(4).max(1);
    let mut out = Vec::with_capacity(values.len());
    let mut kept = f64::NAN;
    for i in 0..values.len() {
        if i % stride == 0 {
            let range = i.saturating_sub(half)..(i + half + 1).min(values.len());
            kept = median(values[range].iter().copied()).unwrap_or(f64::NAN);
        }
        out.push(kept);
    }
    out
}

/// The mean of the values up to `half` places away, three times over (close to a bell), linear in the number
/// of values. At the ends the window shrinks evenly on both sides, so that a straight course stays straight.
/// NaN is passed over.
pub fn smooth(values: &[f64], half: usize) -> Vec<f64> {
    let mut now = values.to_vec();
    for _ in 0..3 {
        let mut sums = Vec::with_capacity(now.len() + 1);
        let mut counts = Vec::with_capacity(now.len() + 1);
        sums.push(0.0);
        counts.push(0_u32);
        let (mut sum, mut count) = (0.0, 0);
        for v in &now {
            if !v.is_nan() {
                sum += v;
                count += 1;
            }
            sums.push(sum);
            counts.push(count);
        }
        let n = now.len();
        for (i, v) in now.iter_mut().enumerate() {
            let half = half.min(i).min(n - 1 - i);
            let (from, to) = (i - half, i + half + 1);
            let count = counts[to] - counts[from];
            *v = if count == 0 { f64::NAN } else { (sums[to] - sums[from]) / f64::from(count) };
        }
    }
    now
}

/// Root of the mean of the squares; NaN is left out; `None` without values.
pub fn rms(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let (n, sum) =
        values.into_iter().filter(|v| !v.is_nan()).fold((0_u64, 0.0), |(n, s), v| (n + 1, s + v * v));
    (n > 0).then(|| (sum / n as f64).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, by: f64) -> bool {
        (a - b).abs() < by
    }

    #[test]
    fn a_straight_course_is_its_own_line_and_an_odd_value_does_not_bend_it() {
        let mut values: Vec<f64> = (0..80).map(|k| 3.0 - 0.02 * f64::from(k)).collect();
        let clean = robust_line(&values, 12);
        assert!(values.iter().zip(&clean).all(|(v, l)| close(*v, *l, 1e-9)));
        values[40] += 0.5;
        let line = robust_line(&values, 12);
        assert!(line.iter().enumerate().all(|(k, l)| close(*l, 3.0 - 0.02 * k as f64, 1e-6)), "{line:?}");
    }

    #[test]
    fn values_that_alternate_lie_on_both_sides() {
        let values: Vec<f64> = (0..60).map(|k| if k % 2 == 0 { 0.1 } else { -0.1 }).collect();
        let line = robust_line(&values, 12);
        assert!(line[5..55].iter().all(|l| l.abs() < 0.01), "{line:?}");
    }

    #[test]
    fn gaps_are_passed_over() {
        let mut values: Vec<f64> = (0..50).map(f64::from).collect();
        values[10..13].fill(f64::NAN);
        let line = robust_line(&values, 6);
        assert!(close(line[11], 11.0, 1e-9));
        assert!(robust_line(&[f64::NAN; 5], 3).iter().all(|l| l.is_nan()));
        assert!(robust_line(&[], 3).is_empty());
    }

    #[test]
    fn smooth_keeps_a_straight_course_and_evens_out_stairs() {
        let straight: Vec<f64> = (0..40).map(|k| 2.0 * f64::from(k)).collect();
        assert!(smooth(&straight, 9).iter().zip(&straight).all(|(a, b)| close(*a, *b, 1e-9)));
        // Thirds of a stop every 20 frames.
        let stairs: Vec<f64> = (0..400).map(|k| f64::from(k / 20) / 3.0).collect();
        let even = smooth(&stairs, 20);
        let steps = even[70..330].windows(2).map(|w| w[1] - w[0]);
        assert!(steps.clone().all(|s| close(s, 1.0 / 60.0, 0.004)), "{:?}", steps.collect::<Vec<_>>());
    }

    #[test]
    fn roots_of_mean_squares() {
        assert_eq!(rms([3.0, -3.0, f64::NAN]), Some(3.0));
        assert_eq!(rms([]), None);
    }
}
