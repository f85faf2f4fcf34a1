//! Evidence for tests, built from a few words: slots, an interval, rows.

use super::{Check, judge_one};
use crate::evidence::exposure::track;
use crate::evidence::picture::{AREAS, Areas, Cells, PictureSource};
use crate::evidence::testing::NO_SLOT;
use crate::evidence::timing::{
    Bracket, Cadence, Hole, HoleCause, Join, JoinKind, OrderBasis, Standing, Stretch, TimerLaw, Timing,
};
use crate::evidence::{
    Card, CardFile, Cell, FileKind, FileNumber, Folder, FrameState, Frames, Look, Row, Sequence, Shot, Stamp,
    StampSource,
};
use crate::finding::{Answer, Finding, Judgement, Severity};
use crate::plan::Plan;
use crate::units::{CivilTime, Micros};

/// 2026-05-09T04:10:00 on the camera's clock.
pub const START: CivilTime = CivilTime::from_seconds(1_778_299_800);

/// A run to be made into evidence.
pub struct Sketch {
    /// One row a frame.
    pub rows: Vec<Row>,
    /// Slot of each frame.
    pub slots: Vec<i64>,
    /// State of each frame.
    pub states: Vec<FrameState>,
    /// Number of each frame's file, and its folder.
    pub numbers: Vec<(u32, u32)>,
    /// Interval, s.
    pub interval_s: f64,
    /// Half the width of the interval's bounds, s.
    pub width_s: f64,
    /// Seconds outside of its window, by frame.
    pub offsets_s: Vec<f32>,
    /// What joins stretches.
    pub joins: Vec<Join>,
    /// Stamps that run backwards.
    pub backwards: Vec<(usize, usize)>,
    /// What the timer counts from.
    pub law: TimerLaw,
    /// Why there is no grid.
    pub no_grid: Option<String>,
    /// What order was taken from.
    pub basis: OrderBasis,
    /// Exposures in each slot, where the stamps tell.
    pub bracket: Option<usize>,
    /// The usual advance of the numbers.
    pub advance: Option<i64>,
    /// What the pictures look like; empty where they were not read.
    pub looks: Vec<Option<Look>>,
}

impl Sketch {
    /// `n` frames every `interval_s` seconds from START, stamped in hundredths, 1/60 s at f/8 and ISO 200,
    /// numbered from 1.
    pub fn steady(n: usize, interval_s: f64) -> Self {
        let row = |k: usize| Row {
            stamp: Cell::Known(stamp_after(k as f64 * interval_s)),
            exposure_s: Cell::Known(1.0 / 60.0),
            f_number: Cell::Known(8.0),
            iso: Cell::Known(200),
            size: Cell::Known((6000, 4000)),
            orientation: Cell::Known(1),
            exposure_mode: Cell::Known(1),
            program: Cell::Known(1),
            white_balance: Cell::Known(1),
            focal_mm: Cell::Known(24.0),
            camera: Cell::Known(0),
            print: k as u64,
            ..Row::default()
        };
        Self {
            rows: (0..n).map(row).collect(),
            slots: (0..n as i64).collect(),
            states: vec![FrameState::Frame; n],
            numbers: (1..=n as u32).map(|k| (k, 0)).collect(),
            interval_s,
            width_s: 1e-3,
            offsets_s: vec![0.0; n],
            joins: Vec::new(),
            backwards: Vec::new(),
            law: TimerLaw::Unknown,
            no_grid: None,
            basis: OrderBasis::Numbers,
            bracket: None,
            advance: Some(1),
            looks: Vec::new(),
        }
    }

    /// Gives each frame a picture: as bright as `of` says, EV from middle grey, all over.
    pub fn shows(mut self, of: impl Fn(usize) -> f64) -> Self {
        self.looks = (0..self.rows.len()).map(|k| Some(look(k, of(k)))).collect();
        self
    }

    /// Takes the frames of those slots away; with `lost` their numbers are gone too, else the numbers run on.
    pub fn without(mut self, slots: &[i64], lost: bool) -> Self {
        for at in
            (0..self.slots.len()).rev().filter(|at| slots.contains(&self.slots[*at])).collect::<Vec<_>>()
        {
            self.rows.remove(at);
            self.slots.remove(at);
            self.states.remove(at);
            self.numbers.remove(at);
            self.offsets_s.remove(at);
        }
        if !lost {
            for (k, number) in self.numbers.iter_mut().enumerate() {
                number.0 = k as u32 + 1;
            }
        }
        self
    }

