//! All evidence of one audit, and one frame of it seen whole.

use super::exposure::ExposureTrack;
use super::movement::MovementTrack;
use super::picture::{PictureTrack, Sight};
use super::timing::{JoinKind, Timing, numbers};
use super::{FrameState, Outside, names};
use crate::frames::{Frames, Look, Row, Shot, Stamp};
use crate::units::{CivilTime, FrameSpan, Micros, shown};

/// All evidence of one audit.
///
/// What is told of each frame stands in several places, joined by its position; [`Sequence::frame`] brings it
/// together, and no other room has to join it.
#[derive(Clone, Debug)]
pub struct Sequence {
    /// The frames, in capture order.
    pub frames: Frames,
    /// How many folders all frames lie below: their names are told without them.
    pub(super) below: usize,
    /// What each frame is to the run; as long as the frames.
    pub(super) states: Vec<FrameState>,
    /// Positions of frames whose bytes repeat another frame's: (the copy, the frame it repeats), by copy.
    pub copies: Vec<(usize, usize)>,
    /// What lies outside the run, in capture order.
    pub outside: Vec<Outside>,
    /// Stamps: order, cadence, stretches, slots, holes.
    pub timing: Timing,
    /// Settings: exact exposure of each frame.
    pub exposure: ExposureTrack,
    /// How the pictures move; `None` where they were not compared.
    pub movement: Option<MovementTrack>,
    /// Pictures: brightness, flicker, sharpness; empty where they were not read.
    pub pictures: PictureTrack,
}

/// One frame of a sequence, with all that is known of it. What is not known is `None`, never NaN.
#[derive(Clone, Copy, Debug)]
pub struct FrameView<'a> {
    sequence: &'a Sequence,
    at: usize,
}

impl Sequence {
    /// How many frames there are, those outside the run included.
    pub fn len(&self) -> usize {
        self.states.len()
    }

    /// True where there are none.
    pub fn is_empty(&self) -> bool {
        self.states.is_empty()
    }

