//! Movement on rehearsed, drawn runs: halts, slips, a turned carriage and the end of the rail, each at its
//! frame, with clouds, water and a passing lorry in the picture, flicker of 0.2 EV and noise; and nothing
//! told where nothing is wrong.
//!
//! `cargo test` plays a handful; the whole board with `LAPSEPROOF_ROUNDS=40 cargo test --release --test suite
//! movement::whole -- --ignored --nocapture`. `LAPSEPROOF_TELL=1` prints what is told and by which layers,
//! `LAPSEPROOF_FROM` begins at another seed, `LAPSEPROOF_WIDE=750` follows pictures so wide, `STEP=2` and
//! `KIND=Slip` play one row or column.

use crate::support::cases::rounds;
use crate::support::moves::{THUMBNAIL, followed};
use lapseproof::checks::rig::{stalled_move, uneven_move};
use lapseproof::checks::{Check, judge_one};
use lapseproof::evidence::{Sequence, gather};
use lapseproof::finding::{Answer, Finding, Severity};
use lapseproof::plan::{Plan, RigPlan};

/// What is done to a run.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Clean,
    Stall,
    Slip,
    Reversal,
    RailEnd,
    Knock,
}

const KINDS: [Kind; 6] = [Kind::Clean, Kind::Stall, Kind::Slip, Kind::Reversal, Kind::RailEnd, Kind::Knock];

/// How a run went.
#[derive(Clone, Copy, Debug, Default)]
struct Outcome {
    /// Told at its frame, with its count.
    exact: bool,
    /// Told within two frames of it.
    near: bool,
    /// Something else of caution or more was told.
    wrong: bool,
    /// The check in question could not judge; of a clean run either of them.
    blind: bool,
}

/// A plan of so many frames whose nearest things pass by `step_px` of a picture 160 wide at each step; 0 for
/// a camera that stands.
fn plan(frames: u64, step_px: f64) -> Plan {
    // The nearest layer of the drawn scene passes by a thousandth of the width for each millimetre.
    let step_m = step_px / 160.0;
    let rig = RigPlan { step_m: (step_px > 0.0).then_some(step_m), ..RigPlan::default() };
    Plan { interval_s: Some(12.0), frames: Some(frames), rig, ..Plan::default() }
}

fn findings(check: &'static Check, plan: &Plan, evidence: &Sequence) -> (Vec<Finding>, bool) {
    match judge_one(check, plan, evidence).answer {
        Answer::Clear => (Vec::new(), false),
        Answer::Found(found) => (found.into_iter().filter(|f| f.severity > Severity::Note).collect(), false),
        Answer::CannotJudge(why) => {
            if std::env::var_os("LAPSEPROOF_TELL").is_some() {
                println!("{} cannot judge: {why}", check.text.id);
            }
            (Vec::new(), true)
        }
        Answer::Broke(what) => panic!("{} broke: {what}", check.text.id),
    }
}

/// In which size the runs are drawn, and in which they are followed, px.
type Sizes = ((u32, u32), (u32, u32));

/// Followed in thumbnails.
fn thumbnails(drawn: (u32, u32)) -> Sizes {
    (drawn, THUMBNAIL)
}

/// Followed in pictures of that width, as scaled decodes are.
fn wide(width: u32) -> Sizes {
    ((2 * width, 4 * width / 3), (width, 2 * width / 3))
}

/// Prints what the movement was seen by.
fn layers_of(evidence: &Sequence) {
    let Some(track) = &evidence.movement else { return };
    println!("  least slip {:?} of a step", track.jumps().map(|jumps| jumps.finest));
    for (layer, path) in &track.layers {
        let (tiles, speed) = (layer.tiles.len(), layer.speed());
        println!("  {tiles} tiles, {speed:.3} px a step, steady {}, sharp to {:.3}", path.steady, path.error);
    }
}

