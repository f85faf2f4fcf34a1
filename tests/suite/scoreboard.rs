//! The scoreboard: rehearsed sequences with one known fault (or none, or two), audited, and counted: found at
//! its place with its count, false alarms, the true interval within the stated bounds.
//!
//! `cargo test` plays a small round. The whole of it: `LAPSEPROOF_ROUNDS=600 cargo test --release --test
//! suite scoreboard::the_whole_board -- --ignored --nocapture`.
//!
//! A change that the stamps cannot show is left out and counted apart: where one line passes through every
//! window with the true frames on whole slots, a pause or a new rate is the same stamps as none.

use crate::support::cases::wilson;
use crate::support::rehearsed;
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::evidence::FrameView;
use lapseproof::evidence::timing::{JoinKind, TimerLaw, bounds};
use lapseproof::finding::{Finding, Severity};
use lapseproof::plan::{ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::chance::Chance;
use lapseproof::rehearse::faults::{Spread, Surplus};
use lapseproof::rehearse::{Fault, Options, Role, Script, script};
use lapseproof::units::Micros;
use lapseproof::verdict::Call;
use std::sync::atomic::Ordering::Relaxed;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Clean,
    Missing,
    Lost,
    Late,
    Pause,
    RateChange,
    Clock,
    DaylightSaving,
    Hand,
    Double,
    Tests,
    Stop,
    FromClose,
    MissingEvery,
    Jump,
    Odd,
    Hunting,
}

const SINGLE: [Kind; 17] = [
    Kind::Clean,
    Kind::Missing,
    Kind::Lost,
    Kind::Late,
    Kind::Pause,
    Kind::RateChange,
    Kind::Clock,
    Kind::DaylightSaving,
    Kind::Hand,
    Kind::Double,
    Kind::Tests,
    Kind::Stop,
    Kind::FromClose,
    Kind::MissingEvery,
    Kind::Jump,
    Kind::Odd,
    Kind::Hunting,
];

const PAIRS: [(Kind, Kind); 8] = [
    (Kind::Missing, Kind::Lost),
    (Kind::Missing, Kind::Pause),
    (Kind::Missing, Kind::Clock),
    (Kind::Lost, Kind::Late),
    (Kind::Lost, Kind::Jump),
    (Kind::Hand, Kind::Missing),
    (Kind::Missing, Kind::Tests),
    (Kind::Pause, Kind::Stop),
];

/// Faults that a simple timer may explain as well.
const SUBTLE: [Kind; 6] =
    [Kind::Late, Kind::Pause, Kind::RateChange, Kind::Hand, Kind::Double, Kind::MissingEvery];

/// How the interval stands to the stamps' resolution.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Ratio {
    /// 1.5 times the resolution and more, up to 300 s.
    Wide,
    /// 1.04 times.
    Close,
    /// The clock's own step: what the stamps cannot tell must be told as doubt.
    At,
    /// Half of the clock's step and more.
    Below,
}

/// One sequence to be: everything that was drawn for it.
struct Drawn {
    plan: Plan,
    faults: Vec<(Kind, Fault, u64)>,
    options: Options,
    script: Script,
    interval_s: f64,
    with_plan: bool,
}

