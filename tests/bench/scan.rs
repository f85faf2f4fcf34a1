//! The scan compared with a loop that only opens each file and reads its first 64 KiB, on the same threads.
//!
//! Makes JPEG files of 6 MB with a 31 KB Exif segment, and a fifth as many raws of 25 MB, half with the
//! directory at the start, half with it at the end. The ends of the files are written, their middles are
//! holes of the file system. Rounds of all loops follow each other, so that noise is shared; medians and
//! ratios are told. Cold: the files' pages are given back to the system before each loop (directories and
//! inodes stay warm). `cargo bench --bench scan`, or with the number of JPEG files behind `--`.

#[allow(dead_code)] // a part of it is enough here
#[path = "../support/mod.rs"]
mod support;

use lapseproof::audit::{Setting, carry_out};
use lapseproof::{card, frames, outputs};
use rayon::prelude::*;
use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;
use support::writer::{Put, block_with_thumbnail, directories, jpeg, picture_data};

const JPEG_BYTES: u64 = 6_000_000;
const RAW_BYTES: u64 = 25_000_000;
/// So much of the beginning and of the end of each file is written.
const WRITTEN: usize = 192 * 1024;
const THREADS: usize = 8;
const ROUNDS: usize = 7;

/// Date and time of frame `i`, every 5 s.
fn stamp(i: usize) -> String {
    let s = 4 * 3600 + 5 * i;
    format!("2026:05:{:02} {:02}:{:02}:{:02}", 9 + s / 86_400, s / 3600 % 24, s / 60 % 60, s % 60)
}

fn main_fields() -> Vec<(u16, Put<'static>)> {
    vec![(0x010F, Put::Ascii("Bench")), (0x0110, Put::Ascii("B-1")), (0x0112, Put::Short(&[1]))]
}

fn exif_fields<'a>(stamp: &'a str, notes: &'a [u8]) -> Vec<(u16, Put<'a>)> {
    vec![
        (0x829A, Put::Ratio(1, 60)),
        (0x829D, Put::Ratio(8, 1)),
        (0x8827, Put::Short(&[200])),
        (0x9003, Put::Ascii(stamp)),
        (0x9201, Put::Signed(6, 1)),
        (0x9202, Put::Ratio(6, 1)),
        (0x920A, Put::Ratio(24, 1)),
        (0x927C, Put::Bytes(notes)),
    ]
}

/// A file of `len` bytes that begins and ends with these.
fn write(path: &Path, len: u64, head: &[u8], tail: &[u8]) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(head)?;
    file.set_len(len)?;
    file.seek(SeekFrom::Start(len - tail.len() as u64))?;
    file.write_all(tail)
}

/// Makes the card: `n` JPEG files in one folder, `n / 5` raws in another.
fn make(root: &Path, n: usize) -> io::Result<Vec<PathBuf>> {
    let noise = picture_data(WRITTEN);
    let mut end = noise.clone();
    end.extend([0xFF, 0xD9]);
    let mut paths = Vec::new();
    for i in 0..n {
        let block =
            block_with_thumbnail(&main_fields(), &exif_fields(&stamp(i), &noise[..20_000]), &noise[..10_500]);
        let folder = root.join(format!("jpeg/DCIM/{}JPEGS", 100 + i / 9999));
        fs::create_dir_all(&folder)?;
        let path = folder.join(format!("SCAN{:04}.JPG", i % 9999 + 1));
        let mut head = jpeg(&block, WRITTEN);
        head.truncate(head.len() - 2);
        write(&path, JPEG_BYTES, &head, &end)?;
        paths.push(path);
    }
    for i in 0..n / 5 {
        let folder = root.join(format!("raw/DCIM/{}RAWSS", 500 + i / 9999));
        fs::create_dir_all(&folder)?;
        let path = folder.join(format!("SCAN{:04}.NEF", i % 9999 + 1));
        let stamp = stamp(n + i);
        let at_start = i % 2 == 0;
        // The picture data lies between: behind the directories, or before them.
        let (base, from) = if at_start { (8, 64 * 1024) } else { (RAW_BYTES as u32 - 64 * 1024, 4096) };
        let strip = RAW_BYTES as u32 - 64 * 1024 - from;
        let mut fields = main_fields();
        fields.extend([
            (0x0100, Put::Long(6000)),
            (0x0101, Put::Long(4000)),
            (0x0111, Put::Long(from)),
            (0x0117, Put::Long(strip)),
        ]);
        let told = directories(base as usize, &fields, &exif_fields(&stamp, &noise[..20_000]));
        let mut head = [b"II*\0".as_slice(), &base.to_le_bytes()].concat();
        let mut tail = noise.clone();
        if at_start {
            head.extend(told);
            head.extend(&noise[..WRITTEN - head.len()]);
        } else {
            head.extend(&noise[..WRITTEN - 8]);
            let at = tail.len() - 64 * 1024;
            tail[at..at + told.len()].copy_from_slice(&told);
        }
        write(&path, RAW_BYTES, &head, &tail)?;
        paths.push(path);
    }
    Ok(paths)
}

