//! `compare` of a card with its copy, beside `sha256sum` over both trees one after the other.
//!
//! Makes files of 6 MB without a pattern, and a copy of each. Rounds of both follow each other in turn, cold:
//! the files' pages are given back to the system before each. Medians and their ratio are told. `compare`
//! ends with 0 only where it read every byte back from the disk, and else the bench fails.
//! `cargo bench --bench compare`, or with the number of files behind `--`.

use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

const BYTES: usize = 6_000_000;
const ROUNDS: usize = 5;

/// Bytes without a pattern: a linear congruential generator, its upper half (Knuth, MMIX).
fn noise(seed: u64) -> Vec<u8> {
    let mut state = seed;
    let next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 32) as u32
    };
    std::iter::repeat_with(next).take(BYTES / 4).flat_map(u32::to_le_bytes).collect()
}

fn make(root: &Path, n: usize) -> io::Result<Vec<PathBuf>> {
    let mut paths = Vec::new();
    for side in ["card", "copy"] {
        let folder = root.join(side).join("DCIM/100BENCH");
        fs::create_dir_all(&folder)?;
        for i in 0..n {
            let path = folder.join(format!("BENC{i:04}.JPG"));
            let mut file = File::create(&path)?;
            file.write_all(&noise(i as u64 + 1))?;
            file.sync_all()?;
            paths.push(path);
        }
    }
    Ok(paths)
}

/// Gives the files' pages back to the system; false where it takes no such advice.
fn forget(paths: &[PathBuf]) -> bool {
    #[cfg(target_os = "linux")]
    return paths.iter().all(|path| {
        File::open(path).is_ok_and(|f| rustix::fs::fadvise(f, 0, None, rustix::fs::Advice::DontNeed).is_ok())
    });
    #[cfg(not(target_os = "linux"))]
    {
        let _ = paths;
        false
    }
}

fn seconds(command: &mut Command) -> io::Result<f64> {
    let start = Instant::now();
    let status = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).status()?;
    match status.success() {
        true => Ok(start.elapsed().as_secs_f64()),
        false => Err(io::Error::other(format!("{command:?} ended with {status}"))),
    }
}

fn median(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    of[of.len() / 2]
}

fn main() -> io::Result<()> {
    let n: usize = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(150).max(2);
    let place = tempfile::tempdir()?;
    let paths = make(place.path(), n)?;
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    if !forget(&paths) {
        println!("skipped: this system takes no such advice");
        return Ok(());
    }
    for _ in 0..ROUNDS {
        forget(&paths);
        let state = place.path().join("state.txt");
        let mut compare = Command::new(env!("CARGO_BIN_EXE_lapseproof"));
        compare.current_dir(place.path()).args(["compare", "card", "copy", "--state"]).arg(state);
        ours.push(seconds(&mut compare)?);
        forget(&paths);
        match seconds(Command::new("sha256sum").args(&paths)) {
            Ok(took) => theirs.push(took),
            Err(e) if e.kind() == io::ErrorKind::NotFound => {}
            Err(e) => return Err(e),
        }
    }
    let megabytes = (2 * n * BYTES) as f64 / 1e6;
    let ours = median(ours);
    println!("{n} files of 6 MB and their copies on one disk, cold, median of {ROUNDS} rounds");
    println!("compare      {:>6.0} MB/s, every byte read back from disk", megabytes / ours);
    if theirs.is_empty() {
        println!("sha256sum is not installed");
        return Ok(());
    }
    let theirs = median(theirs);
    println!("sha256sum    {:>6.0} MB/s over both trees, one after the other", megabytes / theirs);
    println!("compare takes {:.2} of its time", ours / theirs);
    Ok(())
}
