//! What a survey tells of one audit.

use crate::audit::Audit;
use crate::evidence::{Camera, FrameView};
use crate::evidence::{FrameState, Sequence};
use crate::finding::Answer;
use crate::frames::{Card, Pictures};
use crate::units::{CivilTime, FrameSpan};
use crate::verdict::Call;

/// The smallest and the largest of a setting; `None` where no frame tells it.
pub type Ends = Option<(f64, f64)>;

/// Sets of several exposures, one a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sets {
    /// How many, those included that lack an exposure or have one more.
    pub count: u64,
    /// Exposures of a whole set.
    pub size: u64,
}

impl Sets {
    /// The sets of a run; `None` where there are none.
    fn of(evidence: &Sequence) -> Option<Self> {
        let bracket = evidence.timing.bracket.as_ref()?;
        let of_run = |at: &usize| evidence.frame(*at).stands();
        let in_span = |span: &FrameSpan| (span.first..=span.last).filter(of_run).count() as u64;
        let frames = evidence.in_run().count() as u64;
        let whole = frames.saturating_sub(bracket.incomplete.iter().map(in_span).sum());
        let size = bracket.size as u64;
        Some(Self { count: bracket.incomplete.len() as u64 + whole.div_ceil(size.max(1)), size })
    }
}

/// One sequence in a line.
#[derive(Clone, Debug)]
pub struct SequenceLine {
    /// Its title: the plan's name, or where it lies.
    pub name: String,
    /// Index into the survey's roots: that of its first frame.
    pub root: u16,
    /// The deepest folder that holds all of it, below the root, exact; empty for the root itself.
    pub folder: String,
    /// Path of its first frame, exact.
    pub first_file: String,
    /// Path of its last frame.
    pub last_file: String,
    /// The camera that most of it is by.
    pub camera: Option<Camera>,
    /// Stamp of its first frame.
    pub start: Option<CivilTime>,
    /// Stamp of its last frame.
    pub end: Option<CivilTime>,
    /// Frames of the run, damaged ones included.
    pub frames: u64,
    /// Frames of the folder that are not of the run: test shots and copies.
    pub others: u64,
    /// How its frames make sets of several exposures; `None` with one exposure a slot.
    pub sets: Option<Sets>,
    /// Slots without a frame; `None` without a cadence.
    pub missing: Option<u64>,
    /// The interval of its longest stretch, s.
    pub interval_s: Option<f64>,
    /// Width and height of its pictures, px.
    pub size: Option<(u32, u32)>,
    /// Exposure times as written, s.
    pub exposure_s: Ends,
    /// f-numbers as written.
    pub f_number: Ends,
    /// Sensitivities as written.
    pub iso: Ends,
    /// What its audit comes to.
    pub call: Call,
    /// What the call was made from, where that is not everything, in words.
    pub limited_to: Option<&'static str>,
    /// Ids of the checks that hold the call where it is, each once.
    pub why: Vec<&'static str>,
    /// The weightiest reason for that; `None` where it is clear.
    pub reason: Option<String>,
    /// What happened in one sentence: its worst incident; `None` where it is clear.
    pub story: Option<String>,
    /// What it was compared with, in words.
    pub plan_source: String,
    /// What its plan keeps out of the call, in words.
    pub accepted: Option<String>,
    /// False where a file of it was not read, or a check broke.
    pub complete: bool,
    /// The folder of its own report below that of the survey, where one was written.
    pub report: Option<String>,
}

