//! What is wrong with a rehearsal, on purpose: the content of `truth.json`.

use super::Options;
use super::faults::Fault;
use super::placed::{Faults, Placed, whole_thirds};
use super::shot::{Role, Shot, State, file};
use super::timeline::{Meant, Timeline};
use serde::{Deserialize, Serialize};

/// Who wrote the file; a folder whose truth says so may be written again.
pub const MADE_BY: &str = "lapseproof rehearse";

/// What is wrong, and where. Files are named relative to the folder that holds `truth.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// [`MADE_BY`].
    pub made_by: String,
    /// Number of this layout: 1.
    pub schema: u32,
    /// Where chance began.
    pub seed: u64,
    /// The plan's interval, s.
    pub planned_interval_s: f64,
    /// The timer's interval at the start of the run, s.
    pub true_interval_s: f64,
    /// What the timer counts from: `open` or `close`.
    pub counted_from: String,
    /// Step between neighbouring stamps, s.
    pub stamp_resolution_s: f64,
    /// Frames that the plan asks for.
    pub planned_frames: u64,
    /// Slots from the first to the last frame of the run, missing ones included.
    pub slots: u64,
    /// Slots among them without a file, whatever the cause.
    pub missing: u64,
    /// Files written, copies included.
    pub files: u64,
    /// Files of the run, damaged ones included.
    pub run_files: u64,
    /// Frames too many.
    pub surplus: u64,
    /// Test shots.
    pub outside: u64,
    /// Files that are no whole pictures.
    pub damaged: u64,
    /// Files that are copies of others.
    pub copies: u64,
    /// First file of the run.
    pub first_file: Option<String>,
    /// Last file of the run.
    pub last_file: Option<String>,
    /// Every hole between two files of the run, whatever fault made it.
    pub holes: Vec<Hole>,
    /// Every fault, in the order asked for; an overrun that the plan itself brings comes last.
    pub faults: Vec<TruthFault>,
}

/// Slots without a file between two files of the run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hole {
    /// The file before.
    pub first_file: String,
    /// The file after.
    pub last_file: String,
    /// The first slot without a file.
    pub first_slot: u64,
    /// Slots without a file.
    pub count: u64,
    /// `trigger-missed` (file numbers run on), `file-lost` (they skip by as many) or `unknown` (some of
    /// each).
    pub cause: String,
    /// The stamp of the frame before, on the camera's clock.
    pub at: String,
}

/// One fault and where it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TruthFault {
    /// Its name.
    pub kind: String,
    /// The first frame concerned; the frame before, where the fault lies between two frames.
    pub first_file: Option<String>,
    /// The last frame concerned; the frame after, where the fault lies between two frames.
    pub last_file: Option<String>,
    /// The first slot concerned.
    pub first_slot: Option<u64>,
    /// The last slot concerned.
    pub last_slot: Option<u64>,
    /// Slots, frames or files concerned.
    pub count: u64,
    /// The cause that an audit should name for the hole: `trigger-missed` or `file-lost`.
    pub cause: Option<String>,
    /// Stamp of the first file named, on the camera's clock.
    pub at: Option<String>,
    /// How much: see `unit`.
    pub amount: Option<f64>,
    /// Unit of the amount: `s`, `EV`, `factor`, `pixels` or `share`.
    pub unit: Option<String>,
}

/// What the truth is told from, beside the shots.
pub(super) struct Setting<'a> {
    pub meant: &'a Meant,
    pub faults: &'a Faults,
    pub options: &'a Options,
    pub dcim: bool,
    pub timeline: &'a Timeline,
}

/// How the place of a fault is told.
enum Span {
    /// Slots from the first up to the second, without it: the frames on either side are named.
    Between(u64, u64),
    /// Frames of the slots from the first to the second.
    Frames(u64, u64),
    /// The whole run.
    Whole,
}