fn draw(kinds: &[Kind], digits: u8, ratio: Ratio, seed: u64) -> Option<Drawn> {
    let mut chance = Chance::new(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ u64::from(digits));
    let q = 10_f64.powi(-i32::from(digits));
    let from_close = kinds.contains(&Kind::FromClose);
    let least = if from_close { 10.0 } else { (1.5 * q).max(0.5) };
    let interval_s = match ratio {
        Ratio::Wide => least * (300.0 / least).powf(chance.unit()),
        Ratio::Close if from_close => return None,
        Ratio::Close => 1.04 * q,
        // Of the faults, missed triggers alone are asked about there.
        Ratio::At | Ratio::Below
            if kinds.iter().any(|k| !matches!(k, Kind::Clean | Kind::Missing | Kind::Lost)) =>
        {
            return None;
        }
        Ratio::At => q,
        Ratio::Below => (0.5 + 0.49 * chance.unit()) * q,
    };
    // A timer's interval as people set it, and the crystal's error beside it.
    let interval_s = (interval_s * 1000.0).round() / 1000.0;
    let frames = 60 + (chance.unit() * 300.0) as u64;
    let shutter = if from_close {
        Planned::Between(0.25, (interval_s * 0.4).clamp(1.0, 30.0))
    } else {
        Planned::Fixed((interval_s / 100.0).clamp(0.001, 1.0 / 60.0))
    };
    let plan = Plan {
        interval_s: Some(interval_s),
        frames: Some(frames),
        exposure: ExposurePlan {
            mode: Some(if from_close { ExposureMode::Ramped } else { ExposureMode::Locked }),
            shutter_s: Some(shutter),
            aperture: Some(Planned::Fixed(8.0)),
            iso: Some(Planned::Fixed(200.0)),
            busy_s: Some(0.1),
            ..ExposurePlan::default()
        },
        ..Plan::default()
    };
    let mut faults = Vec::new();
    let mut from = 12;
    let span = (frames - 24) / kinds.len() as u64;
    for kind in kinds {
        let at = from + (chance.unit() * (span.saturating_sub(6)) as f64) as u64;
        from += span;
        let some = 1 + (chance.unit() * 4.0) as u64;
        let sign = if chance.unit() < 0.5 { 1.0 } else { -1.0 };
        let fraction = 0.3 + 0.4 * chance.unit();
        let fault = match kind {
            Kind::Clean => Fault::Rate { factor: 1.0 + 2e-5 * sign * chance.unit() },
            Kind::Missing => Fault::Missing { count: some, at: Some(at) },
            Kind::Lost => Fault::Lost { count: some, at: Some(at) },
            Kind::Late => {
                Fault::Late { seconds: Some((fraction * interval_s).max(q + 0.1 * interval_s)), at: Some(at) }
            }
            Kind::Pause => {
                Fault::Pause { seconds: Some((fraction + some as f64) * interval_s), at: Some(at) }
            }
            Kind::RateChange => Fault::RateChange { factor: 1.0 + 0.02 * sign, at: Some(at) },
            Kind::Clock => Fault::Clock { step_s: 3600.0 * sign, offset_follows: false, at: Some(at) },
            Kind::DaylightSaving => {
                Fault::Clock { step_s: 3600.0 * sign, offset_follows: true, at: Some(at) }
            }
            Kind::Hand => Fault::Surplus { surplus: Surplus::Hand, at: Some(at) },
            Kind::Double => Fault::Surplus { surplus: Surplus::Double, at: Some(at) },
            Kind::Tests => Fault::Tests { head: some, tail: 1 + some / 2 },
            Kind::Stop => Fault::Stop { share: 0.4 + 0.5 * chance.unit() },
            Kind::FromClose => Fault::FromClose,
            Kind::MissingEvery => Fault::MissingEvery { every: 5 + 2 * some },
            Kind::Jump => Fault::Jump { ev: sign * (1.0 + (some as f64) / 3.0), at: Some(at) },
            Kind::Odd => Fault::Odd { ev: sign * (1.0 + (some as f64) / 3.0), at: Some(at) },
            Kind::Hunting => Fault::Hunting { count: 12, at: Some(at) },
        };
        faults.push((*kind, fault, at));
    }
    let jitter = [0.0, 0.003, 0.006, 0.012][(chance.unit() * 4.0) as usize % 4];
    let mut all: Vec<Fault> = faults.iter().map(|f| f.1).collect();
    if jitter > 0.0 {
        all.push(Fault::Jitter { amount_s: f64::min(jitter, 0.01 * interval_s), spread: Spread::Gaussian });
    }
    let options = Options { seed, stamp_digits: digits, draw: false, ..Options::default() };
    let script = script(&plan, &all, &options).ok()?;
    let with_plan = chance.unit() < 0.5 || kinds.contains(&Kind::Stop);
    Some(Drawn { plan, faults, options, script, interval_s, with_plan })
}

/// The largest timing error that is priced as a camera's ordinary one: a steady timer with it is as plain as
/// one without.
const PLAIN_ERROR_S: f64 = 0.040;
/// The largest jitter that is drawn, rms.
const LARGEST_JITTER_S: f64 = 0.012;

