//! Bytes as a card's stamps and exposures: any list of them is judged, and in bounded time.

use lapseproof::audit::{Audit, Setting, carry_out_each};
use lapseproof::card::{Card, CardFile, FileKind, Folder, Shot, file_number};
use lapseproof::finding::Answer;
use lapseproof::frames::{Cell, Frames, Pictures, Row, Stamp, StampSource};
use lapseproof::plan::{CountedFrom, Plan};
use lapseproof::survey::{FoundPlan, audit_of, parts};
use lapseproof::units::{CivilTime, Micros};
use rustix::time::{ClockId, clock_gettime};
use std::ffi::OsString;

/// Most frames of one card.
const MOST: usize = 600;

/// Processor time that one card may take whatever it holds, and that a frame of it may take more, s. The
/// fuzzer's instruments and checks take some six times as long as a release does without.
const AT_MOST_S: f64 = 1.0;
const A_FRAME_S: f64 = 0.01;

/// Audits and surveys the card that `data` describes: a head of four bytes, then four bytes a step.
///
/// # Panics
/// Where a check breaks, a frame is lost, or the time is more than the frames allow.
pub fn look(data: &[u8]) {
    let Some((head, steps)) = data.split_first_chunk::<4>() else { return };
    let frames = card(*head, steps);
    let count = frames.len();
    let plan = plan(*head);
    let setting = Setting { name: "card".into(), plan: plan.clone(), ..Setting::default() };
    timed("audit", count, || {
        let set = carry_out_each(setting, frames.clone());
        assert!(set.frames() == count, "{} of {count} frames", set.frames());
        set.cameras.iter().for_each(|camera| sound(&camera.audit));
    });
    let plans = [FoundPlan { plan, words: String::new() }];
    let under = if head[1] & 1 == 1 { Some(0) } else { None };
    timed("survey", count, || {
        let (found, loose) = parts(frames, &plans, &[under; 2]);
        let in_none: u64 = loose.iter().map(|l| l.frames).sum();
        let in_one: usize = found.iter().map(|p| p.evidence.frames.len()).sum();
        assert!(in_one as u64 + in_none == count as u64, "{in_one} and {in_none} of {count} frames");
        for part in found {
            sound(&audit_of(part, &plans, "part".into(), Pictures::None));
        }
    });
}

/// Does `work` and holds the processor time that it took against what so many frames allow.
fn timed(what: &str, frames: usize, work: impl FnOnce()) {
    let now = || {
        let time = clock_gettime(ClockId::ProcessCPUTime);
        time.tv_sec as f64 + time.tv_nsec as f64 * 1e-9
    };
    let begin = now();
    work();
    let took = now() - begin;
    assert!(took < AT_MOST_S + frames as f64 * A_FRAME_S, "{what}: {took:.2} s for {frames} frames");
}

/// No check broke, and the counts of each add up to the folder.
fn sound(audit: &Audit) {
    let all = audit.evidence.len() as u64;
    for judgement in &audit.judgements {
        let id = judgement.text.id;
        assert!(!matches!(judgement.answer, Answer::Broke(_)), "{id}: {:?}", judgement.answer);
        let aside: u64 = judgement.set_aside.iter().map(|(n, _)| n).sum();
        assert!(judgement.looked_at + aside == all, "{id}: {} and {aside} of {all}", judgement.looked_at);
    }
}

/// A plan, where the head has one.
fn plan([_, flags, interval, frames]: [u8; 4]) -> Plan {
    Plan {
        interval_s: (flags & 2 != 0).then(|| f64::from(interval.max(1)) / 4.0),
        frames: (flags & 4 != 0).then(|| u64::from(frames) * 8),
        counted_from: (flags & 8 != 0).then_some(CountedFrom::Close),
        bracket: (flags & 16 != 0).then_some(3),
        ..Plan::default()
    }
}

/// A frame of the card: the time from the first, `None` without a stamp, and its exposure, s.
type Shutter = (Option<Micros>, f64);

