//! The pictures of a course, compared with each other.

use super::compare::{Marks, Plane, Shift, count};
use crate::evidence::picture::{CELLS, Pictured};
use crate::stats::median;

/// The frames on a side change among themselves by less than this share of what is covered.
const STEADY: f32 = 0.35;
/// Pairs of neighbours from which the usual step of the camera is taken.
const SAMPLED: usize = 40;
/// How far apart those pairs are, frames: the nearest first.
const LAGS: [usize; 3] = [1, 4, 12];
/// Frames to either side of a spell that are asked whether they are steady.
const ASIDE: usize = 4;
/// How far around the expected place the sides are laid over one another, cells.
pub(crate) const REACH: f32 = 1.0;

/// A cell that becomes another in more than this share of the steps of most parts of the run is restless:
/// water, leaves, a street. It tells nothing.
const RESTLESS: f32 = 1.0 / 3.0;
/// Parts of the run, and in how many of them a cell must be restless: what stands before the lens for nearly
/// half of the run may move, too.
const PARTS: usize = 12;
const MOST_PARTS: u32 = 8;
/// It may as well hide water for as long, which is then restless in so many parts.
const HALF_OF_PARTS: u32 = 5;
/// Of the changes from frame to frame, the one above so large a share of them is the usual one: what moves
/// before the lens for nearly half of the run is not.
const USUAL: f64 = 0.4;

/// The smallest share of the picture that is told, and how many times what usually changes from frame to
/// frame.
const LEAST: f32 = 0.2;
const TIMES_USUAL: f32 = 4.0;

/// The pictures of a course, and how they usually follow each other.
pub(crate) struct Reel<'a> {
    told: Pictured<'a>,
    /// Positions in capture order.
    pub seen: Vec<usize>,
    settings_known: bool,
    /// How far each picture lies from the one before it, usually.
    pub step: Shift,
    /// Cells that tell nothing.
    restless: Marks,
    /// The share of the picture that usually becomes another from one frame to the next.
    pub usual: f32,
    /// What becomes another from each picture to the next, restless cells too, and the share that does.
    steps: Vec<Packed>,
    changes: Vec<f32>,
}

impl<'a> Reel<'a> {
    /// Of the pictures at those positions.
    pub(crate) fn new(told: Pictured<'a>, seen: Vec<usize>) -> Self {
        let known = |at: &usize| told.exposure.ev100(*at).is_some();
        let settings_known = seen.iter().all(known);
        let mut reel = Self {
            told,
            seen,
            settings_known,
            step: Shift::default(),
            restless: [false; CELLS],
            usual: 0.0,
            steps: Vec::new(),
            changes: Vec::new(),
        };
        reel.step = usual_step(&reel);
        let step_at = |k: usize| reel.step_at(k).unwrap_or([false; CELLS]);
        reel.steps = (1..reel.seen.len()).map(|k| Packed::of(&step_at(k))).collect();
        let restless = restless_cells(&reel.steps, MOST_PARTS);
        reel.without(restless);
        reel
    }

    /// The same without the cells that are restless for half of the run; `None` where there are no more of
    /// them.
    pub(crate) fn calmer(mut self) -> Option<Self> {
        let restless = restless_cells(&self.steps, HALF_OF_PARTS);
        if restless == self.restless {
            return None;
        }
        self.without(restless);
        Some(self)
    }

    /// Leaves those cells out.
    fn without(&mut self, restless: Marks) {
        self.restless = restless;
        self.changes = self.steps.iter().map(|marks| self.share(&marks.marks())).collect();
        let mut sorted = self.changes.clone();
        sorted.sort_by(f32::total_cmp);
        self.usual = sorted.get((USUAL * sorted.len() as f64) as usize).copied().unwrap_or(0.0);
    }

    /// The share of the cells that tell anything, 0 to 1.
    pub(crate) fn telling(&self) -> f32 {
        (CELLS - count(&self.restless)) as f32 / CELLS as f32
    }

    /// The smallest share that is told of what stands before the lens in this run, 0 to 1.
    pub(crate) fn least_told(&self) -> f32 {
        LEAST.max(TIMES_USUAL * self.usual)
    }

    /// The share of the picture that is marked, of what of it tells anything, 0 to 1.
    pub(crate) fn share(&self, marks: &Marks) -> f32 {
        let marked = (0..CELLS).filter(|i| marks[*i] && !self.restless[*i]).count();
        marked as f32 / (CELLS - count(&self.restless)).max(1) as f32
    }

