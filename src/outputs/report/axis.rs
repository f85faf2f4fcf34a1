//! Where along the run each frame stands: in columns of one axis on which every hour is equally long, from
//! the earlier start, planned or shot, to the later end. Hours of rest between working days are cut out.
//! Where the stamps tell no even interval the frames stand in a row, and empty slots among them. Lanes, plots
//! and the strip of the summary share the axis.

use super::hours::{Hours, Span};
use super::lines::{self, Line};
use crate::audit::Audit;
use crate::evidence::FrameState;
use crate::units::{CivilTime, counted, counted_as, duration};

/// The place of a frame that lies beyond the axis.
const BEYOND: u16 = u16::MAX;
/// A cut takes this share of the columns, and all cuts together at most the second.
const CUT: usize = 80;
const CUTS: usize = 6;

/// A part of the axis on which time runs evenly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Piece {
    /// Where it begins, in columns.
    pub from: f64,
    /// Where it ends, in columns.
    pub to: f64,
    /// The clock where it begins.
    pub begins: CivilTime,
    /// How long it lasts, s.
    pub lasts_s: f64,
}

impl Piece {
    /// Where a moment stands, in columns.
    pub(crate) fn column(&self, at: CivilTime) -> f64 {
        let share = at.seconds_since(self.begins) / self.lasts_s.max(1e-9);
        self.from + share.clamp(0.0, 1.0) * (self.to - self.from)
    }

    /// The clock where it ends.
    pub(crate) fn ends(&self) -> CivilTime {
        self.begins.plus_seconds(self.lasts_s)
    }
}

/// The columns of an audit.
pub(crate) struct Axis {
    columns: usize,
    /// True where nothing takes room.
    empty: bool,
    /// The column in which each frame stands, and the first and last that it covers.
    frames: Vec<[u16; 3]>,
    holes: Vec<(u16, u16)>,
    /// The first frame that stands in each column.
    first: Vec<Option<u32>>,
    /// Parts on which time runs evenly, in order; none where the frames stand in a row.
    pub pieces: Vec<Piece>,
    /// Columns that were planned and hold no frame, before the first frame or after the last.
    pub not_shot: Vec<(usize, usize)>,
    /// How much of the plan that is, in words; empty where it is nothing.
    pub not_shot_words: String,
    /// The clock at the first slot and at the last; `None` where the frames stand in a row.
    pub ends: Option<(CivilTime, CivilTime)>,
    /// How the axis runs, in sentences.
    pub words: String,
}

/// The columns whose middle lies between two places: none where none does.
fn within(from: f64, to: f64, columns: usize) -> Option<(usize, usize)> {
    let edge = |place: f64| (place - 0.5).ceil().clamp(0.0, columns as f64) as usize;
    let (from, to) = (edge(from), edge(to));
    (from < to).then(|| (from, to - 1))
}

/// The same, and at least the column of the middle.
fn within_or_own(from: f64, to: f64, columns: usize) -> (usize, usize) {
    within(from, to, columns).unwrap_or_else(|| {
        let own = (f64::midpoint(from, to).max(0.0) as usize).min(columns - 1);
        (own, own)
    })
}

impl Axis {
    /// Lays out the audit in at most `most` columns.
    pub(crate) fn new(audit: &Audit, most: usize) -> Self {
        match Hours::of(audit) {
            Some(hours) => Self::by_the_clock(audit, &hours, most),
            None => Self::in_a_row(audit, most),
        }
    }