    /// Changes the rows of those frames.
    pub fn change(mut self, at: std::ops::Range<usize>, change: impl Fn(&mut Row)) -> Self {
        self.rows[at].iter_mut().for_each(change);
        self
    }

    /// Sets the states of those frames.
    pub fn state(mut self, at: std::ops::Range<usize>, state: FrameState) -> Self {
        self.states[at].fill(state);
        self
    }

    /// Stamps the frames at those seconds after START, in whole seconds, and leaves them without a grid.
    pub fn stamped(mut self, seconds: &[f64]) -> Self {
        for (row, s) in self.rows.iter_mut().zip(seconds) {
            let mut stamp = stamp_after(s.floor());
            (stamp.resolution, stamp.digits) = (Micros::SECOND, 0);
            row.stamp = Cell::Known(stamp);
        }
        self.loose("the frames come at no one interval")
    }

    /// Leaves the frames without a grid.
    pub fn loose(mut self, why: &str) -> Self {
        self.no_grid = Some(why.to_owned());
        self
    }

    /// The evidence of this run.
    pub fn evidence(self) -> Sequence {
        let mut card = Card { roots: vec!["card".into()], ..Card::default() };
        let folders = self.numbers.iter().map(|n| n.1 + 1).max().unwrap_or(1);
        card.folders = (0..folders)
            .map(|f| Folder {
                root: 0,
                path: format!("DCIM/{}MEDIA", 100 + f).into(),
                number: Some(100 + f as u16),
            })
            .collect();
        card.shots = self.numbers.iter().map(|&(number, folder)| shot(number, folder)).collect();
        let looks = self.looks.clone();
        let frames = Frames { card, rows: self.rows.clone(), looks, ..Frames::default() };
        let exposure = track(&frames, &self.states);
        let timing = self.timing();
        Sequence::by_hand(frames, self.states, timing, exposure)
    }

    fn timing(&self) -> Timing {
        let in_run: Vec<_> = (0..self.states.len())
            .filter(|at| matches!(self.states[*at], FrameState::Frame | FrameState::Damaged))
            .filter(|at| self.slots[*at] != NO_SLOT)
            .collect();
        let seconds = |slots: i64| slots as f64 * self.interval_s;
        let grid = self.no_grid.is_none() && !in_run.is_empty();
        let holes = in_run.windows(2).filter_map(|pair| {
            let (before, after) = (pair[0], pair[1]);
            let gap = self.slots[after] - self.slots[before];
            let numbers =
                self.advance.map(|_| i64::from(self.numbers[after].0) - i64::from(self.numbers[before].0));
            let cause = match numbers {
                Some(1) => HoleCause::TriggerMissed,
                Some(n) if n == gap => HoleCause::FileLost,
                _ => HoleCause::Unknown,
            };
            (gap > 1).then(|| Hole {
                before,
                after,
                slot: self.slots[before] + 1,
                slots: (gap - 1) as u64,
                gap_s: seconds(gap),
                numbers,
                cause,
                doubt: None,
                shots_beyond: None,
            })
        });
        let (low_s, high_s) = (self.interval_s - self.width_s, self.interval_s + self.width_s);
        let mut ends: Vec<_> = self.joins.iter().map(|j| (j.before, j.after)).collect();
        ends.push((in_run.last().copied().unwrap_or(0), 0));
        let mut first = in_run.first().copied().unwrap_or(0);
        let stretches = ends.iter().map(|&(last, next)| {
            let stretch = Stretch {
                first,
                last,
                frames: in_run.iter().filter(|at| (first..=last).contains(*at)).count() as u64,
                first_slot: self.slots[first],
                last_slot: self.slots[last],
                interval_s: self.interval_s,
                low_s,
                high_s,
                phase: START.plus(Micros::truncated(seconds(self.slots[first]))),
            };
            first = next;
            stretch
        });
        let span = |of: &[usize]| {
            of.first().zip(of.last()).map(|(a, b)| (self.slots[*b] - self.slots[*a] + 1) as u64)
        };
        Timing {
            basis: self.basis,
            backwards: self.backwards.clone(),
            cadence: grid.then_some(Cadence {
                interval_s: self.interval_s,
                low_s,
                high_s,
                exact_s: None,
                timing_error_s: 0.02,
                widening_s: 0.0,
                resolution_s: 0.01,
                law: self.law,
                stamped_at_close: false,
                per_exposure: None,
            }),
            no_grid: self.no_grid.clone(),
            standing: Standing::by_hand(
                if grid { self.slots.clone() } else { vec![NO_SLOT; self.slots.len()] },
                self.offsets_s.clone(),
            ),
            stretches: if grid { stretches.collect() } else { Vec::new() },
            joins: self.joins.clone(),
            holes: if grid { holes.collect() } else { Vec::new() },
            missing_doubt: None,
            surplus_doubt: None,
            bracket: self.bracket.map(|size| Bracket { size, incomplete: Vec::new() }),
            slot_count: if grid { span(&in_run) } else { None },
            number_advance: self.advance,
            written_resolution: Micros::step_of(if grid { 2 } else { 0 }),
            unstamped: self.rows.iter().filter(|r| r.stamp.as_known().is_none()).count() as u64,
            lines_tried: 0,
        }
    }
}

