//! What speaks for a part at an end of a job being the run's own: its pace, its number of frames, what the
//! plan still lacks, and how it was exposed.

use super::ends;
use super::placement::How;
use super::run::{Choice, OWN_FRAMES, Part};
use std::ops::Range;

/// An interval this near the run's, as a share, is the same timer's.
pub(crate) const NEAR_PACE: f64 = 0.05;
/// What nothing else outweighs, nats.
pub(crate) const SETTLED: f64 = 40.0;

/// A part beside the main one of a job.
pub(super) struct Beside<'a> {
    /// What the run is chosen from.
    pub choice: &'a Choice<'a>,
    /// The part.
    pub part: &'a Part,
    /// The main part of the job.
    pub main: &'a Part,
    /// True where the exposure of the main part stays as it is.
    pub locked: bool,
    /// The part next to it on the side of the run.
    pub nearer: Option<&'a Part>,
    /// Frames of the run without this part and what is farther out.
    pub without: u64,
}

impl Beside<'_> {
    /// What speaks for the part, nats: surely so where it is long enough, or on the run's pace and asked for;
    /// else by how rarely shots by hand would keep its pace.
    pub(super) fn evidence(&self) -> f64 {
        let (Some(own), Some(of_run)) = (self.part.interval, self.main.interval) else {
            // Too many frames to be shots by hand, whatever they keep.
            let many = self.part.on >= 2 * OWN_FRAMES;
            return if many { SETTLED } else { self.owed() + self.echo() };
        };
        // What the plan counts on is there without it.
        if self.choice.frames.is_some_and(|asked| self.without >= asked) {
            return -SETTLED;
        }
        let (step, keep) = self.usual_step();
        let paced = self.part.chained_within_s.is_some() || self.is_on() && keep;
        if self.is_a_timers(own, of_run, paced) {
            return SETTLED;
        }
        if !(self.is_one_series() && paced) {
            return self.owed();
        }
        let pace = self.pace(own, of_run, step).max(self.echo());
        // A few frames of the timer before the settings were changed are a trial as often as not, however
        // well they keep its pace. It changes them no oftener by itself.
        match self.settings() {
            0 => pace + self.owed(),
            n => (pace - n as f64 * ends::SET_ANEW).clamp(self.owed(), ends::RARE),
        }
    }

    fn is_behind(&self) -> bool {
        self.part.first > self.main.last
    }

    fn frames(&self) -> usize {
        self.part.last - self.part.first + 1
    }

    /// The steps from stamp to stamp in the part and from it to the run, by the stamp before each.
    fn reach(&self) -> Range<usize> {
        let from = self.part.first.saturating_sub(usize::from(self.is_behind()));
        let to = self.part.last + usize::from(self.part.last < self.main.first);
        from..to.min(self.choice.places.len() - 1)
    }

    fn is_one_series(&self) -> bool {
        self.reach().all(|i| self.choice.neighbours.run_on(i, i + 1))
    }

    /// How often a setting of a locked run changes on the way.
    fn settings(&self) -> usize {
        self.reach().filter(|i| self.locked && self.choice.neighbours.differ(*i, *i + 1)).count()
    }

    /// What speaks for the part where the plan lacks its frames, nats: something happened, and a stop is then
    /// no rarer than shots by hand.
    fn owed(&self) -> f64 {
        let lacks = self.lacking() >= self.frames() as i64 && self.is_one_series();
        if lacks && !self.reach().any(|i| self.choice.other_set_up(i)) {
            (ends::RARE - self.settings() as f64 * ends::SET_ANEW).max(0.0)
        } else {
            0.0
        }
    }

    /// Slots that the plan asks for and the run does not have from this part, left out, to the far end.
    fn lacking(&self) -> i64 {
        let Some(asked) = self.choice.frames_or_length else { return 0 };
        let place = |at: usize| self.choice.places[at].slot;
        let there = if self.part.last < self.main.first {
            place(self.main.last) - place(self.part.last + 1) + 1
        } else {
            place(self.part.first - 1) - place(self.main.first) + 1
        };
        asked as i64 - there
    }

    /// True where every frame of the part stands on the grid.
    fn is_on(&self) -> bool {
        (self.part.first..=self.part.last).all(|i| self.choice.places[i].how == How::On)
    }

    /// Slots from frame to frame.
    fn steps(&self) -> impl Iterator<Item = i64> {
        let places = self.choice.places;
        (self.part.first + 1..=self.part.last).map(|i| places[i].slot - places[i - 1].slot)
    }

    /// The commonest step in slots, and whether half of the steps keep to it. Holes may stand in a part, as
    /// anywhere in the run. A timer at a whole number of the run's intervals is read as one that leaves out
    /// as many slots each time.
    fn usual_step(&self) -> (i64, bool) {
        let steps: Vec<i64> = self.steps().collect();
        let taken = |step: i64| steps.iter().filter(|s| **s == step).count();
        let step = steps.iter().copied().max_by_key(|s| (taken(*s), -s)).unwrap_or(1).max(1);
        (step, 2 * taken(step) >= steps.len())
    }

    /// True where the part is a timer's, and the run's: so many frames in a row on a line of their own are no
    /// chance, and nobody fires by hand at the timer's pace. A timer whose interval changed a little is still
    /// the run's.
    fn is_a_timers(&self, own: (f64, f64), of_run: (f64, f64), paced: bool) -> bool {
        let on = self.part.on;
        let same_pace = own.0 <= of_run.1 && own.1 >= of_run.0;
        let every_slot = || self.is_on() && self.steps().all(|step| step == 1);
        let asked_for = self.choice.frames.is_some_and(|f| self.without + self.frames() as u64 <= f);
        on >= 2 * OWN_FRAMES
            || (same_pace && on >= OWN_FRAMES)
            || (is_near(own, of_run) && paced && on >= OWN_FRAMES)
            || (same_pace && on >= 2 && asked_for && every_slot())
    }

    /// How unlikely it is, nats, that shots by hand keep the pace of the part.
    fn pace(&self, own: (f64, f64), of_run: (f64, f64), step: i64) -> f64 {
        // Two shots beside a run are at some distance; that two more are at the same one is another matter.
        let again = self.nearer.and_then(|p| p.interval).is_some_and(|to| is_near(own, to));
        // One frame places a line of the run's own interval, two one of any.
        let placed = if (is_near(own, of_run) && step == 1) || again { 1 } else { 2 };
        let window = self.part.chained_within_s.unwrap_or(self.slack_s());
        let step_s = 0.5 * (own.0 + own.1) * step as f64;
        (step_s / window).max(1.0).ln() * self.frames().saturating_sub(placed) as f64
    }

    /// How unlikely it is, nats, that shots by hand repeat a step of the part nearer to the run; 0 where none
    /// is repeated, or chance repeats one often enough.
    fn echo(&self) -> f64 {
        let Choice { by_number, stamps, .. } = *self.choice;
        // Lost files leave their numbers: the step is that of each of their slots.
        let slots = |i: usize| by_number[i].max(1) as f64;
        let seconds = |i: usize| (stamps[i] - stamps[i - 1]).seconds() / slots(i);
        // The step towards the run is a part's own as well.
        let towards = usize::from(!self.is_behind());
        let steps = |p: &Part| {
            let range = p.first + towards..=p.last + towards;
            range.filter(|i| (1..stamps.len()).contains(i)).map(seconds).collect::<Vec<_>>()
        };
        let Some(nearer) = self.nearer.filter(|p| p.last - p.first < 2 * OWN_FRAMES) else { return 0.0 };
        let slack = self.slack_s();
        let (own, theirs) = (steps(self.part), steps(nearer));
        let tries = (own.len() * theirs.len()) as f64;
        let alike = own.iter().filter(|a| theirs.iter().any(|b| (*a - b).abs() <= slack));
        let rarest = alike.map(|a| (a / (2.0 * slack * tries)).ln()).fold(0.0, f64::max);
        if rarest < ends::SURE { 0.0 } else { rarest }
    }

    /// The width of the window in which a stamp of an even pace falls, s.
    fn slack_s(&self) -> f64 {
        self.choice.asked.resolution_s() + 2.0 * self.choice.widening_s
    }
}

/// True for intervals, shortest and longest, of the same timer, perhaps changed a little.
fn is_near(own: (f64, f64), to: (f64, f64)) -> bool {
    own.0 <= to.1 * (1.0 + NEAR_PACE) && own.1 >= to.0 * (1.0 - NEAR_PACE)
}