/// A search through all simple explanations of the run's stamps but the true one: true where one steady timer
/// leaves them too, or one with an event beside it (some slots missing at one place, a frame too many), or,
/// for a pause and a new rate, with two. What such a timer explains no reading can tell for certain; the
/// audit must then name the doubt or keep quiet.
fn told_otherwise(drawn: &Drawn, kind: Kind, at: u64) -> bool {
    let resolution = Micros::step_of(drawn.options.stamp_digits);
    let run: Vec<_> = drawn.script.shots.iter().filter(|s| s.role != Role::Outside && s.on_card()).collect();
    let stamps: Vec<Micros> = run.iter().map(|s| s.stamp.micros()).collect();
    let step = |i: usize| (stamps[i] - stamps[i - 1]).seconds();
    // An event: from this frame on, so many slots more (or one fewer, where it is one too many).
    let mut events: Vec<(usize, i64)> = Vec::new();
    for i in 1..stamps.len() {
        let beyond = ((step(i) + resolution.seconds()) / drawn.interval_s) as i64;
        events.extend((1..beyond).map(|more| (i, more)));
        if step(i) < drawn.interval_s {
            events.push((i, -1));
        }
    }
    let fits = |a: (usize, i64), b: (usize, i64), error_s: f64| {
        let shift = |i: usize, e: (usize, i64)| if i >= e.0 { e.1 } else { 0 };
        let points = stamps.iter().enumerate().map(|(i, s)| (i as i64 + shift(i, a) + shift(i, b), *s));
        bounds::lines(points, resolution, error_s).is_some()
    };
    let own = |e: &(usize, i64)| {
        matches!(kind, Kind::Hand | Kind::Double)
            && e.1 < 0
            && run[e.0].slot.is_some_and(|s| s.abs_diff(at) <= 2)
    };
    events.retain(|e| !own(e));
    let none = (stamps.len(), 0);
    let two = matches!(kind, Kind::Pause | Kind::RateChange);
    fits(none, none, PLAIN_ERROR_S)
        || events.iter().any(|a| fits(*a, none, PLAIN_ERROR_S))
        || two
            && events.iter().enumerate().any(|(n, a)| {
                // Two frames too many beside each other are two faults: one hole at least among two events.
                let second = events[n + 1..].iter().filter(|b| b.0 > a.0 && (a.1 > 0 || b.1 > 0));
                second.into_iter().any(|b| fits(*a, *b, LARGEST_JITTER_S))
            })
}

/// True where a test shot happens to stand on the timer's own times beside the run: a first or last frame of
/// the run that was exposed otherwise, or stands behind a hole, leaves the same files (the wild board's
/// `twin-tests` and `twin-tests-next` draw them both ways).
fn on_the_timers_times(drawn: &Drawn) -> bool {
    let shots: Vec<_> = drawn.script.shots.iter().filter(|s| s.on_card()).collect();
    let slack_s = 10_f64.powi(-i32::from(drawn.options.stamp_digits)) + PLAIN_ERROR_S;
    shots.windows(2).any(|w| {
        let border = (w[0].role == Role::Outside) != (w[1].role == Role::Outside);
        let gap_s = w[1].stamp.seconds_since(w[0].stamp);
        let slots = (gap_s / drawn.interval_s).round();
        border && slots >= 1.0 && (gap_s - slots * drawn.interval_s).abs() <= slack_s
    })
}

/// True for a frame that no plain error explains.
fn stray(frame: &FrameView<'_>) -> bool {
    frame.offset_s().is_some_and(|offset_s| offset_s.abs() > PLAIN_ERROR_S + 1e-6)
}

/// Frames that the audit's own reading holds for late or early.
fn off(audit: &Audit) -> usize {
    audit.evidence.all().filter(stray).count()
}

/// True where the audit's own reading proves that the stamps allow another: its lines pass through every
/// window, and has fewer missing slots and joints together than the truth has missing slots.
fn simpler(drawn: &Drawn, audit: &Audit) -> bool {
    let timing = &audit.evidence.timing;
    let resolution = Micros::step_of(drawn.options.stamp_digits);
    let point = |frame: FrameView<'_>| {
        let slot = frame.slot().filter(|_| !stray(&frame))?;
        Some((slot, frame.moment()?.micros()))
    };
    let points: Vec<_> = audit.evidence.all().map(point).collect();
    let passes = timing.stretches.iter().all(|s| {
        let own = points[s.first..=s.last].iter().flatten().copied();
        s.last < s.first + 2 || bounds::lines(own, resolution, PLAIN_ERROR_S).is_some()
    });
    let accidents = timing.joins.len() as u64 + off(audit) as u64;
    timing.missing().is_some_and(|m| m + accidents < drawn.script.truth.missing) && passes
}

