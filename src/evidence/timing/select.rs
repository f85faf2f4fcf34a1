//! Reading and choosing in turn: shots around the run bend the reading, so what is left after a choice is read again by itself.

use super::days::{self, Read};
use super::law::Course;
use super::numbers;
use super::placement::Begins;
use super::readings::Asked;
use super::resolution;
use super::run::Choice;
use crate::evidence::exposure::ExposureTrack;
use crate::frames::Frames;
use crate::plan::Plan;
use crate::units::Micros;
use crate::units::time::SECOND;
use std::collections::BTreeSet;

/// A jump of the clock is a whole number of half hours and one interval: so far may it miss them, s.
const HOUR_SLACK_S: f64 = 600.0;
/// Neighbours with a setting that differs by more than this, EV, may be a test shot and the run.
const OTHER_SHOT_EV: f64 = 0.3;
/// How often what is left is read again.
const MOST_ROUNDS: usize = 4;

/// Where the run is looked for.
#[derive(Clone, Copy)]
pub struct Field<'a> {
    /// What was meant.
    pub plan: &'a Plan,
    /// The frames, in capture order.
    pub frames: &'a Frames,
    /// Their settings.
    pub exposure: &'a ExposureTrack,
    /// The step of the stamps' digits, µs.
    pub written: Micros,
}

/// The run, and its reading.
pub struct Selected {
    /// First and last stamp of the run.
    pub ends: (usize, usize),
    /// What its stamps say.
    pub read: Read,
    /// What was asked of them.
    pub asked: Asked,
}

impl Field<'_> {
    /// Chooses the run among stamped frames (`ticks` are their positions, `stamps` in µs). `None` where no reading is left.
    pub fn select(&self, ticks: &[usize], stamps: &[Micros]) -> Option<Selected> {
        let mut ends = (0, ticks.len().checked_sub(1)?);
        let mut round = 0;
        loop {
            let (ticks, stamps) = (&ticks[ends.0..=ends.1], &stamps[ends.0..=ends.1]);
            let asked = Asked {
                resolution: resolution::effective(stamps, self.written),
                planned_s: self.plan.interval_s,
            };
            let exposures: Vec<f64> =
                ticks.iter().map(|&i| self.exposure.settings.get(i).map_or(f64::NAN, |s| s.time_s)).collect();
            let by_number = self.by_number(ticks);
            let course = Course { stamps, exposures_s: &exposures, by_number: &by_number };
            let read = days::read(course, asked, self.plan);
            read.read.readings.first()?;
            let last = ticks.len() - 1;
            let chosen = self.choose(ticks, course, asked, &read).unwrap_or((0, last));
            if chosen == (0, last) || round == MOST_ROUNDS {
                return Some(Selected { ends, read, asked });
            }
            ends = (ends.0 + chosen.0, ends.0 + chosen.1);
            round += 1;
        }
    }

    /// Slots from each stamp to the one before it, by the file numbers; 0 where they are no evidence.
    fn by_number(&self, ticks: &[usize]) -> Vec<i64> {
        let steps: Vec<Option<i64>> =
            ticks.windows(2).map(|w| numbers::between(self.frames, w[0], w[1])).collect();
        let usual = numbers::usual(steps.iter().copied().flatten());
        let slots = |step: Option<i64>| match (step, usual) {
            (Some(step), Some(usual)) if step > 0 && step % usual == 0 => step / usual,
            _ => 0,
        };
        std::iter::once(0).chain(steps.into_iter().map(slots)).collect()
    }

    fn choose(
        &self,
        ticks: &[usize],
        course: Course<'_>,
        asked: Asked,
        read: &Read,
    ) -> Option<(usize, usize)> {
        let Course { stamps, by_number, .. } = course;
        let exposure = self.exposure;
        let nights: BTreeSet<usize> = read
            .pieces
            .iter()
            .filter(|p| matches!(p.begins, Begins::Night { .. }))
            .map(|p| p.first)
            .collect();
        // Two neighbours belong together where the plan rests between them, where the numbers say that the files between
        // were lost, or that none was while the clock jumped by whole hours or backwards.
        let together = |a: usize, b: usize| {
            if nights.contains(&b) {
                return true;
            }
            let slots = read.places[b].slot - read.places[a].slot;
            let gap = (stamps[b] - stamps[a]) as f64 / SECOND as f64;
            let past_hour = gap - (gap / 1800.0).floor() * 1800.0;
            let hour = gap >= 1800.0 && past_hour <= HOUR_SLACK_S && gap < 25.0 * 3600.0;
            (slots > 1 && by_number[b] == slots) || (by_number[b] == 1 && (gap < 0.0 || hour))
        };
        let differs = |a: usize, b: usize| {
            let (Some(a), Some(b)) = (exposure.settings.get(ticks[a]), exposure.settings.get(ticks[b]))
            else {
                return false;
            };
            let other = |stops: f64| stops.abs() > OTHER_SHOT_EV;
            other((a.time_s / b.time_s).log2())
                || other(2.0 * f64::from(a.f_number / b.f_number).log2())
                || other(f64::from(a.iso / b.iso).log2())
        };
        Choice {
            stamps,
            places: &read.places,
            pieces: &read.pieces,
            asked,
            frames: self.plan.frames,
            widening_s: read.read.readings.first().map_or(0.0, |r| r.widening_s),
            together: &together,
            differs: &differs,
        }
        .run()
    }
}