    fn by_the_clock(audit: &Audit, hours: &Hours, most: usize) -> Self {
        let (from, to) = hours.whole;
        let kept_s = (to - from) - hours.rests.iter().map(|(a, b)| b - a).sum::<f64>();
        let slots = (kept_s / hours.step_s).round().max(1.0);
        let most_cut = if hours.rests.is_empty() { 0 } else { most / CUTS / hours.rests.len() };
        let cut = (slots.min(most as f64) as usize / CUT).max(1).min(most_cut);
        let cuts = cut * hours.rests.len();
        let own = (slots.min((most - cuts) as f64) as usize).max(1);
        let columns = own + cuts;
        let mut pieces: Vec<Piece> = Vec::with_capacity(hours.rests.len() + 1);
        let (mut begins_s, mut column) = (from, 0.0);
        for (ends_s, next_s) in hours.rests.iter().copied().chain([(to, to)]) {
            let ends = column + (ends_s - begins_s) / kept_s * own as f64;
            let begins = hours.base.plus_seconds(begins_s);
            pieces.push(Piece { from: column, to: ends, begins, lasts_s: ends_s - begins_s });
            (begins_s, column) = (next_s, ends + cut as f64);
        }
        let place = |s: f64| {
            let starts = |p: &Piece| p.begins.seconds_since(hours.base) <= s + 1e-6;
            let piece = &pieces[pieces.partition_point(starts).saturating_sub(1)];
            piece.column(hours.base.plus_seconds(s))
        };
        let u16s = |(a, b): (usize, usize)| (a as u16, b as u16);
        let on = |s: f64| s >= from && s <= to;
        let mut frames: Vec<[u16; 3]> = hours
            .seconds
            .iter()
            .map(|s| {
                let own = (place(if s.is_nan() { from } else { *s }) as usize).min(columns - 1) as u16;
                [if on(*s) { own } else { BEYOND }, own, own]
            })
            .collect();
        for (at, (a, b)) in &hours.covers {
            let own = usize::from(frames[*at][1]);
            let (a, b) = within(place(*a), place(*b), columns).unwrap_or((own, own));
            frames[*at] = [own.clamp(a, b) as u16, a as u16, b as u16];
        }
        let cover =
            |at: usize| hours.covers.binary_search_by_key(&at, |c| c.0).ok().map(|n| hours.covers[n].1);
        let gap = |(before, after): (usize, usize)| {
            let (Some((_, a)), Some((b, _))) = (cover(before), cover(after)) else { return (0, 0) };
            u16s(within_or_own(place(a.min(b)), place(b.max(a)), columns))
        };
        let holes = audit.evidence.timing.holes.iter().map(|h| gap((h.before, h.after))).collect();
        let mut first = vec![None; columns];
        for (at, [own, ..]) in frames.iter().enumerate() {
            if let Some(first @ None) = first.get_mut(usize::from(*own)) {
                *first = u32::try_from(at).ok();
            }
        }
        let not_shot = hours.not_shot.iter().flat_map(|span| kept(*span, &hours.rests));
        let not_shot = not_shot.filter_map(|(a, b)| within(place(a), place(b), columns)).collect();
        Self {
            columns,
            empty: false,
            frames,
            holes,
            first,
            not_shot,
            not_shot_words: not_shot_words(hours),
            words: words(hours),
            ends: Some(ends(hours)),
            pieces,
        }
    }