fn audit(drawn: &Drawn) -> Audit {
    let plan = if drawn.with_plan {
        drawn.plan.clone()
    } else {
        Plan { exposure: drawn.plan.exposure.clone(), ..Plan::default() }
    };
    let frames = rehearsed::frames(&drawn.script, drawn.options.stamp_digits);
    carry_out(Setting { name: "scoreboard".into(), plan, ..Setting::default() }, frames)
}

/// The slot in which a position of the audit was shot.
fn slot_of(drawn: &Drawn, position: usize) -> Option<u64> {
    drawn.script.shots.iter().filter(|s| s.on_card()).nth(position).and_then(|s| s.slot)
}

fn weighing<'a>(audit: &'a Audit, check: &'a str) -> impl Iterator<Item = &'a Finding> {
    audit.judgements.iter().flat_map(|j| j.findings()).filter(move |f| f.check == check)
}

/// True where a finding of that check stands between the frames around `at`.
fn stands(drawn: &Drawn, audit: &Audit, check: &str, at: u64, slack: u64) -> bool {
    weighing(audit, check).any(|f| {
        let (first, last) = (f.first.and_then(|i| slot_of(drawn, i)), f.last.and_then(|i| slot_of(drawn, i)));
        matches!((first, last), (Some(a), Some(b)) if a <= at + slack && b + slack >= at)
    })
}

fn hole_found(drawn: &Drawn, audit: &Audit, at: u64, count: u64, cause: &str) -> bool {
    audit.evidence.timing.holes.iter().any(|h| {
        slot_of(drawn, h.before) == Some(at - 1) && h.slots == count && h.cause.code() == cause
            || h.doubt.is_some_and(|(low, high)| low <= count && count <= high)
                && slot_of(drawn, h.before).is_some_and(|s| s < at)
                && slot_of(drawn, h.after).is_some_and(|s| s > at)
    }) && weighing(audit, "missing-slot").next().is_some()
}

/// Is the fault found at its place with its count?
fn found(drawn: &Drawn, audit: &Audit, kind: Kind, fault: &Fault, at: u64) -> bool {
    let evidence = &audit.evidence;
    match (kind, fault) {
        (Kind::Clean, _) => {
            audit.verdict.call == Call::Clear
                || audit.verdict.reasons.iter().all(|r| r.words.contains("could not be judged"))
        }
        (Kind::Missing, Fault::Missing { count, .. }) => {
            hole_found(drawn, audit, at, *count, "trigger-missed")
        }
        (Kind::Lost, Fault::Lost { count, .. }) => hole_found(drawn, audit, at, *count, "file-lost"),
        (Kind::Late, _) => stands(drawn, audit, "uneven-interval", at, 1),
        (Kind::Pause, _) => {
            stands(drawn, audit, "grid-slip", at, 1)
                || evidence.timing.joins.iter().any(|j| {
                    slot_of(drawn, j.before).is_some_and(|s| s.abs_diff(at) < 40)
                        && stands(drawn, audit, "grid-slip", at, 40)
                })
        }
        (Kind::RateChange, _) => evidence.timing.joins.iter().any(|j| match j.kind {
            JoinKind::Rate { earliest, latest, .. } => {
                let (a, b) = (slot_of(drawn, earliest), slot_of(drawn, latest));
                matches!((a, b), (Some(a), Some(b)) if a <= at + 2 && b + 2 >= at)
            }
            _ => false,
        }),
        (Kind::Clock | Kind::DaylightSaving, Fault::Clock { step_s, .. }) => stands(
            drawn,
            audit,
            "clock-step",
            at,
            1,
        ) && evidence
            .timing
            .joins
            .iter()
            .any(
                |j| matches!(j.kind, JoinKind::ClockStep { step_s: told, .. } if (told - step_s).abs() < 1.0),
            ),
        (Kind::Hand | Kind::Double, _) => {
            weighing(audit, "surplus-frame").map(|f| f.count).sum::<u64>() == 1
                && stands(drawn, audit, "surplus-frame", at, 2)
        }
        (Kind::Tests, Fault::Tests { head, tail }) => {
            evidence.count(lapseproof::evidence::FrameState::Outside) == head + tail
        }
        (Kind::Stop, _) => weighing(audit, "short-run").any(|f| f.severity > Severity::Note),
        (Kind::FromClose, _) => evidence.timing.cadence.as_ref().is_some_and(|c| {
            let holds = c.low_s <= drawn.interval_s && c.high_s >= drawn.interval_s;
            c.law == TimerLaw::Close && holds
        }),
        (Kind::MissingEvery, _) => evidence.timing.missing() == Some(drawn.script.truth.missing),
        (Kind::Jump | Kind::Odd, _) => stands(drawn, audit, "exposure-jump", at, 0),
        (Kind::Hunting, _) => stands(drawn, audit, "exposure-hunting", at, 0),
        _ => false,
    }
}

