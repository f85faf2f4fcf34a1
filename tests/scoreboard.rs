//! The scoreboard: rehearsed sequences with one known fault (or none, or two), audited, and counted: found at its place with
//! its count, false alarms, the true interval within the stated bounds.
//!
//! `cargo test` plays a small round. The whole of it:
//! `LAPSEPROOF_ROUNDS=600 cargo test --release --test scoreboard -- --ignored --nocapture`.
//!
//! A change that the stamps cannot show is left out and counted apart: where one line passes through every window with the
//! true frames on whole slots, a pause or a new rate is the same stamps as none.

mod support;

use lapseproof::audit::{Audit, Call, Finding, Setting, Severity, carry_out};
use lapseproof::evidence::timing::bounds;
use lapseproof::plan::{ExposureMode, ExposurePlan, Plan, Planned};
use lapseproof::rehearse::chance::Chance;
use lapseproof::rehearse::faults::{Spread, Surplus};
use lapseproof::rehearse::{Fault, Options, Role, Script, script};
use support::rehearsed;

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

/// How the interval stands to the stamps' resolution.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Ratio {
    /// 1.5 times the resolution and more, up to 300 s.
    Wide,
    /// 1.04 times.
    Close,
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
        // A late frame within the clock's own step, and a timer that misses every nth trigger, leave the stamps of another
        // steady timer.
        Ratio::Close if from_close || kinds.contains(&Kind::Late) || kinds.contains(&Kind::MissingEvery) => {
            return None;
        }
        Ratio::Close => 1.04 * q,
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

/// True where the stamps of the run are those of one steady timer: nothing that keeps whole slots can be told from it.
fn looks_steady(drawn: &Drawn) -> bool {
    let resolution = 10_i64.pow(6 - u32::from(drawn.options.stamp_digits));
    let first = drawn.script.shots.iter().find(|s| s.role == Role::Run).map_or(0.0, |s| s.open_s);
    // Any whole number of slots may be read into a gap: try the two nearest for the part after the fault.
    let at = drawn.faults[0].2;
    (0..2).any(|more| {
        let points = drawn.script.shots.iter().filter(|s| s.role == Role::Run && s.on_card()).map(|s| {
            let slot = s.slot.unwrap_or(0);
            let true_slot = (s.open_s - first) / drawn.interval_s;
            let k = if slot < at {
                slot as i64
            } else {
                slot as i64 + ((true_slot - slot as f64).floor() as i64) + more
            };
            (k, s.stamp.micros())
        });
        bounds::lines(points, resolution, 0.0).is_some()
    })
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
        (Kind::Missing, Fault::Missing { count, .. }) => hole_found(drawn, audit, at, *count, "trigger-missed"),
        (Kind::Lost, Fault::Lost { count, .. }) => hole_found(drawn, audit, at, *count, "file-lost"),
        (Kind::Late, _) => stands(drawn, audit, "uneven-interval", at, 1),
        (Kind::Pause, _) => {
            stands(drawn, audit, "grid-slip", at, 1)
                || evidence.timing.joins.iter().any(|j| {
                    slot_of(drawn, j.before).is_some_and(|s| s.abs_diff(at) < 40) && stands(drawn, audit, "grid-slip", at, 40)
                })
        }
        (Kind::RateChange, _) => evidence.timing.joins.iter().any(|j| match j.kind {
            lapseproof::audit::JoinKind::Rate { earliest, latest, .. } => {
                let (a, b) = (slot_of(drawn, earliest), slot_of(drawn, latest));
                matches!((a, b), (Some(a), Some(b)) if a <= at + 2 && b + 2 >= at)
            }
            _ => false,
        }),
        (Kind::Clock | Kind::DaylightSaving, Fault::Clock { step_s, .. }) => {
            stands(drawn, audit, "clock-step", at, 1)
                && evidence.timing.joins.iter().any(|j| {
                    matches!(j.kind, lapseproof::audit::JoinKind::ClockStep { step_s: told, .. } if (told - step_s).abs() < 1.0)
                })
        }
        (Kind::Hand | Kind::Double, _) => {
            weighing(audit, "surplus-frame").map(|f| f.count).sum::<u64>() == 1 && stands(drawn, audit, "surplus-frame", at, 2)
        }
        (Kind::Tests, Fault::Tests { head, tail }) => {
            evidence.count(lapseproof::audit::FrameState::Outside) == head + tail
        }
        (Kind::Stop, _) => weighing(audit, "short-run").any(|f| f.severity > Severity::Note),
        (Kind::FromClose, _) => evidence.timing.cadence.as_ref().is_some_and(|c| {
            c.law == lapseproof::audit::TimerLaw::Close && c.low_s <= drawn.interval_s && c.high_s >= drawn.interval_s
        }),
        (Kind::MissingEvery, _) => evidence.timing.missing() == Some(drawn.script.truth.missing),
        (Kind::Jump | Kind::Odd, _) => stands(drawn, audit, "exposure-jump", at, 0),
        (Kind::Hunting, _) => stands(drawn, audit, "exposure-hunting", at, 0),
        _ => false,
    }
}

