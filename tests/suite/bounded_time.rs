//! Time is bounded whatever the stamps: camera traps, bursts and clocks that run backwards make cards that no
//! timer shot. They may be told as of no steady pace; they may not take minutes.
//!
//! `cargo test` plays a few thousand frames of each kind. The long round prints seconds of processors for
//! 100,000, of which none may take ten: `LAPSEPROOF_FRAMES=100000 cargo test --release --test suite
//! bounded_time:: -- --nocapture --test-threads=1`.

use lapseproof::audit::{Setting, carry_out};
use lapseproof::card::{Card, CardFile, FileKind, Folder, Shot, file_number};
use lapseproof::evidence::timing::effort::Effort;
use lapseproof::frames::{Cell, Frames, Row, Stamp, StampSource};
use lapseproof::survey::parts;
use lapseproof::units::{CivilTime, Micros};
use std::ffi::OsString;

/// Processor time of this thread so far, s: other work on the machine leaves it alone.
#[cfg(unix)]
fn processor_s() -> f64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    time.tv_sec as f64 + time.tv_nsec as f64 * 1e-9
}

/// Seconds so far, where processor time is not told.
#[cfg(not(unix))]
fn processor_s() -> f64 {
    static BEGAN: std::sync::LazyLock<std::time::Instant> = std::sync::LazyLock::new(std::time::Instant::now);
    BEGAN.elapsed().as_secs_f64()
}

/// A small generator: numerical recipes' linear congruence, its upper bits.
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: i64) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % n.unsigned_abs()) as i64
    }
}

/// Stamps, s from the first, of a kind of card.
fn stamps(kind: &str, n: i64) -> Vec<i64> {
    let mut chance = Chance(7);
    let mut out: Vec<i64> = Vec::new();
    let mut at = 0;
    match kind {
        "equal" => out.extend((0..n).map(|_| 0)),
        "descending" => out.extend((0..n).map(|k| (n - k) * 5)),
        "steady" => out.extend((0..n).map(|k| k * 5)),
        "random" => out.extend((0..n).map(|_| chance.below(20 * n))),
        "sorted" => {
            out.extend((0..n).map(|_| chance.below(20 * n)));
            out.sort_unstable();
        }
        "paired" => out.extend((0..n).map(|k| k / 2 * 9999 + k % 2)),
        "tens" => out.extend((0..n).map(|k| k / 10 * 10_007 + k % 10)),
        "thirties" => out.extend((0..n).map(|k| k / 30 * 10_027 + k % 30)),
        "bursts of three" => {
            for k in 0..n {
                at += if k % 3 == 0 { 20 + chance.below(3000) } else { 1 };
                out.push(at);
            }
        }
        "bursts" => {
            while (out.len() as i64) < n {
                at += 60 + chance.below(7200);
                for _ in 0..=chance.below(8) {
                    at += 1 + chance.below(3);
                    out.push(at);
                }
            }
        }
        // Each gap keeps several readings alive: one interval or two, one slot or two.
        "adversarial" => {
            for k in 0..n {
                at += [1, 2, 1, 3, 2, 1, 5, 1][chance.below(8) as usize] + i64::from(k % 97 == 0) * 40;
                out.push(at);
            }
        }
        "ever longer" => out.extend((0..n).map(|k| k * 3 + k * k / 5000)),
        _ => unreachable!("{kind}"),
    }
    out.truncate(n as usize);
    out
}

const KINDS: [&str; 12] = [
    "equal",
    "descending",
    "steady",
    "random",
    "sorted",
    "paired",
    "tens",
    "thirties",
    "bursts of three",
    "bursts",
    "adversarial",
    "ever longer",
];

fn frames(stamps: &[i64]) -> Frames {
    let shutters: Vec<Shutter> = stamps.iter().map(|s| (Micros::from_seconds(*s), 1.0 / 125.0)).collect();
    shot(&shutters, 0)
}

/// A frame: the time from the first, and its exposure, s.
type Shutter = (Micros, f64);