pub(super) fn tell(shots: &[Shot], setting: &Setting<'_>) -> Truth {
    let Setting { meant, faults, options, .. } = setting;
    let on_card: Vec<&Shot> = shots.iter().filter(|s| s.on_card()).collect();
    let run: Vec<&Shot> = on_card.iter().copied().filter(|s| s.role == Role::Run).collect();
    let name = |shot: &&Shot| file(setting.dcim, &options.prefix, shot);
    let holes = holes(shots, &run, setting);
    let missing = holes.iter().map(|h| h.count).sum();
    let slots = match (run.first().and_then(|s| s.slot), run.last().and_then(|s| s.slot)) {
        (Some(first), Some(last)) => last - first + 1,
        _ => 0,
    };
    let count = |test: &dyn Fn(&Shot) -> bool| on_card.iter().filter(|s| test(s)).count() as u64;
    let copies = count(&|s| s.copied);
    let mut rows: Vec<TruthFault> = faults.all().iter().map(|p| row(p, shots, &run, setting)).collect();
    if faults.overrun().is_none() && setting.timeline.busy_misses > 0 {
        let misses = setting.timeline.busy_misses;
        let span = setting.timeline.busy_span.map_or(Span::Whole, |(a, b)| Span::Between(a, b + 1));
        rows.push(TruthFault { cause: missed(), ..placed_row("overrun", &span, misses, &run, setting) });
    }
    Truth {
        made_by: MADE_BY.into(),
        schema: 1,
        seed: options.seed,
        planned_interval_s: meant.interval_s,
        true_interval_s: meant.interval_s * faults.rate(0),
        counted_from: if meant.from_close { "close".into() } else { "open".into() },
        stamp_resolution_s: options.resolution_s(),
        planned_frames: meant.frames,
        slots,
        missing,
        files: on_card.len() as u64 + copies,
        run_files: run.len() as u64,
        surplus: count(&|s| s.role == Role::Surplus),
        outside: count(&|s| s.role == Role::Outside),
        damaged: count(&|s| matches!(s.state, State::Damaged(_))),
        copies,
        first_file: run.first().map(name),
        last_file: run.last().map(name),
        holes,
        faults: rows,
    }
}

fn holes(shots: &[Shot], run: &[&Shot], setting: &Setting<'_>) -> Vec<Hole> {
    // Slots of lost files, in order; a bracket's members count once.
    let mut lost: Vec<u64> =
        shots.iter().filter(|s| s.role == Role::Run && !s.on_card()).filter_map(|s| s.slot).collect();
    lost.dedup();
    let mut holes = Vec::new();
    for pair in run.windows(2) {
        let &[before, after] = pair else { continue };
        let (Some(from), Some(to)) = (before.slot, after.slot) else { continue };
        let count = to.saturating_sub(from).saturating_sub(1);
        if count == 0 {
            continue;
        }
        let gone = lost.partition_point(|s| *s < to) - lost.partition_point(|s| *s <= from);
        let cause = match gone as u64 {
            0 => "trigger-missed",
            gone if gone == count => "file-lost",
            _ => "unknown",
        };
        holes.push(Hole {
            first_file: file(setting.dcim, &setting.options.prefix, before),
            last_file: file(setting.dcim, &setting.options.prefix, after),
            first_slot: from + 1,
            count,
            cause: cause.into(),
            at: before.stamp.iso(setting.options.stamp_digits),
        });
    }
    holes
}

fn missed() -> Option<String> {
    Some("trigger-missed".into())
}

fn placed_row(kind: &str, span: &Span, count: u64, run: &[&Shot], setting: &Setting<'_>) -> TruthFault {
    let from = |slot: u64| run.partition_point(|s| s.slot < Some(slot));
    let (first, last, slots) = match *span {
        Span::Between(a, b) => {
            let slots = if b > a { (a, b - 1) } else { (a, a) };
            (from(a).checked_sub(1).and_then(|i| run.get(i)), run.get(from(b)), Some(slots))
        }
        Span::Frames(a, b) => {
            let last = from(b.saturating_add(1)).checked_sub(1).and_then(|i| run.get(i));
            (run.get(from(a)), last, Some((a, b)))
        }
        Span::Whole => (None, None, None),
    };
    let name = |shot: &&Shot| file(setting.dcim, &setting.options.prefix, shot);
    TruthFault {
        kind: kind.into(),
        first_file: first.map(name),
        last_file: last.map(name),
        first_slot: slots.map(|s| s.0),
        last_slot: slots.map(|s| s.1),
        count,
        cause: None,
        at: first.map(|s| s.stamp.iso(setting.options.stamp_digits)),
        amount: None,
        unit: None,
    }
}