/// An even picture, `ev` EV from middle grey, sharp and full of contrast.
fn look(card_at: usize, ev: f64) -> Look {
    let mean = (0.18 * ev.exp2()) as f32;
    Look {
        source: PictureSource::Thumbnail,
        size: (160, 106),
        mean,
        centre: mean,
        channels: [mean; 3],
        clipped: 0.0,
        blocked: 0.0,
        live: 1.0,
        sharpness: 0.5,
        contrast: 40.0,
        areas: Areas::pack(&[[mean; 3]; AREAS]),
        cells: Cells::pack(|_, _| mean),
        card_at: card_at as u32,
        between: None,
    }
}

fn stamp_after(seconds: f64) -> Stamp {
    Stamp {
        at: START.plus_seconds(seconds),
        resolution: Micros::step_of(2),
        digits: 2,
        offset_min: None,
        source: StampSource::Original,
    }
}

fn shot(number: u32, folder: u32) -> Shot {
    Shot {
        file: CardFile {
            folder,
            name: std::ffi::OsString::from(format!("TIDE{number:04}.JPG")).into_boxed_os_str(),
            bytes: 9_000_000,
            kind: FileKind::Jpeg,
        },
        companions: Vec::new(),
        number: Some(FileNumber { value: number, digits: 4 }),
    }
}

/// A pause between two frames.
pub fn slip(before: usize, pause_s: f64, slots: f64) -> Join {
    Join {
        before,
        after: before + 1,
        gap_s: pause_s,
        kind: JoinKind::Slip { pause_s, slots },
        or_missing: None,
        shots_beyond: None,
    }
}

/// A plan that asks for an interval.
pub fn every(interval_s: f64) -> Plan {
    Plan { interval_s: Some(interval_s), ..Plan::default() }
}

/// A plan with one tolerance more.
pub fn tolerating(mut plan: Plan, check: &str, key: &str, level: f64) -> Plan {
    plan.tolerances.entry(check.to_owned()).or_default().insert(key.to_owned(), level);
    plan
}

/// The judgement of one check; its counts must add up to the folder.
pub fn judged(check: &'static Check, plan: &Plan, evidence: &Sequence) -> Judgement {
    let judgement = judge_one(check, plan, evidence);
    let aside: u64 = judgement.set_aside.iter().map(|(count, _)| count).sum();
    assert_eq!(judgement.looked_at + aside, evidence.len() as u64, "{:?}", judgement.set_aside);
    if let Answer::Broke(what) = &judgement.answer {
        panic!("{} broke: {what}", check.text.id);
    }
    judgement
}

/// The findings of one check, none where it is clear. Where it cannot judge the test fails.
pub fn found(check: &'static Check, plan: &Plan, evidence: &Sequence) -> Vec<Finding> {
    match judged(check, plan, evidence).answer {
        Answer::Clear => Vec::new(),
        Answer::Found(findings) => findings,
        other => panic!("{}: {other:?}", check.text.id),
    }
}

/// The severities of one check's findings.
pub fn severities(check: &'static Check, plan: &Plan, evidence: &Sequence) -> Vec<Severity> {
    found(check, plan, evidence).iter().map(|f| f.severity).collect()
}

/// The reason for which one check cannot judge; where it can the test fails.
pub fn cannot(check: &'static Check, plan: &Plan, evidence: &Sequence) -> String {
    match judged(check, plan, evidence).answer {
        Answer::CannotJudge(reason) => reason,
        other => panic!("{}: {other:?}", check.text.id),
    }
}
