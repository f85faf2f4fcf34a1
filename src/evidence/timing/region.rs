//! The set of all lines that pass through every window seen so far: a convex polygon in (interval, phase),
//! clipped by two half-planes a frame. Source: J. O'Rourke, "An on-line algorithm for fitting straight lines
//! between data ranges", CACM 24(9), 1981; discrete geometry knows it as digital-line recognition.
//!
//! The phase is kept at the newest frame (the line's value at that frame's slot minus the frame's stamp), so
//! that the numbers stay small however long the run is.

/// Slack for rounding in the clipping, s: a thousandth of the finest stamp step.
const ROUNDING_S: f64 = 1e-9;

/// All lines that are still possible.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// Corners (interval in s, phase at the newest frame in s), in order round the polygon.
    corners: Vec<(f64, f64)>,
}

impl Region {
    /// Every line with an interval in `low..=high` that passes through the first window, `−widening` to
    /// `resolution + widening` seconds from the stamp.
    pub fn open(interval: (f64, f64), window: (f64, f64)) -> Self {
        let ((t0, t1), (v0, v1)) = (interval, window);
        Self { corners: vec![(t0, v0), (t1, v0), (t1, v1), (t0, v1)] }
    }

    /// The shortest and longest interval of any line left, s.
    pub fn intervals(&self) -> (f64, f64) {
        self.corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), c| (lo.min(c.0), hi.max(c.0)))
    }

    /// The lowest and highest phase after `slots` more slots and `seconds` more on the stamps, s.
    pub fn phases_after(&self, slots: i64, seconds: f64) -> (f64, f64) {
        let k = slots as f64;
        self.corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), c| {
            let v = c.0 * k + (c.1 - seconds);
            (lo.min(v), hi.max(v))
        })
    }

    /// The lines that also pass through the window of a frame `slots` slots and `seconds` seconds after the
    /// newest one; `None` where there are none.
    pub fn through(&self, slots: i64, seconds: f64, window: (f64, f64)) -> Option<Self> {
        let mut next = self.clone();
        next.pass(slots, seconds, window).then_some(next)
    }

    /// Keeps the lines that also pass through that window; false, with nothing of use left, where there are
    /// none.
    pub fn pass(&mut self, slots: i64, seconds: f64, window: (f64, f64)) -> bool {
        let k = slots as f64;
        let (low, high) = (window.0 - ROUNDING_S, window.1 + ROUNDING_S);
        let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
        for corner in &mut self.corners {
            corner.1 += corner.0 * k - seconds;
            (lowest, highest) = (lowest.min(corner.1), highest.max(corner.1));
        }
        if lowest > high || highest < low {
            return false;
        }
        if lowest < low {
            self.corners = clip(&self.corners, |c| c.1 - low);
        }
        if highest > high {
            self.corners = clip(&self.corners, |c| high - c.1);
        }
        if lowest < low || highest > high {
            distinct(&mut self.corners);
        }
        self.corners.len() >= 3
    }

    /// The lines whose interval lies in `low..=high`; `None` where there are none.
    pub fn with_interval(&self, low: f64, high: f64) -> Option<Self> {
        let above = clip(&self.corners, |c| c.0 - low);
        let inside = clip(&above, |c| high - c.0);
        (inside.len() >= 3).then_some(Self { corners: inside })
    }

    /// Its area, s².
    pub fn area(&self) -> f64 {
        // Shoelace about the first corner, so that nearly equal large numbers do not cancel.
        let Some(&(x0, y0)) = self.corners.first() else { return 0.0 };
        let twice: f64 = self.corners[1..]
            .windows(2)
            .map(|w| (w[0].0 - x0) * (w[1].1 - y0) - (w[1].0 - x0) * (w[0].1 - y0))
            .sum();
        (twice / 2.0).abs()
    }

    /// Its centre: the line that stands for all (interval in s, phase in s).
    pub fn centre(&self) -> (f64, f64) {
        let &(x0, y0) = match self.corners.first() {
            Some(c) => c,
            None => return (f64::NAN, f64::NAN),
        };
        let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
        for w in self.corners[1..].windows(2) {
            let (ax, ay, bx, by) = (w[0].0 - x0, w[0].1 - y0, w[1].0 - x0, w[1].1 - y0);
            let cross = ax * by - bx * ay;
            area += cross;
            x += cross * (ax + bx) / 3.0;
            y += cross * (ay + by) / 3.0;
        }
        if area.abs() > 1e-30 {
            return (x0 + x / area, y0 + y / area);
        }
        let n = self.corners.len() as f64;
        let sum = self.corners.iter().fold((0.0, 0.0), |s, c| (s.0 + c.0, s.1 + c.1));
        (sum.0 / n, sum.1 / n)
    }
}

/// The line of a reading is only known to lie in its polygon: no single stamp is held to be rarer than this.
pub(super) const RAREST: f64 = 0.1;

/// What it costs, nats, that the line of a reading passes a stamp's window near its edge or in what it was
/// widened by: a timer whose every shot may be early or late by the widening (evenly, for want of better)
/// would have written another stamp so often. Without this price a timer of exactly so many steps of the
/// clock, on the edge between two of them, explains any stamps.
pub(super) fn at_the_edge(region: &Region, window: (f64, f64)) -> f64 {
    let widening = -window.0;
    if widening <= 0.0 {
        return 0.0;
    }
    let (resolution, phase) = (window.1 - widening, region.centre().1);
    let share = (phase + widening).min(resolution) - (phase - widening).max(0.0);
    -(share / resolution.min(2.0 * widening)).clamp(RAREST, 1.0).ln()
}

/// Corners closer to the one before than this share of the polygon's extent are one corner: rounding makes
/// slivers of them, and a million frames would make a million corners.
const SAME_CORNER: f64 = 1e-9;

fn distinct(corners: &mut Vec<(f64, f64)>) {
    if corners.len() <= 6 {
        return;
    }
    let extent = |axis: fn(&(f64, f64)) -> f64| {
        let (low, high) = corners
            .iter()
            .map(axis)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        (high - low) * SAME_CORNER
    };
    let (near_t, near_v) = (extent(|c| c.0), extent(|c| c.1));
    corners.dedup_by(|b, a| (b.0 - a.0).abs() <= near_t && (b.1 - a.1).abs() <= near_v);
}

/// Cuts a polygon by a half-plane (`side` is not negative inside). A corner made by the cut is put exactly on
/// it.
fn clip(corners: &[(f64, f64)], side: impl Fn(&(f64, f64)) -> f64) -> Vec<(f64, f64)> {
    let mut out = Vec::with_capacity(corners.len() + 2);
    for (i, here) in corners.iter().enumerate() {
        let next = &corners[(i + 1) % corners.len()];
        let (a, b) = (side(here), side(next));
        if a >= 0.0 {
            out.push(*here);
        }
        if (a > 0.0 && b < 0.0) || (a < 0.0 && b > 0.0) {
            let share = a / (a - b);
            out.push((share * (next.0 - here.0) + here.0, share * (next.1 - here.1) + here.1));
        }
    }
    out
}