/// A card of such frames, with so many decimals in their stamps.
fn shot(shutters: &[Shutter], digits: u8) -> Frames {
    let resolution = Micros::step_of(digits);
    let card = Card {
        roots: vec!["card".into()],
        folders: vec![Folder { root: 0, path: "".into(), number: None }],
        ..Card::default()
    };
    let mut frames = Frames { card, ..Frames::default() };
    for (at, (opens, exposure_s)) in shutters.iter().enumerate() {
        let name = format!("TRAP{:06}.JPG", at + 1);
        frames.card.shots.push(Shot {
            file: CardFile {
                folder: 0,
                name: OsString::from(&name).into_boxed_os_str(),
                bytes: 4_000_000,
                kind: FileKind::Jpeg,
            },
            companions: Vec::new(),
            number: file_number(&name[..10]),
        });
        frames.rows.push(Row {
            stamp: Cell::Known(Stamp {
                at: CivilTime::from_micros(Micros::from_seconds(1_767_225_600) + opens.floored(resolution)),
                resolution,
                digits,
                offset_min: None,
                source: StampSource::Original,
            }),
            exposure_s: Cell::Known(*exposure_s),
            f_number: Cell::Known(8.0),
            iso: Cell::Known(200),
            print: at as u64 + 1,
            ..Row::default()
        });
    }
    frames
}

/// Seconds that a survey's reckoning of so many frames of a kind takes.
fn survey_seconds(kind: &str, n: i64) -> f64 {
    surveyed(kind, frames(&stamps(kind, n)))
}

/// Seconds that a survey's reckoning of a card takes.
fn surveyed(kind: &str, frames: Frames) -> f64 {
    let n = frames.len();
    let begin = processor_s();
    let (found, loose) = parts(frames, &[], &[None]);
    let told: u64 = loose.iter().map(|l| l.frames).sum();
    let all = found.iter().map(|p| p.evidence.frames.len() as u64).sum::<u64>() + told;
    assert_eq!(all, n as u64, "{kind}: every frame is in a sequence or in none");
    processor_s() - begin
}

/// Seconds that the reckoning of so many frames of a kind takes.
fn seconds(kind: &str, n: i64) -> f64 {
    audited(kind, frames(&stamps(kind, n)))
}

/// Seconds that the reckoning of a card takes.
fn audited(kind: &str, frames: Frames) -> f64 {
    let n = frames.len();
    let begin = processor_s();
    let audit = carry_out(Setting { name: kind.into(), ..Setting::default() }, frames);
    assert_eq!(audit.evidence.frames.len(), n, "{kind}");
    processor_s() - begin
}

/// Twice the frames take about twice the time, whatever the stamps: never four times.
#[test]
fn time_grows_with_the_frames_and_no_faster() {
    let asked = std::env::var("LAPSEPROOF_FRAMES").ok().and_then(|n| n.parse::<i64>().ok());
    let n = asked.unwrap_or(3_000);
    let mut slow = Vec::new();
    for kind in KINDS {
        let (half, whole) = (seconds(kind, n / 2), seconds(kind, n));
        println!("{kind:16} {n} frames: {whole:.2} s, half of them {half:.2} s");
        // Measured side by side: what is too short to measure is no trouble.
        if whole > 3.5 * half.max(0.2) || asked.is_some() && whole > 10.0 {
            slow.push(format!("{kind}: {half:.2} s, then {whole:.2} s"));
        }
    }
    assert!(slow.is_empty(), "{slow:?}");
}

/// How many times as long as four times the frames of a steady run a small card may take.
const MOST_TIMES: f64 = 800.0;

/// A survey looks for sequences in what is left, again and again: that is bounded too.
#[test]
fn a_survey_takes_no_more_than_seconds() {
    let asked = std::env::var("LAPSEPROOF_FRAMES").ok().and_then(|n| n.parse::<i64>().ok());
    let n = asked.unwrap_or(1_000);
    let mut slow = Vec::new();
    for kind in KINDS {
        let (steady, seconds) = (survey_seconds("steady", 4 * n), survey_seconds(kind, n));
        println!("survey, {kind:16} {n} frames: {seconds:.2} s");
        // Held against a run that a timer shot, in the same process: no machine and no build decides.
        let most = if asked.is_some() { 10.0 } else { MOST_TIMES * steady.max(0.01) };
        if seconds > most {
            slow.push(format!("{kind}: {seconds:.2} s, {most:.2} s"));
        }
    }
    assert!(slow.is_empty(), "{slow:?}");
}