/// Bytes that this process asked for and got, and bytes that came from the device (Linux; 0 elsewhere).
fn counted() -> (u64, u64) {
    let told = fs::read_to_string("/proc/self/io").unwrap_or_default();
    let of = |key: &str| {
        told.lines().find_map(|l| l.strip_prefix(key)?.trim().parse::<u64>().ok()).unwrap_or_default()
    };
    (of("rchar:"), of("read_bytes:"))
}

/// Seconds of processor time that this process has used so far (Linux; 0 elsewhere).
#[cfg(target_os = "linux")]
fn processor() -> f64 {
    let told = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    told.tv_sec as f64 + told.tv_nsec as f64 / 1e9
}

#[cfg(not(target_os = "linux"))]
fn processor() -> f64 {
    0.0
}

/// Gives the files' pages back to the system; false where it has no such call.
#[cfg(target_os = "linux")]
fn forget(paths: &[PathBuf]) -> bool {
    use rustix::fs::{Advice, fadvise};
    paths
        .iter()
        .all(|path| File::open(path).is_ok_and(|file| fadvise(&file, 0, None, Advice::DontNeed).is_ok()))
}

#[cfg(not(target_os = "linux"))]
fn forget(_: &[PathBuf]) -> bool {
    false
}

/// The floor: opens each file and reads its first `len` bytes.
fn floor(pool: &rayon::ThreadPool, paths: &[PathBuf], len: usize) {
    pool.install(|| {
        paths.par_iter().for_each_init(
            || vec![0; len],
            |buffer, path| {
                let mut file = File::open(path).expect("it was just made");
                file.read_exact(buffer).expect("it is longer");
            },
        );
    });
}

fn read(root: &Path, n: usize) -> frames::Frames {
    let frames = frames::read_all(card::walk(&[root.to_path_buf()]), Some(THREADS), &|_| {});
    assert_eq!((frames.len(), frames.trouble.len()), (n, 0));
    frames
}

fn audit(root: &Path, n: usize) {
    let audit = carry_out(Setting { name: "bench".into(), ..Setting::default() }, read(root, n));
    assert_eq!(audit.evidence.timing.unstamped, 0, "a stamp was not read");
    assert!(audit.evidence.frames.rows.iter().all(|r| !r.damage.is_some()), "a file reads as damaged");
    outputs::frames_csv::write(&audit, io::sink()).expect("nothing is written");
    outputs::findings_csv::write(&audit, io::sink()).expect("nothing is written");
    outputs::json::write(&audit, io::sink()).expect("nothing is written");
    outputs::html::write(&audit, io::sink()).expect("nothing is written");
    outputs::text::summary(&audit, false);
}

/// What one loop took.
#[derive(Clone, Copy)]
struct Took {
    seconds: f64,
    processor: f64,
    asked: u64,
    device: u64,
}

fn median<T: PartialOrd + Copy>(mut of: Vec<T>) -> T {
    of.sort_by(|a, b| a.partial_cmp(b).expect("a number"));
    of[of.len() / 2]
}

/// A loop's name, and the loop.
type Loop<'a> = (&'static str, Box<dyn Fn() + 'a>);

