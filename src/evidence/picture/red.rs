//! Changes to and from saturated red, of which red flashes are made.
//!
//! Sources: WCAG 2.2, definition of general and red flash thresholds (after ISO 9241-391); CIE 1976 u′v′.

/// A change from one extreme to the next: the index that it left and the one that it reached.
pub type Transition = (usize, usize);

/// Share of red in a state of saturated red: R / (R + G + B) in linear light.
const SHARE: f64 = 0.8;
/// Distance in CIE 1976 u′v′ beyond which a change to or from saturated red is a transition.
const DISTANCE: f64 = 0.2;
/// What equal numbers may differ by.
const HAIR: f64 = 1e-9;
/// So many states of a side are kept before those that cannot be the furthest from anything are dropped.
const KEPT: usize = 32;

/// A place on the chromaticity diagram and the index of the frame that shows it.
type State = (usize, [f64; 2]);

/// Opposing changes between saturated red and what is not, in linear red, green and blue, each of more than
/// `DISTANCE` in u′v′. A change that takes several frames is one: it leaves the state of its side that lies
/// furthest away, be it the last or not.
pub fn red(light: &[[f64; 3]]) -> Vec<Transition> {
    let mut found: Vec<Transition> = Vec::new();
    if !light.iter().any(|now| saturated(*now)) {
        return found;
    }
    // What each side has shown since the last transition, the side that one reached, what it left and how
    // far.
    let mut shown = [Side::default(), Side::default()];
    let mut reached: Option<(usize, [f64; 2], f64)> = None;
    for (k, now) in light.iter().enumerate() {
        let (side, place) = (usize::from(saturated(*now)), chromaticity(*now));
        match &mut reached {
            Some((on, left, far)) if *on == side => {
                let further = distance(*left, place);
                if further > *far + HAIR
                    && let Some(last) = found.last_mut()
                {
                    (*far, last.1) = (further, k);
                }
            }
            _ => {
                if let Some((from, left)) = shown[1 - side].furthest(place)
                    && distance(left, place) > DISTANCE
                {
                    found.push((from, k));
                    reached = Some((side, left, distance(left, place)));
                    shown = [Side::default(), Side::default()];
                }
            }
        }
        if reached.is_none_or(|(on, ..)| on == side) {
            shown[side].add(k, place);
        }
    }
    found
}

/// Those states of one side that can be the furthest from some place: the corners of the hull around all that
/// were shown, and the newest.
#[derive(Default)]
struct Side {
    states: Vec<State>,
    /// The hull is drawn anew at this many.
    full: usize,
}

impl Side {
    fn add(&mut self, frame: usize, place: [f64; 2]) {
        if self.states.last().is_some_and(|last| last.1 == place) {
            return;
        }
        self.states.push((frame, place));
        if self.states.len() > self.full.max(KEPT) {
            self.states = hull(std::mem::take(&mut self.states));
            self.full = 2 * self.states.len();
        }
    }

    fn furthest(&self, place: [f64; 2]) -> Option<State> {
        self.states.iter().copied().max_by(|a, b| distance(a.1, place).total_cmp(&distance(b.1, place)))
    }
}

/// Corners of the convex hull (monotone chain), in order of their frames.
fn hull(mut states: Vec<State>) -> Vec<State> {
    states.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]).then(a.1[1].total_cmp(&b.1[1])).then(a.0.cmp(&b.0)));
    let mut corners = half(states.iter());
    corners.extend(half(states.iter().rev()));
    corners.sort_by_key(|state| state.0);
    corners.dedup_by_key(|state| state.0);
    corners
}

fn half<'a>(states: impl Iterator<Item = &'a State>) -> Vec<State> {
    let mut corners: Vec<State> = Vec::new();
    for state in states {
        while let [.., a, b] = corners[..] {
            let turn = (b.1[0] - a.1[0]) * (state.1[1] - a.1[1]) - (b.1[1] - a.1[1]) * (state.1[0] - a.1[0]);
            if turn > 0.0 {
                break;
            }
            corners.pop();
        }
        corners.push(*state);
    }
    corners
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    f64::hypot(a[0] - b[0], a[1] - b[1])
}