    /// Frames and empty slots in a row, each with the same room; surplus frames take none.
    fn in_a_row(audit: &Audit, most: usize) -> Self {
        let shot = lines::lines(audit).fold(0_u64, |sum, line| sum.saturating_add(width(audit, &line)));
        let asked = audit.schedule.slots_asked().unwrap_or(0);
        let open = asked.saturating_sub(audit.schedule.slots_shot(&audit.evidence)).min(1 << 40);
        let open = if shot == 0 { 0 } else { open };
        let total = shot.saturating_add(open);
        let columns = most.min(usize::try_from(total).unwrap_or(most)).max(1);
        let last = total.max(1) - 1;
        // At most `most` columns, which fit.
        let column =
            |unit: u64| (u128::from(unit.min(last)) * columns as u128 / u128::from(total.max(1))) as u16;
        let mut axis = Self {
            columns,
            empty: total == 0,
            frames: Vec::with_capacity(audit.evidence.frames.len()),
            holes: Vec::with_capacity(audit.evidence.timing.holes.len()),
            first: vec![None; columns],
            pieces: Vec::new(),
            ends: None,
            not_shot: Vec::new(),
            not_shot_words: String::new(),
            words: "The stamps tell no even interval: frames and empty slots take the same room, whatever \
                    the time between them."
                .into(),
        };
        let mut unit = 0_u64;
        for line in lines::lines(audit) {
            let wide = width(audit, &line);
            let (from, to) = (column(unit), column(unit.saturating_add(wide.max(1) - 1)));
            match line {
                Line::Frame(at) => {
                    axis.frames.push([from; 3]);
                    if let Some(first @ None) = axis.first.get_mut(usize::from(from)) {
                        *first = u32::try_from(at).ok();
                    }
                }
                Line::Hole(_) => axis.holes.push((from, to)),
            }
            unit = unit.saturating_add(wide);
        }
        let ends = usize::from(column(shot.max(1) - 1)) + 1;
        if open > 0 && ends < columns {
            axis.not_shot.push((ends, columns - 1));
            axis.not_shot_words = counted(open, "slot");
        }
        axis
    }

    /// How many columns there are, at least one.
    pub(crate) fn columns(&self) -> usize {
        self.columns
    }

    /// True where nothing takes room.
    pub(crate) fn is_empty(&self) -> bool {
        self.empty
    }

    /// True where a frame lies on the axis, and not far from the run.
    pub(crate) fn holds(&self, at: usize) -> bool {
        self.frames.get(at).is_some_and(|[own, ..]| *own != BEYOND)
    }

    /// The column of a frame.
    pub(crate) fn of(&self, at: usize) -> usize {
        self.frames.get(at).map_or(0, |[own, from, _]| usize::from(if *own == BEYOND { *from } else { *own }))
    }

    /// First and last column that a frame covers.
    pub(crate) fn covered(&self, at: usize) -> (usize, usize) {
        self.frames.get(at).map_or((0, 0), |[_, from, to]| (usize::from(*from), usize::from(*to)))
    }

    /// First and last column of a hole, by its place among the holes.
    pub(crate) fn of_hole(&self, hole: usize) -> Option<(usize, usize)> {
        self.holes.get(hole).map(|(a, b)| (usize::from(*a), usize::from(*b)))
    }

    /// The first frame in a column; `None` where only empty slots stand in it.
    pub(crate) fn first(&self, column: usize) -> Option<usize> {
        self.first.get(column).copied().flatten().map(|at| at as usize)
    }

    /// The frame that stands in the column, or the nearest one before it.
    pub(crate) fn frame_at(&self, column: usize) -> Option<usize> {
        (0..=column.min(self.columns - 1)).rev().find_map(|c| self.first(c))
    }

    /// The columns whose middle lies between two places; `None` where none does.
    pub(crate) fn within(&self, from: f64, to: f64) -> Option<(usize, usize)> {
        within(from, to, self.columns)
    }

    /// Where hours are cut out, in columns from and to.
    pub(crate) fn cuts(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.pieces.windows(2).map(|w| (w[0].to, w[1].from))
    }
}

fn width(audit: &Audit, line: &Line<'_>) -> u64 {
    match line {
        Line::Frame(at) => u64::from(audit.evidence.frame(*at).state() != FrameState::Surplus),
        Line::Hole(hole) => hole.slots,
    }
}

/// A span without the rests in it.
fn kept((from, to): Span, rests: &[Span]) -> Vec<Span> {
    let mut parts = Vec::new();
    let mut begins = from;
    for (a, b) in rests.iter().filter(|(a, b)| *b > from && *a < to) {
        parts.push((begins, *a));
        begins = *b;
    }
    parts.push((begins, to));
    parts.retain(|(a, b)| b > a);
    parts
}

fn not_shot_words(hours: &Hours) -> String {
    let spans = hours.not_shot.iter().flat_map(|span| kept(*span, &hours.rests));
    let open_s: f64 = spans.map(|(a, b)| b - a).sum();
    if open_s > 0.0 { duration((open_s / hours.step_s).round() * hours.step_s) } else { String::new() }
}