/// Tells the loops' rates; returns that of the last one, files/s.
fn compare(title: &str, files: usize, loops: &[Loop<'_>], before: &dyn Fn()) -> f64 {
    let mut took: Vec<Vec<Took>> = vec![Vec::new(); loops.len()];
    for round in 0..ROUNDS {
        for i in 0..loops.len() {
            let at = (i + round) % loops.len();
            before();
            let (asked, device) = counted();
            let (start, used) = (Instant::now(), processor());
            loops[at].1();
            let (seconds, processor) = (start.elapsed().as_secs_f64(), processor() - used);
            let after = counted();
            took[at].push(Took { seconds, processor, asked: after.0 - asked, device: after.1 - device });
        }
    }
    let seconds: Vec<_> = took.iter().map(|t| median(t.iter().map(|t| t.seconds).collect())).collect();
    println!("\n{title}");
    println!(
        "{:>24}  {:>9}  {:>8}  {:>8}  {:>10}  {:>11}",
        "loop", "files/s", "to 64 K", "CPU µs", "KiB/file", "device KiB"
    );
    for (((name, _), took), seconds_of) in loops.iter().zip(&took).zip(&seconds) {
        let kib = |of: fn(&Took) -> u64| median(took.iter().map(of).collect()) as f64 / 1024.0 / files as f64;
        println!(
            "{name:>24}  {:>9.0}  {:>8.2}  {:>8.1}  {:>10.1}  {:>11.1}",
            files as f64 / seconds_of,
            seconds[1] / seconds_of,
            median(took.iter().map(|t| t.processor).collect()) * 1e6 / files as f64,
            kib(|t| t.asked),
            kib(|t| t.device)
        );
    }
    files as f64 / seconds[loops.len() - 1]
}

/// Files that an outside tool is given: it would take too long over all.
const FOR_TOOLS: usize = 200;

/// The rate of a general-purpose metadata tool over files of a kind, warm, in a process for each of two
/// cores: `None` where it is not installed. It is asked for one tag, which makes it read no less.
fn tool(name: &str, arguments: &[&str], paths: &[PathBuf]) -> Option<f64> {
    let paths = &paths[..paths.len().min(FOR_TOOLS)];
    let round = || {
        let start = Instant::now();
        let mut running = Vec::new();
        for half in paths.chunks(paths.len().div_ceil(2)) {
            let mut command = Command::new(name);
            command.args(arguments).args(half).stdout(Stdio::null()).stderr(Stdio::null());
            running.push(command.spawn().ok()?);
        }
        running.iter_mut().for_each(|r| _ = r.wait());
        Some(start.elapsed().as_secs_f64())
    };
    round()?;
    let seconds: Option<Vec<f64>> = (0..3).map(|_| round()).collect();
    Some(paths.len() as f64 / median(seconds?))
}

fn outside_tools(title: &str, paths: &[PathBuf], ours: f64) {
    for (name, arguments) in [
        ("exiftool", &["-fast2", "-q", "-q", "-n", "-DateTimeOriginal"][..]),
        ("exiv2", &["-q", "-K", "Exif.Photo.DateTimeOriginal", "pr"][..]),
    ] {
        match tool(name, arguments, paths) {
            Some(rate) => {
                println!("{title}: {name} {rate:.0} files/s; the whole audit {:.0} times that", ours / rate)
            }
            None => println!("{title}: {name} is not installed"),
        }
    }
}

fn main() -> io::Result<()> {
    let n: usize = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(1000).max(10);
    let place = tempfile::tempdir()?;
    let root = place.path();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(THREADS).build().map_err(io::Error::other)?;
    let paths = make(root, n)?;
    println!("{n} JPEG, {} raws, {THREADS} threads, median of {ROUNDS} rounds", n / 5);
    if let Some(rounds) = std::env::var("LAPSEPROOF_PROFILE").ok().and_then(|r| r.parse::<usize>().ok()) {
        // For a profiler: nothing but what is to be looked at.
        let started = Instant::now();
        (0..rounds).for_each(|_| drop(read(&root.join("jpeg"), n)));
        println!("walk and read: {:.0} JPEG/s", (rounds * n) as f64 / started.elapsed().as_secs_f64());
        return Ok(());
    }
    for (title, which) in [("JPEG", &paths[..n]), ("raws", &paths[n..]), ("both", &paths[..])] {
        let under = match title {
            "JPEG" => root.join("jpeg"),
            "raws" => root.join("raw"),
            _ => root.to_path_buf(),
        };
        let count = which.len();
        let loops: [Loop<'_>; 5] = [
            ("open and read 4 KiB", Box::new(|| floor(&pool, which, 4 * 1024))),
            ("open and read 64 KiB", Box::new(|| floor(&pool, which, 64 * 1024))),
            ("walk alone", Box::new(|| drop(card::walk(std::slice::from_ref(&under))))),
            ("walk and read", Box::new(|| drop(read(&under, count)))),
            ("the whole audit", Box::new(|| audit(&under, count))),
        ];
        let ours = compare(&format!("{title}, warm"), count, &loops, &|| {});
        if title != "both" {
            outside_tools(title, which, ours);
        }
        #[cfg(target_os = "linux")]
        rustix::fs::sync();
        if forget(which) {
            compare(&format!("{title}, cold"), count, &loops, &|| {
                forget(which);
            });
        } else {
            println!("{title}, cold: skipped, this system takes no such advice");
        }
    }
    Ok(())
}