    /// The share of picture `k` that is another than the one before it shows, 0 to 1.
    pub(crate) fn change(&self, k: usize) -> f32 {
        k.checked_sub(1).and_then(|k| self.changes.get(k)).copied().unwrap_or(0.0)
    }

    /// Picture `k`.
    pub(crate) fn plane(&self, k: usize) -> Option<Plane> {
        let at = *self.seen.get(k)?;
        let settings = self.told.exposure.settings.get(at).filter(|_| self.settings_known);
        let let_in = settings.and_then(|s| s.ev100()).map_or(0.0, |ev| -ev as f32);
        Some(Plane::of(self.told.frames.look(at)?, let_in))
    }

    /// Picture `k` as it would lie in the place of picture `at`.
    pub(crate) fn plane_at(&self, k: usize, at: usize) -> Option<Plane> {
        Some(self.plane(k)?.shifted(self.step.times(at as f32 - k as f32)))
    }

    /// Cells of picture `b` that are unlike picture `a`, which lies `by` away from it. Restless ones are
    /// none.
    pub(crate) fn unlike(&self, a: usize, b: usize, by: Shift) -> Option<Marks> {
        let marks = self.plane(b)?.unlike(&self.plane(a)?.shifted(by));
        Some(std::array::from_fn(|i| marks[i] && !self.restless[i]))
    }

    /// The same at the usual step, as a share of the picture.
    pub(crate) fn apart(&self, a: usize, b: usize) -> Option<f32> {
        Some(self.share(&self.unlike(a, b, self.step.times(b as f32 - a as f32))?))
    }

    /// The same of neighbours, at the usual step.
    fn step_at(&self, k: usize) -> Option<Marks> {
        self.unlike(k.checked_sub(1)?, k, self.step)
    }

    /// True where frames beside `k`, on its way to `towards`, are like it, or there are none.
    pub(crate) fn steady(&self, k: usize, back: bool, covered: f32) -> bool {
        let mut any = false;
        for d in 1..=ASIDE {
            let beside = if back { k.checked_sub(d) } else { Some(k + d).filter(|j| *j < self.seen.len()) };
            let Some(beside) = beside else { break };
            any = true;
            let by = self.step.times(if back { d as f32 } else { -(d as f32) });
            if self.unlike(beside, k, by).is_some_and(|m| self.share(&m) <= STEADY * covered) {
                return true;
            }
        }
        !any
    }
}

/// The median shift from one picture to the next, from pairs that are spread over the run: neighbours first,
/// then pairs that are farther apart, which tell it finer.
fn usual_step(reel: &Reel<'_>) -> Shift {
    let mut step = Shift::default();
    for apart in LAGS {
        let Some(pairs) = reel.seen.len().checked_sub(apart) else { break };
        let near = step.times(apart as f32);
        let every = pairs.div_ceil(SAMPLED).max(1);
        let shifts: Vec<Shift> = (0..pairs)
            .step_by(every)
            .filter_map(|k| Some(reel.plane(k + apart)?.shift_from(&reel.plane(k)?, near, REACH)))
            .collect();
        let middle =
            |of: fn(&Shift) -> f32| median(shifts.iter().map(|s| f64::from(of(s)))).map(|m| m as f32);
        let (Some(across), Some(down)) = (middle(|s| s.across), middle(|s| s.down)) else { break };
        step = Shift { across, down }.times(1.0 / apart as f32);
    }
    step
}

/// Marks in bits: a long run has many.
struct Packed([u64; CELLS.div_ceil(64)]);

impl Packed {
    fn of(marks: &Marks) -> Self {
        let mut bits = [0; CELLS.div_ceil(64)];
        for (i, _) in marks.iter().enumerate().filter(|(_, m)| **m) {
            bits[i / 64] |= 1 << (i % 64);
        }
        Self(bits)
    }

    fn marks(&self) -> Marks {
        std::array::from_fn(|i| self.0[i / 64] >> (i % 64) & 1 == 1)
    }
}

/// Cells that become another in many steps of so many parts of the run.
fn restless_cells(steps: &[Packed], most: u32) -> Marks {
    let mut parts = [0_u32; CELLS];
    for part in steps.chunks(steps.len().div_ceil(PARTS).max(1)) {
        let mut times = [0_u32; CELLS];
        for step in part {
            for (n, marked) in times.iter_mut().zip(step.marks()) {
                *n += u32::from(marked);
            }
        }
        for (cell, n) in parts.iter_mut().zip(times) {
            *cell += u32::from(n as f32 > RESTLESS * part.len() as f32);
        }
    }
    parts.map(|n| n >= most)
}