/// The smallest and largest count of missing slots that the audit holds possible.
fn range(audit: &Audit) -> (u64, u64) {
    let timing = &audit.evidence.timing;
    let told = timing.missing().unwrap_or(0);
    timing.missing_doubt.unwrap_or((told, told))
}

/// Does the audit keep quiet about missing slots that are none, or name the doubt?
fn quiet(drawn: &Drawn, audit: &Audit) -> bool {
    range(audit).0 <= drawn.script.truth.missing
}

/// At and below the clock's step: does the range hold the truth, and is nothing certain that the stamps
/// cannot tell?
fn held(drawn: &Drawn, audit: &Audit) -> bool {
    let (low, high) = range(audit);
    let truth = drawn.script.truth.missing;
    let unjudged = audit.judgements.iter().any(|j| {
        j.text.id == "missing-slot" && matches!(j.answer, lapseproof::finding::Answer::CannotJudge(_))
    });
    let certain =
        audit.evidence.timing.holes.iter().any(|h| h.cause.code() != "file-lost" && h.doubt.is_none());
    !certain && (unjudged || (low <= truth && truth <= high))
}

#[derive(Default)]
struct Score {
    played: u64,
    found: u64,
    untellable: u64,
    untellable_loud: u64,
    /// Clean ones that were not called clear, because a check that has to answer could not.
    undecided: u64,
    loud: u64,
    bounds: u64,
    bounded: u64,
    failed: Vec<u64>,
    outside_bounds: Vec<u64>,
}

/// All sequences whose interval was bounded, and those whose true interval lay within the bounds.
static BOUNDED: [std::sync::atomic::AtomicU64; 2] = [const { std::sync::atomic::AtomicU64::new(0) }; 2];

fn play(kinds: &[Kind], digits: u8, ratio: Ratio, rounds: u64) -> Score {
    let mut score = Score::default();
    for seed in 0..rounds {
        let Some(drawn) = draw(kinds, digits, ratio, seed) else { continue };
        let audit = audit(&drawn);
        let clean = kinds == [Kind::Clean];
        score.undecided += u64::from(clean && audit.verdict.call != Call::Clear);
        let all = match ratio {
            Ratio::At | Ratio::Below => {
                held(&drawn, &audit) && (!clean || found(&drawn, &audit, Kind::Clean, &drawn.faults[0].1, 0))
            }
            _ => drawn.faults.iter().all(|(kind, fault, at)| found(&drawn, &audit, *kind, fault, *at)),
        };
        let quiet = quiet(&drawn, &audit);
        let subtle =
            kinds.len() == 1 && SUBTLE.contains(&kinds[0]) && !matches!(ratio, Ratio::At | Ratio::Below);
        if subtle
            && (told_otherwise(&drawn, kinds[0], drawn.faults[0].2)
                || kinds[0] == Kind::MissingEvery && simpler(&drawn, &audit))
        {
            // Not to be told: then nothing may be told as certain.
            score.untellable += 1;
            if !quiet {
                score.untellable_loud += 1;
                score.failed.push(seed);
            }
            continue;
        }
        if !all && kinds.contains(&Kind::Tests) && on_the_timers_times(&drawn) {
            score.untellable += 1;
            if audit.verdict.call == Call::Clear {
                score.untellable_loud += 1;
                score.failed.push(seed);
            }
            continue;
        }
        score.played += 1;
        if all {
            score.found += 1;
        } else {
            score.failed.push(seed);
        }
        score.loud += u64::from(!quiet);
        if let Some(cadence) = &audit.evidence.timing.cadence {
            score.bounded += 1;
            let factor = match drawn.faults[0].1 {
                Fault::Rate { factor } => factor,
                _ => 1.0,
            };
            let truth = drawn.interval_s * factor;
            let holds = |low: f64, high: f64| low <= truth && truth <= high;
            let any = audit.evidence.timing.stretches.iter().any(|s| holds(s.low_s, s.high_s));
            let held = any || holds(cadence.low_s, cadence.high_s);
            score.bounds += u64::from(held);
            BOUNDED[0].fetch_add(1, Relaxed);
            BOUNDED[1].fetch_add(u64::from(held), Relaxed);
            if !held {
                score.outside_bounds.push(seed);
            }
        }
    }
    score
}