impl SequenceLine {
    /// What there is to tell of an audit.
    pub fn of(audit: &Audit) -> Self {
        let evidence = &audit.evidence;
        let frames = &evidence.frames;
        let run: Vec<FrameView<'_>> = evidence.run().collect();
        // Without any frame of a run, all that is there is told.
        let told: Vec<FrameView<'_>> = if run.is_empty() { evidence.all().collect() } else { run };
        let path =
            |frame: Option<&FrameView<'_>>| frame.map(|f| frames.path_text(f.at())).unwrap_or_default();
        let stamps = || told.iter().filter_map(|frame| frame.moment());
        let camera = commonest(told.iter().filter_map(|frame| frame.row().camera.known()));
        let folders = told.iter().map(|frame| frame.shot().file.folder);
        let in_state = |state| evidence.count(state);
        let first = told.first().map(|frame| &frame.shot().file);
        let broke = audit.judgements.iter().any(|j| matches!(j.answer, Answer::Broke(_)));
        Self {
            name: audit.name.clone(),
            root: first.map_or(0, |f| frames.card.folder_text(f.folder).0),
            folder: common(&frames.card, folders),
            first_file: path(told.first()),
            last_file: path(told.last()),
            camera: camera.and_then(|c| frames.cameras.get(usize::from(c)).cloned()),
            start: stamps().next(),
            end: stamps().next_back(),
            frames: in_state(FrameState::Frame) + in_state(FrameState::Damaged),
            others: in_state(FrameState::Surplus) + in_state(FrameState::Outside),
            sets: Sets::of(evidence),
            missing: evidence.timing.missing(),
            interval_s: evidence.timing.cadence.as_ref().map(|c| c.interval_s),
            size: commonest(told.iter().filter_map(|frame| frame.row().size.known())),
            exposure_s: ends(told.iter().filter_map(|frame| frame.marked_s())),
            f_number: ends(told.iter().filter_map(|frame| frame.marked_f_number())),
            iso: ends(told.iter().filter_map(|frame| frame.marked_iso())),
            call: audit.verdict.call,
            limited_to: (audit.pictures == Pictures::None).then_some("timing and settings only"),
            why: why(audit),
            reason: audit.verdict.reasons.first().map(|r| r.words.clone()),
            story: audit.verdict.incidents.first().map(|i| i.sentence.clone()),
            plan_source: audit.plan_source.clone(),
            accepted: audit.kept_out(),
            complete: audit.complete() && !broke,
            report: None,
        }
    }
}

/// The checks of the weightiest reasons.
fn why(audit: &Audit) -> Vec<&'static str> {
    let reasons = &audit.verdict.reasons;
    let weightiest = reasons.iter().map(|r| r.severity).max();
    let mut ids = Vec::new();
    for reason in reasons.iter().filter(|r| Some(r.severity) == weightiest) {
        if !ids.contains(&reason.check) {
            ids.push(reason.check);
        }
    }
    ids
}

fn ends(values: impl Iterator<Item = f64>) -> Ends {
    values.fold(None, |seen, v| {
        let (low, high) = seen.unwrap_or((v, v));
        Some((v.min(low), v.max(high)))
    })
}

/// The commonest value; of two as common the smaller.
fn commonest<T: Ord + Copy>(values: impl Iterator<Item = T>) -> Option<T> {
    let mut all: Vec<T> = values.collect();
    all.sort_unstable();
    let runs = all.chunk_by(|a, b| a == b);
    runs.fold(None, |best: Option<(T, usize)>, run| match best {
        Some((_, most)) if most >= run.len() => best,
        _ => run.first().map(|value| (*value, run.len())),
    })
    .map(|best| best.0)
}

/// The deepest folder, below the root, that holds all of `folders`.
pub(crate) fn common(card: &Card, folders: impl Iterator<Item = u32>) -> String {
    let mut all: Vec<u32> = folders.collect();
    all.sort_unstable();
    all.dedup();
    let mut paths = all.into_iter().map(|folder| card.folder_text(folder).1);
    let Some(mut shared) = paths.next() else { return String::new() };
    for path in paths {
        let same = shared.split('/').zip(path.split('/')).take_while(|(a, b)| a == b).count();
        shared = shared.split('/').take(same).collect::<Vec<_>>().join("/");
    }
    shared
}
