//! A million rows, without files, through evidence, checks and every output: is the cost linear, and how much
//! memory does it take?
//!
//! Two cards: an even one (locked exposure, one slot in a thousand missing) and a rough one (one slot in a
//! hundred missing, automatic exposure that wanders and hunts, double triggers, copies, damaged files).
//! Prints seconds and the peak of memory for growing numbers of frames, then the same stage by stage for the
//! largest. `cargo bench --bench million`, or with the number of frames behind `--`.

#[allow(dead_code)] // a part of it is enough here
#[path = "../support/mod.rs"]
mod support;

use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::Folder;
use lapseproof::frames::Pictures;
use lapseproof::frames::{Camera, Cell, Damage, Frames};
use lapseproof::outputs;
use lapseproof::plan::Plan;
use lapseproof::units::Micros;
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

/// A figure of `/proc/self/status`, MB; NaN where the system does not tell.
fn memory_mb(key: &str) -> f64 {
    let told = || {
        let status = std::fs::read_to_string("/proc/self/status").ok()?;
        let line = status.lines().find(|l| l.starts_with(key))?;
        line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kb| kb / 1024.0)
    };
    told().unwrap_or(f64::NAN)
}

/// Lets the peak begin anew at what is held now (Linux: 5 into `clear_refs`); without it the peak is that of
/// all so far.
fn forget_peak() {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

/// Runs one stage: what it gives, seconds, and the peak of memory in it, MB.
fn stage<T>(run: impl FnOnce() -> T) -> (T, f64, f64) {
    forget_peak();
    let start = Instant::now();
    let out = run();
    (out, start.elapsed().as_secs_f64(), memory_mb("VmHWM:"))
}

/// Numbers like chance's, the same in every run (xorshift, Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) % sides
    }
}

/// A card of `n` slots every 5.013 s on whole-second stamps, in DCF folders of 9999 files.
fn card(n: u32, rough: bool) -> Frames {
    let mut dice = Dice(0x2545_F491_4F6C_DD1D);
    let mut ticks = Vec::with_capacity(n as usize);
    let mut thirds = 18_i32;
    for k in 0..n {
        let missing = if rough { dice.roll(100) == 0 } else { k % 1000 == 500 };
        if missing {
            continue;
        }
        if rough && dice.roll(5) == 0 {
            thirds = (thirds + dice.roll(3) as i32 - 1).clamp(9, 30);
        }
        let tick = Tick {
            stamp: Some(floored(f64::from(k) * 5.013, Micros::SECOND)),
            number: ticks.len() as u32 + 1,
            exposure_s: (-f64::from(thirds) / 3.0).exp2(),
            ..Tick::default()
        };
        ticks.push(tick);
        if rough && dice.roll(1000) == 0 {
            ticks.push(Tick { number: ticks.len() as u32 + 1, ..tick });
        }
    }
    let mut frames = frames(&ticks, Micros::SECOND);
    frames.cameras.push(Camera { maker: "Bench".into(), model: "B-1".into(), serial: "0007".into() });
    frames.card.folders.clear();
    for at in 0..frames.rows.len() {
        let folder = at / 9999;
        if folder == frames.card.folders.len() {
            let number = 100 + u16::try_from(folder).expect("as many folders as DCF has");
            let path = format!("DCIM/{number}BENCH").into();
            frames.card.folders.push(Folder { root: 0, path, number: Some(number) });
        }
        frames.card.shots[at].file.folder = folder as u32;
        let row = &mut frames.rows[at];
        row.camera = Cell::Known(0);
        row.aperture_apex = Cell::Known(6.0);
        row.time_apex = row.exposure_s.map(|t| (-t.log2()) as f32);
        row.focal_mm = Cell::Known(24.0);
        if rough && dice.roll(2000) == 0 {
            row.damage = Damage::CutShort("its end marker is missing".into());
        }
        if rough && at > 0 && dice.roll(2000) == 0 {
            frames.rows[at].print = frames.rows[at - 1].print;
            frames.card.shots[at].file.bytes = frames.card.shots[at - 1].file.bytes;
        }
    }
    frames
}

