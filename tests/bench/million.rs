//! A million rows, without files, through evidence, checks and every output: is the cost linear, and how much memory does
//! it take?
//!
//! Prints seconds and the peak of memory for growing numbers of frames; the floor beside it is one pass over the stamps.
//! `cargo bench --bench million`, or with the number of frames behind `--`.

#[path = "../support/mod.rs"]
mod support;

use lapseproof::audit::{Setting, carry_out};
use lapseproof::outputs;
use std::io::{self, Write};
use std::time::Instant;
use support::series::{Tick, floored, frames};

/// Counts bytes and keeps none.
#[derive(Default)]
struct Counter(u64);

impl Write for Counter {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0 += bytes.len() as u64;
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Peak resident memory of this process, MB; `None` where the system does not tell.
fn peak_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kb| kb / 1024.0)
}

/// A run of `n` slots every 5.013 s on whole-second stamps, one in a thousand missing.
fn run(n: u32) -> Vec<Tick> {
    (0..n)
        .filter(|k| k % 1000 != 500)
        .zip(1..)
        .map(|(k, number)| Tick {
            stamp: Some(floored(f64::from(k) * 5.013, 1_000_000)),
            number,
            ..Tick::default()
        })
        .collect()
}

fn main() {
    let asked: Option<u32> = std::env::args().skip(1).find_map(|a| a.parse().ok());
    let sizes = asked.map_or_else(|| vec![125_000, 250_000, 500_000, 1_000_000], |n| vec![n]);
    println!("{:>9}  {:>8}  {:>9}  {:>9}  {:>8}", "frames", "audit s", "outputs s", "us/frame", "peak MB");
    for n in sizes {
        let table = frames(&run(n), 1_000_000);
        let start = Instant::now();
        let audit = carry_out(Setting { name: "bench".into(), ..Setting::default() }, table);
        let audited = start.elapsed().as_secs_f64();
        let start = Instant::now();
        let mut counter = Counter::default();
        outputs::frames_csv::write(&audit, &mut counter).expect("counting cannot fail");
        outputs::findings_csv::write(&audit, &mut counter).expect("counting cannot fail");
        outputs::json::write(&audit, &mut counter).expect("counting cannot fail");
        let written = start.elapsed().as_secs_f64();
        let each = (audited + written) * 1e6 / f64::from(n);
        let peak = peak_mb().map_or_else(|| "-".into(), |p| format!("{p:.0}"));
        println!("{n:>9}  {audited:>8.2}  {written:>9.2}  {each:>9.2}  {peak:>8}");
        assert!(counter.0 > u64::from(n) * 40, "the outputs were not written");
    }
}