    /// The frame at that position, which is one of `0..len()`.
    pub fn frame(&self, at: usize) -> FrameView<'_> {
        debug_assert!(at < self.len(), "frame {at} of {}", self.len());
        FrameView { sequence: self, at }
    }

    /// The frame at that position; `None` where the sequence is shorter.
    pub fn frame_if_any(&self, at: usize) -> Option<FrameView<'_>> {
        (at < self.len()).then(|| self.frame(at))
    }

    /// Every frame, in capture order.
    pub fn all(&self) -> impl DoubleEndedIterator<Item = FrameView<'_>> + ExactSizeIterator {
        (0..self.len()).map(|at| self.frame(at))
    }

    /// The frames of the run that stand in a slot (state frame or damaged), in capture order.
    pub fn run(&self) -> impl DoubleEndedIterator<Item = FrameView<'_>> {
        self.all().filter(|frame| frame.stands())
    }

    /// Positions of the frames of the run that stand in a slot, in capture order.
    pub fn in_run(&self) -> impl DoubleEndedIterator<Item = usize> + '_ {
        self.run().map(FrameView::at)
    }

    /// The first and the last stamp of the run, in capture order; `None` where no frame of it has one.
    pub fn ends(&self) -> Option<(Stamp, Stamp)> {
        let mut stamps = self.run().filter_map(FrameView::stamp);
        let first = stamps.next()?;
        Some((first, stamps.next_back().unwrap_or(first)))
    }

    /// By how much the camera's clock was set within the run, s, all changes together: no time of the run.
    pub fn clock_set_s(&self) -> f64 {
        let set = self.timing.joins.iter().map(|join| match join.kind {
            JoinKind::ClockStep { step_s, .. } => step_s,
            _ => 0.0,
        });
        set.sum()
    }

    /// How long the run lasted from its first stamp to its last, s; `None` without a stamp.
    pub fn lasted_s(&self) -> Option<f64> {
        let (first, last) = self.ends()?;
        Some(last.at.seconds_since(first.at) - self.clock_set_s())
    }

    /// Frames at the ends of the run, beyond a hole or a stop, that may be shots beside it; with the frame on
    /// the hole's other side.
    pub fn perhaps_beside(&self) -> Vec<FrameSpan> {
        let (first, last) = (self.in_run().next(), self.in_run().next_back());
        let (Some(first), Some(last)) = (first, last) else { return Vec::new() };
        let joins =
            self.timing.joins.iter().filter(|j| j.shots_beyond.is_some()).map(|j| (j.before, j.after));
        let holes =
            self.timing.holes.iter().filter(|h| h.shots_beyond.is_some()).map(|h| (h.before, h.after));
        joins
            .chain(holes)
            .map(|(before, after)| match after - first <= last.saturating_sub(before) {
                true => FrameSpan { first, last: after },
                false => FrameSpan { first: before, last },
            })
            .collect()
    }

    /// How often the file numbers of neighbouring frames of the run advance by other than usual; 0 where
    /// numbers are no evidence.
    pub fn gaps_in_numbers(&self) -> usize {
        let Some(usual) = self.timing.number_advance else { return 0 };
        let run: Vec<usize> = self.in_run().collect();
        run.windows(2)
            .filter(|w| numbers::between(&self.frames, w[0], w[1]).is_some_and(|n| n != usual))
            .count()
    }

    /// How many frames are in that state.
    pub fn count(&self, state: FrameState) -> u64 {
        self.states.iter().filter(|s| **s == state).count() as u64
    }

    /// The middle exposure time of the frames of the run from `first` to `last`, s; `None` where none tells
    /// it.
    pub fn middle_exposure_s(&self, first: usize, last: usize) -> Option<f64> {
        let run = self.run().skip_while(|frame| frame.at < first).take_while(|frame| frame.at <= last);
        let mut times: Vec<f64> = run.filter_map(FrameView::exposure_s).collect();
        let middle = times.len() / 2;
        (middle < times.len()).then(|| *times.select_nth_unstable_by(middle, f64::total_cmp).1)
    }
}

impl<'a> FrameView<'a> {
    /// Its position in capture order, from 0.
    pub fn at(self) -> usize {
        self.at
    }