/// A name, and what writes it.
type Output = (&'static str, fn(&Audit, &mut Counter) -> io::Result<()>);

const OUTPUTS: [Output; 5] = [
    ("frames.csv", |audit, out| outputs::frames_csv::write(audit, out)),
    ("findings.csv", |audit, out| outputs::findings_csv::write(audit, out)),
    ("summary.txt", |audit, out| out.write_all(outputs::text::summary(audit, false).as_bytes())),
    ("audit.json", |audit, out| outputs::json::write(audit, out)),
    ("report.html", |audit, out| outputs::html::write(audit, out)),
];

/// The whole, for growing numbers of frames.
fn whole(sizes: &[u32], rough: bool) {
    println!(
        "{:>9}  {:>7}  {:>9}  {:>8}  {:>7}  {:>8}",
        "frames", "audit s", "outputs s", "us/frame", "peak MB", "findings"
    );
    for &n in sizes {
        let table = card(n, rough);
        let (audit, audited, peak) =
            stage(|| carry_out(Setting { name: "bench".into(), ..Setting::default() }, table));
        let (bytes, written, peak_out) = stage(|| {
            let mut counter = Counter::default();
            for (_, write) in OUTPUTS {
                write(&audit, &mut counter).expect("counting cannot fail");
            }
            counter.0
        });
        let each = (audited + written) * 1e6 / f64::from(n);
        let (peak, findings) = (peak.max(peak_out), audit.findings().len());
        println!("{n:>9}  {audited:>7.2}  {written:>9.2}  {each:>8.2}  {peak:>7.0}  {findings:>8}");
        assert!(bytes > u64::from(n) * 40, "the outputs were not written");
    }
}

/// One size, stage by stage.
fn staged(n: u32, rough: bool) {
    println!("\n{:>24}  {:>7}  {:>7}", "stage", "s", "peak MB");
    let told = |name: &str, seconds: f64, peak: f64| println!("{name:>24}  {seconds:>7.2}  {peak:>7.0}");
    let plan = Plan::default();
    let table = card(n, rough);
    println!("{:>24}  {:>7}  {:>7.0}", "the rows alone", "", memory_mb("VmRSS:"));
    let (evidence, seconds, peak) = stage(|| lapseproof::evidence::gather(&plan, table));
    told("evidence", seconds, peak);
    let (schedule, seconds, peak) = stage(|| lapseproof::schedule::Schedule::of(&plan, &evidence));
    told("schedule", seconds, peak);
    let mut judgements = Vec::new();
    for check in lapseproof::checks::CHECKS {
        let (judgement, seconds, peak) = stage(|| lapseproof::checks::judge_one(check, &plan, &evidence));
        told(judgement.text.id, seconds, peak);
        judgements.push(judgement);
    }
    let (verdict, seconds, peak) =
        stage(|| lapseproof::verdict::reach(&plan, &evidence, &schedule, &judgements));
    told("verdict", seconds, peak);
    let audit = Audit {
        name: "bench".into(),
        plan,
        plan_source: String::new(),
        evidence,
        schedule,
        judgements,
        verdict,
        pictures: Pictures::None,
    };
    for (name, write) in OUTPUTS {
        let mut counter = Counter::default();
        let (wrote, seconds, peak) = stage(|| write(&audit, &mut counter));
        wrote.expect("counting cannot fail");
        told(&format!("{name}, {:.1} MB", counter.0 as f64 / 1e6), seconds, peak);
    }
}

fn main() {
    let asked: Option<u32> = std::env::args().skip(1).find_map(|a| a.parse().ok());
    // DCF ends at folder 999: 900 folders of 9999 files.
    let sizes = asked.map_or_else(|| vec![125_000, 250_000, 500_000, 1_000_000], |n| vec![n.min(8_000_000)]);
    for rough in [false, true] {
        println!("{}", if rough { "\na rough card" } else { "an even card" });
        whole(&sizes, rough);
        staged(sizes.last().copied().unwrap_or(0), rough);
    }
}