/// CIE 1976 u′v′ of linear light (matrix of IEC 61966-2-1; black is taken as white).
fn chromaticity(light: [f64; 3]) -> [f64; 2] {
    let [r, g, b] = light;
    let x = 0.412_456_4 * r + 0.357_576_1 * g + 0.180_437_5 * b;
    let y = 0.212_672_9 * r + 0.715_152_2 * g + 0.072_175_0 * b;
    let z = 0.019_333_9 * r + 0.119_192_0 * g + 0.950_304_1 * b;
    let sum = x + 15.0 * y + 3.0 * z;
    if sum > 0.0 { [4.0 * x / sum, 9.0 * y / sum] } else { [0.197_84, 0.468_32] }
}

fn saturated(light: [f64; 3]) -> bool {
    let sum: f64 = light.iter().sum();
    sum > 0.0 && light[0] / sum >= SHARE - 1e-12
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::light::decoded;

    fn light(code: u8) -> f64 {
        decoded(f64::from(code) / 255.0)
    }

    /// u′v′ of the primaries and distances between them, by numpy.
    #[test]
    fn saturated_red() {
        let of = |rgb: [u8; 3]| rgb.map(light);
        let distance = |a: [u8; 3], b: [u8; 3]| {
            let (a, b) = (chromaticity(of(a)), chromaticity(of(b)));
            super::distance(a, b)
        };
        assert!((distance([255, 0, 0], [255; 3]) - 0.25877).abs() < 1e-4);
        assert!((distance([255, 0, 0], [0, 0, 255]) - 0.45719).abs() < 1e-4);
        assert!((distance([200, 60, 60], [60; 3]) - 0.17899).abs() < 1e-4);
        assert!(saturated(of([200, 60, 60])));
        let series = |a: [u8; 3], b: [u8; 3]| -> Vec<[f64; 3]> {
            (0..8).map(|k| of(if k % 2 == 0 { a } else { b })).collect()
        };
        assert_eq!(red(&series([255, 0, 0], [0; 3])).len(), 7);
        assert_eq!(red(&series([200, 60, 60], [60; 3])).len(), 0, "saturated, and too near");
    }

    /// Pure red, and a paler red that is saturated still but too near to grey by itself: a flash may pass
    /// through it.
    const REDS: [[u8; 3]; 2] = [[255, 0, 0], [200, 60, 60]];

    fn of(codes: &[[u8; 3]]) -> Vec<Transition> {
        red(&codes.iter().map(|rgb| rgb.map(light)).collect::<Vec<_>>())
    }

    #[test]
    fn a_flash_that_comes_and_goes_over_several_frames_is_one() {
        let [pure, pale] = REDS;
        let grey = [60; 3];
        let fades = [grey, pale, pure, pale].repeat(4);
        let ends = [(0, 2), (2, 4), (4, 6), (6, 8), (8, 10), (10, 12), (12, 14)];
        assert_eq!(of(&fades), ends, "its peak lies one frame within");
        assert_eq!(of(&[grey, pure, pale].repeat(2)), [(0, 1), (1, 3), (3, 4)]);
        // What is no red is no flash either, however pale the red between.
        assert!(of(&[grey, pale, grey, pale]).is_empty());
        // The way from pure red to grey lies over frames that differ little from each.
        assert_eq!(of(&[pure, pale, [190, 90, 90], grey]), [(0, 3)]);
    }

    #[test]
    fn the_furthest_state_of_a_side_counts_from_the_first_frame_on() {
        let [pure, pale] = REDS;
        assert_eq!(of(&[pure, pale, [60; 3], pale, pure]), [(0, 2), (2, 4)]);
        assert_eq!(of(&[[0, 255, 255], [110, 80, 80], pale]), [(0, 2)]);
    }

    /// Thousands of states of one side are kept as their hull, and the furthest is the furthest of all.
    #[test]
    fn the_hull_holds_what_can_be_furthest() {
        let places: Vec<[f64; 2]> = (0..5000_u32)
            .map(|k| {
                let (turn, out) =
                    (f64::from(k) * 2.4, f64::from(k.wrapping_mul(2_654_435_761) >> 16) / 65_536.0);
                [0.3 + 0.1 * out * turn.cos(), 0.4 + 0.1 * out * turn.sin()]
            })
            .collect();
        let mut side = Side::default();
        places.iter().enumerate().for_each(|(k, place)| side.add(k, *place));
        assert!(side.states.len() < 400, "{}", side.states.len());
        for from in [[0.0, 0.0], [0.5, 0.1], [0.31, 0.42], [0.2, 0.9]] {
            let furthest = side.furthest(from).expect("a state").1;
            let most = places.iter().map(|place| super::distance(*place, from)).fold(0.0, f64::max);
            assert!((super::distance(furthest, from) - most).abs() < HAIR);
        }
    }
}
