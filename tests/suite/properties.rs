//! What holds for any frames at all: whatever the stamps, numbers and exposures, the audit goes to its end,
//! its counts add up and its outputs read.

use crate::support::cases::tried;
use crate::support::run::rows;
use crate::support::schema::wrong;
use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::evidence::FrameState;
use lapseproof::finding::Answer;
use lapseproof::frames::{Cell, Frames};
use lapseproof::outputs::{findings_csv, frames_csv, html, json, text};
use lapseproof::plan::{CountedFrom, DeliveryPlan, ExposureMode, ExposurePlan, Plan};
use lapseproof::units::Micros;
use proptest::prelude::*;
use std::sync::LazyLock;

static SCHEMA: LazyLock<serde_json::Value> =
    LazyLock::new(|| serde_json::from_str(&json::schema()).expect("it is JSON"));

const DAY: i64 = 86_400_000_000;

/// Steps of the stamps that cameras write.
fn resolution() -> impl Strategy<Value = Micros> {
    prop_oneof![4 => Just(0), 1 => Just(1), 2 => Just(2), 1 => Just(3)].prop_map(Micros::step_of)
}

/// Exposure times, the impossible ones included.
fn exposure() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => Just(1.0 / 60.0),
        4 => prop::sample::select(vec![1.0 / 8000.0, 0.01, 0.5, 2.0, 30.0, 900.0]),
        1 => prop::sample::select(vec![0.0, -1.0, f64::NAN, f64::INFINITY, f64::MIN_POSITIVE, f64::MAX]),
    ]
}

/// Stamps of no meaning: near one another, days apart, backwards, the same, or none.
fn wild() -> impl Strategy<Value = Frames> {
    let stamp = prop_oneof![
        1 => Just(None),
        6 => (0..600_000_000_i64).prop_map(Some),
        2 => (-3 * DAY..3 * DAY).prop_map(Some),
        1 => (-36_500 * DAY..36_500 * DAY).prop_map(Some),
    ];
    let offset = prop_oneof![4 => Just(Some(120_i16)), 1 => Just(None), 1 => (-840..840_i16).prop_map(Some)];
    let tick = (stamp, 1..12_000_u32, exposure(), offset);
    (prop::collection::vec(tick, 0..40), resolution(), any::<bool>()).prop_map(
        |(ticks, resolution, numbered)| {
            let ticks: Vec<Tick> = ticks
                .into_iter()
                .zip(1..)
                .map(|((stamp, number, exposure_s, offset_min), at)| Tick {
                    stamp: stamp.map(|s| Micros::new(s).floored(resolution)),
                    number: if numbered { at } else { number },
                    exposure_s,
                    offset_min,
                })
                .collect();
            frames(&ticks, resolution)
        },
    )
}

/// One thing that befalls a timer between two frames.
#[derive(Clone, Copy, Debug)]
enum Event {
    Nothing,
    Missed(u8),
    Lost(u8),
    Pause(u32),
    Clock(i32),
    Twice,
    NoStamp,
    Rate(f64),
}

/// A timer with its troubles.
fn timer() -> impl Strategy<Value = Frames> {
    let event = prop_oneof![
        40 => Just(Event::Nothing),
        2 => (1..30_u8).prop_map(Event::Missed),
        2 => (1..30_u8).prop_map(Event::Lost),
        1 => (1..400_u32).prop_map(Event::Pause),
        1 => (-90_000..90_000_i32).prop_map(Event::Clock),
        1 => Just(Event::Twice),
        1 => Just(Event::NoStamp),
        1 => (0.5..2.0).prop_map(Event::Rate),
    ];
    let frame = (event, exposure(), -1.0..1.0_f64);
    (prop::collection::vec(frame, 3..70), 0.4..40.0_f64, 0.0..0.2_f64, resolution()).prop_map(
        |(events, interval, jitter, resolution)| {
            let (mut t, mut step, mut number) = (0.3, interval, 1);
            let mut ticks = Vec::new();
            for (event, exposure_s, shake) in events {
                let mut stamp = Some(floored(t + shake * jitter, resolution));
                let mut slots = 1.0;
                match event {
                    Event::Nothing => {}
                    Event::Missed(n) => slots += f64::from(n),
                    Event::Lost(n) => {
                        slots += f64::from(n);
                        number += u32::from(n);
                    }
                    Event::Pause(s) => t += f64::from(s),
                    Event::Clock(s) => t += f64::from(s),
                    Event::Twice => slots = 0.1,
                    Event::NoStamp => stamp = None,
                    Event::Rate(factor) => step *= factor,
                }
                ticks.push(Tick { stamp, number, exposure_s, offset_min: None });
                number += 1;
                t += step * slots;
            }
            frames(&ticks, resolution)
        },
    )
}