fn print(label: &str, digits: u8, ratio: Ratio, s: &Score) {
    let share = |hits: u64, of: u64| if of == 0 { f64::NAN } else { 100.0 * hits as f64 / of as f64 };
    println!(
        "{label:28} {:>6} {:5}  found {:6.2} % (at least {:6.2})  of {:4}  too many missing {:3}  bounds \
         {:6.2} %  cannot be told {:3} ({} loud)  undecided {:3}  {:?} {:?}",
        format!("1e-{digits}"),
        format!("{ratio:?}"),
        share(s.found, s.played),
        100.0 * wilson(s.found, s.played).0,
        s.played,
        s.loud,
        share(s.bounds, s.bounded),
        s.untellable,
        s.untellable_loud,
        s.undecided,
        s.failed.iter().take(8).collect::<Vec<_>>(),
        s.outside_bounds.iter().take(8).collect::<Vec<_>>()
    );
}

fn rounds(otherwise: u64) -> u64 {
    std::env::var("LAPSEPROOF_ROUNDS").ok().and_then(|r| r.parse().ok()).unwrap_or(otherwise)
}

/// The whole board, printed.
#[test]
#[ignore = "some minutes; optimised"]
fn the_whole_board() {
    let rounds = rounds(600);
    // `ROWS=Pause,RateChange DIGITS=0 RATIO=Close` plays these alone.
    let rows = std::env::var("ROWS").unwrap_or_default();
    let wanted = |name: &str| rows.is_empty() || rows.split(',').any(|r| r == name);
    let only = |name: &str, value: &str| std::env::var(name).map_or(true, |v| v == value);
    for digits in (0..4_u8).filter(|d| only("DIGITS", &d.to_string())) {
        for ratio in [Ratio::Wide, Ratio::Close, Ratio::At, Ratio::Below]
            .into_iter()
            .filter(|r| only("RATIO", &format!("{r:?}")))
        {
            if ratio != Ratio::Wide && digits > 0 {
                continue; // no timer of this trade runs at a tenth of a second
            }
            for kind in SINGLE.into_iter().filter(|k| wanted(&format!("{k:?}"))) {
                let rounds = if kind == Kind::Clean { rounds * 5 / 4 } else { rounds };
                print(&format!("{kind:?}"), digits, ratio, &play(&[kind], digits, ratio, rounds));
            }
        }
        for (a, b) in PAIRS.into_iter().filter(|(a, b)| wanted(&format!("{a:?}+{b:?}"))) {
            print(
                &format!("{a:?} + {b:?}"),
                digits,
                Ratio::Wide,
                &play(&[a, b], digits, Ratio::Wide, rounds),
            );
        }
    }
    let [all, held] = [&BOUNDED[0], &BOUNDED[1]].map(|n| n.load(Relaxed));
    println!("true interval within the bounds: {held} of {all}, {:.3} %", 100.0 * held as f64 / all as f64);
}

