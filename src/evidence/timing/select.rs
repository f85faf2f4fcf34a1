//! Reading and choosing in turn: shots around the run bend the reading, so what is left after a choice is
//! read again by itself.

use super::coarser;
use super::days::{self, Read};
use super::effort::Effort;
use super::ends::{Ends, Weighed};
use super::law::Course;
use super::neighbours::Neighbours;
use super::numbers;
use super::pauses;
use super::placement::{Begins, Piece};
use super::readings::Asked;
use super::resolution;
use super::run::{Choice, Chosen};
use super::strays::Strays;
use crate::evidence::exposure::ExposureTrack;
use crate::frames::Frames;
use crate::plan::{Plan, arithmetic};
use crate::units::Micros;

/// How often what is left is read again.
const MOST_ROUNDS: usize = 4;

/// Where the run is looked for.
#[derive(Clone, Copy)]
pub(crate) struct Field<'a> {
    /// What was meant.
    pub plan: &'a Plan,
    /// The frames, in capture order.
    pub frames: &'a Frames,
    /// Their settings.
    pub exposure: &'a ExposureTrack,
    /// The step of the stamps' digits.
    pub written: Micros,
    /// True where each stamp is that of a set of exposures: the first of a set may be another one where a
    /// file is lost.
    pub sets: bool,
    /// What the reading may take.
    pub effort: &'a Effort,
}

/// The run, and its reading.
pub(crate) struct Selected {
    /// First and last stamp of the run.
    pub ends: (usize, usize),
    /// What its stamps say.
    pub read: Read,
    /// What was asked of them.
    pub asked: Asked,
    /// Slots from the stamp before, by the file numbers; 0 where they are no evidence.
    pub by_number: Vec<i64>,
    /// The frames beyond a hole at its ends, as indices of the run's stamps.
    pub weighed: Weighed,
}

impl Field<'_> {
    /// Chooses the run among stamped frames (`ticks` are their positions, `stamps` theirs). `None` where no
    /// reading is left.
    pub(crate) fn select(&self, ticks: &[usize], stamps: &[Micros]) -> Option<Selected> {
        let mut ends = (0, ticks.len().checked_sub(1)?);
        let mut round = 0;
        loop {
            let (ticks, stamps) = (&ticks[ends.0..=ends.1], &stamps[ends.0..=ends.1]);
            let asked = Asked {
                resolution: resolution::effective(stamps, self.written, self.plan.interval_s),
                planned_s: self.plan.interval_s,
            };
            let exposures: Vec<f64> =
                ticks.iter().map(|&i| self.exposure.settings.get(i).map_or(f64::NAN, |s| s.time_s)).collect();
            let by_number = self.by_number(ticks, stamps, asked.resolution);
            let course = Course { stamps, exposures_s: &exposures, by_number: &by_number };
            let mut read = days::read(course, asked, self.plan, self.effort);
            let widening_s = read.read.readings.first()?.widening_s;
            let Read { read: lawful, places, pieces } = &mut read;
            let mut weighed = Weighed::default();
            if lawful.per_slot_s.is_empty() {
                let confirmed = |at: usize, slots: i64| by_number[at] == slots;
                pauses::part((&lawful.stamps, &mut *places), pieces, (asked, widening_s), confirmed);
                coarser::part((&lawful.stamps, &mut *places), pieces, (&by_number, &exposures));
                let (stamps, by_number) = (&lawful.stamps, &by_number);
                Strays { stamps, places: &mut *places, pieces: &mut *pieces, asked, widening_s }.settle();
                let mut open = Ends { stamps: &lawful.stamps, places, pieces, by_number, asked, widening_s };
                weighed = open.settle();
            }
            let last = ticks.len() - 1;
            let chosen = self.choose(ticks, course, asked, (&read, weighed));
            let chosen = chosen.unwrap_or(Chosen { first: 0, last, ends: weighed });
            if (chosen.first, chosen.last) == (0, last) || round == MOST_ROUNDS || self.effort.is_spent() {
                return Some(Selected { ends, read, asked, by_number, weighed: chosen.ends });
            }
            ends = (ends.0 + chosen.first, ends.0 + chosen.last);
            round += 1;
        }
    }

    /// Slots from each stamp to the one before it, by the file numbers; 0 where they are no evidence.
    fn by_number(&self, ticks: &[usize], stamps: &[Micros], resolution: Micros) -> Vec<i64> {
        let steps: Vec<Option<i64>> =
            ticks.windows(2).map(|w| numbers::between(self.frames, w[0], w[1])).collect();
        let gaps = stamps.windows(2).map(|w| w[1] - w[0]);
        let told: Vec<(i64, Micros)> =
            steps.iter().zip(gaps).filter_map(|(s, gap)| Some(((*s)?, gap))).collect();
        let usual = numbers::per_slot(&told, resolution);
        let slots = |step: Option<i64>| match (step, usual) {
            (Some(step), Some(usual)) if step > 0 && step % usual == 0 => step / usual,
            _ => 0,
        };
        std::iter::once(0).chain(steps.into_iter().map(slots)).collect()
    }

    /// Frames that a planned length asks for, at the interval of the longest piece; `None` where none is
    /// planned, or working hours are.
    fn frames_of_length(&self, read: &Read, stamps: &[Micros]) -> Option<u64> {
        let run_s = self.plan.run_s.filter(|_| self.plan.active.is_empty())?;
        let slots = |p: &Piece| read.places[p.last].slot - read.places[p.first].slot;
        let longest = read.pieces.iter().max_by_key(|p| (slots(p), std::cmp::Reverse(p.first)))?;
        let seconds = (stamps[longest.last] - stamps[longest.first]).seconds();
        let interval_s = seconds / slots(longest).max(1) as f64;
        (interval_s > 0.0).then(|| arithmetic::frames_from_run(run_s, interval_s)).flatten()
    }

    fn choose(
        &self,
        ticks: &[usize],
        course: Course<'_>,
        asked: Asked,
        (read, ends): (&Read, Weighed),
    ) -> Option<Chosen> {
        let Course { stamps, by_number, .. } = course;
        let nights = read.pieces.iter().filter(|p| matches!(p.begins, Begins::Night { .. }));
        let neighbours = Neighbours {
            frames: self.frames,
            exposure: self.exposure,
            planned: self.plan.frames,
            sets: self.sets,
            ticks,
            stamps,
            by_number,
            places: &read.places,
            nights: nights.map(|p| p.first).collect(),
        };
        Choice {
            stamps,
            places: &read.places,
            pieces: &read.pieces,
            asked,
            frames: self.plan.frames,
            frames_or_length: self.plan.frames.or_else(|| self.frames_of_length(read, stamps)),
            widening_s: read.read.readings.first().map_or(0.0, |r| r.widening_s),
            neighbours: &neighbours,
            ends,
            by_number,
        }
        .run()
    }
}