fn play(kind: Kind, frames: u64, step_px: f64, seed: u64, sizes: Sizes) -> Outcome {
    let at = frames * 6 / 10 + seed % 7;
    // Twice the moves where a step is a twentieth of a pixel: six of them are a third of a pixel.
    let halt = if step_px < 0.2 { 12 } else { 6 };
    let mut faults = vec!["flicker=0.2EV".to_owned(), format!("lorry=3@{}", frames / 4)];
    faults.extend(match kind {
        Kind::Clean => None,
        Kind::Stall => Some(format!("stalled={halt}@{at}")),
        Kind::Slip => Some(format!("slip=0.5@{at}")),
        Kind::Reversal => Some(format!("reversal@{at}")),
        Kind::RailEnd => Some(format!("rail-end@{at}")),
        // In px of the drawn picture, three times as wide as a thumbnail: half a step of a carriage that
        // travels, or two thirds of a thumbnail's pixel.
        Kind::Knock => Some(format!("knock={}px@{at}", (1.5 * step_px).max(2.0))),
    });
    let plan = plan(frames, step_px);
    let (_, rows) = followed(&plan, &faults, seed, sizes);
    let evidence = gather(&plan, rows);
    let (stalls, stall_blind) = findings(&stalled_move::CHECK, &plan, &evidence);
    let (moves, move_blind) = findings(&uneven_move::CHECK, &plan, &evidence);
    let at = at as usize;
    let code = |f: &Finding| f.cause.as_ref().map_or("", |c| c.code.name());
    // Where the fault should be told: the check's findings, the cause, first frame, last frame, count.
    let (asked, wanted) = match kind {
        Kind::Clean => (&stalls, None),
        Kind::Stall => (&stalls, Some(("stood-and-went-on", at, at + halt - 1))),
        Kind::RailEnd => (&stalls, Some(("stopped", at, frames as usize - 1))),
        Kind::Slip => (&moves, Some(("slip", at - 1, at))),
        Kind::Reversal => (&moves, Some(("reversal", at, frames as usize - 1))),
        Kind::Knock => (&moves, Some(("knock", at - 1, at))),
    };
    if std::env::var_os("LAPSEPROOF_TELL").is_some() {
        stalls
            .iter()
            .chain(&moves)
            .for_each(|f| println!("step {step_px}, seed {seed}: {} {} ({})", f.check, f.message, code(f)));
        layers_of(&evidence);
    }
    let is = |f: &Finding, within: usize| {
        let close = |a: Option<usize>, b: usize| a.is_some_and(|a| a.abs_diff(b) <= within);
        wanted.is_some_and(|(c, first, last)| code(f) == c && close(f.first, first) && close(f.last, last))
    };
    Outcome {
        exact: asked.iter().any(|f| is(f, 0)),
        near: asked.iter().any(|f| is(f, 2)),
        wrong: stalls.iter().chain(&moves).any(|f| !is(f, 2)),
        blind: match kind {
            Kind::Clean => stall_blind || move_blind,
            Kind::Stall | Kind::RailEnd => stall_blind,
            Kind::Slip | Kind::Reversal | Kind::Knock => move_blind,
        },
    }
}

#[test]
fn a_halt_is_found_at_its_frame() {
    let outcome = play(Kind::Stall, 44, 1.0, 3, thumbnails((200, 134)));
    assert!(outcome.exact && !outcome.wrong, "{outcome:?}");
}

#[test]
fn a_slip_of_half_a_step_is_found_at_its_frame() {
    let outcome = play(Kind::Slip, 44, 2.0, 4, thumbnails((200, 134)));
    assert!(outcome.exact && !outcome.wrong, "{outcome:?}");
}

/// Half of a tenth of a thumbnail's pixel is found in the scaled decode of a whole picture.
#[test]
fn a_slip_too_small_for_thumbnails_is_found_in_wider_pictures() {
    let outcome = play(Kind::Slip, 32, 0.1, 3, wide(400));
    assert!(outcome.exact && !outcome.wrong, "{outcome:?}");
}

/// Clouds pass for no carriage: what moves the picture by a twentieth of a pixel is told or cannot be judged,
/// and never clear.
#[test]
fn clouds_are_not_taken_for_the_carriage() {
    let ended = play(Kind::RailEnd, 80, 0.05, 1, thumbnails((200, 134)));
    assert!((ended.near || ended.blind) && !ended.wrong, "{ended:?}");
    let clean = play(Kind::Clean, 32, 0.05, 2, thumbnails((200, 134)));
    assert!(clean.blind && !clean.wrong, "{clean:?}");
}

#[test]
fn a_knock_of_two_pixels_is_found_while_clouds_and_water_move() {
    let outcome = play(Kind::Knock, 60, 0.0, 2, thumbnails((480, 320)));
    assert!(outcome.exact && !outcome.wrong, "{outcome:?}");
}