/// A small round for every kind: nearly all found, none invented.
#[test]
fn a_small_round() {
    let rounds = rounds(12);
    for kind in SINGLE {
        for (digits, ratio) in
            [(0, Ratio::Wide), (2, Ratio::Wide), (0, Ratio::Close), (0, Ratio::At), (0, Ratio::Below)]
        {
            let rounds = if ratio == Ratio::Wide { rounds } else { rounds / 3 };
            let score = play(&[kind], digits, ratio, rounds);
            let row = format!("{kind:?} at 1e-{digits}, {ratio:?}");
            assert!(score.found + 1 >= score.played, "{row}: {:?} not found", score.failed);
            // At and below the clock's step only these can be drawn; nearly as coarse, some kinds cannot be
            // told at all.
            let drawn = match ratio {
                Ratio::At | Ratio::Below => matches!(kind, Kind::Clean | Kind::Missing | Kind::Lost),
                Ratio::Close => kind != Kind::FromClose,
                Ratio::Wide => true,
            };
            assert_eq!(score.played + score.untellable > 0, drawn, "{row}");
            assert!(score.played == 0 || score.found > 0, "{row}: none found");
            assert!(score.loud == 0, "{row}: missing slots invented");
        }
    }
}

#[test]
#[ignore = "looks at one sequence"]
fn one() {
    let get = |name: &str| std::env::var(name).ok();
    let digits: u8 = get("DIGITS").and_then(|d| d.parse().ok()).unwrap_or(0);
    let named = get("KIND").unwrap_or_default();
    let of = |name: &str| SINGLE.into_iter().find(|k| format!("{k:?}") == name).unwrap_or(Kind::Clean);
    let kinds: Vec<Kind> = named.split('+').map(of).collect();
    let ratio = match get("RATIO").as_deref() {
        Some("Close") => Ratio::Close,
        Some("At") => Ratio::At,
        Some("Below") => Ratio::Below,
        _ => Ratio::Wide,
    };
    for seed in get("SEEDS").unwrap_or_default().split(',').filter_map(|s| s.parse().ok()) {
        let Some(drawn) = draw(&kinds, digits, ratio, seed) else { continue };
        let audit = audit(&drawn);
        let t = &audit.evidence.timing;
        let on: Vec<_> = drawn.script.shots.iter().filter(|s| s.on_card()).collect();
        println!(
            "seed {seed} T={} plan={} frames={} faults={:?}",
            drawn.interval_s,
            drawn.with_plan,
            on.len(),
            drawn.faults
        );
        println!("  call {:?}", audit.verdict.call);
        for reason in &audit.verdict.reasons {
            println!("  {}: {}", reason.check, reason.words);
        }
        println!("  outside {:?}", audit.evidence.outside);
        println!("  cadence {:?} no {:?}", t.cadence, t.no_grid);
        println!("  joins {:?}", t.joins);
        println!(
            "  holes {:?}",
            t.holes.iter().map(|h| (h.before, h.after, h.slots, h.doubt)).collect::<Vec<_>>()
        );
        let show = |r: std::ops::Range<usize>| {
            on[r]
                .iter()
                .map(|s| {
                    format!(
                        "{:.3}({:.4},f{},{})",
                        s.open_s, s.settings.marked_s, s.settings.f_number, s.settings.iso
                    )
                })
                .collect::<Vec<_>>()
                .join(" ")
        };
        println!(
            "  head {} ... tail {}",
            show(0..8.min(on.len())),
            show(on.len().saturating_sub(8)..on.len())
        );
        if get("READINGS").is_some() {
            let stamps: Vec<Micros> = on.iter().map(|s| s.stamp.micros()).collect();
            let resolution = Micros::step_of(digits);
            let planned_s = drawn.with_plan.then_some(drawn.interval_s);
            use lapseproof::evidence::timing::readings as r;
            let none = vec![0_i64; 0];
            for reading in r::readings(
                r::Ticks { stamps: &stamps, per_slot_s: &[], by_number: &none },
                r::Asked { resolution, planned_s },
                &lapseproof::evidence::timing::effort::Effort::of(stamps.len()),
            ) {
                println!("  reading {:.2} ±{} {:?}", reading.cost, reading.widening_s, reading.events);
            }
            println!(
                "  steps {:?}",
                stamps.windows(2).map(|w| (w[1] - w[0]).div_euclid(resolution)).collect::<Vec<_>>()
            );
            let slots: Vec<_> = audit.evidence.all().map(FrameView::slot).collect();
            println!("  slots {slots:?}");
        }
        println!("  truth missing {} slots {}", drawn.script.truth.missing, drawn.script.truth.slots);
    }
}