/// A timer that is interrupted after every tenth frame, ten thousand frames long, is none.
#[test]
fn bursts_without_end_are_of_no_steady_pace() {
    let audit = carry_out(Setting::default(), frames(&stamps("tens", 10_300)));
    assert_eq!(audit.evidence.timing.cadence.map(|c| c.interval_s), None);
}

/// Gaps, s, and exposures, s, in turns; a gap of nearly a year comes after every so many turns.
struct Ragged {
    what: &'static str,
    digits: u8,
    gaps_s: &'static [f64],
    exposures_s: &'static [f64],
    rest_after: usize,
}

/// Shapes that a search through made-up lists of stamps found slow. Each turn keeps several widths, laws and
/// rounds of the reading busy, and a survey looked at what was left of it again and again.
const RAGGED: [Ragged; 5] = [
    Ragged {
        what: "gaps of seconds, minutes and weeks",
        digits: 1,
        gaps_s: &[1.6, 2_359_232.0, 255.0, 9.5, 206.0],
        exposures_s: &[0.008],
        rest_after: 264,
    },
    Ragged {
        what: "the same to the hundredth, exposures of all lengths",
        digits: 2,
        gaps_s: &[12.33, 0.0, 65_535.0, 24_403.0, -257.0, 174.0, 255.0],
        exposures_s: &[0.008, 0.011, 0.115, 2e-6, 66.0],
        rest_after: 512,
    },
    Ragged {
        what: "tenths among hours, exposures of an hour",
        digits: 0,
        gaps_s: &[0.4, 3.0, 279_424.0, 20_004.0, 25.5, 0.3, 11.5, 1.7],
        exposures_s: &[0.008, 3770.0, 1e-6],
        rest_after: 420,
    },
    Ragged {
        what: "pairs to the millisecond that drift apart",
        digits: 3,
        gaps_s: &[0.455, 25.755, 3.87, 0.002, 25.5],
        exposures_s: &[0.3, 2.0, 0.01],
        rest_after: 98,
    },
    Ragged {
        what: "steps back among steps of a quarter of an hour",
        digits: 1,
        gaps_s: &[900.1, -7.0, 901.4, 0.0, 899.9, -900.0, 1800.3],
        exposures_s: &[30.0, 1.0, 30.0, 60.0],
        rest_after: 200,
    },
];

impl Ragged {
    fn card(&self, n: usize) -> Frames {
        let mut at = 0.0;
        let shutters: Vec<Shutter> = (0..n)
            .map(|k| {
                at += self.gaps_s[k % self.gaps_s.len()] + if k % self.rest_after == 9 { 3e7 } else { 0.0 };
                (Micros::truncated(at), self.exposures_s[k % self.exposures_s.len()])
            })
            .collect();
        shot(&shutters, self.digits)
    }
}

/// A thousand frames are audited and surveyed in less than a second each, whatever their stamps. A build that
/// is not optimised takes up to thirty times as long.
#[test]
fn a_thousand_frames_take_less_than_a_second() {
    let most_s = if cfg!(debug_assertions) { 30.0 } else { 1.0 };
    let mut slow = Vec::new();
    for ragged in &RAGGED {
        let took = (audited(ragged.what, ragged.card(1000)), surveyed(ragged.what, ragged.card(1000)));
        println!("{}: audit {:.2} s, survey {:.2} s", ragged.what, took.0, took.1);
        if took.0.max(took.1) > most_s {
            slow.push((ragged.what, took));
        }
    }
    assert!(slow.is_empty(), "{slow:?}");
}

/// However the stamps lie, the lines that are tried to read them are counted, and end.
#[test]
fn the_lines_that_are_tried_are_bounded() {
    let n = 300;
    for ragged in &RAGGED {
        let audit = carry_out(Setting::default(), ragged.card(n));
        let tried = audit.evidence.timing.lines_tried;
        // What one stamp adds at most, where the bound is reached.
        assert!(tried <= Effort::most(n) + 1_000, "{}: {tried} lines for {n} frames", ragged.what);
    }
}