/// What the steps say. Each adds a frame, or says the last gaps once more.
fn shutters(steps: &[u8]) -> Vec<Shutter> {
    let (mut all, mut gaps) = (Vec::<Shutter>::new(), vec![Micros::from_seconds(5)]);
    let (mut at, mut exposure) = (Micros::ZERO, 1.0 / 125.0);
    for step in steps.chunks_exact(4) {
        let [op, a, b, c] = [0, 1, 2, 3].map(|at| i64::from(step[at]));
        let seconds = |s: i64| vec![Micros::from_seconds(s)];
        let more = match op % 8 {
            0 => vec![Micros::new(a * 1_000_000 + b * 10_000 + c * 50)],
            1 => seconds(a * 256 + b),
            2 => seconds(-(a * 256 + b)),
            3 => vec![Micros::new(a * 100_000 + b * 1000)],
            4 => gaps[gaps.len().saturating_sub(1 + a as usize % 32)..]
                .repeat(1 + (b + c * 256) as usize % MOST),
            5 => {
                all.push((None, exposure));
                Vec::new()
            }
            6 => seconds((a * 65_536 + b * 256 + c) * 64),
            _ => {
                exposure = f64::exp2((a as f64 - 160.0) / 8.0);
                seconds(b)
            }
        };
        for gap in more.into_iter().take(MOST.saturating_sub(all.len())) {
            at += gap;
            gaps.push(gap);
            all.push((Some(at), exposure));
        }
        // A pattern is said from the latest gaps alone.
        gaps.drain(..gaps.len().saturating_sub(64));
    }
    all.truncate(MOST);
    all
}

/// The card. The head's first byte tells how finely stamps are written, whether names are numbered, and
/// whether two folders hold the files.
fn card([first, ..]: [u8; 4], steps: &[u8]) -> Frames {
    let folder = |path: &str, number| Folder { root: 0, path: path.into(), number };
    let folders = match first & 8 {
        0 => vec![folder("", None)],
        _ => vec![folder("100TRAPS", Some(100)), folder("101TRAPS", Some(101))],
    };
    let (digits, numbered, all) = (first % 4, first & 4 == 0, shutters(steps));
    let card = Card { roots: vec!["card".into()], folders, ..Card::default() };
    let mut frames = Frames { card, ..Frames::default() };
    let half = all.len().div_ceil(frames.card.folders.len().max(1)).max(1);
    for (n, (stamp, exposure)) in all.into_iter().enumerate() {
        let stem = if numbered { format!("TRAP{:04}", n % 9999 + 1) } else { format!("{n:x}x") };
        let name = OsString::from(format!("{stem}.JPG")).into_boxed_os_str();
        let file = CardFile { folder: (n / half) as u32, name, bytes: 4_000_000, kind: FileKind::Jpeg };
        frames.card.shots.push(Shot { file, companions: Vec::new(), number: file_number(&stem) });
        let stamp = stamp.map_or(Cell::Absent, |at| Cell::Known(stamp_of(at, digits)));
        frames.rows.push(Row {
            stamp,
            exposure_s: Cell::Known(exposure),
            f_number: Cell::Known(8.0),
            iso: Cell::Known(200),
            print: n as u64 + 1,
            ..Row::default()
        });
    }
    frames
}

/// The first moment of the year 1900, and 8,000 years from there: what a file can hold as a stamp.
const EARLIEST: Micros = Micros::from_seconds(-2_208_988_800);
const YEARS: Micros = Micros::from_seconds(252_455_616_000);

/// A stamp of so many decimals, so long after 2026-01-01.
fn stamp_of(since: Micros, digits: u8) -> Stamp {
    let resolution = Micros::step_of(digits % 4);
    let at = EARLIEST + (Micros::from_seconds(1_767_225_600) - EARLIEST + since).rem_euclid(YEARS);
    Stamp {
        at: CivilTime::from_micros(at.floored(resolution)),
        resolution,
        digits,
        offset_min: None,
        source: StampSource::Original,
    }
}