/// Does the audit keep quiet about missing slots that are none?
fn quiet(drawn: &Drawn, audit: &Audit) -> bool {
    let told = audit.evidence.timing.missing().unwrap_or(0);
    told <= drawn.script.truth.missing
}

#[derive(Default)]
struct Score {
    played: u64,
    found: u64,
    untellable: u64,
    loud: u64,
    bounds: u64,
    bounded: u64,
    failed: Vec<u64>,
}

fn play(kinds: &[Kind], digits: u8, ratio: Ratio, rounds: u64) -> Score {
    let mut score = Score::default();
    for seed in 0..rounds {
        let Some(drawn) = draw(kinds, digits, ratio, seed) else { continue };
        if kinds.iter().any(|k| matches!(k, Kind::Pause | Kind::RateChange))
            && kinds.len() == 1
            && looks_steady(&drawn)
        {
            score.untellable += 1;
            continue;
        }
        let audit = audit(&drawn);
        score.played += 1;
        let all = drawn.faults.iter().all(|(kind, fault, at)| found(&drawn, &audit, *kind, fault, *at));
        if all {
            score.found += 1;
        } else {
            score.failed.push(seed);
        }
        if !quiet(&drawn, &audit) {
            score.loud += 1;
        }
        if let Some(cadence) = &audit.evidence.timing.cadence {
            score.bounded += 1;
            let factor = match drawn.faults[0].1 {
                Fault::Rate { factor } => factor,
                _ => 1.0,
            };
            let truth = drawn.interval_s * factor;
            let holds = |low: f64, high: f64| low <= truth && truth <= high;
            let any = audit.evidence.timing.stretches.iter().any(|s| holds(s.low_s, s.high_s));
            score.bounds += u64::from(any || holds(cadence.low_s, cadence.high_s));
        }
    }
    score
}

/// Lower end of the 95 % confidence interval of a share (Wilson 1927).
fn wilson_low(hits: u64, of: u64) -> f64 {
    if of == 0 {
        return 0.0;
    }
    let (n, p, z) = (of as f64, hits as f64 / of as f64, 1.96_f64);
    let centre = p + z * z / (2.0 * n);
    let spread = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    (centre - spread) / (1.0 + z * z / n)
}

fn print(label: &str, digits: u8, ratio: Ratio, s: &Score) {
    let share = |hits: u64, of: u64| if of == 0 { f64::NAN } else { 100.0 * hits as f64 / of as f64 };
    println!(
        "{label:28} {:>6} {:5}  found {:6.2} % (at least {:6.2})  of {:4}  too many missing {:3}  bounds {:6.2} %  cannot be told {:3}  {:?}",
        format!("1e-{digits}"),
        format!("{ratio:?}"),
        share(s.found, s.played),
        100.0 * wilson_low(s.found, s.played),
        s.played,
        s.loud,
        share(s.bounds, s.bounded),
        s.untellable,
        s.failed.iter().take(8).collect::<Vec<_>>()
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
    for digits in 0..4_u8 {
        for ratio in [Ratio::Wide, Ratio::Close] {
            if ratio == Ratio::Close && digits > 0 {
                continue; // no timer of this trade runs at a tenth of a second
            }
            for kind in SINGLE {
                let rounds = if kind == Kind::Clean { rounds * 5 / 4 } else { rounds };
                print(&format!("{kind:?}"), digits, ratio, &play(&[kind], digits, ratio, rounds));
            }
        }
        for (a, b) in PAIRS {
            print(
                &format!("{a:?} + {b:?}"),
                digits,
                Ratio::Wide,
                &play(&[a, b], digits, Ratio::Wide, rounds),
            );
        }
    }
}

/// A small round for every kind: nearly all found, none invented.
#[test]
fn a_small_round() {
    let rounds = rounds(12);
    for kind in SINGLE {
        for digits in [0_u8, 2] {
            let score = play(&[kind], digits, Ratio::Wide, rounds);
            assert!(score.found + 1 >= score.played, "{kind:?} at 1e-{digits}: {:?} not found", score.failed);
            assert!(score.loud == 0, "{kind:?} at 1e-{digits}: missing slots invented");
        }
    }
}

#[test]
#[ignore = "looks at one sequence"]
fn one() {
    let get = |name: &str| std::env::var(name).ok();
    let digits: u8 = get("DIGITS").and_then(|d| d.parse().ok()).unwrap_or(0);
    let kind = SINGLE.into_iter().find(|k| Some(format!("{k:?}")) == get("KIND")).unwrap_or(Kind::Clean);
    let ratio = if get("CLOSE").is_some() { Ratio::Close } else { Ratio::Wide };
    for seed in get("SEEDS").unwrap_or_default().split(',').filter_map(|s| s.parse().ok()) {
        let Some(drawn) = draw(&[kind], digits, ratio, seed) else { continue };
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
        println!("  truth missing {} slots {}", drawn.script.truth.missing, drawn.script.truth.slots);
    }
}