/// A knock on the travelling camera moves near and far alike: it is no slip of the carriage.
#[test]
fn a_knock_on_the_way_is_not_taken_for_a_slip() {
    let outcome = play(Kind::Knock, 40, 1.0, 2, thumbnails((320, 214)));
    assert!(outcome.exact && !outcome.wrong, "{outcome:?}");
}

#[test]
fn nothing_is_told_of_a_camera_that_stands() {
    let outcome = play(Kind::Clean, 30, 0.0, 5, thumbnails((200, 134)));
    assert!(!outcome.wrong, "{outcome:?}");
}

#[test]
#[ignore = "minutes: the whole board"]
fn whole() {
    let rounds: u64 = std::env::var("LAPSEPROOF_ROUNDS").ok().and_then(|r| r.parse().ok()).unwrap_or(10);
    let from: u64 = std::env::var("LAPSEPROOF_FROM").ok().and_then(|r| r.parse().ok()).unwrap_or(1);
    let width: Option<u32> = std::env::var("LAPSEPROOF_WIDE").ok().and_then(|w| w.parse().ok());
    let sizes = width.map_or(thumbnails((480, 320)), wide);
    println!("{rounds} runs a cell of 100 frames: at its frame, within two frames / wrong, cannot judge");
    let only_kind = std::env::var("KIND").ok();
    let only: Option<f64> = std::env::var("STEP").ok().and_then(|s| s.parse().ok());
    for step in [0.0, 0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0] {
        if only.is_some_and(|o| o != step) {
            continue;
        }
        let mut row = format!("| {step} |");
        for kind in KINDS {
            // A camera that stands can only be knocked.
            if step == 0.0 && !matches!(kind, Kind::Knock | Kind::Clean) {
                continue;
            }
            if only_kind.as_ref().is_some_and(|o| *o != format!("{kind:?}")) {
                continue;
            }
            let mut sum = [0; 4];
            for seed in from..from + rounds {
                let outcome = play(kind, 100, step, seed, sizes);
                for (sum, hit) in
                    sum.iter_mut().zip([outcome.exact, outcome.near, outcome.wrong, outcome.blind])
                {
                    *sum += u64::from(hit);
                }
                if kind != Kind::Clean && !outcome.blind && !outcome.near {
                    println!("wrongly clear: {kind:?}, step {step}, seed {seed}");
                }
                if outcome.wrong {
                    println!("wrong: {kind:?}, step {step}, seed {seed}");
                }
            }
            row += &format!(" {}, {} / {}, {} |", sum[0], sum[1], sum[2], sum[3]);
        }
        println!("{row}");
    }
}

/// Clean runs of `a_thousand_clean_runs` of which slips near an end and at a pace too slow for them, a halt
/// over the last four frames, two knocks behind a lorry and a slip in tiles that looked past near things were
/// told. `LAPSEPROOF_ROUNDS=6` plays them all.
#[test]
fn nothing_is_told_of_noise_at_the_end_and_of_what_passes() {
    let all = [(283, 0.25), (985, 1.0), (462, 0.1), (486, 2.0), (781, 0.05), (239, 20.0)];
    for (seed, step_px) in all.into_iter().take(rounds(1) as usize) {
        assert!(!play(Kind::Clean, 64, step_px, 5000 + seed, thumbnails((320, 214))).wrong, "{seed}");
    }
}

/// A thousand runs in which nothing is wrong: a camera that stands, and steps of every size.
#[test]
#[ignore = "many minutes: a thousand runs"]
fn a_thousand_clean_runs() {
    let rounds: u64 = std::env::var("LAPSEPROOF_ROUNDS").ok().and_then(|r| r.parse().ok()).unwrap_or(1000);
    let steps = [0.0, 0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];
    let from: u64 = std::env::var("LAPSEPROOF_FROM").ok().and_then(|r| r.parse().ok()).unwrap_or(0);
    let wrong: Vec<u64> = (from..from + rounds)
        .filter(|seed| {
            let step = steps[(*seed % steps.len() as u64) as usize];
            play(Kind::Clean, 64, step, 5000 + seed, thumbnails((320, 214))).wrong
        })
        .collect();
    println!("{} of {rounds} clean runs had something told: {wrong:?}", wrong.len());
    assert!(wrong.is_empty());
}