fn plans() -> impl Strategy<Value = Plan> {
    let mode = prop::option::of(prop::sample::select(vec![
        ExposureMode::Locked,
        ExposureMode::Ramped,
        ExposureMode::Automatic,
    ]));
    let bracket = prop::option::weighted(0.2, 1..4_u32);
    let close = prop::option::weighted(0.3, Just(CountedFrom::Close));
    (prop::option::of(0.4..40.0_f64), prop::option::of(1..200_u64), mode, bracket, close, any::<bool>())
        .prop_map(|(interval_s, frames, mode, bracket, counted_from, delivers)| Plan {
            interval_s,
            frames,
            bracket,
            counted_from,
            exposure: ExposurePlan { mode, busy_s: Some(0.4), ..ExposurePlan::default() },
            delivery: if delivers {
                DeliveryPlan { fps: Some(25.0), length_s: Some(2.0), ..DeliveryPlan::default() }
            } else {
                DeliveryPlan::default()
            },
            ..Plan::default()
        })
}

fn audit(plan: &Plan, frames: &Frames) -> Audit {
    carry_out(Setting { name: "any".into(), plan: plan.clone(), ..Setting::default() }, frames.clone())
}

fn written(audit: &Audit) -> [Vec<u8>; 5] {
    let mut all = [Vec::new(), Vec::new(), Vec::new(), text::summary(audit, false).into_bytes(), Vec::new()];
    frames_csv::write(audit, &mut all[0]).expect("memory takes it");
    findings_csv::write(audit, &mut all[1]).expect("memory takes it");
    json::write(audit, &mut all[2]).expect("memory takes it");
    html::write(audit, &mut all[4]).expect("memory takes it");
    all
}

/// Everything that must hold of any audit of `total` frames.
fn holds(audit: &Audit, total: usize) -> Result<[Vec<u8>; 5], TestCaseError> {
    for judgement in &audit.judgements {
        let id = judgement.text.id;
        let aside: u64 = judgement.set_aside.iter().map(|(n, _)| n).sum();
        prop_assert_eq!(judgement.looked_at + aside, total as u64, "{}", id);
        prop_assert!(!matches!(judgement.answer, Answer::Broke(_)), "{}: {:?}", id, judgement.answer);
        for finding in judgement.findings() {
            prop_assert_eq!(finding.check, id);
            let ends = [finding.first, finding.last];
            prop_assert!(ends.into_iter().flatten().all(|at| at < total), "{:?}", finding);
            prop_assert!(ends[0].is_none() || ends[1].is_none() || ends[0] <= ends[1], "{:?}", finding);
            prop_assert!(finding.marks.iter().all(|m| m.first <= m.last && m.last < total), "{:?}", finding);
        }
    }
    let timing = &audit.evidence.timing;
    prop_assert_eq!(timing.joins.len(), timing.stretches.len().saturating_sub(1));
    prop_assert!(
        timing.stretches.windows(2).all(|w| w[0].last < w[1].first && w[0].last_slot < w[1].first_slot)
    );
    prop_assert!(timing.holes.windows(2).all(|w| w[0].after <= w[1].before));

    let outputs = written(audit);
    let [table, findings, record, summary, page] = &outputs;
    prop_assert!(!String::from_utf8_lossy(summary).contains(|c: char| c.is_control() && c != '\n'));
    let page = String::from_utf8_lossy(page);
    prop_assert!(!page.contains(|c: char| c.is_control() && c != '\n') && !page.contains("NaN"));
    prop_assert_eq!(rows(findings).len(), audit.findings().len());
    let json: serde_json::Value = serde_json::from_slice(record).expect("it is JSON");
    prop_assert_eq!(wrong(&SCHEMA, &json), Vec::<String>::new());
    let count = |key: &str| json["counts"][key].as_u64();
    let sum = count("frames").unwrap_or(0) + count("surplus").unwrap_or(0) + count("outside").unwrap_or(0);
    prop_assert_eq!(sum, total as u64, "{}", json["counts"]);

    let rows = rows(table);
    let of = |state: &str| rows.iter().filter(|r| r["state"] == state).collect::<Vec<_>>();
    prop_assert_eq!(rows.len() - of("missing").len(), total);
    prop_assert_eq!(of("surplus").len() as u64, count("surplus").unwrap_or(0));
    prop_assert_eq!(of("outside").len() as u64, count("outside").unwrap_or(0));
    prop_assert_eq!((of("frame").len() + of("damaged").len()) as u64, count("frames").unwrap_or(0));
    let number = |cell: &String| cell.parse::<u64>().ok();
    let slots = |rows: &mut dyn Iterator<Item = &std::collections::BTreeMap<String, String>>| {
        rows.filter_map(|r| number(&r["slots"])).sum::<u64>()
    };
    match (count("slots"), count("missing")) {
        (Some(all), Some(missing)) => {
            prop_assert_eq!(slots(&mut of("missing").into_iter()), missing);
            prop_assert_eq!(slots(&mut rows.iter()), all, "the slots column adds up to the slots of the run");
            let held: std::collections::BTreeSet<_> = rows
                .iter()
                .filter(|r| r["state"] == "frame" || r["state"] == "damaged")
                .filter_map(|r| number(&r["slot"]))
                .collect();
            prop_assert_eq!(held.len() as u64 + missing, all, "slots with a frame and missing ones");
        }
        (slots, missing) => {
            prop_assert_eq!((slots, missing), (None, None));
            prop_assert!(of("missing").is_empty());
        }
    }
    let in_order: Vec<u64> = rows.iter().filter_map(|r| number(&r["slot"])).collect();
    prop_assert!(in_order.is_sorted(), "rows stand in slot order");
    prop_assert!(in_order.first().is_none_or(|s| *s == 0), "slots count from 0");
    Ok(outputs)
}