/// The axis begins half an interval before its first slot, and ends as much after its last.
fn ends(hours: &Hours) -> (CivilTime, CivilTime) {
    let (from, to) = hours.whole;
    let half_s = hours.step_s / 2.0;
    (hours.base.plus_seconds(from + half_s), hours.base.plus_seconds(to - half_s))
}

fn words(hours: &Hours) -> String {
    let (from, to) = ends(hours);
    let (from, to) = lines::from_to(from, to);
    let mut words = format!("Every hour is equally long, from {from} to {to}.");
    if !hours.rests.is_empty() {
        let cuts = counted_as(hours.rests.len() as u64, "cut is marked", "cuts are marked");
        words.push_str(&format!(" Hours in which no frame is due are cut out: {cuts}."));
    }
    if hours.clock_set {
        words.push_str(" The camera's clock was set on the way: the hours go by the clock before that.");
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::timing::{Join, JoinKind, Stretch};
    use crate::outputs::sample;
    use crate::plan::{DailyHours, Plan};
    use crate::schedule::Schedule;
    use crate::units::Micros;

    #[test]
    fn frames_and_empty_slots_stand_in_their_time() {
        // One five minutes before the run, three held, two missing, one held, a surplus one a second later,
        // one damaged and without a stamp.
        let audit = sample::audit();
        let axis = Axis::new(&audit, 1600);
        assert_eq!(axis.columns(), 7);
        assert_eq!((1..7).map(|at| axis.of(at)).collect::<Vec<_>>(), [0, 1, 2, 5, 5, 6]);
        assert!(!axis.holds(0) && (1..7).all(|at| axis.holds(at)));
        assert_eq!(axis.of_hole(0), Some((3, 4)));
        assert_eq!((axis.first(2), axis.first(3), axis.frame_at(4)), (Some(3), None, Some(3)));
        assert_eq!(axis.covered(4), (5, 5));
    }

    #[test]
    fn a_hole_of_any_size_keeps_the_columns() {
        let mut audit = sample::audit();
        audit.evidence.timing.holes[0].slots = u64::MAX / 4;
        assert_eq!(Axis::new(&audit, 1600).columns(), 7, "the stamps tell how long it is");
        audit.evidence.timing.cadence = None;
        let axis = Axis::new(&audit, 1600);
        assert_eq!(axis.columns(), 1600);
        assert_eq!(axis.of(6), 1600 - 1);
    }

    #[test]
    fn without_a_grid_they_stand_in_a_row() {
        let mut audit = sample::audit();
        sample::forget(&mut audit);
        let axis = Axis::new(&audit, 1600);
        assert!(axis.pieces.is_empty() && axis.words.contains("the same room"));
        assert_eq!((0..7).map(|at| axis.of(at)).collect::<Vec<_>>(), [0, 1, 2, 3, 6, 7, 7]);
    }

    /// Asks for so many frames.
    fn asking(frames: u64) -> Audit {
        let mut audit = sample::audit();
        audit.plan.frames = Some(frames);
        audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
        audit
    }

    /// 7 slots of 28 are a quarter.
    #[test]
    fn a_run_that_died_stops_short_of_its_planned_end() {
        let axis = Axis::new(&asking(28), 1600);
        assert_eq!((axis.columns(), axis.not_shot.as_slice()), (28, &[(7, 27)][..]));
        assert_eq!(axis.not_shot_words, "4 min 12 s");
        assert!(Axis::new(&asking(7), 1600).not_shot.is_empty());
        // No stamps: by the count.
        let mut audit = asking(28);
        audit.evidence.timing.cadence = None;
        audit.evidence.timing.slot_count = None;
        let axis = Axis::new(&audit, 1600);
        assert_eq!(axis.not_shot, [(8, 8 + 28 - 5 - 1)], "{}", axis.columns());
    }

    /// Pixels an hour are the same wherever one looks, in however many columns.
    #[test]
    fn every_hour_is_equally_long() {
        let mut audit = asking(400);
        // The timer stood for an hour before the last frame but two, and went on at another pace.
        for at in 4..7 {
            if let crate::evidence::Cell::Known(stamp) = &mut audit.evidence.frames.rows[at].stamp {
                stamp.at = stamp.at.plus(Micros::from_seconds(3600));
            }
        }
        for most in [1600, 211, 72] {
            let axis = Axis::new(&audit, most);
            let [piece] = axis.pieces.as_slice() else { panic!("{} pieces", axis.pieces.len()) };
            let column = |hours: f64| piece.column(piece.begins.plus_seconds(hours * 3600.0));
            let widths = (0..10).map(|n| column(f64::from(n + 1) / 8.0) - column(f64::from(n) / 8.0));
            let widths: Vec<f64> = widths.collect();
            assert!(widths.iter().all(|w| (w - widths[0]).abs() < 1e-6), "{widths:?}");
            let apart = (axis.of(4) - axis.of(1)) as f64;
            assert!((apart - (column(3660.0 / 3600.0) - column(0.0))).abs() <= 1.0, "{apart}");
        }
    }

    /// A site camera: 04:00 to 05:00 each day, a frame each 12 s, three days.
    #[test]
    fn the_hours_between_working_days_are_cut_out() {
        let mut audit = sample::audit();
        let hours = DailyHours { from_s: 4 * 3600, to_s: 5 * 3600 };
        audit.plan = Plan { active: vec![hours], frames: Some(900), ..audit.plan };
        audit.schedule = Schedule::of(&audit.plan, &audit.evidence);
        let axis = Axis::new(&audit, 1600);
        // The test shot of 04:05 is close enough to be seen. From 04:10 on there are 250 slots on the first
        // day, 300 on the second and the third, 50 on the fourth.
        let lasts: Vec<f64> = axis.pieces.iter().map(|p| (p.lasts_s / 60.0).round()).collect();
        assert_eq!(lasts, [55.0, 60.0, 60.0, 10.0]);
        let pace: Vec<f64> = axis.pieces.iter().map(|p| (p.to - p.from) / p.lasts_s).collect();
        assert!(pace.iter().all(|p| (p - pace[0]).abs() < 1e-9), "{pace:?}");
        assert_eq!(axis.cuts().map(|(a, b)| (b - a).round()).collect::<Vec<_>>(), [11.0; 3]);
        assert!(axis.words.contains("3 cuts are marked"), "{}", axis.words);
        assert_eq!(axis.not_shot.len(), 4);
        // So few columns that cuts take none of them, and are marked all the same.
        let narrow = Axis::new(&audit, 12);
        assert_eq!((narrow.columns(), narrow.cuts().count()), (12, 3));
    }

    #[test]
    fn a_clock_that_was_set_is_no_time_of_the_run() {
        let mut audit = sample::audit();
        for at in 4..7 {
            if let crate::evidence::Cell::Known(stamp) = &mut audit.evidence.frames.rows[at].stamp {
                stamp.at = stamp.at.plus(Micros::from_seconds(7200));
            }
        }
        let looks_like = "daylight saving".into();
        let kind = JoinKind::ClockStep { step_s: 7200.0, looks_like, stood_s: None, rival: None };
        let timing = &mut audit.evidence.timing;
        let join = Join { before: 3, after: 4, gap_s: 7236.0, kind, or_missing: None, shots_beyond: None };
        timing.joins.push(join);
        let later: Stretch = timing.stretches[0].clone();
        timing.stretches.push(Stretch {
            first: 4,
            first_slot: 5,
            phase: later.phase.plus_seconds(7260.0),
            ..later
        });
        let axis = Axis::new(&audit, 1600);
        assert_eq!((axis.columns(), axis.of(4)), (7, 5));
        assert!(axis.words.contains("was set on the way"));
    }
}
