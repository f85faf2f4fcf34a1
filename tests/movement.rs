//! Movement measured on rehearsed, drawn runs.

mod support;

use lapseproof::plan::{Plan, RigPlan};
use std::io::Write as _;

fn plan(frames: u64, step_px: f64) -> Plan {
    // The nearest layer passes by a thousandth of the width for each millimetre.
    let step_m = step_px / 160.0;
    let rig = RigPlan { step_m: (step_px > 0.0).then_some(step_m), ..RigPlan::default() };
    Plan { interval_s: Some(12.0), frames: Some(frames), rig, ..Plan::default() }
}

#[test]
#[ignore = "writes one run's shifts"]
fn dump() {
    let var = |name: &str, or: &str| std::env::var(name).unwrap_or_else(|_| or.to_owned());
    let faults: Vec<String> = var("FAULTS", "").split_whitespace().map(str::to_owned).collect();
    let step: f64 = var("STEP", "0.24").parse().expect("px");
    let start = std::time::Instant::now();
    let (_, frames) = support::moves::followed(
        &plan(var("N", "80").parse().expect("frames"), step),
        &faults,
        var("SEED", "1").parse().expect("a seed"),
    );
    eprintln!("{:?}", start.elapsed());
    let mut out = std::fs::File::create(var("OUT", "/tmp/moves.csv")).expect("a file");
    for m in &frames.moves {
        for (i, t) in m.tiles.iter().enumerate() {
            writeln!(
                out,
                "{},{},{},{i},{:.4},{:.4},{:.4},{:.4},{:.3}",
                m.before, m.after, m.lag, t.by.x, t.by.y, 0, 0, t.unlike
            )
            .expect("written");
        }
    }
}

#[test]
#[ignore = "prints what the track says of one run"]
fn told() {
    let var = |name: &str, or: &str| std::env::var(name).unwrap_or_else(|_| or.to_owned());
    let n: u64 = var("N", "80").parse().expect("frames");
    for seed in var("SEEDS", "1").split(',') {
        for step in var("STEPS", "0.24").split(',') {
            let faults: Vec<String> = var("FAULTS", "").split_whitespace().map(str::to_owned).collect();
            let plan = plan(n, step.parse().expect("px"));
            let (_, frames) = support::moves::followed(&plan, &faults, seed.parse().expect("a seed"));
            let evidence = lapseproof::evidence::gather(&plan, frames);
            let track = evidence.movement.expect("a track");
            println!(
                "seed {seed} step {step}: {} tiles, still {:?}, halts {:?}, back {:?}, jumps {:?}, knocks {:?}",
                track.tiles,
                track.still.as_ref().map(|s| s.tiles.len()),
                track.halts(),
                track.back(),
                track.jumps(),
                track.knocks
            );
            for (layer, path) in &track.layers {
                println!("   {:?} pace {:.3},{:.3} {path:?}", layer.tiles, layer.pace.0, layer.pace.1);
            }
        }
    }
}
