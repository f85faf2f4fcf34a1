mod support;
use lapseproof::evidence::gather;
use lapseproof::plan::Plan;
use support::{Tick, floored, frames};

struct Rng(u64);
impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

#[test]
#[ignore]
fn probe() {
    let trials: u64 = std::env::var("TRIALS").ok().and_then(|t| t.parse().ok()).unwrap_or(300);
    let show = std::env::var("SHOW").is_ok();
    for &(q, label) in &[(1_000_000i64, "1s"), (100_000, "0.1s"), (10_000, "10ms"), (1_000, "1ms")] {
        for &ratio in &[1.04, 1.5, 2.0, 0.0] {
            for fault in ["clean", "holes", "lost", "late", "pause", "rate", "surplus", "hour"] {
                let (mut ok, mut falses, mut bounds) = (0, 0, 0);
                let start = std::time::Instant::now();
                for seed in 0..trials {
                    let mut rng = Rng(seed * 7919 + q as u64 + (ratio * 100.0) as u64 * 13);
                    let qs = q as f64 / 1e6;
                    let t = if ratio > 0.0 {
                        (qs * ratio).max(0.5)
                    } else {
                        (0.5f64.max(1.5 * qs)) * (300.0f64 / 0.5f64.max(1.5 * qs)).powf(rng.unit())
                    };
                    if ratio > 0.0 && qs * ratio < 0.5 {
                        continue;
                    }
                    let n = 60 + (rng.next() % 540) as i64;
                    let jitter = [0.0, 0.003, 0.006, 0.012][(rng.next() % 4) as usize];
                    let phase = rng.unit() * 10.0;
                    let at = 10 + (rng.next() % (n as u64 - 20)) as i64;
                    let len = 1 + (rng.next() % 4) as i64;
                    let pause = t * (0.3 + 0.4 * rng.unit() + (rng.next() % 12) as f64);
                    let mut ticks = Vec::new();
                    let mut number = 1;
                    let mut extra = 0.0;
                    for k in 0..n {
                        let missing = (fault == "holes" || fault == "lost") && k >= at && k < at + len;
                        if missing {
                            if fault == "lost" {
                                number += 1;
                            }
                            continue;
                        }
                        if fault == "pause" && k == at {
                            extra = pause;
                        }
                        if fault == "hour" && k == at {
                            extra = if seed % 2 == 0 { 3600.0 } else { -3600.0 };
                        }
                        let mut time = phase + k as f64 * t + extra + jitter * rng.normal();
                        if fault == "rate" && k > at {
                            time += (k - at) as f64 * t * 0.02;
                        }
                        if fault == "late" && k == at {
                            time += 0.3 * t.max(2.0 * qs);
                        }
                        ticks.push(Tick { stamp: Some(floored(time, q)), number });
                        number += 1;
                        if fault == "surplus" && k == at {
                            ticks.push(Tick { stamp: Some(floored(time + 0.45 * t, q)), number });
                            number += 1;
                        }
                    }
                    let e = gather(&Plan::default(), frames(&ticks, q));
                    let tm = &e.timing;
                    let holes: Vec<(i64, u64)> = tm.holes.iter().map(|h| (h.slot, h.slots)).collect();
                    let good = match fault {
                        "clean" => {
                            holes.is_empty()
                                && tm.joins.is_empty()
                                && tm.cadence.is_some()
                                && e.outside.is_empty()
                        }
                        "holes" | "lost" => holes == vec![(at, len as u64)] && tm.joins.is_empty(),
                        "late" => holes.is_empty() && tm.joins.is_empty(),
                        "pause" | "rate" | "hour" => holes.is_empty() && tm.joins.len() == 1,
                        _ => {
                            holes.is_empty()
                                && tm.joins.is_empty()
                                && e.count(lapseproof::evidence::FrameState::Surplus) == 1
                        }
                    };
                    if good {
                        ok += 1
                    } else if show {
                        eprintln!(
                            "{label} {ratio} {fault} seed {seed}: T={t:.4} n={n} at={at} len={len} pause={:.2} jit={jitter} holes={holes:?} joins={:?} cad={:?} no={:?} out={:?}",
                            pause / t,
                            tm.joins,
                            tm.cadence.as_ref().map(|c| (c.interval_s, c.widening_s)),
                            tm.no_grid,
                            e.outside
                        );
                    }
                    if fault == "clean" && !holes.is_empty() {
                        falses += 1
                    }
                    if tm.stretches.iter().any(|s| (s.low_s..=s.high_s).contains(&t)) {
                        bounds += 1
                    }
                }
                eprintln!(
                    "{label:5} ratio {ratio:4} {fault:8} ok {ok}/{trials} falseholes {falses} bounds {bounds} {:?}",
                    start.elapsed()
                );
            }
        }
    }
}