/// Ticks at those seconds, numbered in order.
fn at(seconds: &[Option<i64>]) -> Vec<Tick> {
    let tick = |(s, number): (&Option<i64>, u32)| Tick {
        stamp: s.map(Micros::from_seconds),
        number,
        ..Tick::default()
    };
    seconds.iter().zip(1..).map(tick).collect()
}

/// Cases that were found by chance and are kept.
#[test]
fn cases_worth_keeping() {
    let pairs = Plan { bracket: Some(2), ..Plan::default() };
    // A clock put forward by hours, on the grid's own phase: what it skipped was never due.
    let seconds =
        [0, 54, 157, 363, 751, 1138, 1525, 1913, 2300, 13535, 13922, 14309, 14697, 15084, 15472].map(Some);
    holds(&audit(&pairs, &frames(&at(&seconds), Micros::SECOND)), 15).expect("it holds");
    let hour: Vec<_> = (0..40).map(|k| Some(if k < 20 { 5 * k } else { 5 * k + 3600 })).collect();
    let told = audit(&Plan::default(), &frames(&at(&hour), Micros::SECOND));
    holds(&told, 40).expect("it holds");
    assert_eq!((told.evidence.timing.slot_count, told.evidence.timing.missing_doubt), (Some(40), None));
    assert!(!told.findings().iter().any(|f| f.check == "missing-slot"), "{:?}", told.findings());
    // A frame without a stamp amid a set.
    let mut set = at(&[Some(0), Some(0), None, Some(1), Some(1), Some(1), Some(2)]);
    set[4].exposure_s = 0.01;
    holds(&audit(&pairs, &frames(&set, Micros::SECOND)), 7).expect("it holds");
    // A frame without a stamp amid a set, with a hole behind it: it stands in its set's slot.
    let mut set = at(&(0..40).map(|k| Some(10 * (k / 2) + k % 2)).collect::<Vec<_>>());
    set.drain(22..24);
    set.insert(21, Tick { number: 22, ..Tick::default() });
    for (tick, number) in set.iter_mut().zip(1..) {
        tick.number = number;
    }
    holds(&audit(&pairs, &frames(&set, Micros::SECOND)), 39).expect("it holds");
    // Exposures that no shutter makes.
    for exposure_s in [f64::MAX, f64::INFINITY, 1e18] {
        let mut ticks = at(&(0..30).map(|k| Some(5 * k + i64::from(k > 12))).collect::<Vec<_>>());
        ticks[9].exposure_s = exposure_s;
        holds(&audit(&Plan::default(), &frames(&ticks, Micros::SECOND)), 30).expect("it holds");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { max_shrink_iters: 300, ..tried(40) })]

    #[test]
    fn any_stamps_at_all(frames in wild(), plan in plans()) {
        let first = holds(&audit(&plan, &frames), frames.len())?;
        prop_assert!(first == written(&audit(&plan, &frames)), "the same bytes again");
    }

    #[test]
    fn any_troubled_timer(frames in timer(), plan in plans()) {
        let first = holds(&audit(&plan, &frames), frames.len())?;
        prop_assert!(first == written(&audit(&plan, &frames)), "the same bytes again");
    }

    /// A timer that keeps its pace within what the stamps resolve has no missing slot and no frame too many,
    /// whatever its interval.
    #[test]
    fn a_steady_timer_lacks_nothing(
            interval in 1.5..60.0_f64,
            phase in 0.0..1.0_f64,
            count in 20..200_u32,
            resolution in resolution(),
        ) {
        let ticks: Vec<Tick> = (0..count)
            .map(|k| Tick {
                stamp: Some(floored(phase + f64::from(k) * interval, resolution)),
                number: k + 1,
                ..Tick::default()
            })
            .collect();
        let audit = audit(&Plan::default(), &frames(&ticks, resolution));
        prop_assert_eq!(audit.evidence.timing.missing(), Some(0));
        prop_assert!(audit.evidence.all().all(|frame| frame.state() == FrameState::Frame));
        let cadence = audit.evidence.timing.cadence.as_ref();
        prop_assert!(cadence.is_some_and(|c| c.low_s <= interval && interval <= c.high_s), "{:?}", cadence);
    }

    /// The cells of a frame may all be unknown.
    #[test]
    fn frames_that_say_nothing(count in 0..40_usize, plan in plans()) {
        let ticks = vec![Tick::default(); count];
        let mut frames = frames(&ticks, Micros::SECOND);
        for row in &mut frames.rows {
            *row = lapseproof::frames::Row { stamp: Cell::Unreadable, ..lapseproof::frames::Row::default() };
        }
        holds(&audit(&plan, &frames), count)?;
    }
}