fn row(placed: &Placed, shots: &[Shot], run: &[&Shot], setting: &Setting<'_>) -> TruthFault {
    let meant = setting.meant;
    let Placed { fault, at } = *placed;
    let last_slot = meant.slots - 1;
    let make = |span: Span, count: u64| placed_row(fault.name(), &span, count, run, setting);
    let with = |row: TruthFault, amount: f64, unit: &str| TruthFault {
        amount: Some(amount),
        unit: Some(unit.into()),
        ..row
    };
    let thirds = |ev| f64::from(whole_thirds(ev)) / 3.0;
    match fault {
        Fault::Missing { count, .. } => {
            TruthFault { cause: missed(), ..make(Span::Between(at, at + count), count) }
        }
        Fault::MissingEvery { every } => {
            TruthFault { cause: missed(), ..make(Span::Whole, last_slot / every) }
        }
        Fault::Lost { count, .. } => {
            // The files are those of the shots that were taken at or after the place.
            let mut slots =
                shots.iter().filter(|s| !s.on_card() && s.slot >= Some(at)).filter_map(|s| s.slot);
            let first = slots.next().unwrap_or(at);
            let last = slots.take((count - 1) as usize).last().unwrap_or(first);
            TruthFault { cause: Some("file-lost".into()), ..make(Span::Between(first, last + 1), count) }
        }
        Fault::Rate { factor } => with(make(Span::Whole, meant.slots), factor, "factor"),
        Fault::RateChange { factor, .. } => {
            with(make(Span::Between(at, at), meant.slots - at), factor, "factor")
        }
        Fault::Jitter { amount_s, .. } => with(make(Span::Whole, meant.slots), amount_s, "s"),
        Fault::Pause { seconds, .. } => {
            let length = setting.faults.pause_length(placed, seconds, meant.interval_s);
            with(make(Span::Between(at, at), 1), length, "s")
        }
        Fault::Clock { step_s, .. } => with(make(Span::Between(at, at), 1), step_s, "s"),
        Fault::Overrun { .. } => {
            let misses = setting.timeline.busy_misses;
            let span =
                setting.timeline.busy_span.map_or(Span::Frames(at, at), |(a, b)| Span::Between(a, b + 1));
            TruthFault { cause: missed(), ..make(span, misses) }
        }
        Fault::Jump { ev, .. } => with(make(Span::Between(at, at), 1), thirds(ev), "EV"),
        Fault::Odd { ev, .. } => with(make(Span::Frames(at, at), 1), thirds(ev), "EV"),
        Fault::Hunting { count, .. } => with(make(Span::Frames(at, at + count - 1), count), 1.0 / 3.0, "EV"),
        Fault::Flicker { rms_ev, .. } => with(make(Span::Whole, meant.slots), rms_ev, "EV"),
        Fault::Stray { ev, .. } => with(make(Span::Frames(at, at), 1), ev, "EV"),
        Fault::Stuck { .. } => make(Span::Between(at, at), meant.slots.saturating_sub(at)),
        Fault::Damaged { count, .. } => make(Span::Frames(at, at + count - 1), count),
        Fault::Surplus { .. } => make(Span::Between(at + 1, at + 1), 1),
        Fault::Duplicate { .. } => make(Span::Frames(at, at), 1),
        Fault::Tests { head, tail } => make(Span::Whole, head + tail),
        Fault::Stop { share } => {
            with(make(Span::Frames(last_slot, last_slot), meant.frames - meant.slots), share, "share")
        }
        Fault::FromClose | Fault::DarkFrame => make(Span::Whole, meant.slots),
        Fault::Stalled { count, .. } => make(Span::Frames(at, at + count - 1), count),
        Fault::Lorry { count, .. } => make(Span::Frames(at, at + count - 1), count),
        Fault::Slip { share, .. } => with(make(Span::Between(at, at), 1), share, "share"),
        Fault::Reversal { .. } => make(Span::Between(at, at), meant.slots - at),
        Fault::RailEnd { .. } => make(Span::Frames(at, last_slot), meant.slots - at),
        Fault::Knock { pixels, .. } => with(make(Span::Between(at, at), 1), pixels, "pixels"),
        Fault::Wrap { .. } | Fault::Roll { .. } => make(Span::Between(at, at), 1),
        Fault::Late { seconds, .. } => {
            with(make(Span::Frames(at, at), 1), seconds.unwrap_or(meant.interval_s / 5.0), "s")
        }
        Fault::Soft { pixels, .. } => with(make(Span::Frames(at, at), 1), pixels, "pixels"),
    }
}