    /// What its file says.
    pub fn row(self) -> &'a Row {
        &self.sequence.frames.rows[self.at]
    }

    /// Its files.
    pub fn shot(self) -> &'a Shot {
        &self.sequence.frames.card.shots[self.at]
    }

    /// Its name, fit to show: its path without the folders that all frames lie in.
    pub fn name(self) -> String {
        let card = &self.sequence.frames.card;
        shown(&card.text_below(&card.shots[self.at].file, self.sequence.below))
    }

    /// True where it bears the name that a plan gives: its path below FRAMES or the file's own name, in large
    /// letters or small.
    pub fn bears(self, name: &str) -> bool {
        names::bears(&self.sequence.frames, self.at, name)
    }

    /// Its stamp; `None` where it is not known.
    pub fn stamp(self) -> Option<Stamp> {
        self.row().stamp.known()
    }

    /// The moment of its stamp on the camera's clock.
    pub fn moment(self) -> Option<CivilTime> {
        self.stamp().map(|stamp| stamp.at)
    }

    /// The time of day of its stamp, for sentences: with the day where the run lasts a day or more, so that
    /// each is of one moment.
    pub fn clock(self) -> Option<String> {
        let at = self.stamp()?.at;
        let days = self.sequence.ends().is_some_and(|(first, last)| last.at >= first.at.plus(Micros::DAY));
        Some(if days { at.clock_and_day() } else { at.clock() })
    }

    /// What it is to the run.
    pub fn state(self) -> FrameState {
        self.sequence.states[self.at]
    }

    /// True for a frame of the run that stands in a slot.
    pub fn stands(self) -> bool {
        self.state().stands()
    }

    /// True for a frame that is not part of the run.
    pub fn is_outside(self) -> bool {
        self.state() == FrameState::Outside
    }

    /// Its slot, from 0 at the run's first; `None` without a grid, and for a frame that stands in none.
    pub fn slot(self) -> Option<i64> {
        self.sequence.timing.standing.slot(self.at)
    }

    /// Seconds by which its window misses its slot's moment, 0 where the window holds it; later is positive.
    pub fn offset_s(self) -> Option<f64> {
        self.sequence.timing.standing.offset_s(self.at)
    }

    /// Its exposure time on the exact series, s; above 0.
    pub fn exposure_s(self) -> Option<f64> {
        self.sequence.exposure.of(self.at)?.exposure_s()
    }

    /// Its exposure time as the camera writes it, s; above 0.
    pub fn marked_s(self) -> Option<f64> {
        marked(self.row().exposure_s.known())
    }

    /// Its f-number as the camera writes it; above 0.
    pub fn marked_f_number(self) -> Option<f64> {
        marked(self.row().f_number.known().map(f64::from))
    }

    /// Its ISO sensitivity as the camera writes it; above 0.
    pub fn marked_iso(self) -> Option<f64> {
        marked(self.row().iso.known().map(f64::from))
    }

    /// Its focal length as the camera writes it, mm; above 0.
    pub fn focal_mm(self) -> Option<f64> {
        marked(self.row().focal_mm.known().map(f64::from))
    }

    /// The pixel pitch of its sensor, µm; above 0.
    pub fn pitch_um(self) -> Option<f64> {
        marked(self.row().pitch_um.known().map(f64::from))
    }

    /// Its exact f-number, above 0; `None` too where the lens has no contacts.
    pub fn f_number(self) -> Option<f64> {
        let exposure = &self.sequence.exposure;
        exposure.of(self.at)?.f_number().filter(|_| !exposure.aperture_assumed)
    }

    /// Its exact ISO sensitivity; above 0.
    pub fn iso(self) -> Option<f64> {
        self.sequence.exposure.of(self.at)?.iso()
    }

    /// Its exposure value at ISO 100, EV, to be compared with that of other frames: with a lens without
    /// contacts only differences are known.
    pub fn ev100(self) -> Option<f64> {
        self.sequence.exposure.of(self.at)?.ev100()
    }

    /// Its exposure value at ISO 100, EV, to be shown; `None` where only differences are known.
    pub fn ev100_shown(self) -> Option<f64> {
        self.ev100().filter(|_| !self.sequence.exposure.aperture_assumed)
    }

    /// What its picture looks like; `None` where it was not read or could not be seen.
    pub fn look(self) -> Option<&'a Look> {
        self.sequence.frames.look(self.at)
    }

    /// How well its picture tells its brightness.
    pub fn sight(self) -> Sight {
        self.sequence.pictures.sight(self.at)
    }

    /// Sharpness of its small picture: fine structure over contrast; `None` where it has no contrast.
    pub fn sharpness(self) -> Option<f64> {
        self.look().map(|look| f64::from(look.sharpness)).filter(|sharpness| sharpness.is_finite())
    }

    /// log2 of the brightness of its picture (mean linear luminance), EV.
    pub fn brightness_ev(self) -> Option<f64> {
        self.sequence.pictures.brightness(self.at)
    }

    /// How far its brightness is from the local trend, the settings taken out, EV.
    pub fn unexplained_ev(self) -> Option<f64> {
        self.sequence.pictures.unexplained(self.at)
    }

    /// True where its picture shows nothing.
    pub fn is_blank(self) -> bool {
        self.sequence.pictures.is_blank(self.at)
    }

    /// True where something stood before the lens.
    pub fn is_obstructed(self) -> bool {
        self.sequence.pictures.is_obstructed(self.at)
    }
}

/// A setting that a camera may have had.
fn marked(written: Option<f64>) -> Option<f64> {
    written.filter(|value| value.is_finite() && *value > 0.0)
}
